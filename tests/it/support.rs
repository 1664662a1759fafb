//! A whole program on a manual clock: a fresh database, a small roster, a carrier in memory.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use browline::channel::simulated::{SimulatedCarrier, SimulatedSettings, Way};
use browline::clock::Clock;
use browline::config::Config;
use browline::desk::{Desk, Identity, Received};
use browline::intake::SourceFile;
use browline::store::Store;
use browline::store::rows::{OutMessage, OutState};
use browline::store::seal::Seal;
use browline::trade::phone::Phone;
use browline::trade::roster::{AthleteId, ProgramId};
use browline::trade::time::Moment;
use browline::wording::Wording;
use chrono::TimeDelta;

/// The two engines; a failing test names which.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Engine {
    Sqlite,
    Postgres,
}

/// Address of a PostgreSQL server on which tests may create databases.
pub const TEST_POSTGRES: &str = "BROWLINE_TEST_POSTGRES";

/// Runs one body on both engines.
#[macro_export]
macro_rules! on_both_engines {
    ($($(#[$doc:meta])* async fn $name:ident($world:ident) $body:block)+) => {$(
        mod $name {
            use super::*;
            $(#[$doc])*
            async fn body($world: $crate::support::World) $body

            #[tokio::test]
            async fn sqlite() {
                body($crate::support::World::new($crate::support::Engine::Sqlite).await).await;
            }

            #[tokio::test]
            async fn postgres() {
                body($crate::support::World::new($crate::support::Engine::Postgres).await).await;
            }
        }
    )+};
}

pub const CONFIG: &str = r#"
[carrier]
segments_per_second = 0.0

[programs.larkspur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "+1 312 555 0100"
contact = "Ana"
contact_phone = "+1 312 555 0101"

[programs.larkspur.times]
check = "06:45"
quiet_until = "06:30"

[programs.larkspur.teams.varsity]
name = "Varsity"

[programs.larkspur.teams.jv]
name = "JV"
"#;

pub const ATHLETES: &str = "\
id,first,last,team,jersey,phone,language,born,consent_by,consent_standing,consent_date,consent_how
a1,Jonah,Reyes,varsity,12,312-555-0110,en,2009-03-02,Mara Reyes,guardian,2026-08-01,signed form
a2,Eli,Reyes,varsity,34,312-555-0110,en,2010-06-11,Mara Reyes,guardian,2026-08-01,signed form
a3,Ivan,Soto,varsity,55,312-555-0111,es,2009-01-20,Rosa Soto,guardian,2026-08-02,signed form
a4,Marcus,Bell,varsity,7,312-555-0112,en,2008-02-02,Dee Bell,guardian,2026-08-02,signed form
a5,Theo,Lind,varsity,21,,en,2009-09-09,,,,
a6,Sam,Okafor,varsity,40,312-555-0113,en,2009-09-09,,,,
a7,Noah,Pike,varsity,63,312-555-0114,en,2008-01-01,Lee Pike,guardian,2026-08-02,signed form
a8,Luis,Vega,jv,12,312-555-0115,en,2011-01-01,Eva Vega,guardian,2026-08-02,signed form
";

pub const GUARDIANS: &str = "\
id,first,last,phone,email,language,athletes,relation,consent_date,consent_how
g1,Mara,Reyes,312-555-0110,,en,a1;a2,mother,2026-08-01,signed form
g2,Rosa,Soto,312-555-0120,,es,a3,mother,2026-08-02,signed form
";

pub const STAFF: &str = "\
id,first,last,phone,email,language,roles,teams,duty,call_order,consent_date,consent_how
ana,Ana,Ruiz,312-555-0101,,en,trainer,,,1,2026-08-01,signed form
tess,Tess,Moon,312-555-0102,,en,trainer,,,2,2026-08-01,signed form
cole,Cole,Hart,312-555-0103,,en,equipment,,,1,2026-08-01,signed form
dane,Dane,Ochs,312-555-0104,,en,coach,varsity,,1,2026-08-01,signed form
";

pub const HELMETS: &str = "\
tag,model,size,serial,athlete,made,recertified,notes
LV-012,Tern,L,,a1,2023,2026-02-01,
LV-034,Tern,M,,a2,2023,2026-02-01,
LV-055,Halyard,L,,a3,2022,2026-02-01,
";

pub const EVENTS: &str = "\
id,team,kind,date,start,end,place,helmets,status
p15,varsity,practice,2026-09-15,15:30,17:30,Field 2,yes,on
j15,jv,practice,2026-09-15,16:00,17:30,Field 3,yes,on
p16,varsity,practice,2026-09-16,15:30,17:30,Field 2,yes,on
";

pub const ANA: &str = "+13125550101";
pub const TESS: &str = "+13125550102";
pub const COLE: &str = "+13125550103";
pub const DANE: &str = "+13125550104";
pub const BROTHERS: &str = "+13125550110";
pub const IVAN: &str = "+13125550111";
pub const MARCUS: &str = "+13125550112";
pub const NOAH: &str = "+13125550114";
pub const LUIS: &str = "+13125550115";
pub const ROSA: &str = "+13125550120";

/// A program, its carrier and its clock.
pub struct World {
    pub desk: Desk,
    pub carrier: SimulatedCarrier,
    pub clock: Clock,
    pub program: ProgramId,
    pub engine: Engine,
    pub address: String,
    _database: Database,
}

static DATABASES: AtomicU64 = AtomicU64::new(0);

/// A fresh database on an engine; it goes when this does, so that a run of all tests does not fill the disk.
pub struct Database {
    pub address: String,
    _folder: tempfile::TempDir,
}

impl Database {
    pub async fn fresh(engine: Engine) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let address = match engine {
            Engine::Sqlite => format!("sqlite://{}", folder.path().join("browline.db").display()),
            Engine::Postgres => {
                let name = format!("browline_{}_{}", std::process::id(), DATABASES.fetch_add(1, Ordering::Relaxed));
                on_server(format!("CREATE DATABASE {name} TEMPLATE template0 LC_COLLATE 'C' LC_CTYPE 'C'"))
                    .await
                    .unwrap();
                format!("{}/{name}", server())
            }
        };
        Self { address, _folder: folder }
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        let Some(name) = self.address.strip_prefix("postgres://").and_then(|rest| rest.rsplit('/').next()) else {
            return;
        };
        let drop = format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)");
        // The runtime of the test may be ending: one of its own, on a thread of its own.
        let done = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            runtime.block_on(on_server(drop))
        });
        if !std::thread::panicking() {
            done.join().unwrap().unwrap();
        }
    }
}

fn server() -> String {
    std::env::var(TEST_POSTGRES).unwrap_or_else(|_| panic!("{TEST_POSTGRES} is not set: run the tests with ./test"))
}

async fn on_server(statement: String) -> Result<(), sqlx::Error> {
    use sqlx::{AssertSqlSafe, Connection as _, Executor as _};
    let mut connection = sqlx::PgConnection::connect(&format!("{}/postgres", server())).await?;
    connection.execute(AssertSqlSafe(statement)).await?;
    connection.close().await
}

pub fn at(text: &str) -> Moment {
    Moment::parse(&format!("2026-09-{text}-05:00")).unwrap()
}

pub fn phone(text: &str) -> Phone {
    Phone::parse(text).unwrap()
}

pub fn files(named: &[(&str, &str)]) -> Vec<SourceFile> {
    named.iter().map(|(name, text)| SourceFile { name: (*name).to_owned(), bytes: text.as_bytes().to_vec() }).collect()
}

pub fn roster() -> Vec<SourceFile> {
    files(&[
        ("athletes.csv", ATHLETES),
        ("guardians.csv", GUARDIANS),
        ("staff.csv", STAFF),
        ("helmets.csv", HELMETS),
        ("events.csv", EVENTS),
    ])
}

impl World {
    /// The small roster loaded, on the practice day at 06:00.
    pub async fn new(engine: Engine) -> Self {
        let world = Self::empty(engine, CONFIG).await;
        world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        world
    }

    /// An empty database.
    pub async fn empty(engine: Engine, config: &str) -> Self {
        Self::empty_with(engine, config, |_| None).await
    }

    /// An empty database, with an environment.
    pub async fn empty_with(engine: Engine, config: &str, env: impl Fn(&str) -> Option<String>) -> Self {
        let database = Database::fresh(engine).await;
        let address = database.address.clone();
        let clock = Clock::manual(at("15T06:00:00"));
        let carrier = SimulatedCarrier::new(clock.clone(), SimulatedSettings::default());
        let desk = open(&address, config, env, &carrier, &clock, "one").await;
        let program = ProgramId::from("larkspur");
        Self { desk, carrier, clock, program, engine, address, _database: database }
    }

    /// A second process on the same store, with its own name.
    pub async fn another(&self, name: &str) -> Desk {
        open(&self.address, CONFIG, |_| None, &self.carrier, &self.clock, name).await
    }

    /// Goes to a moment and does all that is due there and sends it.
    pub async fn to(&self, text: &str) {
        self.clock.set(at(text));
        self.settle().await;
    }

    /// Goes through every moment at which something is due, up to one.
    pub async fn through(&self, text: &str) {
        let end = at(text);
        loop {
            self.settle().await;
            let next = self.desk.next_due(self.clock.now()).await.unwrap();
            match next {
                Some(next) if next <= end => {
                    let stuck = next <= self.clock.now();
                    self.clock.set(if stuck { self.clock.now().plus(TimeDelta::seconds(1)) } else { next });
                }
                _ => break,
            }
        }
        self.clock.set(end);
        self.settle().await;
    }

    /// Does what is due now and sends it, with the carrier's reports.
    pub async fn settle(&self) {
        self.desk.tick(self.clock.now()).await.unwrap();
        self.desk.send_due(self.clock.now()).await.unwrap();
    }

    /// A phone writes, and what follows is sent.
    pub async fn text(&self, from: &str, body: &str) -> Received {
        let received = self.text_only(from, body).await;
        self.desk.send_due(self.clock.now()).await.unwrap();
        received
    }

    /// A phone writes; nothing is sent yet.
    pub async fn text_only(&self, from: &str, body: &str) -> Received {
        let to = phone("+13125550100");
        let text = self.carrier.write(&phone(from), &to, body, Vec::new());
        self.desk.receive(text, self.clock.now()).await.unwrap()
    }

    /// Texts that a phone got, oldest first.
    pub fn got(&self, by: &str) -> Vec<String> {
        let by = phone(by);
        self.carrier.texts_of(&by).into_iter().filter(|text| text.way == Way::ToPhone).map(|text| text.body).collect()
    }

    /// Purposes of the messages to a phone, oldest first.
    pub async fn purposes(&self, to: &str) -> Vec<String> {
        let mut messages = self.outbox(to).await;
        messages.sort_by_key(|message| (message.created_at, message.priority));
        messages
            .into_iter()
            .map(|message| {
                let kind = message.id.split('/').next().unwrap_or_default().to_owned();
                match message.state {
                    OutState::Sent | OutState::Delivered => kind,
                    other => format!("{kind}:{other:?}"),
                }
            })
            .collect()
    }

    pub async fn outbox(&self, to: &str) -> Vec<OutMessage> {
        let mut tx = self.desk.store().read().await.unwrap();
        tx.outbox_of(&self.program, &phone(to)).await.unwrap()
    }

    pub async fn today(&self) -> browline::desk::today::Today {
        self.desk.today(&self.program, None, self.clock.now()).await.unwrap()
    }

    pub async fn check(&self, athlete: &str) -> browline::trade::morning::MorningCheck {
        let mut tx = self.desk.store().read().await.unwrap();
        let id = AthleteId::from(athlete);
        let mut checks = tx.checks_of(&self.program, [&id], at("01T00:00:00").date(chrono_tz::UTC)).await.unwrap();
        checks.pop().unwrap_or_else(|| panic!("no check for {athlete} on {:?}", self.engine))
    }

    pub async fn holds(&self, athlete: &str) -> Vec<browline::trade::queue::HoldKind> {
        let mut tx = self.desk.store().read().await.unwrap();
        let id = AthleteId::from(athlete);
        tx.holds_of(&self.program, [&id]).await.unwrap().into_iter().map(|hold| hold.kind).collect()
    }

    pub async fn open_items(&self) -> Vec<browline::trade::queue::Item> {
        let mut tx = self.desk.store().read().await.unwrap();
        tx.items_open(&self.program).await.unwrap()
    }

    /// The record holds together.
    pub async fn record_holds(&self) {
        let holds = self.desk.verify_record(&self.program).await.unwrap();
        assert!(holds.as_ref().is_ok_and(|holds| holds.lines > 0), "{:?}: {holds:?}", self.engine);
    }
}

/// The key that seals what is medical.
pub const KEY: [u8; 32] = [42; 32];

pub async fn open(
    address: &str,
    config: &str,
    env: impl Fn(&str) -> Option<String>,
    carrier: &SimulatedCarrier,
    clock: &Clock,
    name: &str,
) -> Desk {
    let config = Config::parse("test.toml", config, env).unwrap();
    let store = Store::open_with(address, Some(Seal::of(&KEY))).await.unwrap();
    let wordings: BTreeMap<ProgramId, Wording> =
        config.programs.keys().map(|key| (key.clone(), Wording::embedded())).collect();
    let identity = Identity { worker: name.to_owned(), seed: 7 };
    Desk::open(store, config, wordings, Arc::new(carrier.clone()), clock.clone(), identity)
}
