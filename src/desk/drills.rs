//! Drills and coverage: what is recorded, whom the next events find ready, and what is said of it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, TimeDelta};

use super::scene::Scene;
use crate::store::{Result, Tx};
use crate::trade::coverage::{Cover, Field, Suggestion, suggest};
use crate::trade::drill::{Absence, Drill, Practised, Skill, Venue, is_away};
use crate::trade::model::Model;
use crate::trade::roster::{Event, EventKind, Role, StaffId, StaffMember, TeamId};

pub mod record;
pub(super) mod remind;
mod say;

pub use say::{Gap, gap};

/// Drills older than this are not looked at: longer than any counts.
const LOOK_BACK: TimeDelta = TimeDelta::days(1_500);
/// Who drilled within so many days is spared a repeat where somebody else does as well.
const LATELY: TimeDelta = TimeDelta::days(30);

/// What coverage is looked at with.
#[derive(Debug, Clone, Default)]
pub struct Book {
    /// Drills, the oldest first.
    pub drills: Vec<Drill>,
    /// Who is away, from yesterday on.
    pub absences: Vec<Absence>,
    /// Venues.
    pub venues: Vec<Venue>,
    /// Helmet models.
    pub models: Vec<Model>,
    /// Models worn by each team.
    pub worn: BTreeMap<TeamId, Vec<String>>,
}

/// Loads what coverage is looked at with.
pub async fn load(tx: &mut Tx, scene: &Scene<'_>) -> Result<Book> {
    let program = &scene.program.id;
    let mut worn: BTreeMap<TeamId, Vec<String>> = BTreeMap::new();
    for line in tx.models_worn(program).await? {
        if let Some((team, model)) = line.split_once('\t') {
            worn.entry(TeamId::from(team)).or_default().push(model.to_owned());
        }
    }
    Ok(Book {
        drills: tx.drills_since(program, scene.today - LOOK_BACK).await?,
        absences: tx.absences_from(program, scene.today - TimeDelta::days(1)).await?,
        venues: tx.venues(program).await?,
        models: tx.models(program).await?,
        worn,
    })
}

/// How an event is covered.
#[derive(Debug, Clone)]
pub struct Look {
    /// The event.
    pub event: Event,
    /// Each kind of hardware that will be on the field.
    pub covers: Vec<Cover>,
    /// Who is on duty and not away.
    pub people: Vec<StaffMember>,
    /// Who would be on duty and is away.
    pub away: Vec<StaffMember>,
    /// Whether it would be covered if nobody were away.
    pub but_for_absence: bool,
    /// What closes the gap, when there is one.
    pub suggestion: Option<Suggestion>,
}

impl Look {
    /// Whether every position can be filled for every helmet.
    #[must_use]
    pub fn is_covered(&self) -> bool {
        self.covers.iter().all(|cover| cover.empty.is_empty())
    }
}

impl Book {
    /// Who last drilled what.
    #[must_use]
    pub fn practised(&self) -> Practised {
        Practised::new(&self.drills, &self.models)
    }

    /// Models that a team wears.
    #[must_use]
    pub fn worn_by(&self, team: &TeamId) -> &[String] {
        self.worn.get(team).map_or(&[], Vec::as_slice)
    }

    /// How an event is covered; `events` are those among which a practice day for the drill is looked for. An event
    /// without helmets, or whose team has none on file, has nothing to cover.
    #[must_use]
    pub fn look<'e>(
        &self,
        scene: &Scene<'_>,
        practised: &Practised,
        event: &Event,
        events: impl Iterator<Item = &'e Event>,
    ) -> Look {
        let (people, away): (Vec<StaffMember>, Vec<StaffMember>) =
            on_duty(scene, event).into_iter().partition(|member| !is_away(&self.absences, &member.id, event.date));
        let settings = &scene.program.drills;
        let there: Vec<&StaffMember> = people.iter().collect();
        let field = Field {
            on: event.date,
            people: &there,
            positions: &settings.positions,
            worn: self.worn_by(&event.team),
            models: &self.models,
            practised,
            currency: &settings.currency,
        };
        let covers = field.covers();
        let (mut suggestion, mut but_for_absence) = (None, false);
        if covers.iter().any(|cover| !cover.empty.is_empty()) {
            let days = self.practice_days(scene, event, events);
            suggestion = Some(suggest(&field, &days, scene.today - LATELY));
            let all: Vec<&StaffMember> = people.iter().chain(&away).collect();
            but_for_absence = !away.is_empty() && Field { people: &all, ..field }.is_covered();
        }
        Look { event: event.clone(), covers, people, away, but_for_absence, suggestion }
    }

    /// Practice days before an event, from today on, with who is there.
    fn practice_days<'e>(
        &self,
        scene: &Scene<'_>,
        event: &Event,
        events: impl Iterator<Item = &'e Event>,
    ) -> Vec<(NaiveDate, BTreeSet<StaffId>)> {
        let mut days: BTreeMap<NaiveDate, BTreeSet<StaffId>> = BTreeMap::new();
        let before = |other: &&Event| {
            let ahead = other.starts_at > scene.now && other.starts_at < event.starts_at;
            ahead && other.kind == EventKind::Practice && !other.cancelled && other.id != event.id
        };
        for other in events.filter(before) {
            let there =
                on_duty(scene, other).into_iter().filter(|member| !is_away(&self.absences, &member.id, other.date));
            days.entry(other.date).or_default().extend(there.map(|member| member.id));
        }
        days.into_iter().collect()
    }

    /// When the whole plan was last rehearsed.
    #[must_use]
    pub fn last_rehearsed(&self) -> Option<NaiveDate> {
        self.drills
            .iter()
            .filter(|drill| drill.skill == Skill::WholePlan && drill.counts())
            .map(|drill| drill.date)
            .max()
    }

    /// The venue of an event.
    #[must_use]
    pub fn venue(&self, event: &Event) -> Option<&Venue> {
        event.place.as_deref().and_then(|place| crate::trade::drill::venue_of(&self.venues, place))
    }
}

/// Staff and responders on duty at an event, whether away or not.
fn on_duty(scene: &Scene<'_>, event: &Event) -> Vec<StaffMember> {
    let local = event.starts_at.local(scene.program.zone);
    let mut there: Vec<StaffMember> = scene
        .staff
        .iter()
        .filter(|member| member.on_duty(event.date) && member.on_duty_at(local) && member.serves(&event.team))
        .cloned()
        .collect();
    there.sort_by_key(|member| (!member.has(Role::Trainer), member.call_order, member.id.clone()));
    there
}

/// Whether an event's response is looked after: helmets are worn and it is not called off.
#[must_use]
pub fn is_looked_after(event: &Event) -> bool {
    event.helmets && !event.cancelled
}
