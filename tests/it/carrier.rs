//! Sending through a carrier that refuses, fails, loses answers and reports in any order.

use browline::channel::NumberTrouble;
use browline::channel::inbound::StatusReport;
use browline::channel::simulated::Faults;
use browline::channel::{DeliveryStatus, errors};
use browline::store::rows::OutState;
use browline::trade::morning::{ByHand, CheckState};
use browline::trade::queue::Queue;
use chrono::TimeDelta;

use crate::on_both_engines;
use crate::support::*;

on_both_engines! {
    async fn a_number_that_is_no_mobile_goes_to_the_contact_queue(world) {
        world.carrier.refuse(&phone(NOAH), NumberTrouble::NotMobile);
        world.to("15T06:45:00").await;
        assert_eq!(world.check("a7").await.by_hand, Some(ByHand::NumberFails));
        assert!(world.open_items().await.iter().any(|item| item.queue == Queue::Contact));
        world.carrier.allow(&phone(NOAH));
        world.to("16T06:45:00").await;
        assert!(world.got(NOAH).is_empty(), "not tried again until staff have a number");
    }

    /// Busy, lost and unanswered sends: in the end everybody has the text once.
    async fn a_failing_carrier_costs_time_and_nothing_else(world) {
        world.carrier.set_faults(Faults { busy: 0.3, lost: 0.2, unanswered: 0.2 });
        world.through("15T09:30:00").await;
        for phone in [MARCUS, NOAH, IVAN, LUIS] {
            let checks = world.got(phone).iter().filter(|text| text.contains('1') && text.contains('6')).count();
            assert!(checks >= 1, "{phone}: {:?}", world.got(phone));
            let mut texts = world.got(phone);
            let all = texts.len();
            texts.sort();
            texts.dedup();
            assert_eq!(texts.len(), all, "nothing twice");
        }
    }

    async fn reports_come_in_any_order(world) {
        world.to("15T06:45:00").await;
        let sent = world.outbox(NOAH).await.into_iter().find(|message| message.id.starts_with("check/")).unwrap();
        let report = |id: &str, status, error_code| StatusReport { carrier_id: id.to_owned(), status, raw: String::new(), error_code };
        let id = sent.carrier_id.unwrap();
        let now = world.clock.now();
        world.desk.report(&world.program, report(&id, DeliveryStatus::Delivered, None), now).await.unwrap();
        world.desk.report(&world.program, report(&id, DeliveryStatus::Underway, None), now).await.unwrap();
        world.desk.report(&world.program, report(&id, DeliveryStatus::Failed, Some(30003)), now).await.unwrap();
        let after = world.outbox(NOAH).await.into_iter().find(|message| message.id == sent.id).unwrap();
        assert_eq!(after.state, OutState::Delivered);
        world.desk.report(&world.program, report("SM-not-ours-yet", DeliveryStatus::Delivered, None), now).await.unwrap();
    }

    async fn a_landline_found_out_by_report_is_checked_by_hand(world) {
        world.to("15T06:45:00").await;
        let sent = world.outbox(NOAH).await.into_iter().find(|message| message.id.starts_with("check/")).unwrap();
        let report = StatusReport {
            carrier_id: sent.carrier_id.unwrap(),
            status: DeliveryStatus::Failed,
            raw: "undelivered".to_owned(),
            error_code: Some(30006),
        };
        assert!(matches!(errors::delivery_trouble(30006), errors::DeliveryTrouble::Number(_)));
        world.desk.report(&world.program, report, world.clock.now()).await.unwrap();
        assert_eq!(world.check("a7").await.state, CheckState::ByHand);
    }

    /// One segment a second: the roster goes out in order, and an alert overtakes it.
    async fn an_alert_overtakes_a_roster_that_is_going_out(world) {
        let paced = CONFIG.replace("segments_per_second = 0.0", "segments_per_second = 1.0");
        let world = World::empty(world.engine, &paced).await;
        world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        world.to("15T06:45:00").await;
        assert_eq!(world.carrier.texts().len(), 1, "one at a time");
        world.text_only(MARCUS, "my head hurts").await;
        world.clock.advance(TimeDelta::seconds(3));
        world.settle().await;
        let last = world.carrier.texts().pop().unwrap();
        assert!(last.to == phone(ANA) || last.to == phone(MARCUS), "{last:?}");
    }
}

on_both_engines! {
    /// A process dies with a text in hand, a STOP is heard meanwhile: what is left behind is not sent to that number.
    async fn a_stop_holds_for_what_a_dead_process_left_behind(world) {
        world.to("15T06:45:00").await;
        world.clock.set(at("15T07:30:00"));
        world.desk.tick(world.clock.now()).await.unwrap();
        let mut tx = world.desk.store().write().await.unwrap();
        let claim = "UPDATE outbox SET state = 'claimed', claimed_by = 'dead', lease_until = 0, first_tried_at = 0 WHERE state = 'due'";
        tx.raw(claim.to_owned()).await.unwrap();
        tx.commit().await.unwrap();
        let other = world.another("two").await;
        world.text_only(NOAH, "stop").await;
        let before = world.got(NOAH).len();
        other.send_due(world.clock.now()).await.unwrap();
        let after = world.got(NOAH);
        assert_eq!(after.len(), before + 1, "the confirmation alone: {after:?}");
        assert!(after.last().unwrap().to_lowercase().contains("no more"), "{after:?}");
    }

    /// What is flagged after the fix list went out is told to those who have it.
    async fn a_flag_after_the_fix_list_is_told_at_once(world) {
        world.to("15T06:45:00").await;
        world.to("15T14:00:00").await;
        world.to("15T14:30:00").await;
        let before = world.got(COLE).len();
        world.text(MARCUS, "strap broke").await;
        let texts = world.got(COLE);
        assert_eq!(texts.len(), before + 1);
        assert!(texts.last().unwrap().contains("#7"), "{texts:?}");
    }
}
