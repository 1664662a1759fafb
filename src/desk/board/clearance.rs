//! Ways back on the board, for medical staff alone: who is held, which step may begin when, what is on file, and what a
//! clearance has to have. Every look is in the record before anything is shown.

use serde::Serialize;

use super::{Viewer, note_view, when};
use crate::desk::clearance::record::{self, Act, Not};
use crate::desk::clearance::{held, load, load_all, say};
use crate::desk::once::Once;
use crate::desk::scene::{Scene, phone_words};
use crate::desk::{Desk, DeskError};
use crate::trade::clearance::{CheckIn, Clearance, CourseEntry, Law, Licence};
use crate::trade::roster::{AthleteId, Language, ProgramId, StaffMember};
use crate::trade::time::Moment;

/// Somebody who is held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// The athlete.
    pub athlete: AthleteId,
    /// "#12 Jonah".
    pub who: String,
    /// Since when.
    pub since: String,
    /// Where the way back stands; none when nothing is on file.
    pub standing: Option<String>,
    /// What is next.
    pub next: Option<String>,
    /// A clearance waits for the second person.
    pub waits: bool,
}

/// The page of all who are held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HeldView {
    /// Who is held.
    pub rows: Vec<Row>,
    /// When it was put together.
    pub as_of: String,
}

/// One step of the progression.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepView {
    /// Its number.
    pub number: usize,
    /// What is done in it.
    pub what: String,
    /// Least hours in it.
    pub hours: i64,
    /// It needs a determination.
    pub clearance: bool,
    /// The athlete is in it.
    pub present: bool,
    /// It is behind the athlete.
    pub past: bool,
}

/// One entry of the way back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EntryView {
    /// When.
    pub at: String,
    /// What.
    pub what: String,
    /// By whom.
    pub who: String,
    /// In words.
    pub words: Option<String>,
}

/// A clinician's decision on file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DecisionView {
    /// What it was.
    pub what: &'static str,
    /// Name, kind and number.
    pub clinician: String,
    /// The day of the decision.
    pub on: String,
    /// The paper, and where it is.
    pub document: String,
    /// How a parent acknowledged it.
    pub parent: Option<String>,
    /// The stated reason for an early or skipped step.
    pub reason: Option<String>,
    /// Who recorded it, and who confirmed it.
    pub recorded: String,
}

/// What the program's rules ask for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LawView {
    /// Its name.
    pub name: String,
    /// Who may clear, as name and words.
    pub kinds: Vec<(&'static str, &'static str)>,
    /// Whether in writing.
    pub written: bool,
    /// Whether acknowledged by a parent.
    pub parent: bool,
    /// Hours before which nobody is cleared.
    pub hours: i64,
    /// Whether two have to.
    pub two: bool,
}

/// The page of one athlete.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WayView {
    /// The athlete.
    pub athlete: AthleteId,
    /// "#12 Jonah Vega".
    pub who: String,
    /// Whether held for the body now, and since when.
    pub since: Option<String>,
    /// The number, to call.
    pub phone: Option<String>,
    /// Why: for medical staff alone.
    pub category: Option<String>,
    /// The progression's name and source.
    pub progression: Option<(String, Option<String>)>,
    /// A course is open.
    pub open: bool,
    /// Its steps.
    pub steps: Vec<StepView>,
    /// What is next.
    pub next: Option<String>,
    /// The number of the next step.
    pub next_step: Option<usize>,
    /// It may not be recorded yet without a clinician's stated reason.
    pub next_early: bool,
    /// A determination of readiness stands.
    pub ready: bool,
    /// The athlete is asked every day.
    pub check_in: bool,
    /// The clearance that waits for a second person: who recorded it.
    pub waits: Option<String>,
    /// The viewer may confirm it.
    pub may_confirm: bool,
    /// What was recorded, newest first.
    pub entries: Vec<EntryView>,
    /// Decisions on file, newest first.
    pub decisions: Vec<DecisionView>,
    /// Check-ins, newest first: day, state, words.
    pub check_ins: Vec<(String, &'static str, Option<String>)>,
    /// Progressions to choose from.
    pub known: Vec<(String, String)>,
    /// What the rules ask for.
    pub law: LawView,
    /// Today, as a date field has it.
    pub today: String,
}

impl Desk {
    /// Who is held for the body and how their way back stands; that it was looked at is in the record.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_held(
        &self,
        program: &ProgramId,
        viewer: Viewer<'_>,
        now: Moment,
    ) -> Result<HeldView, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = crate::desk::load::begin(&mut tx, settings, self.wording(settings), now).await?;
        load_all(&mut tx, &mut scene).await?;
        let view = held_view(&scene, viewer);
        for row in &view.rows {
            note_view(&mut scene, viewer.member, row.athlete.as_str(), "page of ways back");
        }
        self.finish(tx, scene).await?;
        Ok(view)
    }

    /// One athlete's way back; none when there is no such athlete for this viewer. That it was looked at is in the record.
    ///
    /// # Errors
    /// As [`Desk::board_held`].
    pub async fn board_way(
        &self,
        program: &ProgramId,
        viewer: Viewer<'_>,
        athlete: &AthleteId,
        now: Moment,
    ) -> Result<Option<WayView>, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = crate::desk::load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let one = std::collections::BTreeSet::from([athlete.clone()]);
        crate::desk::load::about(&mut tx, &mut scene, &[], one.clone()).await?;
        load(&mut tx, &mut scene, &one).await?;
        let sees = scene.athletes.get(athlete).is_some_and(|person| viewer.sees(Some(&person.team)));
        if !sees || !record::may(viewer.member) {
            return Ok(None);
        }
        let entries = tx.course_entries(program, athlete).await?;
        let check_ins = tx.check_ins_of(program, athlete).await?;
        let view = way_view(&scene, viewer, athlete, entries, check_ins);
        note_view(&mut scene, viewer.member, athlete.as_str(), "way back");
        self.finish(tx, scene).await?;
        Ok(Some(view))
    }

    /// Records something of a way back, once however often the form is sent. In words why nothing was, when nothing was.
    ///
    /// # Errors
    /// As [`Desk::board_held`].
    pub async fn record_way(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        (athlete, act): (&AthleteId, &Act),
        key: &str,
        now: Moment,
    ) -> Result<Result<(), String>, DeskError> {
        const DONE: &str = "done";
        let mut open = match self.begin_once(program, key, now).await? {
            Once::Done(outcome) if outcome == DONE => return Ok(Ok(())),
            Once::Done(outcome) => return Ok(Err(outcome)),
            Once::Do(open) => open,
        };
        let one = std::collections::BTreeSet::from([athlete.clone()]);
        crate::desk::load::about(&mut open.tx, &mut open.scene, &[], one.clone()).await?;
        load(&mut open.tx, &mut open.scene, &one).await?;
        crate::desk::clearance::load_check_ins(&mut open.tx, &mut open.scene).await?;
        let outcome = match record::act(&mut open.scene, member, athlete, act, &format!("board:{key}")) {
            Ok(_) => Ok(()),
            // Nothing is changed, so the same form may be sent again once what it lacked is there.
            Err(not) => return Ok(Err(not_words(&not, &open.scene))),
        };
        self.end_once(open, key, DONE.to_owned()).await?;
        Ok(outcome)
    }
}

fn not_words(not: &Not, scene: &Scene<'_>) -> String {
    say::why_not(not, scene, Language::En)
}

fn held_view(scene: &Scene<'_>, viewer: Viewer<'_>) -> HeldView {
    let rows = held(scene)
        .into_iter()
        .filter(|(athlete, _)| scene.athletes.get(athlete).is_some_and(|person| viewer.sees(Some(&person.team))))
        .map(|(athlete, since)| {
            let course = scene.course(&athlete);
            Row {
                who: scene.who(&athlete),
                since: when(since, scene.now, scene.program),
                standing: course.map(|course| say::standing(course, Language::En)),
                next: course.and_then(|course| say::next(scene, course, Language::En)),
                waits: course.is_some_and(|course| scene.waiting(course).is_some()),
                athlete,
            }
        })
        .collect();
    HeldView { rows, as_of: super::clock(scene.now, scene.program) }
}

fn way_view(
    scene: &Scene<'_>,
    viewer: Viewer<'_>,
    athlete: &AthleteId,
    entries: Vec<CourseEntry>,
    check_ins: Vec<CheckIn>,
) -> WayView {
    let person = scene.athletes.get(athlete);
    let course = scene.course(athlete);
    let progression = course.and_then(|course| scene.progression(course));
    let next = course.zip(progression).and_then(|(course, progression)| course.next(progression));
    let waiting = course.and_then(|course| scene.waiting(course));
    let at = |moment: Moment| when(moment, scene.now, scene.program);
    let steps = progression.map_or_else(Vec::new, |progression| {
        let present = course.map_or(0, crate::trade::clearance::Course::at_step);
        progression
            .steps
            .iter()
            .enumerate()
            .map(|(index, rule)| StepView {
                number: index + 1,
                what: rule.what.clone(),
                hours: rule.hours,
                clearance: rule.clearance,
                present: index + 1 == present,
                past: index + 1 < present,
            })
            .collect()
    });
    let clearances = scene.ways.iter().flat_map(|ways| ways.clearances.values()).filter(|one| one.athlete == *athlete);
    let mut clearances: Vec<&Clearance> = clearances.collect();
    clearances.sort_by_key(|clearance| std::cmp::Reverse(clearance.at));
    WayView {
        athlete: athlete.clone(),
        who: person.map_or_else(String::new, |person| format!("{} {}", person.short(), person.last)),
        since: scene.held_since(athlete).map(|hold| at(hold.opened_at)),
        phone: person.and_then(|person| person.phone.as_ref()).map(phone_words),
        category: course.and_then(|course| course.category.clone()),
        progression: progression.map(|progression| (progression.name.clone(), progression.source.clone())),
        open: course.is_some(),
        steps,
        next: course.and_then(|course| say::next(scene, course, Language::En)),
        next_step: next.map(|next| next.step),
        next_early: next.is_some_and(|next| next.at > scene.now),
        ready: course.is_some_and(|course| course.ready),
        check_in: course.is_some_and(|course| course.check_in),
        may_confirm: waiting.is_some_and(|clearance| clearance.recorded_by != viewer.member.id),
        waits: waiting.map(|clearance| super::name_of(scene, &clearance.recorded_by)),
        entries: entries
            .into_iter()
            .rev()
            .map(|entry| EntryView {
                at: at(entry.at),
                what: entry.what.replace('-', " "),
                who: by(scene, &entry.who),
                words: entry.words,
            })
            .collect(),
        decisions: clearances.into_iter().map(|clearance| decision_view(scene, clearance)).collect(),
        check_ins: check_ins
            .into_iter()
            .rev()
            .map(|row| (row.date.to_string(), row.state.words(), row.words))
            .collect(),
        known: scene.program.clearance.progressions.iter().map(|one| (one.key.clone(), one.name.clone())).collect(),
        law: law_view(&scene.program.clearance.law, scene.program.clearance.two_people),
        today: scene.today.to_string(),
    }
}

fn by(scene: &Scene<'_>, who: &str) -> String {
    let member = who.strip_prefix("staff ").and_then(|id| scene.staff.iter().find(|member| member.id.as_str() == id));
    member.map_or_else(|| who.to_owned(), |member| member.first.clone())
}

fn decision_view(scene: &Scene<'_>, clearance: &Clearance) -> DecisionView {
    let decision = &clearance.decision;
    let kind = decision.licence.map_or("", Licence::words);
    let dated = decision.dated.map(|day| format!(" of {day}")).unwrap_or_default();
    let recorded = super::name_of(scene, &clearance.recorded_by);
    let second = clearance.second.as_ref().map(|second| format!(", confirmed by {}", super::name_of(scene, second)));
    DecisionView {
        what: match (clearance.ends_hold, clearance.stands, clearance.withdrawn_at) {
            (false, ..) => "ready for the steps with contact",
            (true, true, _) => "cleared",
            (true, false, None) => "cleared, waits for a second person",
            (true, false, Some(_)) => "cleared, withdrawn before it took effect",
        },
        clinician: format!("{}, {kind}, licence {}", decision.clinician, decision.number),
        on: decision.on.map(|day| day.to_string()).unwrap_or_default(),
        document: format!(
            "{}{dated}: {}",
            decision.document.as_deref().unwrap_or("no document"),
            decision.place.as_deref().unwrap_or("place not said")
        ),
        parent: decision.parent.clone(),
        reason: decision.reason.clone(),
        recorded: format!("{recorded}{}", second.unwrap_or_default()),
    }
}

fn law_view(law: &Law, two: bool) -> LawView {
    LawView {
        name: law.name.clone(),
        kinds: law.may_clear.iter().map(|kind| (kind.name(), kind.words())).collect(),
        written: law.written,
        parent: law.parent,
        hours: law.not_before_hours,
        two,
    }
}
