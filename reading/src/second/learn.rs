//! Learns the second reader's weights from labelled replies, and tries them on others.

use super::super::score::Labelled;
use super::super::{First, Kind, Reading, Standing, Taken, fold};
use super::buckets::{BUCKETS, features, shuffle_key};
use super::{
    ANY_FLAG, BESIDE, FINDING_COUNTS, FINDINGS, KEPT, MOST_ROWS, Model, QUESTIONS, findings, is_independent, logistic,
    revised,
};
use crate::flag::{Control, Flag, Flags};

/// The weights, as the binary embeds them. The same replies give the same weights, in whatever order they come.
#[must_use]
pub fn train(lines: &[Labelled]) -> Vec<u8> {
    let mut lines: Vec<&Labelled> = lines.iter().collect();
    // What differs in anything that is learned has an order of its own.
    let label = |line: &Labelled| format!("{:?} {:?} {:?} {:?}", line.reading, line.flags, line.also_ok, line.control);
    lines.sort_by_cached_key(|line| (shuffle_key(&line.text), &line.text, label(line)));
    let mut made = put_beside(&lines);
    let mut lines: Vec<Lesson> = lines.into_iter().map(Lesson::of).collect();
    let kept = what_comes_again(&lines);
    let rows = kept.len() + FINDINGS;
    for lesson in lines.iter_mut().chain(&mut made) {
        lesson.keep(&kept);
    }
    // No question knows of another: one by one, what each looks up stays near.
    let mut columns: Vec<Column> = (0..BESIDE).map(|question| Column::learned(&lines, question, rows)).collect();
    lines.retain(|lesson| lesson.answers[BESIDE].is_some());
    // Each made one somewhere among those that were written.
    let every = made.len() / lines.len().max(1) + 1;
    let mut made = made.into_iter();
    let mixed: Vec<Lesson> = lines
        .into_iter()
        .flat_map(|lesson| {
            let some: Vec<Lesson> = made.by_ref().take(every).collect();
            some.into_iter().chain([lesson])
        })
        .collect();
    columns.push(Column::learned(&mixed, BESIDE, rows));
    packed(&columns, &kept)
}

/// Good news with trouble put before it, behind it or into it that the first reader may take for an all clear. They are made, and not
/// written, so that they teach that one question and no other: taught to the others too, they cost one clear in seventy.
fn put_beside(lines: &[&Labelled]) -> Vec<Lesson> {
    let texts = |words: std::ops::RangeInclusive<usize>, such: fn(&Labelled) -> bool| -> Vec<&str> {
        let texts = lines.iter().filter(|line| such(line)).map(|line| line.text.as_str());
        texts.filter(|text| words.contains(&text.split_whitespace().count()) && !text.contains('\n')).collect()
    };
    let clears = texts(GOOD_NEWS, |line| line.reading == Kind::AllClear);
    let troubles = texts(TROUBLE, |line| !line.flags.is_empty());
    if clears.is_empty() || troubles.is_empty() {
        return Vec::new();
    }
    (0..clears.len() * MADE)
        .filter_map(|number| {
            // Digits that have nothing to do with each other.
            let mut chance = shuffle_key(&number.to_string());
            let mut draw = |most: usize| {
                chance = shuffle_key(&chance.to_string());
                (chance >> 16) as usize % most
            };
            let (good, bad) = (clears[draw(clears.len())], troubles[draw(troubles.len())]);
            let (seam, other) = (SEAMS[draw(SEAMS.len())], SEAMS[draw(SEAMS.len())]);
            // Before it, behind it, or where one matter of it ends.
            let text = match (draw(3), ends_within(good)) {
                (0, ends) if !ends.is_empty() => {
                    let (first, rest) = good.split_at(ends[draw(ends.len())]);
                    format!("{first}{seam}{bad}{other}{}", rest.trim_start())
                }
                (1, _) => format!("{bad}{seam}{good}"),
                _ => format!("{good}{seam}{bad}"),
            };
            let folded = fold::fold(&text);
            let taken = Taken::of(&text, &folded);
            let mut answers = [None; QUESTIONS];
            answers[BESIDE] = Some(true);
            let possible = taken.weigh().standing.is_some();
            possible.then(|| Lesson { features: features(&taken), findings: Vec::new(), answers })
        })
        .collect()
}

/// Where commas and full stops end a matter within a text.
fn ends_within(text: &str) -> Vec<usize> {
    let bytes = text.as_bytes();
    (1..bytes.len()).filter(|at| matches!(bytes[at - 1], b',' | b'.') && bytes[*at] == b' ').collect()
}

/// So many words has good news that trouble is put beside.
const GOOD_NEWS: std::ops::RangeInclusive<usize> = 0..=60;
/// So many has the trouble.
const TROUBLE: std::ops::RangeInclusive<usize> = 2..=5;
/// So many are made for each good news; of two in five the first reader cannot tell.
const MADE: usize = 4;
/// What stands between the two.
const SEAMS: [&str; 12] = [" ", ", ", " and ", " but ", ". ", " y ", " pero ", "... ", " n ", "\n", " also ", " tho "];

/// The buckets that enough replies have, in order.
fn what_comes_again(lines: &[Lesson]) -> Vec<usize> {
    let mut counts = vec![0_u32; BUCKETS];
    for bucket in lines.iter().flat_map(|lesson| &lesson.features) {
        counts[*bucket as usize] += 1;
    }
    let mut kept: Vec<usize> = (0..BUCKETS).filter(|bucket| counts[*bucket] >= RARE).collect();
    kept.truncate(MOST_ROWS - 1);
    kept
}

/// What is learned of one question: a weight for each row.
struct Column {
    weights: Vec<f32>,
    bias: f32,
}

impl Column {
    /// The weights are averages over the last rounds: what the last few replies did to one evens out.
    fn learned(lines: &[Lesson], question: usize, rows: usize) -> Self {
        let shares = shares(lines, question);
        let mut column = Self { weights: vec![0.0; rows], bias: 0.0 };
        let (mut slope_squares, mut sums) = (vec![1e-6; rows], vec![0.0; rows]);
        for round in 0..ROUNDS {
            for step in 0..lines.len() {
                // Another order in each round: a stride prime to most numbers of lines.
                let lesson = &lines[(step * STRIDES[round % STRIDES.len()]) % lines.len()];
                column.learn(lesson, question, shares, &mut slope_squares);
            }
            if round >= SETTLED {
                sums.iter_mut().zip(&column.weights).for_each(|(sum, weight)| *sum += weight);
            }
        }
        let rounds = (ROUNDS - SETTLED) as f32;
        Self { weights: sums.into_iter().map(|sum: f32| sum / rounds).collect(), ..column }
    }

    fn learn(&mut self, lesson: &Lesson, question: usize, shares: (f32, f32), slope_squares: &mut [f32]) {
        let Some(so) = lesson.answers[question] else { return };
        let counts = FINDING_COUNTS as f32;
        let findings: &[u32] = if is_independent(question) { &[] } else { &lesson.findings };
        let value = 1.0 / ((lesson.features.len() + findings.len() * FINDING_COUNTS).max(1) as f32).sqrt();
        let weight = |at: &u32| self.weights[*at as usize];
        let sum = lesson.features.iter().map(weight).sum::<f32>()
            + findings.iter().map(|at| weight(at) * counts).sum::<f32>();
        let safely = if question == 0 { SAFELY } else { 1.0 };
        let (goal, share) = if so { (1.0, shares.0 * safely) } else { (0.0, shares.1) };
        let miss = logistic(self.bias + sum * value) - goal;
        if miss.abs() < CLOSE_ENOUGH {
            return;
        }
        self.bias -= 0.01 * miss * share;
        let rows = lesson.features.iter().map(|at| (*at, 1.0)).chain(findings.iter().map(|at| (*at, counts)));
        for (at, times) in rows {
            let (weight, squares) = (&mut self.weights[at as usize], &mut slope_squares[at as usize]);
            let slope = miss * share * value * times + DECAY * *weight;
            *squares += slope * slope;
            *weight -= RATE * slope / squares.sqrt();
        }
    }
}

/// Scale and bias of each question, which buckets have a row, then the weights of each row as bytes, findings first.
fn packed(columns: &[Column], kept: &[usize]) -> Vec<u8> {
    let most = |column: &Column| column.weights.iter().fold(f32::MIN_POSITIVE, |most, weight| most.max(weight.abs()));
    let scales: Vec<f32> = columns.iter().map(|column| most(column) / 127.0).collect();
    let head = scales.iter().zip(columns).flat_map(|(scale, column)| [scale.to_le_bytes(), column.bias.to_le_bytes()]);
    let mut bytes: Vec<u8> = head.flatten().collect();
    let mut bits = [0_u8; KEPT];
    kept.iter().for_each(|bucket| bits[bucket / 8] |= 1 << (bucket % 8));
    bytes.extend(bits);
    for row in 0..kept.len() + FINDINGS {
        let byte = |(column, scale): (&Column, &f32)| ((column.weights[row] / scale).round() as i8).to_le_bytes()[0];
        bytes.extend(columns.iter().zip(&scales).map(byte));
    }
    bytes
}

/// A bucket of fewer replies is not learned.
const RARE: u32 = 4;
const ROUNDS: usize = 40;
/// From this round on weights count: what the last few replies did to them evens out over the rounds.
const SETTLED: usize = 20;
const STRIDES: [usize; 4] = [1, 7_919, 104_729, 15_485_863];
const RATE: f32 = 0.15;
const DECAY: f32 = 16e-4;
/// How much more it weighs to take what is no all clear for one than the other way round.
const SAFELY: f32 = 2.2;
/// An answer that is off by less teaches nothing.
const CLOSE_ENOUGH: f32 = 0.02;

/// One labelled reply, for learning by stochastic gradient descent, each weight at its own pace (Duchi, Hazan and Singer,
/// "Adaptive Subgradient Methods", JMLR 12, 2011).
struct Lesson {
    features: Vec<u32>,
    /// What the first reader finds.
    findings: Vec<u32>,
    /// None: the reply teaches nothing about the question.
    answers: [Option<bool>; QUESTIONS],
}

impl Lesson {
    fn of(line: &Labelled) -> Self {
        let mut answers = [None; QUESTIONS];
        answers[0] = Some(line.reading != Kind::AllClear);
        for flag in Flag::ALL {
            let either = line.also_ok.contains(flag);
            answers[1 + flag as usize] = (!either).then_some(line.flags.contains(flag));
        }
        for control in Control::ALL {
            answers[1 + Flag::ALL.len() + control as usize] = Some(line.control == Some(control));
        }
        answers[ANY_FLAG] = Some(line.reading == Kind::Flagged);
        let folded = fold::fold(&line.text);
        let taken = Taken::of(&line.text, &folded);
        let First { reading, standing, .. } = taken.weigh();
        let findings = findings(&reading).map(|row| row as u32).collect();
        answers[BESIDE] = (line.reading == Kind::AllClear && standing.is_some()).then_some(false);
        Self { features: features(&taken), findings, answers }
    }

    /// Leaves the buckets that are kept, as rows after those of the findings.
    fn keep(&mut self, kept: &[usize]) {
        let row = |bucket: &u32| kept.binary_search(&(*bucket as usize)).ok().map(|place| (FINDINGS + place) as u32);
        self.features = self.features.iter().filter_map(row).collect();
    }
}

/// How much a reply weighs for which it is so and for which it is not: the rarer kind weighs more, by the root of how much
/// rarer it is.
fn shares(lines: &[Lesson], question: usize) -> (f32, f32) {
    let answers = || lines.iter().filter_map(|lesson| lesson.answers[question]);
    let (all, so) = (answers().count(), answers().filter(|so| *so).count());
    let share = |count: usize| (all as f32 / (2 * count.max(1)) as f32).sqrt();
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
        let taken = Taken::of(&line.text, &folded);
        let first = taken.weigh();
        let second = revised(&model, &line.text, &taken, first.clone());
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
            count(&mut trial.off, revised(&model, &line.text, &taken, cleared).kind != Kind::AllClear);
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
        // What comes once is not learned.
        let lines = vec![lines; RARE as usize].concat();
        let weights = train(&lines);
        let ready = Model::of(&weights);
        let off = |text: &str| {
            let folded = fold::fold(text);
            let taken = Taken::of(text, &folded);
            ready.opinion(&taken, &taken.weigh().reading).off()
        };
        for line in &lines {
            assert_eq!(off(&line.text) > 0.5, line.reading != Kind::AllClear, "{}", line.text);
        }
        assert!(off("the strap is broken and loose") > 0.5);
        assert_eq!(weights, train(&lines));
    }

    #[test]
    fn the_order_of_the_replies_does_not_matter() {
        let clear = labelled("all good coach", Kind::AllClear);
        let mut off = labelled("my strap broke again", Kind::Flagged);
        let same = off.clone();
        off.flags = Flags::from_iter([Flag::Strap]);
        let mut lines = vec![vec![clear, same, off]; RARE as usize].concat();
        let weights = train(&lines);
        lines.reverse();
        assert_eq!(weights, train(&lines));
    }
}
