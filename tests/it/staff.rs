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
}
