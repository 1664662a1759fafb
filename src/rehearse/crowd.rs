//! Simulated athletes: pure and seeded.
//!
//! What somebody does follows from the seed, the athlete and the day alone, never from the order in which anybody is
//! asked. A day is cast like a play: the same parts every morning (one headache at least, one STOP, a few who say
//! nothing), played by whom the seed picks; everybody else says that all is well, in time or late.

mod lines;

use std::collections::BTreeMap;

use chrono::{NaiveDate, TimeDelta};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest as _, Sha256};

use crate::desk::inbound::who::fold;
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, Language};
use lines::Lines;

/// Nobody in the crowd types later than this after the text that made them.
pub const LONGEST: TimeDelta = TimeDelta::hours(5);

/// What a person does about a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    /// How long after the text.
    pub after: TimeDelta,
    /// What they type; empty when it is a photo alone.
    pub text: String,
    /// Whether a photo comes with it.
    pub photo: bool,
}

/// What a text is, as the person who gets it sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Seen {
    /// The morning check.
    Check,
    /// The reminder.
    Nudge,
    /// "We didn't get that."
    AskedAgain,
    /// "Which one?", on a phone that is shared.
    AskedWho,
    /// "Now in words, please", after a photo.
    AskedWords,
    /// Where to bring the helmet.
    ToBring,
    /// Anything else: nothing to answer.
    Other,
}

/// How the check begins, folded.
const CHECK: &[&str] = &["helmet check, ", "revision del casco, "];
/// What gives another text away, folded; the first that is found counts.
const SIGNS: &[(Seen, &str)] = &[
    (Seen::Nudge, "no answer to your helmet check yet"),
    (Seen::Nudge, "falta tu revision del casco"),
    (Seen::AskedAgain, "we didn't get that"),
    (Seen::AskedAgain, "no entendimos"),
    (Seen::AskedWho, "which one?"),
    (Seen::AskedWho, "de quien es?"),
    (Seen::AskedWords, "now in words"),
    (Seen::AskedWords, "ahora en palabras"),
    (Seen::Other, "we still can't read"),
    (Seen::Other, "seguimos sin entender"),
    (Seen::ToBring, "bring your helmet to"),
    (Seen::ToBring, "so staff can refit"),
    (Seen::ToBring, "staff will sort it out"),
    (Seen::ToBring, "lleva tu casco antes de"),
    (Seen::ToBring, "te ajusten el casco"),
    (Seen::ToBring, "lo resolvemos"),
];

impl Seen {
    /// What a text is.
    #[must_use]
    pub fn of(text: &str) -> Self {
        let folded = fold(text);
        if CHECK.iter().any(|begins| folded.starts_with(begins)) {
            return Self::Check;
        }
        SIGNS.iter().find(|(_, sign)| folded.contains(sign)).map_or(Self::Other, |(seen, _)| *seen)
    }
}

/// What somebody is up to this morning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// All is well, within minutes.
    Ok,
    /// All is well, and the thumbs slipped.
    OkSloppy,
    /// All is well, in several texts.
    OkInPieces,
    /// All is well, hours later.
    OkLate,
    /// Answers the reminder, not the check.
    Nudged,
    /// Says nothing at all.
    Silent,
    /// Numbers of what is off.
    Numbers,
    /// Words for what is off.
    Words,
    /// Numbers, and a moment later one more.
    Correction,
    /// Something off, and then "fixed it".
    FixedIt,
    /// Words with a photo.
    Photo,
    /// A photo alone, then words.
    PhotoAlone,
    /// The helmet is somewhere else.
    Missing,
    /// Will check later, and does.
    Later,
    /// Not coming today.
    Absent,
    /// Unclear, and clear when asked again.
    Puzzled,
    /// Unclear, and something is off when asked again.
    PuzzledThenOff,
    /// Unclear both times.
    PuzzledTwice,
    /// A headache or another sign that the athletic trainer must hear of.
    Symptom,
    /// Ill, or 7.
    Unwell,
    /// It is somebody else's number.
    WrongNumber,
    /// Wants no more texts.
    Stop,
    /// Two athletes on one phone.
    Shared,
}

/// Parts of a morning of [`FULL`] phones; those who are left over are well.
const PARTS: &[(Part, usize)] = &[
    (Part::Silent, 6),
    (Part::Nudged, 9),
    (Part::OkLate, 8),
    (Part::OkInPieces, 3),
    (Part::OkSloppy, 3),
    (Part::Words, 3),
    (Part::Numbers, 2),
    (Part::Correction, 1),
    (Part::FixedIt, 1),
    (Part::Photo, 1),
    (Part::PhotoAlone, 1),
    (Part::Missing, 1),
    (Part::Later, 2),
    (Part::Absent, 1),
    (Part::Puzzled, 2),
    (Part::PuzzledThenOff, 1),
    (Part::PuzzledTwice, 1),
    (Part::WrongNumber, 1),
];
/// How many phones the counts of [`PARTS`] are for.
const FULL: usize = 88;

/// Everybody with a phone.
#[derive(Debug, Clone)]
pub struct Crowd {
    seed: u64,
    phones: BTreeMap<Phone, Vec<Athlete>>,
}

impl Crowd {
    /// A crowd of these athletes; one without a phone takes no part.
    #[must_use]
    pub fn new(seed: u64, athletes: &[Athlete]) -> Self {
        let mut phones: BTreeMap<Phone, Vec<Athlete>> = BTreeMap::new();
        for athlete in athletes {
            if let Some(phone) = &athlete.phone {
                phones.entry(phone.clone()).or_default().push(athlete.clone());
            }
        }
        phones.values_mut().for_each(|here| here.sort_by(|a, b| a.id.cmp(&b.id)));
        Self { seed, phones }
    }

    /// Who plays what on a day.
    #[must_use]
    pub fn cast(&self, date: NaiveDate) -> BTreeMap<&Phone, Part> {
        let mut cast = BTreeMap::new();
        let mut alone = Vec::new();
        for (phone, here) in &self.phones {
            match here.as_slice() {
                [athlete] => alone.push((self.chance(date, athlete, "place").random::<u64>(), phone)),
                _ => drop(cast.insert(phone, Part::Shared)),
            }
        }
        alone.sort();
        let parts = self.parts(date, alone.len());
        let parts = parts.into_iter().chain(std::iter::repeat(Part::Ok));
        cast.extend(alone.into_iter().map(|(_, phone)| phone).zip(parts));
        cast
    }

    fn parts(&self, date: NaiveDate, phones: usize) -> Vec<Part> {
        let mut rng = ChaCha8Rng::from_seed(digest(self.seed, date, "", "parts"));
        let held: &[Part] = match rng.random_range(0..3) {
            0 => &[Part::Symptom],
            1 => &[Part::Symptom, Part::Unwell],
            _ => &[Part::Symptom, Part::Symptom],
        };
        let mut parts = held.to_vec();
        parts.push(Part::Stop);
        for (part, count) in PARTS {
            // One more or less of what is frequent, so that no two mornings are alike.
            let count = if *count >= 2 { rng.random_range(count - 1..=count + 1) } else { *count };
            let scaled = (count * phones + FULL / 2) / FULL;
            parts.extend(std::iter::repeat_n(*part, scaled));
        }
        parts
    }

    fn chance(&self, date: NaiveDate, athlete: &Athlete, what: &str) -> ChaCha8Rng {
        ChaCha8Rng::from_seed(digest(self.seed, date, athlete.id.as_str(), what))
    }

    /// What whoever holds this phone does about a text that has just come.
    #[must_use]
    pub fn answers(&self, date: NaiveDate, phone: &Phone, text: &str) -> Vec<Act> {
        let seen = Seen::of(text);
        let (Some(here), false) = (self.phones.get(phone), seen == Seen::Other) else { return Vec::new() };
        let Some(last) = here.last() else { return Vec::new() };
        let rng = self.chance(date, last, &format!("{seen:?}"));
        // Whether somebody mixes languages is the same all day.
        let mixed = self.chance(date, last, "mixed").random_range(0..10) < 3;
        let mut player = Player { rng, language: last.language, mixed };
        match self.cast(date).get(phone) {
            Some(Part::Shared) => {
                let questions = self.chance(date, last, "shared").random_range(0..2) == 0;
                player.shared(here, seen, text, questions)
            }
            Some(part) => player.alone(*part, seen),
            None => Vec::new(),
        }
    }
}

/// A stream of chance of its own for each seed, day, person and topic.
fn digest(seed: u64, date: NaiveDate, who: &str, what: &str) -> [u8; 32] {
    Sha256::digest(format!("{seed}/{date}/{who}/{what}")).into()
}

/// One person with one text before them.
struct Player {
    rng: ChaCha8Rng,
    language: Language,
    mixed: bool,
}

impl Player {
    fn pick(&mut self, lines: &Lines) -> String {
        let lines = lines.of(self.language, self.mixed);
        let index = self.rng.random_range(0..lines.len());
        lines.get(index).copied().unwrap_or("ok").to_owned()
    }

    /// Within minutes, most at once, as people answer texts.
    fn soon(&mut self) -> i64 {
        let (from, to) = match self.rng.random_range(0..10) {
            0..3 => (20, 120),
            3..7 => (90, 480),
            _ => (300, 1_500),
        };
        self.rng.random_range(from..to)
    }

    fn between(&mut self, from_minutes: i64, to_minutes: i64) -> i64 {
        self.rng.random_range(from_minutes * 60..to_minutes * 60)
    }

    fn once(&mut self, after: i64, lines: &Lines) -> Vec<Act> {
        vec![act(after, self.pick(lines))]
    }

    fn alone(&mut self, part: Part, seen: Seen) -> Vec<Act> {
        match seen {
            Seen::Check => self.checked(part),
            Seen::Nudge if part == Part::Nudged => {
                let after = self.between(1, 55);
                self.once(after, &lines::OK)
            }
            Seen::AskedAgain => self.asked_again(part),
            Seen::AskedWords if part == Part::PhotoAlone => {
                let after = self.between(1, 6);
                self.once(after, &lines::NUMBERS)
            }
            Seen::ToBring if part == Part::FixedIt => {
                let after = self.between(5, 25);
                self.once(after, &lines::FIXED)
            }
            _ => Vec::new(),
        }
    }

    fn checked(&mut self, part: Part) -> Vec<Act> {
        let soon = self.soon();
        match part {
            Part::Ok => self.once(soon, &lines::OK),
            Part::OkSloppy => self.once(soon, &lines::OK_SLOPPY),
            Part::OkInPieces => self.in_pieces(soon),
            Part::OkLate => {
                let after = self.between(50, 230);
                self.once(after, &lines::OK)
            }
            Part::Numbers => self.once(soon, &lines::NUMBERS),
            Part::Words => self.once(soon, &lines::WORDS),
            Part::Correction => {
                let wait = self.rng.random_range(20..90);
                let more = self.spoken("wait 3 too", "espera, el 3 también");
                vec![act(soon, self.spoken("2", "2")), act(soon + wait, more)]
            }
            Part::FixedIt => self.once(soon, &lines::STRAP_OFF),
            Part::Photo => self.once(soon, &lines::PHOTO).into_iter().map(|act| Act { photo: true, ..act }).collect(),
            Part::PhotoAlone => vec![Act { photo: true, ..act(soon, String::new()) }],
            Part::Missing => self.once(soon, &lines::MISSING),
            Part::Later => {
                let after = self.between(150, 280);
                let mut acts = self.once(soon, &lines::LATER);
                acts.extend(self.once(after, &lines::OK));
                acts
            }
            Part::Absent => self.once(soon, &lines::ABSENT),
            Part::Puzzled | Part::PuzzledThenOff | Part::PuzzledTwice => self.once(soon, &lines::PUZZLING),
            Part::Symptom => self.once(soon, &lines::SYMPTOM),
            Part::Unwell => self.once(soon, &lines::UNWELL),
            Part::WrongNumber => self.once(soon, &lines::WRONG_NUMBER),
            Part::Stop => self.once(soon, &lines::STOP),
            Part::Silent | Part::Nudged | Part::Shared => Vec::new(),
        }
    }

    fn asked_again(&mut self, part: Part) -> Vec<Act> {
        let after = self.between(1, 20);
        match part {
            Part::PuzzledThenOff => self.once(after, &lines::WORDS),
            Part::PuzzledTwice => self.once(after, &lines::PUZZLING),
            // Where somebody is held for the body, nobody asks again.
            _ => self.once(after, &lines::OK),
        }
    }

    fn in_pieces(&mut self, soon: i64) -> Vec<Act> {
        let first = self.spoken("gm", "buenos dias");
        let then = self.spoken("jus checked it", "ya lo revisé");
        let wait = self.rng.random_range(6..25);
        vec![act(soon, first), act(soon + wait, then), act(soon + wait * 2, self.spoken("all good", "todo bien"))]
    }

    fn spoken(&self, en: &str, es: &str) -> String {
        if self.language == Language::Es { es } else { en }.to_owned()
    }

    /// Athletes on one phone: one of them types for all, once the last check has come.
    fn shared(&mut self, here: &[Athlete], seen: Seen, text: &str, questions: bool) -> Vec<Act> {
        let ([first, .., last], false) = (here, here.len() < 2) else { return Vec::new() };
        let strap = self.spoken("5", "5");
        let soon = self.rng.random_range(150..900);
        match seen {
            Seen::Check if !text.contains(&last.first) => Vec::new(),
            // "ok", and nobody can tell whose it is.
            Seen::Check if questions => {
                let later = soon + self.between(3, 8);
                vec![act(soon, "ok".to_owned()), act(later, format!("{} {strap} wont click", first.first))]
            }
            Seen::Check => vec![act(soon, format!("{} ok, {} {strap}", last.first, first.first))],
            Seen::AskedWho => vec![act(self.rng.random_range(15..60), last.first.clone())],
            _ => Vec::new(),
        }
    }
}

fn act(after: i64, text: String) -> Act {
    Act { after: TimeDelta::seconds(after), text, photo: false }
}

#[cfg(test)]
mod tests;
