//! What staff say of helmets: shipped, back, failed, recertified, marked, given to somebody.

use chrono::NaiveDate;

use crate::desk::act::reach;
use crate::desk::inbound::by_staff;
use crate::desk::scene::{Scene, To};
use crate::store::rows::Purpose;
use crate::trade::queue::{HoldKind, Queue};
use crate::trade::roster::{AthleteId, Helmet, Role, StaffMember};
use crate::trade::service::Standing;
use crate::wording::Message;

/// Something said of helmets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// They left for the shop; perhaps with the day on which they are promised back.
    Shipped(Option<NaiveDate>),
    /// They are back, recertified.
    Back,
    /// It failed an inspection, and why.
    Failed(String),
    /// That it failed was said of the wrong helmet.
    NotFailed,
    /// It was recertified on a day.
    Recertified(NaiveDate),
    /// A mark of its condition.
    Marked(String),
    /// It is given to an athlete, or to nobody: a spare.
    Issued(Option<AthleteId>),
}

/// Whether somebody may say such things.
#[must_use]
pub fn may(member: &StaffMember) -> bool {
    [Role::Trainer, Role::Equipment].into_iter().any(|role| member.has(role))
}

/// Notes what is said of some helmets, each by its tag. `key` is the natural key of the happening.
pub fn note(scene: &mut Scene<'_>, member: &StaffMember, tags: &[String], said: &Said, key: &str) {
    let (today, now) = (scene.today, scene.now);
    let mut taken_from: Vec<(String, AthleteId, String)> = Vec::new();
    let Some(rack) = &mut scene.rack else { return };
    for tag in tags {
        let before = rack.helmets.get(tag).cloned();
        rack.helmets.change(tag, |helmet| match said {
            Said::Shipped(promised) => {
                helmet.shipped = Some(today);
                helmet.promised = *promised;
            }
            // Nothing that never left is recertified by coming back.
            Said::Back if helmet.shipped.is_none() => {}
            Said::Back => {
                helmet.shipped = None;
                helmet.promised = None;
                helmet.recertified = Some(today);
            }
            Said::Failed(why) => {
                helmet.failed = Some(format!("{today} {why}").trim().to_owned());
                helmet.shipped = None;
                helmet.promised = None;
            }
            Said::NotFailed => helmet.failed = None,
            Said::Recertified(day) => helmet.recertified = helmet.recertified.max(Some(*day)),
            Said::Marked(mark) => helmet.marks.push(format!("{today} {mark}")),
            Said::Issued(athlete) => {
                helmet.athlete.clone_from(athlete);
                helmet.issued_at = Some(now);
            }
        });
        if let (Said::Failed(why), Some(wearer)) = (said, before.and_then(|helmet| helmet.athlete)) {
            taken_from.push((tag.clone(), wearer, format!("failed inspection: {why}")));
        }
    }
    if let (Said::Issued(Some(athlete)), [tag]) = (said, tags) {
        free_others(scene, athlete, tag);
    }
    let (what, why) = match said {
        Said::Shipped(promised) => {
            ("helmets shipped", promised.map(|day| format!("promised {day}")).unwrap_or_default())
        }
        Said::Back => ("helmets back", String::new()),
        Said::Failed(why) => ("helmet failed", why.clone()),
        Said::NotFailed => ("helmet did not fail", String::new()),
        Said::Recertified(day) => ("helmet recertified", day.to_string()),
        Said::Marked(mark) => ("helmet marked", mark.clone()),
        Said::Issued(athlete) => {
            ("helmet issued", athlete.as_ref().map_or_else(|| "spare".to_owned(), |athlete| athlete.0.clone()))
        }
    };
    scene.note(&by_staff(member), what, &tags.join(" "), &why, Some(key));
    scene.tell(format!("{}: {what}, {}", member.first, tags.join(", ")));
    for (tag, wearer, why) in taken_from {
        out_of_use(scene, &by_staff(member), (&tag, &wearer), &why, key);
    }
}

/// What an athlete wore before is a spare now.
fn free_others(scene: &mut Scene<'_>, athlete: &AthleteId, tag: &str) {
    let now = scene.now;
    let Some(rack) = &mut scene.rack else { return };
    let others: Vec<String> = rack
        .helmets
        .values()
        .filter(|helmet| helmet.athlete.as_ref() == Some(athlete) && helmet.tag.as_str() != tag)
        .map(|helmet| helmet.tag.0.clone())
        .collect();
    for other in others {
        rack.helmets.change(&other, |helmet| {
            helmet.athlete = None;
            helmet.issued_at = Some(now);
        });
    }
    if let Some(helmet) = rack.helmets.get(&tag.to_owned()).cloned() {
        scene.helmets.insert(athlete.clone(), helmet);
    }
}

/// Why a helmet may not be worn on a day, in words; none when it may.
#[must_use]
pub fn why_not(scene: &Scene<'_>, helmet: &Helmet, on: NaiveDate) -> Option<String> {
    let rack = scene.rack.as_ref()?;
    let settings = &scene.program.reconditioning;
    let limits = rack.limits(helmet, settings);
    let since = |day: Option<NaiveDate>| {
        day.and_then(|day| day.succ_opt()).map(|day| day.format(" since %b %-d %Y").to_string()).unwrap_or_default()
    };
    match rack.standing(helmet, settings, on) {
        Standing::Failed => Some("failed inspection".to_owned()),
        Standing::Retired => Some(format!("too old{}", since(limits.serves))),
        Standing::Lapsed => Some(format!("no longer certified{}", since(limits.certified))),
        Standing::Away => Some("at the shop".to_owned()),
        Standing::Due | Standing::InService | Standing::Unknown => None,
    }
}

/// Puts an athlete whose helmet may not be worn on the fix list, holds the helmet, and tells the athlete. Nothing when it is
/// held already.
pub fn out_of_use(scene: &mut Scene<'_>, by: &str, (tag, athlete): (&str, &AthleteId), why: &str, key: &str) -> bool {
    if scene.holds_on(athlete).any(|hold| hold.kind == HoldKind::Equipment) {
        return false;
    }
    let mut item = scene.item(Queue::Equipment, athlete.as_str(), Some(athlete));
    item.about = Some(format!("helmet {tag} {why}: give another"));
    scene.items.put(item.id.clone(), item);
    scene.hold(athlete, HoldKind::Equipment, by, None);
    if let Some((phone, person)) = reach(scene, athlete) {
        let place = scene.place(person.language);
        let text = Message::OutOfUse { first: &person.first, place: &place };
        let to = To { phone: &phone, language: person.language, athlete: Some(athlete) };
        scene.send(to, Purpose::Answer, format!("out-of-use/{key}/{athlete}"), &text, None);
    }
    let who = scene.who(athlete);
    scene.tell(format!("{who}'s helmet {tag} {why}: fix list, out of use"));
    true
}
