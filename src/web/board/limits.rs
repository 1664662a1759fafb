//! How often one address or one number may ask to sign in: kept in memory, bounded, per process. How many links one
//! staff member is sent is limited in the store as well.

use std::collections::{HashMap, VecDeque};
use std::sync::{Mutex, PoisonError};

use chrono::TimeDelta;

use crate::trade::time::Moment;

/// Keys remembered at most; when there are more, the oldest are forgotten and, until then, nobody new is let in.
const MOST_KEYS: usize = 20_000;

/// So many times within so long, for each key.
pub struct Limit {
    times: usize,
    within: TimeDelta,
    seen: Mutex<HashMap<String, VecDeque<Moment>>>,
}

impl Limit {
    /// A limit.
    #[must_use]
    pub fn new(times: usize, within: TimeDelta) -> Self {
        Self { times, within, seen: Mutex::default() }
    }

    /// Counts one more for a key, unless it has had its share.
    pub fn allows(&self, key: &str, now: Moment) -> bool {
        let since = now.minus(self.within);
        let mut seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        if seen.len() >= MOST_KEYS {
            seen.retain(|_, times| times.back().is_some_and(|last| *last > since));
            if seen.len() >= MOST_KEYS && !seen.contains_key(key) {
                return false;
            }
        }
        let times = seen.entry(key.to_owned()).or_default();
        while times.front().is_some_and(|first| *first <= since) {
            times.pop_front();
        }
        if times.len() >= self.times {
            return false;
        }
        times.push_back(now);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_has_its_share_and_gets_it_again_later() {
        let limit = Limit::new(2, TimeDelta::minutes(10));
        let start = Moment::from_millis(0);
        assert!(limit.allows("a", start) && limit.allows("a", start.plus(TimeDelta::minutes(5))));
        assert!(!limit.allows("a", start.plus(TimeDelta::minutes(9))));
        assert!(limit.allows("b", start.plus(TimeDelta::minutes(9))), "another key has its own");
        assert!(limit.allows("a", start.plus(TimeDelta::minutes(10))));
        assert!(!limit.allows("a", start.plus(TimeDelta::minutes(10))), "the second of the two still counts");
    }
}
