//! What staff type, as people type it: several athletes in one text, several things in one text, words run together,
//! letters dropped. Pure.
//!
//! Invariant: a text that can be taken in two ways, or that holds a doubt ("almost", "but", "?"), is no command. Spelling
//! is mended only where nothing else can be meant.

mod clause;
mod lists;
mod token;
mod vocabulary;

use std::collections::BTreeSet;

use super::fold;
use crate::desk::act::Meant;
use crate::reading::{self, Kind};
use crate::trade::flag::{Flag, Flags};
use crate::trade::roster::Language;

/// Who a command is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// A jersey number.
    Jersey(String),
    /// A first name, a last name or both, folded.
    Name(String),
}

impl Target {
    /// As it was typed, to say it back.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Jersey(number) => format!("#{number}"),
            Self::Name(name) => name.clone(),
        }
    }
}

/// To whom an item goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Hand {
    /// Back to whoever takes it.
    Open,
    /// To the one who writes.
    Me,
    /// To a member of staff, by a name, folded.
    To(String),
}

/// Why an athlete is to be held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holding {
    /// The helmet.
    Helmet,
    /// The athletic trainer decides.
    Trainer,
    /// A licensed clinician decides.
    Medical,
}

/// A staff command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Command {
    /// "got 12", "got 12 n 44"
    Take(Vec<Target>),
    /// "12 done new strap"
    Done(Vec<Target>, Option<String>),
    /// "12 needs new helmet"
    Needs(Vec<Target>, String),
    /// "12 to ben", "12 open"
    HandOn(Vec<Target>, Hand),
    /// "hold 12"
    Hold(Vec<Target>, Option<Holding>),
    /// "12 can go": the trainer's decision.
    MayGo(Vec<Target>),
    /// "12 fine", "12 is 2 5": what an unclear reply meant.
    Says(Target, Meant),
    /// "12 done?": a question.
    Status(Vec<Target>),
    /// "got all": everything that nobody has on the fix list.
    TakeAll,
    /// "got it"
    Acknowledge,
    /// "no practice today", perhaps with a team.
    CallOff(Option<String>),
    /// "list"
    List,
    /// "silent"
    Silent,
    /// "who's out"
    Out,
    /// "help"
    Help,
}

impl Command {
    /// What it does, to tell somebody who may not.
    #[must_use]
    pub const fn words(&self, language: Language) -> &'static str {
        match (self, language) {
            (Self::CallOff(_), Language::En) => "call off practice",
            (Self::CallOff(_), Language::Es) => "cancelar la práctica",
            (Self::List | Self::Silent, Language::En) => "see that list",
            (Self::List | Self::Silent, Language::Es) => "ver esa lista",
            (_, Language::En) => "do that",
            (_, Language::Es) => "hacer eso",
        }
    }

    /// Whom it is about.
    #[must_use]
    pub fn targets(&self) -> &[Target] {
        match self {
            Self::Take(targets)
            | Self::Done(targets, _)
            | Self::Needs(targets, _)
            | Self::HandOn(targets, _)
            | Self::Hold(targets, _)
            | Self::MayGo(targets)
            | Self::Status(targets) => targets,
            Self::Says(target, _) => std::slice::from_ref(target),
            _ => &[],
        }
    }

    /// Whether it says itself what is to be done about a body complaint.
    #[must_use]
    pub fn is_about_a_body(&self) -> bool {
        match self {
            Self::Says(_, Meant::Flags(flags)) => !flags.body().is_empty(),
            Self::Hold(_, Some(Holding::Trainer | Holding::Medical)) => true,
            _ => false,
        }
    }

    /// The same for one of its targets, in words that [`parse`] takes for it: kept while a question about it waits.
    #[must_use]
    pub fn said(&self, target: &Target) -> String {
        let who = target.words();
        match self {
            Self::Done(_, what) => format!("{who} done {}", what.as_deref().unwrap_or_default()).trim().to_owned(),
            Self::Needs(_, what) => format!("{who} needs {what}"),
            Self::HandOn(_, Hand::Open) => format!("{who} open"),
            Self::HandOn(_, Hand::Me) => format!("{who} to me"),
            Self::HandOn(_, Hand::To(name)) => format!("{who} to {name}"),
            Self::Hold(_, None) => format!("hold {who}"),
            Self::Hold(_, Some(Holding::Helmet)) => format!("hold {who} helmet"),
            Self::Hold(_, Some(Holding::Trainer)) => format!("hold {who} trainer"),
            Self::Hold(_, Some(Holding::Medical)) => format!("hold {who} medical"),
            Self::MayGo(_) => format!("{who} can go"),
            Self::Says(_, Meant::AllClear) => format!("{who} fine"),
            Self::Says(_, Meant::Flags(flags)) => {
                let names: Vec<&str> = flags.iter().map(says).collect();
                format!("{who} is {}", names.join(" "))
            }
            _ => format!("got {who}"),
        }
    }
}

/// A word that is read as this flag.
const fn says(flag: Flag) -> &'static str {
    match flag {
        Flag::Symptom => "head",
        Flag::Hardware => "mask",
        Flag::Illness => "sick",
        Flag::Injury => "hurt",
        Flag::Unwell => "7",
        Flag::Missing => "no helmet",
        Flag::WrongHelmet => "wrong helmet",
        other => other.name(),
    }
}

/// The names that a text may use, and the jerseys that something is open for.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// First, last and whole names of athletes, folded.
    pub athletes: BTreeSet<String>,
    /// First, last and whole names of staff, folded.
    pub staff: BTreeSet<String>,
    /// Jersey numbers of athletes with something open.
    pub open: BTreeSet<String>,
}

impl Known {
    /// Takes in a person's names.
    pub fn name(names: &mut BTreeSet<String>, first: &str, last: &str) {
        let (first, last) = (fold(first), fold(last));
        names.insert(format!("{first} {last}"));
        names.extend([first, last]);
    }
}

/// Reads a staff text; `None` when it is not one or more of the commands, or may be meant in two ways.
#[must_use]
pub fn parse(text: &str, known: &Known) -> Option<Vec<Command>> {
    let words = token::words(text);
    let joined = words.iter().map(|word| word.folded.as_str()).collect::<Vec<_>>().join(" ");
    let joined = ["please", "pls", "porfa", "por favor", "thanks", "thx", "gracias"]
        .iter()
        .fold(joined.as_str(), |text, end| text.strip_suffix(end).map_or(text, str::trim_end))
        .to_owned();
    if let Some(command) = lists::whole(&joined) {
        return Some(vec![command]);
    }
    if text.contains('?') || text.contains('¿') {
        return clause::question(&words, known).map(|targets| vec![Command::Status(targets)]);
    }
    lists::call_off(&joined).map(|command| vec![command]).or_else(|| clause::commands(text, &words, known))
}

/// Whom a text names, command or not.
#[must_use]
pub fn named(text: &str, known: &Known) -> Vec<Target> {
    clause::all_targets(&token::words(text), known)
}

/// What staff say that an unclear reply meant: the reader's word for it, and single words that say no more than where.
#[must_use]
pub fn meant(text: &str) -> Option<Meant> {
    let folded = fold(text);
    let mut words: Vec<&str> = folded.split_whitespace().collect();
    while let Some(first) = words.first() {
        let lead = [
            "is", "its", "was", "means", "meant", "said", "says", "dice", "dijo", "es", "que", "he", "she", "hes",
            "shes",
        ];
        if !lead.contains(first) {
            break;
        }
        words.remove(0);
    }
    let rest = words.join(" ");
    // "head" alone: what a trainer is told by it is a possible sign of concussion. Never the milder of two meanings.
    let head = ["head", "his head", "her head", "the head", "cabeza", "la cabeza", "concussion", "conmocion"];
    if head.contains(&rest.as_str()) {
        return Some(Meant::Flags([Flag::Symptom].into_iter().collect()));
    }
    if ["hurt", "hurts", "injured", "lastimado", "lastimada"].contains(&rest.as_str()) {
        return Some(Meant::Flags([Flag::Injury].into_iter().collect()));
    }
    let reading = reading::read_words(&rest);
    match reading.kind {
        Kind::AllClear => Some(Meant::AllClear),
        Kind::Flagged if !reading.flags.is_empty() => Some(Meant::Flags(reading.flags)),
        _ => None,
    }
}

/// Body words in a text, whoever writes it: they are never left lying. Numbers are jerseys here, no check points, and a
/// hand that hands something on is none that hurts.
#[must_use]
pub fn body_words(text: &str) -> (Flags, bool) {
    let mut plain: String = text.chars().map(|c| if c.is_ascii_digit() || c == '#' { ' ' } else { c }).collect();
    let words = token::words(text);
    for (index, word) in words.iter().enumerate().filter(|(_, word)| word.folded == "hand") {
        let next = words.get(index + 1).map(|word| word.folded.as_str()).unwrap_or_default();
        let jersey = !next.is_empty() && next.bytes().all(|byte| byte.is_ascii_digit());
        if jersey || matches!(next, "off" | "over" | "it") {
            plain.replace_range(word.start..word.end, "    ");
        }
    }
    let reading = reading::read_words(&plain);
    (reading.flags.body(), reading.red_flag)
}

#[cfg(test)]
mod tests;
