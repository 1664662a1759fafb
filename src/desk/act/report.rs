//! What staff see on a helmet themselves: it goes the way of a reply that said so.

use super::{By, Outcome, reach};
use crate::desk::inbound::report::{self, Source};
use crate::desk::scene::Scene;
use crate::reading::{Kind, Lang, Reading};
use crate::trade::flag::Flags;
use crate::trade::roster::AthleteId;

/// Puts what is off on the fix list, with the hold that it asks for, and tells the athlete.
pub(super) fn helmet(scene: &mut Scene<'_>, by: &By<'_>, athlete: &AthleteId, flags: Flags) -> Outcome {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return Outcome::NotFound };
    let flags = flags.helmet();
    if flags.is_empty() {
        return Outcome::NotFound;
    }
    if !by.member.serves(&person.team) {
        return Outcome::NotAllowed;
    }
    let reading =
        Reading { lang: Lang::EN, kind: Kind::Flagged, flags, control: None, evidence: Vec::new(), red_flag: false };
    let reach = reach(scene, athlete);
    let (words, origin) = (by.words(), by.origin());
    let key = format!("seen/{}", by.key);
    let phone = reach.as_ref().map(|(phone, _)| phone);
    let source = Source { key: &key, origin: &origin, by: &words, phone, photos: &[] };
    let check = scene.latest_check(athlete).filter(|check| check.date == scene.today).cloned();
    report::flagged(scene, &source, athlete, check.as_ref(), "", &reading);
    Outcome::done(person.short())
}
