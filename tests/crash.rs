//! The whole program, killed with SIGKILL at random points of a morning and started again, against a carrier on loopback
//! that fails now and then: every athlete got each text once, no reply was lost, no item was opened twice.
//!
//! Where the kills fall depends on the machine; which points are drawn, on `BROWLINE_CRASH_SEED` (printed).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

#[path = "crash/aftermath.rs"]
mod aftermath;
#[path = "crash/morning.rs"]
mod morning;
#[path = "crash/program.rs"]
mod program;
#[path = "crash/roster.rs"]
mod roster;
#[path = "crash/slow.rs"]
mod slow;

#[path = "support/fake_carrier.rs"]
mod fake_carrier;

use std::path::Path;

/// Address of a PostgreSQL server on which tests may create databases.
const TEST_POSTGRES: &str = "BROWLINE_TEST_POSTGRES";

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_morning_with_many_kills_on_sqlite() {
    let folder = tempfile::tempdir().unwrap();
    killed_many_times(folder.path(), &sqlite(folder.path())).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_morning_with_many_kills_on_postgres() {
    let folder = tempfile::tempdir().unwrap();
    killed_many_times(folder.path(), &postgres("kills").await).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_workers_and_a_slow_carrier_on_sqlite() {
    let folder = tempfile::tempdir().unwrap();
    slow::each_text_once(&sqlite(folder.path())).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_workers_and_a_slow_carrier_on_postgres() {
    slow::each_text_once(&postgres("slow").await).await;
}

fn sqlite(folder: &Path) -> String {
    format!("sqlite://{}", folder.join("browline.db").display())
}

async fn postgres(name: &str) -> String {
    use sqlx::{AssertSqlSafe, Connection as _, Executor as _};
    let server = std::env::var(TEST_POSTGRES)
        .unwrap_or_else(|_| panic!("{TEST_POSTGRES} is not set: run the tests with ./test"));
    let name = format!("browline_crash_{name}_{}", std::process::id());
    let mut connection = sqlx::PgConnection::connect(&format!("{server}/postgres")).await.unwrap();
    let create = format!("CREATE DATABASE {name} TEMPLATE template0 LC_COLLATE 'C' LC_CTYPE 'C'");
    connection.execute(AssertSqlSafe(create)).await.unwrap();
    format!("{server}/{name}")
}

/// One body for both engines.
async fn killed_many_times(folder: &Path, address: &str) {
    let seed = std::env::var("BROWLINE_CRASH_SEED")
        .map_or_else(|_| u64::from(std::process::id()), |seed| seed.parse().expect("a number in BROWLINE_CRASH_SEED"));
    println!("BROWLINE_CRASH_SEED={seed}");
    let morning = morning::Morning::prepare(folder, address, seed).await;
    morning.live_through().await;
    morning.check().await;
}
