//! Consent as a row records it: who gave it, in which standing, when, how; and for which number it counts.
//!
//! A consent belongs to the number in the same row and to no other. Nothing is inferred toward having consent: a row
//! that says only part of it is a problem, and a minor's own is refused (a minor's needs a guardian's).

use chrono::NaiveDate;

use super::cell::{key, says_none, words};
use super::table::Record;
use super::{Fault, Findings, Frame, when};
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, Consent, ConsentBy};

/// Columns of an athlete's consent.
const CELLS: [&str; 4] = ["consent_by", "consent_standing", "consent_date", "consent_how"];

/// An athlete's consent, when the row records one.
pub(super) fn of_athlete(
    record: Record<'_>,
    athlete: &Athlete,
    frame: &Frame<'_>,
    found: &mut Findings,
) -> Option<Consent> {
    if !is_given(record) {
        return None;
    }
    let name = format!("{} {}", athlete.first, athlete.last);
    let standing = standing(record, &name, found);
    let date = given_on(record, frame, found);
    let how = how(record, found);
    let given_by = giver(record, name, standing, found);
    let given = Given { given_by: given_by?, standing: standing?, given_on: date?, how: how? };
    if given.standing == ConsentBy::Own && !athlete.is_adult(given.given_on) {
        record.problem("consent_standing", minors_own(athlete, given.given_on), found);
        return None;
    }
    build(record, frame, athlete.phone.as_ref(), &athlete.id.0, given, found)
}

fn giver(record: Record<'_>, athlete: String, standing: Option<ConsentBy>, found: &mut Findings) -> Option<String> {
    match (record.owned("consent_by"), standing) {
        (Some(by), Some(ConsentBy::Own)) if standing_word(&by).is_some() => Some(athlete),
        (Some(by), _) => Some(by),
        (None, Some(ConsentBy::Own)) => Some(athlete),
        (None, _) => {
            let what = "the consent does not say who gave it";
            record.problem("consent_by", Fault::new(what, "write the name in `consent_by`"), found);
            None
        }
    }
}

fn minors_own(athlete: &Athlete, given_on: NaiveDate) -> Fault {
    let what = if athlete.born.is_some() {
        format!("the athlete's own consent is dated {given_on}, before the age of majority")
    } else {
        "the athlete's own consent counts only with a date of birth that shows them of age".to_owned()
    };
    Fault::new(what, "record a guardian's consent, or correct the dates")
}

/// A guardian's or staff member's own consent, when the row records one.
pub(super) fn of_adult(
    record: Record<'_>,
    person: (&str, &str),
    phone: Option<&Phone>,
    frame: &Frame<'_>,
    found: &mut Findings,
) -> Option<Consent> {
    if !is_given(record) {
        return None;
    }
    let (given_on, how) = (given_on(record, frame, found), how(record, found));
    let (id, name) = person;
    let given = Given { given_by: name.to_owned(), standing: ConsentBy::Own, given_on: given_on?, how: how? };
    build(record, frame, phone, id, given, found)
}

struct Given {
    given_by: String,
    standing: ConsentBy,
    given_on: NaiveDate,
    how: String,
}

fn build(
    record: Record<'_>,
    frame: &Frame<'_>,
    phone: Option<&Phone>,
    person: &str,
    given: Given,
    found: &mut Findings,
) -> Option<Consent> {
    let Some(phone) = phone else {
        record.note("consent is for a number and the row has none; not recorded", found);
        return None;
    };
    Some(Consent {
        program: frame.program.clone(),
        phone: phone.clone(),
        person: person.to_owned(),
        given_by: given.given_by,
        standing: given.standing,
        given_on: given.given_on,
        how: given.how,
        shown: None,
        words: None,
        at: None,
    })
}

fn is_given(record: Record<'_>) -> bool {
    let refused =
        ["consent_by", "consent_standing", "consent_date"].iter().any(|name| record.text(name).is_some_and(says_none));
    !refused && CELLS.iter().any(|name| record.text(name).is_some())
}

fn given_on(record: Record<'_>, frame: &Frame<'_>, found: &mut Findings) -> Option<NaiveDate> {
    if record.text("consent_date").is_none() {
        let fault = Fault::new("consent without a date does not count", "write the day it was given in `consent_date`");
        record.problem("consent_date", fault, found);
        return None;
    }
    record.read("consent_date", found, |text| past(text, frame))
}

/// A date that is not after the day of the import.
pub(super) fn past(text: &str, frame: &Frame<'_>) -> Result<NaiveDate, Fault> {
    not_after_today(when::date(text)?, frame)
}

/// The date, unless it is after the day of the import.
pub(super) fn not_after_today(date: NaiveDate, frame: &Frame<'_>) -> Result<NaiveDate, Fault> {
    if date <= frame.now.date(frame.zone) {
        return Ok(date);
    }
    Err(Fault::new(format!("{date} is in the future"), "correct the date"))
}

fn how(record: Record<'_>, found: &mut Findings) -> Option<String> {
    if record.text("consent_how").is_none() {
        let fault = Fault::new(
            "the consent does not say how it was given",
            "write `signed form`, `online form` or the like in `consent_how`",
        );
        record.problem("consent_how", fault, found);
    }
    record.owned("consent_how")
}

fn standing(record: Record<'_>, name: &str, found: &mut Findings) -> Option<ConsentBy> {
    if record.text("consent_standing").is_some() {
        return record.read("consent_standing", found, |text| {
            standing_word(text).ok_or_else(|| {
                Fault::new(format!("`{text}` is not a standing"), "write guardian, or own for an athlete of age")
            })
        });
    }
    let by = record.text("consent_by").unwrap_or_default();
    let told = standing_word(by).or_else(|| (key(by) == key(name)).then_some(ConsentBy::Own));
    if told.is_none() {
        let fault = Fault::new(
            "the consent does not say in which standing it was given",
            "write guardian, or own for an athlete of age, in `consent_standing`",
        );
        record.problem("consent_standing", fault, found);
    }
    told
}

/// The standing that a word names: "Rosa Vega (mother)" is a guardian. Kin who need not be guardians name none.
fn standing_word(text: &str) -> Option<ConsentBy> {
    let own = ["own", "self", "myself", "athlete", "player", "adult", "propio", "propia"];
    let guardian = [
        "guardian",
        "guardians",
        "parent",
        "parents",
        "mother",
        "father",
        "mom",
        "mum",
        "dad",
        "madre",
        "padre",
        "mama",
        "papa",
        "tutor",
        "tutora",
    ];
    let words = words(text);
    let says = |known: &[&str]| words.iter().any(|word| known.contains(&word.as_str()));
    match (says(&guardian), words.as_slice()) {
        (true, _) => Some(ConsentBy::Guardian),
        (false, [word]) if own.contains(&word.as_str()) => Some(ConsentBy::Own),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn standing_is_read_and_never_guessed() {
        assert_eq!(standing_word("Rosa Vega (mother)"), Some(ConsentBy::Guardian));
        assert_eq!(standing_word("Legal guardian"), Some(ConsentBy::Guardian));
        assert_eq!(standing_word("Mamá"), Some(ConsentBy::Guardian));
        assert_eq!(standing_word("self"), Some(ConsentBy::Own));
        for text in ["aunt", "Rosa Vega", "coach", "", "adult brother"] {
            assert_eq!(standing_word(text), None, "{text}");
        }
    }
}
