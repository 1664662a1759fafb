//! Larkspur Valley High School and its Kestrels: invented people, as files that the real import reads, and everybody
//! with a phone.

use std::collections::BTreeSet;

use crate::intake::{Dataset, SourceFile};
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, Guardian, Language, Role, StaffMember};
use crate::trade::time::Moment;

/// The scenario's settings.
pub const CONFIG: &str = include_str!("../../demo/browline.toml");
/// The practice clock starts here: a practice day, a quarter of an hour before the check. RFC 3339.
pub const START: &str = "2026-09-15T06:30:00-05:00";
/// The fix list has gone out. RFC 3339.
pub const LISTED: &str = "2026-09-15T14:00:30-05:00";
/// Ten minutes before practice. RFC 3339.
pub const END: &str = "2026-09-15T15:20:00-05:00";

/// What simulated staff text unasked: when (RFC 3339), by whom (first name), what.
pub const ERRANDS: &[(&str, &str, &str)] = &[
    ("2026-09-15T10:10:00-05:00", "Ana", "me away fri"),
    ("2026-09-15T12:40:00-05:00", "Cole", "helmets"),
    ("2026-09-15T15:05:00-05:00", "Ana", "drill cutter tern today beth grady 61s"),
];

const FILES: &[(&str, &[u8])] = &[
    ("athletes.csv", include_bytes!("../../demo/athletes.csv")),
    ("guardians.csv", include_bytes!("../../demo/guardians.csv")),
    ("staff.csv", include_bytes!("../../demo/staff.csv")),
    ("helmets.csv", include_bytes!("../../demo/helmets.csv")),
    ("drills.csv", include_bytes!("../../demo/drills.csv")),
    ("kits.csv", include_bytes!("../../demo/kits.csv")),
    ("venues.csv", include_bytes!("../../demo/venues.csv")),
    ("models.csv", include_bytes!("../../demo/models.csv")),
    ("varsity.ics", include_bytes!("../../demo/varsity.ics")),
    ("jv.ics", include_bytes!("../../demo/jv.ics")),
];

/// The scenario's roster and calendars.
#[must_use]
pub fn files() -> Vec<SourceFile> {
    FILES.iter().map(|(name, bytes)| SourceFile { name: (*name).to_owned(), bytes: bytes.to_vec() }).collect()
}

/// [`START`], [`LISTED`] or [`END`] as a moment.
#[must_use]
pub fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap_or_default()
}

/// Whose phone it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Staff.
    Staff,
    /// Athletes, a parent's phone among them when it is shared.
    Athletes,
    /// Parents and guardians.
    Parents,
}

impl Group {
    /// Every group, in the order shown.
    pub const ALL: [Self; 3] = [Self::Staff, Self::Athletes, Self::Parents];

    /// As a heading.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Staff => "Staff",
            Self::Athletes => "Athletes",
            Self::Parents => "Parents",
        }
    }
}

/// Somebody with a phone, or several who share one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// The phone.
    pub phone: Phone,
    /// Whose it is.
    pub group: Group,
    /// "#12 Jonah Vega", "Ana Delgado".
    pub name: String,
    /// "Varsity", "athletic trainer", "mother of Jonah".
    pub about: String,
    /// As the story calls them: "#12 Jonah", "Ana".
    pub labels: Vec<String>,
}

/// Everybody with a phone: staff as they are called, athletes by team and number, parents by name.
#[must_use]
pub fn holders(data: &Dataset, team_name: impl Fn(&Athlete) -> String) -> Vec<Holder> {
    let mut known = BTreeSet::new();
    let mut staff: Vec<&StaffMember> = data.staff.iter().collect();
    staff.sort_by_key(|member| (member.roles.first().copied(), member.call_order));
    let mut holders: Vec<Holder> = staff.into_iter().filter_map(of_staff).collect();
    let mut athletes: Vec<&Athlete> = data.athletes.iter().collect();
    athletes.sort_by_key(|athlete| (std::cmp::Reverse(athlete.team.clone()), number(athlete), athlete.id.clone()));
    for athlete in &athletes {
        let Some(phone) = athlete.phone.clone().filter(|phone| known.insert(phone.clone())) else { continue };
        let here: Vec<&Athlete> =
            athletes.iter().copied().filter(|other| other.phone.as_ref() == Some(&phone)).collect();
        holders.push(of_athletes(phone, &here, data, &team_name));
    }
    let parents = data.guardians.iter().filter_map(|guardian| of_guardian(guardian, data));
    holders.extend(parents.filter(|holder| !known.contains(&holder.phone)));
    holders
}

fn number(athlete: &Athlete) -> u32 {
    athlete.jersey.as_ref().and_then(|jersey| jersey.parse().ok()).unwrap_or(u32::MAX)
}

fn of_staff(member: &StaffMember) -> Option<Holder> {
    let roles: Vec<&str> = member.roles.iter().map(|role| role_words(*role)).collect();
    Some(Holder {
        phone: member.phone.clone()?,
        group: Group::Staff,
        name: format!("{} {}", member.first, member.last),
        about: roles.join(", "),
        labels: vec![member.first.clone()],
    })
}

fn of_athletes(phone: Phone, here: &[&Athlete], data: &Dataset, team_name: impl Fn(&Athlete) -> String) -> Holder {
    let names: Vec<String> = here.iter().map(|athlete| format!("{} {}", athlete.short(), athlete.last)).collect();
    let mut labels: Vec<String> = here.iter().map(|athlete| athlete.short()).collect();
    if here.len() > 1 {
        // Together first: either of them may be typing.
        labels.insert(0, here.iter().map(|athlete| athlete.first.as_str()).collect::<Vec<_>>().join(" and "));
    }
    let mut teams: Vec<String> = here.iter().map(|athlete| team_name(athlete)).collect();
    teams.dedup();
    let mut about = teams.join(" and ");
    if here.iter().any(|athlete| athlete.language == Language::Es) {
        about.push_str(", Spanish");
    }
    if let Some(owner) = data.guardians.iter().find(|guardian| guardian.phone.as_ref() == Some(&phone)) {
        about.push_str(&format!(", on the phone of {} {}", owner.first, owner.last));
    }
    Holder { phone, group: Group::Athletes, name: names.join(" and "), about, labels }
}

fn of_guardian(guardian: &Guardian, data: &Dataset) -> Option<Holder> {
    let ties = data.guardianships.iter().filter(|tie| tie.guardian == guardian.id);
    let of: Vec<String> = ties
        .filter_map(|tie| {
            let athlete = data.athletes.iter().find(|athlete| athlete.id == tie.athlete)?;
            Some(format!("{} of {}", tie.relation.as_deref().unwrap_or("guardian"), athlete.first))
        })
        .collect();
    let spanish = if guardian.language == Language::Es { ", Spanish" } else { "" };
    Some(Holder {
        phone: guardian.phone.clone()?,
        group: Group::Parents,
        name: format!("{} {}", guardian.first, guardian.last),
        about: format!("{}{spanish}", of.join(", ")),
        labels: vec![format!("{} {}", guardian.first, guardian.last)],
    })
}

const fn role_words(role: Role) -> &'static str {
    match role {
        Role::Trainer => "athletic trainer",
        Role::Equipment => "equipment",
        Role::Coach => "coach",
        Role::Responder => "emergency responder",
        Role::Administrator => "administrator",
    }
}
