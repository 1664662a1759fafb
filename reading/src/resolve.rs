//! What a predicate said of a subject amounts to.
//!
//! Pure tables; which predicate belongs to which subject is `scan`'s business.

use super::lexicon::Tag;
use crate::flag::{Flag, Flags};

/// What something said of something comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    /// A problem.
    Off(Flags),
    /// Fine, as far as that subject goes.
    Good,
    /// A problem that cannot be named.
    Doubt,
    /// About something else.
    Nothing,
}

/// One flag as an outcome.
fn off(flag: Flag) -> Outcome {
    Outcome::Off([flag].into_iter().collect())
}

fn both(a: Flag, b: Flag) -> Outcome {
    Outcome::Off([a, b].into_iter().collect())
}

/// The flag of a part of the helmet.
pub(super) const fn part_flag(part: Tag) -> Option<Flag> {
    Some(match part {
        Tag::Brow => Flag::Brow,
        Tag::Forehead | Tag::Grip => Flag::Grip,
        Tag::Crown => Flag::Crown,
        Tag::Cheeks => Flag::Cheeks,
        Tag::Strap => Flag::Strap,
        Tag::Hardware => Flag::Hardware,
        Tag::Shell => Flag::Shell,
        Tag::Air => Flag::Air,
        _ => return None,
    })
}

/// The flag a tag says outright.
pub(super) const fn outright(tag: Tag) -> Option<Flag> {
    Some(match tag {
        Tag::Symptom | Tag::RedFlag => Flag::Symptom,
        Tag::Illness => Flag::Illness,
        Tag::Injury => Flag::Injury,
        Tag::Unwell => Flag::Unwell,
        Tag::WrongHelmet => Flag::WrongHelmet,
        Tag::Missing => Flag::Missing,
        Tag::BrowOff => Flag::Brow,
        Tag::GripOff => Flag::Grip,
        Tag::CrownOff => Flag::Crown,
        Tag::CheeksOff => Flag::Cheeks,
        Tag::StrapOff => Flag::Strap,
        Tag::HardwareOff => Flag::Hardware,
        Tag::ShellOff => Flag::Shell,
        Tag::AirOff => Flag::Air,
        Tag::LooseOff => Flag::Loose,
        Tag::TightOff => Flag::Tight,
        Tag::Pain => Flag::Pain,
        _ => return None,
    })
}

/// Whether the tag says something of a subject.
pub(super) const fn is_predicate(tag: Tag) -> bool {
    is_reassuring(tag) || is_trouble(tag)
}

/// Predicates that are good news unless negated.
pub(super) const fn is_reassuring(tag: Tag) -> bool {
    matches!(tag, Tag::Good | Tag::Praise | Tag::Ok | Tag::Click | Tag::Hold | Tag::Fit | Tag::GoOn | Tag::Tight)
}

/// Predicates that are bad news unless negated.
pub(super) const fn is_trouble(tag: Tag) -> bool {
    matches!(
        tag,
        Tag::Bad
            | Tag::Broken
            | Tag::Crack
            | Tag::Loose
            | Tag::TooTight
            | Tag::Move
            | Tag::Wobble
            | Tag::High
            | Tag::Press
            | Tag::Hurt
            | Tag::Gone
            | Tag::Flat
            | Tag::Rattle
    )
}

/// What the predicate comes to when it is said of the subject (or of nothing named) without negation.
pub(super) fn affirmed(predicate: Tag, subject: Option<Tag>) -> Outcome {
    if subject == Some(Tag::Other) || (subject == Some(Tag::Person) && is_reassuring(predicate)) {
        return Outcome::Nothing;
    }
    match predicate {
        Tag::Good | Tag::Praise | Tag::Ok | Tag::Click | Tag::Hold | Tag::Fit | Tag::GoOn => Outcome::Good,
        Tag::Tight => match subject {
            Some(Tag::Helmet | Tag::It | Tag::Crown | Tag::Forehead | Tag::Head) | None => off(Flag::Tight),
            // "My hammy is tight".
            Some(body @ (Tag::Limb | Tag::Neck)) => body_trouble(Tag::Bad, body),
            _ => Outcome::Good,
        },
        _ => trouble(predicate, subject),
    }
}

fn trouble(predicate: Tag, subject: Option<Tag>) -> Outcome {
    if let Some(body) = subject.filter(|tag| tag.is_body()) {
        return body_trouble(predicate, body);
    }
    match (predicate, subject) {
        (Tag::Move, Some(Tag::Forehead)) => Outcome::Good,
        (Tag::Move | Tag::Loose | Tag::Gone | Tag::Wobble | Tag::Rattle, Some(Tag::Me | Tag::Person)) => {
            Outcome::Nothing
        }
        (Tag::Bad | Tag::Broken, Some(Tag::Me)) => off(Flag::Unwell),
        (Tag::Hurt, Some(Tag::Me)) => off(Flag::Injury),
        (
            Tag::Press | Tag::Hurt,
            Some(Tag::Forehead | Tag::Brow | Tag::Cheeks | Tag::Strap | Tag::Hardware | Tag::Pad | Tag::Shell),
        ) => off(Flag::Pain),
        (Tag::TooTight, Some(Tag::Forehead)) => off(Flag::Tight),
        (Tag::High, Some(Tag::Forehead)) => off(Flag::Brow),
        (Tag::Gone, Some(Tag::Pad)) => off(Flag::Cheeks),
        (_, Some(Tag::Pad)) => pad_trouble(predicate),
        (Tag::Crack, Some(Tag::Forehead | Tag::Brow | Tag::Crown | Tag::Grip)) => off(Flag::Shell),
        (Tag::Broken, Some(Tag::Crown)) => off(Flag::Shell),
        (_, Some(part)) if part_flag(part).is_some() => part_flag(part).map_or(Outcome::Doubt, off),
        _ => helmet_trouble(predicate),
    }
}

fn pad_trouble(predicate: Tag) -> Outcome {
    match predicate {
        Tag::Flat => off(Flag::Air),
        Tag::TooTight => off(Flag::Tight),
        _ => off(Flag::Cheeks),
    }
}

fn helmet_trouble(predicate: Tag) -> Outcome {
    match predicate {
        Tag::Broken | Tag::Crack => off(Flag::Shell),
        Tag::Loose => off(Flag::Loose),
        Tag::TooTight => off(Flag::Tight),
        Tag::Move => off(Flag::Grip),
        Tag::Wobble => both(Flag::Grip, Flag::Loose),
        Tag::High => off(Flag::Brow),
        Tag::Press | Tag::Hurt => off(Flag::Pain),
        Tag::Gone => off(Flag::Missing),
        Tag::Flat => off(Flag::Air),
        Tag::Rattle => off(Flag::Hardware),
        _ => Outcome::Doubt,
    }
}

fn body_trouble(predicate: Tag, body: Tag) -> Outcome {
    match (predicate, body) {
        (Tag::Press | Tag::TooTight, Tag::Head) => both(Flag::Pain, Flag::Symptom),
        (Tag::Press, _) => off(Flag::Pain),
        (Tag::Loose, Tag::Head) => off(Flag::Loose),
        (Tag::Move, Tag::Head) => Outcome::Nothing,
        (Tag::High, Tag::Head) => off(Flag::Brow),
        (_, Tag::Head | Tag::Neck) => off(Flag::Symptom),
        (Tag::High, Tag::Eyes) => off(Flag::Brow),
        (Tag::High, Tag::Ears) => off(Flag::Tight),
        (Tag::Hurt | Tag::Bad, Tag::Eyes) => off(Flag::Symptom),
        (_, Tag::Eyes) => off(Flag::Injury),
        (Tag::Hurt | Tag::Bad, Tag::Ears) => both(Flag::Pain, Flag::Symptom),
        (Tag::Crack, Tag::Ears) => off(Flag::Shell),
        (_, Tag::Ears) => off(Flag::Injury),
        (_, Tag::Belly) => off(Flag::Illness),
        (Tag::Loose | Tag::Move | Tag::High | Tag::Gone, _) => Outcome::Doubt,
        _ => off(Flag::Injury),
    }
}

/// What the predicate comes to when it is denied of the subject.
pub(super) fn denied(predicate: Tag, subject: Option<Tag>) -> Outcome {
    if subject == Some(Tag::Other) {
        return Outcome::Nothing;
    }
    match (predicate, subject) {
        (Tag::Move, Some(Tag::Forehead)) => off(Flag::Grip),
        (Tag::Move, Some(Tag::Head | Tag::Neck)) => off(Flag::Symptom),
        (Tag::Move, Some(Tag::Limb)) => off(Flag::Injury),
        (Tag::Tight, Some(Tag::Helmet | Tag::It) | None) => off(Flag::Loose),
        (Tag::Click, Some(Tag::Helmet | Tag::It | Tag::Me | Tag::All | Tag::Head) | None) => off(Flag::Strap),
        (Tag::Hold, Some(Tag::Helmet | Tag::It) | None) => off(Flag::Grip),
        (Tag::GoOn, Some(Tag::Helmet | Tag::It | Tag::Me | Tag::Head | Tag::Ears) | None) => off(Flag::Tight),
        (Tag::Good | Tag::Praise | Tag::Ok, Some(Tag::Head)) => off(Flag::Symptom),
        (Tag::Good | Tag::Praise | Tag::Ok, Some(Tag::Me)) => off(Flag::Unwell),
        (
            Tag::Good | Tag::Praise | Tag::Ok | Tag::Click | Tag::Hold | Tag::Fit | Tag::GoOn | Tag::Tight,
            Some(part),
        ) => match part {
            Tag::Pad => off(Flag::Cheeks),
            Tag::Limb => off(Flag::Injury),
            Tag::Neck => off(Flag::Symptom),
            Tag::Belly => off(Flag::Illness),
            _ => part_flag(part).map_or(Outcome::Doubt, off),
        },
        (Tag::Good | Tag::Praise | Tag::Ok | Tag::Fit, None) => Outcome::Doubt,
        _ => Outcome::Good,
    }
}
