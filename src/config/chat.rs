//! The settings of the chat platform: which server and channels a program has there, and how athletes are shown.
//!
//! The token comes from the environment alone: a program's own variable ([`token_variable`]) goes before the shared one.

use secrecy::SecretString;
use serde::Deserialize;
use url::Url;

use super::{ConfigError, Reader};
use crate::trade::roster::Language;

/// Environment variable with the chat bot's token, for every program without one of its own.
pub const CHAT_TOKEN: &str = "BROWLINE_CHAT_TOKEN";

/// The platform's own address.
const PLATFORM: &str = "https://discord.com";

/// How an athlete is shown in a channel.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Show {
    /// "#12 Jonah".
    #[default]
    JerseyAndFirst,
    /// "#12".
    Jersey,
}

/// One program's place on the chat platform.
#[derive(Debug, Clone)]
pub struct Chat {
    /// The server's id.
    pub guild: String,
    /// The channel of the equipment queue.
    pub equipment: String,
    /// The channel of the medical queue.
    pub medical: String,
    /// The channel of the contact queue.
    pub contact: String,
    /// How athletes are shown.
    pub show: Show,
    /// Language of the posts.
    pub language: Language,
    /// The bot's token, when the environment has one.
    pub token: Option<SecretString>,
    /// The trainer's page, when there is a public address.
    pub trainer_page: Option<Url>,
}

/// `[chat]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct PlatformTable {
    base_url: String,
}

impl Default for PlatformTable {
    fn default() -> Self {
        Self { base_url: PLATFORM.to_owned() }
    }
}

/// `[programs.KEY.chat]`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ChatTable {
    guild: String,
    equipment: String,
    medical: String,
    contact: String,
    #[serde(default)]
    athletes: Show,
    #[serde(default)]
    language: Language,
}

/// The environment variable with one program's own token.
#[must_use]
pub fn token_variable(program: &str) -> String {
    format!("{CHAT_TOKEN}_{}", program.to_uppercase().replace('-', "_"))
}

impl Reader<'_> {
    pub(super) fn platform(&self, table: &PlatformTable) -> Result<Url, ConfigError> {
        let url = Url::parse(&table.base_url)
            .map_err(|error| self.wrong("chat.base_url", format!("not an address: {error}")))?;
        if url.cannot_be_a_base() || url.path() != "/" || url.query().is_some() || !url.username().is_empty() {
            return Err(self.wrong("chat.base_url", "give scheme, host and port alone"));
        }
        Ok(url)
    }

    pub(super) fn chat(
        &self,
        program: &str,
        table: ChatTable,
        env: &impl Fn(&str) -> Option<String>,
    ) -> Result<Chat, ConfigError> {
        let ids = [
            ("guild", &table.guild),
            ("equipment", &table.equipment),
            ("medical", &table.medical),
            ("contact", &table.contact),
        ];
        for (name, id) in ids {
            if !is_id(id) {
                let what = format!("`{id}` is not an id: copy it from the chat program, 17 to 20 digits in quotes");
                return Err(self.wrong(format!("programs.{program}.chat.{name}"), what));
            }
        }
        if table.medical == table.equipment || table.medical == table.contact {
            let what = "the medical queue needs a channel of its own: who reads it is the trainer's to say";
            return Err(self.wrong(format!("programs.{program}.chat.medical"), what));
        }
        let token = env(&token_variable(program)).or_else(|| env(CHAT_TOKEN)).map(SecretString::from);
        Ok(Chat {
            guild: table.guild,
            equipment: table.equipment,
            medical: table.medical,
            contact: table.contact,
            show: table.athletes,
            language: table.language,
            token,
            trainer_page: None,
        })
    }
}

/// Ids of the platform are numbers of 64 bits that are never 0.
fn is_id(text: &str) -> bool {
    (15..=20).contains(&text.len())
        && text.bytes().all(|byte| byte.is_ascii_digit())
        && text.parse::<u64>().is_ok_and(|id| id != 0)
}

#[cfg(test)]
mod tests {
    use secrecy::ExposeSecret as _;

    use super::super::Config;
    use super::*;

    const FILE: &str = r#"
[server]
public_url = "https://kestrels.example"
[programs.lark-spur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "+1 312 555 0100"
contact = "Ana"
contact_phone = "+1 312 555 0101"
[programs.lark-spur.chat]
guild = "110000000000000001"
equipment = "120000000000000001"
medical = "120000000000000002"
contact = "120000000000000003"
athletes = "jersey"
language = "es"
[programs.lark-spur.teams.varsity]
name = "Varsity"
"#;

    fn parse(text: &str, env: &[(&str, &str)]) -> Result<Config, String> {
        let env = |key: &str| env.iter().find(|(name, _)| *name == key).map(|(_, value)| (*value).to_owned());
        Config::parse("test.toml", text, env).map_err(|error| error.to_string())
    }

    fn chat(config: &Config) -> &Chat {
        config.programs.values().next().unwrap().chat.as_ref().unwrap()
    }

    #[test]
    fn a_programs_place_on_the_platform_is_read() {
        let config = parse(FILE, &[(CHAT_TOKEN, "shared")]).unwrap();
        assert_eq!(config.chat_url.as_str(), "https://discord.com/");
        let chat = chat(&config);
        assert_eq!((chat.show, chat.language), (Show::Jersey, Language::Es));
        assert_eq!(chat.trainer_page.as_ref().unwrap().as_str(), "https://kestrels.example/board/trainer");
    }

    #[test]
    fn a_programs_own_token_goes_before_the_shared_one_and_is_never_printed() {
        let both = [(CHAT_TOKEN, "shared-secret"), ("BROWLINE_CHAT_TOKEN_LARK_SPUR", "own-secret")];
        let config = parse(FILE, &both).unwrap();
        assert_eq!(chat(&config).token.as_ref().unwrap().expose_secret(), "own-secret");
        assert!(!format!("{config:?}").contains("secret"));
        assert!(chat(&parse(FILE, &[]).unwrap()).token.is_none());
    }

    #[test]
    fn what_cannot_work_is_refused_with_its_key() {
        for (from, to, key) in [
            ("guild = \"110000000000000001\"", "guild = \"my server\"", "programs.lark-spur.chat.guild"),
            ("\"120000000000000002\"", "\"120000000000000001\"", "programs.lark-spur.chat.medical"),
            ("athletes = \"jersey\"", "athletes = \"everything\"", "athletes"),
            ("[server]", "[chat]\nbase_url = \"https://discord.com/api\"\n[server]", "chat.base_url"),
            ("[server]", "[chat]\ntoken = \"x\"\n[server]", "token"),
        ] {
            let error = parse(&FILE.replace(from, to), &[]).unwrap_err();
            assert!(error.contains(key), "{error}");
        }
    }
}
