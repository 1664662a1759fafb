//! Parts and tools that the fix list needs, summed: what to bring before one starts.
//!
//! Which flag asks for what is common practice, no published source; the helmet maker's instructions come first. Parts
//! that differ between models are counted by model where the helmet is known.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::flag::{Flag, Flags};

/// Something that is used up or swapped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// A helmet to issue.
    Helmet,
    /// A chin strap; it fits most models.
    ChinStrap,
    /// A face-mask clip with its screw.
    MaskClip,
    /// A pair of jaw pads.
    JawPads,
    /// A front pad.
    FrontPad,
}

impl Part {
    /// Whether it differs between models.
    #[must_use]
    pub const fn is_by_model(self) -> bool {
        matches!(self, Self::MaskClip | Self::JawPads | Self::FrontPad)
    }
}

/// Something to work with, whatever the number of helmets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tool {
    /// A hand screwdriver.
    Screwdriver,
    /// An inflation needle with glycerine to wet it, and a pump.
    Needle,
}

/// What a flag asks for.
#[must_use]
pub const fn asked_by(flag: Flag) -> (Option<Part>, Option<Tool>) {
    match flag {
        Flag::Strap => (Some(Part::ChinStrap), None),
        Flag::Hardware => (Some(Part::MaskClip), Some(Tool::Screwdriver)),
        Flag::Cheeks => (Some(Part::JawPads), None),
        Flag::Brow | Flag::Grip => (Some(Part::FrontPad), None),
        Flag::Air | Flag::Loose | Flag::Tight | Flag::Crown | Flag::Pain => (None, Some(Tool::Needle)),
        Flag::Shell | Flag::Missing | Flag::WrongHelmet => (Some(Part::Helmet), None),
        Flag::Symptom | Flag::Illness | Flag::Injury | Flag::Unwell => (None, None),
    }
}

/// How many of one part, for one model where that matters and is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartCount {
    /// The part.
    pub part: Part,
    /// The helmet's model.
    pub model: Option<String>,
    /// How many.
    pub count: usize,
}

/// Everything that a list needs.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Kit {
    /// Parts, helmets first.
    pub parts: Vec<PartCount>,
    /// Tools.
    pub tools: Vec<Tool>,
}

/// Sums what items need: each with its flags and, where it is known, its helmet's model. One item asks for a part once,
/// whichever of its flags do; one that gets another helmet asks for nothing else.
#[must_use]
pub fn kit<'a>(items: impl IntoIterator<Item = (Flags, Option<&'a str>)>) -> Kit {
    let mut parts: BTreeMap<(Part, Option<String>), usize> = BTreeMap::new();
    let mut tools = BTreeSet::new();
    for (flags, model) in items {
        let asked: Vec<_> = flags.iter().map(asked_by).collect();
        let mut own: BTreeSet<Part> = asked.iter().filter_map(|(part, _)| *part).collect();
        if own.contains(&Part::Helmet) {
            own = BTreeSet::from([Part::Helmet]);
        } else {
            tools.extend(asked.iter().filter_map(|(_, tool)| *tool));
        }
        for part in own {
            let model = model.filter(|_| part.is_by_model()).map(ToOwned::to_owned);
            *parts.entry((part, model)).or_default() += 1;
        }
    }
    Kit {
        parts: parts.into_iter().map(|((part, model), count)| PartCount { part, model, count }).collect(),
        tools: tools.into_iter().collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flags(flags: &[Flag]) -> Flags {
        flags.iter().copied().collect()
    }

    #[test]
    fn parts_are_summed_and_those_that_differ_by_model_are_kept_apart() {
        let kit = kit([
            (flags(&[Flag::Strap]), Some("Tern")),
            (flags(&[Flag::Strap, Flag::Air]), Some("Halyard")),
            (flags(&[Flag::Strap, Flag::Hardware]), Some("Tern")),
            (flags(&[Flag::Hardware]), None),
            (flags(&[Flag::Brow, Flag::Grip]), Some("Tern")),
        ]);
        let count = |part, model: Option<&str>| {
            kit.parts.iter().find(|row| row.part == part && row.model.as_deref() == model).map(|row| row.count)
        };
        assert_eq!(count(Part::ChinStrap, None), Some(3));
        assert_eq!(count(Part::MaskClip, Some("Tern")), Some(1));
        assert_eq!(count(Part::MaskClip, None), Some(1));
        assert_eq!(count(Part::FrontPad, Some("Tern")), Some(1), "one pad serves both points");
        assert_eq!(kit.tools, [Tool::Screwdriver, Tool::Needle]);
    }

    #[test]
    fn who_gets_another_helmet_needs_nothing_for_the_old_one() {
        let kit = kit([(flags(&[Flag::Shell, Flag::Strap, Flag::Air]), Some("Tern"))]);
        assert_eq!(kit.parts, [PartCount { part: Part::Helmet, model: None, count: 1 }]);
        assert!(kit.tools.is_empty());
    }

    #[test]
    fn every_helmet_flag_asks_for_something_and_no_body_flag_does() {
        for flag in Flag::ALL {
            assert_eq!(asked_by(flag) == (None, None), flag.is_body(), "{flag:?}");
        }
    }
}
