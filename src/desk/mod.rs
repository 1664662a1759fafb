//! What happens: each happening is one transaction in which what came, what it changed and what it causes are
//! committed together, or not at all.
//!
//! The desk loads a scene, lets pure functions decide, and writes what they changed. It alone reaches the store and the
//! channel.

pub mod act;
pub mod board;
pub mod chat;
pub mod clearance;
pub mod coming;
pub mod doctor;
pub mod drills;
pub mod feed;
pub mod helmets;
pub mod import;
pub mod inbound;
pub mod keeping;
pub mod kits;
pub mod lists;
pub mod load;
pub mod mail;
pub mod morning;
pub mod notices;
mod once;
pub mod outbox;
pub mod record;
pub mod reminders;
pub mod scene;
pub mod sign_in;
pub mod today;
pub mod writer;

use std::collections::{BTreeMap, HashSet};
use std::sync::{Arc, Mutex, PoisonError};

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use tokio::sync::{Notify, broadcast, mpsc, oneshot};

use crate::channel::Channel;
use crate::channel::inbound::{IncomingText, OptOut, StatusReport};
use crate::clock::Clock;
use crate::config::{Config, Program};
use crate::reading::read;
use crate::store::rows::InMessage;
use crate::store::{Store, StoreError, Tx};
use crate::trade::phone::Phone;
use crate::trade::roster::{ProgramId, TeamId};
use crate::trade::time::Moment;
use crate::wording::Wording;
use scene::{Scene, StoryLine};
use today::Today;
use writer::Job;

/// Why the desk could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The program is not in the configuration.
    #[error("no program `{0}` in the configuration")]
    NoProgram(String),
    /// The writer has ended: the desk is closing.
    #[error("the desk is closing")]
    Closing,
    /// A message's consequences could not be drawn; it is stored and tried again.
    #[error("a message could not be acted on; it is stored and tried again")]
    Unhandled,
}

/// What became of a message received.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Received {
    /// Stored and acted on.
    New,
    /// Stored before: nothing was done again.
    Duplicate,
    /// Sent to a number that is no program's.
    NotOurs,
}

/// The desk; clones share it.
#[derive(Clone)]
pub struct Desk {
    core: Arc<Core>,
    jobs: mpsc::Sender<Job>,
}

/// What the desk and its writer share.
pub struct Core {
    store: Store,
    config: Config,
    wordings: BTreeMap<ProgramId, Wording>,
    channel: Arc<dyn Channel>,
    clock: Clock,
    worker: String,
    story: broadcast::Sender<StoryLine>,
    /// Numbers that opted out in this process: a message already claimed for one is not handed over.
    stopped: Mutex<HashSet<Phone>>,
    chance: Mutex<ChaCha8Rng>,
    wake: Notify,
    /// As `wake`, for the chat's own loop: a wake-up wakes one who waits, and a text's must not be taken from it.
    chat_wake: Notify,
}

/// Chance and name of a process, from the edge.
#[derive(Debug, Clone)]
pub struct Identity {
    /// Name of this process among those that share the store.
    pub worker: String,
    /// Seed of its chance: jitter of retries.
    pub seed: u64,
}

impl Desk {
    /// A desk over an open store. Starts its writer.
    #[must_use]
    pub fn open(
        store: Store,
        config: Config,
        wordings: BTreeMap<ProgramId, Wording>,
        channel: Arc<dyn Channel>,
        clock: Clock,
        identity: Identity,
    ) -> Self {
        let (story, _) = broadcast::channel(4_096);
        let core = Arc::new(Core {
            store,
            config,
            wordings,
            channel,
            clock,
            worker: identity.worker,
            story,
            stopped: Mutex::default(),
            chance: Mutex::new(ChaCha8Rng::seed_from_u64(identity.seed)),
            wake: Notify::new(),
            chat_wake: Notify::new(),
        });
        let (jobs, queue) = mpsc::channel(8_192);
        tokio::spawn(writer::run(Arc::clone(&core), queue));
        Self { core, jobs }
    }

    /// Takes in a text: stores it, acts on it, and returns after the commit.
    ///
    /// # Errors
    /// [`DeskError`] when it could not be stored; the carrier should deliver it again.
    pub async fn receive(&self, text: IncomingText, now: Moment) -> Result<Received, DeskError> {
        let Some(program) = self.core.config.program_by_number(&text.to) else {
            return Ok(Received::NotOurs);
        };
        let reading = read(&text.body);
        let message = stored(program, text, now);
        let (done, answer) = oneshot::channel();
        let job = Job::Receive { message: Box::new(message), reading: Box::new(reading), now, done };
        self.jobs.send(job).await.map_err(|_| DeskError::Closing)?;
        answer.await.map_err(|_| DeskError::Closing)?
    }

    /// Takes in a delivery report. Reports may come in any order, and before their message is noted as sent.
    ///
    /// # Errors
    /// [`DeskError`] when it could not be stored.
    pub async fn report(&self, program: &ProgramId, report: StatusReport, now: Moment) -> Result<(), DeskError> {
        let (done, answer) = oneshot::channel();
        let job = Job::Report { program: program.clone(), report: Box::new(report), now, done };
        self.jobs.send(job).await.map_err(|_| DeskError::Closing)?;
        answer.await.map_err(|_| DeskError::Closing)?
    }

    /// Today's fix list, silent and held.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn today(&self, program: &ProgramId, team: Option<&TeamId>, now: Moment) -> Result<Today, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let mut scene = load::look(&mut tx, program, self.wording(program), now).await?;
        load::day_to_read(&mut tx, &mut scene).await?;
        Ok(today::today(&scene, team))
    }

    /// Lines of the story as they happen.
    #[must_use]
    pub fn story(&self) -> broadcast::Receiver<StoryLine> {
        self.core.story.subscribe()
    }

    /// Waits until something was committed that may have queued a message.
    pub async fn woken(&self) {
        self.core.wake.notified().await;
    }

    /// As [`Desk::woken`], for the chat's own loop.
    pub async fn chat_woken(&self) {
        self.core.chat_wake.notified().await;
    }

    /// The configuration.
    #[must_use]
    pub fn config(&self) -> &Config {
        &self.core.config
    }

    /// The store.
    #[must_use]
    pub fn store(&self) -> &Store {
        &self.core.store
    }

    /// The clock.
    #[must_use]
    pub fn clock(&self) -> &Clock {
        &self.core.clock
    }

    /// A program's settings.
    ///
    /// # Errors
    /// [`DeskError::NoProgram`].
    pub fn program(&self, id: &ProgramId) -> Result<&Program, DeskError> {
        self.core.config.programs.get(id).ok_or_else(|| DeskError::NoProgram(id.0.clone()))
    }

    /// A program's texts.
    #[must_use]
    pub fn wording(&self, program: &Program) -> &Wording {
        self.core.wording(program)
    }

    async fn finish(&self, tx: Tx, scene: Scene<'_>) -> Result<(), DeskError> {
        self.core.finish(tx, vec![scene]).await
    }
}

impl Core {
    fn wording(&self, program: &Program) -> &Wording {
        &self.wordings[&program.id]
    }

    /// Writes scenes, commits, and only then tells the story.
    async fn finish(&self, mut tx: Tx, mut scenes: Vec<Scene<'_>>) -> Result<(), DeskError> {
        for scene in &mut scenes {
            chat::link::give(&mut tx, scene, || self.code()).await?;
            notices::give(&mut tx, scene).await?;
            load::write(&mut tx, scene).await?;
        }
        tx.commit().await?;
        for scene in scenes {
            self.note_stopped(&scene);
            for line in scene.story {
                // Nobody may be listening.
                let _ = self.story.send(line);
            }
        }
        self.wake.notify_one();
        self.chat_wake.notify_one();
        Ok(())
    }

    fn note_stopped(&self, scene: &Scene<'_>) {
        let changed = scene.numbers.changed();
        if changed.is_empty() {
            return;
        }
        let mut stopped = self.stopped.lock().unwrap_or_else(PoisonError::into_inner);
        for number in changed {
            if number.is_stopped() {
                stopped.insert(number.phone);
            } else {
                stopped.remove(&number.phone);
            }
        }
    }

    fn is_stopped(&self, phone: &Phone) -> bool {
        self.stopped.lock().unwrap_or_else(PoisonError::into_inner).contains(phone)
    }

    /// A one-time code.
    fn code(&self) -> String {
        use chat::link::{LENGTH, LETTERS};
        let mut chance = self.chance.lock().unwrap_or_else(PoisonError::into_inner);
        let letter = |_| LETTERS.get(chance.random_range(0..LETTERS.len())).copied().map_or('A', char::from);
        (0..LENGTH).map(letter).collect()
    }

    fn jitter(&self) -> f64 {
        self.chance.lock().unwrap_or_else(PoisonError::into_inner).random_range(0.0..1.0)
    }
}

/// A text as it is stored. A NUL, which PostgreSQL cannot keep, is replaced.
fn stored(program: &Program, text: IncomingText, now: Moment) -> InMessage {
    let carrier_answered = text.opt_out_type.map(|word| match word {
        OptOut::Stop => "STOP".to_owned(),
        OptOut::Start => "START".to_owned(),
        OptOut::Help => "HELP".to_owned(),
        OptOut::Other(word) => word,
    });
    InMessage {
        program: program.id.clone(),
        id: text.carrier_id,
        phone: text.from,
        body: text.body.replace('\0', "\u{fffd}"),
        photos: text.media.into_iter().map(|media| media.url.to_string()).collect(),
        carrier_answered,
        received_at: now,
        handled: false,
        athletes: Vec::new(),
        reading: None,
    }
}
