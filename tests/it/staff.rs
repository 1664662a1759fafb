//! What staff do, by text, in chat and on the board: one truth.

use browline::desk::act::{Action, HandTo, Meant, Outcome, Via};
use browline::trade::flag::{Flag, Flags};
use browline::trade::morning::CheckState;
use browline::trade::queue::{HoldKind, ItemState};
use browline::trade::roster::StaffId;

use crate::on_both_engines;
use crate::support::*;

async fn act(world: &World, who: &str, action: &Action, key: &str) -> Outcome {
    let outcome =
        world.desk.act(&world.program, &StaffId::from(who), action, key, Via::Board, world.clock.now()).await.unwrap();
    world.settle().await;
    outcome
}

on_both_engines! {
    /// A click does what a text does, once, however often it is delivered.
    async fn a_click_is_acted_on_once_and_seen_by_text(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        let item = world.open_items().await[0].id.clone();
        let take = Action::Take { item: item.clone() };
        let first = act(&world, "cole", &take, "click-1").await;
        assert_eq!(first, Outcome::Done { who: "#7 Marcus".into(), told: 0 });
        assert_eq!(act(&world, "cole", &take, "click-1").await, first, "the same click, the same answer");
        world.text(TESS, "got 7").await;
        assert!(world.got(TESS).iter().any(|text| text.contains("Cole has it")), "{:?}", world.got(TESS));
        let done = Action::Done { item: item.clone(), what: Some("new strap".into()) };
        let (one, two) = tokio::join!(act(&world, "cole", &done, "click-2"), act(&world, "tess", &done, "click-3"));
        assert_eq!([&one, &two].iter().filter(|outcome| outcome.is_done()).count(), 1, "{one:?} {two:?}");
        assert!(world.holds("a4").await.is_empty());
        assert_eq!(world.purposes(MARCUS).await.iter().filter(|kind| *kind == "fixed").count(), 1);
        assert_eq!(act(&world, "nobody", &done, "click-4").await, Outcome::NotAllowed);
        world.record_holds().await;
    }

    /// An item is handed on and back; a practice is called off for those who were asked.
    async fn an_item_is_handed_on_and_a_practice_called_off_by_click(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        let item = world.open_items().await[0].id.clone();
        let to_tess = Action::HandOn { item: item.clone(), to: HandTo::Staff(StaffId::from("tess")) };
        assert!(act(&world, "cole", &to_tess, "c1").await.is_done());
        assert!(world.got(TESS).iter().any(|text| text.contains("Cole hands you #7 Marcus")), "{:?}", world.got(TESS));
        assert!(act(&world, "tess", &Action::HandOn { item, to: HandTo::Open }, "c2").await.is_done());
        assert_eq!(world.open_items().await[0].state, ItemState::Open);
        let off = Action::CallOff { event: "p15".into() };
        assert_eq!(act(&world, "cole", &off, "c3").await, Outcome::NotAllowed);
        let Outcome::Done { told, .. } = act(&world, "dane", &off, "c4").await else { panic!("not called off") };
        assert!(told > 0);
        assert!(world.purposes(NOAH).await.contains(&"called-off".to_owned()));
        assert!(matches!(act(&world, "dane", &off, "c5").await, Outcome::AlreadyDone { .. }));
    }

    /// What an unclear reply meant is acted on, and kept for the reader.
    async fn what_was_meant_by_click_is_kept(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "blorp").await;
        world.clock.advance(chrono::TimeDelta::minutes(5));
        world.text(MARCUS, "blorp the flange").await;
        let item = world.open_items().await[0].id.clone();
        let flags: Flags = [Flag::Strap, Flag::Symptom].into_iter().collect();
        let meant = Action::Interpret { item, reading: Meant::Flags(flags) };
        assert!(act(&world, "ana", &meant, "c1").await.is_done());
        assert_eq!(world.check("a4").await.state, CheckState::Flagged);
        let mut holds = world.holds("a4").await;
        holds.sort();
        assert_eq!(holds, [HoldKind::Equipment, HoldKind::Medical]);
        let row = world.today().await.fix_list.into_iter().find(|row| row.who.contains("Marcus")).unwrap();
        assert_eq!(row.reply, None, "the words are with the trainer");
        let mut tx = world.desk.store().read().await.unwrap();
        let kept = tx.interpretations(&world.program).await.unwrap();
        assert_eq!(kept.len(), 1);
        assert_eq!((kept[0].text.as_str(), kept[0].flags), ("blorp the flange", flags));
    }

    /// Several in one text, typed badly: the clear ones are done, the others asked about.
    async fn several_in_one_text_are_each_done_or_asked_about(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(NOAH, "mask is loose").await;
        world.text(BROTHERS, "Jonah strap broke").await;
        world.text(LUIS, "strap broke").await;
        world.text(COLE, "got 7 n 63").await;
        let taken = world.open_items().await.iter().filter(|item| item.state == ItemState::Taken).count();
        assert_eq!(taken, 2);
        assert!(world.got(COLE).iter().any(|text| text == "#7 Marcus and #63 Noah: taken by Cole."), "{:?}", world.got(COLE));
        world.text(COLE, "7 63 12 don").await;
        assert_eq!(world.open_items().await.len(), 2, "two wear 12: not guessed");
        assert!(world.holds("a4").await.is_empty() && world.holds("a7").await.is_empty());
        world.text(COLE, "1 and 2").await;
        assert!(world.open_items().await.is_empty());
        assert_eq!(world.today().await.done, 4);
        world.text(COLE, "7 done").await;
        assert!(world.got(COLE).last().unwrap().contains("Cole has done it"), "{:?}", world.got(COLE));
    }

    async fn a_doubtful_text_changes_nothing_and_gets_a_short_question(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(COLE, "7 almost done").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        assert!(world.got(COLE).iter().any(|text| text.starts_with("Sorry, nothing was changed")));
        world.text(COLE, "7 done?").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment], "a question is no report");
        assert!(world.got(COLE).last().unwrap().contains("Nobody has it yet"), "{:?}", world.got(COLE));
        world.text(COLE, "give 7 to tess").await;
        assert!(world.got(COLE).last().unwrap().contains("Tess has it now"));
        world.text(COLE, "7 done new strap").await;
        assert!(world.holds("a4").await.is_empty());
    }

    async fn what_staff_see_themselves_goes_on_the_list(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "all good").await;
        world.text(COLE, "7 strap").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        assert!(world.got(COLE).iter().any(|text| text.starts_with("Noted for #7 Marcus: chin strap")), "{:?}", world.got(COLE));
        assert!(world.got(MARCUS).last().unwrap().contains("Do not wear it"), "{:?}", world.got(MARCUS));
        world.text(COLE, "99 strap").await;
        assert!(world.got(COLE).last().unwrap().contains("99"), "{:?}", world.got(COLE));
        world.text(COLE, "7 done new strap").await;
        assert!(world.holds("a4").await.is_empty());
    }

    /// Staff may say what was meant; the trainer alone is told the words.
    async fn what_did_he_mean(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "blorp").await;
        world.clock.advance(chrono::TimeDelta::minutes(5));
        world.text(MARCUS, "blorp the flange").await;
        let asked = world.got(ANA).into_iter().find(|text| text.contains("What did it mean?")).unwrap();
        assert!(asked.contains("blorp the flange") && asked.contains("#7 Marcus"), "{asked}");
        assert!(world.got(COLE).iter().all(|text| !text.contains("flange")), "helmets' staff are not told the words");
        world.text(COLE, "7 good").await;
        assert_eq!(world.open_items().await.len(), 1, "checked by hand, or meant? asked");
        world.text(COLE, "1").await;
        assert!(world.open_items().await.is_empty());
        assert_eq!(world.check("a4").await.state, CheckState::Clear);
        let mut tx = world.desk.store().read().await.unwrap();
        let kept = tx.interpretations(&world.program).await.unwrap();
        assert_eq!(kept.len(), 1);
        assert_eq!(kept[0].reading.name(), "all_clear");
    }

    /// "7 head" opens a medical hold, whoever of the staff says it, with or without a reply that waits.
    async fn a_body_word_from_staff_is_never_left_lying(world) {
        world.to("15T06:45:00").await;
        world.text(DANE, "7 says his head hurts").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Medical]);
        assert!(world.purposes(ANA).await.contains(&"alert".to_owned()));
        assert!(world.purposes(MARCUS).await.contains(&"care".to_owned()));
        world.text(COLE, "63 head").await;
        assert_eq!(world.holds("a7").await, [HoldKind::Medical]);
        world.text(COLE, "somebody on the line threw up and is dizzy").await;
        let waiting = world.open_items().await.iter().filter(|item| item.athlete.is_none()).count();
        assert_eq!(waiting, 1, "whose it is, the trainer finds out");
        world.text(COLE, "7 can go").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Medical]);
    }

    async fn a_hold_by_text_says_which_when_two_could_be_meant(world) {
        world.to("15T06:45:00").await;
        world.text(COLE, "hold 21").await;
        assert_eq!(world.holds("a5").await, [HoldKind::Equipment], "no phone, and no check by text: held all the same");
        world.text(ANA, "hold 7").await;
        assert!(world.holds("a4").await.is_empty(), "the helmet, or the athlete? asked");
        world.text(ANA, "2").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Trainer]);
        world.text(ANA, "7 can go").await;
        assert!(world.holds("a4").await.is_empty());
        world.text(DANE, "hold 12").await;
        assert_eq!(world.holds("a1").await, [HoldKind::Equipment], "Dane serves the varsity: its 12");
        assert!(world.holds("a8").await.is_empty());
        world.text(COLE, "hold 12").await;
        assert!(world.holds("a8").await.is_empty(), "two wear 12");
        world.text(COLE, "2").await;
        assert_eq!(world.holds("a8").await, [HoldKind::Equipment]);
    }

    /// A helmet that nobody takes climbs: on duty, again, the next, everyone; taking it ends that.
    async fn a_helmet_that_nobody_takes_climbs_until_it_is_taken(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(NOAH, "mask is loose").await;
        let waiting = |all: Vec<String>| all.iter().filter(|text| text.contains("not taken yet")).count();
        world.through("15T14:29:00").await;
        assert_eq!(waiting(world.got(COLE)), 0);
        world.through("15T14:30:00").await;
        assert_eq!((waiting(world.got(COLE)), waiting(world.got(ANA))), (1, 0), "on duty, again");
        world.text(COLE, "got 7").await;
        world.through("15T14:45:00").await;
        assert_eq!((waiting(world.got(COLE)), waiting(world.got(ANA)), waiting(world.got(TESS))), (1, 1, 0), "the next");
        let text = world.got(ANA).into_iter().find(|text| text.contains("not taken yet")).unwrap();
        assert!(text.contains("#63") && !text.contains("#7"), "what is taken has left the ladder: {text}");
        world.through("15T15:00:00").await;
        assert_eq!((waiting(world.got(COLE)), waiting(world.got(ANA)), waiting(world.got(TESS))), (2, 2, 1), "everyone");
        assert_eq!(world.today().await.not_taken, 1, "and it stays in sight");
        assert_eq!(waiting(world.got(DANE)), 0, "a coach fixes no helmet");
        world.record_holds().await;
    }

    async fn all_that_is_open_is_taken_at_once_and_nobody_is_called_again(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(NOAH, "mask is loose").await;
        world.to("15T14:00:00").await;
        world.text(COLE, "got it").await;
        assert!(world.got(COLE).last().unwrap().contains("you take all 2 on the list"), "{:?}", world.got(COLE));
        assert_eq!(world.today().await.not_taken, 2, "asked, not guessed");
        world.text(COLE, "1").await;
        assert_eq!(world.today().await.not_taken, 0);
        world.through("15T15:20:00").await;
        for staff in [COLE, ANA, TESS] {
            assert!(world.got(staff).iter().all(|text| !text.contains("not taken yet")));
        }
    }

    /// On duty, again, the next, every trainer; whoever acknowledges ends it, and those who were called hear who it is.
    async fn a_body_report_climbs_by_the_roster(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        let alerts = |all: Vec<String>| all.iter().filter(|kind| *kind == "alert").count();
        world.through("15T06:52:29").await;
        assert_eq!((alerts(world.purposes(ANA).await), alerts(world.purposes(TESS).await)), (2, 0));
        world.through("15T06:52:30").await;
        assert_eq!((alerts(world.purposes(ANA).await), alerts(world.purposes(TESS).await)), (2, 1), "the next");
        world.through("15T06:55:00").await;
        assert_eq!((alerts(world.purposes(ANA).await), alerts(world.purposes(TESS).await)), (3, 2), "everyone");
        assert_eq!(world.today().await.body_reports_waiting, 1);
        world.text(TESS, "got it").await;
        assert!(world.got(ANA).last().unwrap().contains("Tess is on it"), "{:?}", world.got(ANA));
        world.through("15T08:00:00").await;
        assert_eq!(alerts(world.purposes(ANA).await), 3);
        assert_eq!(world.today().await.body_reports_waiting, 0);
    }

    /// The plan says who starts when, what cannot be done in time, and what to bring; by text as in `today`.
    async fn the_plan_is_the_same_by_text_and_in_today(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        world.text(NOAH, "air liner leaks and 6").await;
        world.text(BROTHERS, "Jonah cheek pads are loose").await;
        world.to("15T14:00:00").await;
        let list = world.got(COLE).into_iter().find(|text| text.starts_with("Fix list")).unwrap();
        assert!(list.contains("1 chin strap") && list.contains("needle and glycerine"), "{list}");
        assert!(list.contains("1 pair of jaw pads (Tern)"), "{list}");
        let today = world.today().await;
        assert_eq!(today.bring[0], "1 chin strap");
        assert_eq!((today.will_not_fit, today.not_taken), (0, 3));
        let order: Vec<&str> = today.fix_list.iter().map(|row| row.who.as_str()).collect();
        assert_eq!(order, ["#63 Noah", "#7 Marcus", "#12 Jonah"], "out of use first, the longer first");
        assert!(today.fix_list.iter().all(|row| row.hand.as_deref() == Some("Cole")));
        let first = &today.fix_list[0];
        assert_eq!(today.start_fixing_at, first.begins_at);
        assert_eq!(today.fix_list[2].ends_at, Some(at("15T15:15:00")), "ready a quarter of an hour before the start");
        world.to("15T15:08:00").await;
        let today = world.today().await;
        let fits: Vec<(&str, bool)> = today.fix_list.iter().map(|row| (row.who.as_str(), row.fits)).collect();
        assert_eq!(fits, [("#7 Marcus", true), ("#63 Noah", false), ("#12 Jonah", false)]);
        assert_eq!(today.cannot_be_done, ["#63 Noah", "#12 Jonah"]);
        assert!(today.to_string().contains("2 will not be done in time"));
    }

    /// Minutes are learned from what staff close, and the plan of the next day knows them.
    async fn minutes_are_learned_from_what_is_closed(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        assert_eq!(world.today().await.fix_list[0].minutes, 4);
        for _ in 0..12 {
            world.text(COLE, "got 7").await;
            world.clock.advance(chrono::TimeDelta::minutes(9));
            world.text(COLE, "7 done new strap").await;
            world.clock.advance(chrono::TimeDelta::minutes(1));
            world.text(MARCUS, "strap broke again").await;
        }
        let minutes = world.today().await.fix_list[0].minutes;
        assert!((7..=8).contains(&minutes), "{minutes}: drawn from 4 most of the way to 9 on {:?}", world.engine);
    }

    /// What was learned leaves as labelled lines, without names, that the reader is scored by.
    async fn what_was_meant_is_exported_for_the_reader(world) {
        world.to("15T06:45:00").await;
        for (number, who) in [("7", MARCUS), ("63", NOAH)] {
            world.text(who, "blorp").await;
            world.clock.advance(chrono::TimeDelta::minutes(5));
            world.text(who, "blorp the \"flange\"").await;
            world.text(COLE, &format!("{number} strap")).await;
        }
        let folder = tempfile::tempdir().unwrap();
        let config = folder.path().join("browline.toml");
        std::fs::write(&config, CONFIG).unwrap();
        let run = |args: &[&str]| {
            let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_browline"));
            command.arg("--config").arg(&config).args(args).env("BROWLINE_DATABASE_URL", &world.address).env("BROWLINE_KEY", browline::store::seal::Seal::as_text(&KEY));
            command.output().unwrap()
        };
        let exported = run(&["export", "replies"]);
        let lines = String::from_utf8(exported.stdout).unwrap();
        assert!(exported.status.success(), "{}", String::from_utf8_lossy(&exported.stderr));
        let expected = r#"{"text":"blorp the \"flange\"","lang":"en","reading":"flagged","flags":["strap"],"also_ok":[],"control":null,"why":"said by staff"}"#;
        assert_eq!(lines.lines().collect::<Vec<_>>(), [expected, expected]);
        let file = folder.path().join("replies.jsonl");
        std::fs::write(&file, &lines).unwrap();
        let scored = run(&["read", "--score", file.to_str().unwrap()]);
        let score = String::from_utf8(scored.stdout).unwrap();
        assert!(score.contains("right: 0 of 2") && scored.status.success(), "{score}");
        let wrong = run(&["export", "replies", "--program", "nowhere"]);
        assert!(!wrong.status.success());
    }

    /// Hours of duty: the alert goes first to who is there, and the plan counts hands while they are there.
    async fn hours_of_duty_decide_who_is_called_and_when_hands_are_counted(world) {
        let staff = STAFF
            .replace(",duty,", ",duty,duty_hours,")
            .replace("trainer,,,1,", "trainer,,,13:00-19:00,1,")
            .replace("trainer,,,2,", "trainer,,,6:00 AM - 1 PM,2,")
            .replace("equipment,,,1,", "equipment,,,15:00-18:00,1,")
            .replace("coach,varsity,,1,", "coach,varsity,,,1,");
        world.desk.import(&world.program, &files(&[("staff.csv", &staff)]), world.clock.now(), false).await.unwrap();
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        let alerts = |all: Vec<String>| all.iter().filter(|kind| *kind == "alert").count();
        assert_eq!((alerts(world.purposes(ANA).await), alerts(world.purposes(TESS).await)), (0, 1), "Tess is there");
        world.text(NOAH, "strap broke").await;
        world.text(BROTHERS, "Jonah strap broke and the mask is loose").await;
        world.to("15T14:00:00").await;
        let today = world.today().await;
        assert!(today.fix_list.iter().all(|row| row.begins_at >= Some(at("15T15:00:00"))), "nobody before three");
        assert_eq!(today.will_not_fit, 1, "12 and 4 minutes are more than a quarter of an hour: {today}");
    }

    /// An answer that could not be read, with nothing after it, is on the fix list when that goes out, and asked about.
    async fn an_unread_answer_that_stays_alone_is_put_before_staff(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "blorp").await;
        assert!(world.open_items().await.is_empty(), "he is asked again first");
        world.through("15T14:00:00").await;
        assert_eq!(world.today().await.not_read, 1);
        assert!(world.got(COLE).iter().any(|text| text.starts_with("Fix list") && text.contains("#7 Marcus")));
        assert!(world.got(COLE).iter().all(|text| !text.contains("blorp")));
        assert!(world.got(ANA).iter().any(|text| text.contains("\"blorp\" could not be read")));
        world.text(ANA, "7 is 5").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        assert_eq!(world.today().await.not_read, 0);
    }

    async fn a_trainers_list_begins_with_the_body_reports_that_wait(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        world.text(NOAH, "strap broke").await;
        world.text(ANA, "list").await;
        let got = world.got(ANA);
        assert!(got.iter().any(|text| text.starts_with("Medical, not taken yet: 1. Reply got 7")), "{got:?}");
        assert!(got.iter().any(|text| text.starts_with("Fix list") && text.contains("#63 Noah")), "{got:?}");
        world.text(COLE, "list").await;
        assert!(world.got(COLE).iter().all(|text| !text.contains("Medical")), "not to the others");
    }
}
