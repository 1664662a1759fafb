//! What follows from drills, kits, helmets and clearances rather than from an event's day: the second source of what is
//! due. Each area says what it would remind of and when; here each is done once, in a transaction of its own, under its
//! natural key, or noted as missed.

use std::collections::BTreeSet;

use super::morning::TickReport;
use super::scene::Scene;
use super::{Desk, DeskError, load};
use crate::config::Program;
use crate::store::Tx;
use crate::store::rows::Happening;
use crate::trade::time::Moment;

/// Something that an area would remind of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reminder<T> {
    /// Natural key: kind, subject and day.
    pub key: String,
    /// When it is due.
    pub at: Moment,
    /// From when on it is of no use any more.
    pub until: Moment,
    /// What it is, in the area's own words.
    pub what: T,
}

/// A reminder that is being done: the program's lock is held, staff and the events around today are loaded.
pub(super) struct Open<'a> {
    /// The transaction.
    pub(super) tx: Tx,
    /// What the decision sees and changes.
    pub(super) scene: Scene<'a>,
}

impl Desk {
    /// Does all reminders that are due. Each area has a line here, and one in [`Desk::next_reminders`].
    pub(super) async fn remind(
        &self,
        program: &Program,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        self.remind_of_drills(program, now, report).await?;
        self.remind_of_kits(program, now, report).await?;
        self.remind_of_helmets(program, now, report).await?;
        self.remind_of_clearances(program, now, report).await?;
        self.remind_of_notices(program, now, report).await?;
        Ok(())
    }

    /// When each area's next reminder is due.
    pub(super) async fn next_reminders(&self, program: &Program, now: Moment) -> Result<Vec<Moment>, DeskError> {
        let mut all = self.next_drill_reminders(program, now).await?;
        all.extend(self.next_kit_reminders(program, now).await?);
        all.extend(self.next_helmet_reminders(program, now).await?);
        all.extend(self.next_clearance_reminders(program, now).await?);
        all.extend(self.next_notice_reminders(program, now).await?);
        Ok(all)
    }

    /// Those that are due and have not happened, the earliest first.
    pub(super) async fn not_done<T>(
        &self,
        program: &Program,
        reminders: Vec<Reminder<T>>,
        now: Moment,
    ) -> Result<Vec<Reminder<T>>, DeskError> {
        let mut due: Vec<Reminder<T>> = reminders.into_iter().filter(|reminder| reminder.at <= now).collect();
        if due.is_empty() {
            return Ok(due);
        }
        let mut tx = self.store().read().await?;
        let keys: Vec<&str> = due.iter().map(|reminder| reminder.key.as_str()).collect();
        let done: BTreeSet<String> = tx.happened(&program.id, &keys).await?.into_iter().map(|row| row.id).collect();
        // What was over before the program knew of anything was never its to do.
        let known_since = tx.record_begins(&program.id).await?.unwrap_or(now);
        due.retain(|reminder| reminder.until > known_since && !done.contains(&reminder.key));
        due.sort_by(|a, b| (a.at, &a.key).cmp(&(b.at, &b.key)));
        Ok(due)
    }

    /// Begins one: none when it has happened meanwhile, or when it is too late for it, which is noted.
    pub(super) async fn open_reminder<'a, T>(
        &'a self,
        program: &'a Program,
        reminder: &Reminder<T>,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<Option<Open<'a>>, DeskError> {
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        if !tx.happened(&program.id, &[&reminder.key]).await?.is_empty() {
            return Ok(None);
        }
        if now < reminder.until {
            return Ok(Some(Open { tx, scene }));
        }
        scene.note("program", "missed", &reminder.key, "the time for it had passed", None);
        scene.happenings.push(happening(program, &reminder.key, now, "missed"));
        self.finish(tx, scene).await?;
        report.missed.push(reminder.key.clone());
        Ok(None)
    }

    /// Ends one: what it changed and that it happened are committed together.
    pub(super) async fn close_reminder<T>(
        &self,
        open: Open<'_>,
        reminder: &Reminder<T>,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        let Open { tx, mut scene } = open;
        let row = happening(scene.program, &reminder.key, scene.now, "done");
        scene.happenings.push(row);
        self.finish(tx, scene).await?;
        report.done.push(reminder.key.clone());
        Ok(())
    }
}

fn happening(program: &Program, key: &str, at: Moment, outcome: &str) -> Happening {
    Happening { program: program.id.clone(), id: key.to_owned(), at, outcome: outcome.to_owned() }
}
