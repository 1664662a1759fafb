//! Calendar feeds: what is coming for one member of staff, at an address that nobody can guess.
//!
//! Calendars of phones and companies read it, so it leaves the building: what is for medical staff alone stands in it
//! without a name or a word of what it is.

use chrono::TimeDelta;

use super::inbound::by_staff;
use super::{Desk, DeskError, load};
use crate::store::rows::Feed;
use crate::trade::coming::Coming;
use crate::trade::roster::{ProgramId, Role, StaffId, StaffMember};
use crate::trade::time::Moment;

/// How far ahead a feed goes, in days.
pub const AHEAD_DAYS: i64 = 120;
/// How far back a feed goes, in days.
pub const BACK_DAYS: i64 = 14;

/// What a calendar reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FeedView {
    /// The program's name.
    pub program: String,
    /// The program's zone.
    pub zone: chrono_tz::Tz,
    /// What is coming for its owner.
    pub coming: Vec<Coming>,
}

impl Desk {
    /// Makes a new feed for a staff member; the one before, if any, is of no use from then on.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn make_feed(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        hash: &str,
        now: Moment,
    ) -> Result<(), DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        tx.end_feeds(program, &member.id, now).await?;
        let feed = Feed {
            program: program.clone(),
            hash: hash.to_owned(),
            staff: member.id.clone(),
            made_at: now,
            read_at: None,
            ended_at: None,
        };
        tx.insert(std::slice::from_ref(&feed)).await?;
        scene.note(&by_staff(member), "calendar address made", member.id.as_str(), "", None);
        self.finish(tx, scene).await
    }

    /// Ends a staff member's feed.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn end_feed(&self, program: &ProgramId, member: &StaffMember, now: Moment) -> Result<(), DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        if tx.end_feeds(program, &member.id, now).await? > 0 {
            scene.note(&by_staff(member), "calendar address ended", member.id.as_str(), "", None);
        }
        self.finish(tx, scene).await
    }

    /// Since when a staff member has a feed, and when it was last read.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn feed_of(&self, program: &ProgramId, staff: &StaffId) -> Result<Option<Feed>, DeskError> {
        Ok(self.store().read().await?.feed_of(program, staff).await?)
    }

    /// What is in a feed; none when its address is not, or no longer, anybody's.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn feed(&self, program: &ProgramId, hash: &str, now: Moment) -> Result<Option<FeedView>, DeskError> {
        const NOTED_EVERY: TimeDelta = TimeDelta::hours(1);
        let Ok(settings) = self.program(program) else { return Ok(None) };
        let mut tx = self.store().read().await?;
        let Some(feed) = tx.feed(program, hash).await? else { return Ok(None) };
        let Some(member) = tx.staff_member(program, &feed.staff).await? else { return Ok(None) };
        drop(tx);
        if feed.read_at.is_none_or(|read| now.since(read) >= NOTED_EVERY) {
            let mut tx = self.store().write().await?;
            tx.feed_read(program, hash, now).await?;
            tx.commit().await?;
        }
        let today = now.date(settings.zone);
        let (from, to) = (today - TimeDelta::days(BACK_DAYS), today + TimeDelta::days(AHEAD_DAYS));
        let coming = self.coming(program, from, to, now).await?;
        Ok(Some(FeedView {
            program: settings.name.clone(),
            zone: settings.zone,
            coming: coming.into_iter().filter_map(|coming| outside(coming, &member)).collect(),
        }))
    }
}

/// What of it may leave the building for this member's calendar.
fn outside(coming: Coming, member: &StaffMember) -> Option<Coming> {
    if !concerns(&coming, member) {
        return None;
    }
    if !coming.medical {
        return Some(coming);
    }
    let title = "Athletic trainer: something is due".to_owned();
    Some(Coming { title, what: "See the trainer's page of the board.".to_owned(), place: None, ..coming })
}

/// Whether something that is coming concerns a member of staff, and is theirs to see.
#[must_use]
pub fn concerns(coming: &Coming, member: &StaffMember) -> bool {
    let theirs = coming.staff.is_empty() || coming.staff.contains(&member.id);
    theirs && (!coming.medical || member.has(Role::Trainer))
}
