//! Drills on the board: how the next events are covered, who is current in what until when, times, and the form.

use std::collections::BTreeSet;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::Viewer;
use crate::desk::drills::record::{self, NewDrill};
use crate::desk::drills::remind::{event_name, gap_message};
use crate::desk::drills::{Book, gap, is_looked_after, load};
use crate::desk::once::Once;
use crate::desk::scene::Scene;
use crate::desk::{Desk, DeskError};
use crate::trade::drill::times::{Series, series};
use crate::trade::drill::{Competence, Drill, Part, Skill};
use crate::trade::roster::{Event, Language, ProgramId, StaffMember};
use crate::trade::time::Moment;

/// How far ahead events are looked at, in days.
const AHEAD: TimeDelta = TimeDelta::days(14);
/// Newest drills shown.
const NEWEST: usize = 25;

/// An event and how it is covered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Covered {
    /// "Varsity, game 7:00 pm Fri Sep 18".
    pub event: String,
    /// What is missing and what closes it; none when every position can be filled.
    pub gap: Option<String>,
}

/// One of staff, and until when they are current in each competence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Person {
    /// Name.
    pub name: String,
    /// Identifier, for the form.
    pub id: String,
    /// By competence, in the order of the view's: "Aug 3 2027"; none when not current.
    pub until: Vec<Option<String>>,
}

/// A drill that was held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Held {
    /// The day.
    pub day: String,
    /// What, on which models.
    pub what: String,
    /// Who.
    pub who: String,
    /// Seconds.
    pub seconds: Option<u32>,
    /// Longer than it may take, so that it makes nobody current.
    pub failed: bool,
    /// Anything else.
    pub notes: Option<String>,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DrillsView {
    /// The next events.
    pub events: Vec<Covered>,
    /// Competences, in words.
    pub competences: Vec<String>,
    /// Staff.
    pub people: Vec<Person>,
    /// Newest drills.
    pub held: Vec<Held>,
    /// Skills: name and words.
    pub skills: Vec<(&'static str, &'static str)>,
    /// Models.
    pub models: Vec<String>,
    /// Today, for the form.
    pub today: NaiveDate,
    /// Until when the whole plan's rehearsal counts, in words.
    pub rehearsed_until: Option<String>,
    /// Times, for the chart.
    #[serde(skip)]
    pub times: Vec<Series>,
}

impl Desk {
    /// The drills page.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_drills(
        &self,
        program: &ProgramId,
        viewer: Viewer<'_>,
        now: Moment,
    ) -> Result<DrillsView, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let scene = crate::desk::load::look(&mut tx, settings, self.wording(settings), now).await?;
        let book = load(&mut tx, &scene).await?;
        let events = tx.events(program, scene.today, scene.today + AHEAD).await?;
        Ok(view(&scene, &book, &events, viewer))
    }

    /// Records a drill told on the board; a form sent twice records it once. False, and nothing recorded, when this
    /// member may not, or the form names people or models that are not here.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn record_drill(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        new: NewDrill,
        key: &str,
        now: Moment,
    ) -> Result<bool, DeskError> {
        if !record::may(member) {
            return Ok(false);
        }
        let Once::Do(mut open) = self.begin_once(program, key, now).await? else { return Ok(true) };
        let book = load(&mut open.tx, &open.scene).await?;
        let is_staff = |part: &Part| open.scene.staff.iter().any(|member| member.id == part.staff);
        let is_model = |name: &String| book.models.iter().any(|model| model.name == *name);
        if !new.people.iter().all(is_staff) || !new.models.iter().all(is_model) {
            return Ok(false);
        }
        open.scene.drills = Some(book);
        record::record(&mut open.scene, member, new, key);
        self.end_once(open, key, "recorded".to_owned()).await?;
        Ok(true)
    }
}

fn view(scene: &Scene<'_>, book: &Book, events: &[Event], viewer: Viewer<'_>) -> DrillsView {
    let practised = book.practised();
    let ahead =
        |event: &&Event| event.starts_at > scene.now && is_looked_after(event) && viewer.sees(Some(&event.team));
    let covered = events.iter().filter(ahead).map(|event| {
        let look = book.look(scene, &practised, event, events.iter());
        let name = event_name(scene, event, Language::En);
        let gap = gap(scene, &look, Language::En).map(|gap| {
            let said = scene.say(Language::En, &gap_message(&name, &gap));
            said.strip_prefix(&format!("{name}: ")).map_or_else(|| said.clone(), ToOwned::to_owned)
        });
        Covered { event: name, gap }
    });
    let competences = competences(book);
    let people =
        scene.staff.iter().filter(|member| record::may(member) || practised.since(&member.id, NaiveDate::MIN) > 0);
    let currency = &scene.program.drills.currency;
    let person = |member: &StaffMember| Person {
        name: format!("{} {}", member.first, member.last),
        id: member.id.0.clone(),
        until: competences
            .iter()
            .map(|what| {
                let current = practised.is_current(&member.id, what, scene.today, currency);
                let last = practised.last(&member.id, what).filter(|_| current)?;
                Some((last + TimeDelta::days(currency.of(what.skill))).format("%b %-d %Y").to_string())
            })
            .collect(),
    };
    DrillsView {
        events: covered.collect(),
        people: people.map(person).collect(),
        competences: competences.iter().map(Competence::words).collect(),
        held: book
            .drills
            .iter()
            .rev()
            .filter(|drill| !drill.undone)
            .take(NEWEST)
            .map(|drill| held(scene, drill))
            .collect(),
        skills: Skill::ALL.iter().map(|skill| (skill.name(), skill.words())).collect(),
        models: book.models.iter().map(|model| model.name.clone()).collect(),
        today: scene.today,
        rehearsed_until: book
            .last_rehearsed()
            .map(|last| (last + TimeDelta::days(currency.of(Skill::WholePlan))).format("%B %-d, %Y").to_string()),
        times: series(&book.drills, &book.models),
    }
}

/// What staff can be current in here: every skill, masks by the hardware that is worn.
fn competences(book: &Book) -> Vec<Competence> {
    let worn: BTreeSet<&String> = book.worn.values().flatten().collect();
    let mut all = Vec::new();
    for skill in Skill::ALL {
        if skill.is_by_hardware() {
            let mut kinds: Vec<Competence> =
                worn.iter().map(|model| Competence::on(skill, model, &book.models)).collect();
            kinds.sort();
            kinds.dedup();
            all.extend(kinds);
        } else {
            all.push(Competence { skill, hardware: None });
        }
    }
    all
}

fn held(scene: &Scene<'_>, drill: &Drill) -> Held {
    let name = |id: &crate::trade::roster::StaffId| {
        let member = scene.staff.iter().find(|member| member.id == *id);
        member.map_or_else(|| id.0.clone(), |member| member.first.clone())
    };
    let who: Vec<String> = drill
        .people
        .iter()
        .map(|part| {
            let name = name(&part.staff);
            part.position.map_or_else(|| name.clone(), |position| format!("{name} ({})", position.name()))
        })
        .collect();
    let on = if drill.models.is_empty() { String::new() } else { format!(", {}", drill.models.join(", ")) };
    Held {
        day: drill.date.format("%b %-d").to_string(),
        what: format!("{}{on}", drill.skill),
        who: who.join(", "),
        seconds: drill.seconds,
        failed: !drill.counts(),
        notes: drill.notes.clone(),
    }
}
