//! Imports: all or nothing, and what a changed calendar means for those who were already texted.

use std::fmt;

use chrono::NaiveDate;

use super::act::event::called_off;
use super::scene::{Cancel, Scene, To};
use super::{Desk, DeskError, load};
use crate::config::Program;
use crate::intake::{Changes, Dataset, Frame, HORIZON_DAYS, Kind, Note, Problem, SourceFile, changes, parse};
use crate::store::rows::Purpose;
use crate::store::{Result as Stored, Tx};
use crate::trade::clearance::{Brought, Course, CourseEntry};
use crate::trade::morning::CheckState;
use crate::trade::queue::{Hold, HoldKind};
use crate::trade::roster::{Event, ProgramId, TeamId};
use crate::trade::time::{Moment, resolve};
use crate::wording::{Message, words};

/// What an import found and did.
#[derive(Debug)]
pub struct Imported {
    /// What changed, or would.
    pub changes: Changes,
    /// Harmless things worth saying.
    pub notes: Vec<Note>,
    /// How many athletes hear of events called off or moved.
    pub told: usize,
}

impl fmt::Display for Imported {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}", self.changes)?;
        if self.told > 0 {
            write!(out, "\n{} athletes are told of changed events", self.told)?;
        }
        Ok(())
    }
}

/// Why an import was refused.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// The files have problems; nothing was loaded.
    #[error("{} in the files; nothing was loaded", count(.0.len()))]
    Problems(Vec<Problem>),
    /// The desk failed.
    #[error(transparent)]
    Desk(#[from] DeskError),
}

fn count(problems: usize) -> String {
    if problems == 1 { "1 problem".to_owned() } else { format!("{problems} problems") }
}

impl From<crate::store::StoreError> for ImportError {
    fn from(error: crate::store::StoreError) -> Self {
        Self::Desk(error.into())
    }
}

impl Desk {
    /// Loads files, or with `dry_run` says what they would change.
    ///
    /// # Errors
    /// [`ImportError`] with every problem at once; then nothing is loaded.
    pub async fn import(
        &self,
        program: &ProgramId,
        files: &[SourceFile],
        now: Moment,
        dry_run: bool,
    ) -> Result<Imported, ImportError> {
        let program = self.program(program)?;
        let teams: Vec<(TeamId, String)> =
            program.teams.values().map(|team| (team.id.clone(), team.name.clone())).collect();
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        let existing = stored(&mut tx, &program.id).await?;
        let progressions: Vec<String> =
            program.clearance.progressions.iter().map(|progression| progression.key.clone()).collect();
        let frame = Frame {
            program: &program.id,
            zone: program.zone,
            teams: &teams,
            known_athletes: &existing.athletes,
            known_staff: &existing.staff,
            now,
            horizon_days: HORIZON_DAYS,
            progressions: &progressions,
        };
        let (mut incoming, notes) = parse(files, &frame).map_err(ImportError::Problems)?;
        let athletes = incoming.held.iter().map(|one| one.athlete.clone()).collect();
        let known = tx.holds_ever(&program.id, &athletes).await?;
        incoming.held.retain(|one| !known.iter().any(|hold| is_known(hold, one, program.zone)));
        let changes = changes(&existing, &incoming);
        if dry_run || changes.is_empty() {
            return Ok(Imported { changes, notes, told: 0 });
        }
        write(&mut tx, &changes).await?;
        load::whole_day(&mut tx, &mut scene).await?;
        hold(&mut scene, &changes.held.added);
        let told = events(&mut scene, &changes);
        let summary = summary(program, &changes);
        scene.note("administrator", "imported", program.id.as_str(), &summary, None);
        scene.tell(format!("import: {summary}"));
        self.finish(tx, scene).await?;
        Ok(Imported { changes, notes, told })
    }
}

/// Everything that imports bring, as it is stored.
///
/// # Errors
/// When the store fails.
pub async fn stored(tx: &mut Tx, program: &ProgramId) -> Stored<Dataset> {
    Ok(Dataset {
        athletes: tx.all_athletes(program).await?,
        guardians: tx.all_guardians(program).await?,
        guardianships: tx.all_guardianships(program).await?,
        staff: tx.all_staff(program).await?,
        helmets: tx.all_helmets(program).await?,
        models: tx.models(program).await?,
        drills: tx.all_drills(program).await?,
        venues: tx.venues(program).await?,
        kits: tx.kits(program).await?,
        stock: tx.stock(program).await?,
        events: tx.all_events(program).await?,
        consents: tx.all_consents(program).await?,
        ..Dataset::default()
    })
}

async fn write(tx: &mut Tx, changes: &Changes) -> Stored<()> {
    tx.put(&new_rows(&changes.athletes)).await?;
    tx.put(&new_rows(&changes.guardians)).await?;
    tx.put(&new_rows(&changes.guardianships)).await?;
    tx.put(&new_rows(&changes.staff)).await?;
    tx.put(&new_rows(&changes.helmets)).await?;
    tx.put(&new_rows(&changes.models)).await?;
    tx.put(&new_rows(&changes.drills)).await?;
    tx.put(&new_rows(&changes.venues)).await?;
    tx.put(&new_rows(&changes.kits)).await?;
    tx.put(&new_rows(&changes.stock)).await?;
    tx.put(&new_rows(&changes.events)).await?;
    tx.put(&new_rows(&changes.consents)).await?;
    Ok(())
}

fn new_rows<T: Clone>(kind: &Kind<T>) -> Vec<T> {
    kind.added.iter().cloned().chain(kind.updated.iter().map(|update| update.new.clone())).collect()
}

fn summary(program: &Program, changes: &Changes) -> String {
    let parts = [
        ("athletes", changes.athletes.added.len(), changes.athletes.updated.len()),
        ("guardians", changes.guardians.added.len(), changes.guardians.updated.len()),
        ("staff", changes.staff.added.len(), changes.staff.updated.len()),
        ("helmets", changes.helmets.added.len(), changes.helmets.updated.len()),
        ("models", changes.models.added.len(), changes.models.updated.len()),
        ("drills", changes.drills.added.len(), changes.drills.updated.len()),
        ("venues", changes.venues.added.len(), changes.venues.updated.len()),
        ("kits", changes.kits.added.len(), changes.kits.updated.len()),
        ("held", changes.held.added.len(), 0),
        ("things in kits", changes.stock.added.len(), changes.stock.updated.len()),
        ("events", changes.events.added.len(), changes.events.updated.len()),
        ("consents", changes.consents.added.len(), changes.consents.updated.len()),
    ];
    let said: Vec<String> = parts
        .into_iter()
        .filter(|(_, added, updated)| added + updated > 0)
        .map(|(what, added, updated)| match updated {
            0 => format!("{added} {what}"),
            _ => format!("{added} {what} new and {updated} changed"),
        })
        .collect();
    format!("{}: {}", program.name, said.join(", "))
}

/// Whether a file's hold is there already: the athlete is held for the body, or was from that day on. What was ended since is
/// not begun anew.
fn is_known(hold: &Hold, one: &Brought, zone: chrono_tz::Tz) -> bool {
    let is_body = hold.kind != HoldKind::Equipment;
    hold.athlete == one.athlete && is_body && (hold.closed_at.is_none() || hold.opened_at.date(zone) >= one.since)
}

/// Holds that a file tells of, with how far their way back is. Families are not told anew.
fn hold(scene: &mut Scene<'_>, held: &[Brought]) {
    let zone = scene.program.zone;
    let day = |date: NaiveDate| resolve(date.and_time(chrono::NaiveTime::MIN), zone);
    for one in held {
        let (since, athlete) = (day(one.since), one.athlete.clone());
        let kind = if one.kind == HoldKind::Trainer { "trainer" } else { "medical" };
        let row = Hold {
            program: scene.program.id.clone(),
            id: format!("{athlete}/{kind}/{}", since.millis()),
            athlete: athlete.clone(),
            kind: one.kind,
            opened_at: since,
            opened_by: "import".to_owned(),
            closed_at: None,
            closed_by: None,
        };
        scene.holds.put(row.id.clone(), row);
        scene.note("administrator", "hold opened", athlete.as_str(), kind, None);
        if one.category.is_none() && one.progression.is_none() {
            continue;
        }
        let course = Course {
            program: scene.program.id.clone(),
            id: format!("{athlete}/{}", since.millis()),
            athlete: athlete.clone(),
            category: one.category.clone(),
            progression: one.progression.clone(),
            step: one.step,
            since: one.step_since.map_or(since, day),
            ready: false,
            check_in: true,
            opened_at: since,
            opened_by: "import".to_owned(),
            closed_at: None,
            entries: 1,
        };
        let entry = CourseEntry {
            program: course.program.clone(),
            id: format!("{}/0", course.id),
            course: course.id.clone(),
            athlete,
            at: scene.now,
            what: "opened".to_owned(),
            step: course.step,
            who: "import".to_owned(),
            words: one.category.clone(),
        };
        let ways = scene.ways.get_or_insert_with(super::clearance::Ways::default);
        ways.entries.push(entry);
        ways.courses.put(course.id.clone(), course);
    }
}

/// Events that were called off or moved: what is unsent is dropped, and those already texted hear.
fn events(scene: &mut Scene<'_>, changes: &Changes) -> usize {
    for event in &changes.events.added {
        scene.events.put(event.id.clone(), event.clone());
    }
    for update in &changes.events.updated {
        scene.events.put(update.new.id.clone(), update.new.clone());
    }
    let mut told = 0;
    for update in &changes.events.updated {
        let (old, new) = (&update.old, &update.new);
        if old.starts_at <= scene.now {
            continue;
        }
        let off = (new.cancelled && !old.cancelled) || (!new.helmets && old.helmets);
        if off {
            told += called_off(scene, old, &format!("import/{}", scene.now.millis()));
        } else if !new.cancelled && new.starts_at != old.starts_at {
            told += moved(scene, old, new);
        }
    }
    told
}

fn moved(scene: &mut Scene<'_>, old: &Event, new: &Event) -> usize {
    let day_changed = old.date != new.date;
    let others = scene.events.values().any(|event| {
        event.id != old.id && event.team == old.team && event.date == old.date && event.helmets && !event.cancelled
    });
    let checks: Vec<_> =
        scene.checks.values().filter(|check| check.team == old.team && check.date == old.date).cloned().collect();
    let (zone, today) = (scene.program.zone, scene.today);
    let (was, is) = (old.starts_at.local(zone), new.starts_at.local(zone));
    let team = scene.program.teams.get(&old.team).map_or_else(|| old.team.0.clone(), |team| team.name.clone());
    let mut told = 0;
    for check in checks {
        if day_changed && !others {
            scene.cancel(Cancel::Checks(check.date, check.athlete.clone()));
            if check.state.needs_door_check() {
                let key = (check.athlete.clone(), check.date);
                scene.checks.change(&key, |check| check.state = CheckState::CalledOff);
            }
        }
        let texted = !matches!(
            check.state,
            CheckState::Planned | CheckState::ByHand | CheckState::Missed | CheckState::Held | CheckState::CalledOff
        );
        let person = scene.athletes.get(&check.athlete).cloned();
        let (Some(phone), Some(person), true) = (check.phone.clone(), person, texted) else { continue };
        let event = words::event_words(old.kind, was.date(), was.time(), today, person.language);
        let when = words::when_words(is.date(), is.time(), today, person.language);
        let text = Message::EventMoved { event: &event, team: &team, when: &when, place: new.place.as_deref() };
        let body = scene.say(person.language, &text);
        let id = format!("moved/{}/{}/{phone}", old.id, new.starts_at.millis());
        if scene.out.iter().all(|message| message.id != id) {
            let to = To { phone: &phone, language: person.language, athlete: Some(&person.id) };
            scene.send_text(to, Purpose::Change, id, body, Some(new.starts_at));
            told += 1;
        }
    }
    told
}
