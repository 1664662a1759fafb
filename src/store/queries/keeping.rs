//! What is deleted: by age, or on an athlete's request.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use crate::store::rows::ProgramRow;
use crate::store::{Result, Tx, list};
use crate::trade::roster::{Athlete, AthleteId, Guardian, Guardianship, ProgramId};
use crate::trade::time::Moment;

/// A statement that deletes what is older than `$2`.
#[derive(Debug, Clone, Copy)]
pub enum Old {
    /// A moment.
    At(&'static str),
    /// A local day.
    Day(&'static str),
}

impl Tx {
    /// The head of a program's record, without its lock.
    pub async fn record_head(&mut self, program: &ProgramId) -> Result<ProgramRow> {
        let new = ProgramRow { program: program.clone(), record_seq: 0, record_hash: String::new() };
        Ok(self.find("WHERE program = $1", args![program]).await?.unwrap_or(new))
    }

    /// Deletes what is older. How many rows that were.
    pub async fn purge(&mut self, old: Old, program: &ProgramId, before: (Moment, NaiveDate)) -> Result<u64> {
        match old {
            Old::At(sql) => self.execute(sql, args![program, before.0]).await,
            Old::Day(sql) => self.execute(sql, args![program, before.1]).await,
        }
    }

    /// The identifiers and numbers that are an athlete's own: theirs, and those of guardians who answer for nobody else. A
    /// number that others have too is not.
    pub async fn own_ids(&mut self, program: &ProgramId, athlete: &AthleteId) -> Result<BTreeSet<String>> {
        let mut ids = BTreeSet::from([athlete.0.clone()]);
        let ties: Vec<Guardianship> = self.select("WHERE program = $1", args![program]).await?;
        let alone = |guardian: &str| {
            ties.iter().any(|tie| tie.guardian.as_str() == guardian && tie.athlete == *athlete)
                && ties.iter().all(|tie| tie.guardian.as_str() != guardian || tie.athlete == *athlete)
        };
        let guardians: Vec<Guardian> = self.select("WHERE program = $1", args![program]).await?;
        let athletes: Vec<Athlete> = self.select("WHERE program = $1", args![program]).await?;
        let staff = self.all_staff(program).await?;
        let (own, others): (Vec<Guardian>, Vec<Guardian>) =
            guardians.into_iter().partition(|guardian| alone(guardian.id.as_str()));
        ids.extend(own.iter().map(|guardian| guardian.id.0.clone()));
        let phones = own.iter().filter_map(|guardian| guardian.phone.clone());
        let theirs = athletes.iter().filter(|person| person.id == *athlete).filter_map(|person| person.phone.clone());
        let shared = |phone: &crate::trade::phone::Phone| {
            others.iter().any(|other| other.phone.as_ref() == Some(phone))
                || athletes.iter().any(|other| other.id != *athlete && other.phone.as_ref() == Some(phone))
                || staff.iter().any(|member| member.phone.as_ref() == Some(phone))
        };
        let mut phones: Vec<_> = phones.chain(theirs).collect();
        phones.retain(|phone| !shared(phone));
        ids.extend(phones.iter().map(|phone| phone.as_str().to_owned()));
        ids.extend(own.into_iter().filter_map(|guardian| guardian.email));
        Ok(ids)
    }

    /// Deletes what is an athlete's own. `ids`: what [`Tx::own_ids`] found. Rows by table.
    pub async fn forget(
        &mut self,
        program: &ProgramId,
        athlete: &AthleteId,
        ids: &BTreeSet<String>,
    ) -> Result<Vec<(&'static str, u64)>> {
        let own = || list(ids.iter().map(String::as_str));
        // Before the rows that they are found by.
        let mut rows = Vec::new();
        for (table, sql) in BY_IDS {
            rows.push((*table, self.execute(sql, args![program, own()]).await?));
        }
        for (table, sql) in BY_ATHLETE {
            rows.push((*table, self.execute(sql, args![program, athlete.as_str()]).await?));
        }
        let mut sums: std::collections::BTreeMap<&'static str, u64> = std::collections::BTreeMap::new();
        for (table, count) in rows {
            *sums.entry(table).or_default() += count;
        }
        Ok(sums.into_iter().filter(|(_, count)| *count > 0).collect())
    }
}

/// Statements over identifiers and numbers (`$2`: a JSON list).
const BY_IDS: &[(&str, &str)] = &[
    (
        "interpretation",
        "DELETE FROM interpretation WHERE program = $1 AND EXISTS (SELECT 1 FROM item WHERE item.program = $1 \
      AND item.athlete IN LIST($2) AND interpretation.id LIKE item.id || '/%')",
    ),
    ("consent", "DELETE FROM consent WHERE program = $1 AND person IN LIST($2)"),
    ("consent_ask", "DELETE FROM consent_ask WHERE program = $1 AND person IN LIST($2)"),
    ("guardian", "DELETE FROM guardian WHERE program = $1 AND id IN LIST($2)"),
    ("notice", "DELETE FROM notice WHERE program = $1 AND guardian IN LIST($2)"),
    ("mail", "DELETE FROM mail WHERE program = $1 AND guardian IN LIST($2)"),
    ("address", "DELETE FROM address WHERE program = $1 AND address IN LIST($2)"),
    ("number", "DELETE FROM number WHERE program = $1 AND phone IN LIST($2)"),
    ("inbox", "DELETE FROM inbox WHERE program = $1 AND phone IN LIST($2)"),
    ("outbox", "DELETE FROM outbox WHERE program = $1 AND phone IN LIST($2)"),
    ("chat_link", "DELETE FROM chat_link WHERE program = $1 AND person IN LIST($2)"),
    ("chat_code", "DELETE FROM chat_code WHERE program = $1 AND person IN LIST($2)"),
];

/// Statements over the athlete (`$2`).
const BY_ATHLETE: &[(&str, &str)] = &[
    ("guardianship", "DELETE FROM guardianship WHERE program = $1 AND athlete = $2"),
    ("family_choice", "DELETE FROM family_choice WHERE program = $1 AND athlete = $2"),
    ("morning_check", "DELETE FROM morning_check WHERE program = $1 AND athlete = $2"),
    ("item", "DELETE FROM item WHERE program = $1 AND athlete = $2"),
    ("hold", "DELETE FROM hold WHERE program = $1 AND athlete = $2"),
    ("course_entry", "DELETE FROM course_entry WHERE program = $1 AND athlete = $2"),
    ("clearance", "DELETE FROM clearance WHERE program = $1 AND athlete = $2"),
    ("course", "DELETE FROM course WHERE program = $1 AND athlete = $2"),
    ("check_in", "DELETE FROM check_in WHERE program = $1 AND athlete = $2"),
    ("notice", "DELETE FROM notice WHERE program = $1 AND athlete = $2"),
    ("mail", "DELETE FROM mail WHERE program = $1 AND athlete = $2"),
    ("outbox", "DELETE FROM outbox WHERE program = $1 AND athlete = $2"),
    ("inbox", "DELETE FROM inbox WHERE program = $1 AND athletes = '[\"' || $2 || '\"]'"),
    ("chat_post", "DELETE FROM chat_post WHERE program = $1 AND athlete = $2"),
    ("happening", "DELETE FROM happening WHERE program = $1 AND ('/' || id || '/') LIKE '%/' || $2 || '/%'"),
    ("helmet", "UPDATE helmet SET athlete = NULL WHERE program = $1 AND athlete = $2"),
    ("athlete", "DELETE FROM athlete WHERE program = $1 AND id = $2"),
];
