//! What is kept, for how long, and what is given out: the record verified and exported, old data purged, an athlete's data
//! deleted on request. The record itself is never shortened: erased lines keep their place and hash, and are counted.

use std::collections::BTreeSet;

use chrono::{NaiveDate, TimeDelta};

use super::record::{Broken, ERASED, Holds, erase, is_about, ranges, verify};
use super::{Desk, DeskError, load};
use crate::config::Keeping;
use crate::store::queries::keeping::Old;
use crate::store::rows::RecordLine;
use crate::trade::roster::{AthleteId, ProgramId};
use crate::trade::time::{Moment, resolve};

/// What is purged of one kind of data, or would be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Purged {
    /// What: "texts", "morning checks".
    pub kind: &'static str,
    /// For how many days it is kept; none: for ever.
    pub days: Option<i64>,
    /// Rows older than that.
    pub rows: u64,
}

/// What is deleted of an athlete, or would be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Forgotten {
    /// The athlete.
    pub who: String,
    /// Rows by table.
    pub rows: Vec<(&'static str, u64)>,
    /// Lines of the record whose words are erased.
    pub lines: Vec<i64>,
}

/// Why nothing is deleted.
#[derive(Debug, thiserror::Error)]
pub enum NotForgotten {
    /// There is no such athlete.
    #[error("there is no athlete `{0}`")]
    Unknown(AthleteId),
    /// Held for a body reason: what keeps an athlete safe is not deleted.
    #[error("`{0}` is held for a body reason; end the hold by a clearance first")]
    Held(AthleteId),
    /// The desk failed.
    #[error(transparent)]
    Desk(#[from] DeskError),
}

impl From<crate::store::StoreError> for NotForgotten {
    fn from(error: crate::store::StoreError) -> Self {
        Self::Desk(error.into())
    }
}

impl Desk {
    /// Whether the record holds, from its first line to its head.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn verify_record(&self, program: &ProgramId) -> Result<Result<Holds, Broken>, DeskError> {
        self.program(program)?;
        let mut tx = self.store().read().await?;
        let lines = tx.record(program).await?;
        let head = tx.record_head(program).await?;
        Ok(verify(&lines, &head))
    }

    /// Lines of the record from one local day to another, both included; of one athlete, or all.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn record_lines(
        &self,
        program: &ProgramId,
        athlete: Option<&AthleteId>,
        (from, to): (Option<NaiveDate>, Option<NaiveDate>),
    ) -> Result<Vec<RecordLine>, DeskError> {
        let zone = self.program(program)?.zone;
        let mut tx = self.store().read().await?;
        let mut lines = tx.record(program).await?;
        lines.retain(|line| {
            let day = line.at.date(zone);
            from.is_none_or(|from| day >= from) && to.is_none_or(|to| day <= to)
        });
        if let Some(athlete) = athlete {
            let ids = tx.own_ids(program, athlete).await?;
            // A line about a text of theirs is theirs, whoever it names.
            let own: BTreeSet<String> =
                lines.iter().filter(|line| is_about(line, &ids)).filter_map(|line| line.message.clone()).collect();
            lines.retain(|line| {
                is_about(line, &ids) || line.message.as_ref().is_some_and(|message| own.contains(message))
            });
        }
        Ok(lines)
    }

    /// Deletes what is older than it is kept; with `dry_run` says what that would be.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails; then nothing is deleted.
    pub async fn purge(&self, program: &ProgramId, now: Moment, dry_run: bool) -> Result<Vec<Purged>, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let keeping: &Keeping = &settings.keeping;
        let kinds = [
            ("texts and e-mails", keeping.messages_days, MESSAGES),
            ("morning checks and closed items", keeping.checks_days, CHECKS),
            ("notices to families", keeping.notices_days, NOTICES),
            ("ways back and ended holds", keeping.medical_days, MEDICAL),
            ("ended sessions and codes", keeping.sessions_days, SESSIONS),
        ];
        let mut all = Vec::new();
        for (kind, days, statements) in kinds {
            let mut rows = 0;
            if let Some(days) = days {
                let day = scene.today - TimeDelta::days(days);
                let before = resolve(day.and_time(chrono::NaiveTime::MIN), settings.zone);
                for statement in statements {
                    rows += tx.purge(*statement, program, (before, day)).await?;
                }
            }
            all.push(Purged { kind, days, rows });
        }
        if dry_run || all.iter().all(|kind| kind.rows == 0) {
            // Dropped without a commit: nothing is deleted.
            return Ok(all);
        }
        let words: Vec<String> =
            all.iter().filter(|kind| kind.rows > 0).map(|kind| format!("{} {}", kind.rows, kind.kind)).collect();
        scene.note("administrator", "purged", program.as_str(), &words.join("; "), None);
        self.finish(tx, scene).await?;
        Ok(all)
    }

    /// Deletes an athlete's data on request; with `dry_run` says what that would be. The lines of the record keep their place
    /// and hash, and one line says how many were erased and why.
    ///
    /// # Errors
    /// [`NotForgotten`]; then nothing is deleted.
    pub async fn forget(
        &self,
        program: &ProgramId,
        athlete: &AthleteId,
        reason: &str,
        now: Moment,
        dry_run: bool,
    ) -> Result<Forgotten, NotForgotten> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        load::about(&mut tx, &mut scene, &[], BTreeSet::from([athlete.clone()])).await?;
        let Some(person) = scene.athletes.get(athlete).cloned() else {
            return Err(NotForgotten::Unknown(athlete.clone()));
        };
        if scene.is_held_for_body(athlete) {
            return Err(NotForgotten::Held(athlete.clone()));
        }
        let ids = tx.own_ids(program, athlete).await?;
        let record = tx.record(program).await?;
        let own: BTreeSet<String> = record
            .iter()
            .filter(|line| !line.erased && is_about(line, &ids))
            .filter_map(|line| line.message.clone())
            .collect();
        let theirs = |line: &&RecordLine| {
            !line.erased
                && line.what != ERASED
                && (is_about(line, &ids) || line.message.as_ref().is_some_and(|message| own.contains(message)))
        };
        let gone: Vec<RecordLine> = record.iter().filter(theirs).map(erase).collect();
        let lines: Vec<i64> = gone.iter().map(|line| line.seq).collect();
        tx.put(&gone).await?;
        let rows = tx.forget(program, athlete, &ids).await?;
        let forgotten = Forgotten { who: format!("{} {}", person.first, person.last), rows, lines };
        if dry_run {
            return Ok(forgotten);
        }
        let why = format!("{reason}; {} lines: {}", forgotten.lines.len(), ranges(&forgotten.lines));
        scene.note("administrator", ERASED, "an athlete", &why, None);
        // Nothing of the athlete is written back.
        scene.items = super::scene::Kept::default();
        scene.checks = super::scene::Kept::default();
        scene.holds = super::scene::Kept::default();
        self.finish(tx, scene).await?;
        Ok(forgotten)
    }
}

const MESSAGES: &[Old] = &[
    Old::At("DELETE FROM inbox WHERE program = $1 AND received_at < $2 AND handled"),
    Old::At(
        "DELETE FROM outbox WHERE program = $1 AND created_at < $2 AND state IN ('sent', 'delivered', 'failed', 'cancelled', 'missed')",
    ),
    Old::At("DELETE FROM mail WHERE program = $1 AND created_at < $2 AND state IN ('sent', 'failed', 'cancelled')"),
    Old::At("DELETE FROM interpretation WHERE program = $1 AND at < $2"),
    Old::At("DELETE FROM early_status WHERE program = $1 AND at < $2"),
];
const CHECKS: &[Old] = &[
    Old::Day("DELETE FROM morning_check WHERE program = $1 AND date < $2"),
    Old::At("DELETE FROM item WHERE program = $1 AND state = 'closed' AND closed_at < $2"),
];
const NOTICES: &[Old] = &[Old::At(
    "DELETE FROM notice WHERE program = $1 AND made_at < $2 AND state NOT IN ('told', 'again', 'passed_on', 'to_call')",
)];
const MEDICAL: &[Old] = &[
    Old::At(
        "DELETE FROM course_entry WHERE program = $1 AND course IN \
     (SELECT id FROM course WHERE program = $1 AND closed_at IS NOT NULL AND closed_at < $2)",
    ),
    Old::At(
        "DELETE FROM clearance WHERE program = $1 AND course IN \
     (SELECT id FROM course WHERE program = $1 AND closed_at IS NOT NULL AND closed_at < $2)",
    ),
    Old::At("DELETE FROM course WHERE program = $1 AND closed_at IS NOT NULL AND closed_at < $2"),
    Old::Day("DELETE FROM check_in WHERE program = $1 AND date < $2"),
    Old::At("DELETE FROM hold WHERE program = $1 AND closed_at IS NOT NULL AND closed_at < $2"),
];
const SESSIONS: &[Old] = &[
    Old::At("DELETE FROM session WHERE program = $1 AND ends_at < $2"),
    Old::At("DELETE FROM sign_in WHERE program = $1 AND ends_at < $2"),
    Old::At("DELETE FROM chat_code WHERE program = $1 AND expires_at < $2"),
];
