//! A morning with kills, and what must be true of it afterwards.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use browline::clock::Clock;
use browline::store::Store;
use browline::store::rows::OutState;
use browline::trade::roster::{Language, ProgramId};
use browline::trade::time::Moment;
use browline::wording::{Accents, Message, Wording};
use chrono::TimeDelta;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use tokio::sync::Semaphore;

use crate::aftermath::Aftermath;
use crate::fake_carrier::{FakeCarrier, Options, Plan, caller, inbound_form, signed};
use crate::program::{Program, Running, SPEED};
use crate::roster::{self, Athlete, PROGRAM};

/// How often the program is killed.
const KILLS: usize = 12;
/// A process lives at most this long before it is killed, in milliseconds of real time.
const LONGEST_LIFE: u32 = 1_200;
/// All has arrived this long after the last start, in real time, or something is wrong.
const PATIENCE: TimeDelta = TimeDelta::seconds(120);
/// Between two looks at something that is awaited, in real time.
const LOOK: TimeDelta = TimeDelta::milliseconds(20);
/// Phones that send at the same time.
const AT_ONCE: usize = 8;

/// The morning of one program.
pub struct Morning {
    seed: u64,
    athletes: Vec<Athlete>,
    program: Program,
    carrier: FakeCarrier,
    /// The practice clock; it goes on while no process runs.
    clock: Clock,
    database: String,
    wording: Wording,
    phones: reqwest::Client,
    turns: Semaphore,
}

impl Morning {
    /// A few seconds before the check; the reminder, the fix list and the other lists are due soon after, among the kills.
    pub async fn prepare(folder: &Path, database: &str, seed: u64) -> Self {
        let clock = Clock::manual(Moment::parse("2026-09-15T06:44:50-05:00").unwrap());
        let options = Options { clock: clock.clone(), callbacks: true, ..Options::default() };
        let carrier = FakeCarrier::start_with(options).await;
        carrier.latency(Duration::from_millis(25));
        carrier.plan(Plan {
            seed,
            too_many: 0.03,
            error: 0.02,
            error_taken: 0.03,
            dropped: 0.02,
            dropped_taken: 0.03,
            list_error: 0.05,
        });
        let athletes = roster::athletes(seed);
        let program = Program::prepare(folder, database, &carrier, &roster::files(&athletes));
        Self {
            seed,
            athletes,
            program,
            carrier,
            clock,
            database: database.to_owned(),
            wording: Wording::embedded(),
            phones: caller(),
            turns: Semaphore::new(AT_ONCE),
        }
    }

    /// Starts and kills the program while the athletes answer; then lets it finish, and stops it.
    pub async fn live_through(&self) {
        self.clock.set_speed(SPEED);
        let answered = AtomicUsize::new(0);
        let answers = futures::future::join_all(self.athletes.iter().map(|athlete| self.answer(athlete, &answered)));
        let life = async {
            self.kill_often(&answered).await;
            let last = self.program.start(self.clock.now());
            self.until_settled(&answered).await;
            last
        };
        let (_, last): (_, Running) = tokio::join!(answers, life);
        let status = last.stop();
        assert!(status.success(), "{status}\n{}", self.program.log());
        println!(
            "{KILLS} kills; {} texts in {} hand-overs with {} looks; {}",
            self.carrier.sent_count(),
            self.carrier.creates(),
            self.carrier.lists(),
            self.clock.now(),
        );
    }

    async fn kill_often(&self, answered: &AtomicUsize) {
        let mut chance = ChaCha8Rng::seed_from_u64(self.seed);
        for kill in 1..=KILLS {
            let running = self.program.start(self.clock.now());
            let life = chance.next_u32() % LONGEST_LIFE;
            Clock::system().sleep(TimeDelta::milliseconds(life.into())).await;
            running.kill();
            let (texts, answered) = (self.carrier.sent_count(), answered.load(Ordering::SeqCst));
            println!("kill {kill} after {life} ms: {texts} texts, {answered} replies");
        }
    }

    /// An athlete answers the check when it is there. The carrier delivers the reply again until it is taken.
    async fn answer(&self, athlete: &Athlete, answered: &AtomicUsize) {
        let Some(reply) = athlete.reply else { return };
        let check = self.check_text(athlete);
        while self.carrier.count(&athlete.phone, &check) == 0 {
            Clock::system().sleep(LOOK).await;
        }
        let form = inbound_form(&athlete.phone, PROGRAM, reply, &athlete.sid());
        let url = &self.program.inbound;
        loop {
            let turn = self.turns.acquire().await.unwrap();
            let answer = signed(&self.phones, url, url, self.carrier.token(), &form).send().await;
            drop(turn);
            if answer.is_ok_and(|answer| answer.status().is_success()) {
                answered.fetch_add(1, Ordering::SeqCst);
                return;
            }
            Clock::system().sleep(LOOK).await;
        }
    }

    /// The check as the athlete gets it.
    fn check_text(&self, athlete: &Athlete) -> String {
        self.wording.say(Language::En, &Message::Check { first: &athlete.first }, Accents::Fold)
    }

    /// Until every reply is taken and nothing waits to be sent.
    async fn until_settled(&self, answered: &AtomicUsize) {
        let replies = self.athletes.iter().filter(|athlete| athlete.reply.is_some()).count();
        let store = Store::open_with(&self.database, Some(browline::store::seal::Seal::of(&[42; 32]))).await.unwrap();
        let end = Clock::system().now().plus(PATIENCE);
        loop {
            let answered = answered.load(Ordering::SeqCst);
            let waiting = waiting(&store).await;
            if answered == replies && waiting == 0 {
                break;
            }
            assert!(
                Clock::system().now() < end,
                "{answered} of {replies} replies taken, {waiting} texts wait at {}\n{}",
                self.clock.now(),
                self.program.log()
            );
            Clock::system().sleep(LOOK * 5).await;
        }
        store.close().await;
    }

    /// Checks what became of everything.
    pub async fn check(&self) {
        let store = Store::open_with(&self.database, Some(browline::store::seal::Seal::of(&[42; 32]))).await.unwrap();
        let checks = self.athletes.iter().map(|athlete| self.check_text(athlete)).collect();
        let aftermath = Aftermath::read(&store, &self.athletes, checks, self.carrier.sent()).await;
        let wrong = aftermath.wrong();
        assert!(wrong.is_empty(), "{} things are wrong:\n{}\n{}", wrong.len(), wrong.join("\n"), self.program.log());
        store.close().await;
    }
}

/// How many texts are queued or under way.
async fn waiting(store: &Store) -> usize {
    let mut tx = store.read().await.unwrap();
    let all = tx.outbox_all(&ProgramId::from("larkspur")).await.unwrap();
    // No texts at all: the check is still to come.
    let waiting = all.iter().filter(|message| matches!(message.state, OutState::Due | OutState::Claimed)).count();
    if all.is_empty() { 1 } else { waiting }
}
