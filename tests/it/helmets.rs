//! Helmets over the years: leaving in time, coming back, failing, being given to somebody; and the lapsed one found first.

use browline::trade::queue::{HoldKind, Queue};
use browline::trade::roster::Helmet;

use crate::on_both_engines;
use crate::support::*;

const HELMETS: &str = "\
tag,model,size,serial,athlete,made,recertified,notes
LV-001,Tern,M,,a1,2023-03,2026-02-01,
LV-002,Tern,L,,a2,2023-03,2026-02-01,
LV-003,Tern,M,,a3,2023-03,2024-08-01,
LV-004,Tern,L,,,2024-03,2026-02-01,spare
LV-005,Tern,M,,,2016-03,2026-02-01,old
LV-006,Tern,M,,,2026-03,,new
";

const MODELS: &str = "\
model,hardware,tools,spares,sizes
Tern,quarter-turn clips,release tool,chin strap: low,S 20-21; M 21-22; L 22-23 1/2
";

const SETTINGS: &str = "\
[programs.larkspur.reconditioning]
first_practice = \"2027-08-02\"
turnaround_days = 42

[programs.larkspur.times]";

async fn world(engine: Engine) -> World {
    let config = CONFIG.replace("[programs.larkspur.times]", SETTINGS);
    let world = World::empty(engine, &config).await;
    let mut all = roster();
    all.retain(|file| file.name != "helmets.csv" && file.name != "athletes.csv");
    let heads = ATHLETES
        .replace("consent_how\n", "consent_how,head\n")
        .replace("Rosa Soto,guardian,2026-08-02,signed form", "Rosa Soto,guardian,2026-08-02,signed form,21 1/2 in");
    all.extend(files(&[("helmets.csv", HELMETS), ("athletes.csv", &heads), ("models.csv", MODELS)]));
    world.desk.import(&world.program, &all, world.clock.now(), false).await.unwrap();
    world
}

/// A day of 2027, in the program's zone.
fn on(day: &str) -> browline::trade::time::Moment {
    let local = format!("2027-{day}").parse().unwrap();
    browline::trade::time::resolve(local, chrono_tz::America::Chicago)
}

fn last(world: &World, who: &str) -> String {
    let welcome = |text: &String| text.starts_with("Larkspur Valley Kestrels staff texts");
    world.got(who).into_iter().rfind(|text| !welcome(text)).unwrap_or_default()
}

async fn helmet(world: &World, tag: &str) -> Helmet {
    let helmets = world.desk.store().read().await.unwrap().all_helmets(&world.program).await.unwrap();
    helmets.into_iter().find(|helmet| helmet.tag.as_str() == tag).expect("a helmet")
}

on_both_engines! {
    async fn a_lapsed_helmet_is_on_the_fix_list_before_anybody_asks(fresh) {
        let world = world(fresh.engine).await;
        world.through("15T07:00:00").await;
        assert_eq!(world.holds("a3").await, [HoldKind::Equipment], "certified until 1 August 2026");
        let items = world.open_items().await;
        let item = items.iter().find(|item| item.queue == Queue::Equipment).expect("an item");
        assert_eq!(item.about.as_deref(), Some("helmet LV-003 no longer certified since Aug 2 2026: give another"));
        assert!(world.holds("a1").await.is_empty());
        // Another one is given: the wrong size is said, the old one is a spare, and the fix ends the hold.
        world.text(COLE, "h4 to 55").await;
        let told = last(&world, COLE);
        assert!(told.starts_with("Noted: LV-004 is #55 Ivan's. It is a L, the head asks for a M."), "{told}");
        world.text(COLE, "h6 to 55").await;
        assert!(last(&world, COLE).starts_with("Noted: LV-006 is #55 Ivan's. Fit it"), "{}", last(&world, COLE));
        assert_eq!(helmet(&world, "LV-003").await.athlete, None);
        assert_eq!(helmet(&world, "LV-004").await.athlete, None);
        world.text(COLE, "55 done fitted").await;
        assert!(world.holds("a3").await.is_empty());
        world.through("16T07:00:00").await;
        assert!(world.holds("a3").await.is_empty(), "the new one may be worn");
        world.record_holds().await;
    }

    async fn what_fails_or_is_lapsed_is_given_to_nobody(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(COLE, "h3 to 12").await;
        assert!(last(&world, COLE).contains("LV-003 is no longer certified since Aug 2 2026 and may not be worn"), "{}", last(&world, COLE));
        world.text(COLE, "h5 to 12").await;
        assert!(last(&world, COLE).contains("LV-005 is too old since Jan 1 2026"), "{}", last(&world, COLE));
        world.text(COLE, "h1 failed crack at the ear hole").await;
        let told = last(&world, COLE);
        assert!(told.contains("LV-001 failed, crack at the ear hole. It is never worn again. #12 Jonah is on the fix list"), "{told}");
        assert_eq!(world.holds("a1").await, [HoldKind::Equipment]);
        assert!(helmet(&world, "LV-001").await.failed.is_some());
        world.text(COLE, "h1 not failed").await;
        assert!(helmet(&world, "LV-001").await.failed.is_none(), "said of the wrong one");
        let before = helmet(&world, "LV-001").await.recertified;
        world.text(COLE, "h1 recertified 2030-01-01").await;
        assert!(last(&world, COLE).starts_with("Nothing noted: the day could not be read, or lies ahead"), "{}", last(&world, COLE));
        let member = world.desk.store().read().await.unwrap().staff(&world.program).await.unwrap().into_iter().find(|member| member.id.as_str() == "cole").unwrap();
        let back = browline::desk::helmets::record::Said::Back;
        world.desk.note_helmets(&world.program, &member, (&["LV-001".to_owned()], &back), "k", world.clock.now()).await.unwrap();
        assert_eq!(helmet(&world, "LV-001").await.recertified, before, "what never left is not recertified by coming back");
        world.text(DANE, "h2 failed crack").await;
        assert!(helmet(&world, "LV-002").await.failed.is_none(), "a coach notes no helmets");
    }

    async fn leaving_is_told_until_they_have_left_and_what_is_not_back_is_chased(fresh) {
        let world = world(fresh.engine).await;
        // Fitting 30 July, back 25 July, at the shop 13 June, leaving by 8 June 2027.
        world.clock.set(on("04-09T08:59:00"));
        world.settle().await;
        world.clock.set(on("04-09T09:00:00"));
        world.settle().await;
        let told = || world.got(COLE).into_iter().filter(|text| text.starts_with("To leave for reconditioning")).collect::<Vec<_>>();
        assert_eq!(told().len(), 1, "{:?}", world.got(COLE));
        assert!(told()[0].contains("by Tue Jun 8, packed Sun Jun 6: 5 helmets, LV-001 to LV-004, LV-006"), "{:?}", told());
        world.clock.set(on("06-01T10:00:00"));
        world.settle().await;
        assert_eq!(told().len(), 2, "what was missed meanwhile is not told any more");
        world.text(COLE, "shipped h1-h4 back by 7/20").await;
        let noted = last(&world, COLE);
        assert!(noted.contains("4 helmets, LV-001 to LV-004. Expected back Tue Jul 20. Still to go by Tue Jun 8: 1."), "{noted}");
        world.text(COLE, "shipped all").await;
        assert!(!last(&world, COLE).contains("Still to go"), "{}", last(&world, COLE));
        world.clock.set(on("06-07T10:00:00"));
        world.settle().await;
        assert_eq!(told().len(), 2, "all have left");
        world.clock.set(on("07-21T09:30:00"));
        world.settle().await;
        let chased = || world.got(COLE).into_iter().filter(|text| text.starts_with("Expected back Tue Jul 20")).collect::<Vec<_>>();
        let chased_now: Vec<String> = world.got(COLE).into_iter().filter(|text| text.starts_with("Expected back yesterday")).collect();
        assert_eq!(chased_now.len() + chased().len(), 1, "{:?}", world.got(COLE));
        world.text(COLE, "back h1 h2 h3").await;
        let back = last(&world, COLE);
        assert!(back.starts_with("Back and recertified as of today: 3 helmets, LV-001 to LV-003. Still away: LV-004, LV-006."), "{back}");
        let one = helmet(&world, "LV-001").await;
        assert_eq!((one.shipped, one.recertified), (None, "2027-07-21".parse().ok()));
        world.text(COLE, "back h9").await;
        assert!(helmet(&world, "LV-004").await.shipped.is_some());
        world.record_holds().await;
    }

    async fn a_plan_is_made_and_what_retires_is_counted_by_size(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        let view = world.desk.board_helmets(&world.program, world.clock.now()).await.unwrap();
        let plan = view.plan.expect("a season is set");
        assert!(plan.iter().any(|line| line.contains("helmets, back")), "{plan:?}");
        let next = view.retirements.iter().find(|row| row.season == 2027).expect("the next season");
        assert!(next.sizes.iter().any(|row| row.size == "M" && row.needed == 2 && row.serve == 3), "{next:?}");
    }

    async fn a_file_does_not_undo_what_staff_said(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(COLE, "h6 to jonah").await;
        world.text(COLE, "h2 recertified").await;
        world.text(COLE, "h4 failed crack").await;
        world.desk.import(&world.program, &files(&[("helmets.csv", HELMETS)]), world.clock.now(), false).await.unwrap();
        assert_eq!(helmet(&world, "LV-006").await.athlete.map(|id| id.0), Some("a1".to_owned()));
        assert_eq!(helmet(&world, "LV-001").await.athlete, None);
        assert_eq!(helmet(&world, "LV-002").await.recertified, "2026-09-15".parse().ok());
        assert!(helmet(&world, "LV-004").await.failed.is_some());
    }
}
