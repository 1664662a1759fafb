//! Telling a family: which guardians, by which way, in which words; and what staff are asked when one cannot be told.

use std::collections::BTreeMap;

use super::{Household, choice, family_of};
use crate::desk::scene::{Scene, To, item_key, phone_words};
use crate::schedule::after_quiet;
use crate::store::rows::{Mail, MailState, Purpose};
use crate::trade::notice::{Decision, Family, News, Notice, NoticeState, Plan, Step, family_key, ladder, plan};
use crate::trade::phone::Phone;
use crate::trade::queue::{HoldKind, Queue};
use crate::trade::roster::{AthleteId, Guardian, GuardianId, Language};
use crate::trade::time::Moment;
use crate::wording::{Accents, Message};

/// How the subject of an item begins by which a person is to call a family.
pub(super) const CALL_SUBJECT: &str = "call-family:";

/// Tells a family what happened, once.
pub(super) fn news(scene: &mut Scene<'_>, household: &Household, news: News) {
    let athlete = &household.athlete.id;
    let rules = scene.program.notices.rules.clone();
    if !rules.tell(news) || household.guardians.is_empty() {
        return;
    }
    let Some(since) = since(scene, athlete, news) else { return };
    match household.family(scene) {
        Family::Hears => {}
        Family::Private => return scene.note("program", "family not told", athlete.as_str(), "of age: private", None),
        Family::NotSaid => {
            scene.note("program", "family not told", athlete.as_str(), "of age: not said", None);
            return choice::ask(scene, household);
        }
    }
    supersede(scene, household, news);
    let family = family_key(news, athlete, &since);
    let candidates = household.candidates(scene);
    let plan = plan(news, &rules, &candidates, false);
    put(scene, household, news, &family, &plan);
    if news.wants_answer() && !plan.each.is_empty() && !plan.anybody {
        call(scene, household, &family);
    }
}

/// Since when it is so: the beginning of the hold, or the day. None when it is not so after all.
fn since(scene: &Scene<'_>, athlete: &AthleteId, news: News) -> Option<String> {
    let body = matches!(news, News::Held | News::Cleared);
    let of_kind = |kind: HoldKind| (kind != HoldKind::Equipment) == body;
    let begun = |open: bool| {
        scene
            .holds
            .values()
            .filter(|hold| hold.athlete == *athlete && of_kind(hold.kind))
            .filter(|hold| if open { hold.closed_at.is_none() } else { hold.closed_at == Some(scene.now) })
            .map(|hold| hold.opened_at)
            .min()
    };
    match news {
        News::Held | News::HelmetOut => begun(true).map(|at| at.millis().to_string()),
        News::Cleared | News::HelmetBack if begun(true).is_some() => None,
        News::Cleared | News::HelmetBack => {
            Some(begun(false).map_or_else(|| scene.today.to_string(), |at| at.millis().to_string()))
        }
        News::StepReached => Some(scene.today.to_string()),
    }
}

/// What says the contrary of the news is not sent any more, and waits for no answer.
fn supersede(scene: &mut Scene<'_>, household: &Household, news: News) {
    let older: &[News] = match news {
        News::Held => &[News::Cleared, News::StepReached],
        News::Cleared => &[News::Held, News::StepReached],
        News::StepReached => &[],
        News::HelmetOut => &[News::HelmetBack],
        News::HelmetBack => &[News::HelmetOut],
    };
    let waiting: Vec<Notice> = scene
        .families
        .notices
        .values()
        .filter(|notice| notice.athlete == household.athlete.id && older.contains(&notice.news))
        .filter(|notice| matches!(notice.state, NoticeState::Told | NoticeState::Again))
        .cloned()
        .collect();
    for mut notice in waiting {
        let keys = [notice.message(), notice.message_again()];
        scene.out.retain(|message| !keys.contains(&message.id));
        scene.families.mails.retain(|mail| !keys.contains(&mail.id));
        scene.families.dropped.extend(keys);
        notice.state = NoticeState::Superseded;
        notice.next_at = None;
        scene.families.notices.put(notice.id.clone(), notice);
    }
}

/// Queues what a plan says, each guardian once.
fn put(scene: &mut Scene<'_>, household: &Household, news: News, family: &str, plan: &Plan) {
    let mut said = Vec::new();
    for (id, how) in &plan.each {
        let Some(guardian) = household.guardian(id) else { continue };
        let key = format!("{family}/{id}");
        if scene.families.notices.get(&key).is_some() {
            continue;
        }
        let mut notice = new(scene, household, guardian, news, family);
        match how {
            Decision::Tell { phone, email } => {
                notice.state = NoticeState::Told;
                notice.phone.clone_from(phone);
                notice.email.clone_from(email);
                let message = notice.message();
                let at = say(scene, household, guardian, &notice, &message, false);
                notice.next_at = news.wants_answer().then(|| later(scene, household, at));
                said.push(format!("{id} {}", ways(&notice)));
            }
            Decision::Cannot(why) => {
                notice.why = Some(why.clone());
                said.push(format!("{id} not: {why}"));
                if plan.anybody && news.wants_answer() {
                    cannot(scene, household, guardian, why);
                }
            }
        }
        scene.families.notices.put(key, notice);
    }
    if !said.is_empty() {
        let why = format!("{}: {}", news.name(), said.join("; "));
        scene.note("program", "family told", household.athlete.id.as_str(), &why, None);
        let who = household.athlete.short();
        let guardians = if said.len() == 1 { "guardian" } else { "guardians" };
        scene.tell(format!("{who}: {} → {} {guardians}", news.words(), said.len()));
    }
}

fn new(scene: &Scene<'_>, household: &Household, guardian: &Guardian, news: News, family: &str) -> Notice {
    Notice {
        program: scene.program.id.clone(),
        id: format!("{family}/{}", guardian.id),
        athlete: household.athlete.id.clone(),
        guardian: guardian.id.clone(),
        news,
        family: family.to_owned(),
        date: scene.today,
        phone: None,
        email: None,
        state: NoticeState::Unreachable,
        made_at: scene.now,
        next_at: None,
        acknowledged_at: None,
        words: None,
        why: None,
        item: None,
    }
}

const fn ways(notice: &Notice) -> &'static str {
    match (&notice.phone, &notice.email) {
        (Some(_), Some(_)) => "by text and e-mail",
        (Some(_), None) => "by text",
        _ => "by e-mail",
    }
}

/// When nobody has answered by then, the next step is due: outside quiet hours.
fn later(scene: &Scene<'_>, household: &Household, told_at: Moment) -> Moment {
    let at = told_at.plus(scene.program.notices.rules.again_after.span());
    let quiet = scene.quiet(Some(&household.athlete.team));
    quiet.map_or(at, |quiet| after_quiet(at, quiet, scene.program.zone))
}

/// Queues one notice, by the ways that it goes. When it goes out.
fn say(
    scene: &mut Scene<'_>,
    household: &Household,
    guardian: &Guardian,
    notice: &Notice,
    key: &str,
    again: bool,
) -> Moment {
    let mut at = scene.now;
    if let Some(phone) = &notice.phone {
        let body = words(scene, household, guardian.language, notice.news, again, true);
        let purpose = if notice.news == News::Held && !again { Purpose::NoticeAtOnce } else { Purpose::Notice };
        let to = To { phone, language: guardian.language, athlete: Some(&household.athlete.id) };
        scene.send_text(to, purpose, key.to_owned(), body, None);
        at = scene.out.iter().find(|message| message.id == key).map_or(at, |message| message.due_at);
    }
    if let Some(email) = &notice.email {
        let body = words(scene, household, guardian.language, notice.news, again, false);
        let subject = Message::MailSubject { program: &scene.program.name, first: &household.athlete.first };
        let mail = Mail {
            program: scene.program.id.clone(),
            id: key.to_owned(),
            guardian: guardian.id.clone(),
            athlete: Some(household.athlete.id.clone()),
            address: email.clone(),
            subject: scene.wording.say(guardian.language, &subject, Accents::Keep),
            body,
            language: guardian.language,
            state: MailState::Due,
            due_at: scene.now,
            created_at: scene.now,
            attempts: 0,
            claimed_by: None,
            lease_until: None,
            sent_at: None,
            error: None,
        };
        scene.families.mails.push(mail);
    }
    at
}

/// A notice in words: what happens next and whom to call, the first name and nothing of why.
fn words(
    scene: &Scene<'_>,
    household: &Household,
    language: Language,
    news: News,
    again: bool,
    by_text: bool,
) -> String {
    let (contact, contact_phone) = contact(scene, household);
    let (program, first) = (scene.program.name.as_str(), household.athlete.first.as_str());
    let (contact, contact_phone) = (contact.as_str(), contact_phone.as_str());
    let reply = by_text;
    let message = match news {
        News::Held => Message::NoticeHeld { program, first, contact, contact_phone, again, reply },
        News::Cleared => Message::NoticeCleared { program, first, contact, contact_phone, again, reply },
        News::StepReached => Message::NoticeStep { program, first, contact, contact_phone },
        News::HelmetOut => Message::NoticeHelmetOut { program, first, contact, contact_phone },
        News::HelmetBack => Message::NoticeHelmetBack { program, first, contact, contact_phone },
    };
    if by_text {
        return scene.say(language, &message);
    }
    scene.wording.say(language, &message, Accents::Keep)
}

/// Whom a family calls: the athletic trainer of the team, else the program's contact.
fn contact(scene: &Scene<'_>, household: &Household) -> (String, String) {
    match scene.trainer_contact(Some(&household.athlete.team)) {
        (Some(name), Some(phone)) => (name, phone),
        _ => (scene.program.contact.clone(), phone_words(&scene.program.contact_phone)),
    }
}

/// One guardian cannot be told: staff ask for another way. The others were told.
fn cannot(scene: &mut Scene<'_>, household: &Household, guardian: &Guardian, why: &str) {
    let whom = family_of((&guardian.first, &guardian.last), &[&household.athlete]);
    let mut item = scene.item(Queue::Contact, &format!("guardian:{}", guardian.id), None);
    item.team = Some(household.athlete.team.clone());
    item.about = Some(format!("{whom}: gets no notices ({why}); ask for another way"));
    scene.items.put(item.id.clone(), item);
}

/// Keys of the items that may be opened today for these households and families.
pub(super) fn items<'f>(
    scene: &Scene<'_>,
    households: &BTreeMap<AthleteId, Household>,
    families: impl Iterator<Item = &'f str>,
) -> Vec<String> {
    let key = |subject: String| item_key(Queue::Contact, &subject, scene.today);
    let guardians = households.values().flat_map(|household| &household.guardians);
    let own = guardians.map(|guardian| key(format!("guardian:{}", guardian.id)));
    own.chain(families.map(|family| key(format!("{CALL_SUBJECT}{family}")))).collect()
}

/// Nobody of a family knows: on the list of those whom a person calls.
fn call(scene: &mut Scene<'_>, household: &Household, family: &str) {
    let told = household.told(scene, family);
    let Some(news) = told.first().map(|notice| notice.news) else { return };
    let each: Vec<String> = told
        .iter()
        .filter_map(|notice| Some((notice, household.guardian(&notice.guardian)?)))
        .map(|(notice, guardian)| {
            let number = guardian.phone.as_ref().map_or_else(|| "no number".to_owned(), phone_words);
            let why = notice.why.as_ref().map(|why| format!(", {why}")).unwrap_or_default();
            format!("{} {} {number}{why}", guardian.first, guardian.last)
        })
        .collect();
    let who = household.athlete.short();
    let mut item = scene.item(Queue::Contact, &format!("{CALL_SUBJECT}{family}"), None);
    item.team = Some(household.athlete.team.clone());
    item.about = Some(format!("{who}, {}: nobody of the family has answered; call {}", news.words(), each.join("; ")));
    let id = item.id.clone();
    scene.items.put(id.clone(), item);
    for mut notice in told {
        notice.item = Some(id.clone());
        notice.next_at = None;
        if !notice.state.is_known() && notice.state != NoticeState::Superseded {
            notice.state = NoticeState::ToCall;
        }
        scene.families.notices.put(notice.id.clone(), notice);
    }
    scene.note("program", "family to be called", household.athlete.id.as_str(), news.name(), None);
    scene.tell(format!("{who}: nobody of the family has answered; a person is to call"));
}

/// Those who stand in for others, want this kind, can be told and were not.
fn stand_ins(scene: &Scene<'_>, household: &Household, news: News, told: &[Notice]) -> Vec<GuardianId> {
    let plan = plan(news, &scene.program.notices.rules, &household.candidates(scene), true);
    let new = |id: &GuardianId| told.iter().all(|notice| notice.guardian != *id);
    plan.each
        .into_iter()
        .filter(|(id, how)| matches!(how, Decision::Tell { .. }) && new(id))
        .map(|(id, _)| id)
        .collect()
}

/// Does the steps that are due for a family.
pub(super) fn climb(scene: &mut Scene<'_>, household: &Household, family: &str) {
    let told = household.told(scene, family);
    let Some(news) = told.first().map(|notice| notice.news) else { return };
    if household.family(scene) != Family::Hears {
        return rest(scene, told);
    }
    let others = stand_ins(scene, household, news, &told);
    for step in ladder(&told, &others, scene.now) {
        match step {
            Step::Again(id) => again(scene, household, &id),
            Step::Rest(id) => scene.families.notices.change(&id, |notice| {
                notice.state = NoticeState::PassedOn;
                notice.next_at = None;
            }),
            Step::StandIns(ids) => {
                let plan = plan(news, &scene.program.notices.rules, &household.candidates(scene), true);
                let each = plan.each.into_iter().filter(|(id, _)| ids.contains(id)).collect();
                put(scene, household, news, family, &Plan { each, anybody: true });
            }
            Step::Call => call(scene, household, family),
        }
    }
}

/// The athlete has decided otherwise meanwhile: nothing more is said.
fn rest(scene: &mut Scene<'_>, told: Vec<Notice>) {
    for mut notice in told {
        notice.next_at = None;
        scene.families.notices.put(notice.id.clone(), notice);
    }
}

/// Asks the same guardian again, by the ways that are left.
fn again(scene: &mut Scene<'_>, household: &Household, id: &str) {
    let Some(mut notice) = scene.families.notices.get(&id.to_owned()).cloned() else { return };
    let guardian = household.guardian(&notice.guardian).cloned();
    let at = match &guardian {
        Some(guardian) => say(scene, household, guardian, &notice, &notice.message_again(), true),
        // No longer on file.
        None => scene.now,
    };
    notice.state = NoticeState::Again;
    notice.next_at = Some(later(scene, household, at));
    let who = household.athlete.short();
    scene.tell(format!("{who}: no answer from {}; told again", notice.guardian));
    scene.families.notices.put(id.to_owned(), notice);
}

/// Guardians whom a notice does not reach: staff are asked, and whoever stands in is told.
pub(super) fn lost(scene: &mut Scene<'_>, households: &BTreeMap<AthleteId, Household>, lost: &[Notice]) {
    for notice in lost.iter().filter(|notice| notice.news.wants_answer()) {
        let Some(household) = households.get(&notice.athlete) else { continue };
        let why = notice.why.clone().unwrap_or_default();
        // A number that is lost has an item of its own already.
        let has_item = super::household::NO_TEXT.contains(&why.as_str());
        if let Some(guardian) = household.guardian(&notice.guardian).filter(|_| !has_item).cloned() {
            cannot(scene, household, &guardian, &why);
        }
        climb(scene, household, &notice.family);
    }
}

/// Who has a number, for staff: guardians with their athletes.
#[must_use]
pub fn guardians_at(scene: &Scene<'_>, phone: &Phone) -> Option<String> {
    let known = scene.guardians.get(phone)?;
    let each: Vec<String> = known
        .iter()
        .map(|(guardian, athletes)| {
            let athletes: Vec<_> = athletes.iter().filter_map(|id| scene.athletes.get(id)).collect();
            family_of((&guardian.first, &guardian.last), &athletes)
        })
        .collect();
    (!each.is_empty()).then(|| each.join("; "))
}
