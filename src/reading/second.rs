//! A second opinion on an all clear, from letters and words alone: no lexicon, no grammar.
//!
//! A logistic model over hashed pieces of words and pairs of words, trained from labelled replies by
//! `browline read --train`; its weights are part of the binary. It may take an all clear back. It never grants one, and
//! it is not asked about anything else, so that a slip in the lexicons has to get past a reader that does not share them.

use serde::{Deserialize, Serialize};

use super::Kind;
use super::fold;
use super::score::Labelled;

/// Buckets that features are hashed into.
const BUCKETS: usize = 1 << 15;
/// The bytes before the weights: scale and bias, little-endian `f32`.
const HEAD: usize = 8;
const TRAINED: &[u8] = include_bytes!("second.weights");
/// Replies of fewer tokens are safe by the grammar alone, and too short to tell from their letters.
const FEWEST_TOKENS: usize = 5;
/// From this probability on an all clear is taken back. Chosen by cross-validation: see `DEVELOPERS.md`.
pub const TOO_DOUBTFUL: f32 = 0.85;

/// The weights of a trained model.
#[derive(Debug, Clone, PartialEq)]
pub struct Second {
    scale: f32,
    bias: f32,
    weights: Vec<i8>,
}

/// Whether the second reader would take an all clear of this text back.
#[must_use]
pub fn objects(text: &str) -> bool {
    is_objection(TRAINED, text)
}

fn is_objection(model: &[u8], text: &str) -> bool {
    let folded = fold::fold(text);
    folded.whole_tokens().count() >= FEWEST_TOKENS && probability(model, &features(&folded)) >= TOO_DOUBTFUL
}

impl Second {
    /// Learns from labelled replies. The same replies give the same weights; controls are left out, since the question is
    /// only whether a reply that is no control is all clear.
    #[must_use]
    pub fn train(lines: &[Labelled]) -> Self {
        let lines: Vec<(Vec<usize>, bool)> = lines
            .iter()
            .filter(|line| line.reading != Kind::Control)
            .map(|line| (features(&fold::fold(&line.text)), line.reading != Kind::AllClear))
            .collect();
        let off = lines.iter().filter(|(_, off)| *off).count().max(1);
        let clear = (lines.len() - off.min(lines.len())).max(1);
        // Both kinds weigh the same, however many there are of each.
        let weight = |is_off: bool| lines.len() as f32 / (2 * if is_off { off } else { clear }) as f32;
        let mut weights = vec![0.0_f32; BUCKETS];
        let mut slope_squares = vec![1e-6_f32; BUCKETS];
        let mut bias = 0.0_f32;
        for round in 0..ROUNDS {
            for step in 0..lines.len() {
                // A fixed order that is another in each round: a stride prime to the number of lines.
                let (features, is_off) = &lines[(step * STRIDES[round % STRIDES.len()]) % lines.len()];
                let value = 1.0 / (features.len().max(1) as f32).sqrt();
                let sum = bias + features.iter().map(|at| weights[*at]).sum::<f32>() * value;
                let error = (logistic(sum) - f32::from(u8::from(*is_off))) * weight(*is_off);
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
        Self { scale, bias, weights: weights.iter().map(|weight| (weight / scale).round() as i8).collect() }
    }

    /// As the binary embeds it.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = self.scale.to_le_bytes().to_vec();
        bytes.extend(self.bias.to_le_bytes());
        bytes.extend(self.weights.iter().map(|weight| weight.to_le_bytes()[0]));
        bytes
    }

    /// The probability that a reply is not all clear.
    #[must_use]
    pub fn probability(&self, text: &str) -> f32 {
        probability(&self.to_bytes(), &features(&fold::fold(text)))
    }
}

const ROUNDS: usize = 24;
const STRIDES: [usize; 4] = [1, 7_919, 104_729, 15_485_863];
const RATE: f32 = 0.15;
const DECAY: f32 = 2e-4;

fn logistic(sum: f32) -> f32 {
    1.0 / (1.0 + (-sum).exp())
}

fn probability(model: &[u8], features: &[usize]) -> f32 {
    let number = |at: usize| model.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0.0, f32::from_le_bytes);
    let (scale, bias) = (number(0), number(4));
    let sum: i32 = features.iter().map(|at| model.get(HEAD + at).map_or(0, |b| i32::from(i8::from_le_bytes([*b])))).sum();
    logistic(bias + scale * sum as f32 / (features.len().max(1) as f32).sqrt())
}

/// The buckets of a reply: words, pairs of neighbours, and two to five letters of each word with its ends marked; each
/// bucket once.
fn features(folded: &fold::Folded) -> Vec<usize> {
    let mut found = Vec::new();
    let mut before = "";
    let mut marked = String::new();
    for token in folded.whole_tokens() {
        let word = token.text;
        found.push(bucket(b'w', &[word]));
        found.push(bucket(b'p', &[before, " ", word]));
        before = word;
        marked.clear();
        marked.push('_');
        marked.push_str(word);
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
    let hash = std::iter::once(kind).chain(bytes).fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    ((hash ^ (hash >> 32)) as usize) & (BUCKETS - 1)
}

/// What the second reader did to one set of replies that it had not learned from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trial {
    /// Lines in the set.
    pub lines: usize,
    /// All clears that the first reader rightly gave.
    pub right: usize,
    /// Of these, taken back.
    pub right_taken_back: usize,
    /// All clears that the first reader wrongly gave.
    pub wrong: usize,
    /// Of these, taken back.
    pub wrong_taken_back: usize,
    /// Flagged and unclear replies, whatever the first reader made of them.
    pub off: usize,
    /// Of these, the ones it would take an all clear back of: how often it would save a slip of the lexicons.
    pub off_seen: usize,
}

/// Learns from `learned` and tries it on `tried`.
#[must_use]
pub fn trial(learned: &[Labelled], tried: &[Labelled]) -> Trial {
    let model = Second::train(learned).to_bytes();
    let mut trial = Trial { lines: tried.len(), ..Trial::default() };
    for line in tried.iter().filter(|line| line.reading != Kind::Control) {
        let objects = is_objection(&model, &line.text);
        let is_clear = line.reading == Kind::AllClear;
        if super::first(&line.text).kind == Kind::AllClear {
            let (given, taken) = if is_clear {
                (&mut trial.right, &mut trial.right_taken_back)
            } else {
                (&mut trial.wrong, &mut trial.wrong_taken_back)
            };
            *given += 1;
            *taken += usize::from(objects);
        }
        if !is_clear {
            trial.off += 1;
            trial.off_seen += usize::from(objects);
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
        let lines: Vec<Labelled> = ["all good coach", "helmet is good", "everything fits fine", "all six are good"]
            .map(|text| labelled(text, Kind::AllClear))
            .into_iter()
            .chain(["my strap broke again", "mask is loose", "crack in the shell", "it slides around"]
                .map(|text| labelled(text, Kind::Flagged)))
            .collect();
        let model = Second::train(&lines);
        for line in &lines {
            let off = line.reading != Kind::AllClear;
            assert_eq!(model.probability(&line.text) > 0.5, off, "{}", line.text);
        }
        assert_eq!(model, Second::train(&lines));
        let unseen = model.probability("the strap is broken and loose");
        assert!(unseen > 0.5, "{unseen}");
    }

    #[test]
    fn the_hash_is_the_published_one() {
        // The authors' test vectors: FNV-1a 64 of "foobar". From memory.
        let hash = "foobar".bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        assert_eq!(hash, 0x8594_4171_f739_67e8);
    }

    #[test]
    fn the_embedded_weights_are_whole() {
        assert_eq!(TRAINED.len(), HEAD + BUCKETS);
    }
}
