//! A second opinion from letters and words alone: no lexicon, no grammar.
//!
//! A logistic model over hashed pieces of words and pairs of words, trained from labelled replies by
//! `browline read --train`; its weights are part of the binary. It takes an all clear back; it gives flags to a reply that
//! the first reader could not place; it adds a sign of concussion to what was found, and of several flags it takes off
//! those that are surely not meant. It never grants an all clear, so that a gap in the lexicons has to get past a reader
//! that does not share them.

mod buckets;
mod learn;

use std::sync::OnceLock;

use buckets::{BUCKETS, each_bucket, words};
pub use learn::{Trial, train, trial};

use super::fold::Folded;
use super::{Evidence, First, Kind, Reading, Standing, fold};
use crate::trade::flag::{Control, Flag, Flags};

/// Questions put to a reply: whether it is no all clear, whether it tells of each flag, whether it asks for each control.
const QUESTIONS: usize = 1 + Flag::ALL.len() + Control::ALL.len();
/// The bytes before the weights: scale and bias of each question, little-endian `f32`.
const HEAD: usize = 8 * QUESTIONS;
const TRAINED: &[u8] = include_bytes!("second.weights");
/// Replies of fewer tokens are safe by the grammar alone, and too short to tell from their letters.
const FEWEST_TOKENS: usize = 2;
/// Replies of fewer tokens are placed only when there is little doubt.
const FEWEST_TO_PLACE: usize = 4;
/// From this probability on an all clear is taken back. By cross-validation: see `DEVELOPERS.md`.
pub const TOO_DOUBTFUL: f32 = 0.5;
/// The same for an all clear that denies trouble: its words are those of trouble.
pub const TOO_DOUBTFUL_OF_DENIALS: f32 = 0.9;
/// The same for an all clear beside which something else is told.
pub const LOOSELY_TOO_DOUBTFUL: f32 = 0.2;
/// The same where the good news names neither the helmet nor everything.
pub const BARELY_TOO_DOUBTFUL: f32 = 0.05;
/// From this probability on a sign of concussion is added. By cross-validation: see `DEVELOPERS.md`.
pub const TOO_LIKE_A_SYMPTOM: f32 = 0.5;
/// The same for a reply that the first reader has found another trouble in.
pub const FLAGGED_AND_LIKE_A_SYMPTOM: f32 = 0.7;
/// From this probability on a flag is given to a reply that the first reader could not place.
pub const SURE: f32 = 0.65;
/// The same for a reply of two or three words.
pub const VERY_SURE: f32 = 0.85;
/// A reply that seems to tell of more flags tells of none.
const MOST_TOLD: usize = 4;
/// From this probability on a reply that the first reader could not place is taken for a control.
pub const SURE_OF_CONTROL: f32 = 0.8;
/// Up to this probability one of several flags is taken off a reply; never a sign of concussion, never the last flag.
pub const NOT_SO: f32 = 0.1;

/// The reading as it stands after the second reader has seen the text.
#[must_use]
pub(super) fn look(text: &str, folded: &Folded, first: First) -> Reading {
    static MODEL: OnceLock<Model> = OnceLock::new();
    revised(MODEL.get_or_init(|| Model::of(TRAINED)), text, folded, first)
}

fn revised(model: &Model, text: &str, folded: &Folded, first: First) -> Reading {
    let First { mut reading, standing, denies_a_sign, numbered } = first;
    // A single sign of concussion needs no second opinion.
    let letters = |token: &fold::Token<'_>| reading.kind != Kind::AllClear || token.shape == fold::Shape::Word;
    let length = words(folded).filter(letters).take(FEWEST_TO_PLACE).count();
    if reading.flags == symptom() || length < FEWEST_TOKENS {
        return reading;
    }
    let opinion = model.opinion(folded);
    match reading.kind {
        Kind::AllClear => object(&mut reading, text, &opinion, standing, length < FEWEST_TO_PLACE),
        Kind::Unclear => place(&mut reading, text, &opinion, length < FEWEST_TO_PLACE),
        Kind::Flagged => amend(&mut reading, text, &opinion, denies_a_sign, numbered),
        Kind::Control => turn(&mut reading, text, &opinion),
    }
    reading
}

fn symptom() -> Flags {
    Flags::from_iter([Flag::Symptom])
}

/// Takes an all clear back, and gives the reply the flags that it surely tells of.
fn object(reading: &mut Reading, text: &str, opinion: &Opinion<'_>, standing: Option<Standing>, short: bool) {
    let (doubtful, like_a_symptom) = match standing {
        Some(Standing::Surely) => (TOO_DOUBTFUL, TOO_LIKE_A_SYMPTOM),
        Some(Standing::Denying) => (TOO_DOUBTFUL_OF_DENIALS, TOO_DOUBTFUL_OF_DENIALS),
        Some(Standing::Loosely) => (LOOSELY_TOO_DOUBTFUL, TOO_LIKE_A_SYMPTOM),
        Some(Standing::Barely) | None => (BARELY_TOO_DOUBTFUL, TOO_LIKE_A_SYMPTOM),
    };
    if opinion.off() >= doubtful || opinion.of(Flag::Symptom) >= like_a_symptom {
        reading.kind = Kind::Unclear;
        say(reading, text, "doubt");
        place(reading, text, opinion, short);
    }
}

/// Gives flags to a reply that the first reader could not place, or takes it for a control.
fn place(reading: &mut Reading, text: &str, opinion: &Opinion<'_>, short: bool) {
    let enough = |flag: Flag| match flag {
        Flag::Symptom => TOO_LIKE_A_SYMPTOM,
        _ if short => VERY_SURE,
        _ => SURE,
    };
    let told: Flags = Flag::ALL.into_iter().filter(|flag| opinion.of(*flag) >= enough(*flag)).collect();
    // A few words that look like much say nothing.
    if told.len() <= if short { 1 } else { MOST_TOLD } {
        told.iter().for_each(|flag| add(reading, text, flag));
    }
    let sure = if short { VERY_SURE } else { SURE_OF_CONTROL };
    if reading.kind == Kind::Unclear
        && let Some(control) = opinion.control(sure)
    {
        (reading.kind, reading.control) = (Kind::Control, Some(control));
        say(reading, text, control.name());
    }
}

/// Adds a sign of concussion to what was found, and takes off what is surely not meant; what was named by number is.
fn amend(reading: &mut Reading, text: &str, opinion: &Opinion<'_>, denies_a_sign: bool, numbered: Flags) {
    let enough = if denies_a_sign { TOO_DOUBTFUL_OF_DENIALS } else { FLAGGED_AND_LIKE_A_SYMPTOM };
    if !reading.flags.contains(Flag::Symptom) && opinion.of(Flag::Symptom) >= enough {
        add(reading, text, Flag::Symptom);
        reading.flags.remove(Flag::Unwell);
    }
    let not_so = |flag: &Flag| *flag != Flag::Symptom && opinion.of(*flag) <= NOT_SO && !numbered.contains(*flag);
    let off: Flags = reading.flags.iter().filter(not_so).collect();
    if off == reading.flags {
        // What it surely tells of stands in place of what it surely does not.
        for flag in Flag::ALL.into_iter().filter(|flag| opinion.of(*flag) >= SURE) {
            add(reading, text, flag);
        }
    }
    if off == reading.flags
        && let Some(control) = opinion.control(VERY_SURE)
    {
        (reading.kind, reading.flags, reading.control) = (Kind::Control, Flags::NONE, Some(control));
        return say(reading, text, control.name());
    }
    if off.len() < reading.flags.len() {
        for flag in off.iter() {
            reading.flags.remove(flag);
            reading.evidence.retain(|evidence| evidence.says != flag.name());
        }
    }
}

/// Finds a sign of concussion or other trouble behind what seemed a control, or takes it for another control, when there is
/// little doubt that it is not what it seemed; an opt-out stays one.
fn turn(reading: &mut Reading, text: &str, opinion: &Opinion<'_>) {
    let Some(seemed) = reading.control.filter(|control| *control != Control::Stop) else { return };
    let likely = opinion.asks_for(seemed);
    let enough = |flag: Flag| if flag == Flag::Symptom { TOO_LIKE_A_SYMPTOM } else { VERY_SURE };
    if likely < SURE_OF_CONTROL {
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

/// The trained weights, made ready for reading.
struct Model {
    scales: [Scale; QUESTIONS],
    /// The weights of each bucket for all questions, side by side: most buckets are far from each other.
    weights: Box<[[i8; QUESTIONS]]>,
}

/// What turns a sum of weights into a probability.
#[derive(Debug, Clone, Copy, Default)]
struct Scale {
    scale: f32,
    bias: f32,
}

/// So many weights add up within 16 bits.
const FEW: usize = i16::MAX as usize / i8::MAX as usize - 2;

/// What the model makes of one reply.
struct Opinion<'a> {
    model: &'a Model,
    sums: [i32; QUESTIONS],
    features: usize,
}

impl Model {
    fn of(trained: &[u8]) -> Self {
        let (head, weights) = trained.split_at(HEAD.min(trained.len()));
        let number = |at: usize| head.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0.0, f32::from_le_bytes);
        let mut scales = [Scale::default(); QUESTIONS];
        for (at, scale) in scales.iter_mut().enumerate() {
            *scale = Scale { scale: number(at * 8), bias: number(at * 8 + 4) };
        }
        let row = |row: &[u8]| std::array::from_fn(|at| row.get(at).map_or(0, |byte| i8::from_le_bytes([*byte])));
        Self { scales, weights: weights.chunks(QUESTIONS).map(row).collect() }
    }

    fn opinion(&self, folded: &Folded) -> Opinion<'_> {
        let mut seen = [0_u64; BUCKETS / 64];
        let mut opinion = Opinion { model: self, sums: [0; QUESTIONS], features: 0 };
        // Short sums of a few are added up faster than long ones.
        let mut few = [0_i16; QUESTIONS];
        each_bucket(folded, |at| {
            let (slot, bit) = (&mut seen[at / 64], at % 64);
            if *slot >> bit & 1 == 1 {
                return;
            }
            *slot |= 1 << bit;
            opinion.features += 1;
            for (sum, weight) in few.iter_mut().zip(self.weights[at]) {
                *sum += i16::from(weight);
            }
            if opinion.features.is_multiple_of(FEW) {
                opinion.add(&mut few);
            }
        });
        opinion.add(&mut few);
        opinion
    }
}

impl Opinion<'_> {
    fn add(&mut self, few: &mut [i16; QUESTIONS]) {
        for (sum, few) in self.sums.iter_mut().zip(few.iter_mut()) {
            *sum += i32::from(std::mem::take(few));
        }
    }

    /// How likely it is that the reply is no all clear.
    fn off(&self) -> f32 {
        self.probability(0)
    }

    /// How likely it is that the reply tells of the flag.
    fn of(&self, flag: Flag) -> f32 {
        self.probability(1 + flag as usize)
    }

    /// The control that the reply asks for, from this probability on. Texts are never taken up again on a guess: that takes
    /// somebody's word (47 CFR 64.1200); whether they end, or the number is another's, has to be all but certain.
    fn control(&self, sure: f32) -> Option<Control> {
        Control::ALL.into_iter().find(|control| match control {
            Control::Start => false,
            Control::Stop | Control::WrongNumber => self.asks_for(*control) >= VERY_SURE.max(sure),
            Control::Help | Control::Absent | Control::Later => self.asks_for(*control) >= sure,
        })
    }

    /// How likely it is that the reply asks for the control.
    fn asks_for(&self, control: Control) -> f32 {
        self.probability(1 + Flag::ALL.len() + control as usize)
    }

    fn probability(&self, question: usize) -> f32 {
        let Scale { scale, bias } = self.model.scales[question];
        logistic(bias + scale * self.sums[question] as f32 / (self.features.max(1) as f32).sqrt())
    }
}

fn logistic(sum: f32) -> f32 {
    1.0 / (1.0 + (-sum).exp())
}

#[cfg(test)]
mod tests {
    use super::buckets::features;
    use super::*;

    #[test]
    fn each_bucket_weighs_once() {
        let model = Model::of(TRAINED);
        for text in ["", "ok", "goooood good good 100 señor", "it it it it it", "2n5 x-ray won't 日本 👍"] {
            let folded = fold::fold(text);
            let (opinion, features) = (model.opinion(&folded), features(&folded));
            let sum = |at: usize| features.iter().map(|bucket| i32::from(model.weights[*bucket][at])).sum();
            let sums: [i32; QUESTIONS] = std::array::from_fn(sum);
            assert_eq!((opinion.features, opinion.sums), (features.len(), sums), "{text}");
        }
    }

    #[test]
    fn the_embedded_weights_are_whole() {
        assert_eq!(TRAINED.len(), HEAD + QUESTIONS * BUCKETS);
    }
}
