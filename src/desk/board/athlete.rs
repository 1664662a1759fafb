//! One athlete: helmet, fit history, what is open, what was typed.
//!
//! Whoever is not medical staff reads of a body hold "held: see the athletic trainer", and of replies those alone that
//! [`Item::reply_for_equipment`] lets through.

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::{Piece, Viewer, hold_words, name_of, note_view, pieces, reading_words, state_words, typed, when};
use crate::desk::scene::Scene;
use crate::desk::{Desk, DeskError, load};
use crate::store::Tx;
use crate::store::rows::InMessage;
use crate::trade::flag::{Flag, Flags};
use crate::trade::queue::{Hold, HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{Athlete, AthleteId, Helmet, Language, ProgramId, Role, StaffId, TeamId};
use crate::trade::time::Moment;
use crate::wording::words;

/// An item as it is shown, with what can be done about it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ItemView {
    /// Its key.
    pub id: String,
    /// Whether it is for medical staff.
    pub medical: bool,
    /// The day it belongs to.
    pub day: String,
    /// What is off, in words.
    pub what: String,
    /// What else is to be known.
    pub note: Option<String>,
    /// What was typed, with what it was taken for.
    pub replies: Vec<Vec<Piece>>,
    /// Links to photos.
    pub photos: Vec<String>,
    /// Where it stands, in words.
    pub state: String,
    /// Whether nobody has it yet.
    pub open: bool,
    /// Whether it is closed.
    pub closed: bool,
    /// Not to be worn until staff have checked it.
    pub do_not_wear: bool,
    /// Since when.
    pub since: String,
    /// By when.
    pub by: Option<String>,
    /// What was done, and by whom and when, once it is closed.
    pub done: Option<String>,
    /// What may have been done about it.
    pub choices: Vec<&'static str>,
}

/// What was typed, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ReplyView {
    /// When.
    pub when: String,
    /// What it was read as.
    pub reading: String,
    /// The text, with what it was taken for.
    pub pieces: Vec<Piece>,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AthleteView {
    /// The athlete's key.
    pub id: AthleteId,
    /// "#12 Jonah Vega".
    pub name: String,
    /// The team's name.
    pub team: String,
    /// Whether texts are in Spanish.
    pub spanish: bool,
    /// Helmets worn.
    pub helmets: Vec<Helmet>,
    /// Why the athlete may not take part, in words.
    pub held: Vec<String>,
    /// Whether an equipment hold is among them.
    pub equipment_hold: bool,
    /// Whether the athlete is held for the body; said of no more than the words above say.
    pub body_hold: bool,
    /// Whether a medical hold is open; for medical eyes.
    pub medical_hold: bool,
    /// Items to do.
    pub open: Vec<ItemView>,
    /// Items done.
    pub history: Vec<ItemView>,
    /// What was typed, newest first.
    pub replies: Vec<ReplyView>,
    /// Whether it is shown to medical eyes.
    pub medical: bool,
    /// To whom an item can be handed: identifier and first name.
    pub staff: Vec<(StaffId, String)>,
}

/// How far back replies are shown.
const REPLIES_SINCE: TimeDelta = TimeDelta::days(60);
/// How many at most.
const MOST_REPLIES: usize = 30;

impl Desk {
    /// An athlete's page; nothing when there is no such athlete on a team that the viewer serves. When something medical
    /// is on it, that it was looked at is in the record before this returns.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_athlete(
        &self,
        program: &ProgramId,
        id: &AthleteId,
        viewer: Viewer<'_>,
        now: Moment,
    ) -> Result<Option<AthleteView>, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let scene = load::look(&mut tx, program, self.wording(program), now).await?;
        let Some(person) = tx.athlete(&program.id, id).await?.filter(|person| viewer.sees(Some(&person.team))) else {
            return Ok(None);
        };
        let items = tx.items_about(&program.id, id).await?;
        let holds = tx.holds_about(&program.id, id).await?;
        let helmets = tx.helmets_worn(&program.id, id).await?;
        let heard = heard(&mut tx, &scene, &person).await?;
        drop(tx);
        let view = view(&scene, viewer, &person, &items, &holds, helmets, &heard);
        if viewer.is_medical() {
            let medical =
                items.iter().filter(|item| item.queue == Queue::Medical).map(|item| item.id.as_str()).collect();
            self.note_athlete_viewed(&program.id, id, viewer, medical, now).await?;
        }
        Ok(Some(view))
    }

    async fn note_athlete_viewed(
        &self,
        program: &ProgramId,
        athlete: &AthleteId,
        viewer: Viewer<'_>,
        medical: Vec<&str>,
        now: Moment,
    ) -> Result<(), DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.write().await?;
        let mut scene = load::begin(&mut tx, program, self.wording(program), now).await?;
        // Replies may hold body words that nobody flagged: the page as a whole is a view, whatever stands on it.
        note_view(&mut scene, viewer.member, athlete.as_str(), "athlete's page");
        for item in medical {
            note_view(&mut scene, viewer.member, item, "athlete's page");
        }
        self.finish(tx, scene).await
    }
}

/// What was heard about an athlete, newest first.
async fn heard(tx: &mut Tx, scene: &Scene<'_>, person: &Athlete) -> Result<Vec<InMessage>, DeskError> {
    let Some(phone) = &person.phone else { return Ok(Vec::new()) };
    let since = scene.now.minus(REPLIES_SINCE);
    let mut heard: Vec<InMessage> = tx
        .inbox_of(&scene.program.id, phone)
        .await?
        .into_iter()
        .filter(|message| message.received_at >= since && message.athletes.contains(&person.id))
        .collect();
    heard.reverse();
    heard.truncate(MOST_REPLIES);
    Ok(heard)
}

fn view(
    scene: &Scene<'_>,
    viewer: Viewer<'_>,
    person: &Athlete,
    items: &[Item],
    holds: &[Hold],
    helmets: Vec<Helmet>,
    heard: &[InMessage],
) -> AthleteView {
    let medical = viewer.is_medical();
    let seen: Vec<&Item> = items
        .iter()
        .filter(|item| item.queue == Queue::Equipment || (medical && item.queue == Queue::Medical))
        .collect();
    let open_holds: Vec<&Hold> = holds.iter().filter(|hold| hold.closed_at.is_none()).collect();
    let mut held: Vec<String> = open_holds.iter().map(|hold| hold_words(hold.kind, medical).to_owned()).collect();
    held.dedup();
    let history = seen.iter().filter(|item| !item.is_open());
    AthleteView {
        id: person.id.clone(),
        name: format!("{} {}", person.short(), person.jersey.as_ref().map_or("", |_| person.last.as_str())),
        team: scene.program.teams.get(&person.team).map_or_else(String::new, |team| team.name.clone()),
        spanish: person.language == Language::Es,
        helmets,
        equipment_hold: open_holds.iter().any(|hold| hold.kind == HoldKind::Equipment),
        body_hold: open_holds.iter().any(|hold| hold.kind != HoldKind::Equipment),
        medical_hold: medical && open_holds.iter().any(|hold| hold.kind == HoldKind::Medical),
        held,
        open: seen.iter().filter(|item| item.is_open()).map(|item| item_view(scene, item, medical)).collect(),
        history: history.map(|item| item_view(scene, item, medical)).collect(),
        replies: replies(scene, items, heard, medical),
        medical,
        staff: hands(scene, viewer, &person.team),
    }
}

/// Who works on helmets of a team, but for the viewer.
fn hands(scene: &Scene<'_>, viewer: Viewer<'_>, team: &TeamId) -> Vec<(StaffId, String)> {
    scene
        .staff
        .iter()
        .filter(|member| member.has(Role::Equipment) || member.has(Role::Trainer))
        .filter(|member| member.serves(team) && member.id != viewer.member.id)
        .map(|member| (member.id.clone(), member.first.clone()))
        .collect()
}

/// An item as it is shown to medical eyes, or to others.
pub(super) fn item_view(scene: &Scene<'_>, item: &Item, medical: bool) -> ItemView {
    let program = scene.program;
    let done = item.closed_at.map(|at| {
        let by = item.closed_by.as_ref().map(|id| format!(" by {}", name_of(scene, id))).unwrap_or_default();
        format!("{}{by}, {}", item.done.as_deref().unwrap_or("done"), when(at, scene.now, program))
    });
    let replies = if medical {
        item.replies.iter().map(|reply| typed(reply)).collect()
    } else {
        item.reply_for_equipment().map(typed).into_iter().collect()
    };
    ItemView {
        id: item.id.clone(),
        medical: item.queue == Queue::Medical,
        day: day_words(item.date, scene.today),
        what: what_words(item, medical),
        note: item.about.clone(),
        replies,
        photos: item.photos.clone(),
        state: state_words(item, |id| name_of(scene, id)),
        open: item.state == ItemState::Open,
        closed: !item.is_open(),
        do_not_wear: HoldKind::for_flags(item.flags).contains(&HoldKind::Equipment),
        since: when(item.opened_at, scene.now, program),
        by: item
            .due_at
            .filter(|_| item.is_open() && item.queue == Queue::Equipment)
            .map(|at| when(at, scene.now, program)),
        done,
        choices: choices(item.flags),
    }
}

/// What may have been done about an item with these flags, the likeliest first.
fn choices(flags: Flags) -> Vec<&'static str> {
    let mut choices: Vec<&'static str> =
        flags.helmet().iter().flat_map(|flag| done_about(flag).iter().copied()).collect();
    choices.extend(["refitted", "looked at, nothing wrong", "another helmet issued"]);
    let mut known = std::collections::BTreeSet::new();
    choices.retain(|choice| known.insert(*choice));
    choices
}

const fn done_about(flag: Flag) -> &'static [&'static str] {
    match flag {
        Flag::Strap => &["new chin strap", "chin strap adjusted", "new snap"],
        Flag::Cheeks => &["new jaw pads", "jaw pads changed in size"],
        Flag::Hardware => &["face mask tightened", "new face-mask clip", "new screws", "new face mask"],
        Flag::Air => &["air added", "new valve", "new liner"],
        Flag::Shell | Flag::WrongHelmet => &["another helmet issued"],
        Flag::Missing => &["helmet found", "another helmet issued"],
        Flag::Pain => &["pad moved", "pad changed"],
        _ => &["refitted"],
    }
}

fn what_words(item: &Item, medical: bool) -> String {
    let helmet = words::helmet_words(item.flags, Language::En);
    let body = if medical { words::body_words(item.flags, Language::En) } else { String::new() };
    match (helmet.is_empty(), body.is_empty()) {
        (true, true) => "look at it".to_owned(),
        (true, false) => body,
        (false, true) => helmet,
        (false, false) => format!("{body}; {helmet}"),
    }
}

fn day_words(date: NaiveDate, today: NaiveDate) -> String {
    if date == today { "today".to_owned() } else { date.format("%b %-d").to_string() }
}

/// What was typed: for medical eyes all of it, for others what an item lets through.
fn replies(scene: &Scene<'_>, items: &[Item], heard: &[InMessage], medical: bool) -> Vec<ReplyView> {
    let open_to_all = |message: &&InMessage| {
        let clear = message.reading.as_ref().is_some_and(|reading| reading.kind == crate::reading::Kind::AllClear);
        let helmet = items.iter().filter_map(Item::reply_for_equipment).any(|reply| reply == message.body);
        let body =
            message.reading.as_ref().is_some_and(|reading| reading.red_flag || reading.flags.body() != Flags::NONE);
        (clear || helmet) && !body
    };
    heard
        .iter()
        .filter(|message| medical || open_to_all(message))
        .map(|message| ReplyView {
            when: when(message.received_at, scene.now, scene.program),
            reading: message.reading.as_ref().map(reading_words).unwrap_or_default(),
            pieces: message
                .reading
                .as_ref()
                .map_or_else(|| typed(&message.body), |reading| pieces(&message.body, &reading.evidence)),
        })
        .collect()
}
