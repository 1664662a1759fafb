//! What medical staff record of a way back: opened, a step, worsening, a clinician's determination, a clearance. Pure.

use chrono::TimeDelta;

use super::Ways;
use crate::desk::act::reach;
use crate::desk::inbound::by_staff;
use crate::desk::scene::{Scene, To};
use crate::store::rows::Purpose;
use crate::trade::clearance::{Clearance, Course, CourseEntry, Decision, Effect, Lack, Refused, Worsening, lacks};
use crate::trade::notice::News;
use crate::trade::queue::{ItemState, Queue};
use crate::trade::roster::{AthleteId, Role, StaffMember};
use crate::trade::time::resolve;
use crate::wording::Message;

/// Something that medical staff record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Act {
    /// A way back is opened.
    Open {
        /// Why, for medical staff alone.
        category: Option<String>,
        /// The progression; none when the clinician follows no steps.
        progression: Option<String>,
        /// Whether the athlete is asked every day.
        check_in: bool,
    },
    /// A step began; a licensed clinician's override with the reason, when it is early or leaves one out.
    Step(usize, Option<Box<Decision>>),
    /// Symptoms came back or became worse.
    Worse(Worsening),
    /// A licensed clinician determined readiness for the steps that need it.
    Determine(Box<Decision>),
    /// A licensed clinician cleared the athlete: it ends the hold.
    Clear(Box<Decision>),
    /// The second person confirms the clearance that waits.
    Confirm,
    /// Whether the athlete is asked every day.
    CheckIn(bool),
    /// A note, for medical staff alone.
    Note(String),
}

/// Why nothing was recorded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Not {
    /// The role may not.
    Allowed,
    /// No such athlete.
    Found,
    /// Nobody holds the athlete for the body.
    Held,
    /// A way back is open already.
    Open,
    /// No way back is open.
    NoCourse,
    /// The way back has no steps.
    NoSteps,
    /// There is no such progression.
    NoProgression,
    /// The one who recorded it may not confirm it.
    SamePerson,
    /// No clearance waits.
    NothingToConfirm,
    /// An override states no reason.
    Reason,
    /// The last step begins with a clearance.
    LastStep,
    /// The step may not be recorded.
    Step(Refused),
    /// The decision lacks something.
    Lacks(Vec<Lack>),
}

/// Whether somebody may record ways back: medical staff.
#[must_use]
pub fn may(member: &StaffMember) -> bool {
    member.has(Role::Trainer)
}

/// Records it. What was recorded, in words for the record of the way back; `key` is the natural key of the happening.
///
/// # Errors
/// [`Not`], with the reason; nothing is changed then.
pub fn act(
    scene: &mut Scene<'_>,
    member: &StaffMember,
    athlete: &AthleteId,
    what: &Act,
    key: &str,
) -> Result<String, Not> {
    if !may(member) {
        return Err(Not::Allowed);
    }
    let Some(person) = scene.athletes.get(athlete) else { return Err(Not::Found) };
    if !member.serves(&person.team) {
        return Err(Not::Allowed);
    }
    if let Act::Open { category, progression, check_in } = what {
        return open(scene, member, athlete, (category.clone(), progression.clone(), *check_in), key);
    }
    let course = scene.course(athlete).cloned().ok_or_else(|| match scene.held_since(athlete) {
        Some(_) => Not::NoCourse,
        None => Not::Held,
    })?;
    match what {
        Act::Open { .. } => Err(Not::Open),
        Act::Step(to, overriding) => step(scene, member, course, *to, overriding.as_deref(), key),
        Act::Worse(how) => worse(scene, member, course, *how, key),
        Act::Determine(decision) => decide(scene, member, course, decision, false, key),
        Act::Clear(decision) => decide(scene, member, course, decision, true, key),
        Act::Confirm => confirm(scene, member, course, key),
        Act::CheckIn(on) => {
            let words = if *on { "asked every day from now on" } else { "not asked every day any more" };
            let mut course = course;
            course.check_in = *on;
            put(scene, member, course, "check-in", Some(words.to_owned()), key);
            Ok(words.to_owned())
        }
        Act::Note(text) => {
            put(scene, member, course, "note", Some(text.clone()), key);
            Ok("note kept".to_owned())
        }
    }
}

fn open(
    scene: &mut Scene<'_>,
    member: &StaffMember,
    athlete: &AthleteId,
    (category, progression, check_in): (Option<String>, Option<String>, bool),
    key: &str,
) -> Result<String, Not> {
    let Some(since) = scene.held_since(athlete).map(|hold| hold.opened_at) else { return Err(Not::Held) };
    if scene.course(athlete).is_some() {
        return Err(Not::Open);
    }
    // What an earlier hold left open is over.
    let now = scene.now;
    if let Some(ways) = &mut scene.ways {
        let left: Vec<String> = ways
            .courses
            .values()
            .filter(|course| course.athlete == *athlete && course.closed_at.is_none())
            .map(|course| course.id.clone())
            .collect();
        for id in left {
            ways.courses.change(&id, |course| course.closed_at = Some(now));
        }
    }
    let name = match progression.as_deref() {
        None => "no steps".to_owned(),
        Some(key) => scene.program.clearance.progression(key).ok_or(Not::NoProgression)?.name.clone(),
    };
    let course = Course {
        program: scene.program.id.clone(),
        id: format!("{athlete}/{}", since.millis()),
        athlete: athlete.clone(),
        category,
        progression,
        step: 0,
        since,
        ready: false,
        check_in,
        opened_at: since,
        opened_by: by_staff(member),
        closed_at: None,
        entries: 0,
    };
    let words = course.category.as_ref().map_or_else(|| name.clone(), |category| format!("{category}; {name}"));
    put(scene, member, course, "opened", Some(words), key);
    Ok(format!("way back opened: {name}"))
}

fn step(
    scene: &mut Scene<'_>,
    member: &StaffMember,
    mut course: Course,
    to: usize,
    overriding: Option<&Decision>,
    key: &str,
) -> Result<String, Not> {
    let progression = match course.progression.as_deref() {
        None => return Err(Not::NoSteps),
        Some(key) => scene.program.clearance.progression(key).cloned().ok_or(Not::NoProgression)?,
    };
    // The last one is sport without limits: it begins with a clearance, and by that alone.
    if to == progression.last() {
        return Err(Not::LastStep);
    }
    let plain = course.may_step(&progression, to, scene.now, false);
    let mut words = format!("step {to}");
    match (plain, overriding) {
        (Ok(()), _) => {}
        (Err(why), None) => return Err(Not::Step(why)),
        (Err(why), Some(decision)) => {
            course.may_step(&progression, to, scene.now, true).map_err(Not::Step)?;
            let reason = overrides(scene, &course, decision)?;
            words = format!("{words}, although {why}: {reason}");
        }
    }
    course.step_to(to, scene.now);
    let athlete = course.athlete.clone();
    put(scene, member, course, "step", Some(words.clone()), key);
    scene.family_hears(&athlete, News::StepReached);
    Ok(words)
}

/// A licensed clinician's stated reason: who, with which licence, why.
fn overrides(scene: &Scene<'_>, course: &Course, decision: &Decision) -> Result<String, Not> {
    let missing: Vec<Lack> = lacking(scene, course, decision, false)
        .into_iter()
        .filter(|lack| matches!(lack, Lack::Name | Lack::Licence | Lack::MayNot(_) | Lack::Number))
        .collect();
    if !missing.is_empty() {
        return Err(Not::Lacks(missing));
    }
    let reason = decision.reason.as_deref().filter(|reason| reason.chars().any(char::is_alphanumeric));
    let reason = reason.ok_or(Not::Reason)?;
    Ok(format!("{}; {reason}", signed(decision)))
}

/// "Dr. Ruth Okafor, physician, licence IL 036-0001".
fn signed(decision: &Decision) -> String {
    let kind = decision.licence.map_or("", |kind| kind.words());
    format!("{}, {kind}, licence {}", decision.clinician, decision.number)
}

fn lacking(scene: &Scene<'_>, course: &Course, decision: &Decision, ends_hold: bool) -> Vec<Lack> {
    let zone = scene.program.zone;
    let held = (course.opened_at.date(zone), course.opened_at);
    lacks(&scene.program.clearance.law, decision, ends_hold, held, (scene.today, scene.now))
}

fn worse(
    scene: &mut Scene<'_>,
    member: &StaffMember,
    mut course: Course,
    how: Worsening,
    key: &str,
) -> Result<String, Not> {
    let tomorrow = resolve((scene.today + TimeDelta::days(1)).and_time(chrono::NaiveTime::MIN), scene.program.zone);
    let said = format!("worse by {} of 10 for {} min", how.points, how.minutes);
    let progression = course.progression.as_deref().and_then(|key| scene.program.clearance.progression(key)).cloned();
    let effect = match progression {
        None => Effect::Nothing,
        Some(progression) => course.worse(&progression, how, scene.now, tomorrow),
    };
    let words = match effect {
        Effect::Nothing => format!("{said}: mild and brief, the step goes on"),
        Effect::Again(_) => format!("{said}: stop; step {} again tomorrow", course.step),
        Effect::Back(to) => format!("{said}: back to step {to}; readiness has to be determined anew"),
    };
    withdraw(scene, &course, effect);
    put(scene, member, course, "worse", Some(words.clone()), key);
    Ok(words)
}

/// A clearance that waits for its second person does not outlast a return of symptoms.
fn withdraw(scene: &mut Scene<'_>, course: &Course, effect: Effect) {
    let Some(id) = scene.waiting(course).map(|clearance| clearance.id.clone()).filter(|_| effect != Effect::Nothing)
    else {
        return;
    };
    let now = scene.now;
    if let Some(ways) = &mut scene.ways {
        ways.clearances.change(&id, |clearance| clearance.withdrawn_at = Some(now));
    }
}

fn decide(
    scene: &mut Scene<'_>,
    member: &StaffMember,
    mut course: Course,
    decision: &Decision,
    ends_hold: bool,
    key: &str,
) -> Result<String, Not> {
    let missing = lacking(scene, &course, decision, ends_hold);
    if !missing.is_empty() {
        return Err(Not::Lacks(missing));
    }
    if ends_hold {
        let progression =
            course.progression.as_deref().and_then(|key| scene.program.clearance.progression(key)).cloned();
        let plain = course.may_end(progression.as_ref(), scene.now, false);
        match plain {
            Ok(()) => {}
            Err(Refused::Over) => return Err(Not::Step(Refused::Over)),
            Err(why) if decision.reason.is_none() => return Err(Not::Step(why)),
            Err(_) => {
                overrides(scene, &course, decision)?;
            }
        }
    }
    let waits = ends_hold && scene.program.clearance.two_people;
    let clearance = Clearance {
        program: scene.program.id.clone(),
        id: format!("{}/{}", course.id, course.entries),
        course: course.id.clone(),
        athlete: course.athlete.clone(),
        ends_hold,
        decision: decision.clone(),
        at: scene.now,
        recorded_by: member.id.clone(),
        second: None,
        second_at: None,
        withdrawn_at: None,
        stands: !waits,
    };
    let reason = decision.reason.as_ref().map(|reason| format!("; reason: {reason}")).unwrap_or_default();
    let words = format!("{}{reason}", signed(decision));
    if let Some(ways) = &mut scene.ways {
        ways.clearances.put(clearance.id.clone(), clearance);
    }
    if !ends_hold {
        course.ready = true;
        put(scene, member, course, "determined", Some(format!("ready for the steps with contact: {words}")), key);
        return Ok("determination of readiness is on file".to_owned());
    }
    if waits {
        let athlete = course.athlete.clone();
        put(scene, member, course, "clearance-waits", Some(words), key);
        ask_second(scene, member, &athlete, key);
        return Ok("clearance recorded; it takes effect when a second person confirms it".to_owned());
    }
    end(scene, member, course, words, key);
    Ok("cleared: the hold is ended".to_owned())
}

fn ask_second(scene: &mut Scene<'_>, member: &StaffMember, athlete: &AthleteId, key: &str) {
    let Some(person) = scene.athletes.get(athlete).cloned() else { return };
    let others: Vec<StaffMember> = scene
        .staff
        .iter()
        .filter(|other| other.id != member.id && may(other) && other.serves(&person.team) && other.phone.is_some())
        .cloned()
        .collect();
    let page = super::say::page(scene.program).map(ToOwned::to_owned);
    for other in others {
        let Some(phone) = other.phone.clone() else { continue };
        let text = Message::SecondAsked { who: &person.short(), by: &member.first, page: page.as_deref() };
        let to = To { phone: &phone, language: other.language, athlete: None };
        scene.send(to, Purpose::Medical, format!("second/{key}/{}", other.id), &text, None);
    }
}

fn confirm(scene: &mut Scene<'_>, member: &StaffMember, course: Course, key: &str) -> Result<String, Not> {
    let Some(clearance) = scene.waiting(&course).cloned() else { return Err(Not::NothingToConfirm) };
    if clearance.recorded_by == member.id {
        return Err(Not::SamePerson);
    }
    // What held when it was recorded has to hold still.
    let missing = lacking(scene, &course, &clearance.decision, true);
    if !missing.is_empty() {
        return Err(Not::Lacks(missing));
    }
    let progression = course.progression.as_deref().and_then(|key| scene.program.clearance.progression(key));
    let overridden = clearance.decision.reason.is_some();
    course.may_end(progression, scene.now, overridden).map_err(Not::Step)?;
    let now = scene.now;
    if let Some(ways) = &mut scene.ways {
        ways.clearances.change(&clearance.id, |clearance| {
            clearance.second = Some(member.id.clone());
            clearance.second_at = Some(now);
            clearance.stands = true;
        });
    }
    let words =
        format!("{}; recorded by {}, confirmed by {}", signed(&clearance.decision), clearance.recorded_by, member.id);
    end(scene, member, course, words, key);
    Ok("confirmed: the hold is ended".to_owned())
}

/// A clearance takes effect: the course is over, the holds for the body end, the athlete and the family hear.
fn end(scene: &mut Scene<'_>, member: &StaffMember, mut course: Course, words: String, key: &str) {
    let athlete = course.athlete.clone();
    course.closed_at = Some(scene.now);
    put(scene, member, course, "cleared", Some(words), key);
    scene.release_cleared(&athlete, &by_staff(member), key);
    let open: Vec<_> = scene
        .items
        .values()
        .filter(|item| item.queue == Queue::Medical && item.is_open() && item.athlete.as_ref() == Some(&athlete))
        .cloned()
        .collect();
    for mut item in open {
        item.state = ItemState::Closed;
        item.closed_by = Some(member.id.clone());
        item.closed_at = Some(scene.now);
        item.done = Some("cleared by a licensed clinician".to_owned());
        scene.items.put(item.id.clone(), item);
    }
    if let Some((phone, person)) = reach(scene, &athlete).or_else(|| own_phone(scene, &athlete)) {
        let (contact, _) = scene.trainer_contact(Some(&person.team));
        let text = Message::Cleared { first: &person.first, contact: contact.as_deref() };
        let to = To { phone: &phone, language: person.language, athlete: Some(&athlete) };
        scene.send(to, Purpose::Change, format!("cleared/{key}/{athlete}"), &text, None);
    }
    let who = scene.who(&athlete);
    scene.tell(format!("{who}: cleared by a licensed clinician, recorded by {}", member.first));
}

/// The athlete's own number, where the daily question went to it.
fn own_phone(
    scene: &Scene<'_>,
    athlete: &AthleteId,
) -> Option<(crate::trade::phone::Phone, crate::trade::roster::Athlete)> {
    let asked = scene.check_ins.values().find(|row| row.athlete == *athlete)?;
    Some((asked.phone.clone(), scene.athletes.get(athlete)?.clone()))
}

/// Puts a course with one more entry. The common record names the kind alone; the words are for medical staff.
fn put(scene: &mut Scene<'_>, member: &StaffMember, mut course: Course, what: &str, words: Option<String>, key: &str) {
    let who = by_staff(member);
    let entry = CourseEntry {
        program: course.program.clone(),
        id: format!("{}/{}", course.id, course.entries),
        course: course.id.clone(),
        athlete: course.athlete.clone(),
        at: scene.now,
        what: what.to_owned(),
        step: course.step,
        who: who.clone(),
        words: words.clone(),
    };
    course.entries += 1;
    scene.note(&who, &format!("way back: {what}"), course.athlete.as_str(), words.as_deref().unwrap_or(""), Some(key));
    let ways = scene.ways.get_or_insert_with(Ways::default);
    ways.entries.push(entry);
    ways.courses.put(course.id.clone(), course);
}
