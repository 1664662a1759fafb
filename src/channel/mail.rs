//! E-mail to guardians, through a mail server (SMTP): text/plain messages by RFC 5322, each with a way to stop in one request
//! (RFC 8058) and marked as sent by a program (RFC 3834).

use std::time::Duration;

use lettre::message::header::{ContentType, Header, HeaderName, HeaderValue};
use lettre::message::{Mailbox, SinglePart};
use lettre::transport::smtp::authentication::Credentials;
use lettre::transport::smtp::client::{Tls, TlsParameters};
use lettre::{AsyncSmtpTransport, AsyncTransport as _, Message, Tokio1Executor};
use secrecy::{ExposeSecret as _, SecretString};
use sha2::{Digest as _, Sha256};
use url::Url;

use crate::trade::time::Moment;

/// Longest wait for the mail server.
const TIMEOUT: Duration = Duration::from_secs(20);

/// How a connection to the mail server is made safe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Safety {
    /// TLS from the first byte (RFC 8314).
    Implicit,
    /// STARTTLS, required.
    Starttls,
    /// None: for a server on this machine.
    None,
}

/// The mail server, and who writes.
#[derive(Debug, Clone)]
pub struct MailSettings {
    /// Its name.
    pub host: String,
    /// Its port.
    pub port: u16,
    /// How the connection is made safe.
    pub safety: Safety,
    /// User and password, when it asks for them.
    pub login: Option<(String, SecretString)>,
    /// The address that messages come from.
    pub from: String,
}

/// One message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Letter {
    /// Natural key: its `Message-ID` is made from it, so that a second copy can be told.
    pub key: String,
    /// Name of the sender: the program's.
    pub from_name: String,
    /// Where it goes.
    pub to: String,
    /// Where answers go, when that is elsewhere.
    pub reply_to: Option<String>,
    /// Subject.
    pub subject: String,
    /// Text.
    pub body: String,
    /// Language: "en", "es".
    pub language: &'static str,
    /// Its date.
    pub date: Moment,
    /// One POST to it ends e-mail to this address.
    pub stop: Url,
}

/// Why a message was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotTaken {
    /// For now: it may be tried again.
    #[error("{0}")]
    Later(String),
    /// The server refuses this receiver or message for good.
    #[error("{0}")]
    Refused(String),
    /// It cannot be made into a message at all.
    #[error("{0}")]
    Malformed(String),
}

/// Sends messages.
#[async_trait::async_trait]
pub trait Post: Send + Sync {
    /// Hands one message to the mail server.
    ///
    /// # Errors
    /// [`NotTaken`].
    async fn hand_over(&self, letter: &Letter) -> Result<(), NotTaken>;
}

macro_rules! text_header {
    ($name:ident, $header:literal) => {
        #[derive(Clone)]
        struct $name(String);
        impl Header for $name {
            fn name() -> HeaderName {
                HeaderName::new_from_ascii_str($header)
            }
            fn parse(text: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
                Ok(Self(text.to_owned()))
            }
            fn display(&self) -> HeaderValue {
                HeaderValue::new(Self::name(), self.0.clone())
            }
        }
    };
}

text_header!(ListUnsubscribe, "List-Unsubscribe");
text_header!(ListUnsubscribePost, "List-Unsubscribe-Post");
text_header!(AutoSubmitted, "Auto-Submitted");
text_header!(ContentLanguage, "Content-Language");

/// Makes the message. `from` is the address that it comes from.
///
/// # Errors
/// [`NotTaken::Malformed`] when an address cannot be used.
pub fn compose(letter: &Letter, from: &str) -> Result<Message, NotTaken> {
    let wrong = |what: &str, error: &dyn std::fmt::Display| NotTaken::Malformed(format!("{what}: {error}"));
    let address = |text: &str| text.parse().map_err(|error| wrong("address", &error));
    let domain = from.rsplit('@').next().unwrap_or("localhost");
    let id = Sha256::digest(format!("{}/{}", letter.key, letter.to));
    let id: String = id.iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    let millis = u64::try_from(letter.date.millis()).unwrap_or_default();
    let mut builder = Message::builder()
        .from(Mailbox::new(Some(letter.from_name.clone()), address(from)?))
        .to(Mailbox::new(None, address(&letter.to)?))
        .subject(letter.subject.clone())
        .date(std::time::UNIX_EPOCH + Duration::from_millis(millis))
        .message_id(Some(format!("<{id}@{domain}>")))
        .header(ListUnsubscribe(format!("<{}>", letter.stop)))
        .header(ListUnsubscribePost("List-Unsubscribe=One-Click".to_owned()))
        .header(AutoSubmitted("auto-generated".to_owned()))
        .header(ContentLanguage(letter.language.to_owned()));
    if let Some(reply_to) = &letter.reply_to {
        builder = builder.reply_to(Mailbox::new(None, address(reply_to)?));
    }
    let part = SinglePart::builder().header(ContentType::TEXT_PLAIN).body(letter.body.clone());
    builder.singlepart(part).map_err(|error| wrong("message", &error))
}

/// A mail server.
pub struct Mailer {
    transport: AsyncSmtpTransport<Tokio1Executor>,
    from: String,
}

impl Mailer {
    /// Prepares to talk to the mail server; connects when there is something to send.
    ///
    /// # Errors
    /// When TLS cannot be set up for its name.
    pub fn new(settings: MailSettings) -> Result<Self, NotTaken> {
        // Fails when the program has chosen a provider already, which is as good.
        let _ = rustls::crypto::ring::default_provider().install_default();
        let parameters = || {
            TlsParameters::new(settings.host.clone())
                .map_err(|error| NotTaken::Malformed(format!("mail server: {error}")))
        };
        let tls = match settings.safety {
            Safety::Implicit => Tls::Wrapper(parameters()?),
            Safety::Starttls => Tls::Required(parameters()?),
            Safety::None => Tls::None,
        };
        let mut transport = AsyncSmtpTransport::<Tokio1Executor>::builder_dangerous(&settings.host)
            .port(settings.port)
            .tls(tls)
            .timeout(Some(TIMEOUT));
        if let Some((user, password)) = settings.login {
            transport = transport.credentials(Credentials::new(user, password.expose_secret().to_owned()));
        }
        Ok(Self { transport: transport.build(), from: settings.from })
    }
}

#[async_trait::async_trait]
impl Post for Mailer {
    async fn hand_over(&self, letter: &Letter) -> Result<(), NotTaken> {
        let message = compose(letter, &self.from)?;
        match self.transport.send(message).await {
            Ok(_) => Ok(()),
            Err(error) if error.is_permanent() => Err(NotTaken::Refused(error.to_string())),
            Err(error) => Err(NotTaken::Later(error.to_string())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn letter() -> Letter {
        Letter {
            key: "notice/held/a1/1".into(),
            from_name: "Larkspur Valley Kestrels".into(),
            to: "rosa.vega@example.org".into(),
            reply_to: Some("ana@larkspur.example".into()),
            subject: "Larkspur Valley Kestrels: aviso sobre Iván".into(),
            body: "Iván está en pausa.\n".into(),
            language: "es",
            date: Moment::from_millis(1_789_472_700_000),
            stop: "https://browline.example.org/family/larkspur/g1/abc/stop".parse().unwrap(),
        }
    }

    #[test]
    fn a_message_has_what_the_standards_ask_for() {
        let text = String::from_utf8(compose(&letter(), "notices@larkspur.example").unwrap().formatted()).unwrap();
        for line in [
            "MIME-Version: 1.0\r\n",
            "Date: Tue, 15 Sep 2026 11:45:00 +0000\r\n",
            "To: rosa.vega@example.org\r\n",
            "Reply-To: ana@larkspur.example\r\n",
            "List-Unsubscribe: <https://browline.example.org/family/larkspur/g1/abc/stop>\r\n",
            "List-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n",
            "Auto-Submitted: auto-generated\r\n",
            "Content-Language: es\r\n",
            "Content-Type: text/plain; charset=utf-8\r\n",
        ] {
            assert!(text.contains(line), "{line}: {text}");
        }
        assert!(text.lines().all(|line| line.len() <= 998 && line.is_ascii()), "{text}");
        assert_eq!(
            text,
            String::from_utf8(compose(&letter(), "notices@larkspur.example").unwrap().formatted()).unwrap()
        );
    }

    #[test]
    fn nothing_typed_breaks_out_of_a_header() {
        let mut sly = letter();
        sly.subject = "Hi\r\nBcc: everybody@example.org".into();
        let text = String::from_utf8(compose(&sly, "notices@larkspur.example").unwrap().formatted()).unwrap();
        assert!(!text.contains("\r\nBcc:"), "{text}");
        sly.to = "a@example.org\r\nBcc: x@example.org".into();
        assert!(matches!(compose(&sly, "notices@larkspur.example"), Err(NotTaken::Malformed(_))));
    }
}
