//! Weighs the second reader's answers together: whether a reply that the first reader holds possible is well.
//!
//! A net of one hidden layer. What it sees are the answers about a reply, how surely the first reader says that all is clear, and how
//! long the reply is. It learns from answers that were given about replies that the questions had not learned from: about those that
//! they had, they are too sure.

use super::model::Opinion;
use super::{ANY_FLAG, BESIDE, LEAVES_OPEN, TROUBLE, descent, logistic};
use crate::Standing;
use crate::flag::Flag;

/// What has less doubt is well. Zero is what the costs say that it learns by; a little lower, no text that has nothing to do with the check
/// gets past that it had not learned from (`tests/peers/unrelated.py`).
pub(super) const LITTLE: f32 = -0.2;

/// What is seen of a reply.
pub(super) type Inputs = [f32; INPUTS];

const INPUTS: usize = FIRST_STANDING + STANDINGS;
/// Answers, and after them the share of known features and two lengths.
const FIRST_STANDING: usize = 11;
const STANDINGS: usize = Standing::Doubted as usize + 1;
const HIDDEN: usize = 32;
/// A weight for each input of each hidden unit, one for itself, and the same of what comes out.
const WEIGHTS: usize = HIDDEN * (INPUTS + 1) + HIDDEN + 1;
/// How many bytes they take: little-endian `f32`.
pub(super) const BYTES: usize = 4 * WEIGHTS;

/// What is seen of a reply of so many words, taken for so many items; `troubled` is the score of trouble of the clause that is likeliest to
/// tell of some.
pub(super) fn inputs(opinion: &Opinion, troubled: f32, standing: Standing, words: usize, items: usize) -> Inputs {
    let answer = |score: f32| score.clamp(-MOST_SURE, MOST_SURE) / 2.0 + 1.0;
    let of_question = |question: usize| answer(opinion.score(question));
    let length = |count: usize| (1.0 + count as f32).ln() - 2.3;
    let mut inputs = [0.0; INPUTS];
    inputs[..FIRST_STANDING].copy_from_slice(&[
        of_question(0),
        of_question(1 + Flag::Symptom as usize),
        of_question(ANY_FLAG),
        answer(opinion.likeliest_but_a_sign()),
        of_question(BESIDE),
        of_question(TROUBLE),
        of_question(LEAVES_OPEN),
        answer(troubled),
        (opinion.known() - 0.7) * 4.0,
        length(words),
        length(items),
    ]);
    inputs[FIRST_STANDING + standing as usize] = 1.0;
    inputs
}

/// Scores beyond it are as sure as one gets.
const MOST_SURE: f32 = 9.2;

/// The trained net.
#[derive(Debug, Clone)]
pub(super) struct Judge {
    weights: Vec<f32>,
}

impl Judge {
    /// From what [`Judge::bytes`] gave; of fewer bytes, one that doubts everything.
    pub(super) fn of(bytes: &[u8]) -> Self {
        let (numbers, _) = bytes.as_chunks();
        let mut weights = vec![0.0; WEIGHTS];
        weights.iter_mut().zip(numbers).for_each(|(weight, number)| *weight = f32::from_le_bytes(*number));
        Self { weights }
    }

    pub(super) fn bytes(&self) -> Vec<u8> {
        self.weights.iter().flat_map(|weight| weight.to_le_bytes()).collect()
    }

    /// Below [`LITTLE`] when the reply is well; the higher, the less so.
    pub(super) fn doubt(&self, inputs: &Inputs) -> f32 {
        self.forward(inputs, &mut [0.0; HIDDEN])
    }

    fn forward(&self, inputs: &Inputs, hidden: &mut [f32; HIDDEN]) -> f32 {
        let (units, out) = self.weights.split_at(HIDDEN * (INPUTS + 1));
        let mut sum = out[HIDDEN];
        for ((unit, hidden), weight) in units.chunks_exact(INPUTS + 1).zip(hidden).zip(out) {
            let drawn: f32 = unit.iter().zip(inputs).map(|(weight, input)| weight * input).sum();
            *hidden = (drawn + unit[INPUTS]).max(0.0);
            sum += weight * *hidden;
        }
        sum
    }

    pub(super) fn learned(cases: &[Case]) -> Self {
        let mut judge = Self { weights: unlearned() };
        let mut squares = [1e-3; WEIGHTS];
        let show = |judge: &mut Self, at: usize| judge.learn(&cases[at], &mut squares);
        let weights = descent::averaged(&mut judge, cases.len(), show, |judge| &judge.weights);
        Self { weights }
    }

    fn learn(&mut self, case: &Case, squares: &mut [f32; WEIGHTS]) {
        let mut hidden = [0.0; HIDDEN];
        let sum = self.forward(&case.inputs, &mut hidden);
        let goal = if case.costs.is_some() { 1.0 } else { 0.0 };
        let miss = (logistic(sum) - goal) * case.costs.unwrap_or(1.0) / USUAL_COST;
        if miss.abs() < CLOSE_ENOUGH {
            return;
        }
        let weights = &mut self.weights;
        let mut step = |at: usize, slope: f32, decay: f32| {
            let before = weights[at];
            descent::step(&mut weights[at], &mut squares[at], slope + decay * before, RATE);
            before
        };
        let out = HIDDEN * (INPUTS + 1);
        for (unit, drawn) in hidden.into_iter().enumerate().filter(|(_, drawn)| *drawn > 0.0) {
            let miss_here = miss * step(out + unit, miss * drawn, DECAY);
            let first = unit * (INPUTS + 1);
            for (at, input) in case.inputs.iter().enumerate() {
                step(first + at, miss_here * input, DECAY);
            }
            step(first + INPUTS, miss_here, 0.0);
        }
        step(out + HIDDEN, miss, 0.0);
    }
}

/// What one reply teaches.
#[derive(Debug, Clone, Copy)]
pub(super) struct Case {
    pub(super) inputs: Inputs,
    /// How much worse it would be to call it well than to ask about one that is; none: it is well.
    pub(super) costs: Option<f32>,
}

/// Small weights of either sign, the same each time.
fn unlearned() -> Vec<f32> {
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let weight = |at: usize| {
        // A linear congruential generator: Knuth, "The Art of Computer Programming", volume 2, 3.3.4, Haynes's multiplier; from memory.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let share = (state >> 40) as f32 / (1 << 24) as f32 * 2.0 - 1.0;
        let inputs = if at < HIDDEN * (INPUTS + 1) { INPUTS + HIDDEN } else { HIDDEN + 1 };
        share * (6.0 / inputs as f32).sqrt()
    };
    (0..WEIGHTS).map(weight).collect()
}

const RATE: f32 = 0.1;
const DECAY: f32 = 1e-3;
/// What costs are measured by.
const USUAL_COST: f32 = 4.0;
/// A miss by less teaches nothing.
const CLOSE_ENOUGH: f32 = 1e-3;

#[cfg(test)]
mod tests {
    use super::*;

    fn case(off: f32, standing: Standing, costs: Option<f32>) -> Case {
        let mut inputs = [0.0; INPUTS];
        (inputs[0], inputs[FIRST_STANDING + standing as usize]) = (off, 1.0);
        Case { inputs, costs }
    }

    #[test]
    fn it_learns_what_no_single_limit_says() {
        // The same answer is good enough of what is surely well, and not of what is doubted.
        let of = |standing: Standing, limit: f32| {
            (-20..20).map(move |tenth| {
                let off = tenth as f32 / 10.0;
                case(off, standing, (off > limit).then_some(4.0))
            })
        };
        let cases: Vec<Case> = of(Standing::Surely, 1.0).chain(of(Standing::Doubted, -1.0)).collect();
        let judge = Judge::learned(&cases.repeat(20));
        for (off, standing, well) in [
            (0.0, Standing::Surely, true),
            (1.5, Standing::Surely, false),
            (-1.5, Standing::Doubted, true),
            (0.0, Standing::Doubted, false),
        ] {
            assert_eq!(judge.doubt(&case(off, standing, None).inputs) < 0.0, well, "{off} {standing:?}");
        }
    }

    #[test]
    fn what_is_written_is_read_again() {
        let judge = Judge { weights: unlearned() };
        assert_eq!(judge.bytes().len(), BYTES);
        assert_eq!(Judge::of(&judge.bytes()).weights, judge.weights);
    }
}
