//! E-mail to guardians: handing over what is queued, and the guardian's own page, where a notice is acknowledged and e-mail
//! is stopped.

use std::collections::BTreeSet;

use chrono::TimeDelta;

use super::notices::reply::acknowledge;
use super::scene::Scene;
use super::{Desk, DeskError, load};
pub use crate::channel::mail::Post;
use crate::channel::mail::{Letter, NotTaken};
use crate::config::{FamilyLink, Program};
use crate::store::rows::{Mail, MailState};
use crate::trade::notice::{Address, Notice};
use crate::trade::roster::{Guardian, GuardianId, Language, ProgramId};
use crate::trade::time::Moment;
use crate::wording::{Accents, Message};

/// A worker that is not heard of for this long has lost its messages.
const LEASE: TimeDelta = TimeDelta::minutes(3);
/// Messages that one look takes.
const AT_ONCE: i64 = 20;
/// Waits between attempts; after the last the message is given up.
const WAITS: [i64; 6] = [1, 5, 15, 60, 240, 720];
/// How far back a guardian's page goes.
const SHOWN: TimeDelta = TimeDelta::days(30);

/// What came of handing over.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct MailReport {
    /// Taken by the mail server.
    pub sent: usize,
    /// To be tried again.
    pub again: usize,
    /// Given up.
    pub failed: usize,
}

/// A guardian's own page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FamilyPage {
    /// The program's name.
    pub program: String,
    /// The guardian's first name.
    pub first: String,
    /// Language of the page.
    pub language: Language,
    /// Notices, newest first: what was said, when, and whether it waits for an answer.
    pub notices: Vec<(String, String, bool)>,
    /// Whether e-mail goes to this guardian.
    pub mailed: bool,
    /// Whom to call, and the number.
    pub contact: (String, String),
}

impl Desk {
    /// Hands over the e-mail that is due.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails; what was handed over is noted when the lease is over.
    pub async fn send_mail_due(&self, post: &dyn Post, now: Moment) -> Result<MailReport, DeskError> {
        let mut report = MailReport::default();
        let programs: Vec<ProgramId> = self.config().programs.keys().cloned().collect();
        for id in programs {
            let program = self.program(&id)?;
            let mails = self.claim_mail(program, now).await?;
            let mut outcomes = Vec::new();
            for mail in mails {
                let outcome = match self.letter(program, &mail) {
                    Some(letter) => post.hand_over(&letter).await,
                    None => Err(NotTaken::Malformed("no public address for the link to stop".to_owned())),
                };
                outcomes.push((mail, outcome));
            }
            if !outcomes.is_empty() {
                self.note_mail(program, outcomes, &mut report).await?;
            }
        }
        Ok(report)
    }

    /// When the next e-mail is due.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn next_mail(&self) -> Result<Option<Moment>, DeskError> {
        let mut tx = self.store().read().await?;
        let mut next: Option<Moment> = None;
        for id in self.config().programs.keys() {
            next = tx.mail_next(id).await?.into_iter().chain(next).min();
        }
        Ok(next)
    }

    async fn claim_mail(&self, program: &Program, now: Moment) -> Result<Vec<Mail>, DeskError> {
        let mut tx = self.store().write().await?;
        let mut mails = tx.mail_due(&program.id, now, AT_ONCE).await?;
        for mail in &mut mails {
            mail.state = MailState::Claimed;
            mail.claimed_by = Some(self.core.worker.clone());
            mail.lease_until = Some(now.plus(LEASE));
            mail.attempts += 1;
        }
        tx.put(&mails).await?;
        tx.commit().await?;
        Ok(mails)
    }

    fn letter(&self, program: &Program, mail: &Mail) -> Option<Letter> {
        let page = program.family_link(&mail.guardian, FamilyLink::Page)?;
        let footer = Message::MailFooter {
            program: &program.name,
            contact: &program.contact,
            contact_phone: &super::scene::phone_words(&program.contact_phone),
            page: page.as_str(),
            answer: true,
        };
        let footer = self.wording(program).say(mail.language, &footer, Accents::Keep);
        Some(Letter {
            key: mail.id.clone(),
            from_name: program.name.clone(),
            to: mail.address.clone(),
            reply_to: program.notices.reply_to.clone(),
            subject: mail.subject.clone(),
            body: format!("{}\n\n{footer}\n", mail.body),
            language: match mail.language {
                Language::En => "en",
                Language::Es => "es",
            },
            date: mail.created_at,
            stop: program.family_link(&mail.guardian, FamilyLink::Stop)?,
        })
    }

    async fn note_mail(
        &self,
        program: &Program,
        outcomes: Vec<(Mail, Result<(), NotTaken>)>,
        report: &mut MailReport,
    ) -> Result<(), DeskError> {
        let now = self.clock().now();
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let ids: Vec<&str> = outcomes.iter().map(|(mail, _)| mail.id.as_str()).collect();
        let ours = tx.mail_claimed(&program.id, self.core.worker.as_str(), &ids).await?;
        let mut rows = Vec::new();
        for mut row in ours {
            let Some((_, outcome)) = outcomes.iter().find(|(mail, _)| mail.id == row.id) else { continue };
            row.claimed_by = None;
            row.lease_until = None;
            let wait = usize::try_from(row.attempts - 1).ok().and_then(|nth| WAITS.get(nth));
            match (outcome, wait) {
                (Ok(()), _) => {
                    row.state = MailState::Sent;
                    row.sent_at = Some(now);
                    report.sent += 1;
                }
                (Err(NotTaken::Later(why)), Some(minutes)) => {
                    row.state = MailState::Due;
                    row.due_at = now.plus(TimeDelta::minutes(*minutes));
                    row.error = Some(why.clone());
                    report.again += 1;
                }
                (Err(why), _) => {
                    row.state = MailState::Failed;
                    row.error = Some(why.to_string());
                    report.failed += 1;
                    trouble(&mut scene, &row.address, &why.to_string());
                }
            }
            rows.push(row);
        }
        tx.put(&rows).await?;
        self.finish(tx, scene).await
    }

    /// A guardian's own page; none when the link is not theirs.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn family_page(
        &self,
        program: &ProgramId,
        guardian: &GuardianId,
        mark: &str,
        now: Moment,
    ) -> Result<Option<FamilyPage>, DeskError> {
        let Some(settings) = self.family(program, guardian, mark) else { return Ok(None) };
        let mut tx = self.store().read().await?;
        let Some(person) = tx.guardians_named(program, [guardian]).await?.pop() else { return Ok(None) };
        let notices = tx.notices_to(program, guardian, now.minus(SHOWN)).await?;
        let stopped =
            stopped(&tx.addresses(program, &person.email.iter().map(String::as_str).collect::<Vec<_>>()).await?);
        let athletes: BTreeSet<_> = notices.iter().map(|notice| notice.athlete.clone()).collect();
        let people = tx.athletes_named(program, &athletes).await?;
        let first = |notice: &Notice| {
            people
                .iter()
                .find(|athlete| athlete.id == notice.athlete)
                .map_or("", |athlete| athlete.first.as_str())
                .to_owned()
        };
        let zone = settings.zone;
        let mut shown: Vec<&Notice> = notices.iter().collect();
        shown.sort_by_key(|notice| std::cmp::Reverse(notice.made_at));
        Ok(Some(FamilyPage {
            program: settings.name.clone(),
            first: person.first.clone(),
            language: person.language,
            notices: shown
                .into_iter()
                .map(|notice| {
                    let what = crate::wording::words::news_words(notice.news, person.language);
                    let day = notice.made_at.date(zone);
                    let day = crate::wording::words::day_words(day, now.date(zone), person.language);
                    (format!("{}: {what}", first(notice)), day, notice.news.wants_answer() && notice.state.waits())
                })
                .collect(),
            mailed: person.email.is_some() && !stopped,
            contact: (settings.contact.clone(), super::scene::phone_words(&settings.contact_phone)),
        }))
    }

    /// A guardian has read what waits for an answer. How many notices that were; none when the link is not theirs.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn family_read(
        &self,
        program: &ProgramId,
        guardian: &GuardianId,
        mark: &str,
        now: Moment,
    ) -> Result<Option<usize>, DeskError> {
        let Some(settings) = self.family(program, guardian, mark) else { return Ok(None) };
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let notices = tx.notices_to(program, guardian, now.minus(SHOWN)).await?;
        let athletes: BTreeSet<_> = notices.iter().map(|notice| notice.athlete.clone()).collect();
        let people = tx.athletes_named(program, &athletes).await?;
        scene.athletes.extend(people.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
        let waiting: Vec<Notice> = notices.into_iter().filter(|notice| notice.state.waits()).collect();
        let count = waiting.len();
        for notice in waiting {
            acknowledge(&mut scene, notice, "by link", None);
        }
        self.finish(tx, scene).await?;
        Ok(Some(count))
    }

    /// A guardian wants no more e-mail. Whether the link is theirs.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn family_stop(
        &self,
        program: &ProgramId,
        guardian: &GuardianId,
        mark: &str,
        now: Moment,
    ) -> Result<bool, DeskError> {
        let Some(settings) = self.family(program, guardian, mark) else { return Ok(false) };
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let Some(person) = tx.guardians_named(program, [guardian]).await?.pop() else { return Ok(false) };
        let known = tx.addresses(program, &person.email.iter().map(String::as_str).collect::<Vec<_>>()).await?;
        if let Some(address) = person.email.clone().filter(|_| !stopped(&known)) {
            stop(&mut scene, &person, address);
        }
        self.finish(tx, scene).await?;
        Ok(true)
    }

    fn family(&self, program: &ProgramId, guardian: &GuardianId, mark: &str) -> Option<&Program> {
        self.program(program).ok().filter(|settings| settings.is_family_mark(guardian, mark))
    }
}

fn stopped(addresses: &[Address]) -> bool {
    addresses.iter().any(Address::is_stopped)
}

fn address(scene: &Scene<'_>, address: &str) -> Address {
    let program = scene.program.id.clone();
    Address { program, address: address.to_owned(), withdrawn_at: None, trouble: None, trouble_at: None }
}

fn stop(scene: &mut Scene<'_>, person: &Guardian, to: String) {
    let row = Address { withdrawn_at: Some(scene.now), ..address(scene, &to) };
    scene.note(&format!("guardian {}", person.id), "no more e-mail", person.id.as_str(), "by link", None);
    scene.tell(format!("{} {} wants no more e-mail", person.first, person.last));
    scene.families.addresses.put(to, row);
}

/// The mail server will not have this address: nothing more goes there, and staff are asked.
fn trouble(scene: &mut Scene<'_>, to: &str, why: &str) {
    let row = Address { trouble: Some(why.to_owned()), trouble_at: Some(scene.now), ..address(scene, to) };
    scene.note("program", "e-mail refused", to, why, None);
    scene.families.addresses.put(to.to_owned(), row);
}
