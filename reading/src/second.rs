//! A second opinion without grammar: from the words, and from what the lexicon takes them for.
//!
//! A logistic model over hashed words, tags and their neighbours, trained from labelled replies by
//! `browline read --train`; its weights are part of the binary. It takes an all clear back; it gives flags to a reply that
//! the first reader could not place; it adds a sign of concussion to what was found, and of several flags it takes off
//! those that are surely not meant. It grants no all clear that the first reader holds impossible: only what that one holds for one
//! or for possibly one can be one, and the less surely the first reader says so ([`Standing`]), the surer the second has to be
//! that nothing is off ([`Limits`]). Whether anything is off, whether there is a sign of concussion and whether trouble was put
//! beside good news, it answers without a look at what the first reader found.

mod buckets;
mod learn;
mod parts;

use std::cell::Cell;
use std::sync::OnceLock;

pub(super) use buckets::Spelling;
use buckets::{BUCKETS, each_bucket, words};
pub use learn::{Trial, train, trial};

use super::fold::Shape;
use super::lex;
use super::{Evidence, First, Kind, Lang, Reading, Standing, Taken};
use crate::flag::{Control, Flag, Flags};
use parts::Parts;

/// Questions put to a reply: whether it is no all clear, whether it tells of each flag, whether it asks for each control,
/// whether it tells of any flag, whether it looks like good news that trouble was put beside.
const QUESTIONS: usize = BESIDE + 1;
/// Which of them asks whether it tells of any flag.
const ANY_FLAG: usize = 1 + Flag::ALL.len() + Control::ALL.len();
/// Which asks whether trouble was put beside good news.
const BESIDE: usize = ANY_FLAG + 1;
/// The bytes before the weights: scale and bias of each question, little-endian `f32`.
const HEAD: usize = 8 * QUESTIONS;
const TRAINED: &[u8] = include_bytes!("second.weights");
/// Replies of fewer tokens are safe by the grammar alone, and too short to tell from their words.
const FEWEST_TOKENS: usize = 2;
/// Replies of fewer tokens are placed only when there is little doubt.
const FEWEST_TO_PLACE: usize = 5;
/// The same, of a sign of concussion.
const FEWEST_TO_SEE_A_SIGN: usize = 4;
/// Trouble in a reply of fewer words is what the grammar says it is.
const FEWEST_TO_OUTWEIGH: usize = 5;
/// In one of fewer than these it mostly is.
const FEW_WORDS: usize = 8;
/// From so many on a reply tells a story.
const MANY_WORDS: usize = 12;
/// From this probability of any flag on, a clause tells of trouble by itself.
const TELLS_BY_ITSELF: f32 = 0.93;
/// Replies of fewer items may run on, but tell no story.
const A_STORY: usize = 14;
/// Below it, none does in a story in which the grammar sees trouble; in what is none, none that is as likely as not.
const MAY_TELL: f32 = 0.8;
/// The same of a few words in a row, wherever clauses end.
const MAY_RUN_ON: f32 = 0.9;
/// What the limit of the whole is multiplied by where one does.
const WHERE_A_CLAUSE_TELLS: f32 = 0.5;
/// From this probability on good news looks as if trouble were put beside it: of clears not learned from one in a hundred does, and four in
/// five of those that trouble not learned from was put beside.
const PUT_BESIDE: f32 = 0.5;
/// The same of a reply of many words: clear ones look so more often.
const PUT_BESIDE_A_STORY: f32 = 0.6;
/// From this probability on a sign of concussion takes an all clear back.
pub const TOO_LIKE_A_SYMPTOM: f32 = 0.5;
/// The same for adding it to other trouble, or to what the first reader could not place: one too many costs a question.
pub const LIKE_A_SYMPTOM: f32 = 0.125;
/// The same for what has a word that no list has.
pub const UNKNOWN_AND_LIKE_A_SYMPTOM: f32 = 0.2;
/// The same for a reply that seems to tell of no flag.
pub const UNTOLD_AND_LIKE_A_SYMPTOM: f32 = 0.18;
/// The same for a reply that denies a sign of concussion.
pub const DENIED_AND_LIKE_A_SYMPTOM: f32 = 0.9;
/// The same for an all clear that hangs by a thread.
pub const SLIGHTLY_LIKE_A_SYMPTOM: f32 = 0.07;
/// From this probability on a sign that seemed denied was told.
pub const DENIED_AND_SAID: f32 = 0.7;
/// No probability is as high.
const ANY: f32 = 2.0;
/// Flags are told from this probability on.
pub const LIKELY: f32 = 0.5;
/// The score of [`LIKELY`].
const EVEN: f32 = 0.0;
/// Of a reply that is about some flag, the likeliest is told from this probability on.
pub const LIKELIEST: f32 = 0.16;
/// The same for a reply of two or three words.
pub const LIKELIEST_OF_FEW: f32 = 0.4;
/// Flags are given to a reply that tells of any with this probability.
pub const TELLS: f32 = 0.17;
/// Below this probability of any flag, what the first reader found is a doubt; never a sign of concussion, never what was
/// named by number.
pub const TELLS_OF_NONE: f32 = 0.1;
/// A reply that names so many points by number tells of no others.
const MANY: usize = 3;
/// A reply that seems to tell of more flags tells of none.
const MOST_TOLD: usize = 4;
/// From this probability on a reply that the first reader could not place is taken for a control.
pub const LIKE_A_CONTROL: f32 = 0.2;
/// The same for one that asks for help.
pub const SURELY_HELP: f32 = 0.35;
/// The same for a reply of two or three words, or one in which trouble was found; and for one that ends texts or is about
/// the number.
pub const SURELY_A_CONTROL: f32 = 0.5;
/// The same for one that takes texts up again: that takes somebody's word (47 CFR 64.1200).
pub const SURELY_A_START: f32 = 0.6;
/// From this probability of a sign of concussion on, nothing is taken for a control.
pub const NO_CONTROL: f32 = 0.15;
/// From this probability on a point is off besides those that were named by number.
pub const SURE: f32 = 0.7;
/// From this probability on what seemed a control is one, and trouble behind one that is not is trouble.
pub const VERY_SURE: f32 = 0.85;
/// Up to this probability what seemed a control is another.
pub const NOT_SO: f32 = 0.1;

/// The reading as it stands after the second reader has seen the text.
#[must_use]
pub(super) fn look(text: &str, taken: &Taken<'_>, first: First) -> Reading {
    static MODEL: OnceLock<Model> = OnceLock::new();
    revised(MODEL.get_or_init(|| Model::of(TRAINED)), text, taken, first)
}

fn revised(model: &Model, text: &str, taken: &Taken<'_>, first: First) -> Reading {
    let First { mut reading, standing, denies_a_sign, numbered } = first;
    let letters = |word: &&lex::Seen<'_>| reading.kind != Kind::AllClear || word.token.shape == Shape::Word;
    let length = words(&taken.seen).filter(letters).take(MANY_WORDS).count();
    if length < FEWEST_TOKENS || (standing == Some(Standing::Counted) && reading.kind == Kind::AllClear) {
        if matches!(standing, Some(Standing::Hardly | Standing::Unsaid | Standing::Unnamed | Standing::AtOdds))
            && reading.kind == Kind::AllClear
        {
            reading.kind = Kind::Unclear;
        }
        return reading;
    }
    let opinion = model.opinion(taken, &reading);
    let is_well = || standing.is_some_and(|standing| is_well(model, text, taken, &opinion, standing, length));
    match reading.kind {
        Kind::AllClear => object(&mut reading, text, &opinion, standing, is_well(), length),
        Kind::Flagged | Kind::Unclear if is_well() => {
            (reading.kind, reading.flags) = (Kind::AllClear, Flags::NONE);
            reading.evidence.retain(|evidence| evidence.says == "good");
        }
        Kind::Unclear => place(&mut reading, text, &opinion, length),
        Kind::Flagged => amend(&mut reading, text, &opinion, denies_a_sign, numbered),
        Kind::Control => turn(&mut reading, text, &opinion, is_well(), length),
    }
    reading
}

/// Whether a reply of so many words is well: the whole of it, and as far as that is asked, each part.
fn is_well(model: &Model, text: &str, taken: &Taken<'_>, opinion: &Opinion, standing: Standing, length: usize) -> bool {
    let Some(limits) = Limits::of(standing, length) else { return false };
    let parts = Parts::of(model, text, taken);
    match standing {
        _ if length < FEW_WORDS => opinion.excuses(limits),
        Standing::Rambling | Standing::Straying => {
            let most = if taken.items.len() < A_STORY { LIKELY } else { MAY_TELL };
            opinion.excuses(limits)
                && parts.troubled_clause() < most
                && parts.troubled_end(4) < LIKELY
                && parts.troubled_end(3) < LIKELY
                && parts.troubled_stretch(6, 3) < MAY_RUN_ON
        }
        // What the grammar found is in some clause.
        Standing::Excused | Standing::Outweighed | Standing::Doubted => opinion.excuses(limits),
        _ => {
            let surely = Limits { off: limits.off * WHERE_A_CLAUSE_TELLS, ..limits };
            opinion.excuses(surely) || (opinion.excuses(limits) && parts.troubled_clause() < TELLS_BY_ITSELF)
        }
    }
}

/// Whether enough replies in the language were learned from to ask about what the grammar leaves open.
pub(super) fn has_learned(lang: Lang) -> bool {
    [Lang::EN, Lang::ES, Lang::MIX].contains(&lang)
}

fn symptom() -> Flags {
    Flags::from_iter([Flag::Symptom])
}

/// From these probabilities on an all clear is taken back, or not given: that something is off, that there is a sign of concussion, of
/// any one flag, and that trouble was put beside good news. By trial on replies that were not learned from: see `DEVELOPERS.md`.
#[derive(Debug, Clone, Copy)]
struct Limits {
    off: f32,
    symptom: f32,
    flag: f32,
    beside: f32,
}

impl Limits {
    /// By how surely the first reader says that all is clear, and in how many words: the more there are, the more the second one knows.
    /// None: it is not asked.
    fn of(standing: Standing, length: usize) -> Option<Self> {
        let by_length = |few: [f32; 4]| match length {
            0..FEWEST_TO_OUTWEIGH => few[0],
            FEWEST_TO_OUTWEIGH..FEW_WORDS => few[1],
            FEW_WORDS..MANY_WORDS => few[2],
            _ => few[3],
        };
        let (off, symptom, flag) = match standing {
            Standing::Counted | Standing::Surely => (by_length([0.2, 0.175, 0.21, 0.22]), 0.3, LIKELY),
            // Its words are those of trouble.
            Standing::Denying => (by_length([0.42, 0.3, 0.275, 0.28]), 0.5, DENIED_AND_LIKE_A_SYMPTOM),
            Standing::Loosely => (by_length([0.22, 0.16, 0.22, 0.225]), 0.2, LIKELY),
            Standing::Barely => (by_length([0.07, 0.165, 0.185, 0.185]), 0.15, LIKELIEST),
            Standing::Hardly => (by_length([0.2, 0.235, 0.24, 0.27]), SLIGHTLY_LIKE_A_SYMPTOM, LIKELIEST),
            Standing::Unsaid => (by_length([0.13, 0.14, 0.17, 0.16]), SLIGHTLY_LIKE_A_SYMPTOM, LIKELIEST),
            Standing::Unnamed => (by_length([0.17, 0.105, 0.12, 0.2]), SLIGHTLY_LIKE_A_SYMPTOM, LIKELIEST),
            Standing::AtOdds => (by_length([0.3, 0.3, 0.26, 0.225]), SLIGHTLY_LIKE_A_SYMPTOM, LIKELIEST),
            // Trouble in so few words is what the grammar says it is.
            Standing::Excused | Standing::Outweighed | Standing::Doubted if length < FEWEST_TO_OUTWEIGH => return None,
            Standing::Excused => (by_length([0.0, 0.14, 0.265, 0.145]), SLIGHTLY_LIKE_A_SYMPTOM, ANY),
            Standing::Doubted => (by_length([0.0, 0.07, 0.12, 0.185]), SLIGHTLY_LIKE_A_SYMPTOM, ANY),
            Standing::Rambling if length < FEW_WORDS => return None,
            Standing::Rambling => (by_length([0.0, 0.0, 0.115, 0.19]), SLIGHTLY_LIKE_A_SYMPTOM, ANY),
            Standing::Straying if length < MANY_WORDS => return None,
            Standing::Straying => (0.17, SLIGHTLY_LIKE_A_SYMPTOM, ANY),
            Standing::Outweighed => (by_length([0.0, 0.14, 0.175, 0.23]), SLIGHTLY_LIKE_A_SYMPTOM, ANY),
        };
        let beside = if length < MANY_WORDS { PUT_BESIDE } else { PUT_BESIDE_A_STORY };
        Some(Self { off, symptom, flag, beside })
    }
}

/// Takes an all clear back, and gives the reply the flags that it surely tells of.
fn object(
    reading: &mut Reading,
    text: &str,
    opinion: &Opinion,
    standing: Option<Standing>,
    is_well: bool,
    length: usize,
) {
    if is_well {
        reading.evidence.retain(|evidence| evidence.says != "doubt");
    } else {
        reading.kind = Kind::Unclear;
        say(reading, text, "doubt");
        // What was denied is asked about, not taken for said, unless there is little doubt.
        let denied = standing == Some(Standing::Denying) && opinion.of(Flag::Symptom) < DENIED_AND_SAID;
        if !denied {
            place(reading, text, opinion, length);
        }
    }
}

/// Gives flags to a reply that the first reader could not place, or takes it for a control.
fn place(reading: &mut Reading, text: &str, opinion: &Opinion, length: usize) {
    let short = length < FEWEST_TO_PLACE;
    if let Some(control) = opinion.control(if short { SURELY_A_CONTROL } else { LIKE_A_CONTROL }) {
        (reading.kind, reading.control) = (Kind::Control, Some(control));
        return say(reading, text, control.name());
    }
    // "Why? what is going on" tells of nothing.
    let like_a_symptom = match length {
        0..FEWEST_TO_SEE_A_SIGN => LIKELY,
        _ if opinion.tells() < TELLS => UNTOLD_AND_LIKE_A_SYMPTOM,
        // "All good but gdc" says little.
        _ if reading.evidence.iter().any(|evidence| evidence.says == "unknown") => UNKNOWN_AND_LIKE_A_SYMPTOM,
        _ => LIKE_A_SYMPTOM,
    };
    let signs: Flags = symptom().iter().filter(|flag| opinion.of(*flag) >= like_a_symptom).collect();
    let told = if opinion.tells() >= TELLS {
        opinion.told(if short { LIKELIEST_OF_FEW } else { LIKELIEST }).union(signs)
    } else {
        signs
    };
    // A few words that look like much say nothing.
    if told.len() <= if short { 1 } else { MOST_TOLD } {
        told.iter().for_each(|flag| add(reading, text, flag));
    }
}

/// Adds a sign of concussion to what was found, and takes off what is surely not meant; what was named by number is.
fn amend(reading: &mut Reading, text: &str, opinion: &Opinion, denies_a_sign: bool, numbered: Flags) {
    // "Im more of a 7 today" says what it says.
    let enough = if denies_a_sign {
        DENIED_AND_LIKE_A_SYMPTOM
    } else if numbered.contains(Flag::Unwell) {
        TOO_LIKE_A_SYMPTOM
    } else {
        LIKE_A_SYMPTOM
    };
    if !reading.flags.contains(Flag::Symptom) && opinion.of(Flag::Symptom) >= enough {
        add(reading, text, Flag::Symptom);
        reading.flags.remove(Flag::Unwell);
    }
    if numbered == Flags::NONE
        && !reading.flags.contains(Flag::Symptom)
        && opinion.likeliest() < LIKELIEST
        && let Some(control) = opinion.control(SURELY_A_CONTROL)
    {
        (reading.kind, reading.flags, reading.control) = (Kind::Control, Flags::NONE, Some(control));
        return say(reading, text, control.name());
    }
    if opinion.tells() < TELLS_OF_NONE && numbered == Flags::NONE && !reading.flags.contains(Flag::Symptom) {
        (reading.kind, reading.flags) = (Kind::Unclear, Flags::NONE);
        return say(reading, text, "doubt");
    }
    // A sign that was denied, and is not likely enough to have been told, says nothing of the rest.
    let told = opinion.told(LIKELIEST).minus(symptom().minus(reading.flags));
    // "All bad but 1": so many numbers say it all.
    if told == Flags::NONE || numbered.len() >= MANY {
        return;
    }
    // "Only 3 and 4 are good": the numbers say which points.
    let point = |flag: Flag| (1..=6).any(|point| Flag::from_check_point(point) == Some(flag));
    let besides = |flag: &Flag| numbered == Flags::NONE || !point(*flag) || opinion.of(*flag) >= SURE;
    for flag in told.minus(reading.flags).iter().filter(|flag| *flag != Flag::Symptom).filter(besides) {
        add(reading, text, flag);
    }
    let stays = told.union(numbered).union(symptom());
    for flag in reading.flags.minus(stays).iter() {
        reading.flags.remove(flag);
        reading.evidence.retain(|evidence| evidence.says != flag.name());
    }
    if reading.flags.contains(Flag::Symptom) {
        reading.flags.remove(Flag::Unwell);
    }
}

/// Finds a sign of concussion or other trouble behind what seemed a control, or takes it for another control, when there is
/// little doubt that it is not what it seemed; an opt-out stays one.
fn turn(reading: &mut Reading, text: &str, opinion: &Opinion, is_well: bool, length: usize) {
    let Some(seemed) = reading.control.filter(|control| *control != Control::Stop) else { return };
    let likely = opinion.asks_for(seemed);
    // "Like new after they fixed it", "film at lunch or after?": nothing is put off.
    let said_in_passing = matches!(seemed, Control::Later | Control::Absent | Control::WrongNumber);
    if said_in_passing && likely < LIKE_A_CONTROL && has_learned(reading.lang) {
        (reading.kind, reading.control) = (Kind::Unclear, None);
        if is_well {
            reading.kind = Kind::AllClear;
            return reading.evidence.retain(|evidence| evidence.says == "good");
        }
        reading.evidence.retain(|evidence| evidence.says != seemed.name());
        say(reading, text, "doubt");
        return place(reading, text, opinion, length);
    }
    let enough = |flag: Flag| if flag == Flag::Symptom { TOO_LIKE_A_SYMPTOM } else { VERY_SURE };
    if likely < VERY_SURE {
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
    /// Which buckets have a row: the others were too rare to be learned.
    kept: Box<[Kept]>,
    /// The rows of those that have one, in their order.
    weights: Box<[Row]>,
    /// The weights of what the first reader found, as often as they count.
    found: Box<[[i16; LANES]]>,
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

/// So many weights add up within 16 bits.
const FEW: usize = (u16::MAX / u8::MAX as u16) as usize;
/// What the first reader can find: a kind, and each flag.
const FINDINGS: usize = Kind::ALL.len() + Flag::ALL.len();
/// What the first reader found counts for so many features.
const FINDING_COUNTS: usize = 3;
/// More buckets than these have no row.
const MOST_ROWS: usize = 1 << 19;
/// The bytes that say which buckets have a row.
const KEPT: usize = BUCKETS / 8;
/// So many buckets are told of side by side.
const SIDE_BY_SIDE: usize = u32::BITS as usize;

/// What the first reader found, as rows of the table of findings.
fn findings(first: &Reading) -> impl Iterator<Item = usize> {
    std::iter::once(first.kind as usize).chain(first.flags.iter().map(|flag| Kind::ALL.len() + flag as usize))
}

/// What the model makes of one reply.
struct Opinion {
    /// What grows with the probability, and is 0 where it is even.
    scores: [f32; QUESTIONS],
}

impl Model {
    fn of(trained: &[u8]) -> Self {
        let (head, rest) = trained.split_at(HEAD.min(trained.len()));
        let (kept, rest) = rest.split_at(KEPT.min(rest.len()));
        let (found, weights) = rest.split_at((FINDINGS * QUESTIONS).min(rest.len()));
        let number = |at: usize| head.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0.0, f32::from_le_bytes);
        let mut scales = [Scale::default(); QUESTIONS];
        for (at, scale) in scales.iter_mut().enumerate() {
            *scale = Scale { scale: number(at * 8), bias: number(at * 8 + 4) };
        }
        let weights = weights.chunks(QUESTIONS).map(Row::of).collect();
        let kept = Kept::all(kept);
        let found = found.chunks(QUESTIONS).map(|bytes| Row::of(bytes).times(FINDING_COUNTS as i16)).collect();
        Self { scales, kept, weights, found }
    }

    fn opinion(&self, taken: &Taken<'_>, first: &Reading) -> Opinion {
        Opinion::from_sums(&self.scales, &self.sums(taken), &self.found(first))
    }

    /// Where the row of a bucket is, if it has one.
    fn row(&self, bucket: u32) -> Option<u32> {
        self.kept.get(bucket as usize / SIDE_BY_SIDE)?.row(bucket as usize % SIDE_BY_SIDE)
    }

    /// The sums over what is seen of a reply.
    fn sums(&self, taken: &Taken<'_>) -> Sums {
        let mut seen = SEEN.take().unwrap_or_default();
        each_bucket(taken, |bucket| {
            if let Some(row) = self.row(bucket) {
                seen.insert(row);
            }
        });
        let mut sums = Sums::default();
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
struct Sums([i32; LANES]);

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
        for (sum, few) in self.0.iter_mut().zip(both) {
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
        let root = |features: i32| (features.max(1) as f32).sqrt();
        let (alone, with_found) = (root(seen.0[COUNT]), root(seen.0[COUNT] + i32::from(found[COUNT])));
        let score = |question: usize| {
            let Scale { scale, bias } = scales[question];
            let (sum, root) = if is_independent(question) {
                (seen.0[question], alone)
            } else {
                (seen.0[question] + i32::from(found[question]), with_found)
            };
            bias + scale * sum as f32 / root
        };
        Self { scores: std::array::from_fn(score) }
    }

    /// How likely it is that the reply is no all clear.
    fn off(&self) -> f32 {
        self.probability(0)
    }

    /// Whether it is sure enough that nothing is off.
    fn excuses(&self, limits: Limits) -> bool {
        self.off() < limits.off
            && self.of(Flag::Symptom) < limits.symptom
            && self.likeliest() < limits.flag
            && self.beside() < limits.beside
    }

    /// How likely it is that the reply tells of any flag.
    fn tells(&self) -> f32 {
        self.probability(ANY_FLAG)
    }

    /// How likely it is that trouble was put beside good news, among replies that the first reader holds possible.
    fn beside(&self) -> f32 {
        self.probability(BESIDE)
    }

    /// How likely it is that the reply tells of the flag.
    fn of(&self, flag: Flag) -> f32 {
        self.probability(1 + flag as usize)
    }

    /// How likely the likeliest flag is.
    fn likeliest(&self) -> f32 {
        logistic(Flag::ALL.into_iter().map(|flag| self.score(1 + flag as usize)).fold(f32::NEG_INFINITY, f32::max))
    }

    /// The flags that are likelier than not, or else the likeliest one, from this probability on.
    fn told(&self, least: f32) -> Flags {
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
    fn control(&self, sure: f32) -> Option<Control> {
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
    fn asks_for(&self, control: Control) -> f32 {
        self.probability(1 + Flag::ALL.len() + control as usize)
    }

    fn probability(&self, question: usize) -> f32 {
        logistic(self.score(question))
    }

    const fn score(&self, question: usize) -> f32 {
        self.scores[question]
    }
}

/// Whether a question is answered without a look at what the first reader found: whether the reply is no all clear, whether it
/// tells of a sign of concussion, and whether trouble was put beside good news. What the first reader missed, the second has to find by
/// itself.
const fn is_independent(question: usize) -> bool {
    question == 0 || question == 1 + Flag::Symptom as usize || question == BESIDE
}

fn logistic(sum: f32) -> f32 {
    1.0 / (1.0 + (-sum).exp())
}

#[cfg(test)]
mod tests {
    use super::super::fold;
    use super::buckets::features;
    use super::*;

    #[test]
    fn each_bucket_weighs_once() {
        let model = Model::of(TRAINED);
        for text in ["", "ok", "goooood good good 100 señor", "it it it it it", "2n5 x-ray won't 日本 👍"] {
            let folded = fold::fold(text);
            let taken = Taken::of(text, &folded);
            let buckets = features(&taken);
            let rows: Vec<u32> = buckets.iter().filter_map(|bucket| model.row(*bucket)).collect();
            let weight = |row: &u32, at: usize| i32::from(model.weights[*row as usize].weight(at));
            let sum = |at: usize| rows.iter().map(|row| weight(row, at)).sum();
            let sums: [i32; LANES] = std::array::from_fn(sum);
            assert_eq!(model.sums(&taken).0, sums, "{text}");
        }
    }

    #[test]
    fn the_embedded_weights_are_whole() {
        let kept: u32 = TRAINED[HEAD..HEAD + KEPT].iter().map(|byte| byte.count_ones()).sum();
        assert!((kept as usize) < MOST_ROWS);
        assert_eq!(TRAINED.len(), HEAD + KEPT + QUESTIONS * (FINDINGS + kept as usize));
    }
}
