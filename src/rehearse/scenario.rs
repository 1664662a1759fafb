//! Larkspur Valley High School and its Kestrels: invented people, as files that the real import reads.

use crate::intake::SourceFile;
use crate::trade::time::Moment;

/// The scenario's settings.
pub const CONFIG: &str = include_str!("../../demo/browline.toml");
/// The practice clock starts here: a practice morning, a quarter of an hour before the check.
pub const MORNING: &str = "2026-09-15T06:30:00-05:00";
/// Both teams are on the field.
pub const EVENING: &str = "2026-09-15T15:45:00-05:00";

const FILES: &[(&str, &[u8])] = &[
    ("athletes.csv", include_bytes!("../../demo/athletes.csv")),
    ("guardians.csv", include_bytes!("../../demo/guardians.csv")),
    ("staff.csv", include_bytes!("../../demo/staff.csv")),
    ("helmets.csv", include_bytes!("../../demo/helmets.csv")),
    ("varsity.ics", include_bytes!("../../demo/varsity.ics")),
    ("jv.ics", include_bytes!("../../demo/jv.ics")),
];

/// The scenario's roster and calendars.
#[must_use]
pub fn files() -> Vec<SourceFile> {
    FILES.iter().map(|(name, bytes)| SourceFile { name: (*name).to_owned(), bytes: bytes.to_vec() }).collect()
}

/// A moment of the scenario.
#[must_use]
pub fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap_or_default()
}
