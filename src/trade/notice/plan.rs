//! Who of a family hears a piece of news.

use super::{News, Rules, Way};
use crate::trade::phone::Phone;
use crate::trade::roster::{Guardian, GuardianId};

/// A guardian, and whether they can be written to.
#[derive(Debug, Clone)]
pub struct Candidate<'a> {
    /// Who.
    pub guardian: &'a Guardian,
    /// Why no text may go to them, if none may: no number, no consent, opted out, wrong number, number fails.
    pub no_text: Option<&'static str>,
    /// Why no e-mail may go to them, if none may.
    pub no_mail: Option<&'static str>,
}

/// What becomes of one guardian.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Decision {
    /// Hears by these.
    Tell {
        /// By text to this number.
        phone: Option<Phone>,
        /// By e-mail to this address.
        email: Option<String>,
    },
    /// Would hear, and cannot be written to.
    Cannot(String),
}

/// What becomes of a family.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Plan {
    /// Each guardian who hears, or would.
    pub each: Vec<(GuardianId, Decision)>,
    /// Whether somebody of those who want this kind can be told.
    pub anybody: bool,
}

impl Candidate<'_> {
    fn decision(&self) -> Decision {
        let guardian = self.guardian;
        let way = guardian.hears_by();
        let by_text = matches!(way, Way::Text | Way::Both);
        let by_mail = matches!(way, Way::Email | Way::Both);
        let phone = guardian.phone.clone().filter(|_| by_text && self.no_text.is_none());
        let email = guardian.email.clone().filter(|_| by_mail && self.no_mail.is_none());
        if phone.is_some() || email.is_some() {
            return Decision::Tell { phone, email };
        }
        let no_text = by_text.then(|| self.no_text.unwrap_or("no number"));
        let no_mail = by_mail.then(|| self.no_mail.unwrap_or("no e-mail address"));
        let why: Vec<&str> = no_text.into_iter().chain(no_mail).collect();
        Decision::Cannot(why.join(", "))
    }
}

/// Who of a family hears a piece of news now. Those who stand in for others hear when `stand_ins` asks for them, or when
/// nobody else can be told.
#[must_use]
pub fn plan(news: News, rules: &Rules, family: &[Candidate<'_>], stand_ins: bool) -> Plan {
    if !rules.tell(news) {
        return Plan::default();
    }
    let wanting: Vec<&Candidate<'_>> =
        family.iter().filter(|candidate| candidate.guardian.wants(news.kind())).collect();
    let decide = |backup: bool| {
        wanting
            .iter()
            .filter(move |candidate| candidate.guardian.backup == backup)
            .map(|candidate| (candidate.guardian.id.clone(), candidate.decision()))
    };
    let can = |each: &[(GuardianId, Decision)]| each.iter().any(|(_, how)| matches!(how, Decision::Tell { .. }));
    let mut each: Vec<(GuardianId, Decision)> = decide(false).collect();
    if stand_ins || !can(&each) {
        each.extend(decide(true));
    }
    Plan { anybody: can(&each), each }
}
