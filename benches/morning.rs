//! A morning for 10,000 athletes, planned and committed, against a bare insert of the same rows.
//!
//! A: one `tick` at the moment of the check, which decides for each athlete, makes the texts and commits. B: the rows
//! that A left behind, inserted as they are into an empty database of the same kind in one transaction. Alternating.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

mod common;

use browline::clock::Clock;
use browline::store::rows::{Happening, Number, OutMessage, RecordLine};
use browline::store::{Store, Tx};
use browline::trade::morning::MorningCheck;
use browline::trade::phone::Phone;
use common::{CHECK, Engine, at, config, desk, median, program, rounds, spread, timed};

const ATHLETES: usize = 10_000;

/// What a planned morning writes.
struct Rows {
    outbox: Vec<OutMessage>,
    checks: Vec<MorningCheck>,
    numbers: Vec<Number>,
    happenings: Vec<Happening>,
    record: Vec<RecordLine>,
}

#[tokio::main]
async fn main() {
    for engine in Engine::all() {
        let imported = engine.prepared(ATHLETES, false, false).await;
        let (mut planned, mut bare) = (Vec::new(), Vec::new());
        let mut count = 0;
        for _ in 0..rounds() {
            let address = engine.copy(&imported).await;
            let clock = Clock::manual(at(CHECK));
            let own = desk(&address, &config(1, ""), &clock, None).await;
            let (time, report) = timed(own.tick(clock.now())).await;
            assert_eq!(report.unwrap().done.len(), 1);
            planned.push(time);
            let rows = rows(own.store()).await;
            own.store().close().await;
            engine.drop(&address).await;

            let address = engine.fresh().await;
            let store = Store::open_with(&address, Some(browline::store::seal::Seal::of(&[7; 32]))).await.unwrap();
            let (time, inserted) = timed(insert(&store, &rows)).await;
            bare.push(time);
            count = inserted;
            store.close().await;
            engine.drop(&address).await;
        }
        let ratio = median(&planned).as_secs_f64() / median(&bare).as_secs_f64();
        println!(
            "{}: a morning for {ATHLETES} athletes: planned {}, bare insert of its {count} rows {}; {ratio:.2} times as long",
            engine.name(),
            spread(&planned),
            spread(&bare),
        );
    }
}

async fn rows(store: &Store) -> Rows {
    let program = program(0);
    let mut tx = store.read().await.unwrap();
    let outbox = tx.outbox_all(&program).await.unwrap();
    assert_eq!(outbox.len(), ATHLETES * 2, "a welcome and a check each");
    let phones: Vec<Phone> = outbox.iter().map(|message| message.phone.clone()).collect();
    Rows {
        checks: tx.checks_on_day(&program, at(CHECK).date(chrono_tz::America::Chicago)).await.unwrap(),
        numbers: tx.numbers_of(&program, &phones).await.unwrap(),
        happenings: tx.happened(&program, &["check/varsity/2026-09-15"]).await.unwrap(),
        record: tx.record(&program).await.unwrap(),
        outbox,
    }
}

async fn insert(store: &Store, rows: &Rows) -> u64 {
    let mut tx: Tx = store.write().await.unwrap();
    let mut count = tx.insert(&rows.outbox).await.unwrap();
    count += tx.insert(&rows.checks).await.unwrap();
    count += tx.insert(&rows.numbers).await.unwrap();
    count += tx.insert(&rows.happenings).await.unwrap();
    count += tx.insert(&rows.record).await.unwrap();
    tx.commit().await.unwrap();
    count
}
