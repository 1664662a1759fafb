//! Today at a glance: the fix list with its plan, who has not answered, who is held. Pure: one truth for texts, command
//! line and pages. No medical words: a body hold reads "held: see the athletic trainer".

use std::fmt;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::scene::Scene;
use crate::trade::flag::Flags;
use crate::trade::morning::{CheckState, MorningCheck};
use crate::trade::plan::{Job, Plan, Urgency, plan};
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, Event, Language, Role, TeamId};
use crate::trade::time::Moment;
use crate::wording::words;

/// One line of the fix list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FixRow {
    /// The item's key.
    pub item: String,
    /// The athlete it is about.
    pub athlete: Option<AthleteId>,
    /// "#12 Jonah".
    pub who: String,
    /// The team's name.
    pub team: String,
    /// Helmet tag.
    pub helmet: Option<String>,
    /// Helmet model.
    pub model: Option<String>,
    /// What is off.
    pub flags: Flags,
    /// The same in words.
    pub what: String,
    /// What else is to be known: "needs new helmet", "answer not understood".
    pub note: Option<String>,
    /// As typed, when no body words can be in it.
    pub reply: Option<String>,
    /// Links to photos.
    pub photos: Vec<String>,
    /// Not to be worn until staff have checked it.
    pub do_not_wear: bool,
    /// Who has it.
    pub taken_by: Option<String>,
    /// Estimated minutes of work.
    pub minutes: u32,
    /// Since when.
    pub since: Moment,
    /// By when.
    pub by: Option<Moment>,
    /// Whether it is likely done before practice.
    pub fits: bool,
}

/// One athlete whose helmet is checked at the door.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DoorRow {
    /// The athlete.
    pub athlete: AthleteId,
    /// "#12 Jonah".
    pub who: String,
    /// The team's name.
    pub team: String,
    /// "no answer", "no phone", "opted out of texts"…
    pub why: String,
}

/// One athlete who may not take part, or not yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HeldRow {
    /// The athlete.
    pub athlete: AthleteId,
    /// "#12 Jonah".
    pub who: String,
    /// The team's name.
    pub team: String,
    /// "equipment" or "held: see the athletic trainer".
    pub why: String,
}

/// Today.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Today {
    /// The program's name.
    pub program: String,
    /// The day.
    pub date: NaiveDate,
    /// The next event, in words.
    pub next: Option<String>,
    /// When the next event starts.
    pub starts_at: Option<Moment>,
    /// When to start on the fix list, at the latest.
    pub start_fixing_at: Option<Moment>,
    /// The same as wall-clock time.
    pub start_fixing: Option<String>,
    /// Pairs of hands on duty.
    pub hands: usize,
    /// Fixes that will not be done before it.
    pub will_not_fit: usize,
    /// Helmets on the list that nobody has taken.
    pub not_taken: usize,
    /// Answers that could not be read and wait for somebody to say what was meant.
    pub not_read: usize,
    /// The fix list, in order.
    pub fix_list: Vec<FixRow>,
    /// Athletes with no answer, or none that can be used: checked at the door.
    pub silent: Vec<DoorRow>,
    /// Athletes who may not take part, or not until their helmet is fixed.
    pub held: Vec<HeldRow>,
    /// Athletes who said they will not be there.
    pub absent: Vec<String>,
    /// Athletes who answered that all is well.
    pub clear: usize,
    /// Athletes of the day.
    pub asked: usize,
    /// Body reports that nobody has acknowledged.
    pub body_reports_waiting: usize,
    /// People whom staff have to reach: numbers, consent.
    pub contact: Vec<String>,
}

/// Puts today together; for one team, or for all.
#[must_use]
pub fn today(scene: &Scene<'_>, team: Option<&TeamId>) -> Today {
    let event = next_event(scene, team);
    let items: Vec<&Item> = scene
        .items
        .values()
        .filter(|item| item.is_open() && item.queue == Queue::Equipment)
        .filter(|item| team.is_none_or(|team| item.team.as_ref() == Some(team)))
        .collect();
    let hands = hands(scene, team);
    let practice = event.map(|event| event.starts_at);
    let plan = make_plan(scene, &items, hands, practice);
    let checks: Vec<&MorningCheck> = scene
        .checks
        .values()
        .filter(|check| check.date == scene.today && team.is_none_or(|team| check.team == *team))
        .filter(|check| check.state != CheckState::CalledOff)
        .collect();
    let fixing = Some(plan.start).filter(|_| !items.is_empty() && practice.is_some());
    Today {
        program: scene.program.name.clone(),
        date: scene.today,
        next: event.map(|event| event_words(scene, event)),
        starts_at: practice,
        start_fixing_at: fixing,
        start_fixing: fixing.map(|at| words::clock_words(at.local(scene.program.zone).time(), Language::En)),
        hands,
        will_not_fit: if practice.is_some() { plan.unfit } else { 0 },
        not_taken: items.iter().filter(|item| item.state == ItemState::Open).count(),
        not_read: items.iter().filter(|item| item.is_unread()).count(),
        fix_list: plan
            .slots
            .iter()
            .filter_map(|slot| Some(fix_row(scene, items.iter().find(|item| item.id == slot.id)?, slot.fits)))
            .collect(),
        silent: silent(scene, &checks),
        held: held(scene, team),
        absent: checks
            .iter()
            .filter(|check| check.state == CheckState::Absent)
            .map(|check| scene.who(&check.athlete))
            .collect(),
        clear: checks.iter().filter(|check| check.state == CheckState::Clear).count(),
        asked: checks.len(),
        body_reports_waiting: scene
            .items
            .values()
            .filter(|item| item.queue == Queue::Medical && item.state == ItemState::Open)
            .filter(|item| team.is_none_or(|team| item.team.as_ref().is_none_or(|own| own == team)))
            .count(),
        contact: scene
            .items
            .values()
            .filter(|item| item.is_open() && item.queue == Queue::Contact)
            .filter_map(|item| item.about.clone())
            .collect(),
    }
}

fn next_event<'s>(scene: &'s Scene<'_>, team: Option<&TeamId>) -> Option<&'s Event> {
    scene
        .events
        .values()
        .filter(|event| event.helmets && !event.cancelled && event.date == scene.today)
        .filter(|event| team.is_none_or(|team| event.team == *team))
        .filter(|event| event.starts_at >= scene.now)
        .min_by_key(|event| event.starts_at)
}

/// Pairs of hands on duty today: equipment staff who serve the team.
#[must_use]
pub fn hands(scene: &Scene<'_>, team: Option<&TeamId>) -> usize {
    let on_duty = |member: &&crate::trade::roster::StaffMember| {
        member.has(Role::Equipment) && member.on_duty(scene.today) && team.is_none_or(|team| member.serves(team))
    };
    scene.staff.iter().filter(on_duty).count().max(1)
}

fn make_plan(scene: &Scene<'_>, items: &[&Item], hands: usize, practice: Option<Moment>) -> Plan<String> {
    let jobs: Vec<Job<String>> = items
        .iter()
        .map(|item| Job {
            id: item.id.clone(),
            urgency: Urgency::of(item.flags),
            minutes: scene.fix_minutes.of(item.flags),
        })
        .collect();
    plan(&jobs, hands, scene.now, practice.unwrap_or_else(|| scene.now.plus(TimeDelta::days(1))))
}

fn fix_row(scene: &Scene<'_>, item: &Item, fits: bool) -> FixRow {
    let helmet = item.athlete.as_ref().and_then(|athlete| scene.helmets.get(athlete));
    let what = words::helmet_words(item.flags, Language::En);
    FixRow {
        item: item.id.clone(),
        athlete: item.athlete.clone(),
        who: item.athlete.as_ref().map_or_else(String::new, |athlete| scene.who(athlete)),
        team: team_name(scene, item.team.as_ref()),
        helmet: helmet.map(|helmet| helmet.tag.0.clone()),
        model: helmet.map(|helmet| helmet.model.clone()),
        flags: item.flags,
        what: if what.is_empty() { "look at it".to_owned() } else { what },
        note: item.about.clone(),
        reply: item.reply_for_equipment().map(ToOwned::to_owned),
        photos: item.photos.clone(),
        do_not_wear: HoldKind::for_flags(item.flags).contains(&HoldKind::Equipment),
        taken_by: item
            .taken_by
            .as_ref()
            .and_then(|id| scene.staff.iter().find(|member| member.id == *id))
            .map(|member| member.first.clone()),
        minutes: scene.fix_minutes.of(item.flags),
        since: item.opened_at,
        by: item.due_at,
        fits,
    }
}

fn team_name(scene: &Scene<'_>, team: Option<&TeamId>) -> String {
    team.and_then(|team| scene.program.teams.get(team)).map_or_else(String::new, |team| team.name.clone())
}

/// The athletes to check at the door. Those with a helmet on the fix list are there already.
fn silent(scene: &Scene<'_>, checks: &[&MorningCheck]) -> Vec<DoorRow> {
    let on_list = |athlete: &AthleteId| {
        scene
            .items
            .values()
            .any(|item| item.is_open() && item.queue == Queue::Equipment && item.athlete.as_ref() == Some(athlete))
    };
    checks
        .iter()
        .filter(|check| check.state.needs_door_check() && !on_list(&check.athlete))
        .map(|check| DoorRow {
            athlete: check.athlete.clone(),
            who: scene.who(&check.athlete),
            team: team_name(scene, Some(&check.team)),
            why: door_words(check).to_owned(),
        })
        .collect()
}

fn door_words(check: &MorningCheck) -> &'static str {
    match check.state {
        CheckState::Unclear => "answer not understood",
        CheckState::Later => "said later",
        CheckState::Missed => "no text went out in time",
        CheckState::Planned => "text not out yet",
        CheckState::ByHand => check.by_hand.map_or("checked by hand", crate::trade::morning::ByHand::words),
        _ => "no answer",
    }
}

fn held(scene: &Scene<'_>, team: Option<&TeamId>) -> Vec<HeldRow> {
    let mut worst: std::collections::BTreeMap<&AthleteId, HoldKind> = std::collections::BTreeMap::new();
    for hold in scene.holds.values().filter(|hold| hold.closed_at.is_none()) {
        let kind = worst.entry(&hold.athlete).or_insert(hold.kind);
        *kind = (*kind).max(hold.kind);
    }
    let mut rows: Vec<(HoldKind, HeldRow)> = worst
        .into_iter()
        .filter_map(|(athlete, kind)| {
            let person = scene.athletes.get(athlete)?;
            team.is_none_or(|team| person.team == *team).then(|| {
                let row = HeldRow {
                    athlete: person.id.clone(),
                    who: person.short(),
                    team: team_name(scene, Some(&person.team)),
                    why: kind.words().to_owned(),
                };
                (kind.max(HoldKind::Equipment), row)
            })
        })
        .collect();
    rows.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| a.1.who.cmp(&b.1.who)));
    rows.into_iter().map(|(_, row)| row).collect()
}

fn event_words(scene: &Scene<'_>, event: &Event) -> String {
    let time = event.starts_at.local(scene.program.zone).time();
    format!("{} {}", team_name(scene, Some(&event.team)), words::event_short(event.kind, time, Language::En))
}

impl fmt::Display for Today {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let next = self.next.as_deref().unwrap_or("no practice or game with helmets ahead today");
        writeln!(out, "{} · {} · {next}", self.program, self.date.format("%a %b %-d"))?;
        if self.body_reports_waiting > 0 {
            writeln!(
                out,
                "BODY REPORTS NOT ACKNOWLEDGED: {}. Athletic trainer, reply to the alert.",
                self.body_reports_waiting
            )?;
        }
        self.write_fix_list(out)?;
        writeln!(out, "\nChecked at the door: {} of {}", self.silent.len(), self.asked)?;
        for row in &self.silent {
            writeln!(out, "  {:<18} {:<9} {}", row.who, row.team, row.why)?;
        }
        writeln!(out, "\nHeld: {}", self.held.len())?;
        for row in &self.held {
            writeln!(out, "  {:<18} {:<9} {}", row.who, row.team, row.why)?;
        }
        if !self.absent.is_empty() {
            writeln!(out, "\nNot coming: {}", self.absent.join(", "))?;
        }
        if !self.contact.is_empty() {
            writeln!(out, "\nTo reach: {}", self.contact.len())?;
            for line in &self.contact {
                writeln!(out, "  {line}")?;
            }
        }
        write!(out, "\nAll good: {} of {}", self.clear, self.asked)
    }
}

impl Today {
    fn write_fix_list(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "\nFix list: {}", self.fix_list.len())?;
        if let Some(start) = &self.start_fixing {
            let hands = if self.hands == 1 { "one pair of hands" } else { "pairs of hands" };
            let many = if self.hands == 1 { hands.to_owned() } else { format!("{} {hands}", self.hands) };
            write!(out, " · start by {start} with {many}")?;
        }
        if self.not_taken > 0 {
            write!(out, " · {} not taken", self.not_taken)?;
        }
        if self.not_read > 0 {
            write!(out, " · {} to be understood", self.not_read)?;
        }
        if self.will_not_fit > 0 {
            write!(out, " · {} will not be done in time", self.will_not_fit)?;
        }
        writeln!(out)?;
        for (row, number) in self.fix_list.iter().zip(1..) {
            let helmet = row.helmet.as_deref().unwrap_or("no helmet on file");
            let wear = if row.do_not_wear { " · do not wear" } else { "" };
            let taken = row.taken_by.as_ref().map(|name| format!(" · {name} has it")).unwrap_or_default();
            let note = row.note.as_ref().map(|note| format!(" · {note}")).unwrap_or_default();
            let late = if row.fits { "" } else { " · not in time" };
            writeln!(out, "{number:>3} {:<18} {helmet:<7} {}{wear}{note}{taken}{late}", row.who, row.what)?;
            if let Some(reply) = &row.reply {
                writeln!(out, "      “{}”", reply.replace('\n', " / "))?;
            }
        }
        Ok(())
    }
}
