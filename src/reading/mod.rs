//! From text to reading: what an athlete's reply says, in English, Spanish or both. Pure.
//!
//! The architecture is the safety rule. A reply is all clear only when every token of it is accounted for and together
//! they say so: a word that no lexicon places, a hedge, a question or a complaint without a name leaves it unclear, and
//! the athlete is asked again. Spelling repair may turn an unknown word into a worrying one, never into a reassuring
//! one. Lexicons are data (`lexicon/*.toml`); this module and its neighbours know concepts, not words.

mod clause;
mod controls;
mod lexicon;
mod numbers;
pub mod score;
mod tokens;

#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

use crate::trade::flag::{Control, Flag, Flags};
use lexicon::{Concept, lexicon};
use tokens::Item;

/// What a reply amounts to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Everything is fine, and every word is understood.
    AllClear,
    /// Something is off.
    Flagged,
    /// Cannot be told: ask again.
    Unclear,
    /// About the conversation.
    Control,
}

impl Kind {
    /// The name used in the machine contract.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::AllClear => "all_clear",
            Self::Flagged => "flagged",
            Self::Unclear => "unclear",
            Self::Control => "control",
        }
    }
}

/// The language a reply is written in, as far as its words tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Lang {
    /// English.
    En,
    /// Spanish.
    Es,
    /// Both.
    Mix,
}

/// Which words made the reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Evidence {
    /// Byte offsets into the text, start and end, on character boundaries.
    pub span: (usize, usize),
    /// What the words were taken to say.
    pub says: String,
}

/// What a reply was read as.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// Language.
    pub lang: Lang,
    /// What it amounts to.
    #[serde(rename = "reading")]
    pub kind: Kind,
    /// What is off.
    pub flags: Flags,
    /// Which control, when it is one.
    pub control: Option<Control>,
    /// Which words made it.
    pub evidence: Vec<Evidence>,
    /// A sign that means calling emergency services (CRT6 red flags, Echemendia et al., BJSM 2023;57:692-694).
    pub red_flag: bool,
}

/// What the passes over a reply gather.
#[derive(Debug, Default)]
struct Findings {
    flags: Flags,
    red_flag: bool,
    /// Words that say the helmet, or a part of it, is fine.
    good: bool,
    /// Words that say everything is fine.
    all_good: bool,
    /// Something is wrong and has no name.
    bad: bool,
    /// Words that leave it open.
    doubt: bool,
    /// Words that no lexicon places.
    unknown: bool,
    evidence: Vec<Evidence>,
}

impl Findings {
    fn flag(&mut self, flag: Flag, item: &Item) {
        self.flags.insert(flag);
        self.say(item, flag.name());
    }

    fn say(&mut self, item: &Item, says: impl Into<String>) {
        self.evidence.push(Evidence { span: (item.start, item.end), says: says.into() });
    }
}

/// Longest text that is read whole, in characters; what is longer is never all clear.
const READ_WHOLE: usize = 4_000;

/// Reads a reply. Any text is safe; the same text is always read the same.
#[must_use]
pub fn read(text: &str) -> Reading {
    let lexicon = lexicon();
    let (items, languages) = tokens::items(text, lexicon);
    let lang = languages.lang();
    let too_long = text.chars().nth(READ_WHOLE).is_some();
    let mut found = Findings::default();
    if let Some(marks) = numbers::position_marks(&items) {
        for (flag, index) in marks.bad {
            found.flag(flag, &items[index]);
        }
        found.all_good = found.flags.is_empty();
    }
    clause::read(&items, &mut found);
    found.doubt |= too_long;
    let whole = controls::whole_stop(&items);
    if whole.is_some() {
        found.flags = Flags::NONE;
    }
    let control = whole.or_else(|| controls::control(&items, &found));
    conclude(lang, found, control)
}

fn conclude(lang: Lang, mut found: Findings, control: Option<(Control, Evidence)>) -> Reading {
    let mut reading = Reading {
        lang,
        kind: Kind::Unclear,
        flags: found.flags,
        control: None,
        evidence: Vec::new(),
        red_flag: found.red_flag,
    };
    // "7" and a sign named: the sign is what it was about.
    if reading.flags.contains(Flag::Symptom) {
        reading.flags.remove(Flag::Unwell);
    }
    if reading.flags.contains(Flag::Illness) || reading.flags.contains(Flag::Injury) {
        reading.flags.remove(Flag::Unwell);
    }
    if !reading.flags.is_empty() {
        reading.kind = Kind::Flagged;
    } else if let Some((control, evidence)) = control {
        reading.kind = Kind::Control;
        reading.control = Some(control);
        found.evidence = vec![evidence];
    } else if (found.good || found.all_good) && !found.bad && !found.doubt && !found.unknown {
        reading.kind = Kind::AllClear;
    }
    reading.evidence = found.evidence;
    reading
}

fn is(item: &Item, concept: Concept) -> bool {
    item.concepts.has(concept)
}
