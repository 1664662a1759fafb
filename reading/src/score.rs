//! How well labelled replies are read: a confusion table, the figures that matter, every miss.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use super::{Kind, Lang, Reading, read};
use crate::flag::{Control, Flag, Flags};

/// A labelled reply, one JSON object a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Labelled {
    /// The reply.
    pub text: String,
    /// Its language.
    pub lang: Lang,
    /// What it amounts to.
    pub reading: Kind,
    /// What must be found.
    pub flags: Flags,
    /// What may be added or left out.
    pub also_ok: Flags,
    /// Which control.
    pub control: Option<Control>,
    /// The labeller's reason.
    #[serde(default)]
    pub why: String,
}

/// The figures of a set of labelled replies.
#[derive(Debug, Clone, Default)]
pub struct Score {
    /// Lines read.
    pub lines: usize,
    /// Lines read right: reading, control and flags (up to `also_ok`).
    pub right: usize,
    /// Flagged or unclear lines read as all clear: must be none.
    pub unsafe_clear: usize,
    /// Lines with a symptom.
    pub symptoms: usize,
    /// Of these, read without it.
    pub symptoms_missed: usize,
    /// All-clear lines.
    pub clear: usize,
    /// Of these, not read as all clear.
    pub clear_asked: usize,
    /// Flagged lines.
    pub flagged: usize,
    /// Of these, with exactly the right flags.
    pub flags_exact: usize,
    /// Control lines.
    pub controls: usize,
    /// Of these, read right.
    pub control_right: usize,
    /// How often a label (first) was read as (second).
    pub confusion: BTreeMap<(&'static str, &'static str), usize>,
    /// Every miss, in words.
    pub misses: Vec<String>,
}

impl Score {
    /// Reads every line.
    #[must_use]
    pub fn of(lines: &[Labelled]) -> Self {
        let mut score = Self::default();
        for line in lines {
            score.add(line, &read(&line.text));
        }
        score
    }

    fn add(&mut self, line: &Labelled, reading: &Reading) {
        let off = line.flags.minus(reading.flags).union(reading.flags.minus(line.flags)).minus(line.also_ok);
        let kind = reading.kind == line.reading;
        let control = reading.control == line.control;
        let right = kind && control && off.is_empty();
        self.lines += 1;
        self.right += usize::from(right);
        *self.confusion.entry((line.reading.name(), reading.kind.name())).or_default() += 1;
        match line.reading {
            Kind::AllClear => {
                self.clear += 1;
                self.clear_asked += usize::from(!kind);
            }
            Kind::Flagged => {
                self.flagged += 1;
                self.flags_exact += usize::from(right);
            }
            Kind::Control => {
                self.controls += 1;
                self.control_right += usize::from(right);
            }
            Kind::Unclear => {}
        }
        let must = line.flags.contains(Flag::Symptom) && !line.also_ok.contains(Flag::Symptom);
        self.symptoms += usize::from(must);
        self.symptoms_missed += usize::from(must && !reading.flags.contains(Flag::Symptom));
        let should_not = matches!(line.reading, Kind::Flagged | Kind::Unclear);
        self.unsafe_clear += usize::from(should_not && reading.kind == Kind::AllClear);
        if !right {
            self.misses.push(miss(line, reading));
        }
    }
}

fn names(flags: Flags) -> String {
    flags.iter().map(Flag::name).collect::<Vec<_>>().join(" ")
}

fn miss(line: &Labelled, reading: &Reading) -> String {
    let what = |kind: Kind, flags: Flags, control: Option<Control>| {
        format!("{} {}{}", kind.name(), names(flags), control.map_or("", Control::name)).trim().to_owned()
    };
    format!(
        "{} | labelled {} | read {}",
        line.text,
        what(line.reading, line.flags, line.control),
        what(reading.kind, reading.flags, reading.control)
    )
}

impl fmt::Display for Score {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        for miss in &self.misses {
            writeln!(out, "miss: {miss}")?;
        }
        let kinds = ["all_clear", "flagged", "unclear", "control"];
        writeln!(out, "{:<12}{}", "labelled", kinds.map(|kind| format!("{kind:>11}")).concat())?;
        for row in kinds {
            let cells = kinds.map(|column| format!("{:>11}", self.confusion.get(&(row, column)).unwrap_or(&0)));
            writeln!(out, "{row:<12}{}", cells.concat())?;
        }
        writeln!(out, "right: {} of {}", self.right, self.lines)?;
        writeln!(out, "flagged or unclear read as all clear: {}", self.unsafe_clear)?;
        writeln!(out, "symptoms read without the flag: {} of {}", self.symptoms_missed, self.symptoms)?;
        writeln!(out, "all clear asked again: {} of {}", self.clear_asked, self.clear)?;
        writeln!(out, "flags exactly right: {} of {}", self.flags_exact, self.flagged)?;
        write!(out, "controls right: {} of {}", self.control_right, self.controls)
    }
}
