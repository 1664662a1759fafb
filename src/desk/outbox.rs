//! How queued messages leave: by lease and at the carrier's pace, at least once, looking once.
//!
//! A worker claims what may go, hands it over, and notes what became of it. If it dies in between, its lease runs out,
//! and the next worker asks the carrier whether it has the message before sending it again. Delivery reports come in
//! any order and move a message to delivered or failed.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::PoisonError;
use std::time::Duration;

use chrono::TimeDelta;
use futures::StreamExt as _;

use super::inbound::rights::to_hands;
use super::scene::Scene;
use super::{Core, Desk, DeskError, load};
use crate::channel::errors::{DeliveryTrouble, delivery_trouble};
use crate::channel::inbound::StatusReport;
use crate::channel::retry::{GiveUp, Next, next_attempt};
use crate::channel::{DeliveryStatus, Found, NumberTrouble, Outgoing, Refused};
use crate::config::Program;
use crate::store::rows::{EarlyStatus, OutMessage, OutState, Purpose, Sender};
use crate::store::{Result as Stored, Tx};
use crate::trade::morning::ByHand;
use crate::trade::notice::TEXT_KEY;
use crate::trade::phone::Phone;
use crate::trade::queue::Queue;
use crate::trade::roster::AthleteId;
use crate::trade::time::Moment;

/// How long a worker may have a message before others take it to be lost.
pub const LEASE: TimeDelta = TimeDelta::seconds(90);
/// Messages claimed together when the pace allows.
const AT_ONCE: i64 = 200;
/// Messages handed over side by side.
const SIDE_BY_SIDE: usize = 16;
/// A look and a sending may take this long together, each until the channel stops waiting. What has less of its lease left
/// is not begun: another worker could begin it too.
const HAND_OVER_TAKES: TimeDelta = TimeDelta::seconds(45);
/// While sending is halted, one message asks this often whether it is mended.
const ASK_AGAIN: TimeDelta = TimeDelta::minutes(5);
/// The carrier's clock and ours may differ by this much when looking for a message.
const CLOCKS_DIFFER: TimeDelta = TimeDelta::minutes(2);
/// A message to a phone that is off is tried once more after this.
const PHONE_WAS_OFF: TimeDelta = TimeDelta::minutes(10);

/// What sending did.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SendReport {
    /// Taken by the carrier.
    pub sent: usize,
    /// To be tried again later.
    pub again: usize,
    /// Given up.
    pub failed: usize,
    /// Found with the carrier, not sent twice.
    pub found: usize,
}

/// What became of a hand-over.
enum Handed {
    Sent(String),
    Found(String),
    Refused(Refused),
    /// The number opted out after the claim.
    Stopped,
    /// Its turn came too late in the lease: nothing was done.
    NotBegun,
}

impl Desk {
    /// Hands over all that may go at this moment, at the pace of each sending number.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails; what was claimed comes free when its lease runs out.
    pub async fn send_due(&self, now: Moment) -> Result<SendReport, DeskError> {
        let mut report = SendReport::default();
        for program in self.config().programs.values() {
            loop {
                // A lease runs from its own claim, not from the first of many.
                let now = self.clock().now().max(now);
                let claimed = self.claim(program, now).await?;
                if claimed.is_empty() {
                    break;
                }
                // A STOP may have been heard since by another process, or before this one began.
                let mut tx = self.store().read().await?;
                self.core.heed_stops(&mut tx, program, &claimed).await?;
                drop(tx);
                let last_begin = now.plus(LEASE - HAND_OVER_TAKES);
                let handed: Vec<(OutMessage, Handed)> = futures::stream::iter(claimed.into_iter().enumerate())
                    .map(|(place, message)| async move {
                        // The first begin at once, however fast a practice clock runs.
                        if place >= SIDE_BY_SIDE && self.clock().now() > last_begin {
                            return (message, Handed::NotBegun);
                        }
                        let handed = self.core.hand_over(program, &message, now).await;
                        (message, handed)
                    })
                    .buffer_unordered(SIDE_BY_SIDE)
                    .collect()
                    .await;
                self.note(program, handed, now, &mut report).await?;
            }
        }
        Ok(report)
    }

    async fn claim(&self, program: &Program, now: Moment) -> Result<Vec<OutMessage>, DeskError> {
        let mut tx = self.store().read().await?;
        if !tx.outbox_ready(&program.id, now).await? {
            return Ok(Vec::new());
        }
        drop(tx);
        let mut tx = self.store().write().await?;
        let mut sender = tx.lock_sender(&program.id).await?;
        let per_second = self.config().carrier.segments_per_second;
        let halted = sender.halted_at.is_some();
        if (per_second > 0.0 || halted) && sender.next_free_at > now {
            return Ok(Vec::new());
        }
        let most = if halted { 1 } else { AT_ONCE };
        let mut claimed = tx.outbox_abandoned(&program.id, now, most).await?;
        for message in &mut claimed {
            message.in_doubt = true;
        }
        claimed.extend(tx.outbox_due(&program.id, now, most - i64::try_from(claimed.len()).unwrap_or(0)).await?);
        pace(&mut claimed, &mut sender, per_second, now);
        if halted {
            sender.next_free_at = now.plus(ASK_AGAIN);
        }
        for message in &mut claimed {
            message.state = OutState::Claimed;
            message.claimed_by = Some(self.core.worker.clone());
            message.lease_until = Some(now.plus(LEASE));
            message.first_tried_at.get_or_insert(now);
            message.attempts += 1;
        }
        if !claimed.is_empty() {
            tx.put(&claimed).await?;
            tx.put(&[sender]).await?;
        }
        tx.commit().await?;
        Ok(claimed)
    }

    async fn note(
        &self,
        program: &Program,
        handed: Vec<(OutMessage, Handed)>,
        now: Moment,
        report: &mut SendReport,
    ) -> Result<(), DeskError> {
        let now = self.clock().now().max(now);
        let ids: Vec<&str> = handed.iter().map(|(message, _)| message.id.as_str()).collect();
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        // A lease that was lost meanwhile is somebody else's to note.
        let ours: BTreeSet<String> = tx
            .outbox_claimed(&program.id, &self.core.worker, &ids)
            .await?
            .into_iter()
            .map(|message| message.id)
            .collect();
        let troubled: BTreeSet<Phone> = handed
            .iter()
            .filter(|(_, handed)| matches!(handed, Handed::Refused(Refused::Number { .. } | Refused::Message { .. })))
            .map(|(message, _)| message.phone.clone())
            .collect();
        load::senders(&mut tx, &mut scene, &troubled).await?;
        let mut changed = Vec::new();
        for (mut message, handed) in handed {
            if ours.contains(&message.id) {
                self.outcome(&mut tx, &mut scene, &mut message, handed, report).await?;
                changed.push(message);
            }
        }
        mark_checks(&mut tx, program, &changed).await?;
        apply_early(&mut tx, &mut scene, &mut changed).await?;
        tx.put(&changed).await?;
        self.finish(tx, scene).await
    }

    async fn outcome(
        &self,
        tx: &mut Tx,
        scene: &mut Scene<'_>,
        message: &mut OutMessage,
        handed: Handed,
        report: &mut SendReport,
    ) -> Stored<()> {
        message.claimed_by = None;
        message.lease_until = None;
        match handed {
            Handed::Sent(id) | Handed::Found(id) if id.is_empty() => {
                message.state = OutState::Failed;
                message.error = Some("the carrier gave no id".to_owned());
            }
            Handed::Sent(id) => {
                report.sent += 1;
                sent(scene, message, id);
                resume(tx, scene).await?;
            }
            Handed::Found(id) => {
                report.found += 1;
                sent(scene, message, id);
            }
            Handed::Stopped => message.state = OutState::Cancelled,
            Handed::NotBegun => {
                report.again += 1;
                message.state = OutState::Due;
                message.attempts -= 1;
            }
            Handed::Refused(refused) => {
                message.error = Some(refused.to_string());
                let attempts = u32::try_from(message.attempts).unwrap_or(u32::MAX);
                let next = next_attempt(attempts, &refused, scene.now, message.send_by, self.core.jitter());
                if let Refused::Everything { why } = &refused {
                    halt(tx, scene, why).await?;
                }
                refused_next(scene, message, next, report);
            }
        }
        Ok(())
    }
}

impl Core {
    /// Learns which receivers of these messages have opted out, in whichever process that was heard.
    async fn heed_stops(&self, tx: &mut Tx, program: &Program, messages: &[OutMessage]) -> Stored<()> {
        let phones: BTreeSet<&Phone> = messages.iter().map(|message| &message.phone).collect();
        let numbers = tx.numbers_of(&program.id, phones).await?;
        let mut stopped = self.stopped.lock().unwrap_or_else(PoisonError::into_inner);
        for number in numbers {
            if number.is_stopped() {
                stopped.insert(number.phone);
            } else {
                stopped.remove(&number.phone);
            }
        }
        Ok(())
    }

    async fn hand_over(&self, program: &Program, message: &OutMessage, now: Moment) -> Handed {
        if message.purpose != Purpose::Rights && self.is_stopped(&message.phone) {
            return Handed::Stopped;
        }
        let outgoing = Outgoing {
            from: program.number.clone(),
            to: message.phone.clone(),
            body: message.body.clone(),
            valid_for: message.send_by.map(|by| valid_for(by, now)),
        };
        if message.in_doubt {
            let since = message.first_tried_at.unwrap_or(message.created_at).minus(CLOCKS_DIFFER);
            match self.channel.look(&outgoing, since).await {
                Ok(found) => {
                    if let Some(id) = self.pick(program, &outgoing, found).await {
                        return Handed::Found(id);
                    }
                }
                Err(refused) => return Handed::Refused(keep_in_doubt(refused)),
            }
        }
        match self.channel.send(&outgoing).await {
            Ok(accepted) => Handed::Sent(accepted.carrier_id),
            Err(refused) => Handed::Refused(refused),
        }
    }

    /// The first of the carrier's messages that is this one and is not known to be another.
    async fn pick(&self, program: &Program, outgoing: &Outgoing, found: Vec<Found>) -> Option<String> {
        let same: Vec<Found> = found.into_iter().filter(|found| found.carries(outgoing)).collect();
        let ids: Vec<&str> = same.iter().map(|found| found.carrier_id.as_str()).collect();
        let mut tx = self.store.read().await.ok()?;
        let taken: BTreeSet<String> = tx.outbox_carrier_ids(&program.id, &ids).await.ok()?.into_iter().collect();
        same.into_iter().map(|found| found.carrier_id).find(|id| !taken.contains(id))
    }
}

/// While the carrier cannot be asked, a message in doubt stays in doubt.
fn keep_in_doubt(refused: Refused) -> Refused {
    match refused {
        Refused::Everything { .. } => refused,
        other => Refused::InDoubt { why: format!("could not look: {other}") },
    }
}

fn valid_for(by: Moment, now: Moment) -> Duration {
    let left = by.since(now).num_seconds().clamp(1, 36_000);
    Duration::from_secs(left.unsigned_abs())
}

/// Keeps as many claimed messages as the pace allows within a second, and books their segments.
fn pace(claimed: &mut Vec<OutMessage>, sender: &mut Sender, per_second: f64, now: Moment) {
    if per_second <= 0.0 {
        return;
    }
    let mut segments = 0.0;
    let mut keep = 0;
    for message in claimed.iter() {
        if keep > 0 && segments >= per_second.max(1.0) {
            break;
        }
        #[expect(clippy::cast_precision_loss, reason = "segments of a text")]
        let own = message.segments.max(1) as f64;
        segments += own;
        keep += 1;
    }
    claimed.truncate(keep);
    #[expect(clippy::cast_possible_truncation, reason = "milliseconds of a morning")]
    let busy = TimeDelta::milliseconds((segments / per_second * 1000.0).ceil() as i64);
    sender.next_free_at = sender.next_free_at.max(now).plus(busy);
}

fn sent(scene: &mut Scene<'_>, message: &mut OutMessage, carrier_id: String) {
    message.state = OutState::Sent;
    message.in_doubt = false;
    message.carrier_id = Some(carrier_id);
    message.sent_at = Some(scene.now);
    message.error = None;
    if message.purpose == Purpose::Medical {
        scene.note("program", "sent", message.phone.as_str(), &message.id, None);
    }
}

async fn mark_checks(tx: &mut Tx, program: &Program, messages: &[OutMessage]) -> Stored<()> {
    let mut by_date: BTreeMap<chrono::NaiveDate, Vec<&str>> = BTreeMap::new();
    for message in messages {
        let went = matches!(message.state, OutState::Sent | OutState::Delivered);
        if let (true, Purpose::Check, Some(date), Some(athlete)) =
            (went, message.purpose, message.date, &message.athlete)
        {
            by_date.entry(date).or_default().push(athlete.as_str());
        }
    }
    for (date, athletes) in by_date {
        tx.checks_sent(&program.id, date, &athletes).await?;
    }
    Ok(())
}

fn refused_next(scene: &mut Scene<'_>, message: &mut OutMessage, next: Next, report: &mut SendReport) {
    match next {
        Next::At(at) => {
            report.again += 1;
            message.state = OutState::Due;
            message.due_at = at;
        }
        Next::LookFirst(at) => {
            report.again += 1;
            message.state = OutState::Due;
            message.in_doubt = true;
            message.due_at = at;
        }
        Next::Halted(at) => {
            report.again += 1;
            message.state = OutState::Due;
            message.attempts -= 1;
            message.due_at = at.min(scene.now.plus(ASK_AGAIN));
        }
        Next::GiveUp(why) => {
            report.failed += 1;
            give_up(scene, message, &why);
        }
    }
}

fn give_up(scene: &mut Scene<'_>, message: &mut OutMessage, why: &GiveUp) {
    message.state = if *why == GiveUp::TooLate { OutState::Missed } else { OutState::Failed };
    match why {
        GiveUp::Number(trouble) => number_fails(scene, message, *trouble),
        GiveUp::TooLate | GiveUp::TooLateInDoubt | GiveUp::TooOften { .. } | GiveUp::Message => {
            not_delivered(scene, message, "the text could not be sent");
        }
    }
}

/// A number that cannot be written to: contact queue, and its owners are checked by hand.
fn number_fails(scene: &mut Scene<'_>, message: &OutMessage, trouble: NumberTrouble) {
    let now = scene.now;
    scene.change_number(&message.phone, |number| {
        if trouble == NumberTrouble::OptedOut {
            number.opted_out_at.get_or_insert(now);
        } else {
            number.trouble = Some(trouble);
            number.trouble_at = Some(now);
        }
    });
    let (by_hand, about) = match trouble {
        NumberTrouble::OptedOut => (ByHand::OptedOut, "opted out with the carrier: check by hand"),
        NumberTrouble::Invalid => (ByHand::NumberFails, "the number does not exist: ask for the right one"),
        NumberTrouble::NotMobile => (ByHand::NumberFails, "the number cannot take texts: ask for a mobile number"),
        NumberTrouble::Unreachable => {
            (ByHand::NumberFails, "the phone cannot be reached: ask whether the number is right")
        }
        NumberTrouble::NoRoute => (ByHand::NumberFails, "the carrier has no way to this number"),
    };
    scene.cancel(super::scene::Cancel::To(message.phone.clone()));
    // A guardian's number says nothing of the athlete's.
    if !message.id.starts_with(TEXT_KEY) || scene.at_phone.contains_key(&message.phone) {
        let owners = owners(scene, message);
        to_hands(scene, &owners, by_hand);
    }
    contact(scene, message, about);
    scene.note("carrier", "number fails", message.phone.as_str(), about, None);
}

fn owners(scene: &Scene<'_>, message: &OutMessage) -> Vec<AthleteId> {
    let mut owners = scene.at_phone.get(&message.phone).cloned().unwrap_or_default();
    owners.extend(message.athlete.clone().filter(|athlete| !owners.contains(athlete)));
    owners
}

/// One text that did not arrive: its check is done by hand.
fn not_delivered(scene: &mut Scene<'_>, message: &OutMessage, about: &str) {
    if message.purpose == Purpose::Check {
        let owners: Vec<AthleteId> = message.athlete.clone().into_iter().collect();
        to_hands(scene, &owners, ByHand::NumberFails);
    }
    if matches!(message.purpose, Purpose::Check | Purpose::Medical | Purpose::List) {
        contact(scene, message, about);
    }
    if message.id.starts_with(TEXT_KEY) {
        scene.families.lost.push((message.id.clone(), about.to_owned()));
    }
    scene.note("carrier", "not delivered", message.phone.as_str(), about, None);
}

fn contact(scene: &mut Scene<'_>, message: &OutMessage, about: &str) {
    let owners = owners(scene, message);
    let names: Vec<String> = owners.iter().map(|athlete| scene.who(athlete)).collect();
    let staff = scene.staff.iter().find(|member| member.phone.as_ref() == Some(&message.phone));
    let whom = match staff {
        Some(member) => format!("{} {}", member.first, member.last),
        None if names.is_empty() || message.id.starts_with(TEXT_KEY) => {
            super::notices::guardians_at(scene, &message.phone).unwrap_or_else(|| message.phone.short())
        }
        None => names.join(" and "),
    };
    let mut item = scene.item(Queue::Contact, message.phone.as_str(), None);
    item.about = Some(format!("{whom}: {about}"));
    scene.items.put(item.id.clone(), item);
    scene.tell(format!("{whom}: {about}"));
}

async fn halt(tx: &mut Tx, scene: &mut Scene<'_>, why: &str) -> Stored<()> {
    let mut sender = tx.lock_sender(&scene.program.id).await?;
    if sender.halted_at.is_none() {
        sender.halted_at = Some(scene.now);
        scene.note("carrier", "sending halted", "carrier", why, None);
        scene.tell(format!("SENDING IS HALTED: {why}. Nothing is lost; it goes on when this is mended"));
        tracing::error!(why, "sending is halted; nothing is lost");
    }
    sender.halted_why = Some(why.to_owned());
    sender.next_free_at = scene.now.plus(ASK_AGAIN);
    tx.put(&[sender]).await?;
    Ok(())
}

async fn resume(tx: &mut Tx, scene: &mut Scene<'_>) -> Stored<()> {
    let halted = tx.sender(&scene.program.id).await?.is_some_and(|sender| sender.halted_at.is_some());
    if halted {
        let mut sender = tx.lock_sender(&scene.program.id).await?;
        sender.halted_at = None;
        sender.halted_why = None;
        sender.next_free_at = scene.now;
        tx.put(&[sender]).await?;
        scene.note("carrier", "sending goes on", "carrier", "", None);
        scene.tell("sending goes on");
    }
    Ok(())
}

/// Applies reports that came before their message was noted as sent.
async fn apply_early(tx: &mut Tx, scene: &mut Scene<'_>, messages: &mut [OutMessage]) -> Stored<()> {
    let ids: Vec<&str> = messages.iter().filter_map(|message| message.carrier_id.as_deref()).collect();
    if ids.is_empty() {
        return Ok(());
    }
    let early = tx.early_statuses(&scene.program.id, &ids).await?;
    if early.is_empty() {
        return Ok(());
    }
    let phones: BTreeSet<Phone> = messages.iter().map(|message| message.phone.clone()).collect();
    load::senders(tx, scene, &phones).await?;
    for message in messages {
        if let Some(report) = early.iter().find(|report| Some(&report.carrier_id) == message.carrier_id.as_ref()) {
            delivered_or_not(scene, message, report.delivered, report.error_code);
        }
    }
    Ok(())
}

/// Takes in delivery reports.
pub async fn reports(tx: &mut Tx, scene: &mut Scene<'_>, reports: &[&StatusReport]) -> Stored<()> {
    let last: Vec<&&StatusReport> = reports.iter().filter(|report| report.status != DeliveryStatus::Underway).collect();
    if last.is_empty() {
        return Ok(());
    }
    let ids: Vec<&str> = last.iter().map(|report| report.carrier_id.as_str()).collect();
    let mut messages: BTreeMap<String, OutMessage> = tx
        .outbox_carried(&scene.program.id, &ids)
        .await?
        .into_iter()
        .filter_map(|message| Some((message.carrier_id.clone()?, message)))
        .collect();
    let phones: BTreeSet<Phone> = messages.values().map(|message| message.phone.clone()).collect();
    if last.iter().any(|report| report.status == DeliveryStatus::Failed) {
        load::senders(tx, scene, &phones).await?;
    }
    let mut early: BTreeMap<&str, EarlyStatus> = BTreeMap::new();
    for report in last {
        let delivered = report.status == DeliveryStatus::Delivered;
        if let Some(message) = messages.get_mut(&report.carrier_id) {
            delivered_or_not(scene, message, delivered, report.error_code);
        } else {
            let row = EarlyStatus {
                program: scene.program.id.clone(),
                carrier_id: report.carrier_id.clone(),
                delivered,
                error_code: report.error_code,
                at: scene.now,
            };
            early.insert(&report.carrier_id, row);
        }
    }
    tx.put(&messages.into_values().collect::<Vec<_>>()).await?;
    tx.put(&early.into_values().collect::<Vec<_>>()).await?;
    Ok(())
}

/// A delivered message stays delivered, whatever is reported later; a failed one may still turn out delivered.
fn delivered_or_not(scene: &mut Scene<'_>, message: &mut OutMessage, delivered: bool, code: Option<i64>) {
    if delivered {
        if matches!(message.state, OutState::Sent | OutState::Failed) {
            message.state = OutState::Delivered;
            message.error = None;
        }
        return;
    }
    if message.state != OutState::Sent {
        return;
    }
    let trouble = code.map_or(DeliveryTrouble::Unknown, delivery_trouble);
    message.error = Some(trouble.words().to_owned());
    message.state = OutState::Failed;
    let again = scene.now.plus(PHONE_WAS_OFF);
    let in_time = message.send_by.is_none_or(|by| again <= by);
    match trouble {
        DeliveryTrouble::MayPass | DeliveryTrouble::Unknown | DeliveryTrouble::Slow | DeliveryTrouble::QuietHours
            if message.attempts < 2 && in_time =>
        {
            message.state = OutState::Due;
            message.carrier_id = None;
            message.sent_at = None;
            message.due_at = again;
        }
        DeliveryTrouble::Number(trouble) => number_fails(scene, message, trouble),
        DeliveryTrouble::MayPass => number_fails(scene, message, NumberTrouble::Unreachable),
        other => not_delivered(scene, message, other.words()),
    }
}
