//! The real binary with a place on a platform: it listens, sets its commands, refuses what is unsafe, and ends when told.

use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use super::fake_chat::gateway::{FakeGateway, command};
use super::*;

fn prepare(folder: &Path, base: &str) {
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let config = format!(
        r#"
[server]
listen = "127.0.0.1:{port}"
public_url = "http://127.0.0.1:{port}"
[carrier]
base_url = "http://127.0.0.1:9"
[chat]
base_url = "{base}"
[programs.larkspur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "+1 312 555 0100"
contact = "Ana"
contact_phone = "+1 312 555 0101"
[programs.larkspur.chat]
guild = "{GUILD}"
equipment = "{EQUIPMENT}"
medical = "120000000000000002"
contact = "120000000000000003"
[programs.larkspur.teams.varsity]
name = "Varsity"
"#
    );
    fs::write(folder.join("browline.toml"), config).unwrap();
}

fn browline(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_browline"));
    command.env("BROWLINE_KEY", browline::store::seal::Seal::as_text(&[42; 32]));
    command
        .args(args)
        .current_dir(folder)
        .env(browline::config::CARRIER_ACCOUNT, "AC0")
        .env(browline::config::CARRIER_TOKEN, "carrier-token")
        .env(browline::config::CHAT_TOKEN, TOKEN)
        .env("RUST_LOG", "debug")
        .stdin(Stdio::null());
    command
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_server_listens_answers_and_ends_when_told() {
    let folder = tempfile::tempdir().unwrap();
    let (fake, gateway) = (FakeChat::start().await, FakeGateway::start(false).await);
    fake.told_of_gateway(&gateway.url);
    prepare(folder.path(), &fake.base);
    let log = File::create(folder.path().join("log")).unwrap();
    let mut running = browline(folder.path(), &["serve"]).stdout(Stdio::null()).stderr(log).spawn().unwrap();
    fake.until("its commands are set", |state| state.calls.iter().any(|call| call.method == "PUT")).await;
    gateway.dispatch("INTERACTION_CREATE", command("170000000000000001", "140000000000000001", "today", &[]));
    fake.until("it answers", |state| {
        let said = |text: &str| text.starts_with("I do not know this account");
        state.calls.iter().any(|call| call.method == "PATCH" && call.body["content"].as_str().is_some_and(said))
    })
    .await;
    // What the doctor finds is what the server noted, and what the platform says.
    let doctor = browline(folder.path(), &["doctor", "--online"]).output().unwrap();
    let doctor = String::from_utf8(doctor.stdout).unwrap();
    assert!(doctor.contains("the chat platform answers and takes the token"), "{doctor}");
    assert!(!doctor.contains("are not heard"), "{doctor}");
    let began = Instant::now();
    assert!(Command::new("kill").args(["-TERM", &running.id().to_string()]).status().unwrap().success());
    let status = tokio::task::spawn_blocking(move || running.wait().unwrap()).await.unwrap();
    let log = fs::read_to_string(folder.path().join("log")).unwrap();
    assert!(status.success(), "{log}");
    assert!(began.elapsed() < Duration::from_secs(15), "it took {:?}", began.elapsed());
    for secret in [TOKEN, "carrier-token", "token-170000000000000001"] {
        assert!(!log.contains(secret) && !doctor.contains(secret), "`{secret}` is in the log");
    }
}

#[tokio::test]
async fn the_doctor_names_gone_channels_and_a_bad_token() {
    let folder = tempfile::tempdir().unwrap();
    let fake = FakeChat::start().await;
    prepare(folder.path(), &fake.base);
    let doctor = || {
        let mut command = browline(folder.path(), &["doctor", "--online"]);
        async move {
            let output = tokio::task::spawn_blocking(move || command.output().unwrap()).await.unwrap();
            String::from_utf8(output.stdout).unwrap()
        }
    };
    fake.state().channels.remove(EQUIPMENT);
    let found = doctor().await;
    assert!(found.contains("BROKEN Larkspur Valley Kestrels: equipment channel") && found.contains("10003"), "{found}");
    fake.always("GET", "users/@me", 401, 0);
    let found = doctor().await;
    assert!(found.contains("BROKEN Larkspur Valley Kestrels: the chat platform"), "{found}");
    let mut without = browline(folder.path(), &["doctor"]);
    let output = without.env_remove(browline::config::CHAT_TOKEN).output().unwrap();
    let found = String::from_utf8(output.stdout).unwrap();
    assert!(found.contains("BROWLINE_CHAT_TOKEN_LARKSPUR"), "{found}");
}

#[test]
fn a_practice_clock_posts_to_no_real_people() {
    let folder = tempfile::tempdir().unwrap();
    prepare(folder.path(), "https://chat.example");
    let refused = browline(folder.path(), &["serve", "--practice-from", "2026-09-15T06:00:00-05:00"]).output().unwrap();
    assert!(!refused.status.success());
    assert!(String::from_utf8(refused.stderr).unwrap().contains("would post to real people"));
}
