//! Recording a drill, taking one back, and who of staff is away.

use chrono::NaiveDate;

use super::{Book, Look, gap, is_looked_after};
use crate::desk::inbound::by_staff;
use crate::desk::scene::Scene;
use crate::trade::drill::times::{series, slower_by};
use crate::trade::drill::{Absence, Drill, Part, Skill, competences};
use crate::trade::roster::{Event, Language, Role, StaffId, StaffMember};

/// A drill as somebody tells it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewDrill {
    /// The day.
    pub date: NaiveDate,
    /// What was rehearsed.
    pub skill: Skill,
    /// Who took part.
    pub people: Vec<Part>,
    /// Models used.
    pub models: Vec<String>,
    /// From the start until the airway was open.
    pub seconds: Option<u32>,
    /// Where.
    pub place: Option<String>,
    /// Anything else.
    pub notes: Option<String>,
}

/// What came of recording one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recorded {
    /// The drill.
    pub drill: Drill,
    /// How much slower than usual it was, in percent, where that is worth a word.
    pub slower: Option<u32>,
    /// Seconds that it may take at most, when it took longer.
    pub failed: Option<u32>,
}

/// Whether somebody may record drills: who takes part in them may.
#[must_use]
pub fn may(member: &StaffMember) -> bool {
    [Role::Trainer, Role::Equipment, Role::Responder, Role::Coach].into_iter().any(|role| member.has(role))
}

/// Records a drill under the natural key of its happening.
pub fn record(scene: &mut Scene<'_>, member: &StaffMember, new: NewDrill, key: &str) -> Recorded {
    let drill = Drill {
        program: scene.program.id.clone(),
        id: format!("{}/{}/{key}", new.date, new.skill.name()),
        date: new.date,
        skill: new.skill,
        place: new.place,
        people: new.people,
        models: new.models,
        seconds: new.seconds,
        notes: new.notes,
        recorded_by: by_staff(member),
        recorded_at: scene.now,
        undone: false,
    };
    let people: Vec<&str> = drill.people.iter().map(|part| part.staff.as_str()).collect();
    let time = drill.seconds.map(|seconds| format!(", {seconds} s")).unwrap_or_default();
    let why = format!("{}: {}{time}", drill.skill, people.join(" "));
    scene.note(&by_staff(member), "drill recorded", &drill.id, &why, Some(key));
    scene.tell(format!("{}: drill recorded, {} with {} people{time}", member.first, drill.skill, drill.people.len()));
    let failed = drill
        .skill
        .limits()
        .zip(drill.seconds)
        .filter(|((_, most), seconds)| seconds > most)
        .map(|((_, most), _)| most);
    let mut slower = None;
    if let Some(book) = &mut scene.drills {
        book.drills.push(drill.clone());
        let what = competences(&drill, &book.models);
        let all = series(&book.drills, &book.models);
        slower = all.iter().filter(|series| what.contains(&series.competence)).find_map(|series| {
            let newest = series.times.last().is_some_and(|(day, _)| *day <= drill.date);
            slower_by(&series.times).filter(|_| newest && drill.seconds.is_some())
        });
    }
    scene.drilled.push(drill.clone());
    Recorded { drill, slower, failed }
}

/// Takes back the last drill that somebody recorded by text or on the board within two days.
pub fn undo(scene: &mut Scene<'_>, member: &StaffMember, key: &str) -> Option<Drill> {
    let by = by_staff(member);
    let since = scene.now.minus(chrono::TimeDelta::days(2));
    let book = scene.drills.as_mut()?;
    let own = |drill: &&mut Drill| !drill.undone && drill.recorded_by == by && drill.recorded_at >= since;
    let drill = book.drills.iter_mut().filter(own).max_by_key(|drill| (drill.recorded_at, drill.id.clone()))?;
    drill.undone = true;
    let drill = drill.clone();
    scene.drilled.retain(|other| other.id != drill.id);
    scene.drilled.push(drill.clone());
    scene.note(&by, "drill taken back", &drill.id, drill.skill.words(), Some(key));
    Some(drill)
}

/// Notes that somebody is away, or is not after all.
pub fn away(
    scene: &mut Scene<'_>,
    by: &StaffMember,
    who: &StaffId,
    days: (NaiveDate, NaiveDate),
    back: bool,
    key: &str,
) {
    let (first, last) = days;
    let program = scene.program.id.clone();
    let Some(book) = &mut scene.drills else { return };
    let mut changed = Vec::new();
    if back {
        for away in &mut book.absences {
            if away.staff == *who && away.first <= last && away.last >= first && !away.cancelled {
                away.cancelled = true;
                changed.push(away.clone());
            }
        }
    } else {
        let away = Absence { program, staff: who.clone(), first, last, cancelled: false };
        book.absences.retain(|other| other.staff != away.staff || other.first != away.first);
        book.absences.push(away.clone());
        changed.push(away);
    }
    scene.absences.extend(changed);
    let what = if back { "staff back" } else { "staff away" };
    scene.note(&by_staff(by), what, who.as_str(), &format!("{first} to {last}"), Some(key));
}

/// The next event whose response is looked after, for a member's teams, and how it is covered.
#[must_use]
pub fn next(scene: &Scene<'_>, book: &Book, member: &StaffMember, game: bool) -> Option<Look> {
    let events: Vec<Event> = coming(scene, member);
    let is_game = |event: &&Event| !game || event.kind == crate::trade::roster::EventKind::Game;
    let event = events.iter().filter(is_game).min_by_key(|event| event.starts_at)?;
    let practised = book.practised();
    Some(book.look(scene, &practised, event, scene.events.values()))
}

/// The first coming event with a gap, for a member's teams, in words: the event, and what is missing.
#[must_use]
pub fn first_gap(scene: &Scene<'_>, book: &Book, member: &StaffMember, language: Language) -> Option<(String, String)> {
    let mut events = coming(scene, member);
    events.sort_by_key(|event| event.starts_at);
    let practised = book.practised();
    events.iter().find_map(|event| {
        let look = book.look(scene, &practised, event, scene.events.values());
        let gap = gap(scene, &look, language)?;
        Some((super::remind::event_name(scene, event, language), gap.what))
    })
}

fn coming(scene: &Scene<'_>, member: &StaffMember) -> Vec<Event> {
    let ahead = |event: &&Event| event.starts_at >= scene.now && is_looked_after(event) && member.serves(&event.team);
    scene.events.values().filter(ahead).cloned().collect()
}
