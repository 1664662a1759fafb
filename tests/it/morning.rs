//! A practice morning, from the check to the lists.

use browline::desk::Received;
use browline::trade::flag::Flag;
use browline::trade::morning::{ByHand, CheckState};
use browline::trade::queue::{HoldKind, Queue};
use chrono::TimeDelta;

use crate::on_both_engines;
use crate::support::*;

fn sorted(mut kinds: Vec<String>) -> Vec<String> {
    kinds.sort();
    kinds
}

on_both_engines! {
    /// The check goes out at its time, once, to those who may be texted; the rest are checked by hand.
    async fn the_check_goes_out_once_at_its_time(world) {
        world.to("15T06:44:59").await;
        assert!(world.got(MARCUS).is_empty());
        world.to("15T06:45:00").await;
        world.settle().await;
        assert_eq!(world.purposes(MARCUS).await, ["welcome", "check"]);
        assert_eq!(world.got(BROTHERS).len(), 3, "one welcome for the phone, a check for each brother");
        assert_eq!(world.check("a5").await.by_hand, Some(ByHand::NoPhone));
        assert_eq!(world.check("a6").await.by_hand, Some(ByHand::NoConsent));
        assert!(world.got("+13125550113").is_empty(), "no consent, no text");
        world.to("15T06:50:00").await;
        assert_eq!(world.got(MARCUS).len(), 2);
        world.record_holds().await;
    }

    async fn no_event_no_text(world) {
        world.through("15T06:40:00").await;
        world.to("17T06:45:00").await;
        assert!(world.got(MARCUS).is_empty());
    }

    async fn an_all_clear_is_thanked_and_not_nudged(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "all good").await;
        assert_eq!(world.check("a4").await.state, CheckState::Clear);
        world.to("15T07:30:00").await;
        assert_eq!(sorted(world.purposes(MARCUS).await), ["answer", "check", "welcome"]);
        assert_eq!(sorted(world.purposes(NOAH).await), ["check", "nudge", "welcome"]);
        world.to("15T07:31:00").await;
        assert_eq!(world.purposes(NOAH).await.len(), 3, "one nudge only");
    }

    /// A broken strap: an item, a hold, where to go, and a fix that the athlete hears of.
    async fn a_flag_becomes_an_item_and_a_fix_ends_the_hold(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap broke").await;
        let items = world.open_items().await;
        assert_eq!(items.len(), 1);
        assert_eq!(items[0].queue, Queue::Equipment);
        assert!(items[0].flags.contains(Flag::Strap));
        assert_eq!(items[0].replies, ["strap broke"]);
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment]);
        world.text(MARCUS, "all good").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Equipment], "the athlete's word does not end a hold");
        assert_eq!(world.check("a4").await.state, CheckState::Flagged);
        world.to("15T14:00:00").await;
        assert!(world.got(COLE).last().unwrap().contains("#7"), "{:?}", world.got(COLE));
        world.text(COLE, "got 7").await;
        world.text(COLE, "7 done new strap").await;
        assert!(world.holds("a4").await.is_empty());
        assert!(world.open_items().await.is_empty());
        assert!(world.purposes(MARCUS).await.contains(&"fixed".to_owned()));
        world.record_holds().await;
    }

    /// A headache: care at once, the trainer at once, again after five minutes, then every trainer.
    async fn a_symptom_climbs_until_it_is_acknowledged(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Medical]);
        assert!(world.purposes(MARCUS).await.contains(&"care".to_owned()));
        let alerts = |all: Vec<String>| all.iter().filter(|kind| *kind == "alert").count();
        assert_eq!(alerts(world.purposes(ANA).await), 1);
        assert_eq!(alerts(world.purposes(TESS).await), 0);
        world.to("15T06:49:59").await;
        assert_eq!(alerts(world.purposes(ANA).await), 1);
        world.to("15T06:50:00").await;
        assert_eq!(alerts(world.purposes(ANA).await), 2);
        world.to("15T06:55:00").await;
        assert_eq!(alerts(world.purposes(ANA).await), 3);
        assert_eq!(alerts(world.purposes(TESS).await), 1);
        assert_eq!(world.today().await.body_reports_waiting, 1);
        world.text(ANA, "got 7").await;
        assert_eq!(world.today().await.body_reports_waiting, 0);
        world.to("15T07:20:00").await;
        assert_eq!(alerts(world.purposes(ANA).await), 3);
        world.text(ANA, "7 done").await;
        world.text(ANA, "7 can go").await;
        world.text(MARCUS, "all good").await;
        assert_eq!(world.holds("a4").await, [HoldKind::Medical], "no text lifts a medical hold");
        assert!(world.today().await.held.iter().all(|row| row.why == "held: see the athletic trainer"));
    }

    async fn stop_wins_over_everything_queued(world) {
        world.to("15T06:45:00").await;
        world.clock.set(at("15T07:30:00"));
        world.desk.tick(world.clock.now()).await.unwrap();
        world.text(NOAH, "STOP").await;
        world.settle().await;
        assert_eq!(sorted(world.purposes(NOAH).await), ["check", "nudge:Cancelled", "stopped", "welcome"]);
        assert_eq!(world.check("a7").await.by_hand, Some(ByHand::OptedOut));
        world.text(NOAH, "stop").await;
        assert_eq!(world.got(NOAH).len(), 3, "one confirmation");
        world.to("16T06:45:00").await;
        assert_eq!(world.got(NOAH).len(), 3);
        assert!(world.today().await.silent.iter().any(|row| row.who.contains("Noah")));
    }

    async fn brothers_are_told_apart_by_name_or_by_a_short_question(world) {
        world.to("15T06:45:00").await;
        world.text(BROTHERS, "ok").await;
        assert_eq!(world.check("a1").await.state, CheckState::Sent);
        assert!(world.purposes(BROTHERS).await.contains(&"which".to_owned()));
        world.text(BROTHERS, "2").await;
        assert_eq!(world.check("a2").await.state, CheckState::Clear, "2 is Eli, not the grip");
        assert_eq!(world.check("a1").await.state, CheckState::Sent);
        world.text(BROTHERS, "Jonah strap broke").await;
        assert_eq!(world.check("a1").await.state, CheckState::Flagged);
        assert_eq!(world.check("a2").await.state, CheckState::Clear);
    }

    async fn an_unclear_answer_is_asked_again_once_and_then_staff_look(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "blorp").await;
        assert_eq!(world.check("a4").await.state, CheckState::Unclear);
        world.clock.advance(TimeDelta::minutes(5));
        world.text(MARCUS, "blorp blorp").await;
        assert_eq!(world.open_items().await.len(), 1);
        let answers = world.purposes(MARCUS).await.iter().filter(|kind| *kind == "answer").count();
        assert_eq!(answers, 2);
        world.clock.advance(TimeDelta::minutes(5));
        world.text(MARCUS, "all good").await;
        assert_eq!(world.check("a4").await.state, CheckState::Clear);
        assert!(world.open_items().await.is_empty());
    }

    async fn what_is_delivered_twice_is_acted_on_once(world) {
        world.to("15T06:45:00").await;
        let to = phone("+13125550100");
        let text = world.carrier.write(&phone(MARCUS), &to, "strap broke", Vec::new());
        assert_eq!(world.desk.receive(text.clone(), world.clock.now()).await.unwrap(), Received::New);
        assert_eq!(world.desk.receive(text, world.clock.now()).await.unwrap(), Received::Duplicate);
        assert_eq!(world.open_items().await[0].replies.len(), 1);
    }

    async fn an_outage_across_the_check_is_made_up_while_it_is_of_use(world) {
        world.to("15T10:00:00").await;
        assert_eq!(world.check("a4").await.state, CheckState::Sent);
        let world = World::new(world.engine).await;
        world.to("15T15:15:00").await;
        assert_eq!(world.check("a4").await.state, CheckState::Missed);
        assert!(!world.purposes(MARCUS).await.contains(&"check".to_owned()));
        assert!(world.today().await.silent.iter().any(|row| row.who.contains("Marcus")));
    }

    async fn two_processes_at_once_do_nothing_twice(world) {
        let other = world.another("two").await;
        world.clock.set(at("15T06:45:00"));
        let now = world.clock.now();
        let (one, two) = tokio::join!(world.desk.tick(now), other.tick(now));
        one.unwrap();
        two.unwrap();
        let (one, two) = tokio::join!(world.desk.send_due(now), other.send_due(now));
        one.unwrap();
        two.unwrap();
        assert_eq!(world.got(MARCUS).len(), 2);
        assert_eq!(world.got(BROTHERS).len(), 3);
        world.record_holds().await;
    }

    async fn a_called_off_practice_drops_what_is_unsent_and_tells_who_was_asked(world) {
        world.to("15T06:45:00").await;
        world.text(MARCUS, "all good").await;
        world.to("15T09:00:00").await;
        world.text(DANE, "no practice today").await;
        assert!(world.purposes(MARCUS).await.contains(&"called-off".to_owned()));
        let told = world.purposes(BROTHERS).await;
        assert_eq!(told.iter().filter(|kind| *kind == "called-off").count(), 1, "one number hears once");
        world.to("15T14:00:00").await;
        assert!(!world.purposes(COLE).await.iter().any(|kind| kind == "fix-list"));
        let jv = world.check("a8").await;
        assert_eq!(jv.state, CheckState::Sent, "the other team's day goes on");
    }

    async fn a_number_nobody_knows_gets_one_answer_and_a_contact_item(world) {
        world.to("15T09:00:00").await;
        world.text("+13125550177", "who is this").await;
        world.text("+13125550177", "hello??").await;
        assert_eq!(world.got("+13125550177").len(), 1);
        assert_eq!(world.open_items().await.len(), 1);
        assert_eq!(world.open_items().await[0].queue, Queue::Contact);
    }

    async fn an_import_of_the_same_folder_changes_nothing(world) {
        let again = world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        assert!(again.changes.is_empty(), "{}", again.changes);
    }
}
