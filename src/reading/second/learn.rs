//! Learns the second reader's weights from labelled replies, and tries them on others.

use super::super::score::Labelled;
use super::super::{First, Kind, Reading, Standing, fold};
use super::buckets::{BUCKETS, features};
use super::{Model, QUESTIONS, logistic, revised};
use crate::trade::flag::{Control, Flag, Flags};

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
    /// Flagged replies whose flags the first reader did not find exactly, and for how many of them they are exact now.
    pub flags_mended: (usize, usize),
    /// Flagged replies whose flags the first reader found exactly, and for how many of them they no longer are.
    pub flags_spoilt: (usize, usize),
    /// Controls that the first reader did not find, and how many of them were found.
    pub controls_found: (usize, usize),
    /// Replies that are no controls, and how many of them were taken for one.
    pub controls_made: (usize, usize),
}

/// Learns from some replies and tries it on others.
#[must_use]
pub fn trial(learned: &[Labelled], tried: &[Labelled]) -> Trial {
    let model = Model::of(&train(learned));
    let mut trial = Trial::default();
    for line in tried {
        let folded = fold::fold(&line.text);
        let first = super::super::first(&line.text, &folded);
        let second = revised(&model, &line.text, &folded, first.clone());
        if line.control.is_some() {
            trial.add_control(line, &first.reading, &second);
            continue;
        }
        if first.reading.control.is_none() {
            count(&mut trial.controls_made, second.control.is_some());
        }
        if line.reading == Kind::Flagged {
            trial.add_flagged(line, &first.reading, &second);
        }
        trial.add_clear(line, &first.reading, &second);
        trial.add_symptom(line, &first.reading, &second);
        if line.reading != Kind::AllClear {
            let reading = Reading { kind: Kind::AllClear, flags: Flags::NONE, control: None, ..first.reading.clone() };
            let cleared = First { reading, standing: Some(Standing::Surely), ..first };
            count(&mut trial.off, revised(&model, &line.text, &folded, cleared).kind != Kind::AllClear);
        }
    }
    trial
}

/// One more of all, and of those that were hit.
fn count(pair: &mut (usize, usize), hit: bool) {
    *pair = (pair.0 + 1, pair.1 + usize::from(hit));
}

impl Trial {
    fn add_control(&mut self, line: &Labelled, first: &Reading, second: &Reading) {
        if first.control != line.control {
            count(&mut self.controls_found, second.control == line.control);
        }
    }

    fn add_flagged(&mut self, line: &Labelled, first: &Reading, second: &Reading) {
        let exact = |reading: &Reading| {
            let off = line.flags.minus(reading.flags).union(reading.flags.minus(line.flags)).minus(line.also_ok);
            reading.kind == Kind::Flagged && off.is_empty()
        };
        if exact(first) {
            count(&mut self.flags_spoilt, !exact(second));
        } else {
            count(&mut self.flags_mended, exact(second));
        }
    }

    fn add_clear(&mut self, line: &Labelled, first: &Reading, second: &Reading) {
        if first.kind == Kind::AllClear {
            let right = line.reading == Kind::AllClear;
            let pair = if right { &mut self.right_clears } else { &mut self.wrong_clears };
            count(pair, second.kind != Kind::AllClear);
        }
    }

    fn add_symptom(&mut self, line: &Labelled, first: &Reading, second: &Reading) {
        let has = |reading: &Reading| reading.flags.contains(Flag::Symptom);
        let added = !has(first) && has(second);
        if !line.flags.union(line.also_ok).contains(Flag::Symptom) {
            count(&mut self.without_symptom, added);
        } else if !line.also_ok.contains(Flag::Symptom) && !has(first) {
            count(&mut self.missed_symptoms, added);
        }
    }
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
}
