//! The athletic trainer's page: body reports, and replies that were not understood. Every look is in the record before
//! anything is shown.

use serde::Serialize;

use super::athlete::{ItemView, item_view};
use super::{Viewer, hold_words, note_view, when};
use crate::desk::scene::{Scene, phone_words};
use crate::desk::{Desk, DeskError, load};
use crate::trade::flag::Flag;
use crate::trade::queue::{Hold, HoldKind, Item, Queue};
use crate::trade::roster::{AthleteId, Language, ProgramId};
use crate::trade::time::Moment;
use crate::wording::words;

/// A body report, or a reply that was not understood.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Report {
    /// The item.
    pub item: ItemView,
    /// The athlete, when it is about one.
    pub athlete: Option<AthleteId>,
    /// "#12 Jonah".
    pub who: String,
    /// The team's name.
    pub team: String,
    /// The athlete's number, to call.
    pub phone: Option<String>,
    /// The same for a link.
    pub call: Option<String>,
    /// A sign that means an emergency was in it.
    pub red_flag: bool,
    /// The holds, in words.
    pub holds: Vec<String>,
    /// Whether the trainer may decide here that the athlete takes part: no medical hold.
    pub may_go: bool,
}

/// Somebody held for the body without an open report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HeldView {
    /// The athlete.
    pub athlete: AthleteId,
    /// "#12 Jonah".
    pub who: String,
    /// Why.
    pub why: String,
    /// Since when.
    pub since: String,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TrainerView {
    /// Body reports, those that nobody has first.
    pub reports: Vec<Report>,
    /// Replies that nobody has made sense of.
    pub unclear: Vec<Report>,
    /// Held for the body, with the report closed or none.
    pub held: Vec<HeldView>,
    /// When it was put together.
    pub as_of: String,
}

impl Desk {
    /// The athletic trainer's page. That it was looked at is in the record, an entry a report, before this returns.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_trainer(
        &self,
        program: &ProgramId,
        viewer: Viewer<'_>,
        now: Moment,
    ) -> Result<TrainerView, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let mut scene = load::look(&mut tx, program, self.wording(program), now).await?;
        load::day_to_read(&mut tx, &mut scene).await?;
        let view = view(&scene, viewer);
        drop(tx);
        // The lock is for the record alone: replies do not wait while the day is loaded.
        let mut tx = self.core.store.write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        for report in view.reports.iter().chain(&view.unclear) {
            note_view(&mut scene, viewer.member, &report.item.id, "athletic trainer's page");
        }
        for held in &view.held {
            note_view(&mut scene, viewer.member, held.athlete.as_str(), "athletic trainer's page");
        }
        self.finish(tx, scene).await?;
        Ok(view)
    }
}

/// What a reply may have meant: each flag's name, and its words for medical staff.
#[must_use]
pub fn meanings() -> Vec<(&'static str, String)> {
    Flag::ALL
        .into_iter()
        .map(|flag| {
            let alone = std::iter::once(flag).collect();
            let words = if flag.is_body() {
                words::body_words(alone, Language::En)
            } else {
                words::helmet_words(alone, Language::En)
            };
            (flag.name(), words)
        })
        .collect()
}

/// What may be off with a helmet: each flag's name and its words.
#[must_use]
pub fn helmet_meanings() -> Vec<(&'static str, String)> {
    let helmet = |flag: &Flag| !flag.is_body();
    let words = |flag: Flag| words::helmet_words(std::iter::once(flag).collect(), Language::En);
    Flag::ALL.into_iter().filter(helmet).map(|flag| (flag.name(), words(flag))).collect()
}

fn view(scene: &Scene<'_>, viewer: Viewer<'_>) -> TrainerView {
    let open: Vec<&Item> =
        scene.items.values().filter(|item| item.is_open() && viewer.sees(item.team.as_ref())).collect();
    let mut reports: Vec<&Item> = open.iter().copied().filter(|item| item.queue == Queue::Medical).collect();
    reports.sort_by_key(|item| (item.taken_by.is_some(), !item.red_flag, item.opened_at));
    let mut unclear: Vec<&Item> = open.iter().copied().filter(|item| item.is_unread()).collect();
    unclear.sort_by_key(|item| item.opened_at);
    let reported = |hold: &&Hold| reports.iter().any(|item| item.athlete.as_ref() == Some(&hold.athlete));
    let held = scene
        .holds
        .values()
        .filter(|hold| hold.closed_at.is_none() && hold.kind != HoldKind::Equipment && !reported(hold))
        .filter(|hold| scene.athletes.get(&hold.athlete).is_some_and(|person| viewer.sees(Some(&person.team))))
        .map(|hold| HeldView {
            athlete: hold.athlete.clone(),
            who: scene.who(&hold.athlete),
            why: hold_words(hold.kind, true).to_owned(),
            since: when(hold.opened_at, scene.now, scene.program),
        })
        .collect();
    TrainerView {
        reports: reports.into_iter().map(|item| report(scene, item)).collect(),
        unclear: unclear.into_iter().map(|item| report(scene, item)).collect(),
        held,
        as_of: super::clock(scene.now, scene.program),
    }
}

fn report(scene: &Scene<'_>, item: &Item) -> Report {
    let person = item.athlete.as_ref().and_then(|athlete| scene.athletes.get(athlete));
    let phone = person.and_then(|person| person.phone.clone());
    let kinds: Vec<HoldKind> = item.athlete.as_ref().map_or_else(Vec::new, |athlete| {
        scene.holds_on(athlete).map(|hold| hold.kind).filter(|kind| *kind != HoldKind::Equipment).collect()
    });
    Report {
        item: item_view(scene, item, true),
        athlete: item.athlete.clone(),
        who: item.athlete.as_ref().map_or_else(
            || item.about.clone().unwrap_or_else(|| "a number that is not on file".to_owned()),
            |athlete| scene.who(athlete),
        ),
        team: item
            .team
            .as_ref()
            .and_then(|team| scene.program.teams.get(team))
            .map_or_else(String::new, |team| team.name.clone()),
        call: phone.as_ref().map(ToString::to_string),
        phone: phone.as_ref().map(phone_words),
        red_flag: item.red_flag,
        may_go: item.queue == Queue::Medical && item.athlete.is_some() && !kinds.contains(&HoldKind::Medical),
        holds: kinds.into_iter().map(|kind| hold_words(kind, true).to_owned()).collect(),
    }
}
