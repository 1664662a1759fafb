//! The way back of athletes who are held for a body reason: what medical staff record, what the program reminds of, and the
//! daily check-in. It decides nothing: a licensed clinician does, and the record keeps who, when and why.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, TimeDelta};

use super::scene::{Kept, Scene};
use crate::store::{Result, Tx};
use crate::trade::clearance::{CheckIn, Clearance, Course, CourseEntry, Progression};
use crate::trade::queue::{Hold, HoldKind};
use crate::trade::roster::AthleteId;
use crate::trade::time::Moment;

pub mod check_in;
pub mod record;
pub(super) mod remind;
pub mod say;

/// What a decision sees and changes of the ways back of some athletes.
#[derive(Debug, Default)]
pub struct Ways {
    /// Courses, those that are over among them.
    pub courses: Kept<String, Course>,
    /// Clearances on file.
    pub clearances: Kept<String, Clearance>,
    /// What is recorded now.
    pub entries: Vec<CourseEntry>,
}

/// Check-ins by day and athlete.
pub type CheckIns = Kept<(NaiveDate, AthleteId), CheckIn>;

/// Check-ins are looked at so many days back.
const CHECK_INS_SINCE: TimeDelta = TimeDelta::days(1);

/// Loads the ways back of some athletes.
pub async fn load(tx: &mut Tx, scene: &mut Scene<'_>, athletes: &BTreeSet<AthleteId>) -> Result<()> {
    let program = &scene.program.id;
    let mut ways = Ways::default();
    let courses = tx.courses_of(program, athletes).await?;
    ways.courses.load(courses.into_iter().map(|course| (course.id.clone(), course)));
    let clearances = tx.clearances_of(program, athletes).await?;
    ways.clearances.load(clearances.into_iter().map(|clearance| (clearance.id.clone(), clearance)));
    scene.ways = Some(ways);
    Ok(())
}

/// Loads the ways back of everybody who is held for the body, or has a course that is not over.
pub async fn load_all(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<()> {
    let program = &scene.program.id;
    let holds = tx.holds_open(program).await?;
    let mut athletes: BTreeSet<AthleteId> =
        holds.iter().filter(|hold| hold.kind != HoldKind::Equipment).map(|hold| hold.athlete.clone()).collect();
    athletes.extend(tx.courses_open(program).await?.into_iter().map(|course| course.athlete));
    scene.holds.load(holds.into_iter().map(|hold| (hold.id.clone(), hold)));
    let people = tx.athletes_named(program, &athletes).await?;
    scene.athletes.extend(people.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    load(tx, scene, &athletes).await
}

/// Loads today's and yesterday's check-ins.
pub async fn load_check_ins(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<()> {
    let rows = tx.check_ins_since(&scene.program.id, scene.today - CHECK_INS_SINCE).await?;
    scene.check_ins.load(rows.into_iter().map(|row| ((row.date, row.athlete.clone()), row)));
    Ok(())
}

/// Writes what changed.
pub async fn write(tx: &mut Tx, scene: &Scene<'_>) -> Result<()> {
    tx.put(&scene.check_ins.changed()).await?;
    let Some(ways) = &scene.ways else { return Ok(()) };
    tx.put(&ways.courses.changed()).await?;
    tx.insert(&ways.entries).await?;
    tx.put(&ways.clearances.changed()).await?;
    Ok(())
}

impl Scene<'_> {
    /// When the present hold for a body reason began; none when there is none.
    #[must_use]
    pub fn held_since<'s>(&'s self, athlete: &'s AthleteId) -> Option<&'s Hold> {
        self.holds_on(athlete).filter(|hold| hold.kind != HoldKind::Equipment).min_by_key(|hold| hold.opened_at)
    }

    /// The course of the present hold. One that was left when a trainer ended an earlier hold is not it.
    #[must_use]
    pub fn course(&self, athlete: &AthleteId) -> Option<&Course> {
        let since = self.held_since(athlete)?.opened_at;
        let courses = &self.ways.as_ref()?.courses;
        let is_it =
            |course: &&Course| course.athlete == *athlete && course.closed_at.is_none() && course.opened_at == since;
        courses.values().find(is_it)
    }

    /// The progression that a course follows.
    #[must_use]
    pub fn progression(&self, course: &Course) -> Option<&Progression> {
        self.program.clearance.progression(course.progression.as_deref()?)
    }

    /// The clearance of a course that waits for the second person.
    #[must_use]
    pub fn waiting(&self, course: &Course) -> Option<&Clearance> {
        let clearances = &self.ways.as_ref()?.clearances;
        clearances
            .values()
            .filter(|clearance| clearance.course == course.id && !clearance.stands && clearance.withdrawn_at.is_none())
            .max_by_key(|clearance| clearance.at)
    }
}

/// Everybody held for the body, each with the moment since when.
#[must_use]
pub fn held(scene: &Scene<'_>) -> BTreeMap<AthleteId, Moment> {
    let mut all: BTreeMap<AthleteId, Moment> = BTreeMap::new();
    for hold in scene.holds.values().filter(|hold| hold.closed_at.is_none() && hold.kind != HoldKind::Equipment) {
        let since = all.entry(hold.athlete.clone()).or_insert(hold.opened_at);
        *since = (*since).min(hold.opened_at);
    }
    all
}
