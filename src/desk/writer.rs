//! One writer for what comes in: it takes all that waits, commits it together, and answers each sender after the
//! commit. When a batch fails it is rolled back and each message is tried alone, so that one bad message costs nobody
//! else anything; the bad one is stored as it came and tried again by the schedule.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use tokio::sync::{mpsc, oneshot};

use super::scene::Scene;
use super::{Core, Desk, DeskError, Received, inbound, load, outbox};
use crate::channel::inbound::StatusReport;
use crate::config::Program;
use crate::reading::{Reading, read};
use crate::store::Tx;
use crate::store::rows::InMessage;
use crate::trade::phone::Phone;
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// Jobs taken into one transaction at most.
const AT_ONCE: usize = 256;

/// Something that came in.
pub enum Job {
    /// A text.
    Receive {
        /// As it is stored.
        message: Box<InMessage>,
        /// What it was read as.
        reading: Box<Reading>,
        /// When.
        now: Moment,
        /// Answered after the commit.
        done: oneshot::Sender<Result<Received, DeskError>>,
    },
    /// A delivery report.
    Report {
        /// Whose message it is about.
        program: ProgramId,
        /// The report.
        report: Box<StatusReport>,
        /// When.
        now: Moment,
        /// Answered after the commit.
        done: oneshot::Sender<Result<(), DeskError>>,
    },
}

impl Job {
    fn program(&self) -> &ProgramId {
        match self {
            Self::Receive { message, .. } => &message.program,
            Self::Report { program, .. } => program,
        }
    }

    const fn now(&self) -> Moment {
        match self {
            Self::Receive { now, .. } | Self::Report { now, .. } => *now,
        }
    }

    fn answer(self, received: Result<Received, DeskError>) {
        // The sender may have gone away.
        match self {
            Self::Receive { done, .. } => _ = done.send(received),
            Self::Report { done, .. } => _ = done.send(received.map(|_| ())),
        }
    }
}

/// Takes jobs until every desk is gone.
pub async fn run(core: Arc<Core>, mut queue: mpsc::Receiver<Job>) {
    let mut jobs = Vec::with_capacity(AT_ONCE);
    while queue.recv_many(&mut jobs, AT_ONCE).await > 0 {
        let batch = std::mem::take(&mut jobs);
        match process(&core, &batch).await {
            Ok(received) => batch.into_iter().zip(received).for_each(|(job, received)| job.answer(Ok(received))),
            Err(error) if batch.len() > 1 => {
                tracing::warn!(%error, jobs = batch.len(), "a batch failed; trying each alone");
                for job in batch {
                    let alone = process(&core, std::slice::from_ref(&job)).await;
                    finish_alone(&core, job, alone).await;
                }
            }
            Err(error) => {
                for job in batch {
                    let again = process(&core, std::slice::from_ref(&job)).await.map_err(|_| ());
                    let outcome = match again {
                        Ok(received) => Ok(received),
                        Err(()) => Err(DeskError::Unhandled),
                    };
                    tracing::warn!(%error, recovered = outcome.is_ok(), "a message failed");
                    finish_alone(&core, job, outcome).await;
                }
            }
        }
    }
}

async fn finish_alone(core: &Core, job: Job, outcome: Result<Vec<Received>, DeskError>) {
    let received = match outcome {
        Ok(received) => Ok(received.first().copied().unwrap_or(Received::New)),
        Err(error) => match &job {
            Job::Receive { message, .. } => keep_raw(core, message).await.map(|()| Received::New).map_err(|_| error),
            Job::Report { .. } => Err(error),
        },
    };
    job.answer(received);
}

/// Stores a message whose consequences could not be drawn, to be tried again.
async fn keep_raw(core: &Core, message: &InMessage) -> Result<(), DeskError> {
    tracing::error!(message = %message.id, "a message could not be acted on; stored, and tried again");
    let mut tx = core.store.write().await?;
    tx.insert(std::slice::from_ref(message)).await?;
    tx.commit().await?;
    Ok(())
}

/// Commits a batch. The answers are in the order of the jobs.
async fn process(core: &Core, jobs: &[Job]) -> Result<Vec<Received>, DeskError> {
    let mut by_program: BTreeMap<&ProgramId, Vec<usize>> = BTreeMap::new();
    for (index, job) in jobs.iter().enumerate() {
        by_program.entry(job.program()).or_default().push(index);
    }
    let mut tx = core.store.write().await?;
    let mut received = vec![Received::New; jobs.len()];
    let mut scenes = Vec::new();
    // Locks are taken in the order of the keys, so that two processes cannot wait for each other.
    for (id, indices) in by_program {
        let Some(program) = core.config.programs.get(id) else { continue };
        let now = indices.iter().filter_map(|index| jobs.get(*index)).map(Job::now).max().unwrap_or_default();
        let mut scene = load::begin(&mut tx, program, core.wording(program), now).await?;
        texts(&mut tx, &mut scene, jobs, &indices, &mut received).await?;
        let reports: Vec<&StatusReport> = indices
            .iter()
            .filter_map(|index| match jobs.get(*index) {
                Some(Job::Report { report, .. }) => Some(&**report),
                _ => None,
            })
            .collect();
        outbox::reports(&mut tx, &mut scene, &reports).await?;
        scenes.push(scene);
    }
    core.finish(tx, scenes).await?;
    Ok(received)
}

async fn texts(
    tx: &mut Tx,
    scene: &mut Scene<'_>,
    jobs: &[Job],
    indices: &[usize],
    received: &mut [Received],
) -> Result<(), DeskError> {
    let messages: Vec<(usize, &InMessage, &Reading)> = indices
        .iter()
        .filter_map(|index| match jobs.get(*index) {
            Some(Job::Receive { message, reading, .. }) => Some((*index, &**message, &**reading)),
            _ => None,
        })
        .collect();
    if messages.is_empty() {
        return Ok(());
    }
    let ids: Vec<&str> = messages.iter().map(|(_, message, _)| message.id.as_str()).collect();
    let mut known: HashSet<String> = tx.inbox_known(&scene.program.id, &ids).await?.into_iter().collect();
    let phones: BTreeSet<Phone> = messages.iter().map(|(_, message, _)| message.phone.clone()).collect();
    load::senders(tx, scene, &phones).await?;
    let heard: Vec<&InMessage> = messages.iter().map(|(_, message, _)| *message).collect();
    load::meant_by_staff(tx, scene, &heard).await?;
    for (index, message, reading) in messages {
        if !known.insert(message.id.clone()) {
            if let Some(slot) = received.get_mut(index) {
                *slot = Received::Duplicate;
            }
            continue;
        }
        act(scene, message, reading)?;
    }
    Ok(())
}

/// Acts on one message; a panic in a decision is that message's failure, not the program's.
fn act(scene: &mut Scene<'_>, message: &InMessage, reading: &Reading) -> Result<(), DeskError> {
    let deciding = AssertUnwindSafe(|| inbound::handle(scene, message.clone(), reading));
    catch_unwind(deciding).map_err(|_| DeskError::Unhandled)
}

impl Desk {
    /// Draws the consequences of messages that are stored without. Returns how many.
    pub(super) async fn recover(&self, program: &Program, now: Moment) -> Result<usize, DeskError> {
        let mut tx = self.core.store.read().await?;
        let waiting = tx.inbox_unhandled(&program.id).await?;
        drop(tx);
        let mut recovered = 0;
        for message in waiting {
            let mut tx = self.core.store.write().await?;
            let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
            load::senders(&mut tx, &mut scene, &BTreeSet::from([message.phone.clone()])).await?;
            load::meant_by_staff(&mut tx, &mut scene, &[&message]).await?;
            if act(&mut scene, &message, &read(&message.body)).is_err() {
                tracing::error!(message = %message.id, "still cannot be acted on");
                continue;
            }
            tx.put(&scene.heard).await?;
            scene.heard.clear();
            self.finish(tx, scene).await?;
            recovered += 1;
        }
        Ok(recovered)
    }
}
