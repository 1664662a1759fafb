//! What is seen by whom: body words by the trainer alone, and every look at them is in the record.

use axum::http::StatusCode;
use browline::store::queries::board::VIEWED;
use browline::store::rows::RecordLine;

use crate::on_both_engines;
use crate::support::*;
use crate::visitor::*;

const BODY: &str = "my head hurts and i feel dizzy";

async fn views(world: &World) -> Vec<RecordLine> {
    let mut tx = world.desk.store().read().await.unwrap();
    tx.record(&world.program).await.unwrap().into_iter().filter(|line| line.what == VIEWED).collect()
}

async fn morning(world: &World) {
    staffed(world).await;
    world.to("15T06:45:00").await;
    world.text(MARCUS, BODY).await;
    world.text(IVAN, "se rompio la correa").await;
    world.text(NOAH, "blorp the zizz").await;
    world.clock.advance(chrono::TimeDelta::minutes(2));
    world.text(NOAH, "blorp the zizz again").await;
}

on_both_engines! {
    async fn a_look_at_a_medical_item_is_recorded_before_it_is_shown(world) {
        morning(&world).await;
        let router = board(&world);
        let ana = Visitor::signed_in(&world, &router, ANA).await;
        let before = views(&world).await.len();
        assert_eq!(before, 0);
        let page = ana.get("/board/trainer").await;
        assert_eq!(page.status, StatusCode::OK);
        assert!(unescaped(&page.body).contains("hurts"), "{}", page.body);
        assert!(page.body.contains("<mark>"), "the evidence is marked: {}", page.body);
        let seen = views(&world).await;
        let medical = world.open_items().await.into_iter().find(|item| item.id.starts_with("medical/")).unwrap();
        let line = seen.iter().find(|line| line.subject == medical.id).unwrap();
        assert_eq!((line.who.as_str(), line.at), ("staff ana", world.clock.now()));
        assert!(seen.iter().any(|line| line.subject.starts_with("equipment/a7")), "an unclear reply may hold anything: {seen:?}");
        let after_one = seen.len();
        ana.get("/board/trainer").await;
        assert_eq!(views(&world).await.len(), after_one * 2, "every view, not only the first");
        ana.get("/board/athlete/a4").await;
        let seen = views(&world).await;
        assert!(seen.iter().any(|line| line.subject == "a4") && seen.last().unwrap().subject == medical.id);
        world.record_holds().await;
    }

    async fn nobody_but_the_trainer_reads_body_words_anywhere(world) {
        morning(&world).await;
        let router = board(&world);
        let pages = [
            "/board", "/board/silent", "/board/print", "/board/athlete/a4", "/board/athlete/a7", "/board/messages",
            "/board/season", "/board/settings", "/board/availability", "/board/trainer",
        ];
        for number in [COLE, DANE, DENISE, BETH] {
            let visitor = Visitor::signed_in(&world, &router, number).await;
            for path in pages {
                let shown = visitor.get(path).await;
                // The form's token is hexadecimal, and may say anything.
                let token = shown.body.split("name=\"csrf\" value=\"").nth(1).and_then(|rest| rest.split('"').next());
                let page = unescaped(&shown.body.replace(token.unwrap_or("no token"), "")).to_lowercase();
                for word in ["hurts", "dizzy", "head hurt", "concussion", "symptom", "blorp", "911"] {
                    assert!(!page.contains(word), "{number} {path} says {word}: {page}");
                }
            }
        }
        assert!(views(&world).await.is_empty(), "they saw nothing that had to be noted");
        let cole = Visitor::signed_in(&world, &router, COLE).await;
        let page = cole.get("/board/athlete/a4").await.body;
        assert!(page.contains("held: see the athletic trainer"), "{page}");
        let page = cole.get("/board/athlete/a3").await.body;
        assert!(page.contains("correa"), "a reply about the helmet alone is shown: {page}");
    }

    async fn the_messages_page_shows_no_link_and_no_body_text_even_to_the_trainer(world) {
        morning(&world).await;
        world.text(BROTHERS, "Jonah: all good").await;
        let router = board(&world);
        let ana = Visitor::signed_in(&world, &router, ANA).await;
        world.settle().await;
        let page = unescaped(&ana.get("/board/messages").await.body);
        assert!(page.contains("link to the board"), "{page}");
        assert!(!page.contains("/sign-in/larkspur/"), "{page}");
        assert!(!page.contains("hurts") && !page.contains("blorp"), "{page}");
        assert!(page.contains("Helmet check, Marcus"), "what never holds body words is shown: {page}");
        assert!(page.contains("for the athletic trainer"));
    }

    async fn a_failed_number_is_on_the_messages_page(world) {
        morning(&world).await;
        world.text(MARCUS, "STOP").await;
        let router = board(&world);
        let denise = Visitor::signed_in(&world, &router, DENISE).await;
        let page = denise.get("/board/messages").await.body;
        assert!(page.contains("opted out of texts") && page.contains("#7 Marcus"), "{page}");
    }
}

/// The season's sums are of the day that was.
#[tokio::test]
async fn the_season_counts_answers_flags_and_minutes() {
    let world = World::new(Engine::Sqlite).await;
    morning(&world).await;
    world.to("15T07:00:00").await;
    world.text(COLE, "got 55").await;
    world.to("15T07:04:00").await;
    world.text(COLE, "55 done new strap").await;
    let router = board(&world);
    let cole = Visitor::signed_in(&world, &router, COLE).await;
    let page = cole.get("/board/season").await.body;
    assert!(page.contains("<svg role=\"img\""), "{page}");
    assert!(page.contains("<th>Halyard</th>"), "Iván's helmet: {page}");
    assert!(page.contains("<th scope=\"row\">strap</th><td>1</td><td>4.0 min</td>"), "{page}");
    let view = world.desk.board_season(&world.program, world.clock.now()).await.unwrap();
    assert_eq!(view.days.len(), 1);
    let day = &view.days[0];
    assert_eq!(day.answered, 2, "Marcus and Iván; Noah's was not understood");
    assert!(day.asked > day.answered);
}

/// Names and replies are text, whatever is in them.
#[tokio::test]
async fn what_people_typed_is_shown_and_never_run() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    world.text(MARCUS, "strap broke <script>alert(1)</script>").await;
    let router = board(&world);
    let ana = Visitor::signed_in(&world, &router, ANA).await;
    for path in ["/board", "/board/trainer", "/board/athlete/a4", "/board/messages", "/board/print"] {
        let page = ana.get(path).await.body;
        assert!(!page.contains("<script>alert"), "{path}");
    }
    assert!(ana.get("/board/athlete/a4").await.body.contains("&lt;"));
}

/// Three hundred helmets on the list are one page that a phone loads at once, each with its button.
#[tokio::test]
async fn three_hundred_items_are_under_sixty_kilobytes_and_all_there() {
    use std::fmt::Write as _;
    let world = World::empty(Engine::Sqlite, CONFIG).await;
    let numbers: Vec<String> =
        [217, 224, 309].iter().flat_map(|area| (100..200).map(move |line| format!("+1{area}5550{line}"))).collect();
    let mut rows = String::from(ATHLETES.lines().next().unwrap());
    for (index, number) in numbers.iter().enumerate() {
        let consent = "Mara Lind,guardian,2026-08-01,signed form";
        write!(rows, "\nk{index},Constantin,Wetherington,varsity,,{number},en,2009-03-02,{consent}").unwrap();
    }
    let files = files(&[("athletes.csv", &rows), ("staff.csv", crate::visitor::STAFF), ("events.csv", EVENTS)]);
    world.desk.import(&world.program, &files, world.clock.now(), false).await.unwrap();
    world.to("15T06:45:00").await;
    for (index, number) in numbers.iter().enumerate() {
        world.text_only(number, ["strap broke", "mask is loose", "cheek pads loose"][index % 3]).await;
    }
    let router = board(&world);
    let cole = Visitor::signed_in(&world, &router, COLE).await;
    let page = cole.get("/board").await.body;
    assert!(page.len() < 60_000, "{} bytes", page.len());
    assert_eq!(page.matches("name=take").count(), 300);
    assert_eq!(page.matches("chin strap. <b>Do not wear</b>").count(), 100, "readable, and not cut");
}
