//! A second opinion from letters and words alone: no lexicon, no grammar.
//!
//! Two logistic models over hashed pieces of words and pairs of words, trained from labelled replies by
//! `browline read --train`; their weights are part of the binary. One takes an all clear back. The other adds a sign of
//! concussion to a reply that the first reader could not place or took for something else. Neither ever grants anything,
//! so that a gap in the lexicons has to get past a reader that does not share them.

use std::sync::OnceLock;

use super::fold::Folded;
use super::score::Labelled;
use super::{Evidence, Kind, Reading, fold};
use crate::trade::flag::{Flag, Flags};

/// Buckets that features are hashed into.
const BUCKETS: usize = 1 << 15;
/// The bytes before a model's weights: scale and bias, little-endian `f32`.
const HEAD: usize = 8;
const MODEL: usize = HEAD + BUCKETS;
const TRAINED: &[u8] = include_bytes!("second.weights");
/// Replies of fewer tokens are safe by the grammar alone, and too short to tell from their letters.
const FEWEST_TOKENS: usize = 5;
/// From this probability on an all clear is taken back. By cross-validation: see `DEVELOPERS.md`.
pub const TOO_DOUBTFUL: f32 = 0.85;
/// From this probability on a sign of concussion is added. By cross-validation: see `DEVELOPERS.md`.
pub const TOO_LIKE_A_SYMPTOM: f32 = 0.65;
/// The same for a reply that the first reader has found another trouble in.
pub const FLAGGED_AND_LIKE_A_SYMPTOM: f32 = 0.85;

/// The reading as it stands after the second reader has seen the text.
#[must_use]
pub(super) fn look(text: &str, folded: &Folded, reading: Reading) -> Reading {
    // What is flagged already, with the worst, or is a plain word of control, needs no second opinion.
    if reading.kind == Kind::Control || reading.flags.contains(Flag::Symptom) {
        return reading;
    }
    static MODELS: OnceLock<Models> = OnceLock::new();
    revised(MODELS.get_or_init(|| Models::of(TRAINED)), text, folded, reading)
}

fn revised(models: &Models, text: &str, folded: &Folded, mut reading: Reading) -> Reading {
    if words(folded).take(FEWEST_TOKENS).count() < FEWEST_TOKENS {
        return reading;
    }
    let opinion = models.opinion(folded);
    let enough = if reading.kind == Kind::Flagged { FLAGGED_AND_LIKE_A_SYMPTOM } else { TOO_LIKE_A_SYMPTOM };
    let like_a_symptom = opinion.symptom() >= enough;
    let says = match reading.kind {
        Kind::AllClear if like_a_symptom || opinion.off() >= TOO_DOUBTFUL => {
            reading.kind = Kind::Unclear;
            "second reader: doubt"
        }
        Kind::Unclear | Kind::Flagged if like_a_symptom => {
            reading.kind = Kind::Flagged;
            reading.flags = reading.flags.union(Flags::from_iter([Flag::Symptom]));
            reading.flags.remove(Flag::Unwell);
            "second reader: symptom"
        }
        _ => return reading,
    };
    let whole = Evidence { span: (0, text.len()), says: says.to_owned() };
    let place = reading.evidence.partition_point(|evidence| *evidence < whole);
    reading.evidence.insert(place, whole);
    reading
}

/// Both models, made ready for reading.
struct Models {
    off: Scale,
    symptom: Scale,
    /// The weights of each bucket in the one and in the other, side by side: most buckets are far from each other.
    weights: Box<[[i8; 2]]>,
}

/// What turns a sum of weights into a probability.
#[derive(Clone, Copy)]
struct Scale {
    scale: f32,
    bias: f32,
}

/// What the models make of one reply.
struct Opinion<'a> {
    models: &'a Models,
    /// Sums of weights: as `Models::weights` has them.
    sums: [i32; 2],
    features: usize,
}

impl Models {
    fn of(trained: &[u8]) -> Self {
        let (off, symptom) = trained.split_at(MODEL.min(trained.len()));
        let weight = |model: &[u8], at: usize| model.get(HEAD + at).map_or(0, |byte| i8::from_le_bytes([*byte]));
        let weights = (0..BUCKETS).map(|at| [weight(off, at), weight(symptom, at)]).collect();
        Self { off: Scale::of(off), symptom: Scale::of(symptom), weights }
    }

    fn opinion(&self, folded: &Folded) -> Opinion<'_> {
        let mut seen = [0_u64; BUCKETS / 64];
        let mut opinion = Opinion { models: self, sums: [0; 2], features: 0 };
        each_bucket(folded, |at| {
            let (slot, bit) = (&mut seen[at / 64], at % 64);
            // Whether a bucket is new is as good as random: no branch.
            let new = !*slot >> bit & 1;
            *slot |= 1 << bit;
            let weights = self.weights[at].map(|weight| i32::from(weight) * new as i32);
            opinion.sums = [opinion.sums[0] + weights[0], opinion.sums[1] + weights[1]];
            opinion.features += new as usize;
        });
        opinion
    }
}

impl Scale {
    fn of(model: &[u8]) -> Self {
        let number = |at: usize| model.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0.0, f32::from_le_bytes);
        Self { scale: number(0), bias: number(4) }
    }

    fn probability(self, sum: i32, features: usize) -> f32 {
        logistic(self.bias + self.scale * sum as f32 / (features.max(1) as f32).sqrt())
    }
}

impl Opinion<'_> {
    /// How likely it is that something is off.
    fn off(&self) -> f32 {
        self.models.off.probability(self.sums[0], self.features)
    }

    /// How likely it is that the reply tells of a sign of concussion.
    fn symptom(&self) -> f32 {
        self.models.symptom.probability(self.sums[1], self.features)
    }
}

/// The words and numerals of a reply: marks and emoji say too little here, and must not tip the scales.
fn words(folded: &Folded) -> impl Iterator<Item = fold::Token<'_>> {
    folded.whole_tokens().filter(|token| matches!(token.shape, fold::Shape::Word | fold::Shape::Number))
}

/// The weights of both models, as the binary embeds them. The same replies give the same weights.
#[must_use]
pub fn train(lines: &[Labelled]) -> Vec<u8> {
    // Whether a reply that is no control is all clear; and whether a reply tells of a sign.
    let placed: Vec<&Labelled> = lines.iter().filter(|line| line.reading != Kind::Control).collect();
    let all: Vec<&Labelled> = lines.iter().collect();
    let mut bytes = learn(&placed, |line| line.reading != Kind::AllClear);
    bytes.extend(learn(&all, |line| line.flags.contains(Flag::Symptom)));
    bytes
}

const ROUNDS: usize = 24;
const STRIDES: [usize; 4] = [1, 7_919, 104_729, 15_485_863];
const RATE: f32 = 0.15;
const DECAY: f32 = 2e-4;

/// One logistic model by stochastic gradient descent, each weight at its own pace (Duchi, Hazan and Singer, "Adaptive
/// Subgradient Methods", JMLR 12, 2011).
fn learn(lines: &[&Labelled], is_so: impl Fn(&Labelled) -> bool) -> Vec<u8> {
    let lines: Vec<(Vec<usize>, bool)> =
        lines.iter().map(|line| (features(&fold::fold(&line.text)), is_so(line))).collect();
    let so = lines.iter().filter(|(_, so)| *so).count();
    // Both kinds weigh the same, however many there are of each.
    let share = |so: usize| lines.len() as f32 / (2 * so.max(1)) as f32;
    let (so, not_so) = (share(so), share(lines.len() - so));
    let mut weights = vec![0.0_f32; BUCKETS];
    let mut slope_squares = vec![1e-6_f32; BUCKETS];
    let mut bias = 0.0_f32;
    for round in 0..ROUNDS {
        for step in 0..lines.len() {
            // A fixed order that is another in each round: a stride prime to most numbers of lines.
            let (features, is_so) = &lines[(step * STRIDES[round % STRIDES.len()]) % lines.len()];
            let value = 1.0 / (features.len().max(1) as f32).sqrt();
            let sum = bias + features.iter().map(|at| weights[*at]).sum::<f32>() * value;
            let (goal, weight) = if *is_so { (1.0, so) } else { (0.0, not_so) };
            let error = (logistic(sum) - goal) * weight;
            bias -= 0.01 * error;
            for at in features {
                let slope = error * value + DECAY * weights[*at];
                slope_squares[*at] += slope * slope;
                weights[*at] -= RATE * slope / slope_squares[*at].sqrt();
            }
        }
    }
    let most = weights.iter().fold(f32::MIN_POSITIVE, |most, weight| most.max(weight.abs()));
    let scale = most / 127.0;
    let mut bytes = scale.to_le_bytes().to_vec();
    bytes.extend(bias.to_le_bytes());
    bytes.extend(weights.iter().map(|weight| ((weight / scale).round() as i8).to_le_bytes()[0]));
    bytes
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

/// Finds the buckets of a reply, some more than once: words, pairs of neighbours, and two to five letters of each word
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
            for byte in letter.encode_utf8(&mut [0; 4]).bytes() {
                (word, pair, opens_pair) = (word.and(byte), pair.and(byte), opens_pair.and(byte));
            }
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
        self.0[1..].iter().for_each(|run| found(run.bucket()));
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
    let models = Models::of(&train(learned));
    let mut trial = Trial::default();
    let count = |pair: &mut (usize, usize), hit: bool| *pair = (pair.0 + 1, pair.1 + usize::from(hit));
    for line in tried.iter().filter(|line| line.reading != Kind::Control) {
        let folded = fold::fold(&line.text);
        let first = super::first(&line.text, &folded);
        let is_clear = line.reading == Kind::AllClear;
        let second = revised(&models, &line.text, &folded, first.clone());
        if first.kind == Kind::AllClear {
            let pair = if is_clear { &mut trial.right_clears } else { &mut trial.wrong_clears };
            count(pair, second.kind != Kind::AllClear);
        }
        if !is_clear {
            let cleared = Reading { kind: Kind::AllClear, flags: Flags::NONE, ..first.clone() };
            count(&mut trial.off, revised(&models, &line.text, &folded, cleared).kind != Kind::AllClear);
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
        let models = train(&lines);
        let ready = Models::of(&models);
        let off = |text: &str| ready.opinion(&fold::fold(text)).off();
        for line in &lines {
            assert_eq!(off(&line.text) > 0.5, line.reading != Kind::AllClear, "{}", line.text);
        }
        assert!(off("the strap is broken and loose") > 0.5);
        assert_eq!(models, train(&lines));
    }

    #[test]
    fn the_hash_is_the_published_one() {
        // The authors' test vectors: FNV-1a 64 of "foobar". From memory.
        assert_eq!("foobar".bytes().fold(START, Fnv::and), Fnv(0x8594_4171_f739_67e8));
    }

    #[test]
    fn each_bucket_weighs_once() {
        let models = Models::of(TRAINED);
        for text in ["", "ok", "goooood good good 100 señor", "it it it it it", "2n5 x-ray won't 日本 👍"] {
            let folded = fold::fold(text);
            let (opinion, features) = (models.opinion(&folded), features(&folded));
            let sum = |model: usize| features.iter().map(|at| i32::from(models.weights[*at][model])).sum();
            assert_eq!((opinion.features, opinion.sums), (features.len(), [sum(0), sum(1)]), "{text}");
        }
    }

    #[test]
    fn the_embedded_weights_are_whole() {
        assert_eq!(TRAINED.len(), 2 * MODEL);
    }
}
