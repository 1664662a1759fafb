//! The settings of notices to families, and of e-mail.

use secrecy::SecretString;
use serde::Deserialize;

use super::{ConfigError, Reader};
use crate::trade::notice::Rules;
use crate::trade::times::Minutes;

/// Environment variable with the password for the mail server.
pub const MAIL_PASSWORD: &str = "BROWLINE_MAIL_PASSWORD";

/// `[programs.KEY.notices]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct NoticesTable {
    on: Option<bool>,
    steps: Option<bool>,
    helmets: Option<bool>,
    again_after_minutes: Option<Minutes>,
    reply_to: Option<String>,
}

/// How a program tells families.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Notices {
    /// What it tells, and when it asks again.
    pub rules: Rules,
    /// Where answers to e-mails go.
    pub reply_to: Option<String>,
}

/// How a connection to the mail server is made safe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum MailTls {
    /// TLS from the first byte (RFC 8314), port 465 unless told otherwise.
    Implicit,
    /// STARTTLS, required, port 587 unless told otherwise.
    Starttls,
    /// None: for a server on this machine alone.
    None,
}

/// The mail server.
#[derive(Debug, Clone)]
pub struct Mail {
    /// Its name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is made safe.
    pub tls: MailTls,
    /// User name, when it asks for one.
    pub user: Option<String>,
    /// Password, from the environment.
    pub password: Option<SecretString>,
    /// The address that e-mails come from.
    pub from: String,
}

/// `[mail]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct MailTable {
    host: String,
    port: Option<u16>,
    tls: Option<MailTls>,
    user: Option<String>,
    from: String,
}

impl Reader<'_> {
    pub(super) fn notices(&self, key: &str, table: NoticesTable) -> Result<Notices, ConfigError> {
        let mut rules = Rules::default();
        rules.on = table.on.unwrap_or(rules.on);
        rules.steps = table.steps.unwrap_or(rules.steps);
        rules.helmets = table.helmets.unwrap_or(rules.helmets);
        rules.again_after = table.again_after_minutes.unwrap_or(rules.again_after);
        if !(5..=1_440).contains(&rules.again_after.0) {
            return Err(self.wrong(format!("{key}.again_after_minutes"), "must be from 5 to 1440"));
        }
        let reply_to = table.reply_to.filter(|address| !address.is_empty());
        if let Some(address) = &reply_to {
            self.address(format!("{key}.reply_to"), address)?;
        }
        Ok(Notices { rules, reply_to })
    }

    /// The mail server; none when no host is named.
    pub(super) fn mail(
        &self,
        table: MailTable,
        has_public_url: bool,
        env: impl Fn(&str) -> Option<String>,
    ) -> Result<Option<Mail>, ConfigError> {
        if table.host.is_empty() {
            return Ok(None);
        }
        self.address("mail.from".to_owned(), &table.from)?;
        if !has_public_url {
            let what = "e-mail needs server.public_url: every message carries a link by which its receiver can stop it";
            return Err(self.wrong("mail.host", what));
        }
        let tls = table.tls.unwrap_or(MailTls::Implicit);
        let local = table.host == "localhost"
            || table.host.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback());
        if tls == MailTls::None && !local {
            return Err(
                self.wrong("mail.tls", "\"none\" is for a mail server on this machine; write implicit or starttls")
            );
        }
        let port = table.port.unwrap_or(match tls {
            MailTls::Implicit => 465,
            MailTls::Starttls => 587,
            MailTls::None => 25,
        });
        let password = env(MAIL_PASSWORD).map(SecretString::from);
        Ok(Some(Mail { host: table.host, port, tls, user: table.user, password, from: table.from }))
    }

    fn address(&self, key: String, address: &str) -> Result<(), ConfigError> {
        let shaped = address.split_once('@').is_some_and(|(user, host)| {
            !user.is_empty() && host.contains('.') && !address.contains([' ', '<', '>', ',', '\n'])
        });
        if shaped { Ok(()) } else { Err(self.wrong(key, format!("`{address}` is not an e-mail address"))) }
    }
}
