//! The way back, on the board: from a symptom to a clearance, with everything that is refused on the way.

use axum::http::StatusCode;
use browline::trade::queue::HoldKind;

use crate::on_both_engines;
use crate::support::*;
use crate::visitor::*;

const WAY: &str = "/board/clearance/a3";

/// Somebody at the board; sessions end with the day, so each look signs in anew.
struct Person<'w>(&'w World, &'w axum::Router, &'w str);

impl Person<'_> {
    async fn signed_in(&self) -> Visitor {
        Visitor::signed_in(self.0, self.1, self.2).await
    }

    async fn get(&self, path: &str) -> Answer {
        self.signed_in().await.get(path).await
    }
}

async fn send(person: &Person<'_>, filled: &[(&str, &str)]) -> Answer {
    let visitor = person.signed_in().await;
    let shown = visitor.get(WAY).await;
    let csrf = shown.csrf();
    let seen = shown.hidden("seen").first().cloned().unwrap_or_default();
    let mut pairs = vec![("csrf", csrf.as_str()), ("seen", seen.as_str())];
    pairs.extend_from_slice(filled);
    visitor.post(WAY, &pairs).await
}

async fn refused(person: &Person<'_>, filled: &[(&str, &str)], why: &str) {
    let answer = send(person, filled).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{filled:?}");
    let body = unescaped(&answer.body);
    assert!(body.contains("Nothing was recorded") && body.contains(why), "{why}: {body}");
}

async fn done(person: &Person<'_>, filled: &[(&str, &str)]) {
    let answer = send(person, filled).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER, "{filled:?}: {}", answer.body);
}

const CLINICIAN: [(&str, &str); 3] =
    [("clinician", "Dr. Ruth Okafor"), ("licence", "physician"), ("number", "IL 036-0001")];

fn paper<'a>(day: &'a str, more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut all = CLINICIAN.to_vec();
    all.extend([("on", day), ("document", "clearance form"), ("dated", day), ("place", "locked file, training room")]);
    all.extend_from_slice(more);
    all
}

on_both_engines! {
    async fn from_a_symptom_to_a_clearance(world) {
        staffed(&world).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        let router = board(&world);
        let ana = Person(&world, &router, ANA);
        let list = ana.get("/board/clearance").await.body;
        assert!(list.contains("#55 Ivan") && list.contains("No way back on file"), "{list}");
        refused(&ana, &[("do", "step"), ("step", "1")], "no way back is on file yet").await;
        done(&ana, &[("do", "open"), ("category", "possible concussion"), ("progression", "concussion"), ("check_in", "yes")]).await;
        refused(&ana, &[("do", "open"), ("progression", "concussion")], "a way back is on file already").await;

        // Rest first: a day from the hold on.
        refused(&ana, &[("do", "step"), ("step", "1")], "too early for step 1: at the soonest tomorrow at 6:45 am").await;
        world.to("16T07:00:00").await;
        refused(&ana, &[("do", "step"), ("step", "2")], "the next step is 1").await;
        done(&ana, &[("do", "step"), ("step", "1")]).await;
        world.to("17T07:00:00").await;
        done(&ana, &[("do", "step"), ("step", "2")]).await;

        // Early needs a licensed clinician's reason, and it stays on file.
        world.to("17T15:00:00").await;
        let mut early = vec![("do", "step"), ("step", "3"), ("reason", "seen in clinic, exercise test without symptoms")];
        refused(&ana, &early, "it lacks the clinician's name").await;
        early.extend_from_slice(&CLINICIAN);
        done(&ana, &early).await;
        let page = unescaped(&ana.get(WAY).await.body);
        assert!(page.contains("exercise test without symptoms") && page.contains("Dr. Ruth Okafor, physician, licence IL 036-0001"), "{page}");

        // The gate before contact stands before step 4, whatever the reason.
        world.to("18T15:00:00").await;
        refused(&ana, &[("do", "step"), ("step", "4")], "step 4 needs a licensed clinician's determination").await;
        let mut over = early.clone();
        over[1] = ("step", "4");
        refused(&ana, &over, "step 4 needs a licensed clinician's determination").await;
        let mut determination = paper("2026-09-18", &[]);
        determination.push(("do", "determine"));
        done(&ana, &determination).await;
        done(&ana, &[("do", "step"), ("step", "4")]).await;

        // A symptom in step 4: back to 3, and readiness has to be determined anew.
        world.to("19T10:00:00").await;
        done(&ana, &[("do", "worse"), ("points", "1"), ("minutes", "10")]).await;
        let page = unescaped(&ana.get(WAY).await.body);
        assert!(page.contains("back to step 3"), "{page}");
        world.to("20T10:00:00").await;
        refused(&ana, &[("do", "step"), ("step", "4")], "determination").await;
        let mut determination = paper("2026-09-20", &[]);
        determination.push(("do", "determine"));
        done(&ana, &determination).await;
        done(&ana, &[("do", "step"), ("step", "4")]).await;
        world.to("21T10:00:00").await;
        done(&ana, &[("do", "step"), ("step", "5")]).await;

        // The clearance: everything that the rules ask for, and no sooner than the steps allow.
        world.to("22T09:00:00").await;
        let mut clear = paper("2026-09-22", &[("do", "clear")]);
        refused(&ana, &clear, "it lacks how a parent or guardian acknowledged it").await;
        clear.push(("parent", "signed on the form by the mother"));
        refused(&ana, &clear, "too early for step 6").await;
        world.to("22T10:00:00").await;
        let nurse: Vec<(&str, &str)> = clear.iter().map(|(name, value)| if *name == "licence" { (*name, "nurse_practitioner") } else { (*name, *value) }).collect();
        refused(&ana, &nurse, "nurse practitioner may not").await;
        assert_eq!(world.holds("a3").await, [HoldKind::Medical]);
        done(&ana, &clear).await;
        assert_eq!(world.holds("a3").await, []);
        world.to("22T10:01:00").await;
        let told = world.got(IVAN);
        assert!(told.iter().any(|text| text.contains("te dio el alta")), "{told:?}");
        let family = world.got(ROSA);
        assert!(family.iter().all(|text| !text.to_lowercase().contains("conmoc") && !text.contains("cabeza")), "{family:?}");
        assert!(family.iter().any(|text| text.contains("Ivan") && text.contains("Ana")), "{family:?}");
        // The same form again ends nothing twice.
        let list = ana.get("/board/clearance").await.body;
        assert!(list.contains("Nobody is held for a body reason"), "{list}");
        world.record_holds().await;
    }

    async fn two_people_where_the_program_wants_it(world) {
        let config = format!("{CONFIG}\n[programs.larkspur.clearance]\ntwo_people = true\nparent = false\n");
        let world = World::empty(world.engine, &config).await;
        world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        let router = board(&world);
        let ana = Person(&world, &router, ANA);
        let tess = Person(&world, &router, TESS);
        done(&ana, &[("do", "open"), ("progression", "")]).await;
        world.to("17T09:00:00").await;
        let clear = paper("2026-09-17", &[("do", "clear")]);
        done(&ana, &clear).await;
        assert_eq!(world.holds("a3").await, [HoldKind::Medical], "one is not enough");
        world.to("17T09:01:00").await;
        assert!(world.got(TESS).iter().any(|text| text.contains("Ana recorded a clearance for #55 Ivan")), "{:?}", world.got(TESS));
        refused(&ana, &[("do", "confirm")], "a second person has to confirm").await;
        done(&tess, &[("do", "confirm")]).await;
        assert_eq!(world.holds("a3").await, []);
        let page = unescaped(&ana.get(WAY).await.body);
        assert!(page.contains("Recorded by Ana, confirmed by Tess"), "{page}");
    }

    async fn nobody_else_sees_or_records_a_way_back(world) {
        staffed(&world).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        let router = board(&world);
        for number in [COLE, DANE, BETH, DENISE] {
            let visitor = Visitor::signed_in(&world, &router, number).await;
            assert_eq!(visitor.get("/board/clearance").await.status, StatusCode::FORBIDDEN);
            let csrf = visitor.get("/board/welcome").await.csrf();
            let posted = visitor.post(WAY, &[("csrf", &csrf), ("do", "open"), ("progression", "concussion")]).await;
            assert_eq!(posted.status, StatusCode::FORBIDDEN);
        }
    }
}

on_both_engines! {
    async fn families_show_who_knows_and_who_has_not_agreed(world) {
        staffed(&world).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        world.to("15T08:01:00").await;
        let router = board(&world);
        let ana = Visitor::signed_in(&world, &router, ANA).await;
        let page = unescaped(&ana.get("/board/families").await.body);
        assert!(page.contains("Rosa Soto") && page.contains("no answer yet"), "{page}");
        assert!(page.contains("#40 Sam Okafor</strong>: never asked") && page.contains("#21 Theo Lind</strong>: no phone"), "{page}");
        for word in ["concussion", "cabeza", "symptom"] {
            assert!(!page.contains(word), "{word}: {page}");
        }
        world.text(ROSA, "recibido").await;
        assert!(ana.get("/board/families").await.body.contains("acknowledged"));
        let csrf = ana.get("/board/families").await.csrf();
        let asked = ana.post("/board/families/ask", &[("csrf", &csrf), ("person", "a6")]).await;
        assert_eq!(asked.status, StatusCode::UNPROCESSABLE_ENTITY, "a minor without a parent's number: {}", asked.body);
    }
}
