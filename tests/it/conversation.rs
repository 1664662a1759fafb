//! What people text, and what follows.

use browline::desk::import::ImportError;
use browline::trade::flag::Flag;
use browline::trade::morning::{ByHand, CheckState};
use browline::trade::queue::{HoldKind, ItemState, Queue};
use chrono::TimeDelta;

use crate::on_both_engines;
use crate::support::*;

on_both_engines! {
    /// Nothing but medical alerts, rights and answers to staff goes out in quiet hours.
    async fn quiet_hours_hold_what_can_wait(world) {
        world.to("15T06:45:00").await;
        world.clock.set(at("15T22:30:00"));
        world.text(MARCUS, "strap broke").await;
        assert!(world.purposes(MARCUS).await.iter().any(|kind| kind == "answer:Due"), "{:?}", world.purposes(MARCUS).await);
        world.text(NOAH, "my head hurts").await;
        assert!(world.purposes(NOAH).await.contains(&"care".to_owned()), "care does not wait");
        assert!(world.purposes(ANA).await.contains(&"alert".to_owned()), "the alert does not wait");
        world.text(LUIS, "stop").await;
        assert!(world.purposes(LUIS).await.contains(&"stopped".to_owned()), "a right does not wait");
        world.to("16T06:29:00").await;
        assert!(world.purposes(MARCUS).await.iter().any(|kind| kind == "answer:Due"));
        world.to("16T06:30:00").await;
        assert!(world.purposes(MARCUS).await.iter().any(|kind| kind == "answer"));
    }

    async fn a_late_answer_counts_for_its_day(world) {
        world.to("15T06:45:00").await;
        world.to("15T18:00:00").await;
        world.text(MARCUS, "all good").await;
        let check = world.check("a4").await;
        assert_eq!((check.state, check.date.to_string().as_str()), (CheckState::Clear, "2026-09-15"));
        assert!(world.got(MARCUS).last().unwrap().to_lowercase().contains("thank"), "{:?}", world.got(MARCUS));
    }

    /// Several texts in a row are one reply, and a correction adds.
    async fn pieces_are_one_reply_and_a_correction_adds(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "everything except").await;
        assert_eq!(world.check("a4").await.state, CheckState::Unclear);
        world.clock.advance(TimeDelta::seconds(15));
        world.text(MARCUS, "the strap").await;
        let check = world.check("a4").await;
        assert_eq!(check.state, CheckState::Flagged);
        assert_eq!(check.flags.iter().collect::<Vec<_>>(), [Flag::Strap]);
        world.clock.advance(TimeDelta::seconds(90));
        world.text(MARCUS, "wait 3 too").await;
        assert_eq!(world.open_items().await.len(), 1, "one item a person");
        assert_eq!(world.open_items().await[0].flags.iter().collect::<Vec<_>>(), [Flag::Crown, Flag::Strap]);
    }

    /// An "ok" that follows at once on something unread does not make it fine.
    async fn an_ok_right_after_something_unread_stands_only_with_it(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "the zorp is flibbed").await;
        world.clock.advance(TimeDelta::seconds(10));
        world.text(MARCUS, "ok").await;
        assert_ne!(world.check("a4").await.state, CheckState::Clear);
        world.clock.advance(TimeDelta::minutes(3));
        world.text(MARCUS, "ok").await;
        assert_eq!(world.check("a4").await.state, CheckState::Clear, "an answer to the question stands by itself");
    }

    async fn body_words_stay_with_the_trainer(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke and my head hurts").await;
        let today = world.today().await;
        let row = today.fix_list.iter().find(|row| row.who.contains("Marcus")).unwrap();
        assert_eq!(row.reply, None);
        world.to("15T14:00:00").await;
        world.to("15T15:00:00").await;
        for staff in [COLE, DANE] {
            for text in world.got(staff) {
                let text = text.to_lowercase();
                assert!(!text.contains("head hurts") && !text.contains("concussion"), "{text}");
            }
        }
        let shown = format!("{today}").to_lowercase();
        assert!(!shown.contains("head hurts"), "{shown}");
        assert!(world.got(ANA).iter().any(|text| text.contains("my head hurts")));
    }

    async fn a_wrong_number_is_left_alone_and_staff_are_asked(world) {
        world.to("15T06:45:00").await;
        world.text(NOAH, "wrong number").await;
        assert_eq!(world.check("a7").await.by_hand, Some(ByHand::WrongNumber));
        assert!(world.open_items().await.iter().any(|item| item.queue == Queue::Contact));
        world.to("16T06:45:00").await;
        assert_eq!(world.got(NOAH).len(), 3, "welcome, check, apology, and no more");
    }

    async fn start_brings_the_texts_back(world) {
        world.to("15T06:45:00").await;
        world.text(NOAH, "stop").await;
        world.text(NOAH, "start").await;
        world.to("16T06:45:00").await;
        assert!(world.got(NOAH).last().unwrap().contains("1 brow"), "{:?}", world.got(NOAH));
    }

    async fn help_names_the_program_a_person_and_the_way_out(world) {
        world.to("15T06:45:00").await;
        world.text(NOAH, "HELP").await;
        let help = world.got(NOAH).pop().unwrap();
        for needed in ["Larkspur Valley Kestrels", "Ana", "312-555-0101", "STOP", "rates"] {
            assert!(help.contains(needed), "{needed}: {help}");
        }
    }

    /// Where the carrier has answered a STOP by itself, the program records it and stays silent.
    async fn what_the_carrier_answered_is_not_answered_twice(world) {
        world.to("15T06:45:00").await;
        let mut text = world.carrier.write(&phone(NOAH), &phone("+13125550100"), "STOP", Vec::new());
        text.opt_out_type = Some(browline::channel::inbound::OptOut::Stop);
        world.desk.receive(text, world.clock.now()).await.unwrap();
        world.settle().await;
        assert_eq!(world.got(NOAH).len(), 2, "welcome and check only");
        assert_eq!(world.check("a7").await.by_hand, Some(ByHand::OptedOut));
    }

    async fn only_staff_are_obeyed(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(NOAH, "7 done new strap").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        world.text(DANE, "7 done new strap").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment], "a coach does not close an item");
        world.text(DANE, "who's out?").await;
        assert!(world.got(DANE).last().unwrap().contains("Marcus"), "{:?}", world.got(DANE));
    }

    async fn two_with_one_jersey_are_asked_about(world) {
        world.to("15T06:45:00").await;
        world.text(BROTHERS, "Jonah strap broke").await;
        world.text(LUIS, "strap broke").await;
        world.text(COLE, "12 done").await;
        assert_eq!(world.open_items().await.len(), 2, "not guessed");
        world.text(COLE, "2").await;
        let open: Vec<_> = world.open_items().await;
        assert_eq!(open.len(), 1);
    }

    async fn needs_a_new_helmet_keeps_the_hold(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(COLE, "7 needs new helmet").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        let item = &world.open_items().await[0];
        assert_eq!(item.state, ItemState::Taken);
        assert_eq!(item.about.as_deref(), Some("needs new helmet"));
        assert!(world.purposes(MARCUS).await.contains(&"out-of-use".to_owned()));
    }

    async fn a_guardians_word_counts_when_something_is_wrong_and_not_as_the_check(world) {
        world.to("15T06:45:00").await;
        world.text(ROSA, "todo bien").await;
        assert_eq!(world.check("a3").await.state, CheckState::Sent, "the athlete checks for himself");
        world.text(ROSA, "le duele la cabeza desde ayer").await;
        assert_eq!(world.holds("a3").await, [HoldKind::Medical]);
        assert!(world.purposes(ANA).await.contains(&"alert".to_owned()));
    }

    async fn a_symptom_from_a_shared_phone_reaches_the_trainer_before_it_is_known_whose(world) {
        world.to("15T06:45:00").await;
        world.text(BROTHERS, "my head hurts").await;
        let alert = world.got(ANA).into_iter().find(|text| text.contains("Jonah or Eli"));
        assert!(alert.is_some(), "{:?}", world.got(ANA));
        world.text(BROTHERS, "1").await;
        assert_eq!(world.holds("a1").await, [HoldKind::Medical]);
        assert!(world.holds("a2").await.is_empty());
    }

    /// A new calendar moves a practice: who was asked hears, and the steps follow.
    async fn a_moved_practice_is_told_and_followed(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "all good").await;
        world.to("15T10:00:00").await;
        let moved = EVENTS.replace("p15,varsity,practice,2026-09-15,15:30,17:30", "p15,varsity,practice,2026-09-15,17:00,19:00");
        let imported = world.desk.import(&world.program, &files(&[("events.csv", &moved)]), world.clock.now(), false).await.unwrap();
        assert!(imported.told > 0, "{imported}");
        world.settle().await;
        assert!(world.purposes(MARCUS).await.contains(&"moved".to_owned()));
        world.to("15T14:30:00").await;
        let varsity = |all: Vec<String>| all.iter().filter(|text| text.contains("Varsity")).count();
        assert_eq!(varsity(world.got(COLE)), 0);
        world.to("15T15:30:00").await;
        assert_eq!(varsity(world.got(COLE)), 1);
    }

    /// Nothing is loaded when one row is wrong, and every problem is told at once.
    async fn an_import_is_all_or_nothing(world) {
        let broken = ATHLETES.replace("312-555-0112", "12").replace("varsity,21", "varsty,21");
        let refused = world.desk.import(&world.program, &files(&[("athletes.csv", &broken)]), world.clock.now(), false).await;
        let Err(ImportError::Problems(problems)) = refused else { panic!("taken") };
        assert!(problems.len() >= 2, "{problems:?}");
        assert!(problems[0].to_string().starts_with("athletes.csv:5:"), "{}", problems[0]);
        let again = world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        assert!(again.changes.is_empty());
    }

    async fn dictionary_of_hostile_texts_is_stored_and_survived(world) {
        world.to("15T06:45:00").await;
        let long = "strap ".repeat(2_000);
        for text in ["\0\0", "\u{202e}ok", "'; DROP TABLE athlete; --", "{\"a\":1}", "👨‍👩‍👧‍👦", &long, ""] {
            world.text(MARCUS, text).await;
        }
        let mut tx = world.desk.store().read().await.unwrap();
        assert_eq!(tx.inbox_of(&world.program, &phone(MARCUS)).await.unwrap().len(), 7);
    }

    /// A name that looks like a worrying word is a name.
    async fn ones_own_name_is_no_complaint(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "marcus here all good").await;
        assert_eq!(world.check("a4").await.state, CheckState::Clear);
    }

    async fn pieces_that_say_nothing_yet_are_waited_for(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "gm").await;
        world.clock.advance(TimeDelta::seconds(10));
        world.text(MARCUS, "jus checked it").await;
        assert!(world.open_items().await.is_empty(), "still typing");
        world.clock.advance(TimeDelta::minutes(2));
        world.text(MARCUS, "all good").await;
        assert_eq!(world.check("a4").await.state, CheckState::Clear);
    }
}
