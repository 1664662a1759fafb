//! What falls due by itself: notices that nobody answered, and the question to an athlete who came of age.

use std::collections::BTreeSet;

use chrono::{Months, NaiveTime, TimeDelta};

use super::{choice, open, tell};
use crate::config::Program;
use crate::desk::morning::TickReport;
use crate::desk::reminders::Reminder;
use crate::desk::{Desk, DeskError, load};
use crate::store::Tx;
use crate::store::rows::{MailState, OutState};
use crate::trade::notice::{Notice, NoticeState};
use crate::trade::roster::{ADULT_YEARS, AthleteId};
use crate::trade::time::{Moment, resolve};

/// A step that comes later than this is of no use; until then a family that does not know has to be called.
const USEFUL: TimeDelta = TimeDelta::days(30);
/// While a notice waits to be sent, its next step is looked at again after this.
const NOT_SENT_YET: TimeDelta = TimeDelta::minutes(30);

/// What is due.
#[derive(Debug, Clone, PartialEq, Eq)]
enum What {
    /// The next step of a notice.
    Rung(Box<Notice>),
    /// An athlete came of age.
    OfAge(AthleteId),
}

impl Desk {
    /// Does what is due of notices.
    pub(in crate::desk) async fn remind_of_notices(
        &self,
        program: &Program,
        now: Moment,
        report: &mut TickReport,
    ) -> Result<(), DeskError> {
        let due = self.not_done(program, self.notice_reminders(program, now).await?, now).await?;
        for reminder in due {
            let Some(mut opened) = self.open_reminder(program, &reminder, now, report).await? else { continue };
            let (tx, scene) = (&mut opened.tx, &mut opened.scene);
            match &reminder.what {
                What::Rung(notice) => {
                    let about = BTreeSet::from([notice.athlete.clone()]);
                    let households = open(tx, scene, &about, std::iter::once(notice.family.as_str())).await?;
                    if is_unsent(tx, program, notice).await? {
                        let at = now.plus(NOT_SENT_YET);
                        scene.families.notices.change(&notice.id, |notice| notice.next_at = Some(at));
                    } else if let Some(household) = households.get(&notice.athlete) {
                        tell::climb(scene, household, &notice.family);
                    }
                }
                What::OfAge(athlete) => {
                    let about = BTreeSet::from([athlete.clone()]);
                    load::about(tx, scene, &[], about.clone()).await?;
                    let households = open(tx, scene, &about, std::iter::empty()).await?;
                    if let Some(household) = households.get(athlete) {
                        choice::ask(scene, household);
                    }
                }
            }
            self.close_reminder(opened, &reminder, report).await?;
        }
        Ok(())
    }

    /// When the next of them is due.
    pub(in crate::desk) async fn next_notice_reminders(
        &self,
        program: &Program,
        now: Moment,
    ) -> Result<Vec<Moment>, DeskError> {
        Ok(self.notice_reminders(program, now).await?.into_iter().map(|reminder| reminder.at).collect())
    }

    async fn notice_reminders(&self, program: &Program, now: Moment) -> Result<Vec<Reminder<What>>, DeskError> {
        let mut tx = self.store().read().await?;
        let waiting = tx.notices_waiting(&program.id).await?;
        let mut reminders: Vec<Reminder<What>> = waiting.into_iter().filter_map(rung).collect();
        if !program.notices.rules.on {
            return Ok(reminders);
        }
        // Asked on the birthday at noon; who was of age before the program knew of them, at once.
        let of_age = Months::new(ADULT_YEARS * 12);
        let today = now.date(program.zone);
        let born = today.checked_sub_months(of_age).unwrap_or(today);
        for athlete in tx.of_age_and_not_asked(&program.id, born).await? {
            let day = athlete.born.and_then(|born| born.checked_add_months(of_age)).unwrap_or(today);
            let noon = NaiveTime::from_hms_opt(12, 0, 0).unwrap_or_default();
            reminders.push(Reminder {
                key: format!("family-ask/{}", athlete.id),
                at: resolve(day.and_time(noon), program.zone),
                until: now.plus(USEFUL),
                what: What::OfAge(athlete.id),
            });
        }
        Ok(reminders)
    }
}

fn rung(notice: Notice) -> Option<Reminder<What>> {
    let at = notice.next_at?;
    Some(Reminder {
        // A step that was put off is another one.
        key: format!("notice-step/{}/{}", notice.id, at.millis()),
        at,
        until: at.plus(USEFUL),
        what: What::Rung(Box::new(notice)),
    })
}

/// Whether the notice, or its second, still waits to be sent by every way that it goes: no time to answer has passed.
async fn is_unsent(tx: &mut Tx, program: &Program, notice: &Notice) -> Result<bool, DeskError> {
    let key = if notice.state == NoticeState::Again { notice.message_again() } else { notice.message() };
    let texts = tx.outbox_keyed(&program.id, &[&key]).await?;
    let mails = tx.mail_keyed(&program.id, &[&key]).await?;
    let text_waits = texts.iter().all(|text| matches!(text.state, OutState::Due | OutState::Claimed));
    let mail_waits = mails.iter().all(|mail| matches!(mail.state, MailState::Due | MailState::Claimed));
    Ok(!(texts.is_empty() && mails.is_empty()) && text_waits && mail_waits)
}
