//! The way back by text: steps and worsening, what is refused by text, the daily check-in, and what is reminded of.

use browline::desk::clearance::record::Act;
use browline::trade::clearance::CheckInState;
use browline::trade::queue::{HoldKind, Queue};
use browline::trade::roster::AthleteId;

use crate::on_both_engines;
use crate::support::*;

async fn held(engine: Engine) -> World {
    let world = World::new(engine).await;
    world.to("15T06:45:00").await;
    world.text(IVAN, "me duele la cabeza").await;
    world.text(ANA, "got 55").await;
    world
}

async fn opened(engine: Engine) -> World {
    let world = held(engine).await;
    let act = Act::Open {
        category: Some("possible concussion".into()),
        progression: Some("concussion".into()),
        check_in: true,
    };
    record(&world, &act).await.unwrap();
    world
}

async fn record(world: &World, act: &Act) -> Result<(), String> {
    let now = world.clock.now();
    let ana = world
        .desk
        .store()
        .read()
        .await
        .unwrap()
        .staff(&world.program)
        .await
        .unwrap()
        .into_iter()
        .find(|member| member.id.as_str() == "ana")
        .unwrap();
    let key = format!("test/{}", now.millis());
    world.desk.record_way(&world.program, &ana, (&AthleteId::from("a3"), act), &key, now).await.unwrap()
}

fn last(world: &World, who: &str) -> String {
    let welcome = |text: &String| text.starts_with("Larkspur Valley Kestrels staff texts");
    world.got(who).into_iter().rfind(|text| !welcome(text)).unwrap_or_default()
}

on_both_engines! {
    async fn steps_by_text_and_what_a_text_may_not_do(fresh) {
        let world = opened(fresh.engine).await;
        world.text(ANA, "55 step 1").await;
        assert_eq!(last(&world, ANA), "Nothing recorded for #55 Ivan: it is too early for step 1: at the soonest tomorrow at 6:45 am.");
        world.to("16T09:00:00").await;
        world.text(ANA, "55 step 1").await;
        assert_eq!(last(&world, ANA), "#55 Ivan: step 1. Step 2 at the soonest tomorrow at 9:00 am.");
        world.text(ANA, "55 step 3").await;
        assert_eq!(last(&world, ANA), "Nothing recorded for #55 Ivan: the next step is 2.");
        world.text(ANA, "ivan cleared").await;
        assert!(last(&world, ANA).contains("cannot be lifted by text"), "{}", last(&world, ANA));
        assert_eq!(world.holds("a3").await, [HoldKind::Medical]);
        world.text(ANA, "55 worse 1 20").await;
        assert!(last(&world, ANA).contains("mild and brief, the step goes on"), "{}", last(&world, ANA));
        world.text(ANA, "55 worse").await;
        assert!(last(&world, ANA).contains("stop; step 1 again tomorrow. Step 2 at the soonest"), "{}", last(&world, ANA));
        // The coach's word and the equipment manager's are about something else.
        world.text(COLE, "55 step 2").await;
        assert!(!last(&world, COLE).contains("step 2"), "{}", last(&world, COLE));
        world.record_holds().await;
    }

    async fn the_trainer_hears_when_the_next_step_may_begin_and_when_nothing_is_on_file(fresh) {
        let world = held(fresh.engine).await;
        world.through("16T09:30:00").await;
        let told = |part: &str| world.got(ANA).into_iter().filter(|text| text.contains(part)).count();
        assert_eq!(told("no way back is on file"), 1, "{:?}", world.got(ANA));
        let act = Act::Open { category: None, progression: Some("concussion".into()), check_in: false };
        record(&world, &act).await.unwrap();
        // The item of the first report is open since before the hold's clock began: it does not hide the step.
        world.through("16T09:40:00").await;
        assert_eq!(told("#55 Ivan may begin step 1 from now, if there are no symptoms"), 1, "{:?}", world.got(ANA));
        world.text(ANA, "55 step 1").await;
        world.through("17T12:00:00").await;
        assert_eq!(told("#55 Ivan may begin step 2 from now"), 1, "{:?}", world.got(ANA));
        assert!(last(&world, ANA).contains("Text: 55 step 2"), "{}", last(&world, ANA));
        assert_eq!(told("no way back is on file"), 1);
        let (from, to) = ("2026-09-15".parse().unwrap(), "2026-09-30".parse().unwrap());
        let coming = world.desk.coming(&world.program, from, to, world.clock.now()).await.unwrap();
        assert!(coming.iter().any(|coming| coming.key.starts_with("course-step/a3/") && coming.medical), "{coming:?}");
    }

    async fn who_is_held_is_asked_every_day_and_the_answer_is_read(fresh) {
        let world = opened(fresh.engine).await;
        world.through("16T08:05:00").await;
        let asked = |who: &str| world.got(who).into_iter().filter(|text| text.contains("¿como estas hoy?")).count();
        assert_eq!(asked(IVAN), 1, "{:?}", world.got(IVAN));
        let checks = world.got(IVAN).into_iter().filter(|text| text.starts_with("Revision del casco")).count();
        assert_eq!(checks, 1, "of the day before: who is held gets no helmet check");
        world.text(IVAN, "todo bien").await;
        assert!(last(&world, IVAN).contains("Sigues en pausa"), "{}", last(&world, IVAN));
        assert_eq!(world.holds("a3").await, [HoldKind::Medical], "an answer lifts nothing");
        world.through("16T10:05:00").await;
        assert_eq!(last(&world, ANA), "Check-ins today. Well: #55 Ivan.");

        world.through("17T08:05:00").await;
        world.text(IVAN, "me duele la cabeza otra vez").await;
        assert!(world.got(ANA).iter().any(|text| text.contains("otra vez")), "at once: {:?}", world.got(ANA));
        // A later ok does not take it back.
        world.text(IVAN, "ok").await;
        let rows = world.desk.store().read().await.unwrap().check_ins_of(&world.program, &AthleteId::from("a3")).await.unwrap();
        assert_eq!(rows.iter().map(|row| row.state).collect::<Vec<_>>(), [CheckInState::Well, CheckInState::Symptoms]);
        world.through("17T10:05:00").await;
        assert_eq!(last(&world, ANA), "Check-ins today. Symptoms: #55 Ivan.");

        world.through("18T08:05:00").await;
        world.text(IVAN, "el perro").await;
        assert!(world.open_items().await.iter().any(|item| item.queue == Queue::Medical && item.replies.iter().any(|reply| reply.contains("perro"))));
        world.through("18T10:05:00").await;
        assert_eq!(last(&world, ANA), "Check-ins today. Not understood: #55 Ivan.");
        world.through("19T10:05:00").await;
        assert_eq!(last(&world, ANA), "Check-ins today. No answer: #55 Ivan.");
        record(&world, &Act::CheckIn(false)).await.unwrap();
        world.through("20T10:05:00").await;
        assert_eq!(asked(IVAN), 4);
        world.record_holds().await;
    }

    async fn the_family_hears_of_a_step_and_of_the_clearance_once_each(fresh) {
        let world = opened(fresh.engine).await;
        world.to("16T09:00:00").await;
        world.text(ANA, "55 step 1").await;
        world.through("16T09:30:00").await;
        let steps = |world: &World| world.got(ROSA).into_iter().filter(|text| text.contains("dio el siguiente paso")).count();
        assert_eq!(steps(&world), 1, "{:?}", world.got(ROSA));
        for text in world.got(ROSA) {
            for word in ["conmoc", "cabeza", "dolor", "síntoma", "sintoma"] {
                assert!(!text.to_lowercase().contains(word), "{text}");
            }
        }
    }
}

on_both_engines! {
    async fn who_is_held_at_the_start_comes_from_a_file_and_a_file_ends_nothing(fresh) {
        let world = World::new(fresh.engine).await;
        world.to("15T06:30:00").await;
        let import = async |text: &str| {
            let files = files(&[("holds.csv", text)]);
            world.desk.import(&world.program, &files, world.clock.now(), false).await
        };
        let file = "athlete,since,kind,category,steps,step,step_since\nIvan Soto,2026-09-10,medical,concussion,concussion,2,2026-09-14\n";
        assert!(import(file).await.unwrap().changes.to_string().contains("held"));
        assert_eq!(world.holds("a3").await, [HoldKind::Medical]);
        world.through("15T06:50:00").await;
        assert!(!world.got(IVAN).iter().any(|text| text.contains("Revision del casco")), "{:?}", world.got(IVAN));
        assert!(world.got(ROSA).is_empty(), "the family knows: {:?}", world.got(ROSA));
        world.text(ANA, "55 step 3").await;
        assert!(last(&world, ANA).starts_with("#55 Ivan: step 3."), "{}", last(&world, ANA));
        assert!(import(file).await.unwrap().changes.is_empty(), "nothing new");
        assert!(import("athlete,since\n").await.unwrap().changes.is_empty());
        assert_eq!(world.holds("a3").await, [HoldKind::Medical]);
        let wrong = import("athlete,since,kind,steps,step\nNobody,2026-09-10,odd,heat,3\n").await.unwrap_err();
        let browline::desk::import::ImportError::Problems(problems) = wrong else { panic!("{wrong}") };
        let all: Vec<String> = problems.iter().map(ToString::to_string).collect();
        for part in ["no athlete `Nobody`", "`odd` is no kind of hold", "`heat` is no way back"] {
            assert!(all.iter().any(|line| line.contains(part)), "{part}: {all:?}");
        }
    }
}

on_both_engines! {
    async fn a_hold_that_the_trainer_ended_leaves_nothing_to_the_next(fresh) {
        let world = World::new(fresh.engine).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me siento enfermo, tengo fiebre").await;
        assert_eq!(world.holds("a3").await, [HoldKind::Trainer]);
        let act = Act::Open { category: Some("fever".into()), progression: None, check_in: true };
        record(&world, &act).await.unwrap();
        world.text(ANA, "55 can go").await;
        assert_eq!(world.holds("a3").await, []);
        world.through("17T07:00:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        assert_eq!(world.holds("a3").await, [HoldKind::Medical]);
        world.text(ANA, "55 way").await;
        assert!(last(&world, ANA).contains("no way back is on file yet"), "{}", last(&world, ANA));
        let act = Act::Open { category: None, progression: Some("concussion".into()), check_in: false };
        record(&world, &act).await.unwrap();
        world.text(ANA, "55 way").await;
        assert!(last(&world, ANA).contains("rest, no step yet"), "{}", last(&world, ANA));
    }
}
