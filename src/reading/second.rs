//! A second opinion from letters and words alone: no lexicon, no grammar.
//!
//! A logistic model over hashed pieces of words and pairs of words, trained from labelled replies by
//! `browline read --train`; its weights are part of the binary. It takes an all clear back; it gives flags to a reply that
//! the first reader could not place; it adds a sign of concussion to what was found, and of several flags it takes off
//! those that are surely not meant. It never grants an all clear, so that a gap in the lexicons has to get past a reader
//! that does not share them.

use std::sync::OnceLock;

use super::fold::Folded;
use super::score::Labelled;
use super::{Evidence, First, Kind, Reading, Standing, fold};
use crate::trade::flag::{Control, Flag, Flags};

/// Buckets that features are hashed into.
const BUCKETS: usize = 1 << 16;
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
/// From this probability on a reply that the first reader could not place is taken for a control.
pub const SURE_OF_CONTROL: f32 = 0.7;
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
    for flag in Flag::ALL.into_iter().filter(|flag| opinion.of(*flag) >= enough(*flag)) {
        add(reading, text, flag);
    }
    if reading.kind == Kind::Unclear
        && let Some(control) = Control::ALL.into_iter().find(|control| opinion.asks_for(*control) >= SURE_OF_CONTROL)
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
        && let Some(control) = Control::ALL.into_iter().find(|control| opinion.asks_for(*control) >= VERY_SURE)
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
    let other = Control::ALL.into_iter().find(|control| opinion.asks_for(*control) >= VERY_SURE);
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
        each_bucket(folded, |at| {
            let (slot, bit) = (&mut seen[at / 64], at % 64);
            if *slot >> bit & 1 == 1 {
                return;
            }
            *slot |= 1 << bit;
            for (sum, weight) in opinion.sums.iter_mut().zip(self.weights[at]) {
                *sum += i32::from(weight);
            }
            opinion.features += 1;
        });
        opinion
    }
}

impl Opinion<'_> {
    /// How likely it is that the reply is no all clear.
    fn off(&self) -> f32 {
        self.probability(0)
    }

    /// How likely it is that the reply tells of the flag.
    fn of(&self, flag: Flag) -> f32 {
        self.probability(1 + flag as usize)
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

/// The words and numerals of a reply: marks and emoji say too little here, and must not tip the scales.
fn words(folded: &Folded) -> impl Iterator<Item = fold::Token<'_>> {
    folded.whole_tokens().filter(|token| matches!(token.shape, fold::Shape::Word | fold::Shape::Number))
}

/// The weights, as the binary embeds them. The same replies give the same weights.
#[must_use]
pub fn train(lines: &[Labelled]) -> Vec<u8> {
    let lines: Vec<Lesson> = lines.iter().map(Lesson::of).collect();
    let shares: [(f32, f32); QUESTIONS] = std::array::from_fn(|question| shares(&lines, question));
    let mut weights = vec![[0.0_f32; QUESTIONS]; BUCKETS];
    let mut slope_squares = vec![[1e-6_f32; QUESTIONS]; BUCKETS];
    let mut biases = [0.0_f32; QUESTIONS];
    for round in 0..ROUNDS {
        for step in 0..lines.len() {
            // A fixed order that is another in each round: a stride prime to most numbers of lines.
            let lesson = &lines[(step * STRIDES[round % STRIDES.len()]) % lines.len()];
            let value = 1.0 / (lesson.features.len().max(1) as f32).sqrt();
            for question in 0..QUESTIONS {
                let Some(so) = lesson.answers[question] else { continue };
                let sum = lesson.features.iter().map(|at| weights[*at][question]).sum::<f32>();
                let (goal, share) = if so { (1.0, shares[question].0) } else { (0.0, shares[question].1) };
                let miss = logistic(biases[question] + sum * value) - goal;
                if miss.abs() < CLOSE_ENOUGH {
                    continue;
                }
                biases[question] -= 0.01 * miss * share;
                for at in &lesson.features {
                    let (weight, squares) = (&mut weights[*at][question], &mut slope_squares[*at][question]);
                    let slope = miss * share * value + DECAY * *weight;
                    *squares += slope * slope;
                    *weight -= RATE * slope / squares.sqrt();
                }
            }
        }
    }
    packed(&weights, &biases)
}

/// Scale and bias of each question, then the weights of each bucket as bytes.
fn packed(weights: &[[f32; QUESTIONS]], biases: &[f32; QUESTIONS]) -> Vec<u8> {
    let most = |question: usize| weights.iter().fold(f32::MIN_POSITIVE, |most, row| most.max(row[question].abs()));
    let scales: [f32; QUESTIONS] = std::array::from_fn(|question| most(question) / 127.0);
    let head = scales.iter().zip(biases).flat_map(|(scale, bias)| [scale.to_le_bytes(), bias.to_le_bytes()]);
    let mut bytes: Vec<u8> = head.flatten().collect();
    for row in weights {
        bytes.extend(row.iter().zip(scales).map(|(weight, scale)| ((weight / scale).round() as i8).to_le_bytes()[0]));
    }
    bytes
}

const ROUNDS: usize = 40;
const STRIDES: [usize; 4] = [1, 7_919, 104_729, 15_485_863];
const RATE: f32 = 0.15;
const DECAY: f32 = 2e-4;
/// An answer that is off by less teaches nothing.
const CLOSE_ENOUGH: f32 = 0.02;

/// One labelled reply, for learning by stochastic gradient descent, each weight at its own pace (Duchi, Hazan and Singer,
/// "Adaptive Subgradient Methods", JMLR 12, 2011).
struct Lesson {
    features: Vec<usize>,
    /// None: the reply teaches nothing about the question.
    answers: [Option<bool>; QUESTIONS],
}

impl Lesson {
    fn of(line: &Labelled) -> Self {
        let mut answers = [None; QUESTIONS];
        answers[0] = (line.reading != Kind::Control).then_some(line.reading != Kind::AllClear);
        for flag in Flag::ALL {
            let either = line.also_ok.contains(flag);
            answers[1 + flag as usize] = (!either).then_some(line.flags.contains(flag));
        }
        for control in Control::ALL {
            answers[1 + Flag::ALL.len() + control as usize] = Some(line.control == Some(control));
        }
        Self { features: features(&fold::fold(&line.text)), answers }
    }
}

/// How much a reply weighs for which it is so and for which it is not: both kinds weigh the same, however many there are.
fn shares(lines: &[Lesson], question: usize) -> (f32, f32) {
    let answers = || lines.iter().filter_map(|lesson| lesson.answers[question]);
    let (all, so) = (answers().count(), answers().filter(|so| *so).count());
    let share = |count: usize| all as f32 / (2 * count.max(1)) as f32;
    (share(so), share(all - so))
}

fn logistic(sum: f32) -> f32 {
    1.0 / (1.0 + (-sum).exp())
}

/// The buckets of a reply, in order, each once.
fn features(folded: &Folded) -> Vec<usize> {
    let mut found = Vec::new();
    each_bucket(folded, |at| found.push(at));
    found.sort_unstable();
    found.dedup();
    found
}

/// Finds the buckets of a reply, some more than once: words, pairs of neighbours, and three to five letters of each word
/// with its ends marked.
fn each_bucket(folded: &Folded, mut found: impl FnMut(usize)) {
    let mut before = PAIR.and(b' ');
    for token in words(folded) {
        let (mut word, mut pair, mut opens_pair) = (WORD, before, PAIR);
        let mut runs = Runs::new();
        let mut last = ' ';
        for letter in token.text.chars() {
            // A letter held down is one letter.
            if std::mem::replace(&mut last, letter) == letter && !letter.is_ascii_digit() {
                continue;
            }
            [word, pair, opens_pair] = [word, pair, opens_pair].map(|hash| hash.and_letter(letter));
            runs.add(letter, &mut found);
        }
        runs.add(MARK, &mut found);
        found(word.bucket());
        found(pair.bucket());
        before = opens_pair.and(b' ');
    }
}

/// What marks the ends of a word.
const MARK: char = '_';

/// A hash as far as it has come: FNV-1a (Fowler, Noll and Vo), folded to a bucket. It has to stay the same for as long
/// as the weights do.
#[derive(Clone, Copy, PartialEq, Debug)]
struct Fnv(u64);

const START: Fnv = Fnv(0xcbf2_9ce4_8422_2325);
const WORD: Fnv = START.and(b'w');
const PAIR: Fnv = START.and(b'p');
const LETTERS: Fnv = START.and(b'l');

impl Fnv {
    const fn and(self, byte: u8) -> Self {
        Self((self.0 ^ byte as u64).wrapping_mul(0x0100_0000_01b3))
    }

    fn and_letter(self, letter: char) -> Self {
        if letter.is_ascii() {
            return self.and(letter as u8);
        }
        letter.encode_utf8(&mut [0; 4]).bytes().fold(self, Self::and)
    }

    const fn bucket(self) -> usize {
        ((self.0 ^ (self.0 >> 32)) as usize) & (BUCKETS - 1)
    }
}

/// Hashes of the last one to five letters of a word, or of all that there are so far.
struct Runs([Fnv; 5]);

impl Runs {
    fn new() -> Self {
        Self([LETTERS.and_letter(MARK); 5])
    }

    fn add(&mut self, letter: char, mut found: impl FnMut(usize)) {
        let [one, two, three, four, _] = self.0;
        self.0 = [LETTERS, one, two, three, four].map(|run| run.and_letter(letter));
        self.0[2..].iter().for_each(|run| found(run.bucket()));
    }
}

/// What the second reader did to replies that it had not learned from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Trial {
    /// All clears that the first reader rightly gave, and how many of them were taken back.
    pub right_clears: (usize, usize),
    /// All clears that the first reader wrongly gave, and how many of them were taken back.
    pub wrong_clears: (usize, usize),
    /// Flagged and unclear replies, and how many of them it would take an all clear of back.
    pub off: (usize, usize),
    /// Symptoms that the first reader missed, and to how many of them the flag was added.
    pub missed_symptoms: (usize, usize),
    /// Replies without a symptom, and to how many of them the flag was added.
    pub without_symptom: (usize, usize),
}

/// Learns from some replies and tries it on others.
#[must_use]
pub fn trial(learned: &[Labelled], tried: &[Labelled]) -> Trial {
    let model = Model::of(&train(learned));
    let mut trial = Trial::default();
    let count = |pair: &mut (usize, usize), hit: bool| *pair = (pair.0 + 1, pair.1 + usize::from(hit));
    for line in tried.iter().filter(|line| line.reading != Kind::Control) {
        let folded = fold::fold(&line.text);
        let whole = super::first(&line.text, &folded);
        let first = whole.reading.clone();
        let is_clear = line.reading == Kind::AllClear;
        let second = revised(&model, &line.text, &folded, whole.clone());
        if first.kind == Kind::AllClear {
            let pair = if is_clear { &mut trial.right_clears } else { &mut trial.wrong_clears };
            count(pair, second.kind != Kind::AllClear);
        }
        if !is_clear {
            let cleared = Reading { kind: Kind::AllClear, flags: Flags::NONE, ..first.clone() };
            let cleared = First { reading: cleared, standing: Some(Standing::Surely), ..whole.clone() };
            count(&mut trial.off, revised(&model, &line.text, &folded, cleared).kind != Kind::AllClear);
        }
        let added = !first.flags.contains(Flag::Symptom) && second.flags.contains(Flag::Symptom);
        if line.flags.contains(Flag::Symptom) && !line.also_ok.contains(Flag::Symptom) {
            if !first.flags.contains(Flag::Symptom) {
                count(&mut trial.missed_symptoms, added);
            }
        } else if !line.flags.union(line.also_ok).contains(Flag::Symptom) {
            count(&mut trial.without_symptom, added);
        }
    }
    trial
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labelled(text: &str, reading: Kind) -> Labelled {
        serde_json::from_value(serde_json::json!({
            "text": text, "lang": "en", "reading": reading, "flags": [], "also_ok": [], "control": null
        }))
        .unwrap_or_else(|error| unreachable!("{error}"))
    }

    #[test]
    fn it_learns_what_it_is_shown_and_the_same_each_time() {
        let clear = ["all good coach", "helmet is good", "everything fits fine", "all six are good"];
        let off = ["my strap broke again", "mask is loose", "crack in the shell", "it slides around"];
        let lines: Vec<Labelled> = clear
            .map(|text| labelled(text, Kind::AllClear))
            .into_iter()
            .chain(off.map(|text| labelled(text, Kind::Flagged)))
            .collect();
        let weights = train(&lines);
        let ready = Model::of(&weights);
        let off = |text: &str| ready.opinion(&fold::fold(text)).off();
        for line in &lines {
            assert_eq!(off(&line.text) > 0.5, line.reading != Kind::AllClear, "{}", line.text);
        }
        assert!(off("the strap is broken and loose") > 0.5);
        assert_eq!(weights, train(&lines));
    }

    #[test]
    fn the_hash_is_the_published_one() {
        // The authors' test vectors: FNV-1a 64 of "foobar". From memory.
        assert_eq!("foobar".bytes().fold(START, Fnv::and), Fnv(0x8594_4171_f739_67e8));
    }

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
