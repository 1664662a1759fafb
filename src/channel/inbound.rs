//! What the carrier's webhooks say, from form pairs to values. Pure.
//!
//! Whether a call is the carrier's own is for [`super::signature`]; what a text means is for the reader. The web edge
//! stores the raw form first, so that an error here loses nothing.
//!
//! Unknown fields are passed over: the carrier adds some at will.

use std::fmt;

use url::Url;

use super::DeliveryStatus;
use super::errors::plain;
use crate::trade::phone::{Phone, PhoneError};

/// Most links that one message is read for; the carrier allows ten.
const MOST_MEDIA: usize = 10;

/// A text that came in.
#[derive(Clone, PartialEq, Eq)]
pub struct IncomingText {
    /// The carrier's id for it: the same when the call is repeated.
    pub carrier_id: String,
    /// Who wrote.
    pub from: Phone,
    /// The number they wrote to.
    pub to: Phone,
    /// As typed; empty when only media came.
    pub body: String,
    /// Pictures and the like, by link.
    pub media: Vec<MediaLink>,
    /// Set when the carrier has already answered a keyword for us: record it and stay silent.
    pub opt_out_type: Option<OptOut>,
}

/// The text is left out and numbers are shortened, so that neither reaches a log.
impl fmt::Debug for IncomingText {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter
            .debug_struct("IncomingText")
            .field("carrier_id", &self.carrier_id)
            .field("from", &self.from)
            .field("to", &self.to)
            .field("characters", &self.body.chars().count())
            .field("media", &self.media.len())
            .field("opt_out_type", &self.opt_out_type)
            .finish()
    }
}

/// A picture or other attachment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MediaLink {
    /// Where the carrier keeps it: http or https.
    pub url: Url,
    /// Its media type, when given.
    pub content_type: Option<String>,
}

/// The keyword the carrier answered for us.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OptOut {
    /// The person opted out with the carrier.
    Stop,
    /// The person opted in again with the carrier.
    Start,
    /// The carrier sent its help text.
    Help,
    /// Some other intervention, as the carrier names it.
    Other(String),
}

/// How a message of ours fares.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StatusReport {
    /// The carrier's id for the message.
    pub carrier_id: String,
    /// Where it stands.
    pub status: DeliveryStatus,
    /// The carrier's own word for it.
    pub raw: String,
    /// Why it failed, when it did: see [`super::errors::delivery_trouble`].
    pub error_code: Option<i64>,
}

/// Why a call cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum InboundError {
    /// A field that must be there is not, or is empty.
    #[error("the call has no `{0}`")]
    Missing(&'static str),
    /// A field is no telephone number.
    #[error("`{field}` of the call is not a telephone number: {why}")]
    Number {
        /// The field.
        field: &'static str,
        /// Why, numbers shortened.
        why: String,
    },
    /// A field is no number.
    #[error("`{field}` of the call is not a number: `{value}`")]
    Digits {
        /// The field.
        field: &'static str,
        /// What it holds, shortened.
        value: String,
    },
}

/// The pairs of a form body, decoded, in order.
#[must_use]
pub fn form_pairs(body: &[u8]) -> Vec<(String, String)> {
    url::form_urlencoded::parse(body).into_owned().collect()
}

impl IncomingText {
    /// Reads the call that announces a text.
    ///
    /// # Errors
    /// [`InboundError`] when the id or a number is missing or cannot be read.
    pub fn from_pairs(pairs: &[(String, String)]) -> Result<Self, InboundError> {
        Ok(Self {
            carrier_id: id(pairs)?,
            from: number(pairs, "From")?,
            to: number(pairs, "To")?,
            body: get(pairs, "Body").unwrap_or_default().to_owned(),
            media: media(pairs),
            opt_out_type: filled(pairs, "OptOutType").map(opt_out),
        })
    }
}

impl StatusReport {
    /// Reads a status callback.
    ///
    /// # Errors
    /// [`InboundError`] when the id or the status is missing, or the error code is no number.
    pub fn from_pairs(pairs: &[(String, String)]) -> Result<Self, InboundError> {
        let raw = filled(pairs, "MessageStatus")
            .or_else(|| filled(pairs, "SmsStatus"))
            .ok_or(InboundError::Missing("MessageStatus"))?;
        let error_code = match filled(pairs, "ErrorCode") {
            None => None,
            Some(code) => {
                Some(code.parse().map_err(|_| InboundError::Digits { field: "ErrorCode", value: plain(code) })?)
            }
        };
        Ok(Self {
            carrier_id: id(pairs)?,
            status: delivery_status(raw),
            raw: raw.to_owned(),
            // The carrier writes 0 for no error.
            error_code: error_code.filter(|code| *code != 0),
        })
    }
}

/// Where a message stands by the carrier's word for it. A word not known here is never taken for delivered.
#[must_use]
pub fn delivery_status(word: &str) -> DeliveryStatus {
    match word.to_ascii_lowercase().as_str() {
        "delivered" | "read" => DeliveryStatus::Delivered,
        "failed" | "undelivered" | "canceled" => DeliveryStatus::Failed,
        _ => DeliveryStatus::Underway,
    }
}

fn get<'a>(pairs: &'a [(String, String)], name: &str) -> Option<&'a str> {
    pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
}

fn filled<'a>(pairs: &'a [(String, String)], name: &str) -> Option<&'a str> {
    get(pairs, name).map(str::trim).filter(|value| !value.is_empty())
}

fn id(pairs: &[(String, String)]) -> Result<String, InboundError> {
    ["MessageSid", "SmsSid", "SmsMessageSid"]
        .into_iter()
        .find_map(|name| filled(pairs, name))
        .map(str::to_owned)
        .ok_or(InboundError::Missing("MessageSid"))
}

fn number(pairs: &[(String, String)], field: &'static str) -> Result<Phone, InboundError> {
    let text = filled(pairs, field).ok_or(InboundError::Missing(field))?;
    Phone::parse(text).map_err(|error: PhoneError| InboundError::Number { field, why: plain(&error.to_string()) })
}

/// The links, in the carrier's numbering. One that is no web address is passed over: nothing could be done with it.
fn media(pairs: &[(String, String)]) -> Vec<MediaLink> {
    (0..MOST_MEDIA)
        .filter_map(|index| {
            let url = Url::parse(filled(pairs, &format!("MediaUrl{index}"))?).ok()?;
            let content_type = filled(pairs, &format!("MediaContentType{index}")).map(str::to_owned);
            matches!(url.scheme(), "http" | "https").then_some(MediaLink { url, content_type })
        })
        .collect()
}

fn opt_out(word: &str) -> OptOut {
    match word.to_ascii_uppercase().as_str() {
        "STOP" => OptOut::Stop,
        "START" => OptOut::Start,
        "HELP" => OptOut::Help,
        _ => OptOut::Other(word.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(text: &str) -> Vec<(String, String)> {
        form_pairs(text.as_bytes())
    }

    const TEXT: &str = "ToCountry=US&SmsMessageSid=SM01&NumMedia=0&SmsSid=SM01&Body=strap+busted+%2B+2%261\
        &To=%2B13125550100&MessageSid=SM01&AccountSid=AC01&From=%2B13125550123&ApiVersion=2010-04-01";

    #[test]
    fn a_text_is_read_from_the_carriers_form() {
        let text = IncomingText::from_pairs(&pairs(TEXT)).unwrap();
        assert_eq!(text.carrier_id, "SM01");
        assert_eq!(text.from.as_str(), "+13125550123");
        assert_eq!(text.to.as_str(), "+13125550100");
        assert_eq!(text.body, "strap busted + 2&1");
        assert_eq!(text.media, []);
        assert_eq!(text.opt_out_type, None);
    }

    #[test]
    fn a_log_sees_neither_text_nor_number() {
        let text = IncomingText::from_pairs(&pairs(TEXT)).unwrap();
        let debug = format!("{text:?}");
        assert!(!debug.contains("strap") && !debug.contains("3125550123"), "{debug}");
        assert!(debug.contains("…0123"), "{debug}");
    }

    #[test]
    fn a_photo_comes_as_a_link_and_a_text_may_be_empty() {
        let form = format!(
            "{}&NumMedia=3&MediaUrl0=https%3A%2F%2Fmedia.example%2F1&MediaContentType0=image%2Fjpeg\
             &MediaUrl1=javascript%3Aalert(1)&MediaUrl2=https%3A%2F%2Fmedia.example%2F2",
            TEXT.replace("Body=strap+busted+%2B+2%261", "Body=").replace("NumMedia=0&", "")
        );
        let text = IncomingText::from_pairs(&pairs(&form)).unwrap();
        assert_eq!(text.body, "");
        let links: Vec<_> = text.media.iter().map(|link| (link.url.as_str(), link.content_type.as_deref())).collect();
        assert_eq!(links, [("https://media.example/1", Some("image/jpeg")), ("https://media.example/2", None)]);
    }

    #[test]
    fn a_keyword_that_the_carrier_answered_is_seen() {
        let table = [
            ("STOP", OptOut::Stop),
            ("START", OptOut::Start),
            ("help", OptOut::Help),
            ("PAUSE", OptOut::Other("PAUSE".to_owned())),
        ];
        for (word, expected) in table {
            let text = IncomingText::from_pairs(&pairs(&format!("{TEXT}&OptOutType={word}"))).unwrap();
            assert_eq!(text.opt_out_type, Some(expected));
        }
    }

    #[test]
    fn what_is_missing_or_no_number_is_named() {
        let table = [
            ("Body=ok&From=%2B13125550123&To=%2B13125550100", "the call has no `MessageSid`"),
            ("MessageSid=SM1&To=%2B13125550100", "the call has no `From`"),
            ("MessageSid=SM1&From=&To=%2B13125550100", "the call has no `From`"),
            (
                "MessageSid=SM1&From=Kestrels&To=%2B13125550100",
                "`From` of the call is not a telephone number: `Kestrels` is not a telephone number",
            ),
        ];
        for (form, expected) in table {
            let error = IncomingText::from_pairs(&pairs(form)).unwrap_err();
            assert_eq!(error.to_string(), expected);
        }
    }

    #[test]
    fn an_error_shortens_the_number() {
        let form = "MessageSid=SM1&From=%2B999999999990123&To=%2B13125550100";
        let error = IncomingText::from_pairs(&pairs(form)).unwrap_err().to_string();
        assert!(error.contains("…0123") && !error.contains("99999990123"), "{error}");
    }

    /// Words of the carrier's published message states.
    #[test]
    fn a_status_is_read() {
        use DeliveryStatus::{Delivered, Failed, Underway};
        let table = [
            ("queued", Underway),
            ("accepted", Underway),
            ("scheduled", Underway),
            ("sending", Underway),
            ("sent", Underway),
            ("partially_delivered", Underway),
            ("delivered", Delivered),
            ("read", Delivered),
            ("undelivered", Failed),
            ("failed", Failed),
            ("canceled", Failed),
            ("something new", Underway),
        ];
        for (word, status) in table {
            let form = format!("SmsSid=SM1&SmsStatus={word}&MessageStatus={word}&MessageSid=SM1&ErrorCode=");
            let report = StatusReport::from_pairs(&pairs(&form)).unwrap();
            let expected =
                StatusReport { carrier_id: "SM1".to_owned(), status, raw: word.to_owned(), error_code: None };
            assert_eq!(report, expected);
        }
    }

    #[test]
    fn a_failure_has_its_code() {
        let report = StatusReport::from_pairs(&pairs("MessageSid=SM1&MessageStatus=undelivered&ErrorCode=30003"));
        assert_eq!(report.unwrap().error_code, Some(30003));
        let none = StatusReport::from_pairs(&pairs("MessageSid=SM1&MessageStatus=sent&ErrorCode=0"));
        assert_eq!(none.unwrap().error_code, None);
        let bad = StatusReport::from_pairs(&pairs("MessageSid=SM1&MessageStatus=failed&ErrorCode=many"));
        assert_eq!(bad.unwrap_err().to_string(), "`ErrorCode` of the call is not a number: `many`");
        let nothing = StatusReport::from_pairs(&pairs("MessageSid=SM1"));
        assert_eq!(nothing.unwrap_err(), InboundError::Missing("MessageStatus"));
    }
}
