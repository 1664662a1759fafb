//! A body complaint in a staff text: "12 says his head hurts". It goes to the athletic trainer as if the athlete had
//! written it, whoever passes it on.

use super::answer;
use super::command::Target;
use super::items::people;
use crate::desk::act::reach;
use crate::desk::inbound::by_staff;
use crate::desk::inbound::report::{Source, about_nobody, flagged};
use crate::desk::scene::Scene;
use crate::reading::{Kind, Lang, Reading};
use crate::store::rows::InMessage;
use crate::trade::flag::Flags;
use crate::trade::roster::{Athlete, StaffMember};
use crate::wording::{Helmet, Message, words};

/// Files what the text says of the body for those whom it names, or for nobody known.
pub(super) fn body(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    named: &[Target],
    flags: Flags,
    red_flag: bool,
) {
    let found: Vec<Vec<Athlete>> = named.iter().map(|target| people(scene, member, target)).collect();
    let each_is_one = !found.is_empty() && found.iter().all(|people| people.len() == 1);
    let who = if each_is_one {
        let people: Vec<Athlete> = found.into_iter().flatten().collect();
        for athlete in &people {
            file(scene, message, member, athlete, flags, red_flag);
        }
        let names: Vec<String> = people.iter().map(Athlete::short).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        words::joined(&names, member.language)
    } else {
        let names: Vec<String> = named.iter().map(Target::words).collect();
        let whom = if names.is_empty() { "somebody".to_owned() } else { names.join(" or ") };
        about_nobody(scene, message, flags, red_flag, &format!("{whom}, in a text from {}", member.first));
        scene.tell(format!("{} passes a body report on: athletic trainer texted at once", member.first));
        whom
    };
    let text = Message::Meant { who: &who, flags: Helmet(Flags::NONE), body: true };
    answer(scene, message, member, &text);
}

fn file(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    athlete: &Athlete,
    flags: Flags,
    red_flag: bool,
) {
    let reading = Reading { lang: Lang::EN, kind: Kind::Flagged, flags, control: None, evidence: Vec::new(), red_flag };
    let reach = reach(scene, &athlete.id);
    let by = by_staff(member);
    let phone = reach.as_ref().map(|(phone, _)| phone);
    let source = Source { key: &message.id, origin: &message.id, by: &by, phone, photos: &message.photos };
    let check = scene.latest_check(&athlete.id).cloned();
    flagged(scene, &source, &athlete.id, check.as_ref(), &message.body, &reading);
}
