//! The story of a practice morning: one line an event, with what was typed where somebody typed it.
//!
//! It sees everything, as an audience does; it is for invented people alone.

use std::collections::VecDeque;
use std::fmt;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use chrono_tz::Tz;

use crate::desk::scene::StoryLine;
use crate::trade::phone::Phone;
use crate::trade::time::Moment;

/// Lines that are kept.
const KEPT: usize = 400;

/// One event.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// When.
    pub at: Moment,
    /// The program's zone.
    pub zone: Tz,
    /// What happened.
    pub text: String,
    /// What somebody typed that made it happen.
    pub typed: Option<String>,
    /// Whose phone to look at.
    pub phone: Option<Phone>,
}

impl fmt::Display for Told {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}  {}", self.at.local(self.zone).format("%H:%M:%S"), self.text)?;
        match &self.typed {
            Some(typed) => write!(out, "  “{typed}”"),
            None => Ok(()),
        }
    }
}

/// Something that somebody typed, before it is known what it led to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Typed {
    /// As typed.
    pub text: String,
    /// Whose phone.
    pub phone: Phone,
    /// As the story calls them.
    pub labels: Vec<String>,
}

impl Typed {
    fn is_about(&self, line: &str) -> bool {
        self.labels
            .iter()
            .any(|label| line.strip_prefix(label.as_str()).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric)))
    }
}

/// The lines that a text led to, with the text at the first that is about its sender. A text that led to no line has one
/// of its own: nothing typed is left out.
#[must_use]
pub fn told(at: Moment, zone: Tz, typed: Typed, lines: Vec<StoryLine>) -> Vec<Told> {
    let own =
        lines.iter().position(|line| typed.is_about(&line.text)).or(if lines.is_empty() { None } else { Some(0) });
    let mut told: Vec<Told> = lines
        .into_iter()
        .enumerate()
        .map(|(index, line)| {
            let is_own = Some(index) == own;
            let phone = (is_own || typed.is_about(&line.text)).then(|| typed.phone.clone());
            Told { at: line.at, zone, text: line.text, typed: is_own.then(|| typed.text.clone()), phone }
        })
        .collect();
    if told.is_empty() {
        let who = typed.labels.first().map_or_else(|| typed.phone.short(), Clone::clone);
        told.push(Told { at, zone, text: format!("{who}:"), typed: Some(typed.text), phone: Some(typed.phone) });
    }
    told
}

/// The last lines; clones share them.
#[derive(Debug, Clone, Default)]
pub struct Story(Arc<Mutex<VecDeque<Told>>>);

impl Story {
    /// Adds a line.
    pub fn add(&self, line: Told) {
        let mut lines = self.lock();
        lines.push_back(line);
        while lines.len() > KEPT {
            lines.pop_front();
        }
    }

    /// The last lines, newest first.
    #[must_use]
    pub fn newest(&self, most: usize) -> Vec<Told> {
        self.lock().iter().rev().take(most).cloned().collect()
    }

    fn lock(&self) -> MutexGuard<'_, VecDeque<Told>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT: Moment = Moment::from_millis(1_789_472_700_000);

    fn typed() -> Typed {
        let phone = Phone::parse("+1 312 555 0123").unwrap();
        Typed { text: "strap busted".into(), phone, labels: vec!["#1 Eli".into(), "Eli".into()] }
    }

    fn line(text: &str) -> StoryLine {
        StoryLine { at: AT, text: text.into() }
    }

    #[test]
    fn what_was_typed_stands_with_what_it_led_to() {
        let lines = vec![line("#12 Eliza: all good"), line("#1 Eli: strap → fix list")];
        let told = told(AT, chrono_tz::America::Chicago, typed(), lines);
        assert_eq!(told[0].to_string(), "06:45:00  #12 Eliza: all good");
        assert_eq!(told[1].to_string(), "06:45:00  #1 Eli: strap → fix list  “strap busted”");
        assert_eq!((told[0].phone.is_some(), told[1].phone.is_some()), (false, true));
    }

    #[test]
    fn what_led_to_nothing_is_told_all_the_same() {
        let told = told(AT, chrono_tz::America::Chicago, typed(), Vec::new());
        assert_eq!(told[0].to_string(), "06:45:00  #1 Eli:  “strap busted”");
    }
}
