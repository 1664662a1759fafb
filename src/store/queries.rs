//! Every query the desk asks, by name. Texts are shared by both engines.

use chrono::NaiveDate;

use super::rows::{
    EarlyStatus, Happening, InMessage, Interpretation, Number, OutMessage, ProgramRow, RecordLine, Sender,
};
use super::{Result, Tx, list};
use crate::trade::model::Model;
use crate::trade::morning::MorningCheck;
use crate::trade::phone::Phone;
use crate::trade::plan::Closed;
use crate::trade::queue::{Hold, Item};
use crate::trade::roster::{
    Athlete, AthleteId, Consent, Event, EventId, Guardian, Guardianship, Helmet, ProgramId, StaffMember, TeamId,
};
use crate::trade::time::Moment;

macro_rules! args {
    ($($arg:expr),* $(,)?) => { vec![$(crate::store::Arg::from($arg)),*] };
}

pub mod board;
pub mod clearance;
pub mod drills;
pub mod keeping;
pub mod kits;
pub mod notices;

fn phones<'a>(phones: impl IntoIterator<Item = &'a Phone>) -> super::Arg {
    list(phones.into_iter().map(Phone::as_str))
}

fn athletes<'a>(athletes: impl IntoIterator<Item = &'a AthleteId>) -> super::Arg {
    list(athletes.into_iter().map(AthleteId::as_str))
}

impl Tx {
    /// Takes a program's lock for the rest of the transaction, making its row if it is new.
    pub async fn lock_program(&mut self, program: &ProgramId) -> Result<ProgramRow> {
        const BY_KEY: &str = "WHERE program = $1 LOCKED_ROWS";
        if let Some(row) = self.find(BY_KEY, args![program]).await? {
            return Ok(row);
        }
        let new = ProgramRow { program: program.clone(), record_seq: 0, record_hash: String::new() };
        self.insert(std::slice::from_ref(&new)).await?;
        Ok(self.find(BY_KEY, args![program]).await?.unwrap_or(new))
    }

    /// The ids, among these, of messages that are stored already.
    pub async fn inbox_known(&mut self, program: &ProgramId, ids: &[&str]) -> Result<Vec<String>> {
        const SQL: &str = "SELECT id FROM inbox WHERE program = $1 AND id IN LIST($2)";
        self.texts(SQL, args![program, list(ids.iter().copied())]).await
    }

    /// Messages whose consequences are not drawn yet, the oldest first.
    pub async fn inbox_unhandled(&mut self, program: &ProgramId) -> Result<Vec<InMessage>> {
        self.select("WHERE program = $1 AND NOT handled ORDER BY received_at, id LIMIT 100", args![program]).await
    }

    /// Everything heard from a number, the newest last.
    pub async fn inbox_of(&mut self, program: &ProgramId, phone: &Phone) -> Result<Vec<InMessage>> {
        self.select("WHERE program = $1 AND phone = $2 ORDER BY received_at, id", args![program, phone]).await
    }

    /// What is known of these numbers.
    pub async fn numbers_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a Phone>,
    ) -> Result<Vec<Number>> {
        self.select("WHERE program = $1 AND phone IN LIST($2)", args![program, phones(of)]).await
    }

    /// Every number that is stopped or in trouble.
    pub async fn numbers_stopped(&mut self, program: &ProgramId) -> Result<Vec<Number>> {
        self.select(
            "WHERE program = $1 AND (opted_out_at IS NOT NULL OR wrong_at IS NOT NULL OR trouble IS NOT NULL)",
            args![program],
        )
        .await
    }

    /// Active athletes with one of these numbers.
    pub async fn athletes_at<'a>(
        &mut self,
        program: &ProgramId,
        at: impl IntoIterator<Item = &'a Phone>,
    ) -> Result<Vec<Athlete>> {
        self.select("WHERE program = $1 AND phone IN LIST($2) AND active ORDER BY id", args![program, phones(at)]).await
    }

    /// These athletes.
    pub async fn athletes_named<'a>(
        &mut self,
        program: &ProgramId,
        named: impl IntoIterator<Item = &'a AthleteId>,
    ) -> Result<Vec<Athlete>> {
        self.select("WHERE program = $1 AND id IN LIST($2)", args![program, athletes(named)]).await
    }

    /// Active athletes who wear one of these numbers.
    pub async fn athletes_wearing(&mut self, program: &ProgramId, jerseys: &[&str]) -> Result<Vec<Athlete>> {
        self.select(
            "WHERE program = $1 AND jersey IN LIST($2) AND active ORDER BY id",
            args![program, list(jerseys.iter().copied())],
        )
        .await
    }

    /// The active athletes of a team.
    pub async fn roster(&mut self, program: &ProgramId, team: &TeamId) -> Result<Vec<Athlete>> {
        self.select("WHERE program = $1 AND team = $2 AND active ORDER BY id", args![program, team.as_str()]).await
    }

    /// How many active athletes of a team have a number.
    pub async fn roster_with_phone(&mut self, program: &ProgramId, team: &TeamId) -> Result<i64> {
        const SQL: &str =
            "SELECT COUNT(*) FROM athlete WHERE program = $1 AND team = $2 AND active AND phone IS NOT NULL";
        Ok(self.numbers(SQL, args![program, team.as_str()]).await?.pop().unwrap_or(0))
    }

    /// Consents for the athletes of a team and the numbers they have. Number and person together are the key's tail: by
    /// the person alone PostgreSQL walks all of the program's consents for each athlete.
    pub async fn consents_of_team(&mut self, program: &ProgramId, team: &TeamId) -> Result<Vec<Consent>> {
        self.select(
            "WHERE program = $1 AND (phone, person) IN (SELECT phone, id FROM athlete WHERE program = $1 AND team = $2)",
            args![program, team.as_str()],
        )
        .await
    }

    /// Guardians with one of these numbers.
    pub async fn guardians_at<'a>(
        &mut self,
        program: &ProgramId,
        at: impl IntoIterator<Item = &'a Phone>,
    ) -> Result<Vec<Guardian>> {
        self.select("WHERE program = $1 AND phone IN LIST($2) ORDER BY id", args![program, phones(at)]).await
    }

    /// Whom these guardians answer for.
    pub async fn guardianships(&mut self, program: &ProgramId, guardians: &[&str]) -> Result<Vec<Guardianship>> {
        self.select(
            "WHERE program = $1 AND guardian IN LIST($2) ORDER BY athlete",
            args![program, list(guardians.iter().copied())],
        )
        .await
    }

    /// The active staff.
    pub async fn staff(&mut self, program: &ProgramId) -> Result<Vec<StaffMember>> {
        self.select("WHERE program = $1 AND active ORDER BY call_order, id", args![program]).await
    }

    /// Helmets worn by these athletes.
    pub async fn helmets_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
    ) -> Result<Vec<Helmet>> {
        self.select("WHERE program = $1 AND athlete IN LIST($2) ORDER BY tag", args![program, athletes(of)]).await
    }

    /// Events from one date to another, both included.
    pub async fn events(&mut self, program: &ProgramId, from: NaiveDate, to: NaiveDate) -> Result<Vec<Event>> {
        self.select("WHERE program = $1 AND date >= $2 AND date <= $3 ORDER BY starts_at, id", args![program, from, to])
            .await
    }

    /// One event.
    pub async fn event(&mut self, program: &ProgramId, id: &EventId) -> Result<Option<Event>> {
        self.find("WHERE program = $1 AND id = $2", args![program, id.as_str()]).await
    }

    /// Checks of these athletes since a date, the newest last.
    pub async fn checks_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
        since: NaiveDate,
    ) -> Result<Vec<MorningCheck>> {
        self.select(
            "WHERE program = $1 AND athlete IN LIST($2) AND date >= $3 ORDER BY date",
            args![program, athletes(of), since],
        )
        .await
    }

    /// A team's checks of a day.
    pub async fn checks_on(
        &mut self,
        program: &ProgramId,
        team: &TeamId,
        date: NaiveDate,
    ) -> Result<Vec<MorningCheck>> {
        self.select(
            "WHERE program = $1 AND date = $2 AND team = $3 ORDER BY athlete",
            args![program, date, team.as_str()],
        )
        .await
    }

    /// A program's checks of a day.
    pub async fn checks_on_day(&mut self, program: &ProgramId, date: NaiveDate) -> Result<Vec<MorningCheck>> {
        self.select("WHERE program = $1 AND date = $2 ORDER BY athlete", args![program, date]).await
    }

    /// Notes that the carrier took these athletes' check texts.
    pub async fn checks_sent(&mut self, program: &ProgramId, date: NaiveDate, of: &[&str]) -> Result<u64> {
        const SQL: &str = "UPDATE morning_check SET state = 'sent' \
            WHERE program = $1 AND date = $2 AND athlete IN LIST($3) AND state = 'planned'";
        self.execute(SQL, args![program, date, list(of.iter().copied())]).await
    }

    /// Open items of these athletes, and those of these keys.
    pub async fn items_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
        since: NaiveDate,
    ) -> Result<Vec<Item>> {
        self.select(
            "WHERE program = $1 AND athlete IN LIST($2) AND (date >= $3 OR state <> 'closed') ORDER BY opened_at, id",
            args![program, athletes(of), since],
        )
        .await
    }

    /// The items with these keys.
    pub async fn items_keyed(&mut self, program: &ProgramId, keys: &[&str]) -> Result<Vec<Item>> {
        self.select("WHERE program = $1 AND id IN LIST($2)", args![program, list(keys.iter().copied())]).await
    }

    /// Every open item.
    pub async fn items_open(&mut self, program: &ProgramId) -> Result<Vec<Item>> {
        self.select("WHERE program = $1 AND state <> 'closed' ORDER BY opened_at, id", args![program]).await
    }

    /// Items closed since a moment.
    pub async fn items_closed_since(&mut self, program: &ProgramId, since: Moment) -> Result<Vec<Item>> {
        self.select(
            "WHERE program = $1 AND state = 'closed' AND closed_at >= $2 ORDER BY closed_at, id",
            args![program, since],
        )
        .await
    }

    /// How long fixes took: what was off, and the minutes from taking to closing, the newest items first. What waited for
    /// a part says nothing about the work, and what closed itself none either.
    pub async fn fix_times(&mut self, program: &ProgramId) -> Result<Vec<Closed>> {
        const SQL: &str = "SELECT CAST(closed_at - taken_at AS TEXT) || ' ' || flags FROM item WHERE program = $1 \
            AND queue = 'equipment' AND state = 'closed' AND closed_at > taken_at AND closed_by IS NOT NULL \
            AND (about IS NULL OR about NOT LIKE 'needs %') ORDER BY closed_at DESC LIMIT 500";
        let rows = self.texts(SQL, args![program]).await?;
        #[expect(clippy::cast_precision_loss, reason = "minutes of a season")]
        let closed = |row: &String| {
            let (millis, flags) = row.split_once(' ')?;
            let millis: i64 = millis.parse().ok()?;
            Some(Closed { flags: serde_json::from_str(flags).ok()?, minutes: millis as f64 / 60_000.0 })
        };
        Ok(rows.iter().filter_map(closed).collect())
    }

    /// Open holds of these athletes.
    pub async fn holds_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
    ) -> Result<Vec<Hold>> {
        self.select(
            "WHERE program = $1 AND athlete IN LIST($2) AND closed_at IS NULL ORDER BY opened_at, id",
            args![program, athletes(of)],
        )
        .await
    }

    /// Every open hold.
    pub async fn holds_open(&mut self, program: &ProgramId) -> Result<Vec<Hold>> {
        self.select("WHERE program = $1 AND closed_at IS NULL ORDER BY opened_at, id", args![program]).await
    }

    /// Which of these scheduled things are done or given up.
    pub async fn happened(&mut self, program: &ProgramId, keys: &[&str]) -> Result<Vec<Happening>> {
        self.select("WHERE program = $1 AND id IN LIST($2)", args![program, list(keys.iter().copied())]).await
    }

    /// What unclear replies meant by the word of staff, the oldest first.
    pub async fn interpretations(&mut self, program: &ProgramId) -> Result<Vec<Interpretation>> {
        self.select("WHERE program = $1 ORDER BY at, id", args![program]).await
    }

    /// Messages that may go now, in their order, locked against other workers.
    pub async fn outbox_due(&mut self, program: &ProgramId, now: Moment, most: i64) -> Result<Vec<OutMessage>> {
        self.select(
            "WHERE program = $1 AND state = 'due' AND due_at <= $2 AND (send_by IS NULL OR send_by >= $2) \
             ORDER BY priority, due_at, id LIMIT $3 SKIP_LOCKED",
            args![program, now, most],
        )
        .await
    }

    /// Messages whose worker has not been heard of within its lease, locked against other workers.
    pub async fn outbox_abandoned(&mut self, program: &ProgramId, now: Moment, most: i64) -> Result<Vec<OutMessage>> {
        self.select(
            "WHERE program = $1 AND state = 'claimed' AND lease_until <= $2 \
             ORDER BY priority, due_at, id LIMIT $3 SKIP_LOCKED",
            args![program, now, most],
        )
        .await
    }

    /// Messages that this worker still has.
    pub async fn outbox_claimed(&mut self, program: &ProgramId, worker: &str, ids: &[&str]) -> Result<Vec<OutMessage>> {
        self.select(
            "WHERE program = $1 AND id IN LIST($2) AND state = 'claimed' AND claimed_by = $3 LOCKED_ROWS",
            args![program, list(ids.iter().copied()), worker],
        )
        .await
    }

    /// Messages that are too late to be of use, and are not under way.
    pub async fn outbox_too_late(&mut self, program: &ProgramId, now: Moment) -> Result<Vec<OutMessage>> {
        self.select("WHERE program = $1 AND state = 'due' AND send_by < $2 LOCKED_ROWS", args![program, now]).await
    }

    /// How many messages are too late to be of use.
    pub async fn outbox_too_late_count(&mut self, program: &ProgramId, now: Moment) -> Result<i64> {
        const SQL: &str = "SELECT COUNT(*) FROM outbox WHERE program = $1 AND state = 'due' AND send_by < $2";
        Ok(self.numbers(SQL, args![program, now]).await?.pop().unwrap_or(0))
    }

    /// Messages with these carrier ids.
    pub async fn outbox_carried(&mut self, program: &ProgramId, carrier_ids: &[&str]) -> Result<Vec<OutMessage>> {
        self.select(
            "WHERE program = $1 AND carrier_id IN LIST($2) LOCKED_ROWS",
            args![program, list(carrier_ids.iter().copied())],
        )
        .await
    }

    /// Those of these carrier ids that belong to messages of ours.
    pub async fn outbox_carrier_ids(&mut self, program: &ProgramId, carrier_ids: &[&str]) -> Result<Vec<String>> {
        const SQL: &str = "SELECT carrier_id FROM outbox WHERE program = $1 AND carrier_id IN LIST($2)";
        self.texts(SQL, args![program, list(carrier_ids.iter().copied())]).await
    }

    /// Messages of a number, the newest last.
    pub async fn outbox_of(&mut self, program: &ProgramId, phone: &Phone) -> Result<Vec<OutMessage>> {
        self.select("WHERE program = $1 AND phone = $2 ORDER BY created_at, id", args![program, phone]).await
    }

    /// The messages with these keys.
    pub async fn outbox_keyed(&mut self, program: &ProgramId, ids: &[&str]) -> Result<Vec<OutMessage>> {
        self.select("WHERE program = $1 AND id IN LIST($2)", args![program, list(ids.iter().copied())]).await
    }

    /// Every message of a program, in the order of their keys.
    pub async fn outbox_all(&mut self, program: &ProgramId) -> Result<Vec<OutMessage>> {
        self.select("WHERE program = $1 ORDER BY created_at, id", args![program]).await
    }

    /// When the next queued message may go, or the next lease runs out.
    pub async fn outbox_next(&mut self, program: &ProgramId) -> Result<Option<Moment>> {
        const DUE: &str = "SELECT MIN(due_at) FROM outbox WHERE program = $1 AND state = 'due' HAVING COUNT(*) > 0";
        const LEASE: &str =
            "SELECT MIN(lease_until) FROM outbox WHERE program = $1 AND state = 'claimed' HAVING COUNT(*) > 0";
        let due = self.numbers(DUE, args![program]).await?.pop();
        let lease = self.numbers(LEASE, args![program]).await?.pop();
        Ok(due.into_iter().chain(lease).min().map(Moment::from_millis))
    }

    /// Whether a queued message may go now, or a lease has run out.
    pub async fn outbox_ready(&mut self, program: &ProgramId, now: Moment) -> Result<bool> {
        const DUE: &str = "SELECT due_at FROM outbox WHERE program = $1 AND state = 'due' AND due_at <= $2 LIMIT 1";
        const LEASE: &str =
            "SELECT lease_until FROM outbox WHERE program = $1 AND state = 'claimed' AND lease_until <= $2 LIMIT 1";
        Ok(!self.numbers(DUE, args![program, now]).await?.is_empty()
            || !self.numbers(LEASE, args![program, now]).await?.is_empty())
    }

    /// Drops what is queued for a number, but for confirmations of its rights.
    pub async fn cancel_to(&mut self, program: &ProgramId, phone: &Phone) -> Result<u64> {
        const SQL: &str = "UPDATE outbox SET state = 'cancelled' \
            WHERE program = $1 AND phone = $2 AND state = 'due' AND purpose <> 'rights'";
        self.execute(SQL, args![program, phone]).await
    }

    /// Drops queued checks and nudges to these athletes for a day. Returns those dropped.
    pub async fn cancel_checks(
        &mut self,
        program: &ProgramId,
        date: NaiveDate,
        of: &[&str],
        nudges_only: bool,
    ) -> Result<u64> {
        const BOTH: &str = "UPDATE outbox SET state = 'cancelled' WHERE program = $1 AND date = $2 \
            AND athlete IN LIST($3) AND state = 'due' AND purpose IN ('check', 'nudge')";
        const NUDGES: &str = "UPDATE outbox SET state = 'cancelled' WHERE program = $1 AND date = $2 \
            AND athlete IN LIST($3) AND state = 'due' AND purpose = 'nudge'";
        let sql = if nudges_only { NUDGES } else { BOTH };
        self.execute(sql, args![program, date, list(of.iter().copied())]).await
    }

    /// Segments and messages that the carrier took from one moment up to another.
    pub async fn segments_between(&mut self, program: &ProgramId, from: Moment, to: Moment) -> Result<(i64, i64)> {
        const SEGMENTS: &str = "SELECT CAST(COALESCE(SUM(segments), 0) AS BIGINT) FROM outbox \
            WHERE program = $1 AND sent_at >= $2 AND sent_at < $3";
        const MESSAGES: &str = "SELECT COUNT(*) FROM outbox WHERE program = $1 AND sent_at >= $2 AND sent_at < $3";
        let segments = self.numbers(SEGMENTS, args![program, from, to]).await?.pop().unwrap_or(0);
        let messages = self.numbers(MESSAGES, args![program, from, to]).await?.pop().unwrap_or(0);
        Ok((segments, messages))
    }

    /// The sender's pace and state, locked; made if it is new.
    pub async fn lock_sender(&mut self, program: &ProgramId) -> Result<Sender> {
        const BY_KEY: &str = "WHERE program = $1 LOCKED_ROWS";
        if let Some(row) = self.find(BY_KEY, args![program]).await? {
            return Ok(row);
        }
        let new = Sender {
            program: program.clone(),
            next_free_at: Moment::from_millis(0),
            halted_at: None,
            halted_why: None,
        };
        self.insert(std::slice::from_ref(&new)).await?;
        Ok(self.find(BY_KEY, args![program]).await?.unwrap_or(new))
    }

    /// The sender's pace and state.
    pub async fn sender(&mut self, program: &ProgramId) -> Result<Option<Sender>> {
        self.find("WHERE program = $1", args![program]).await
    }

    /// Reports that came before their message was noted as sent.
    pub async fn early_statuses(&mut self, program: &ProgramId, carrier_ids: &[&str]) -> Result<Vec<EarlyStatus>> {
        self.select("WHERE program = $1 AND carrier_id IN LIST($2)", args![program, list(carrier_ids.iter().copied())])
            .await
    }

    /// When the record begins: the program knows of nothing earlier.
    pub async fn record_begins(&mut self, program: &ProgramId) -> Result<Option<Moment>> {
        const SQL: &str = "SELECT at FROM record WHERE program = $1 AND seq = 1";
        Ok(self.numbers(SQL, args![program]).await?.pop().map(Moment::from_millis))
    }

    /// A program's record, in order.
    pub async fn record(&mut self, program: &ProgramId) -> Result<Vec<RecordLine>> {
        self.select("WHERE program = $1 ORDER BY seq", args![program]).await
    }
}

/// What imports bring, as stored.
impl Tx {
    /// Every athlete, active or not.
    pub async fn all_athletes(&mut self, program: &ProgramId) -> Result<Vec<Athlete>> {
        self.select("WHERE program = $1 ORDER BY id", args![program]).await
    }
    /// Every guardian.
    pub async fn all_guardians(&mut self, program: &ProgramId) -> Result<Vec<Guardian>> {
        self.select("WHERE program = $1 ORDER BY id", args![program]).await
    }
    /// Every guardianship.
    pub async fn all_guardianships(&mut self, program: &ProgramId) -> Result<Vec<Guardianship>> {
        self.select("WHERE program = $1 ORDER BY guardian, athlete", args![program]).await
    }
    /// Every staff member, active or not.
    pub async fn all_staff(&mut self, program: &ProgramId) -> Result<Vec<StaffMember>> {
        self.select("WHERE program = $1 ORDER BY id", args![program]).await
    }
    /// Every helmet.
    pub async fn all_helmets(&mut self, program: &ProgramId) -> Result<Vec<Helmet>> {
        self.select("WHERE program = $1 ORDER BY tag", args![program]).await
    }
    /// Every helmet model.
    pub async fn models(&mut self, program: &ProgramId) -> Result<Vec<Model>> {
        self.select("WHERE program = $1 ORDER BY name", args![program]).await
    }
    /// Every event.
    pub async fn all_events(&mut self, program: &ProgramId) -> Result<Vec<Event>> {
        self.select("WHERE program = $1 ORDER BY id", args![program]).await
    }
    /// Every consent.
    pub async fn all_consents(&mut self, program: &ProgramId) -> Result<Vec<Consent>> {
        self.select("WHERE program = $1 ORDER BY phone, person", args![program]).await
    }
}
