//! Families on the board: what guardians were told and whether they know, and who has not agreed to texts.

use std::collections::BTreeSet;

use chrono::TimeDelta;
use serde::Serialize;

use super::{Viewer, when};
use crate::desk::{Desk, DeskError, load};
use crate::trade::notice::ConsentAsk;
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, Consent, Guardian, ProgramId};
use crate::trade::time::Moment;

/// Notices are shown so far back.
const SHOWN: TimeDelta = TimeDelta::days(30);

/// One notice to one guardian.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NoticeRow {
    /// "#12 Jonah".
    pub who: String,
    /// "Rosa Vega".
    pub guardian: String,
    /// What it said, in a few words.
    pub what: &'static str,
    /// Where it stands.
    pub state: &'static str,
    /// Why it did not reach them, when it did not.
    pub why: Option<String>,
    /// When it was made.
    pub at: String,
    /// An answer is waited for.
    pub waits: bool,
}

/// Somebody who has not agreed to texts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NoConsent {
    /// The identifier that the form sends.
    pub id: String,
    /// "#12 Jonah Vega", or "Rosa Vega, guardian".
    pub who: String,
    /// What is known: "no phone", "never asked", "asked on Sep 15, no answer", "said no on Sep 15".
    pub state: String,
    /// Whether they may be asked by text.
    pub may_ask: bool,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FamiliesView {
    /// Notices of the last weeks, those that wait for an answer first.
    pub notices: Vec<NoticeRow>,
    /// Who has not agreed to texts.
    pub without: Vec<NoConsent>,
    /// How many have.
    pub agreed: usize,
    /// Who opted out, or whose number is wrong: "Rosa Vega: opted out since Sep 15".
    pub stopped: Vec<String>,
}

impl Desk {
    /// The page of families.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_families(
        &self,
        program: &ProgramId,
        viewer: Viewer<'_>,
        now: Moment,
    ) -> Result<FamiliesView, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().read().await?;
        let scene = load::look(&mut tx, settings, self.wording(settings), now).await?;
        let athletes: Vec<Athlete> =
            tx.all_athletes(program).await?.into_iter().filter(|person| person.active).collect();
        let athletes: Vec<Athlete> = athletes.into_iter().filter(|person| viewer.sees(Some(&person.team))).collect();
        let ids: BTreeSet<&str> = athletes.iter().map(|person| person.id.as_str()).collect();
        let ties = tx.all_guardianships(program).await?;
        let theirs: BTreeSet<&str> =
            ties.iter().filter(|tie| ids.contains(tie.athlete.as_str())).map(|tie| tie.guardian.as_str()).collect();
        let guardians: Vec<Guardian> =
            tx.all_guardians(program).await?.into_iter().filter(|person| theirs.contains(person.id.as_str())).collect();
        let consents = tx.all_consents(program).await?;
        let asks = tx.all_consent_asks(program).await?;
        let notices = tx.notices_since(program, now.minus(SHOWN)).await?;
        let phones: BTreeSet<Phone> = athletes
            .iter()
            .filter_map(|person| person.phone.clone())
            .chain(guardians.iter().filter_map(|person| person.phone.clone()))
            .collect();
        let numbers = tx.numbers_of(program, &phones).await?;

        let mut rows: Vec<(Moment, NoticeRow)> = notices
            .iter()
            .filter_map(|notice| {
                let person = athletes.iter().find(|person| person.id == notice.athlete)?;
                let guardian = guardians.iter().find(|guardian| guardian.id == notice.guardian);
                let row = NoticeRow {
                    who: person.short(),
                    guardian: guardian.map_or_else(
                        || notice.guardian.0.clone(),
                        |guardian| format!("{} {}", guardian.first, guardian.last),
                    ),
                    what: notice.news.words(),
                    state: notice.state.words(),
                    why: notice.why.clone(),
                    at: when(notice.made_at, now, settings),
                    waits: notice.news.wants_answer() && notice.state.waits(),
                };
                Some((notice.made_at, row))
            })
            .collect();
        rows.sort_by_key(|(at, row)| (!row.waits, std::cmp::Reverse(*at)));

        let zone = settings.zone;
        let stand = |id: &str, phone: Option<&Phone>, has: bool| standing(id, phone, has, &asks, zone);
        let mut without = Vec::new();
        let mut agreed = 0;
        for person in &athletes {
            let has = consents.iter().any(|consent| person.consented(consent));
            match stand(person.id.as_str(), person.phone.as_ref(), has) {
                None => agreed += 1,
                Some((state, may_ask)) => without.push(NoConsent {
                    id: person.id.0.clone(),
                    who: format!("{} {}", person.short(), person.last),
                    state,
                    may_ask,
                }),
            }
        }
        for person in &guardians {
            let has = consents.iter().any(|consent| is_theirs(consent, person));
            match stand(person.id.as_str(), person.phone.as_ref(), has) {
                None => agreed += 1,
                Some((state, may_ask)) => without.push(NoConsent {
                    id: person.id.0.clone(),
                    who: format!("{} {}, guardian", person.first, person.last),
                    state,
                    may_ask,
                }),
            }
        }
        let name_at = |phone: &Phone| {
            let theirs = athletes.iter().filter(|person| person.phone.as_ref() == Some(phone)).map(Athlete::short);
            let guardians = guardians
                .iter()
                .filter(|person| person.phone.as_ref() == Some(phone))
                .map(|person| format!("{} {}", person.first, person.last));
            theirs.chain(guardians).collect::<Vec<_>>().join(" and ")
        };
        let stopped = numbers
            .iter()
            .filter_map(|number| {
                let (what, at) = match (number.opted_out_at, number.wrong_at, &number.trouble) {
                    (Some(at), ..) => ("opted out of texts", Some(at)),
                    (None, Some(at), _) => ("wrong number", Some(at)),
                    (None, None, Some(_)) => ("the number does not take texts", number.trouble_at),
                    (None, None, None) => return None,
                };
                let since = at.map(|at| format!(", since {}", when(at, now, settings))).unwrap_or_default();
                Some(format!("{}: {what}{since}", name_at(&number.phone)))
            })
            .collect();
        drop(scene);
        Ok(FamiliesView { notices: rows.into_iter().map(|(_, row)| row).collect(), without, agreed, stopped })
    }
}

fn is_theirs(consent: &Consent, person: &Guardian) -> bool {
    consent.person == person.id.0 && Some(&consent.phone) == person.phone.as_ref()
}

/// Why there is no consent, and whether it may be asked for by text; none when there is one.
fn standing(
    id: &str,
    phone: Option<&Phone>,
    has: bool,
    asks: &[ConsentAsk],
    zone: chrono_tz::Tz,
) -> Option<(String, bool)> {
    let Some(phone) = phone.filter(|_| !has) else {
        return (!has).then(|| ("no phone".to_owned(), false));
    };
    let ask = asks.iter().rfind(|ask| ask.person == id && ask.phone == *phone);
    let Some(ask) = ask else { return Some(("never asked".to_owned(), true)) };
    let day = |at: Moment| at.date(zone).format("%b %-d").to_string();
    let state = match (ask.agreed, ask.answered_at) {
        (Some(false), Some(at)) => format!("said no on {}", day(at)),
        (Some(true), Some(at)) => format!("agreed on {} and withdrew it", day(at)),
        _ => format!("asked on {}, no answer", day(ask.asked_at)),
    };
    Some((state, false))
}
