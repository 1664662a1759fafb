//! Check points, flags, controls: what an athlete's reply can say, and what each thing means for the helmet.
//!
//! Pure data. The reader names flags, the rules of the trade act on them; neither list is known anywhere else.

use serde::{Deserialize, Serialize};

/// One thing that is off, with the helmet or with the athlete.
///
/// Ordered as the check points are, helmet before body; the order is that of every list shown to people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Flag {
    /// Front edge not about one inch (two fingers) above the eyebrows (ASTM STP 11775S, criterion 1).
    Brow,
    /// Forehead skin does not move with the front pad; the helmet slides (ASTM STP 11775S, criterion 7).
    Grip,
    /// Pressing on top is felt on the brow, not on top of the head.
    Crown,
    /// Jaw pads not firm on both sides (ASTM STP 11775S, criterion 4).
    Cheeks,
    /// Chin strap broken, loose or incomplete (ASTM STP 11775S, criterion 3).
    Strap,
    /// Face mask, screws, clips loose, bent or missing.
    Hardware,
    /// Crack, dent, broken part.
    Shell,
    /// Liner does not hold air; valve.
    Air,
    /// Too loose overall, no point named.
    Loose,
    /// Too tight overall, no point named.
    Tight,
    /// Hot spot or pressure point from the helmet.
    Pain,
    /// Helmet not with the athlete.
    Missing,
    /// Someone else's helmet.
    WrongHelmet,
    /// A possible sign of concussion, now or recent.
    Symptom,
    /// Ill, not the head.
    Illness,
    /// Hurt, not the head.
    Injury,
    /// "You don't feel right" with nothing more said (check point 7).
    Unwell,
}

/// What has to happen to a flag before the athlete takes contact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum BeforeContact {
    /// Staff refit the helmet; it may be worn to the fitting.
    Refit,
    /// A helmet must be found or issued.
    IssueOrFind,
    /// The helmet is out of use until staff have checked it: an equipment hold.
    DoNotWear,
    /// The athletic trainer decides; nobody else does.
    TrainerDecides,
    /// Out until a licensed clinician records a decision: a medical hold.
    MedicalHold,
}

impl Flag {
    /// Every flag, in the order shown to people.
    pub const ALL: [Self; 17] = [
        Self::Brow,
        Self::Grip,
        Self::Crown,
        Self::Cheeks,
        Self::Strap,
        Self::Hardware,
        Self::Shell,
        Self::Air,
        Self::Loose,
        Self::Tight,
        Self::Pain,
        Self::Missing,
        Self::WrongHelmet,
        Self::Symptom,
        Self::Illness,
        Self::Injury,
        Self::Unwell,
    ];

    /// The name used in files, in the machine contract and in templates.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Brow => "brow",
            Self::Grip => "grip",
            Self::Crown => "crown",
            Self::Cheeks => "cheeks",
            Self::Strap => "strap",
            Self::Hardware => "hardware",
            Self::Shell => "shell",
            Self::Air => "air",
            Self::Loose => "loose",
            Self::Tight => "tight",
            Self::Pain => "pain",
            Self::Missing => "missing",
            Self::WrongHelmet => "wrong_helmet",
            Self::Symptom => "symptom",
            Self::Illness => "illness",
            Self::Injury => "injury",
            Self::Unwell => "unwell",
        }
    }

    /// The flag with this name, if there is one.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|flag| flag.name() == name)
    }

    /// The flag that a check point stands for: 1 brow to 6 mask, 7 "you don't feel right".
    #[must_use]
    pub const fn from_check_point(point: u8) -> Option<Self> {
        match point {
            1 => Some(Self::Brow),
            2 => Some(Self::Grip),
            3 => Some(Self::Crown),
            4 => Some(Self::Cheeks),
            5 => Some(Self::Strap),
            6 => Some(Self::Hardware),
            7 => Some(Self::Unwell),
            _ => None,
        }
    }

    /// What has to happen before contact.
    #[must_use]
    pub const fn before_contact(self) -> BeforeContact {
        match self {
            Self::Strap | Self::Hardware | Self::Shell | Self::WrongHelmet => BeforeContact::DoNotWear,
            Self::Missing => BeforeContact::IssueOrFind,
            Self::Symptom => BeforeContact::MedicalHold,
            Self::Illness | Self::Injury | Self::Unwell => BeforeContact::TrainerDecides,
            Self::Brow
            | Self::Grip
            | Self::Crown
            | Self::Cheeks
            | Self::Air
            | Self::Loose
            | Self::Tight
            | Self::Pain => BeforeContact::Refit,
        }
    }

    /// Whether this is about the athlete's body: medical staff alone see it.
    #[must_use]
    pub const fn is_body(self) -> bool {
        matches!(self.before_contact(), BeforeContact::TrainerDecides | BeforeContact::MedicalHold)
    }
}

/// A reply that is about the conversation and not about the helmet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Control {
    /// No more texts (47 CFR 64.1200(a)(10)).
    Stop,
    /// Texts again.
    Start,
    /// Who is this, how do I reach a person.
    Help,
    /// The person at this number is not the one meant.
    WrongNumber,
    /// Not at this practice or game.
    Absent,
    /// Will check, not yet.
    Later,
}

impl Control {
    /// Every control.
    pub const ALL: [Self; 6] = [Self::Stop, Self::Start, Self::Help, Self::WrongNumber, Self::Absent, Self::Later];

    /// The name used in files and in the machine contract.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Start => "start",
            Self::Help => "help",
            Self::WrongNumber => "wrong_number",
            Self::Absent => "absent",
            Self::Later => "later",
        }
    }

    /// The control with this name, if there is one.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|control| control.name() == name)
    }
}

/// A set of flags, kept in the order shown to people.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Flags(u32);

const _: () = {
    let mut at = 0;
    while at < Flag::ALL.len() {
        assert!(Flag::ALL[at] as usize == at, "the bits of a set are in the order shown to people");
        at += 1;
    }
};

impl Flags {
    /// No flag.
    pub const NONE: Self = Self(0);

    /// Adds a flag.
    pub fn insert(&mut self, flag: Flag) {
        self.0 |= 1 << flag as u32;
    }

    /// Takes a flag out.
    pub fn remove(&mut self, flag: Flag) {
        self.0 &= !(1 << flag as u32);
    }

    /// Whether the flag is in the set.
    #[must_use]
    pub const fn contains(self, flag: Flag) -> bool {
        self.0 & (1 << flag as u32) != 0
    }

    /// Whether the set is empty.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many flags.
    #[must_use]
    pub const fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Both sets together.
    #[must_use]
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// The flags that are in this set and not in the other.
    #[must_use]
    pub const fn minus(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// The flags, in the order shown to people.
    pub fn iter(self) -> impl Iterator<Item = Flag> {
        let mut rest = self.0;
        std::iter::from_fn(move || {
            let flag = Flag::ALL.get(rest.trailing_zeros() as usize).copied();
            rest &= rest.wrapping_sub(1);
            flag
        })
    }

    /// The helmet flags alone.
    #[must_use]
    pub fn helmet(self) -> Self {
        self.iter().filter(|flag| !flag.is_body()).collect()
    }

    /// The body flags alone.
    #[must_use]
    pub fn body(self) -> Self {
        self.iter().filter(|flag| flag.is_body()).collect()
    }

    /// Whether any flag asks for this before contact.
    #[must_use]
    pub fn needs(self, before: BeforeContact) -> bool {
        self.iter().any(|flag| flag.before_contact() == before)
    }
}

impl FromIterator<Flag> for Flags {
    fn from_iter<I: IntoIterator<Item = Flag>>(flags: I) -> Self {
        let mut set = Self::NONE;
        for flag in flags {
            set.insert(flag);
        }
        set
    }
}

impl Serialize for Flags {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.iter())
    }
}

impl<'de> Deserialize<'de> for Flags {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Vec::<Flag>::deserialize(deserializer)?.into_iter().collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_round_trip() {
        for flag in Flag::ALL {
            assert_eq!(Flag::from_name(flag.name()), Some(flag));
            let json = serde_json::to_string(&flag).unwrap();
            assert_eq!(json, format!("\"{}\"", flag.name()));
        }
        for control in Control::ALL {
            assert_eq!(Control::from_name(control.name()), Some(control));
        }
    }

    #[test]
    fn every_flag_has_its_own_bit() {
        let all: Flags = Flag::ALL.into_iter().collect();
        assert_eq!(all.len(), Flag::ALL.len());
        assert_eq!(all.iter().collect::<Vec<_>>(), Flag::ALL);
        assert_eq!(all.helmet().union(all.body()), all);
    }

    #[test]
    fn medical_hold_is_for_symptoms_alone() {
        for flag in Flag::ALL {
            assert_eq!(flag.before_contact() == BeforeContact::MedicalHold, flag == Flag::Symptom);
        }
    }
}
