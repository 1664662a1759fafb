//! The real binary: its folder, its starts, its ends.

use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};

use browline::trade::time::Moment;

use crate::fake_carrier::FakeCarrier;
use crate::roster::PROGRAM;

/// Practice seconds a real second: a lease of 90 seconds takes a second and a half.
pub const SPEED: f64 = 60.0;

/// Where the program lives, and what it is told.
pub struct Program {
    folder: PathBuf,
    database: String,
    account: String,
    token: String,
    /// The address that the carrier calls.
    pub inbound: String,
}

impl Program {
    /// Writes the configuration and loads the roster with `browline import`.
    pub fn prepare(folder: &Path, database: &str, carrier: &FakeCarrier, files: &[(&str, String)]) -> Self {
        let port = free_port();
        let config = format!(
            r#"
[server]
listen = "127.0.0.1:{port}"
public_url = "http://127.0.0.1:{port}"

[carrier]
base_url = "{base_url}"
segments_per_second = 0.0

[programs.larkspur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "{PROGRAM}"
contact = "Ana"
contact_phone = "+1 312 555 0101"

[programs.larkspur.times]
check = "06:45"
quiet_until = "06:30"
nudge_after_minutes = 4
fix_list_before_minutes = 518
silent_before_minutes = 517
availability_before_minutes = 516

[programs.larkspur.teams.varsity]
name = "Varsity"
"#,
            base_url = carrier.base_url(),
        );
        fs::write(folder.join("browline.toml"), config).unwrap();
        fs::create_dir(folder.join("roster")).unwrap();
        for (name, text) in files {
            fs::write(folder.join("roster").join(name), text).unwrap();
        }
        let program = Self {
            folder: folder.to_owned(),
            database: database.to_owned(),
            account: carrier.account().to_owned(),
            token: carrier.token().to_owned(),
            inbound: format!("http://127.0.0.1:{port}/sms/inbound"),
        };
        let imported = program.command(&["import", "roster", "--at", "2026-09-01T08:00:00-05:00"]).status().unwrap();
        assert!(imported.success(), "{}", program.log());
        program
    }

    /// Starts `serve` on a practice clock.
    pub fn start(&self, at: Moment) -> Running {
        let (at, speed) = (at.to_string(), SPEED.to_string());
        let mut command = self.command(&["serve", "--practice-from", &at, "--practice-speed", &speed]);
        Running(command.spawn().unwrap())
    }

    fn command(&self, args: &[&str]) -> Command {
        let log = File::options().create(true).append(true).open(self.folder.join("log")).unwrap();
        let mut command = Command::new(env!("CARGO_BIN_EXE_browline"));
        command.env("BROWLINE_KEY", browline::store::seal::Seal::as_text(&[42; 32]));
        command
            .args(args)
            .current_dir(&self.folder)
            .env(browline::config::DATABASE_URL, &self.database)
            .env(browline::config::CARRIER_ACCOUNT, &self.account)
            .env(browline::config::CARRIER_TOKEN, &self.token)
            .env("RUST_LOG", "warn")
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(log);
        command
    }

    /// What every process so far had to say, for a failure's message.
    pub fn log(&self) -> String {
        let log = fs::read_to_string(self.folder.join("log")).unwrap_or_default();
        let lines: Vec<&str> = log.lines().filter(|line| !line.starts_with("browline listens")).collect();
        lines[lines.len().saturating_sub(60)..].join("\n")
    }
}

/// A port that nobody has at this moment.
fn free_port() -> u16 {
    std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port()
}

/// A running process; it does not outlive its owner.
pub struct Running(Child);

impl Running {
    /// SIGKILL.
    pub fn kill(mut self) {
        self.0.kill().unwrap();
        let status = self.0.wait().unwrap();
        assert!(status.code().is_none(), "the program had ended by itself: {status}");
    }

    /// SIGTERM: what is in hand is finished.
    pub fn stop(mut self) -> ExitStatus {
        let pid = self.0.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        self.0.wait().unwrap()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
