//! Today's page: [`super::super::today::Today`] with its moments as words.

use chrono::NaiveDate;
use serde::Serialize;

use super::{Viewer, clock, when};
use crate::config::Program;
use crate::desk::scene::item_key;
use crate::desk::today::{FixRow, Today};
use crate::desk::{Desk, DeskError};
use crate::trade::queue::Queue;
use crate::trade::roster::{ProgramId, TeamId};
use crate::trade::time::Moment;

/// A team that can be picked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TeamChoice {
    /// Its key.
    pub id: TeamId,
    /// Its name.
    pub name: String,
}

/// One line of the fix list, as it is shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// What takes it: see [`taken_item`].
    pub take: String,
    /// The athlete.
    pub athlete: String,
    /// "#12 Jonah".
    pub who: String,
    /// What the button calls them: "#12", or a name.
    pub call: String,
    /// Team, when several are shown.
    pub team: Option<String>,
    /// Helmet tag.
    pub helmet: Option<String>,
    /// Helmet model.
    pub model: Option<String>,
    /// What is off, in words.
    pub what: String,
    /// What else is to be known.
    pub note: Option<String>,
    /// As typed.
    pub reply: Option<String>,
    /// Not to be worn until staff have checked it.
    pub do_not_wear: bool,
    /// Who has it.
    pub taken_by: Option<String>,
    /// By the plan: when it begins and whose it is, "2:30 pm Cole"; only when nobody has it yet.
    pub plan: Option<String>,
    /// Whether it is likely done in time.
    pub fits: bool,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TodayView {
    /// The lists themselves, as every other place tells them.
    pub today: Today,
    /// "Tuesday, September 15".
    pub day: String,
    /// When it was put together.
    pub as_of: String,
    /// The fix list, as it is shown.
    pub rows: Vec<Row>,
    /// When the list starts.
    pub starts: Option<String>,
    /// Its own address with the team in it, to be added to others: "?team=jv", or nothing.
    pub query: String,
    /// Whether rows are kept short, since there are many.
    pub short: bool,
    /// How many names are shown where a page of their own has them all.
    pub silent_shown: usize,
}

/// With more rows than this the page keeps each short.
const MANY: usize = 60;
/// Names shown of those to check at the door.
const NAMES: usize = 60;
/// The same where rows are kept short.
const FEW_NAMES: usize = 24;

/// The team that a viewer is shown: the one asked for if they serve it, else the only one they serve; nothing is all.
#[must_use]
pub fn team_of(viewer: Viewer<'_>, asked: Option<&str>) -> Option<TeamId> {
    let asked = asked.map(TeamId::from).filter(|team| viewer.member.serves(team));
    asked.or_else(|| viewer.member.teams.first().cloned())
}

/// The teams that a viewer may pick from.
#[must_use]
pub fn teams_of(viewer: Viewer<'_>, program: &Program) -> Vec<TeamChoice> {
    let teams: Vec<TeamChoice> = program
        .teams
        .values()
        .filter(|team| viewer.member.serves(&team.id))
        .map(|team| TeamChoice { id: team.id.clone(), name: team.name.clone() })
        .collect();
    if teams.len() > 1 { teams } else { Vec::new() }
}

impl Desk {
    /// Today's page for one team, or for all.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_today(
        &self,
        program: &ProgramId,
        team: Option<&TeamId>,
        now: Moment,
    ) -> Result<TodayView, DeskError> {
        let today = self.today(program, team, now).await?;
        let program = self.program(program)?;
        let several = team.is_none() && program.teams.len() > 1;
        Ok(TodayView {
            day: today.date.format("%A, %B %-d").to_string(),
            as_of: clock(now, program),
            rows: rows(&today, program, several),
            starts: today.starts_at.map(|at| when(at, now, program)),
            query: team.map(|team| format!("?team={team}")).unwrap_or_default(),
            short: today.fix_list.len() > MANY,
            silent_shown: if today.fix_list.len() > MANY { FEW_NAMES } else { NAMES },
            today,
        })
    }
}

/// When the plan has a helmet begun, and by whom; nothing once somebody has it, or when it is for no event of today.
fn plan_words(row: &FixRow, program: &Program) -> Option<String> {
    let begins = row.begins_at.filter(|_| row.taken_by.is_none() && row.fits)?;
    let hand = row.hand.as_ref().map(|hand| format!(" {hand}")).unwrap_or_default();
    Some(format!("{}{hand}", clock(begins, program)))
}

/// The shortest that says which item a button takes: the athlete, when the item's key is made of athlete and day.
fn take(row: &FixRow, day: NaiveDate) -> String {
    let short = row.athlete.as_ref().map(|athlete| athlete.as_str()).filter(|athlete| !athlete.contains('/'));
    let short = short.filter(|athlete| item_key(Queue::Equipment, athlete, day) == row.item);
    short.map_or_else(|| row.item.clone(), ToOwned::to_owned)
}

/// The key of the item that a button of a page of some day takes.
#[must_use]
pub fn taken_item(take: &str, day: Option<NaiveDate>) -> String {
    match day {
        Some(day) if !take.contains('/') => item_key(Queue::Equipment, take, day),
        _ => take.to_owned(),
    }
}

fn rows(today: &Today, program: &Program, several: bool) -> Vec<Row> {
    today
        .fix_list
        .iter()
        .map(|row| Row {
            take: take(row, today.date),
            athlete: row.athlete.as_ref().map(ToString::to_string).unwrap_or_default(),
            call: row.who.split(' ').next().unwrap_or_default().to_owned(),
            who: row.who.clone(),
            team: Some(row.team.clone()).filter(|_| several),
            helmet: row.helmet.clone(),
            model: row.model.clone(),
            what: row.what.clone(),
            note: row.note.clone(),
            reply: row.reply.clone(),
            do_not_wear: row.do_not_wear,
            taken_by: row.taken_by.clone(),
            plan: plan_words(row, program),
            fits: row.fits,
        })
        .collect()
}
