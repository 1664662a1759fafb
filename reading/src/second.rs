//! A second opinion without grammar: from the words, and from what the lexicon takes them for.
//!
//! A logistic model over hashed words, tags and their neighbours, trained from labelled replies by
//! `browline read --train`; its weights are part of the binary. It takes an all clear back; it gives flags to a reply that
//! the first reader could not place; it adds a sign of concussion to what was found, and of several flags it takes off
//! those that are surely not meant. It grants no all clear that the first reader holds impossible: only what that one holds for one
//! or for possibly one can be one, and the less surely the first reader says so ([`Standing`]), the surer the second has to be
//! that nothing is off ([`judge`]). Whether anything is off, whether there is a sign of concussion and whether trouble was put
//! beside good news, it answers without a look at what the first reader found.

mod buckets;
mod descent;
mod judge;
mod learn;
mod model;
mod parts;

use std::sync::OnceLock;

pub(super) use buckets::Spelling;
use buckets::words;
pub use learn::{Runs, Trial, train, trial};
use model::{Model, Opinion};
use parts::Ends;

use super::fold::Shape;
use super::lex;
use super::{Evidence, First, Kind, Lang, Reading, Standing, Taken};
use crate::flag::{Control, Flag, Flags};

/// Questions put to a reply: whether it is no all clear, whether it tells of each flag, whether it asks for each control,
/// whether it tells of any flag, and of any without a look at what the first reader found, whether it says neither that all is well nor what is
/// off, whether it looks like good news that trouble was put beside.
const QUESTIONS: usize = BESIDE + 1;
/// Which of them asks whether it tells of any flag.
const ANY_FLAG: usize = 1 + Flag::ALL.len() + Control::ALL.len();
/// Which asks the same without a look at what the first reader found.
const TROUBLE: usize = ANY_FLAG + 1;
/// Which asks whether it leaves open how things are, or says nothing of them.
const LEAVES_OPEN: usize = TROUBLE + 1;
/// Which asks whether trouble was put beside good news.
const BESIDE: usize = LEAVES_OPEN + 1;
const TRAINED: &[u8] = include_bytes!("second.weights");
/// Replies of fewer tokens are safe by the grammar alone, and too short to tell from their words.
const FEWEST_TOKENS: usize = 2;
/// Replies of fewer tokens are placed only when there is little doubt.
const FEWEST_TO_PLACE: usize = 5;
/// The same, of a sign of concussion.
const FEWEST_TO_SEE_A_SIGN: usize = 4;
/// From this probability on a sign of concussion is told behind what seemed a control, or beside a point named by number.
pub const TOO_LIKE_A_SYMPTOM: f32 = 0.5;
/// The same for adding it to other trouble, or to what the first reader could not place: one too many costs a question.
pub const LIKE_A_SYMPTOM: f32 = 0.125;
/// The same for what has a word that no list has.
pub const UNKNOWN_AND_LIKE_A_SYMPTOM: f32 = 0.2;
/// The same for a reply that seems to tell of no flag.
pub const UNTOLD_AND_LIKE_A_SYMPTOM: f32 = 0.18;
/// The same for a reply that denies a sign of concussion.
pub const DENIED_AND_LIKE_A_SYMPTOM: f32 = 0.9;
/// From this probability on a sign that seemed denied was told.
pub const DENIED_AND_SAID: f32 = 0.7;
/// Flags are told from this probability on.
pub const LIKELY: f32 = 0.5;
/// The score of [`LIKELY`].
const EVEN: f32 = 0.0;
/// Of a reply that is about some flag, the likeliest is told from this probability on.
pub const LIKELIEST: f32 = 0.16;
/// The same for a reply of two or three words.
pub const LIKELIEST_OF_FEW: f32 = 0.4;
/// Flags are given to a reply that tells of any with this probability.
pub const TELLS: f32 = 0.17;
/// Below this probability of any flag, what the first reader found is a doubt; never a sign of concussion, never what was
/// named by number.
pub const TELLS_OF_NONE: f32 = 0.1;
/// A reply that names so many points by number tells of no others.
const MANY: usize = 3;
/// A reply that seems to tell of more flags tells of none.
const MOST_TOLD: usize = 4;
/// From this probability on a reply that the first reader could not place is taken for a control.
pub const LIKE_A_CONTROL: f32 = 0.2;
/// The same for one that asks for help.
pub const SURELY_HELP: f32 = 0.35;
/// The same for a reply of two or three words, or one in which trouble was found; and for one that ends texts or is about
/// the number.
pub const SURELY_A_CONTROL: f32 = 0.5;
/// The same for one that takes texts up again: that takes somebody's word (47 CFR 64.1200).
pub const SURELY_A_START: f32 = 0.6;
/// From this probability of a sign of concussion on, nothing is taken for a control.
pub const NO_CONTROL: f32 = 0.15;
/// From this probability on a point is off besides those that were named by number.
pub const SURE: f32 = 0.7;
/// From this probability on what seemed a control is one, and trouble behind one that is not is trouble.
pub const VERY_SURE: f32 = 0.85;
/// Up to this probability what seemed a control is another.
pub const NOT_SO: f32 = 0.1;

/// The reading as it stands after the second reader has seen the text.
#[must_use]
pub(super) fn look(text: &str, taken: &Taken<'_>, first: First) -> Reading {
    static MODEL: OnceLock<Model> = OnceLock::new();
    revised(MODEL.get_or_init(|| Model::of(TRAINED)), text, taken, first)
}

fn revised(model: &Model, text: &str, taken: &Taken<'_>, first: First) -> Reading {
    let First { mut reading, standing, denies_a_sign, numbered } = first;
    let length = length(taken, &reading);
    if length < FEWEST_TOKENS || (standing == Some(Standing::Counted) && reading.kind == Kind::AllClear) {
        if matches!(standing, Some(Standing::Hardly | Standing::Unsaid | Standing::Unnamed | Standing::AtOdds))
            && reading.kind == Kind::AllClear
        {
            reading.kind = Kind::Unclear;
        }
        return reading;
    }
    let opinion = model.opinion(taken, &reading);
    let is_well = || {
        standing.is_some_and(|standing| {
            length >= fewest(standing)
                && model.finds_well(taken, &opinion, standing, length)
                && !(runs_on(standing) && has_troubled_end(&Ends::of(model, text, taken)))
        })
    };
    match reading.kind {
        Kind::AllClear => object(&mut reading, text, &opinion, standing, is_well(), length),
        Kind::Flagged | Kind::Unclear if is_well() => {
            (reading.kind, reading.flags) = (Kind::AllClear, Flags::NONE);
            reading.evidence.retain(|evidence| evidence.says == "good");
        }
        Kind::Unclear => place(&mut reading, text, &opinion, length),
        Kind::Flagged => amend(&mut reading, text, &opinion, denies_a_sign, numbered),
        Kind::Control => turn(&mut reading, text, &opinion, is_well(), length),
    }
    reading
}

/// In fewer words, trouble and what the grammar cannot place are what the grammar says.
const fn fewest(standing: Standing) -> usize {
    match standing {
        Standing::Straying => 12,
        Standing::Rambling => 8,
        Standing::Excused | Standing::Outweighed | Standing::Doubted => 5,
        _ => 0,
    }
}

/// Whether the grammar does not see what became of trouble, or whose it is.
const fn runs_on(standing: Standing) -> bool {
    matches!(standing, Standing::Rambling | Standing::Straying)
}

/// Whether a few words at the beginning or at the end tell of trouble by themselves, wherever clauses end: what runs on has no seams.
fn has_troubled_end(ends: &Ends<'_>) -> bool {
    (3..=9).any(|length| ends.troubled(length) >= TELLS_BY_ITSELF)
}

/// From this probability of any flag on, a few words tell of trouble by themselves.
const TELLS_BY_ITSELF: f32 = 0.9;

/// How many words a reply has; of what seems all clear numerals are none.
fn length(taken: &Taken<'_>, reading: &Reading) -> usize {
    let letters = |word: &&lex::Seen<'_>| reading.kind != Kind::AllClear || word.token.shape == Shape::Word;
    words(&taken.seen).filter(letters).count()
}

/// Whether enough replies in the language were learned from to ask about what the grammar leaves open.
pub(super) fn has_learned(lang: Lang) -> bool {
    [Lang::EN, Lang::ES, Lang::MIX].contains(&lang)
}

fn symptom() -> Flags {
    Flags::from_iter([Flag::Symptom])
}

/// Takes an all clear back, and gives the reply the flags that it surely tells of.
fn object(
    reading: &mut Reading,
    text: &str,
    opinion: &Opinion,
    standing: Option<Standing>,
    is_well: bool,
    length: usize,
) {
    if is_well {
        reading.evidence.retain(|evidence| evidence.says != "doubt");
    } else {
        reading.kind = Kind::Unclear;
        say(reading, text, "doubt");
        // What was denied is asked about, not taken for said, unless there is little doubt.
        let denied = standing == Some(Standing::Denying) && opinion.of(Flag::Symptom) < DENIED_AND_SAID;
        if !denied {
            place(reading, text, opinion, length);
        }
    }
}

/// Gives flags to a reply that the first reader could not place, or takes it for a control.
fn place(reading: &mut Reading, text: &str, opinion: &Opinion, length: usize) {
    let short = length < FEWEST_TO_PLACE;
    if let Some(control) = opinion.control(if short { SURELY_A_CONTROL } else { LIKE_A_CONTROL }) {
        (reading.kind, reading.control) = (Kind::Control, Some(control));
        return say(reading, text, control.name());
    }
    // "Why? what is going on" tells of nothing.
    let like_a_symptom = match length {
        0..FEWEST_TO_SEE_A_SIGN => LIKELY,
        _ if opinion.tells() < TELLS => UNTOLD_AND_LIKE_A_SYMPTOM,
        // "All good but gdc" says little.
        _ if reading.evidence.iter().any(|evidence| evidence.says == "unknown") => UNKNOWN_AND_LIKE_A_SYMPTOM,
        _ => LIKE_A_SYMPTOM,
    };
    let signs: Flags = symptom().iter().filter(|flag| opinion.of(*flag) >= like_a_symptom).collect();
    let told = if opinion.tells() >= TELLS {
        opinion.told(if short { LIKELIEST_OF_FEW } else { LIKELIEST }).union(signs)
    } else {
        signs
    };
    // A few words that look like much say nothing.
    if told.len() <= if short { 1 } else { MOST_TOLD } {
        told.iter().for_each(|flag| add(reading, text, flag));
    }
}

/// Adds a sign of concussion to what was found, and takes off what is surely not meant; what was named by number is.
fn amend(reading: &mut Reading, text: &str, opinion: &Opinion, denies_a_sign: bool, numbered: Flags) {
    // "Im more of a 7 today" says what it says.
    let enough = if denies_a_sign {
        DENIED_AND_LIKE_A_SYMPTOM
    } else if numbered.contains(Flag::Unwell) {
        TOO_LIKE_A_SYMPTOM
    } else {
        LIKE_A_SYMPTOM
    };
    if !reading.flags.contains(Flag::Symptom) && opinion.of(Flag::Symptom) >= enough {
        add(reading, text, Flag::Symptom);
        reading.flags.remove(Flag::Unwell);
    }
    if numbered == Flags::NONE
        && !reading.flags.contains(Flag::Symptom)
        && opinion.likeliest() < LIKELIEST
        && let Some(control) = opinion.control(SURELY_A_CONTROL)
    {
        (reading.kind, reading.flags, reading.control) = (Kind::Control, Flags::NONE, Some(control));
        return say(reading, text, control.name());
    }
    if opinion.tells() < TELLS_OF_NONE && numbered == Flags::NONE && !reading.flags.contains(Flag::Symptom) {
        (reading.kind, reading.flags) = (Kind::Unclear, Flags::NONE);
        return say(reading, text, "doubt");
    }
    // A sign that was denied, and is not likely enough to have been told, says nothing of the rest.
    let told = opinion.told(LIKELIEST).minus(symptom().minus(reading.flags));
    // "All bad but 1": so many numbers say it all.
    if told == Flags::NONE || numbered.len() >= MANY {
        return;
    }
    // "Only 3 and 4 are good": the numbers say which points.
    let point = |flag: Flag| (1..=6).any(|point| Flag::from_check_point(point) == Some(flag));
    let besides = |flag: &Flag| numbered == Flags::NONE || !point(*flag) || opinion.of(*flag) >= SURE;
    for flag in told.minus(reading.flags).iter().filter(|flag| *flag != Flag::Symptom).filter(besides) {
        add(reading, text, flag);
    }
    let stays = told.union(numbered).union(symptom());
    for flag in reading.flags.minus(stays).iter() {
        reading.flags.remove(flag);
        reading.evidence.retain(|evidence| evidence.says != flag.name());
    }
    if reading.flags.contains(Flag::Symptom) {
        reading.flags.remove(Flag::Unwell);
    }
}

/// Finds a sign of concussion or other trouble behind what seemed a control, or takes it for another control, when there is
/// little doubt that it is not what it seemed; an opt-out stays one.
fn turn(reading: &mut Reading, text: &str, opinion: &Opinion, is_well: bool, length: usize) {
    let Some(seemed) = reading.control.filter(|control| *control != Control::Stop) else { return };
    let likely = opinion.asks_for(seemed);
    // "Like new after they fixed it", "film at lunch or after?": nothing is put off.
    let said_in_passing = matches!(seemed, Control::Later | Control::Absent | Control::WrongNumber);
    if said_in_passing && likely < LIKE_A_CONTROL && has_learned(reading.lang) {
        (reading.kind, reading.control) = (Kind::Unclear, None);
        if is_well {
            reading.kind = Kind::AllClear;
            return reading.evidence.retain(|evidence| evidence.says == "good");
        }
        reading.evidence.retain(|evidence| evidence.says != seemed.name());
        say(reading, text, "doubt");
        return place(reading, text, opinion, length);
    }
    let enough = |flag: Flag| if flag == Flag::Symptom { TOO_LIKE_A_SYMPTOM } else { VERY_SURE };
    if likely < VERY_SURE {
        for flag in Flag::ALL.into_iter().filter(|flag| opinion.of(*flag) >= enough(*flag)) {
            reading.control = None;
            add(reading, text, flag);
        }
    }
    let other = opinion.control(VERY_SURE);
    if let Some(other) = other.filter(|_| reading.kind == Kind::Control && likely <= NOT_SO) {
        reading.control = Some(other);
        say(reading, text, other.name());
    }
}

fn add(reading: &mut Reading, text: &str, flag: Flag) {
    reading.kind = Kind::Flagged;
    reading.flags = reading.flags.union(Flags::from_iter([flag]));
    say(reading, text, flag.name());
}

/// Notes what was changed: it rests on the whole text.
fn say(reading: &mut Reading, text: &str, what: &str) {
    let whole = Evidence { span: (0, text.len()), says: format!("second reader: {what}").into() };
    let place = reading.evidence.partition_point(|evidence| *evidence < whole);
    reading.evidence.insert(place, whole);
}

/// Whether a question is answered without a look at what the first reader found: whether the reply is no all clear, whether it
/// tells of a sign of concussion, and those that come after the one of any flag. What the first reader missed, the second has to find by
/// itself.
const fn is_independent(question: usize) -> bool {
    question == 0 || question == 1 + Flag::Symptom as usize || question > ANY_FLAG
}

fn logistic(sum: f32) -> f32 {
    1.0 / (1.0 + (-sum).exp())
}
