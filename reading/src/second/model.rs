//! The trained weights, and what they make of one reply.

use std::cell::Cell;

use super::buckets::{BUCKETS, each_bucket};
use super::judge::{self, Judge};
use super::parts::Part;
use super::{
    ANY_FLAG, BESIDE, EVEN, NO_CONTROL, QUESTIONS, SURELY_A_CONTROL, SURELY_A_START, SURELY_HELP, TROUBLE,
    is_independent, logistic,
};
use crate::flag::{Control, Flag, Flags};
use crate::{Kind, Reading, Standing, Taken};

/// The bytes before the weights: scale and bias of each question, little-endian `f32`.
pub(super) const HEAD: usize = 8 * QUESTIONS;

/// The trained weights, made ready for reading.
pub(super) struct Model {
    scales: [Scale; QUESTIONS],
    /// Which buckets have a row: the others were too rare to be learned.
    kept: Box<[Kept]>,
    /// The rows of those that have one, in their order.
    weights: Box<[Row]>,
    /// The weights of what the first reader found, as often as they count.
    found: Box<[[i16; LANES]]>,
    judge: Judge,
}

/// The weights of one feature for all questions, side by side, so that a look at one is a look at all; after them a one, so that
/// a sum of rows has their count; the rest is zero. Two lie in each number, raised by [`RAISED`] so that none is negative: so
/// many are added up at once in few steps.
#[derive(Debug, Clone, Copy)]
#[repr(align(32))]
struct Row([u16; LANES / 2]);

/// As many questions as a row has room for, and the count.
const LANES: usize = 32;
const _: () = assert!(QUESTIONS < LANES);
/// Where the count of a sum of rows stands.
const COUNT: usize = QUESTIONS;
const RAISED: i16 = 1 << 7;

impl Row {
    fn of(bytes: &[u8]) -> Self {
        let mut weights = [0; LANES];
        for (weight, byte) in weights[..QUESTIONS].iter_mut().zip(bytes) {
            *weight = i8::from_le_bytes([*byte]);
        }
        weights[COUNT] = 1;
        Self::raised(weights)
    }

    fn weight(&self, at: usize) -> i16 {
        i16::from(self.0[at / 2].to_le_bytes()[at % 2]) - RAISED
    }

    /// All of it, so many times.
    fn times(&self, times: i16) -> [i16; LANES] {
        std::array::from_fn(|at| self.weight(at) * times)
    }

    const fn raised(weights: [i8; LANES]) -> Self {
        let mut pairs = [0; LANES / 2];
        let mut at = 0;
        while at < LANES {
            let raised = (weights[at] as i16 + RAISED).cast_unsigned();
            pairs[at / 2] |= raised << (8 * (at % 2));
            at += 1;
        }
        Self(pairs)
    }
}

/// What turns a sum of weights into a probability.
#[derive(Debug, Clone, Copy, Default)]
struct Scale {
    scale: f32,
    bias: f32,
}

impl Scale {
    /// Of a question that is answered without what the first reader found.
    fn score(self, seen: &Sums, question: usize) -> f32 {
        self.score_of(seen.of[question], root(seen.of[COUNT]))
    }

    fn score_of(self, sum: i32, root: f32) -> f32 {
        self.bias + self.scale * sum as f32 / root
    }
}

fn root(features: i32) -> f32 {
    (features.max(1) as f32).sqrt()
}

/// So many weights add up within 16 bits.
const FEW: usize = (u16::MAX / u8::MAX as u16) as usize;
/// What the first reader can find: a kind, and each flag.
pub(super) const FINDINGS: usize = Kind::ALL.len() + Flag::ALL.len();
/// What the first reader found counts for so many features.
pub(super) const FINDING_COUNTS: usize = 3;
/// More buckets than these have no row.
pub(super) const MOST_ROWS: usize = 1 << 19;
/// The bytes that say which buckets have a row.
pub(super) const KEPT: usize = BUCKETS / 8;
/// So many buckets are told of side by side.
const SIDE_BY_SIDE: usize = u32::BITS as usize;

/// What the first reader found, as rows of the table of findings.
pub(super) fn findings(first: &Reading) -> impl Iterator<Item = usize> {
    std::iter::once(first.kind as usize).chain(first.flags.iter().map(|flag| Kind::ALL.len() + flag as usize))
}

/// Of what is surely said, and is off with less than this probability, nobody asks, if nothing else speaks against it: short replies such as
/// "they fixed it yesterday, all good" are too few for the judge to tell.
const UNLIKELY: f32 = 0.15;
/// Nothing else speaks against it where each has less than this probability: trouble, on the whole and in each clause, any flag, a sign of
/// concussion, and trouble put beside good news.
const HARDLY: f32 = 0.12;

/// What the model makes of one reply.
pub(super) struct Opinion {
    /// What grows with the probability, and is 0 where it is even.
    scores: [f32; QUESTIONS],
    /// The share of its features that were learned of.
    known: f32,
}

impl Model {
    pub(super) fn of(trained: &[u8]) -> Self {
        let (head, rest) = trained.split_at(HEAD.min(trained.len()));
        let (kept, rest) = rest.split_at(KEPT.min(rest.len()));
        let (rest, judge) = rest.split_at(rest.len().saturating_sub(judge::BYTES));
        let (found, weights) = rest.split_at((FINDINGS * QUESTIONS).min(rest.len()));
        let number = |at: usize| head.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0.0, f32::from_le_bytes);
        let mut scales = [Scale::default(); QUESTIONS];
        for (at, scale) in scales.iter_mut().enumerate() {
            *scale = Scale { scale: number(at * 8), bias: number(at * 8 + 4) };
        }
        let weights = weights.chunks(QUESTIONS).map(Row::of).collect();
        let kept = Kept::all(kept);
        let found = found.chunks(QUESTIONS).map(|bytes| Row::of(bytes).times(FINDING_COUNTS as i16)).collect();
        Self { scales, kept, weights, found, judge: Judge::of(judge) }
    }

    pub(super) fn opinion(&self, taken: &Taken<'_>, first: &Reading) -> Opinion {
        Opinion::from_sums(&self.scales, &self.sums(Part::whole(taken)), &self.found(first))
    }

    /// Whether a reply of so many words, of which it has that opinion, is well.
    pub(super) fn finds_well(&self, taken: &Taken<'_>, opinion: &Opinion, standing: Standing, words: usize) -> bool {
        let troubled = self.troubled_clause(taken, opinion);
        let plainly = standing == Standing::Surely && opinion.looks_well() && logistic(troubled) < HARDLY;
        plainly
            || self.judge.doubt(&judge::inputs(opinion, troubled, standing, words, taken.items.len())) < judge::LITTLE
    }

    /// The score of trouble of the clause that is likeliest to tell of some.
    fn troubled_clause(&self, taken: &Taken<'_>, whole: &Opinion) -> f32 {
        let part = Part::whole(taken);
        if part.is_endless() {
            return f32::INFINITY;
        }
        let trouble = |clause| self.scales[TROUBLE].score(&self.sums(clause), TROUBLE);
        part.clauses().map(trouble).reduce(f32::max).unwrap_or(whole.score(TROUBLE))
    }

    /// Where the row of a bucket is, if it has one.
    fn row(&self, bucket: u32) -> Option<u32> {
        self.kept.get(bucket as usize / SIDE_BY_SIDE)?.row(bucket as usize % SIDE_BY_SIDE)
    }

    /// The sums over what is seen of a reply or a part of one.
    fn sums(&self, part: Part<'_, '_>) -> Sums {
        let mut seen = SEEN.take().unwrap_or_default();
        let mut sums = Sums::default();
        each_bucket(part, |bucket| match self.row(bucket) {
            Some(row) => seen.insert(row),
            None => sums.unknown += 1,
        });
        for few in seen.rows.chunks(FEW) {
            sums.add(few.iter().map(|row| &self.weights[*row as usize]));
        }
        seen.clear();
        SEEN.set(Some(seen));
        sums
    }

    /// The sums over what the first reader found.
    fn found(&self, first: &Reading) -> [i16; LANES] {
        let mut sums = [0; LANES];
        for at in findings(first) {
            for (sum, weight) in sums.iter_mut().zip(self.found[at]) {
                *sum += weight;
            }
        }
        sums
    }
}

/// Which of some buckets side by side have a row.
#[derive(Debug, Clone, Copy)]
struct Kept {
    /// A bit for each.
    bits: u32,
    /// How many rows those before them have.
    before: u32,
}

impl Kept {
    fn all(bytes: &[u8]) -> Box<[Self]> {
        let (mut before, (chunks, _)) = (0, bytes.as_chunks());
        let kept = chunks.iter().map(|bytes| {
            let kept = Self { bits: u32::from_le_bytes(*bytes), before };
            before += kept.bits.count_ones();
            kept
        });
        kept.collect()
    }

    const fn row(self, at: usize) -> Option<u32> {
        if self.bits >> at & 1 == 0 {
            return None;
        }
        Some(self.before + (self.bits & ((1 << at) - 1)).count_ones())
    }
}

/// Sums over rows.
#[derive(Debug, Default, Clone, Copy)]
struct Sums {
    of: [i32; LANES],
    /// How many features have no row.
    unknown: i32,
}

impl Sums {
    /// Adds at most [`FEW`] rows: short sums are added up faster than long ones.
    fn add<'a>(&mut self, rows: impl Iterator<Item = &'a Row>) {
        let (mut low, mut high) = ([0_u16; LANES / 2], [0_u16; LANES / 2]);
        let mut raised = 0;
        for row in rows {
            for ((low, high), pair) in low.iter_mut().zip(&mut high).zip(row.0) {
                *low += pair & 0xff;
                *high += pair >> 8;
            }
            raised += i32::from(RAISED);
        }
        let both = low.into_iter().zip(high).flat_map(|(low, high)| [low, high]);
        for (sum, few) in self.of.iter_mut().zip(both) {
            *sum += i32::from(few) - raised;
        }
    }
}

thread_local! {
    /// One set serves a thread for all its replies: to clear what was touched costs less than to begin with a bit for each row.
    static SEEN: Cell<Option<Box<Seen>>> = const { Cell::new(None) };
}

/// The rows of one reply, each once.
struct Seen {
    bits: [u64; MOST_ROWS / 64],
    rows: Vec<u32>,
}

impl Default for Seen {
    fn default() -> Self {
        Self { bits: [0; MOST_ROWS / 64], rows: Vec::new() }
    }
}

impl Seen {
    fn insert(&mut self, row: u32) {
        let (bits, bit) = (&mut self.bits[row as usize / 64 % (MOST_ROWS / 64)], 1 << (row % 64));
        if *bits & bit == 0 {
            *bits |= bit;
            self.rows.push(row);
        }
    }

    fn clear(&mut self) {
        for row in self.rows.drain(..) {
            self.bits[row as usize / 64] = 0;
        }
    }
}

impl Opinion {
    fn from_sums(scales: &[Scale; QUESTIONS], seen: &Sums, found: &[i16; LANES]) -> Self {
        let (rows, found_rows) = (seen.of[COUNT], i32::from(found[COUNT]));
        let (alone, with_found) = (root(rows), root(rows + found_rows));
        let score = |question: usize| {
            if is_independent(question) {
                scales[question].score_of(seen.of[question], alone)
            } else {
                scales[question].score_of(seen.of[question] + i32::from(found[question]), with_found)
            }
        };
        Self { scores: std::array::from_fn(score), known: rows as f32 / (rows + seen.unknown).max(1) as f32 }
    }

    /// Whether nothing seems off, from whatever side it is seen.
    fn looks_well(&self) -> bool {
        let sides = [ANY_FLAG, TROUBLE, BESIDE, 1 + Flag::Symptom as usize];
        self.probability(0) < UNLIKELY
            && logistic(self.likeliest_but_a_sign()) < HARDLY
            && sides.into_iter().all(|side| self.probability(side) < HARDLY)
    }

    pub(super) const fn new(scores: [f32; QUESTIONS], known: f32) -> Self {
        Self { scores, known }
    }

    pub(super) const fn known(&self) -> f32 {
        self.known
    }

    /// How likely it is that the reply tells of any flag.
    pub(super) fn tells(&self) -> f32 {
        self.probability(ANY_FLAG)
    }

    /// How likely it is that the reply tells of the flag.
    pub(super) fn of(&self, flag: Flag) -> f32 {
        self.probability(1 + flag as usize)
    }

    /// How likely the likeliest flag is.
    pub(super) fn likeliest(&self) -> f32 {
        logistic(self.likeliest_of(|_| true))
    }

    /// The score of the likeliest flag that is no sign of concussion.
    pub(super) fn likeliest_but_a_sign(&self) -> f32 {
        self.likeliest_of(|flag| flag != Flag::Symptom)
    }

    fn likeliest_of(&self, such: impl Fn(Flag) -> bool) -> f32 {
        let flags = Flag::ALL.into_iter().filter(|flag| such(*flag));
        flags.map(|flag| self.score(1 + flag as usize)).fold(f32::NEG_INFINITY, f32::max)
    }

    /// The flags that are likelier than not, or else the likeliest one, from this probability on.
    pub(super) fn told(&self, least: f32) -> Flags {
        let score = |flag: Flag| self.score(1 + flag as usize);
        let likely: Flags = Flag::ALL.into_iter().filter(|flag| score(*flag) >= EVEN).collect();
        if likely != Flags::NONE {
            return likely;
        }
        let likeliest = Flag::ALL.into_iter().max_by(|a, b| score(*a).total_cmp(&score(*b)));
        likeliest.filter(|flag| logistic(score(*flag)) >= least).into_iter().collect()
    }

    /// The control that the reply asks for, from this probability on, if that is likelier than any flag. Texts are taken up
    /// again (47 CFR 64.1200), end, or go to another number when there is little doubt of it.
    pub(super) fn control(&self, sure: f32) -> Option<Control> {
        let likely = |control: &Control| self.asks_for(*control);
        let score = |control: &Control| self.score(1 + Flag::ALL.len() + *control as usize);
        let control = Control::ALL.into_iter().max_by(|a, b| score(a).total_cmp(&score(b)))?;
        let enough = match control {
            Control::Start => SURELY_A_START.max(sure),
            Control::Stop | Control::WrongNumber => SURELY_A_CONTROL.max(sure),
            // "Who can i ask about this strap" asks about the strap.
            Control::Help => SURELY_HELP.max(sure),
            Control::Absent | Control::Later => sure,
        };
        Some(control)
            .filter(|control| likely(control) >= enough.max(self.likeliest()) && self.of(Flag::Symptom) < NO_CONTROL)
    }

    /// How likely it is that the reply asks for the control.
    pub(super) fn asks_for(&self, control: Control) -> f32 {
        self.probability(1 + Flag::ALL.len() + control as usize)
    }

    fn probability(&self, question: usize) -> f32 {
        logistic(self.score(question))
    }

    pub(super) const fn score(&self, question: usize) -> f32 {
        self.scores[question]
    }
}

#[cfg(test)]
mod tests {
    use super::super::TRAINED;
    use super::super::buckets::features;
    use super::*;
    use crate::fold;

    #[test]
    fn each_bucket_weighs_once() {
        let model = Model::of(TRAINED);
        for text in ["", "ok", "goooood good good 100 señor", "it it it it it", "2n5 x-ray won't 日本 👍"] {
            let folded = fold::fold(text);
            let taken = Taken::of(text, &folded);
            let buckets = features(Part::whole(&taken));
            let rows: Vec<u32> = buckets.iter().filter_map(|bucket| model.row(*bucket)).collect();
            let weight = |row: &u32, at: usize| i32::from(model.weights[*row as usize].weight(at));
            let sum = |at: usize| rows.iter().map(|row| weight(row, at)).sum();
            let sums: [i32; LANES] = std::array::from_fn(sum);
            assert_eq!(model.sums(Part::whole(&taken)).of, sums, "{text}");
        }
    }

    #[test]
    fn the_embedded_weights_are_whole() {
        let kept: u32 = TRAINED[HEAD..HEAD + KEPT].iter().map(|byte| byte.count_ones()).sum();
        assert!((kept as usize) < MOST_ROWS);
        assert_eq!(TRAINED.len(), HEAD + KEPT + QUESTIONS * (FINDINGS + kept as usize) + judge::BYTES);
    }
}
