//! Peak memory of `browline serve` with 100,000 athletes through a morning: the check goes out to all of them, some reply.
//!
//! The real binary on SQLite, against a carrier on loopback in this process. What is printed is the largest resident set
//! that Linux saw (`VmHWM`). First 100 programs of 1,000, then one of 100,000, whose athletes share numbers: there are not
//! enough for all of them.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

mod common;
#[path = "../tests/support/fake_carrier.rs"]
mod fake_carrier;

use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Instant;

use browline::clock::Clock;
use chrono::TimeDelta;
use common::{at, config, desk, numbers, program, program_number, roster};
use fake_carrier::{FakeCarrier, Options, caller, inbound_form, signed};
use futures::StreamExt as _;

const ATHLETES: usize = 100_000;
const REPLIES: usize = 10_000;
/// Practice seconds a real second.
const SPEED: f64 = 4.0;

#[tokio::main]
async fn main() {
    for programs in [100, 1] {
        morning(programs).await;
    }
}

async fn morning(programs: usize) {
    let folder = tempfile::tempdir().unwrap();
    let each = ATHLETES / programs;
    let clock = Clock::manual(at("2026-09-15T06:44:50-05:00"));
    let carrier = FakeCarrier::start_with(Options { clock: clock.clone(), ..Options::default() }).await;
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    import(folder.path(), &carrier, programs, each, port).await;

    let distinct = numbers(each).into_iter().collect::<std::collections::HashSet<_>>().len();
    let expected = ATHLETES + distinct * programs;
    clock.set_speed(SPEED);
    let began = Instant::now();
    let mut serve = serve(folder.path(), &carrier, &clock);
    let at_rest = async {
        Clock::system().sleep(TimeDelta::seconds(2)).await;
        peak(&serve)
    };
    let at_rest = at_rest.await;
    while carrier.sent_count() < expected {
        assert!(serve.try_wait().unwrap().is_none(), "the program ended");
        Clock::system().sleep(TimeDelta::milliseconds(200)).await;
    }
    let (took, texted) = (began.elapsed(), peak(&serve));
    replies(&carrier, programs, each, port).await;
    println!(
        "{programs} programs of {each}: peak {:.0} MB before the check, {:.0} MB when all {expected} texts were out after \
         {:.0} s, {:.0} MB after {REPLIES} replies",
        at_rest,
        texted,
        took.as_secs_f64(),
        peak(&serve)
    );
    assert!(Command::new("kill").args(["-TERM", &serve.id().to_string()]).status().unwrap().success());
    assert!(serve.wait().unwrap().success());
}

/// Megabytes of 1,000,000 bytes.
fn peak(of: &Child) -> f64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", of.id())).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    line.trim().trim_end_matches(" kB").parse::<f64>().unwrap() * 1024.0 / 1e6
}

async fn import(folder: &Path, carrier: &FakeCarrier, programs: usize, each: usize, port: u16) {
    let head = format!("[server]\nlisten = \"127.0.0.1:{port}\"\npublic_url = \"http://127.0.0.1:{port}\"\n");
    let text = config(programs, &head).replace("http://127.0.0.1:9", carrier.base_url().as_str());
    std::fs::write(folder.join("browline.toml"), &text).unwrap();
    let address = format!("sqlite://{}", folder.join("browline.db").display());
    let moment = at("2026-09-01T08:00:00-05:00");
    let desk = desk(&address, &text, &Clock::manual(moment), None).await;
    let files = roster(each);
    for index in 0..programs {
        desk.import(&program(index), &files, moment, false).await.unwrap();
    }
    desk.store().close().await;
}

fn serve(folder: &Path, carrier: &FakeCarrier, clock: &Clock) -> Child {
    Command::new(env!("CARGO_BIN_EXE_browline"))
        .args(["serve", "--practice-from", &clock.now().to_string(), "--practice-speed", &SPEED.to_string()])
        .current_dir(folder)
        .env(browline::config::CARRIER_ACCOUNT, carrier.account())
        .env(browline::config::CARRIER_TOKEN, carrier.token())
        .env_remove(browline::config::DATABASE_URL)
        .env("RUST_LOG", "warn")
        .stdin(Stdio::null())
        .spawn()
        .unwrap()
}

async fn replies(carrier: &FakeCarrier, programs: usize, each: usize, port: u16) {
    let client = caller();
    let url = format!("http://127.0.0.1:{port}/sms/inbound");
    let numbers = numbers(each);
    let posts = (0..REPLIES).map(|index| {
        let to = program_number(index % programs);
        let from = &numbers[index / programs % numbers.len()];
        let form = inbound_form(from, &to, "OK", &format!("SM{index:032}"));
        let request = signed(&client, &url, &url, carrier.token(), &form);
        async move { assert_eq!(request.send().await.unwrap().status(), 200) }
    });
    futures::stream::iter(posts).buffer_unordered(64).for_each(|()| async {}).await;
}
