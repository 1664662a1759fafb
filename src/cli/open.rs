//! What most commands begin with: the configuration, the texts, the store, the desk.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use anyhow::{Context as _, Result, bail};
use async_trait::async_trait;
use rand::{TryRng as _, rngs::SysRng};

use crate::channel::mail::{MailSettings, Mailer, Safety};
use crate::channel::sms::{SmsCarrier, SmsSettings};
use crate::channel::{Accepted, Channel, Found, Outgoing, Refused};
use crate::clock::Clock;
use crate::config::{CARRIER_ACCOUNT, CARRIER_TOKEN, Config, KEY, MailTls, Program};
use crate::desk::{Desk, Identity};
use crate::store::Store;
use crate::store::seal::Seal;
use crate::trade::roster::{Language, ProgramId};
use crate::trade::time::Moment;
use crate::wording::Wording;
use secrecy::ExposeSecret as _;

/// Reads the configuration, with secrets from the environment.
///
/// # Errors
/// When the file cannot be used; the message says where and why.
pub fn config(path: &Path) -> Result<Config> {
    Ok(Config::load(path, |key| std::env::var(key).ok())?)
}

/// Each program's texts, with those of its own folder, checked.
///
/// # Errors
/// Every problem with every text.
pub fn wordings(config: &Config) -> Result<BTreeMap<ProgramId, Wording>> {
    let mut wordings = BTreeMap::new();
    for program in config.programs.values() {
        wordings.insert(program.id.clone(), wording(program)?);
    }
    Ok(wordings)
}

fn wording(program: &Program) -> Result<Wording> {
    let overrides = match &program.templates {
        None => Vec::new(),
        Some(folder) => overrides(folder)?,
    };
    Wording::with_overrides(overrides).map_err(|problems| {
        let lines: Vec<String> = problems.iter().map(ToString::to_string).collect();
        anyhow::anyhow!("texts of program `{}`:\n{}", program.id, lines.join("\n"))
    })
}

fn overrides(folder: &Path) -> Result<Vec<(Language, String, String)>> {
    let mut texts = Vec::new();
    for (language, name) in [(Language::En, "en"), (Language::Es, "es")] {
        let folder = folder.join(name);
        if !folder.is_dir() {
            continue;
        }
        let entries = std::fs::read_dir(&folder).with_context(|| format!("{}", folder.display()))?;
        for entry in entries {
            let path = entry?.path();
            let Some(stem) = path.file_stem().and_then(|stem| stem.to_str()) else { continue };
            if path.extension().is_some_and(|extension| extension == "txt") {
                let text = std::fs::read_to_string(&path).with_context(|| format!("{}", path.display()))?;
                texts.push((language, stem.to_owned(), text));
            }
        }
    }
    texts.sort();
    Ok(texts)
}

/// A runtime for a command.
///
/// # Errors
/// When the machine cannot start one.
pub fn runtime() -> Result<tokio::runtime::Runtime> {
    Ok(tokio::runtime::Builder::new_multi_thread().enable_all().build()?)
}

/// Who this process is among those that share the store, and its chance.
///
/// # Errors
/// When the machine has no randomness.
pub fn identity() -> Result<Identity> {
    let seed = SysRng.try_next_u64().context("the machine gives no randomness")?;
    Ok(Identity { worker: format!("{:x}-{:x}", std::process::id(), seed & 0xffff_ffff), seed })
}

/// A seed for tokens that nobody can guess.
///
/// # Errors
/// When the machine has no randomness.
pub fn secret_seed() -> Result<[u8; 32]> {
    let mut seed = [0_u8; 32];
    SysRng.try_fill_bytes(&mut seed).context("the machine gives no randomness")?;
    Ok(seed)
}

/// Opens the desk for a command that sends nothing.
///
/// # Errors
/// When the configuration, the texts or the store cannot be used.
pub async fn desk_without_carrier(config: Config, clock: Clock) -> Result<Desk> {
    desk(config, clock, Arc::new(NoCarrier)).await
}

/// Opens the store, with the key that seals what is medical.
///
/// # Errors
/// When there is no key, or the store cannot be used.
pub async fn store(config: &Config) -> Result<Store> {
    let seal = match &config.key {
        Some(key) => Some(Seal::parse(key.expose_secret()).with_context(|| KEY.to_owned())?),
        None if config.seal => bail!(
            "{KEY} is not set: without it medical words would lie open in the database\n\
             hint: `browline key` prints a new key; set it in the environment, and keep a copy apart from the backups: \
             without it nobody can read them. (`seal = false` under [database] keeps everything open.)"
        ),
        None => None,
    };
    Ok(Store::open_with(&config.database, seal).await?)
}

/// Opens the desk.
///
/// # Errors
/// When the texts or the store cannot be used.
pub async fn desk(config: Config, clock: Clock, channel: Arc<dyn Channel>) -> Result<Desk> {
    let wordings = wordings(&config)?;
    let store = store(&config).await?;
    Ok(Desk::open(store, config, wordings, channel, clock, identity()?))
}

/// The mail server of the configuration, when there is one.
///
/// # Errors
/// When its name cannot be used for TLS.
pub fn mailer(config: &Config) -> Result<Option<Mailer>> {
    let Some(mail) = &config.mail else { return Ok(None) };
    let settings = MailSettings {
        host: mail.host.clone(),
        port: mail.port,
        safety: match mail.tls {
            MailTls::Implicit => Safety::Implicit,
            MailTls::Starttls => Safety::Starttls,
            MailTls::None => Safety::None,
        },
        login: mail.user.clone().zip(mail.password.clone()),
        from: mail.from.clone(),
    };
    Ok(Some(Mailer::new(settings)?))
}

/// The SMS carrier of the configuration.
///
/// # Errors
/// When its credentials are missing or its address cannot be used.
pub fn carrier(config: &Config) -> Result<SmsCarrier> {
    let (Some(account), Some(token)) = (&config.carrier.account, &config.carrier.token) else {
        bail!(
            "no carrier credentials\nhint: set {CARRIER_ACCOUNT} and {CARRIER_TOKEN} in the environment; \
             `browline demo` needs none"
        );
    };
    let status_callback = config.public_url.as_ref().map(|url| url.join("sms/status")).transpose()?;
    Ok(SmsCarrier::new(SmsSettings {
        base_url: config.carrier.base_url.clone(),
        account: account.clone(),
        token: token.clone(),
        status_callback,
        timeout: Duration::from_secs(20),
    })?)
}

/// The one program of the configuration, or the one that was named.
///
/// # Errors
/// When there are several and none was named, or the named one does not exist.
pub fn program(config: &Config, named: Option<&str>) -> Result<ProgramId> {
    let keys: Vec<&str> = config.programs.keys().map(ProgramId::as_str).collect();
    match (named, keys.as_slice()) {
        (Some(named), keys) if keys.contains(&named) => Ok(ProgramId::from(named)),
        (Some(named), keys) => bail!("no program `{named}`; there is: {}", keys.join(", ")),
        (None, [only]) => Ok(ProgramId::from(*only)),
        (None, keys) => bail!("several programs\nhint: name one with --program: {}", keys.join(", ")),
    }
}

/// A moment as typed: RFC 3339, or "now".
///
/// # Errors
/// When it is neither.
pub fn moment(text: &str) -> Result<Moment, String> {
    if text == "now" {
        return Ok(Clock::system().now());
    }
    Moment::parse(text).map_err(|error| format!("{error}; write it as 2026-09-15T06:45:00-05:00, or `now`"))
}

/// Where nothing can be sent.
struct NoCarrier;

#[async_trait]
impl Channel for NoCarrier {
    async fn send(&self, _: &Outgoing) -> Result<Accepted, Refused> {
        Err(Refused::Everything { why: "this command sends nothing".to_owned() })
    }

    async fn look(&self, _: &Outgoing, _: Moment) -> Result<Vec<Found>, Refused> {
        Err(Refused::Everything { why: "this command sends nothing".to_owned() })
    }
}
