//! The one clock. Everything else is handed a [`Moment`].
//!
//! [`Clock::system`] is life; [`Clock::practice`] starts where it is told, runs at its own speed and can be stepped: it
//! drives the demo and rehearsals; [`Clock::manual`] moves only when it is set, for tests.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::TimeDelta;
use tokio::sync::Notify;
use tokio::time::Instant;

use crate::trade::time::Moment;

/// A clock; clones tell the same time.
#[derive(Clone, Debug)]
pub struct Clock(Arc<Kind>);

#[derive(Debug)]
enum Kind {
    System,
    Practice(Practice),
}

#[derive(Debug)]
struct Practice {
    state: Mutex<State>,
    changed: Notify,
}

#[derive(Debug, Clone, Copy)]
struct State {
    /// Practice time at `since`.
    base: Moment,
    since: Instant,
    /// Practice seconds a real second; 0 stands still.
    speed: f64,
}

impl State {
    fn now(&self) -> Moment {
        let real = self.since.elapsed().as_secs_f64();
        #[expect(clippy::cast_possible_truncation, reason = "a practice clock runs for hours, not ages")]
        let moved = (real * self.speed * 1000.0) as i64;
        self.base.plus(TimeDelta::milliseconds(moved))
    }
}

impl Clock {
    /// The machine's own clock.
    #[must_use]
    pub fn system() -> Self {
        Self(Arc::new(Kind::System))
    }

    /// A clock that starts at `start` and runs `speed` times as fast as life.
    #[must_use]
    pub fn practice(start: Moment, speed: f64) -> Self {
        let state = Mutex::new(State { base: start, since: Instant::now(), speed });
        Self(Arc::new(Kind::Practice(Practice { state, changed: Notify::new() })))
    }

    /// A clock that stands still until it is set.
    #[must_use]
    pub fn manual(start: Moment) -> Self {
        Self::practice(start, 0.0)
    }

    /// The present moment.
    #[must_use]
    #[expect(clippy::disallowed_methods, reason = "this is the edge")]
    pub fn now(&self) -> Moment {
        match &*self.0 {
            Kind::System => chrono::Utc::now().into(),
            Kind::Practice(practice) => practice.lock().now(),
        }
    }

    /// Whether this is not the machine's own clock.
    #[must_use]
    pub fn is_practice(&self) -> bool {
        matches!(&*self.0, Kind::Practice(_))
    }

    /// Practice seconds a real second; 1 for the machine's own clock.
    #[must_use]
    pub fn speed(&self) -> f64 {
        match &*self.0 {
            Kind::System => 1.0,
            Kind::Practice(practice) => practice.lock().speed,
        }
    }

    /// Sets a practice clock to a moment. The machine's own clock is left alone.
    pub fn set(&self, now: Moment) {
        self.change(|state| state.base = now);
    }

    /// Moves a practice clock on.
    pub fn advance(&self, by: TimeDelta) {
        self.change(|state| state.base = state.base.plus(by));
    }

    /// Changes the speed of a practice clock; 0 halts it.
    pub fn set_speed(&self, speed: f64) {
        self.change(|state| state.speed = speed);
    }

    fn change(&self, change: impl FnOnce(&mut State)) {
        if let Kind::Practice(practice) = &*self.0 {
            let mut state = practice.lock();
            *state = State { base: state.now(), since: Instant::now(), speed: state.speed };
            change(&mut state);
            drop(state);
            practice.changed.notify_waiters();
        }
    }

    /// Waits until a moment; returns at once when it is past. A practice clock that is set or stepped wakes it.
    #[expect(clippy::disallowed_methods, reason = "this is the edge")]
    pub async fn sleep_until(&self, moment: Moment) {
        match &*self.0 {
            Kind::System => {
                let wait = moment.since(self.now()).to_std().unwrap_or_default();
                tokio::time::sleep(wait).await;
            }
            Kind::Practice(practice) => practice.sleep_until(moment).await,
        }
    }

    /// Waits this long by this clock.
    pub async fn sleep(&self, delta: TimeDelta) {
        self.sleep_until(self.now().plus(delta)).await;
    }
}

impl Practice {
    fn lock(&self) -> std::sync::MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    #[expect(clippy::disallowed_methods, reason = "this is the edge")]
    async fn sleep_until(&self, moment: Moment) {
        loop {
            // Listen before looking, or a step between the two would be missed.
            let changed = self.changed.notified();
            let state = *self.lock();
            let left = moment.since(state.now()).num_milliseconds();
            if left <= 0 {
                return;
            }
            if state.speed <= 0.0 {
                changed.await;
                continue;
            }
            #[expect(clippy::cast_precision_loss, reason = "milliseconds of a practice day")]
            let real = Duration::from_secs_f64(left as f64 / 1000.0 / state.speed);
            tokio::select! {
                () = changed => {}
                () = tokio::time::sleep(real + Duration::from_millis(1)) => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn a_manual_clock_wakes_those_who_wait_when_it_is_stepped() {
        let clock = Clock::manual(Moment::from_millis(0));
        let waiter = tokio::spawn({
            let clock = clock.clone();
            async move {
                clock.sleep_until(Moment::from_millis(60_000)).await;
                clock.now()
            }
        });
        tokio::task::yield_now().await;
        clock.advance(TimeDelta::seconds(59));
        tokio::task::yield_now().await;
        assert!(!waiter.is_finished());
        clock.advance(TimeDelta::seconds(1));
        assert_eq!(waiter.await.unwrap(), Moment::from_millis(60_000));
    }
}
