//! A second opinion from letters and words alone: no lexicon, no grammar.
//!
//! Two logistic models over hashed pieces of words and pairs of words, trained from labelled replies by
//! `browline read --train`; their weights are part of the binary. One takes an all clear back. The other adds a sign of
//! concussion to a reply that the first reader could not place or took for something else. Neither ever grants anything,
//! so that a gap in the lexicons has to get past a reader that does not share them.

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

/// The reading as it stands after the second reader has seen the text.
#[must_use]
pub(super) fn look(text: &str, reading: Reading) -> Reading {
    // What is flagged already, with the worst, or is a plain word of control, needs no second opinion.
    if reading.kind == Kind::Control || reading.flags.contains(Flag::Symptom) {
        return reading;
    }
    revised(TRAINED, text, reading)
}

fn revised(models: &[u8], text: &str, mut reading: Reading) -> Reading {
    let folded = fold::fold(text);
    if words(&folded).count() < FEWEST_TOKENS {
        return reading;
    }
    let features = features(&folded);
    let (off, symptom) = models.split_at(MODEL.min(models.len()));
    let like_a_symptom = probability(symptom, &features) >= TOO_LIKE_A_SYMPTOM;
    let says = match reading.kind {
        Kind::AllClear if like_a_symptom || probability(off, &features) >= TOO_DOUBTFUL => {
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

/// The words and numerals of a reply: marks and emoji say too little here, and must not tip the scales.
fn words(folded: &fold::Folded) -> impl Iterator<Item = fold::Token<'_>> {
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

fn probability(model: &[u8], features: &[usize]) -> f32 {
    let number = |at: usize| model.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0.0, f32::from_le_bytes);
    let (scale, bias) = (number(0), number(4));
    let weight = |at: &usize| model.get(HEAD + at).map_or(0, |b| i32::from(i8::from_le_bytes([*b])));
    let sum: i32 = features.iter().map(weight).sum();
    logistic(bias + scale * sum as f32 / (features.len().max(1) as f32).sqrt())
}

/// The buckets of a reply: words, pairs of neighbours, and two to five letters of each word with its ends marked; each
/// bucket once.
fn features(folded: &fold::Folded) -> Vec<usize> {
    let mut found = Vec::new();
    let (mut word, mut before, mut marked) = (String::new(), String::new(), String::new());
    let mut last = ' ';
    for token in words(folded) {
        before.clone_from(&word);
        word.clear();
        // A letter held down is one letter.
        word.extend(token.text.chars().filter(|c| std::mem::replace(&mut last, *c) != *c || c.is_ascii_digit()));
        last = ' ';
        found.push(bucket(b'w', &[&word]));
        found.push(bucket(b'p', &[&before, " ", &word]));
        marked.clear();
        marked.push('_');
        marked.push_str(&word);
        marked.push('_');
        let ends: Vec<usize> = marked.char_indices().map(|(at, _)| at).chain([marked.len()]).collect();
        for length in 2..=5 {
            found.extend(ends.windows(length + 1).map(|at| bucket(b'l', &[&marked[at[0]..at[length]]])));
        }
    }
    found.sort_unstable();
    found.dedup();
    found
}

/// FNV-1a (Fowler, Noll and Vo), folded to a bucket: it has to stay the same for as long as the weights do.
fn bucket(kind: u8, parts: &[&str]) -> usize {
    let bytes = parts.iter().flat_map(|part| part.bytes());
    let hash = fnv(std::iter::once(kind).chain(bytes));
    ((hash ^ (hash >> 32)) as usize) & (BUCKETS - 1)
}

fn fnv(bytes: impl Iterator<Item = u8>) -> u64 {
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
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
    let models = train(learned);
    let mut trial = Trial::default();
    let count = |pair: &mut (usize, usize), hit: bool| *pair = (pair.0 + 1, pair.1 + usize::from(hit));
    for line in tried.iter().filter(|line| line.reading != Kind::Control) {
        let first = super::first(&line.text);
        let is_clear = line.reading == Kind::AllClear;
        let second = revised(&models, &line.text, first.clone());
        if first.kind == Kind::AllClear {
            let pair = if is_clear { &mut trial.right_clears } else { &mut trial.wrong_clears };
            count(pair, second.kind != Kind::AllClear);
        }
        if !is_clear {
            let cleared = Reading { kind: Kind::AllClear, flags: Flags::NONE, ..first.clone() };
            count(&mut trial.off, revised(&models, &line.text, cleared).kind != Kind::AllClear);
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
        let off = |text: &str| probability(&models[..MODEL], &features(&fold::fold(text)));
        for line in &lines {
            assert_eq!(off(&line.text) > 0.5, line.reading != Kind::AllClear, "{}", line.text);
        }
        assert!(off("the strap is broken and loose") > 0.5);
        assert_eq!(models, train(&lines));
    }

    #[test]
    fn the_hash_is_the_published_one() {
        // The authors' test vectors: FNV-1a 64 of "foobar". From memory.
        assert_eq!(fnv("foobar".bytes()), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn the_embedded_weights_are_whole() {
        assert_eq!(TRAINED.len(), 2 * MODEL);
    }
}
