//! Texts about drills, kits, helmets and clearances: the first word says which area a text is for.

use super::{drills, helmets, kits};
use crate::desk::scene::Scene;
use crate::store::rows::InMessage;
use crate::trade::roster::StaffMember;

/// The words that an area's texts begin with, and what acts on them; it returns whether it took the text for its own.
type Area = (&'static [&'static str], fn(&mut Scene<'_>, &InMessage, &StaffMember, &str) -> bool);

/// Hands a text to the area that it begins with. Whether it was one's. Every area has a line here.
pub fn obey(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    let areas: &[Area] = &[(drills::WORDS, drills::obey), (kits::WORDS, kits::obey), (helmets::WORDS, helmets::obey)];
    let first = first_word(text);
    areas.iter().any(|(words, obey)| words.contains(&first.as_str()) && obey(scene, message, member, text))
        || drills::away(scene, message, member, text)
        || helmets::of_one(scene, message, member, text)
}

/// The first word, small, without what stands around it: "Drill: log roll" begins with "drill".
#[must_use]
pub fn first_word(text: &str) -> String {
    let word = text.split_whitespace().next().unwrap_or_default();
    word.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase()
}
