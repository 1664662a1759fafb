//! Today's page shared by its readers, and the word to browsers that something changed.
//!
//! Many readers of one program ask for the same list: it is put together once for all of them, at most every few hundred
//! milliseconds, and whoever has just done something sees it done. A browser that listens is told within half a second.

use std::collections::HashMap;
use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse as _, Response};
use chrono::TimeDelta;
use futures::stream;
use minijinja::value::Serde;
use minijinja::{Value, context};
use tokio::sync::watch;
use tokio::time::Instant;

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::board::today::TodayView;
use crate::desk::sign_in::SignedIn;
use crate::trade::roster::{ProgramId, TeamId};
use crate::trade::time::Moment;

/// Where the token of a session's forms stands in the shared page.
const TOKEN: &str = "@@csrf@@";
/// While one reader puts the page together the others are given one that is no older than this.
const OLDEST: Duration = Duration::from_millis(900);
/// How often the record is looked at for browsers that listen.
const LOOK_EVERY: TimeDelta = TimeDelta::milliseconds(250);

/// A page of today, cut where each session's token goes.
pub struct Made {
    /// What it shows.
    pub view: TodayView,
    /// The last line of the record that it knows of.
    pub changed: i64,
    minute: i64,
    at: Instant,
    before: String,
    after: String,
}

impl Made {
    /// The page's main part with a session's token.
    pub fn with_token(&self, token: &str) -> String {
        [self.before.as_str(), token, &self.after].concat()
    }
}

type Key = (ProgramId, Option<TeamId>);

#[derive(Default)]
struct Slot {
    made: Mutex<Option<Arc<Made>>>,
    making: tokio::sync::Mutex<()>,
}

impl Slot {
    fn made(&self) -> Option<Arc<Made>> {
        self.made.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

/// What readers share.
pub struct Shared {
    shared_for: Duration,
    slots: Mutex<HashMap<Key, Arc<Slot>>>,
    watched: Mutex<HashMap<ProgramId, watch::Sender<i64>>>,
}

impl Shared {
    /// Nothing yet.
    pub fn new(shared_for: Duration) -> Self {
        Self { shared_for, slots: Mutex::default(), watched: Mutex::default() }
    }

    fn slot(&self, key: Key) -> Arc<Slot> {
        Arc::clone(self.slots.lock().unwrap_or_else(PoisonError::into_inner).entry(key).or_default())
    }

    /// Somebody here did something: the next reader sees it.
    pub fn forget(&self, program: &ProgramId) {
        let slots = self.slots.lock().unwrap_or_else(PoisonError::into_inner);
        for slot in slots.iter().filter(|((of, _), _)| of == program).map(|(_, slot)| slot) {
            *slot.made.lock().unwrap_or_else(PoisonError::into_inner) = None;
        }
    }
}

/// Today, as fresh as it has to be: of this minute and with everything in the record, or made within the time that readers
/// share one; never without what the reader is known to have seen (`at_least`).
pub async fn today(board: &Board, who: &SignedIn, team: Option<TeamId>, at_least: i64) -> Result<Arc<Made>, Failed> {
    let slot = board.shared.slot((who.program.clone(), team.clone()));
    let minute = board.desk.clock().now().millis() / 60_000;
    let is_current = |made: &Made| made.changed >= who.changed && made.minute == minute;
    let is_young = |made: &Made, age| made.changed >= at_least && made.at.elapsed() < age;
    let good = |made: &Arc<Made>| is_current(made) || is_young(made, board.shared.shared_for);
    if let Some(made) = slot.made().filter(good) {
        return Ok(made);
    }
    let making = match slot.making.try_lock() {
        Ok(making) => making,
        Err(_) => {
            if let Some(made) = slot.made().filter(|made| is_young(made, OLDEST) && !board.shared.shared_for.is_zero())
            {
                return Ok(made);
            }
            slot.making.lock().await
        }
    };
    if let Some(made) = slot.made().filter(good) {
        return Ok(made);
    }
    let made = Arc::new(make(board, who, team).await?);
    *slot.made.lock().unwrap_or_else(PoisonError::into_inner) = Some(Arc::clone(&made));
    drop(making);
    Ok(made)
}

async fn make(board: &Board, who: &SignedIn, team: Option<TeamId>) -> Result<Made, Failed> {
    let (at, now) = (Instant::now(), board.desk.clock().now());
    // Looked at before the lists are read: they may know more than this says, never less.
    let changed = board.desk.changed(&who.program).await?;
    let view = board.desk.board_today(&who.program, team.as_ref(), now).await?;
    let page = board
        .templates
        .get_template("today_main.html")?
        .render(context! { view => Value::from(Serde(&view)), seen => changed })?;
    let (before, after) = page.split_once(TOKEN).unwrap_or((page.as_str(), ""));
    let (before, after) = (before.to_owned(), after.to_owned());
    Ok(Made { view, changed, minute: now.millis() / 60_000, at, before, after })
}

/// The stream of changes: an event with the number of the record's last line whenever something changed.
pub async fn events(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Response {
    let Ok(place) = Arc::clone(&board.listeners).try_acquire_owned() else {
        return (StatusCode::SERVICE_UNAVAILABLE, "too many listen; load the page again now and then\n")
            .into_response();
    };
    let changes = watch_program(&board, &visitor.who.program, visitor.who.changed);
    let listener = Listener { board, who: visitor.who, changes, first: true, _place: place };
    Sse::new(stream::unfold(listener, Listener::next)).keep_alive(KeepAlive::default()).into_response()
}

struct Listener {
    board: Board,
    who: SignedIn,
    changes: watch::Receiver<i64>,
    first: bool,
    _place: tokio::sync::OwnedSemaphorePermit,
}

impl Listener {
    /// The next event; the stream ends with the session, with the role, and with the program.
    async fn next(mut self) -> Option<(Result<Event, Infallible>, Self)> {
        // What is already so is told first: something may have changed between the page and this.
        if !std::mem::take(&mut self.first) {
            tokio::select! {
                changed = self.changes.changed() => changed.ok()?,
                () = closed(self.board.closing.clone()) => return None,
            }
        }
        let now = self.board.desk.clock().now();
        let session = self.board.desk.signed_in(&self.who.program, &self.who.session, now).await.ok()??;
        if !super::access::may(&session.member, "/board/events") {
            return None;
        }
        let changed = (*self.changes.borrow_and_update()).max(session.changed);
        Some((Ok(Event::default().event("changed").data(changed.to_string())), self))
    }
}

async fn closed(mut closing: watch::Receiver<bool>) {
    if closing.wait_for(|closing| *closing).await.is_err() {
        std::future::pending::<()>().await;
    }
}

/// One task a program looks at the record, while anybody listens.
fn watch_program(board: &Board, program: &ProgramId, changed: i64) -> watch::Receiver<i64> {
    let mut watched = board.shared.watched.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(sender) = watched.get(program) {
        return sender.subscribe();
    }
    let (sender, receiver) = watch::channel(changed);
    watched.insert(program.clone(), sender);
    tokio::spawn(look(board.clone(), program.clone()));
    receiver
}

async fn look(board: Board, program: ProgramId) {
    let mut story = board.desk.story();
    loop {
        tokio::select! {
            () = board.desk.clock().sleep_until(next_look(&board)) => {}
            _ = story.recv() => {}
            () = closed(board.closing.clone()) => return,
        }
        while story.try_recv().is_ok() {}
        let changed = board.desk.changed(&program).await;
        let mut watched = board.shared.watched.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(sender) = watched.get(&program).filter(|sender| sender.receiver_count() > 0) else {
            watched.remove(&program);
            return;
        };
        if let Ok(changed) = changed {
            sender.send_if_modified(|known| std::mem::replace(known, changed) != changed);
        }
    }
}

/// A quarter of a second of life from now, at whatever speed the clock runs. While it is halted, what happens in this
/// process is told all the same.
fn next_look(board: &Board) -> Moment {
    let speed = board.desk.clock().speed().max(0.1);
    #[expect(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "a practice clock's speed")]
    let millis = (LOOK_EVERY.num_milliseconds() as f64 * speed) as i64;
    board.desk.clock().now().plus(TimeDelta::milliseconds(millis.max(1)))
}
