//! The configuration: one commented file, secrets from the environment, everything checked before anything starts.
//!
//! Unknown keys are refused. The struct that the rest of the program sees, [`Config`], holds parsed values alone.

mod chat;
mod clearance;
mod drills;
mod keeping;
mod kits;
mod notices;
mod reconditioning;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use chrono::NaiveTime;
use chrono_tz::Tz;
use secrecy::SecretString;
use serde::Deserialize;
use url::Url;

pub use chat::{CHAT_TOKEN, Chat, Show, token_variable};
pub use clearance::Clearing;
pub use drills::Drills;
pub use keeping::Keeping;
pub use kits::Kits;
pub use notices::{MAIL_PASSWORD, Mail, MailTls, Notices};
pub use reconditioning::Reconditioning;

use crate::trade::phone::Phone;
use crate::trade::plan::FixMinutes;
use crate::trade::roster::{GuardianId, ProgramId, TeamId};
use crate::trade::times::{Minutes, QuietHours, TeamTimes, When};

/// Environment variable with the carrier's account identifier.
pub const CARRIER_ACCOUNT: &str = "BROWLINE_CARRIER_ACCOUNT";
/// Environment variable with the carrier's auth token: signs requests in both directions.
pub const CARRIER_TOKEN: &str = "BROWLINE_CARRIER_TOKEN";
/// Environment variable with the database's address; goes before the file's `database.url`, and may hold a password.
pub const DATABASE_URL: &str = "BROWLINE_DATABASE_URL";
/// Environment variable with the key that seals what is medical: what `browline key` prints; older keys after commas.
pub const KEY: &str = "BROWLINE_KEY";
/// The file that `browline init` writes, and its reference: every key with its default and what it does.
pub const TEMPLATE: &str = include_str!("../templates/import/browline.toml");

/// Everything the program is told.
#[derive(Debug, Clone)]
pub struct Config {
    /// Database address.
    pub database: String,
    /// Whether what is medical is kept sealed.
    pub seal: bool,
    /// The key for it, from the environment.
    pub key: Option<SecretString>,
    /// Where the server listens.
    pub listen: String,
    /// The address under which the carrier reaches the server, without a path.
    pub public_url: Option<Url>,
    /// The carrier.
    pub carrier: Carrier,
    /// The chat platform's address.
    pub chat_url: Url,
    /// The mail server, when there is one.
    pub mail: Option<Mail>,
    /// The programs.
    pub programs: BTreeMap<ProgramId, Program>,
}

/// The SMS carrier.
#[derive(Debug, Clone)]
pub struct Carrier {
    /// Address of its REST interface.
    pub base_url: Url,
    /// Account identifier, when the environment has one.
    pub account: Option<String>,
    /// Auth token, when the environment has one.
    pub token: Option<SecretString>,
    /// Segments a second that each sending number may send; 0 is unlimited.
    pub segments_per_second: f64,
    /// Price of a segment, in the currency of the bill, for estimates.
    pub price_per_segment: f64,
}

/// One program's settings.
#[derive(Debug, Clone)]
pub struct Program {
    /// Its key.
    pub id: ProgramId,
    /// Name in texts.
    pub name: String,
    /// IANA time zone.
    pub zone: Tz,
    /// Sending number.
    pub number: Phone,
    /// A person to call, in texts.
    pub contact: String,
    /// That person's number.
    pub contact_phone: Phone,
    /// Where helmets are fixed, in texts, with its article; each language has its own words when absent.
    pub equipment_room: Option<String>,
    /// Folder with texts that replace the built-in ones.
    pub templates: Option<PathBuf>,
    /// Whether the trainer's alert carries the athlete's own words.
    pub words_to_trainer: bool,
    /// Minutes between the steps of the alert ladder.
    pub alert_again_after: Minutes,
    /// Whether accents that would change the encoding are written without.
    pub fold_accents: bool,
    /// Minutes a fix takes, by flag.
    pub fix_minutes: FixMinutes,
    /// The teams.
    pub teams: BTreeMap<TeamId, Team>,
    /// Where lists can be read whole, when there is a public address and a secret to mark links with.
    pub links: Option<Links>,
    /// Its place on the chat platform, when it has one.
    pub chat: Option<Chat>,
    /// How it rehearses.
    pub drills: Drills,
    /// How kits are counted and restocked.
    pub kits: Kits,
    /// How helmets are reconditioned.
    pub reconditioning: Reconditioning,
    /// How it tells families.
    pub notices: Notices,
    /// How it brings athletes back.
    pub clearance: Clearing,
    /// For how long it keeps what.
    pub keeping: Keeping,
}

/// Links in staff texts: anyone who has one can read that team's list on that day, and nothing else.
#[derive(Debug, Clone)]
pub struct Links {
    base: Url,
    key: SecretString,
}

impl Program {
    /// The link to a team's list of a day.
    #[must_use]
    pub fn list_link(&self, team: &TeamId, date: chrono::NaiveDate) -> Option<String> {
        let links = self.links.as_ref()?;
        let base = links.base.as_str().trim_end_matches('/');
        Some(format!(
            "{base}/today/{}/{team}/{date}/{}",
            self.id,
            links.mark(&format!("list/{}/{team}/{date}", self.id))
        ))
    }

    /// The address of a guardian's own page: notices to acknowledge, and no more e-mail.
    #[must_use]
    pub fn family_link(&self, guardian: &GuardianId, what: FamilyLink) -> Option<Url> {
        let links = self.links.as_ref()?;
        let mark = links.mark(&format!("family/{}/{guardian}", self.id));
        let mut url = links.base.clone();
        url.path_segments_mut().ok()?.pop_if_empty().extend(["family", self.id.as_str(), guardian.as_str(), &mark]);
        if what == FamilyLink::Stop {
            url.path_segments_mut().ok()?.push("stop");
        }
        Some(url)
    }

    /// Whether a mark is that of the guardian's page.
    #[must_use]
    pub fn is_family_mark(&self, guardian: &GuardianId, mark: &str) -> bool {
        self.links.as_ref().is_some_and(|links| links.is_mark(&format!("family/{}/{guardian}", self.id), mark))
    }

    /// Whether a mark is that of the team's list of that day.
    #[must_use]
    pub fn is_list_mark(&self, team: &TeamId, date: chrono::NaiveDate, mark: &str) -> bool {
        self.links.as_ref().is_some_and(|links| links.is_mark(&format!("list/{}/{team}/{date}", self.id), mark))
    }
}

/// A page of a guardian's own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FamilyLink {
    /// What there is to acknowledge.
    Page,
    /// One request to it ends e-mail (RFC 8058).
    Stop,
}

impl Links {
    /// 80 bits of HMAC-SHA-256 over what the link is for.
    fn mark(&self, what: &str) -> String {
        use hmac::{Hmac, KeyInit as _, Mac as _};
        use secrecy::ExposeSecret as _;
        let Ok(mac) = Hmac::<sha2::Sha256>::new_from_slice(self.key.expose_secret().as_bytes()) else {
            return String::new();
        };
        let mac = mac.chain_update(what).finalize().into_bytes();
        mac.iter().take(10).fold(String::new(), |mut text, byte| {
            use std::fmt::Write as _;
            let _ = write!(text, "{byte:02x}");
            text
        })
    }

    fn is_mark(&self, what: &str, mark: &str) -> bool {
        use subtle::ConstantTimeEq as _;
        self.mark(what).as_bytes().ct_eq(mark.as_bytes()).into()
    }
}

/// One team's settings.
#[derive(Debug, Clone)]
pub struct Team {
    /// Its key.
    pub id: TeamId,
    /// Name in texts.
    pub name: String,
    /// Its times.
    pub times: TeamTimes,
}

/// Why the configuration cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum ConfigError {
    /// The file cannot be read.
    #[error("{path}: {source}\nhint: `browline init` writes a commented one")]
    Unreadable {
        /// Which file.
        path: String,
        /// Why.
        source: std::io::Error,
    },
    /// The file is not what it should be.
    #[error("{path}: {source}")]
    Syntax {
        /// Which file.
        path: String,
        /// Where and what.
        source: Box<toml::de::Error>,
    },
    /// A value cannot be used.
    #[error("{path}: {key}: {what}")]
    Value {
        /// Which file.
        path: String,
        /// Which key.
        key: String,
        /// What is wrong and how to mend it.
        what: String,
    },
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    database: DatabaseTable,
    #[serde(default)]
    server: ServerTable,
    #[serde(default)]
    carrier: CarrierTable,
    #[serde(default)]
    chat: chat::PlatformTable,
    #[serde(default)]
    mail: notices::MailTable,
    programs: BTreeMap<String, ProgramTable>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct DatabaseTable {
    url: String,
    seal: bool,
}

impl Default for DatabaseTable {
    fn default() -> Self {
        Self { url: "sqlite://browline.db".to_owned(), seal: true }
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct ServerTable {
    listen: String,
    public_url: String,
}

impl Default for ServerTable {
    fn default() -> Self {
        Self { listen: "127.0.0.1:8080".to_owned(), public_url: String::new() }
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct CarrierTable {
    base_url: String,
    segments_per_second: f64,
    price_per_segment: f64,
}

impl Default for CarrierTable {
    fn default() -> Self {
        Self { base_url: "https://api.twilio.com".to_owned(), segments_per_second: 1.0, price_per_segment: 0.0115 }
    }
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct ProgramTable {
    name: String,
    zone: Tz,
    number: String,
    contact: String,
    contact_phone: String,
    #[serde(default)]
    equipment_room: Option<String>,
    #[serde(default)]
    templates: Option<PathBuf>,
    #[serde(default = "yes")]
    words_to_trainer: bool,
    #[serde(default = "five")]
    alert_again_after_minutes: Minutes,
    #[serde(default = "yes")]
    fold_accents: bool,
    #[serde(default)]
    times: TimesTable,
    #[serde(default)]
    fix_minutes: BTreeMap<String, u32>,
    #[serde(default)]
    chat: Option<chat::ChatTable>,
    #[serde(default)]
    drills: drills::DrillsTable,
    #[serde(default)]
    kits: kits::KitsTable,
    #[serde(default)]
    reconditioning: reconditioning::ReconditioningTable,
    #[serde(default)]
    notices: notices::NoticesTable,
    #[serde(default)]
    clearance: clearance::ClearanceTable,
    #[serde(default)]
    keeping: keeping::KeepingTable,
    teams: BTreeMap<String, TeamTable>,
}

const fn yes() -> bool {
    true
}
const fn five() -> Minutes {
    Minutes(5)
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct TeamTable {
    name: String,
    #[serde(default)]
    times: TimesTable,
}

#[derive(Debug, Default, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct TimesTable {
    check: Option<When>,
    spread_minutes: Option<Minutes>,
    nudge_after_minutes: Option<Minutes>,
    check_closes_before_minutes: Option<Minutes>,
    fix_list_before_minutes: Option<Minutes>,
    silent_before_minutes: Option<Minutes>,
    availability_before_minutes: Option<Minutes>,
    fix_by_before_minutes: Option<Minutes>,
    quiet_from: Option<String>,
    quiet_until: Option<String>,
}

impl Config {
    /// Reads a configuration file, and the secrets through `env`.
    ///
    /// # Errors
    /// [`ConfigError`], naming the file, the key and what was expected.
    pub fn load(path: &Path, env: impl Fn(&str) -> Option<String>) -> Result<Self, ConfigError> {
        let name = path.display().to_string();
        let text =
            std::fs::read_to_string(path).map_err(|source| ConfigError::Unreadable { path: name.clone(), source })?;
        let folder = path.parent().unwrap_or_else(|| Path::new("."));
        let mut config = Self::parse(&name, &text, env)?;
        for program in config.programs.values_mut() {
            program.templates = program.templates.take().map(|templates| folder.join(templates));
            program.clearance.load(folder)?;
        }
        if let Some(file) = config.database.strip_prefix("sqlite://") {
            let file = folder.join(file);
            config.database = format!("sqlite://{}", file.display());
        }
        Ok(config)
    }

    /// Reads a configuration from a text; `name` is the file's name in errors.
    ///
    /// # Errors
    /// [`ConfigError`], naming the file, the key and what was expected.
    pub fn parse(name: &str, text: &str, env: impl Fn(&str) -> Option<String>) -> Result<Self, ConfigError> {
        let file: File = toml::from_str(text)
            .map_err(|source| ConfigError::Syntax { path: name.to_owned(), source: Box::new(source) })?;
        let env = |key: &str| env(key).filter(|value| !value.trim().is_empty());
        Reader { name }.config(file, env)
    }

    /// The program that a sending number belongs to.
    #[must_use]
    pub fn program_by_number(&self, number: &Phone) -> Option<&Program> {
        self.programs.values().find(|program| program.number == *number)
    }
}

struct Reader<'a> {
    name: &'a str,
}

impl Reader<'_> {
    fn wrong(&self, key: impl Into<String>, what: impl Into<String>) -> ConfigError {
        ConfigError::Value { path: self.name.to_owned(), key: key.into(), what: what.into() }
    }

    fn config(&self, file: File, env: impl Fn(&str) -> Option<String>) -> Result<Config, ConfigError> {
        let base_url = Url::parse(&file.carrier.base_url)
            .map_err(|error| self.wrong("carrier.base_url", format!("not an address: {error}")))?;
        let rate = file.carrier.segments_per_second;
        if !rate.is_finite() || rate < 0.0 {
            return Err(self.wrong("carrier.segments_per_second", "must be 0 (no limit) or more"));
        }
        let mut programs = BTreeMap::new();
        for (id, mut table) in file.programs {
            let chat = table.chat.take().map(|chat| self.chat(&id, chat, &env)).transpose()?;
            let mut program = self.program(&id, table)?;
            program.chat = chat;
            let double = programs.values().find(|other: &&Program| other.number == program.number);
            if let Some(other) = double {
                return Err(self.wrong(
                    format!("programs.{id}.number"),
                    format!("program `{}` has this number; each needs one of its own", other.id),
                ));
            }
            programs.insert(ProgramId(id), program);
        }
        if programs.is_empty() {
            return Err(self.wrong("programs", "no program; add a table such as [programs.myschool]"));
        }
        let public_url = self.public_url(&file.server.public_url)?;
        let token = env(CARRIER_TOKEN).map(SecretString::from);
        if let (Some(base), Some(key)) = (&public_url, &token) {
            for program in programs.values_mut() {
                program.links = Some(Links { base: base.clone(), key: key.clone() });
            }
        }
        for chat in programs.values_mut().filter_map(|program| program.chat.as_mut()) {
            chat.trainer_page = public_url.as_ref().and_then(|base| base.join("board/trainer").ok());
        }
        for program in programs.values_mut() {
            program.clearance.page = public_url.as_ref().and_then(|base| base.join("board/clearance").ok());
        }
        let has_public_url = public_url.is_some();
        Ok(Config {
            database: env(DATABASE_URL).unwrap_or(file.database.url),
            seal: file.database.seal,
            key: env(KEY).map(SecretString::from),
            listen: file.server.listen,
            public_url,
            carrier: Carrier {
                base_url,
                account: env(CARRIER_ACCOUNT),
                token,
                segments_per_second: rate,
                price_per_segment: file.carrier.price_per_segment,
            },
            chat_url: self.platform(&file.chat)?,
            mail: self.mail(file.mail, has_public_url, &env)?,
            programs,
        })
    }

    fn public_url(&self, text: &str) -> Result<Option<Url>, ConfigError> {
        if text.is_empty() {
            return Ok(None);
        }
        Url::parse(text).map(Some).map_err(|error| self.wrong("server.public_url", format!("not an address: {error}")))
    }

    fn phone(&self, key: String, text: &str) -> Result<Phone, ConfigError> {
        Phone::parse(text).map_err(|error| self.wrong(key, format!("{error}; write it as +1 312 555 0100")))
    }

    fn program(&self, id: &str, table: ProgramTable) -> Result<Program, ConfigError> {
        let key = |name: &str| format!("programs.{id}.{name}");
        let plain = |text: &str| {
            !text.is_empty() && text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
        };
        if !plain(id) {
            return Err(self.wrong("programs", format!("`{id}`: keys are small letters, digits and dashes")));
        }
        if table.teams.is_empty() {
            return Err(self.wrong(key("teams"), "no team; add a table such as [programs.myschool.teams.varsity]"));
        }
        let mut teams = BTreeMap::new();
        for (team, settings) in table.teams {
            if !plain(&team) {
                return Err(self.wrong(key("teams"), format!("`{team}`: keys are small letters, digits and dashes")));
            }
            let times = self.times(&key(&format!("teams.{team}.times")), &table.times, &settings.times)?;
            let id = TeamId(team);
            teams.insert(id.clone(), Team { id, name: settings.name, times });
        }
        Ok(Program {
            id: ProgramId(id.to_owned()),
            number: self.phone(key("number"), &table.number)?,
            contact_phone: self.phone(key("contact_phone"), &table.contact_phone)?,
            fix_minutes: FixMinutes::with(&table.fix_minutes).map_err(|what| self.wrong(key("fix_minutes"), what))?,
            name: table.name,
            zone: table.zone,
            contact: table.contact,
            equipment_room: table.equipment_room,
            templates: table.templates,
            words_to_trainer: table.words_to_trainer,
            alert_again_after: table.alert_again_after_minutes,
            fold_accents: table.fold_accents,
            teams,
            links: None,
            chat: None,
            drills: self.drills(&key("drills"), table.drills)?,
            kits: self.kits(&key("kits"), table.kits)?,
            reconditioning: self.reconditioning(&key("reconditioning"), table.reconditioning)?,
            notices: self.notices(&key("notices"), table.notices)?,
            keeping: self.keeping(&key("keeping"), table.keeping)?,
            clearance: self.clearance(&key("clearance"), table.clearance)?,
        })
    }

    fn times(&self, key: &str, program: &TimesTable, team: &TimesTable) -> Result<TeamTimes, ConfigError> {
        let clock = |name: &str, own: &Option<String>, shared: &Option<String>, default: (u32, u32)| {
            own.as_ref().or(shared.as_ref()).map_or_else(
                || Ok(NaiveTime::from_hms_opt(default.0, default.1, 0).unwrap_or_default()),
                |text| {
                    crate::trade::times::parse_clock(text).ok_or_else(|| {
                        self.wrong(format!("{key}.{name}"), format!("`{text}` is not a time such as `21:00`"))
                    })
                },
            )
        };
        let pick = |own: Option<Minutes>, shared: Option<Minutes>, default| own.or(shared).unwrap_or(Minutes(default));
        let times = TeamTimes {
            check: team
                .check
                .or(program.check)
                .unwrap_or(When::At(NaiveTime::from_hms_opt(8, 0, 0).unwrap_or_default())),
            spread: pick(team.spread_minutes, program.spread_minutes, 10),
            nudge_after: pick(team.nudge_after_minutes, program.nudge_after_minutes, 45),
            check_closes_before: pick(team.check_closes_before_minutes, program.check_closes_before_minutes, 20),
            fix_list_before: pick(team.fix_list_before_minutes, program.fix_list_before_minutes, 90),
            silent_before: pick(team.silent_before_minutes, program.silent_before_minutes, 45),
            availability_before: pick(team.availability_before_minutes, program.availability_before_minutes, 30),
            fix_by_before: pick(team.fix_by_before_minutes, program.fix_by_before_minutes, 45),
            quiet: QuietHours {
                from: clock("quiet_from", &team.quiet_from, &program.quiet_from, (21, 0))?,
                until: clock("quiet_until", &team.quiet_until, &program.quiet_until, (8, 0))?,
            },
        };
        Ok(times)
    }
}
