//! What forms do: the same as a text would, once however often they are sent.

use axum::http::StatusCode;
use browline::trade::queue::{HoldKind, ItemState};

use crate::on_both_engines;
use crate::support::*;
use crate::visitor::*;

/// Sends the form of an item on a page, with what is filled in.
async fn fill(visitor: &Visitor, page: &str, action: &str, filled: &[(&str, &str)]) -> Answer {
    let shown = visitor.get(page).await;
    let csrf = shown.csrf();
    let seen = shown.hidden("seen").first().cloned().unwrap_or_default();
    let mut pairs = vec![("csrf", csrf.as_str()), ("seen", seen.as_str()), ("back", page)];
    pairs.extend_from_slice(filled);
    visitor.post(action, &pairs).await
}

on_both_engines! {
    async fn take_fix_and_the_athlete_hears(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        let router = board(&world);
        let cole = Visitor::signed_in(&world, &router, COLE).await;
        let page = cole.get("/board").await.body;
        assert!(page.contains("#7 Marcus") && page.contains("Do not wear") && page.contains("Take #7"), "{page}");
        let item = world.open_items().await[0].id.clone();
        let at = page.find("name=take value=\"").unwrap() + 17;
        let button = page[at..].split('"').next().unwrap();
        assert_eq!(button, "a4", "short: with three hundred of them it counts");
        let day = cole.get("/board").await.hidden("day")[0].clone();
        let taken = fill(&cole, "/board", "/board/act", &[("take", button), ("day", &day)]).await;
        assert_eq!((taken.status, taken.location()), (StatusCode::SEE_OTHER, "/board"));
        assert!(cole.get("/board").await.body.contains("Cole has it"));
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        let athlete = "/board/athlete/a4";
        let done = fill(&cole, athlete, "/board/act", &[("do", "done"), ("item", &item), ("done", "new chin strap"), ("other", "")]).await;
        assert_eq!((done.status, done.location()), (StatusCode::SEE_OTHER, athlete));
        assert!(world.open_items().await.is_empty());
        assert_eq!(world.holds("a4").await, []);
        world.settle().await;
        assert!(world.got(MARCUS).last().unwrap().contains("new chin strap"), "{:?}", world.got(MARCUS));
        assert!(cole.get(athlete).await.body.contains("new chin strap by Cole"));
        let again = fill(&cole, athlete, "/board/act", &[("do", "done"), ("item", &item), ("done", "x")]).await;
        assert_eq!(again.status, StatusCode::CONFLICT);
        world.record_holds().await;
    }

    async fn a_form_that_is_sent_twice_does_it_once(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        let router = board(&world);
        let cole = Visitor::signed_in(&world, &router, COLE).await;
        let item = world.open_items().await[0].id.clone();
        let page = cole.get("/board/athlete/a4").await;
        let (csrf, seen) = (page.csrf(), page.hidden("seen")[0].clone());
        let form = [("csrf", csrf.as_str()), ("seen", seen.as_str()), ("item", item.as_str()), ("do", "needs"), ("needs", "new helmet")];
        for _ in 0..3 {
            assert_eq!(cole.post("/board/act", &form).await.status, StatusCode::SEE_OTHER);
        }
        world.settle().await;
        let told = world.got(MARCUS).iter().filter(|text| text.contains("out of use")).count();
        assert_eq!(told, 1, "{:?}", world.got(MARCUS));
        let mut tx = world.desk.store().read().await.unwrap();
        let lines = tx.record(&world.program).await.unwrap();
        assert_eq!(lines.iter().filter(|line| line.what == "item needs").count(), 1);
    }

    async fn an_administrator_sees_to_people_to_reach_and_to_nothing_else(world) {
        staffed(&world).await;
        world.to("15T06:45:00").await;
        world.text(MARCUS, "STOP").await;
        world.text(NOAH, "strap broke").await;
        let router = board(&world);
        let denise = Visitor::signed_in(&world, &router, DENISE).await;
        let items = world.open_items().await;
        let of = |queue: &str| items.iter().find(|item| item.id.starts_with(queue)).unwrap().id.clone();
        let page = "/board/messages";
        let done = |item: String| {
            let denise = denise.clone();
            async move { fill(&denise, page, "/board/act", &[("do", "done"), ("item", &item)]).await }
        };
        assert!(denise.get(page).await.body.contains("#7 Marcus: opted out"), "{}", denise.get(page).await.body);
        let refused = done(of("equipment/")).await;
        assert_eq!(refused.status, StatusCode::FORBIDDEN);
        let seen_to = done(of("contact/")).await;
        assert_eq!((seen_to.status, seen_to.location()), (StatusCode::SEE_OTHER, page), "{}", seen_to.body);
        let left = world.open_items().await;
        assert_eq!(left.len(), 1);
        assert!(left[0].id.starts_with("equipment/"));
    }

    async fn hand_on_and_hold(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "cheek pads loose").await;
        let router = board(&world);
        let cole = Visitor::signed_in(&world, &router, COLE).await;
        let item = world.open_items().await[0].id.clone();
        let athlete = "/board/athlete/a4";
        let handed = fill(&cole, athlete, "/board/act", &[("do", "hand_on"), ("item", &item), ("to", "ana")]).await;
        assert_eq!(handed.status, StatusCode::SEE_OTHER, "{}", handed.body);
        let now = world.open_items().await.remove(0);
        assert_eq!((now.state, now.taken_by.unwrap().as_str().to_owned()), (ItemState::Taken, "ana".to_owned()));
        assert!(cole.get(athlete).await.body.contains("Ana has it"));
        let back = fill(&cole, athlete, "/board/act", &[("do", "hand_on"), ("item", &item), ("to", "")]).await;
        assert_eq!(back.status, StatusCode::SEE_OTHER, "{}", back.body);
        assert_eq!(world.open_items().await[0].state, ItemState::Open, "back for whoever takes it");
        assert_eq!(world.holds("a4").await, []);
        let held = fill(&cole, athlete, "/board/act", &[("do", "hold"), ("athlete", "a4")]).await;
        assert_eq!(held.status, StatusCode::SEE_OTHER, "{}", held.body);
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        assert!(cole.get(athlete).await.body.contains("out of use until staff have checked it"));
    }

    async fn the_trainer_acknowledges_and_decides_and_never_on_a_medical_hold(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "i have a fever").await;
        world.text(NOAH, "my head hurts").await;
        let router = board(&world);
        let ana = Visitor::signed_in(&world, &router, ANA).await;
        let cole = Visitor::signed_in(&world, &router, COLE).await;
        let items = world.open_items().await;
        let of = |athlete: &str| items.iter().find(|item| item.id.starts_with(&format!("medical/{athlete}/"))).unwrap().id.clone();
        let (fever, head) = (of("a4"), of("a7"));
        let page = ana.get("/board/trainer").await.body;
        assert_eq!(page.matches("May take part: my decision").count(), 1, "offered for the fever alone: {page}");
        let taken = fill(&ana, "/board/trainer", "/board/trainer/act", &[("do", "take"), ("item", &head)]).await;
        assert_eq!(taken.status, StatusCode::SEE_OTHER);
        assert!(ana.get("/board/trainer").await.body.contains("Ana has it"));
        let may_go = [("do", "may_go"), ("item", fever.as_str())];
        let refused = fill(&cole, "/board", "/board/act", &may_go).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "no such thing on that form");
        let refused = fill(&cole, "/board", "/board/act", &[("do", "take"), ("item", &fever)]).await;
        assert_eq!(refused.status, StatusCode::FORBIDDEN, "{}", refused.body);
        let gone = fill(&ana, "/board/trainer", "/board/trainer/act", &may_go).await;
        assert_eq!(gone.status, StatusCode::SEE_OTHER, "{}", gone.body);
        assert_eq!(world.holds("a4").await, []);
        let held = fill(&ana, "/board/trainer", "/board/trainer/act", &[("do", "may_go"), ("item", &head)]).await;
        assert_eq!(held.status, StatusCode::CONFLICT);
        assert!(held.body.contains("clinician"), "{}", held.body);
        assert_eq!(world.holds("a7").await, [HoldKind::Medical]);
        world.record_holds().await;
    }

    async fn the_trainer_says_what_a_reply_meant(world) {
        world.to("15T06:45:00").await;
        for number in [MARCUS, NOAH] {
            world.text(number, "blorp the zizz").await;
            world.clock.advance(chrono::TimeDelta::minutes(2));
            world.text(number, "blorp the zizz again").await;
        }
        let router = board(&world);
        let ana = Visitor::signed_in(&world, &router, ANA).await;
        let items = world.open_items().await;
        let of = |athlete: &str| items.iter().find(|item| item.id.starts_with(&format!("equipment/{athlete}/"))).unwrap().id.clone();
        let page = unescaped(&ana.get("/board/trainer").await.body);
        assert!(page.contains("blorp") && page.contains("not understood"), "{page}");
        let (marcus, noah) = (of("a4"), of("a7"));
        let nothing = fill(&ana, "/board/trainer", "/board/trainer/act", &[("do", "meant"), ("item", &marcus)]).await;
        assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY, "nothing ticked means nothing, and not all clear");
        let strap = fill(&ana, "/board/trainer", "/board/trainer/act", &[("do", "meant"), ("item", &marcus), ("flag", "strap"), ("flag", "symptom")]).await;
        assert_eq!(strap.status, StatusCode::SEE_OTHER, "{}", strap.body);
        let mut holds = world.holds("a4").await;
        holds.sort();
        assert_eq!(holds, [HoldKind::Equipment, HoldKind::Medical]);
        let clear = fill(&ana, "/board/trainer", "/board/trainer/act", &[("do", "meant_clear"), ("item", &noah)]).await;
        assert_eq!(clear.status, StatusCode::SEE_OTHER, "{}", clear.body);
        assert!(world.open_items().await.iter().all(|item| item.id != noah));
    }
}

#[tokio::test]
async fn afterwards_one_comes_back_to_the_board_and_nowhere_else() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    for (number, back) in [(MARCUS, "https://elsewhere.example/"), (NOAH, "//elsewhere.example"), (IVAN, "/boardwalk")]
    {
        world.text(number, "strap broke").await;
        let router = board(&world);
        let cole = Visitor::signed_in(&world, &router, COLE).await;
        let item = world.open_items().await.into_iter().find(|item| item.taken_by.is_none()).unwrap().id;
        let csrf = cole.get("/board").await.csrf();
        let taken = cole.post("/board/act", &[("csrf", &csrf), ("take", &item), ("back", back)]).await;
        assert_eq!((taken.status, taken.location()), (StatusCode::SEE_OTHER, "/board"), "{back}");
        world.clock.advance(chrono::TimeDelta::minutes(11));
    }
}
