//! What the benchmarks share: rosters of any size, databases that are made once and copied, medians.
#![allow(dead_code, reason = "each benchmark uses its part")]
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use browline::channel::Channel;
use browline::channel::simulated::{SimulatedCarrier, SimulatedSettings};
use browline::clock::Clock;
use browline::config::Config;
use browline::desk::{Desk, Identity};
use browline::intake::SourceFile;
use browline::store::Store;
use browline::trade::phone::Phone;
use browline::trade::roster::ProgramId;
use browline::trade::time::Moment;
use browline::wording::Wording;

/// Address of a PostgreSQL server on which databases may be made; without it SQLite alone is measured.
pub const TEST_POSTGRES: &str = "BROWLINE_TEST_POSTGRES";
/// When the check is due.
pub const CHECK: &str = "2026-09-15T06:45:00-05:00";

/// A moment of the practice day.
pub fn at(text: &str) -> Moment {
    Moment::parse(text).unwrap()
}

/// Key of the n-th program.
pub fn program(index: usize) -> ProgramId {
    ProgramId(format!("p{index}"))
}

/// Sending number of the n-th program.
pub fn program_number(index: usize) -> String {
    format!("+131255501{index:02}")
}

/// A configuration with so many programs, unpaced.
pub fn config(programs: usize, head: &str) -> String {
    let mut text = format!("{head}\n[carrier]\nbase_url = \"http://127.0.0.1:9\"\nsegments_per_second = 0.0\n");
    for index in 0..programs {
        let number = program_number(index);
        let _ = write!(
            text,
            r#"
[programs.p{index}]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "{number}"
contact = "Ana"
contact_phone = "+1 312 555 0101"
times = {{ check = "06:45", quiet_until = "06:30" }}
teams = {{ varsity = {{ name = "Varsity" }} }}
"#
        );
    }
    text
}

/// So many numbers, all different as long as there are area codes.
pub fn numbers(count: usize) -> Vec<String> {
    let areas: Vec<u32> = (201..1000).filter(|area| Phone::parse(&format!("+1{area}5550100")).is_ok()).collect();
    let all = areas.iter().flat_map(|area| (0..100).map(move |line| format!("+1{area}55501{line:02}")));
    let own: Vec<String> = all.filter(|number| !number.starts_with("+1312")).take(count).collect();
    own.iter().cycle().take(count).cloned().collect()
}

/// The files of a roster: athletes who may be texted, three staff, a practice.
pub fn roster(athletes: usize) -> Vec<SourceFile> {
    let mut rows = String::from(
        "id,first,last,team,jersey,phone,language,born,consent_by,consent_standing,consent_date,consent_how\n",
    );
    for (index, number) in numbers(athletes).iter().enumerate() {
        let _ = writeln!(
            rows,
            "a{index},{},Lind,varsity,,{number},en,2009-03-02,Mara Lind,guardian,2026-08-01,signed form",
            first(index)
        );
    }
    let staff = "\
id,first,last,phone,email,language,roles,teams,duty,call_order,consent_date,consent_how
ana,Ana,Ruiz,312-555-0101,,en,trainer,,,1,2026-08-01,signed form
cole,Cole,Hart,312-555-0103,,en,equipment,,,1,2026-08-01,signed form
dane,Dane,Ochs,312-555-0104,,en,coach,varsity,,1,2026-08-01,signed form
";
    let events = "\
id,team,kind,date,start,end,place,helmets,status
p15,varsity,practice,2026-09-15,15:30,17:30,Field 2,yes,on
";
    [("athletes.csv", rows.as_str()), ("staff.csv", staff), ("events.csv", events)]
        .map(|(name, text)| SourceFile { name: name.to_owned(), bytes: text.as_bytes().to_vec() })
        .into()
}

/// A first name of its own for each athlete.
fn first(index: usize) -> String {
    let letter = |place: usize| char::from(b'a' + u8::try_from(index / place % 26).unwrap());
    format!("Kit{}{}{}{}", letter(17_576), letter(676), letter(26), letter(1))
}

/// A desk over a database, with a carrier in memory unless it is given one.
pub async fn desk(address: &str, config: &str, clock: &Clock, channel: Option<Arc<dyn Channel>>) -> Desk {
    let config = Config::parse("bench.toml", config, |_| None).unwrap();
    let store = Store::open_with(address, Some(browline::store::seal::Seal::of(&[7; 32]))).await.unwrap();
    let wordings: BTreeMap<ProgramId, Wording> =
        config.programs.keys().map(|key| (key.clone(), Wording::embedded())).collect();
    let channel =
        channel.unwrap_or_else(|| Arc::new(SimulatedCarrier::new(clock.clone(), SimulatedSettings::default())));
    let identity = Identity { worker: "bench".to_owned(), seed: 7 };
    Desk::open(store, config, wordings, channel, clock.clone(), identity)
}

/// Where databases are made.
pub enum Engine {
    Sqlite(tempfile::TempDir),
    Postgres(String),
}

static MADE: AtomicUsize = AtomicUsize::new(0);

impl Engine {
    /// SQLite, and PostgreSQL when there is a server for it.
    pub fn all() -> Vec<Self> {
        let sqlite = Self::Sqlite(tempfile::tempdir().unwrap());
        match std::env::var(TEST_POSTGRES) {
            Ok(server) => vec![sqlite, Self::Postgres(server)],
            Err(_) => {
                println!("{TEST_POSTGRES} is not set: SQLite alone");
                vec![sqlite]
            }
        }
    }

    pub fn name(&self) -> &'static str {
        match self {
            Self::Sqlite(_) => "SQLite",
            Self::Postgres(_) => "PostgreSQL",
        }
    }

    /// An empty database.
    pub async fn fresh(&self) -> String {
        self.make("template0").await
    }

    /// A copy of a database that nobody has open.
    pub async fn copy(&self, of: &str) -> String {
        match self {
            Self::Sqlite(_) => {
                let copy = self.make("").await;
                let path = |address: &str| address.trim_start_matches("sqlite://").to_owned();
                std::fs::copy(path(of), path(&copy)).unwrap();
                copy
            }
            Self::Postgres(_) => self.make(of.rsplit('/').next().unwrap()).await,
        }
    }

    async fn make(&self, template: &str) -> String {
        use sqlx::{AssertSqlSafe, Connection as _, Executor as _};
        let name = format!("browline_bench_{}_{}", std::process::id(), MADE.fetch_add(1, Ordering::Relaxed));
        match self {
            Self::Sqlite(folder) => format!("sqlite://{}", folder.path().join(format!("{name}.db")).display()),
            Self::Postgres(server) => {
                let mut connection = sqlx::PgConnection::connect(&format!("{server}/postgres")).await.unwrap();
                let collate = if template == "template0" { " LC_COLLATE 'C' LC_CTYPE 'C'" } else { "" };
                let create = format!("CREATE DATABASE {name} TEMPLATE {template}{collate}");
                connection.execute(AssertSqlSafe(create)).await.unwrap();
                format!("{server}/{name}")
            }
        }
    }

    /// Ends with a database.
    pub async fn drop(&self, address: &str) {
        use sqlx::{AssertSqlSafe, Connection as _, Executor as _};
        match self {
            Self::Sqlite(_) => {
                for tail in ["", "-wal", "-shm"] {
                    let _ =
                        std::fs::remove_file(Path::new(&format!("{}{tail}", address.trim_start_matches("sqlite://"))));
                }
            }
            Self::Postgres(server) => {
                let name = address.rsplit('/').next().unwrap();
                let mut connection = sqlx::PgConnection::connect(&format!("{server}/postgres")).await.unwrap();
                connection.execute(AssertSqlSafe(format!("DROP DATABASE {name} WITH (FORCE)"))).await.unwrap();
            }
        }
    }

    /// A database with one program of so many athletes, whose check has been planned when `planned`, and has gone out when
    /// `sent`. Nobody has it open.
    pub async fn prepared(&self, athletes: usize, planned: bool, sent: bool) -> String {
        let address = self.fresh().await;
        let clock = Clock::manual(at(CHECK));
        let desk = desk(&address, &config(1, ""), &clock, None).await;
        desk.import(&program(0), &roster(athletes), at("2026-09-01T08:00:00-05:00"), false).await.unwrap();
        if planned || sent {
            desk.tick(clock.now()).await.unwrap();
        }
        if sent {
            let report = desk.send_due(clock.now()).await.unwrap();
            assert_eq!(report.sent, athletes * 2, "welcome and check to each");
        }
        desk.store().close().await;
        self.analyze(&address).await;
        address
    }

    /// Statistics, as a database that has been up for a minute has them.
    async fn analyze(&self, address: &str) {
        use sqlx::{Connection as _, Executor as _};
        if let Self::Postgres(_) = self {
            let mut connection = sqlx::PgConnection::connect(address).await.unwrap();
            connection.execute("ANALYZE").await.unwrap();
            connection.close().await.unwrap();
        }
    }
}

/// The middle of several times.
pub fn median(times: &[Duration]) -> Duration {
    let mut times = times.to_vec();
    times.sort();
    times[times.len() / 2]
}

/// Runs and measures.
pub async fn timed<T>(work: impl Future<Output = T>) -> (Duration, T) {
    let start = Instant::now();
    let outcome = work.await;
    (start.elapsed(), outcome)
}

/// How many rounds; `BROWLINE_BENCH_ROUNDS` changes it.
pub fn rounds() -> usize {
    std::env::var("BROWLINE_BENCH_ROUNDS").map_or(5, |rounds| rounds.parse().expect("a number"))
}

/// Seconds of a few digits, smallest to largest.
pub fn spread(times: &[Duration]) -> String {
    let (low, high) = (times.iter().min().unwrap(), times.iter().max().unwrap());
    format!("{:.3} s ({:.3} to {:.3})", median(times).as_secs_f64(), low.as_secs_f64(), high.as_secs_f64())
}
