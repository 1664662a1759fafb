//! What the board asks: sessions, and sums over a season.

use chrono::NaiveDate;

use crate::store::rows::{Feed, InMessage, OutMessage, Session, SignIn};
use crate::store::{Result, Tx};
use crate::trade::queue::{Hold, Item};
use crate::trade::roster::{Athlete, AthleteId, Helmet, ProgramId, StaffId, StaffMember};
use crate::trade::time::Moment;

/// The word in the record for a look at something medical. Such lines change nothing that a page shows.
pub const VIEWED: &str = "medical item viewed";

/// Signing in.
impl Tx {
    /// A link's row, locked.
    pub async fn lock_sign_in(&mut self, program: &ProgramId, hash: &str) -> Result<Option<SignIn>> {
        self.find("WHERE program = $1 AND hash = $2 LOCKED_ROWS", args![program, hash]).await
    }

    /// A link's row.
    pub async fn sign_in(&mut self, program: &ProgramId, hash: &str) -> Result<Option<SignIn>> {
        self.find("WHERE program = $1 AND hash = $2", args![program, hash]).await
    }

    /// How many links a staff member was sent since a moment.
    pub async fn sign_ins_since(&mut self, program: &ProgramId, staff: &StaffId, since: Moment) -> Result<i64> {
        const SQL: &str = "SELECT COUNT(*) FROM sign_in WHERE program = $1 AND staff = $2 AND made_at > $3";
        Ok(self.numbers(SQL, args![program, staff.as_str(), since]).await?.pop().unwrap_or(0))
    }

    /// A browser's session.
    pub async fn session(&mut self, program: &ProgramId, hash: &str) -> Result<Option<Session>> {
        self.find("WHERE program = $1 AND hash = $2", args![program, hash]).await
    }

    /// Notes that a session was used.
    pub async fn session_seen(&mut self, program: &ProgramId, hash: &str, at: Moment) -> Result<u64> {
        const SQL: &str = "UPDATE session SET seen_at = $3 WHERE program = $1 AND hash = $2 AND seen_at < $3";
        self.execute(SQL, args![program, hash, at]).await
    }

    /// Ends a session.
    pub async fn end_session(&mut self, program: &ProgramId, hash: &str, at: Moment) -> Result<u64> {
        const SQL: &str = "UPDATE session SET ended_at = $3 WHERE program = $1 AND hash = $2 AND ended_at IS NULL";
        self.execute(SQL, args![program, hash, at]).await
    }

    /// Forgets links and sessions that were over before a moment; the record says who signed in when.
    pub async fn forget_sessions(&mut self, program: &ProgramId, before: Moment) -> Result<()> {
        self.execute("DELETE FROM sign_in WHERE program = $1 AND ends_at < $2", args![program, before]).await?;
        self.execute("DELETE FROM session WHERE program = $1 AND ends_at < $2", args![program, before]).await?;
        Ok(())
    }

    /// A calendar feed that has not been ended.
    pub async fn feed(&mut self, program: &ProgramId, hash: &str) -> Result<Option<Feed>> {
        self.find("WHERE program = $1 AND hash = $2 AND ended_at IS NULL", args![program, hash]).await
    }

    /// A staff member's calendar feed.
    pub async fn feed_of(&mut self, program: &ProgramId, staff: &StaffId) -> Result<Option<Feed>> {
        self.find("WHERE program = $1 AND staff = $2 AND ended_at IS NULL", args![program, staff.as_str()]).await
    }

    /// Ends a staff member's calendar feeds.
    pub async fn end_feeds(&mut self, program: &ProgramId, staff: &StaffId, at: Moment) -> Result<u64> {
        const SQL: &str = "UPDATE feed SET ended_at = $3 WHERE program = $1 AND staff = $2 AND ended_at IS NULL";
        self.execute(SQL, args![program, staff.as_str(), at]).await
    }

    /// Notes that a calendar read a feed.
    pub async fn feed_read(&mut self, program: &ProgramId, hash: &str, at: Moment) -> Result<u64> {
        self.execute("UPDATE feed SET read_at = $3 WHERE program = $1 AND hash = $2", args![program, hash, at]).await
    }

    /// An active staff member.
    pub async fn staff_member(&mut self, program: &ProgramId, id: &StaffId) -> Result<Option<StaffMember>> {
        self.find("WHERE program = $1 AND id = $2 AND active", args![program, id.as_str()]).await
    }
}

/// Pages.
impl Tx {
    /// The number of the last line in the record that changed something: looks at medical items did not.
    pub async fn changed_seq(&mut self, program: &ProgramId) -> Result<i64> {
        const SQL: &str = "SELECT seq FROM record WHERE program = $1 AND what <> $2 ORDER BY seq DESC LIMIT 1";
        Ok(self.numbers(SQL, args![program, VIEWED]).await?.pop().unwrap_or(0))
    }

    /// An athlete.
    pub async fn athlete(&mut self, program: &ProgramId, id: &AthleteId) -> Result<Option<Athlete>> {
        self.find("WHERE program = $1 AND id = $2", args![program, id.as_str()]).await
    }

    /// An athlete's items, closed ones too, the newest first.
    pub async fn items_about(&mut self, program: &ProgramId, athlete: &AthleteId) -> Result<Vec<Item>> {
        self.select(
            "WHERE program = $1 AND athlete = $2 ORDER BY date DESC, opened_at DESC, id LIMIT 60",
            args![program, athlete.as_str()],
        )
        .await
    }

    /// An athlete's holds, ended ones too, the newest first.
    pub async fn holds_about(&mut self, program: &ProgramId, athlete: &AthleteId) -> Result<Vec<Hold>> {
        self.select(
            "WHERE program = $1 AND athlete = $2 ORDER BY opened_at DESC, id LIMIT 60",
            args![program, athlete.as_str()],
        )
        .await
    }

    /// An item.
    pub async fn item(&mut self, program: &ProgramId, id: &str) -> Result<Option<Item>> {
        self.find("WHERE program = $1 AND id = $2", args![program, id]).await
    }

    /// A helmet by its wearer.
    pub async fn helmets_worn(&mut self, program: &ProgramId, athlete: &AthleteId) -> Result<Vec<Helmet>> {
        self.select("WHERE program = $1 AND athlete = $2 ORDER BY tag", args![program, athlete.as_str()]).await
    }

    /// The newest messages heard.
    pub async fn inbox_newest(&mut self, program: &ProgramId, most: i64) -> Result<Vec<InMessage>> {
        self.select("WHERE program = $1 ORDER BY received_at DESC, id LIMIT $2", args![program, most]).await
    }

    /// The newest messages to send or sent.
    pub async fn outbox_newest(&mut self, program: &ProgramId, most: i64) -> Result<Vec<OutMessage>> {
        self.select("WHERE program = $1 ORDER BY created_at DESC, id LIMIT $2", args![program, most]).await
    }
}

/// Sums over a season. Each row is a few fields with a bar between them, counted by the database.
impl Tx {
    /// Checks by day and state since a date: "2026-09-15|clear|61".
    pub async fn checks_by_day(&mut self, program: &ProgramId, since: NaiveDate) -> Result<Vec<String>> {
        const SQL: &str = "SELECT date || '|' || state || '|' || CAST(COUNT(*) AS TEXT) FROM morning_check \
            WHERE program = $1 AND date >= $2 GROUP BY date, state ORDER BY date, state";
        self.texts(SQL, args![program, since]).await
    }

    /// Equipment items by helmet model and flags since a date: "Tern|4|[\"strap\"]".
    pub async fn flags_by_model(&mut self, program: &ProgramId, since: NaiveDate) -> Result<Vec<String>> {
        const SQL: &str = "SELECT COALESCE(h.model, '') || '|' || CAST(COUNT(*) AS TEXT) || '|' || i.flags \
            FROM item i LEFT JOIN helmet h ON h.program = i.program AND h.tag = \
            (SELECT MIN(w.tag) FROM helmet w WHERE w.program = i.program AND w.athlete = i.athlete) \
            WHERE i.program = $1 AND i.queue = 'equipment' AND i.date >= $2 \
            GROUP BY h.model, i.flags ORDER BY h.model, i.flags";
        self.texts(SQL, args![program, since]).await
    }

    /// Milliseconds from taking to closing of equipment items since a date: "240000|[\"strap\"]".
    pub async fn fix_durations(&mut self, program: &ProgramId, since: NaiveDate) -> Result<Vec<String>> {
        const SQL: &str = "SELECT CAST(closed_at - taken_at AS TEXT) || '|' || flags FROM item \
            WHERE program = $1 AND queue = 'equipment' AND date >= $2 AND state = 'closed' \
            AND taken_at IS NOT NULL AND closed_at > taken_at";
        self.texts(SQL, args![program, since]).await
    }
}
