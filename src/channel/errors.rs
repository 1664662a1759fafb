//! Carrier errors, sorted by what to do about them. Pure.
//!
//! An answer to a request goes through [`classify`], the error code of a status callback through [`delivery_trouble`].
//! What then happens to the message is for [`super::retry`] and the desk.
//!
//! Invariant: an answer that leaves open whether the message went out is [`Refused::InDoubt`], never
//! [`Refused::Retry`]. No telephone number is left whole in a reason.

use std::time::Duration;

use chrono::{DateTime, NaiveDateTime, Utc};
use serde::Deserialize;

use super::{NumberTrouble, Refused};

/// Characters of a carrier's own words that are kept.
const WORDS_KEPT: usize = 200;
/// Digits from which a run counts as a telephone number and is shortened.
const NUMBER_DIGITS: usize = 7;

/// What a known error code of the carrier calls for.
enum Sort {
    Slow,
    Number(NumberTrouble),
    Message,
    /// How to mend it.
    Everything(&'static str),
}

const CREDENTIALS: &str =
    "check the account id and its token in the settings, and that the account is active and paid up with the carrier";
const SENDER: &str = "check that the sending number in the settings belongs to this account and can send texts";
const CALLBACK: &str = "check the public address in the settings: the carrier must be able to reach it over https";
const ADDRESS: &str = "check the carrier's base address and the account id in the settings";

/// Sorts an error by its code, as the carrier's error pages describe it (its error dictionary; meanings of 21211,
/// 21408, 21268, 20003 and 30002 read there, the split of the sender codes in its changelog of 10 July 2024).
fn known(code: i64) -> Option<Sort> {
    use NumberTrouble::{Invalid, NoRoute, NotMobile, OptedOut};
    Some(match code {
        20429 | 21611 | 30001 => Sort::Slow,
        21610 => Sort::Number(OptedOut),
        21211 | 21217 => Sort::Number(Invalid),
        21614 | 21635 => Sort::Number(NotMobile),
        21408 | 21608 | 21612 | 21268 => Sort::Number(NoRoute),
        21602 | 21604 | 21617 => Sort::Message,
        10001 | 20003 | 20005 | 30002 => Sort::Everything(CREDENTIALS),
        21603 | 21606 | 21659 | 21660 | 21661 => Sort::Everything(SENDER),
        21609 => Sort::Everything(CALLBACK),
        20404 => Sort::Everything(ADDRESS),
        _ => return None,
    })
}

/// The carrier's error answer, as far as it is used. Unknown fields are passed over.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Answer {
    code: Option<serde_json::Value>,
    message: Option<String>,
}

impl Answer {
    fn read(body: &str) -> Self {
        serde_json::from_str(body).unwrap_or_default()
    }

    fn code(&self) -> Option<i64> {
        match self.code.as_ref()? {
            serde_json::Value::Number(number) => number.as_i64(),
            serde_json::Value::String(text) => text.trim().parse().ok(),
            _ => None,
        }
    }

    fn why(&self, status: u16) -> String {
        let said = match self.message.as_deref().map(str::trim) {
            Some(words) if !words.is_empty() => plain(words),
            _ => "no reason given".to_owned(),
        };
        match self.code() {
            Some(code) => format!("{said} (HTTP {status}, carrier error {code})"),
            None => format!("{said} (HTTP {status})"),
        }
    }
}

/// Sorts the carrier's answer to a request to send, when it is not a plain acceptance.
///
/// `status` is the HTTP status, `body` the answer's text, `retry_after` the wait that the answer names (see
/// [`retry_after`]). A 429 was never processed and may be sent again; a 5xx may have sent the message; an unknown 4xx
/// is not repeated (the carrier's pages on its API's answers and on error 20429).
#[must_use]
pub fn classify(status: u16, body: &str, retry_after: Option<Duration>) -> Refused {
    let answer = Answer::read(body);
    let why = answer.why(status);
    match (status, answer.code()) {
        (429, _) => Refused::Retry { why, after: retry_after },
        // A request timeout is the server's word on what it received, not on what it did.
        (408, _) => Refused::InDoubt { why },
        (400..=499, Some(code)) if known(code).is_some() => sorted(code, why, retry_after),
        (401 | 403, _) => everything(&why, CREDENTIALS),
        // The carrier's own errors have a code: without one, something else answered.
        (404 | 405, None) => everything(&why, ADDRESS),
        (407, _) => everything(&why, "a proxy on the way asks for credentials"),
        (400..=499, code) => Refused::Message { code: code.unwrap_or(i64::from(status)), why },
        _ => Refused::InDoubt { why },
    }
}

fn sorted(code: i64, why: String, after: Option<Duration>) -> Refused {
    match known(code) {
        Some(Sort::Slow) => Refused::Retry { why, after },
        Some(Sort::Number(trouble)) => Refused::Number { code, trouble, why },
        Some(Sort::Everything(mend)) => everything(&why, mend),
        Some(Sort::Message) | None => Refused::Message { code, why },
    }
}

fn everything(why: &str, mend: &str) -> Refused {
    Refused::Everything { why: format!("{why}; {mend}") }
}

/// Why a message that the carrier took did not arrive, sorted by what to do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeliveryTrouble {
    /// The number cannot be reached for good.
    Number(NumberTrouble),
    /// The handset cannot be reached now (off, no service); it may pass. One later attempt, then treat it as
    /// [`NumberTrouble::Unreachable`].
    MayPass,
    /// A network on the way refused this text; the number is not to blame. Other words may pass.
    Content,
    /// Sent faster than the sending number may.
    Slow,
    /// Held back by the receiving side's quiet hours: send it when they are over.
    QuietHours,
    /// The account or its sender registration is at fault: nothing arrives until somebody mends it.
    Everything,
    /// The message's own validity ran out before a network took it.
    Expired,
    /// The carrier does not know, or this code is not known here. One later attempt at most.
    Unknown,
}

impl DeliveryTrouble {
    /// In plain words, for staff.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Number(NumberTrouble::OptedOut) => "this number has opted out of texts",
            Self::Number(NumberTrouble::Invalid) => "this number does not exist",
            Self::Number(NumberTrouble::NotMobile) => "this number cannot take texts",
            Self::Number(NumberTrouble::Unreachable) => "no handset answers at this number",
            Self::Number(NumberTrouble::NoRoute) => "the carrier has no way to this number",
            Self::MayPass => "the phone is off or has no service",
            Self::Content => "a phone network filtered the text out",
            Self::Slow => "texts were sent faster than the number may send",
            Self::QuietHours => "held back by quiet hours where the phone is",
            Self::Everything => "the carrier account or its registration is not in order",
            Self::Expired => "the text was too late to be useful and was dropped",
            Self::Unknown => "the phone network did not say why",
        }
    }
}

/// What the error code of a status callback means (the carrier's error dictionary, its 30001 to 30610 pages).
#[must_use]
pub const fn delivery_trouble(code: i64) -> DeliveryTrouble {
    match code {
        21610 => DeliveryTrouble::Number(NumberTrouble::OptedOut),
        21211 => DeliveryTrouble::Number(NumberTrouble::Invalid),
        21614 | 21635 | 30006 => DeliveryTrouble::Number(NumberTrouble::NotMobile),
        21408 | 21612 => DeliveryTrouble::Number(NumberTrouble::NoRoute),
        30004 | 30005 => DeliveryTrouble::Number(NumberTrouble::Unreachable),
        30003 => DeliveryTrouble::MayPass,
        30007 => DeliveryTrouble::Content,
        30001 | 21611 => DeliveryTrouble::Slow,
        30610 => DeliveryTrouble::QuietHours,
        // 30034 and 30032: the sending number is not registered with the US networks.
        30002 | 30032 | 30034 => DeliveryTrouble::Everything,
        30036 => DeliveryTrouble::Expired,
        _ => DeliveryTrouble::Unknown,
    }
}

/// The wait that a `Retry-After` header asks for: seconds, or a date, which is counted from the answer's own `Date`
/// so that no clock of ours comes into it (RFC 9110 sections 10.2.3 and 6.6.1). A date that is past is no wait.
///
/// `None` when it cannot be read, or is a date and the answer has none to count from.
#[must_use]
pub fn retry_after(value: &str, answered: Option<&str>) -> Option<Duration> {
    let value = value.trim();
    if !value.is_empty() && value.bytes().all(|byte| byte.is_ascii_digit()) {
        // More digits than a u64 holds is still a wait without end, not no wait.
        return Some(Duration::from_secs(value.parse().unwrap_or(u64::MAX)));
    }
    let until = http_date(value)?;
    let answered = http_date(answered?.trim())?;
    Some((until - answered).to_std().unwrap_or_default())
}

/// A date in the three writings of RFC 9110 section 5.6.7.
fn http_date(text: &str) -> Option<DateTime<Utc>> {
    if let Ok(date) = DateTime::parse_from_rfc2822(text) {
        return Some(date.to_utc());
    }
    ["%A, %d-%b-%y %H:%M:%S GMT", "%a %b %e %H:%M:%S %Y"]
        .into_iter()
        .find_map(|form| NaiveDateTime::parse_from_str(text, form).ok())
        .map(|date| date.and_utc())
}

/// Words fit for a log: telephone numbers shortened to their last four digits, no line breaks, not long.
pub(super) fn plain(words: &str) -> String {
    let mut out = String::new();
    let mut run = String::new();
    for character in words.chars().take(WORDS_KEPT).map(|c| if c.is_control() { ' ' } else { c }) {
        if character.is_ascii_digit() {
            run.push(character);
            continue;
        }
        end_run(&mut out, &mut run);
        out.push(character);
    }
    end_run(&mut out, &mut run);
    out
}

fn end_run(out: &mut String, run: &mut String) {
    if run.len() >= NUMBER_DIGITS {
        if out.ends_with('+') {
            out.pop();
        }
        out.push('…');
        out.extend(run.chars().skip(run.len() - 4));
    } else {
        out.push_str(run);
    }
    run.clear();
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What an answer was sorted into, without its words.
    fn sort(status: u16, body: &str) -> String {
        match classify(status, body, Some(Duration::from_secs(3))) {
            Refused::Retry { after, .. } => format!("retry {}", after.unwrap().as_secs()),
            Refused::InDoubt { .. } => "in doubt".to_owned(),
            Refused::Number { code, trouble, .. } => format!("number {code} {trouble:?}"),
            Refused::Message { code, .. } => format!("message {code}"),
            Refused::Everything { .. } => "everything".to_owned(),
        }
    }

    fn body(code: i64) -> String {
        format!(r#"{{"code": {code}, "message": "reason", "more_info": "x", "status": 400}}"#)
    }

    /// The carrier's error pages for each code; the class beside it is the one its page implies.
    #[test]
    fn answers_are_sorted_by_what_to_do_next() {
        let table = [
            (400, 21610, "number 21610 OptedOut"),
            (403, 21610, "number 21610 OptedOut"),
            (400, 21211, "number 21211 Invalid"),
            (400, 21614, "number 21614 NotMobile"),
            (400, 21635, "number 21635 NotMobile"),
            (400, 21612, "number 21612 NoRoute"),
            (400, 21408, "number 21408 NoRoute"),
            (403, 21408, "number 21408 NoRoute"),
            (400, 21602, "message 21602"),
            (400, 21617, "message 21617"),
            (400, 21606, "everything"),
            (400, 21660, "everything"),
            (400, 21609, "everything"),
            (401, 20003, "everything"),
            (403, 20005, "everything"),
            (400, 30002, "everything"),
            (404, 20404, "everything"),
            (429, 20429, "retry 3"),
            (400, 20429, "retry 3"),
            (400, 21611, "retry 3"),
            (429, 21611, "retry 3"),
            (500, 20500, "in doubt"),
            (503, 20503, "in doubt"),
            // Whatever its code says, a 5xx may have gone out.
            (500, 20429, "in doubt"),
            (503, 21610, "in doubt"),
            (400, 99_999, "message 99999"),
            (409, 99_999, "message 99999"),
            (418, 99_999, "message 99999"),
            (403, 99_999, "everything"),
            (408, 99_999, "in doubt"),
        ];
        for (status, code, expected) in table {
            assert_eq!(sort(status, &body(code)), expected, "HTTP {status}, code {code}");
        }
    }

    #[test]
    fn answers_that_are_not_the_carriers_are_sorted_by_status_alone() {
        let table = [
            (200, "", "in doubt"),
            (201, "<html>", "in doubt"),
            (302, "", "in doubt"),
            (400, "", "message 400"),
            (400, "[1, 2]", "message 400"),
            (400, r#"{"code": null}"#, "message 400"),
            (400, r#"{"code": "21610"}"#, "number 21610 OptedOut"),
            (401, "<html>", "everything"),
            (404, "<html>", "everything"),
            (407, "", "everything"),
            (429, "", "retry 3"),
            (500, "", "in doubt"),
            (502, "<html>bad gateway", "in doubt"),
            (599, "", "in doubt"),
        ];
        for (status, body, expected) in table {
            assert_eq!(sort(status, body), expected, "HTTP {status}, {body:?}");
        }
    }

    #[test]
    fn a_halt_says_how_to_mend_it() {
        let Refused::Everything { why } = classify(401, &body(20003), None) else { panic!() };
        assert!(why.contains("20003") && why.contains("account id and its token"), "{why}");
    }

    #[test]
    fn a_reason_never_holds_a_whole_number() {
        let body = r#"{"code": 21211, "message": "The 'To' number +13125550123 is\nnot valid: 3125550123."}"#;
        let refused = classify(400, body, None);
        assert_eq!(
            refused.to_string(),
            "this number cannot be written to (21211): The 'To' number …0123 is not valid: …0123. \
             (HTTP 400, carrier error 21211)"
        );
    }

    /// The carrier's error pages for delivery errors.
    #[test]
    fn delivery_errors_are_sorted() {
        use NumberTrouble::{NotMobile, OptedOut, Unreachable};
        let table = [
            (30001, DeliveryTrouble::Slow),
            (30002, DeliveryTrouble::Everything),
            (30003, DeliveryTrouble::MayPass),
            (30004, DeliveryTrouble::Number(Unreachable)),
            (30005, DeliveryTrouble::Number(Unreachable)),
            (30006, DeliveryTrouble::Number(NotMobile)),
            (30007, DeliveryTrouble::Content),
            (30008, DeliveryTrouble::Unknown),
            (30610, DeliveryTrouble::QuietHours),
            (21610, DeliveryTrouble::Number(OptedOut)),
            (12, DeliveryTrouble::Unknown),
        ];
        for (code, expected) in table {
            assert_eq!(delivery_trouble(code), expected, "code {code}");
        }
    }

    /// The three date writings are those of RFC 9110 section 5.6.7.
    #[test]
    fn retry_after_is_seconds_or_a_date() {
        let answered = Some("Sun, 06 Nov 1994 08:49:07 GMT");
        let table = [
            ("0", Some(0)),
            (" 120 ", Some(120)),
            ("99999999999999999999999", Some(u64::MAX)),
            ("Sun, 06 Nov 1994 08:49:37 GMT", Some(30)),
            ("Sunday, 06-Nov-94 08:49:37 GMT", Some(30)),
            ("Sun Nov  6 08:49:37 1994", Some(30)),
            ("Sun, 06 Nov 1994 08:48:37 GMT", Some(0)),
            ("", None),
            ("-3", None),
            ("1.5", None),
            ("soon", None),
        ];
        for (value, expected) in table {
            let wait = retry_after(value, answered).map(|wait| wait.as_secs());
            assert_eq!(wait, expected, "{value:?}");
        }
        assert_eq!(retry_after("Sun, 06 Nov 1994 08:49:37 GMT", None), None);
        assert_eq!(retry_after("7", None), Some(Duration::from_secs(7)));
    }
}
