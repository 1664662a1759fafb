//! Learns the second reader's weights from labelled replies, and tries them on others.

use std::sync::OnceLock;

use super::super::score::Labelled;
use super::super::{First, Kind, Reading, Standing, Taken, fold};
use super::buckets::{BUCKETS, features, shuffle_key};
use super::judge::{self, Case, Judge};
use super::model::{FINDING_COUNTS, FINDINGS, KEPT, MOST_ROWS, Model, Opinion, findings};
use super::parts::Part;
use super::{ANY_FLAG, BESIDE, LEAVES_OPEN, QUESTIONS, TROUBLE, descent, is_independent, length, logistic, revised};
use crate::flag::{Control, Flag, Flags};

/// The weights, as the binary embeds them, from what each hand wrote. The same replies by the same hands give the same weights, in
/// whatever order the replies come and the parts are run; hands that share the reply that comes first are dealt out as they come.
#[must_use]
pub fn train(hands: &[Vec<Labelled>], run: Runs<'_>) -> Vec<u8> {
    let lines = in_order(hands);
    let made = put_beside(&lines);
    let lessons: Vec<Lesson> = lines.iter().map(|(fold, line)| Lesson::of(*fold, line)).collect();
    // What weighs the answers learns from those of readers that had not learned from the hand.
    let cases: Vec<Case> =
        (0..FOLDS).flat_map(|fold| Taught::without(fold, &lessons, &made, run).cases(fold, &lessons, &made)).collect();
    Taught::all(&lessons, &made, run).packed(&Judge::learned(&cases))
}

/// The replies in an order of their own, whatever comes first, and which of so many parts each belongs to: the hands are dealt out.
fn in_order(hands: &[Vec<Labelled>]) -> Vec<(usize, &Labelled)> {
    // What differs in anything that is learned has an order of its own.
    let label = |line: &Labelled| format!("{:?} {:?} {:?} {:?}", line.reading, line.flags, line.also_ok, line.control);
    let key = |line: &Labelled| (shuffle_key(&line.text), line.text.clone(), label(line));
    let mut hands: Vec<&Vec<Labelled>> = hands.iter().filter(|hand| !hand.is_empty()).collect();
    hands.sort_by_cached_key(|hand| hand.iter().map(key).min());
    let many = hands.len() >= FOLDS;
    let mut lines: Vec<(usize, &Labelled)> =
        hands.iter().enumerate().flat_map(|(at, hand)| hand.iter().map(move |line| (at % FOLDS, line))).collect();
    lines.sort_by_cached_key(|(_, line)| key(line));
    if !many {
        lines.iter_mut().enumerate().for_each(|(at, (fold, _))| *fold = at % FOLDS);
    }
    lines
}

/// The hands are dealt out to so many parts.
const FOLDS: usize = 4;

/// What is learned of every question.
struct Taught {
    /// Which buckets have a row, in order.
    kept: Vec<usize>,
    columns: Vec<Column>,
}

impl Taught {
    fn all(lessons: &[Lesson], made: &[Lesson], run: Runs<'_>) -> Self {
        Self::of(&lessons.iter().collect::<Vec<_>>(), made.iter(), run, |_| true)
    }

    /// From all parts but one, as far as is needed to weigh the answers.
    fn without(fold: usize, lessons: &[Lesson], made: &[Lesson], run: Runs<'_>) -> Self {
        let others = |lesson: &&Lesson| !lesson.folds.contains(&fold);
        let controls = 1 + Flag::ALL.len()..ANY_FLAG;
        let lessons: Vec<&Lesson> = lessons.iter().filter(others).collect();
        Self::of(&lessons, made.iter().filter(others), run, |question| !controls.contains(&question))
    }

    fn of<'a>(
        lessons: &[&Lesson],
        made: impl Iterator<Item = &'a Lesson>,
        run: Runs<'_>,
        is_asked: impl Fn(usize) -> bool + Sync,
    ) -> Self {
        let kept = what_comes_again(lessons);
        let rows = kept.len() + FINDINGS;
        let lines: Vec<Lesson> = lessons.iter().map(|lesson| lesson.keeping(&kept)).collect();
        let made: Vec<Lesson> = made.map(|lesson| lesson.keeping(&kept)).collect();
        // Each made one somewhere among those that were written.
        let good: Vec<&Lesson> = lines.iter().filter(|lesson| lesson.answers[BESIDE].is_some()).collect();
        let every = made.len() / good.len().max(1) + 1;
        let mut rest = made.iter();
        let mixed: Vec<&Lesson> =
            good.into_iter().flat_map(|lesson| rest.by_ref().take(every).chain([lesson]).collect::<Vec<_>>()).collect();
        let written: Vec<&Lesson> = lines.iter().collect();
        let columns = made_by(run, QUESTIONS, |question| {
            if !is_asked(question) {
                return Column { weights: vec![0.0; rows], bias: 0.0 };
            }
            Column::learned(if question == BESIDE { &mixed } else { &written }, question, rows)
        });
        Self { kept, columns }
    }

    /// What the replies of a part that was not learned from teach about weighing the answers.
    fn cases(&self, fold: usize, lessons: &[Lesson], made: &[Lesson]) -> Vec<Case> {
        let of_it = lessons.iter().chain(made).filter(|lesson| lesson.folds[0] == fold);
        of_it.filter_map(|lesson| self.case(lesson)).collect()
    }

    fn case(&self, lesson: &Lesson) -> Option<Case> {
        let Possible { standing, words, items, ref clauses } = *lesson.possible.as_ref()?;
        let kept = lesson.keeping(&self.kept);
        let scores = std::array::from_fn(|question| self.columns[question].score(&kept, question));
        let opinion = Opinion::new(scores, kept.features.len() as f32 / lesson.features.len().max(1) as f32);
        let trouble = |clause: &Vec<u32>| self.columns[TROUBLE].score_of(&rows_of(clause, &self.kept), &[]);
        let troubled = clauses
            .as_ref()
            .map_or(f32::INFINITY, |clauses| clauses.iter().map(trouble).reduce(f32::max).unwrap_or(scores[TROUBLE]));
        Some(Case { inputs: judge::inputs(&opinion, troubled, standing, words, items), costs: lesson.costs })
    }

    /// Scale and bias of each question, which buckets have a row, then the weights of each row as bytes, findings first; then what weighs
    /// the answers.
    fn packed(&self, judge: &Judge) -> Vec<u8> {
        let most =
            |column: &Column| column.weights.iter().fold(f32::MIN_POSITIVE, |most, weight| most.max(weight.abs()));
        let scales: Vec<f32> = self.columns.iter().map(|column| most(column) / 127.0).collect();
        let head = scales
            .iter()
            .zip(&self.columns)
            .flat_map(|(scale, column)| [scale.to_le_bytes(), column.bias.to_le_bytes()]);
        let mut bytes: Vec<u8> = head.flatten().collect();
        let mut bits = [0_u8; KEPT];
        self.kept.iter().for_each(|bucket| bits[bucket / 8] |= 1 << (bucket % 8));
        bytes.extend(bits);
        for row in 0..self.kept.len() + FINDINGS {
            let byte =
                |(column, scale): (&Column, &f32)| ((column.weights[row] / scale).round() as i8).to_le_bytes()[0];
            bytes.extend(self.columns.iter().zip(&scales).map(byte));
        }
        bytes.extend(judge.bytes());
        bytes
    }
}

/// Calls what it is given with each number below the first, once, in whatever order: side by side where there are threads for it.
pub type Runs<'a> = &'a dyn Fn(usize, &(dyn Fn(usize) + Sync));

/// What is made of each number below, in their order.
fn made_by<T: Send + Sync>(run: Runs<'_>, count: usize, make: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let made: Vec<OnceLock<T>> = (0..count).map(|_| OnceLock::new()).collect();
    run(count, &|at| {
        made[at].get_or_init(|| make(at));
    });
    made.into_iter().enumerate().map(|(at, made)| made.into_inner().unwrap_or_else(|| make(at))).collect()
}

/// Good news with trouble put before it, behind it or into it that the first reader may take for an all clear. They are made, and not
/// written, so that they teach that one question and what weighs the answers, and no other question: taught to those too, they cost one
/// clear in seventy.
fn put_beside(lines: &[(usize, &Labelled)]) -> Vec<Lesson> {
    let texts = |words: std::ops::RangeInclusive<usize>, such: fn(&Labelled) -> bool| -> Vec<(usize, &str)> {
        let texts = lines.iter().filter(|(_, line)| such(line)).map(|(fold, line)| (*fold, line.text.as_str()));
        texts.filter(|(_, text)| words.contains(&text.split_whitespace().count()) && !text.contains('\n')).collect()
    };
    let clears = texts(GOOD_NEWS, |line| line.reading == Kind::AllClear);
    let troubles = texts(TROUBLE_BESIDE, |line| !line.flags.is_empty());
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
            let ((of_good, good), (of_bad, bad)) = (clears[draw(clears.len())], troubles[draw(troubles.len())]);
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
            let First { reading, standing, .. } = taken.weigh();
            let possible = Some(Possible::of(&taken, &reading, standing?));
            let features = features(Part::whole(&taken));
            let findings = findings(&reading).map(|row| row as u32).collect();
            Some(Lesson {
                features,
                findings,
                answers,
                folds: [of_good, of_bad],
                possible,
                costs: Some(COST_OF_PUT_BESIDE),
            })
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
const TROUBLE_BESIDE: std::ops::RangeInclusive<usize> = 2..=5;
/// So many are made for each good news; of two in five the first reader cannot tell.
const MADE: usize = 4;
/// What stands between the two.
const SEAMS: [&str; 12] = [" ", ", ", " and ", " but ", ". ", " y ", " pero ", "... ", " n ", "\n", " also ", " tho "];

/// The buckets that enough replies have, in order.
fn what_comes_again(lines: &[&Lesson]) -> Vec<usize> {
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
    fn learned(lines: &[&Lesson], question: usize, rows: usize) -> Self {
        let shares = shares(lines, question);
        let mut column = Self { weights: vec![0.0; rows], bias: 0.0 };
        let mut squares = vec![1e-6; rows];
        let show = |column: &mut Self, at: usize| column.learn(lines[at], question, shares, &mut squares);
        let weights = descent::averaged(&mut column, lines.len(), show, |column| &column.weights);
        Self { weights, ..column }
    }

    /// Of a lesson with the rows that were kept.
    fn score(&self, lesson: &Lesson, question: usize) -> f32 {
        self.score_of(&lesson.features, lesson.findings_for(question))
    }

    fn score_of(&self, features: &[u32], findings: &[u32]) -> f32 {
        let weight = |at: &u32| self.weights[*at as usize];
        let found = findings.iter().map(|at| weight(at) * FINDING_COUNTS as f32).sum::<f32>();
        self.bias + (features.iter().map(weight).sum::<f32>() + found) * value(features, findings)
    }

    fn learn(&mut self, lesson: &Lesson, question: usize, shares: (f32, f32), slope_squares: &mut [f32]) {
        let Some(so) = lesson.answers[question] else { return };
        let counts = FINDING_COUNTS as f32;
        let findings = lesson.findings_for(question);
        let value = value(&lesson.features, findings);
        let safely = if question == 0 { SAFELY } else { 1.0 };
        let (goal, share) = if so { (1.0, shares.0 * safely) } else { (0.0, shares.1) };
        let miss = logistic(self.score(lesson, question)) - goal;
        if miss.abs() < CLOSE_ENOUGH {
            return;
        }
        self.bias -= 0.01 * miss * share;
        let rows = lesson.features.iter().map(|at| (*at, 1.0)).chain(findings.iter().map(|at| (*at, counts)));
        for (at, times) in rows {
            let (weight, squares) = (&mut self.weights[at as usize], &mut slope_squares[at as usize]);
            let slope = miss * share * value * times + DECAY * *weight;
            descent::step(weight, squares, slope, RATE);
        }
    }
}

/// A bucket of fewer replies is not learned.
const RARE: u32 = 4;
const RATE: f32 = 0.15;
const DECAY: f32 = 16e-4;
/// How much more it weighs to take what is no all clear for one than the other way round.
const SAFELY: f32 = 2.2;
/// An answer that is off by less teaches nothing.
const CLOSE_ENOUGH: f32 = 0.02;

/// What one reply teaches.
#[derive(Clone)]
struct Lesson {
    features: Vec<u32>,
    /// What the first reader finds.
    findings: Vec<u32>,
    /// None: the reply teaches nothing about the question.
    answers: [Option<bool>; QUESTIONS],
    /// Which parts of the hands it comes from.
    folds: [usize; 2],
    /// What else weighs the answers, if it is one that the first reader holds possible.
    possible: Option<Possible>,
    /// How much worse it would be to call it well than to ask about one that is; none: it is well.
    costs: Option<f32>,
}

/// A reply that may be all clear.
#[derive(Clone)]
struct Possible {
    standing: Standing,
    words: usize,
    items: usize,
    /// What is seen of each clause, if there is more than one; none of what is too long to be looked at.
    clauses: Option<Vec<Vec<u32>>>,
}

impl Possible {
    fn of(taken: &Taken<'_>, reading: &Reading, standing: Standing) -> Self {
        let whole = Part::whole(taken);
        let clauses = (!whole.is_endless()).then(|| whole.clauses().map(features).collect());
        Self { standing, words: length(taken, reading), items: taken.items.len(), clauses }
    }
}

impl Lesson {
    fn of(fold: usize, line: &Labelled) -> Self {
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
        answers[TROUBLE] = answers[ANY_FLAG];
        answers[LEAVES_OPEN] = Some(line.reading == Kind::Unclear);
        let folded = fold::fold(&line.text);
        let taken = Taken::of(&line.text, &folded);
        let First { reading, standing, .. } = taken.weigh();
        let findings = findings(&reading).map(|row| row as u32).collect();
        answers[BESIDE] = (line.reading == Kind::AllClear && standing.is_some()).then_some(false);
        let asked_for = line.reading == Kind::Control;
        let possible = standing.filter(|_| !asked_for).map(|standing| Possible::of(&taken, &reading, standing));
        let costs = match line.reading {
            Kind::AllClear => None,
            Kind::Unclear => Some(COST_OF_NO_ANSWER),
            Kind::Flagged | Kind::Control => Some(COST_OF_TROUBLE),
        };
        Self { features: features(Part::whole(&taken)), findings, answers, folds: [fold; 2], possible, costs }
    }

    /// The same with the buckets that are kept, as rows after those of the findings, and of no use for weighing answers.
    fn keeping(&self, kept: &[usize]) -> Self {
        Self { features: rows_of(&self.features, kept), findings: self.findings.clone(), possible: None, ..*self }
    }

    fn findings_for(&self, question: usize) -> &[u32] {
        if is_independent(question) { &[] } else { &self.findings }
    }
}

/// What each feature weighs: the more there are, the less.
fn value(features: &[u32], findings: &[u32]) -> f32 {
    1.0 / ((features.len() + findings.len() * FINDING_COUNTS).max(1) as f32).sqrt()
}

/// The rows of those buckets that are kept, after those of the findings.
fn rows_of(buckets: &[u32], kept: &[usize]) -> Vec<u32> {
    let row = |bucket: &u32| kept.binary_search(&(*bucket as usize)).ok().map(|place| (FINDINGS + place) as u32);
    buckets.iter().filter_map(row).collect()
}

/// How much worse it is to take a reply that tells of trouble for an all clear than to ask about one that is.
const COST_OF_TROUBLE: f32 = 18.0;
/// The same of one that leaves it open or answers nothing.
const COST_OF_NO_ANSWER: f32 = 12.0;
/// The same of one that was made by putting trouble beside good news.
const COST_OF_PUT_BESIDE: f32 = 0.4;

/// How much a reply weighs for which it is so and for which it is not: the rarer kind weighs more, by the root of how much
/// rarer it is.
fn shares(lines: &[&Lesson], question: usize) -> (f32, f32) {
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
pub fn trial(learned: &[Vec<Labelled>], tried: &[Labelled], run: Runs<'_>) -> Trial {
    let model = Model::of(&train(learned, run));
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

    fn in_turn(count: usize, each: &(dyn Fn(usize) + Sync)) {
        (0..count).for_each(each);
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
        let hands = vec![lines; RARE as usize + 2];
        let weights = train(&hands, &in_turn);
        let ready = Model::of(&weights);
        let off = |text: &str| {
            let folded = fold::fold(text);
            let taken = Taken::of(text, &folded);
            logistic(ready.opinion(&taken, &taken.weigh().reading).score(0))
        };
        for line in &hands[0] {
            assert_eq!(off(&line.text) > 0.5, line.reading != Kind::AllClear, "{}", line.text);
        }
        assert!(off("the strap is broken and loose") > 0.5);
        assert_eq!(weights, train(&hands, &in_turn));
    }

    #[test]
    fn the_order_of_the_replies_does_not_matter() {
        let clear = labelled("all good coach", Kind::AllClear);
        let mut off = labelled("my strap broke again", Kind::Flagged);
        let same = off.clone();
        off.flags = Flags::from_iter([Flag::Strap]);
        let other = vec![labelled("helmet is good", Kind::AllClear); 2];
        let mut hands = vec![vec![clear, same, off]; RARE as usize];
        hands.push(other);
        let weights = train(&hands, &in_turn);
        hands.reverse();
        hands.iter_mut().for_each(|hand| hand.reverse());
        assert_eq!(weights, train(&hands, &in_turn));
    }

    #[test]
    fn hands_are_dealt_out_and_few_are_parted() {
        let hand = |text: &str| vec![labelled(text, Kind::AllClear); 4];
        let folds = |hands: &[Vec<Labelled>]| {
            let lines = in_order(hands);
            let mut folds: Vec<(String, usize)> = lines.iter().map(|(fold, line)| (line.text.clone(), *fold)).collect();
            folds.sort();
            folds.dedup();
            folds
        };
        let many: Vec<Vec<Labelled>> = ["one", "two", "three", "four", "five"].map(hand).to_vec();
        assert_eq!(folds(&many).len(), many.len(), "what a hand wrote stays together");
        assert_eq!(folds(&many[..1]).len(), FOLDS);
    }
}
