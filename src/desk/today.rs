//! Today at a glance: the fix list with its plan, who has not answered, who is held. Pure: one truth for texts, command
//! line and pages. No medical words: a body hold reads "held: see the athletic trainer".

use std::fmt;

use chrono::{NaiveDate, TimeDelta};
use serde::Serialize;

use super::scene::Scene;
use crate::trade::flag::Flags;
use crate::trade::morning::{CheckState, MorningCheck};
use crate::trade::parts::{Kit, kit};
use crate::trade::plan::{Hand, Job, Plan, READY_BEFORE, Slot, Urgency, plan};
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{AthleteId, Event, Language, Role, StaffMember, TeamId};
use crate::trade::time::{Moment, resolve};
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
    /// Who should do it, by the plan.
    pub hand: Option<String>,
    /// When, by the plan: it begins.
    pub begins_at: Option<Moment>,
    /// It ends.
    pub ends_at: Option<Moment>,
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
    /// Whom these are for, by name and number.
    pub cannot_be_done: Vec<String>,
    /// Parts and tools that the list needs, counted.
    pub kit: Kit,
    /// The same in words: "3 chin straps", "needle and glycerine".
    pub bring: Vec<String>,
    /// Helmets on the list that nobody has taken.
    pub not_taken: usize,
    /// Helmets that staff have seen to today.
    pub done: usize,
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
    let of_team = |own: Option<&TeamId>| team.is_none_or(|team| own == Some(team));
    let items: Vec<&Item> = scene
        .items
        .values()
        .filter(|item| item.is_open() && item.queue == Queue::Equipment && of_team(item.team.as_ref()))
        .collect();
    let checks: Vec<&MorningCheck> = scene
        .checks
        .values()
        .filter(|check| check.date == scene.today && of_team(Some(&check.team)))
        .filter(|check| check.state != CheckState::CalledOff)
        .collect();
    let in_state = |state| checks.iter().filter(move |check| check.state == state);
    let practice = event.map(|event| event.starts_at);
    let Fixing { start, hands, fix_list } = fixing(scene, team, &items, practice);
    let late = || fix_list.iter().filter(|row| !row.fits);
    let kit = kit(items.iter().map(|item| (item.flags, helmet_of(scene, item).map(|helmet| helmet.model.as_str()))));
    Today {
        program: scene.program.name.clone(),
        date: scene.today,
        next: event.map(|event| event_words(scene, event)),
        starts_at: practice,
        start_fixing_at: start,
        start_fixing: start.map(|at| words::clock_words(at.local(scene.program.zone).time(), Language::En)),
        hands,
        will_not_fit: late().count(),
        cannot_be_done: late().map(|row| row.who.clone()).collect(),
        bring: words::kit_words(&kit, Language::En),
        kit,
        not_taken: items.iter().filter(|item| item.state == ItemState::Open).count(),
        done: done(scene, team),
        not_read: items.iter().filter(|item| item.is_unread()).count(),
        silent: silent(scene, &checks),
        held: held(scene, team),
        absent: in_state(CheckState::Absent).map(|check| scene.who(&check.athlete)).collect(),
        clear: in_state(CheckState::Clear).count(),
        asked: checks.len(),
        body_reports_waiting: body_reports_waiting(scene, team),
        contact: contact(scene),
        fix_list,
    }
}

fn body_reports_waiting(scene: &Scene<'_>, team: Option<&TeamId>) -> usize {
    scene
        .items
        .values()
        .filter(|item| item.queue == Queue::Medical && item.state == ItemState::Open)
        .filter(|item| team.is_none_or(|team| item.team.as_ref().is_none_or(|own| own == team)))
        .count()
}

fn contact(scene: &Scene<'_>) -> Vec<String> {
    let open = scene.items.values().filter(|item| item.is_open() && item.queue == Queue::Contact);
    open.filter_map(|item| item.about.clone()).collect()
}

/// The fix list with its plan.
struct Fixing {
    start: Option<Moment>,
    hands: usize,
    fix_list: Vec<FixRow>,
}

fn fixing(scene: &Scene<'_>, team: Option<&TeamId>, items: &[&Item], practice: Option<Moment>) -> Fixing {
    let fixers = fixers(scene, team, items);
    let plan = make_plan(scene, items, &fixers, practice);
    let by_id: std::collections::HashMap<&str, &Item> = items.iter().map(|item| (item.id.as_str(), *item)).collect();
    Fixing {
        start: Some(plan.start).filter(|_| !items.is_empty() && practice.is_some()),
        hands: fixers.iter().filter(|fixer| fixer.on_duty).count().max(1),
        fix_list: plan
            .slots
            .iter()
            .filter_map(|slot| Some(fix_row(scene, by_id.get(slot.id.as_str())?, slot, &fixers)))
            .collect(),
    }
}

/// Helmets that staff closed today. Only what was closed today is loaded.
fn done(scene: &Scene<'_>, team: Option<&TeamId>) -> usize {
    scene
        .items
        .values()
        .filter(|item| item.queue == Queue::Equipment && !item.is_open() && item.closed_by.is_some())
        .filter(|item| item.closed_at.is_some_and(|at| at.date(scene.program.zone) == scene.today))
        .filter(|item| team.is_none_or(|team| item.team.as_ref() == Some(team)))
        .count()
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

/// Somebody who fixes helmets today.
struct Fixer<'s> {
    member: &'s StaffMember,
    /// Otherwise there for what they have taken alone.
    on_duty: bool,
}

/// Equipment staff on duty today who serve the team, in the order they are called; then whoever else has taken
/// something.
fn fixers<'s>(scene: &'s Scene<'_>, team: Option<&TeamId>, items: &[&Item]) -> Vec<Fixer<'s>> {
    let on_duty = |member: &StaffMember| {
        member.has(Role::Equipment) && member.on_duty(scene.today) && team.is_none_or(|team| member.serves(team))
    };
    let took = |member: &StaffMember| items.iter().any(|item| item.taken_by.as_ref() == Some(&member.id));
    let fixer = |member: &'s StaffMember| Fixer { member, on_duty: on_duty(member) };
    let mut fixers: Vec<Fixer<'s>> =
        scene.staff.iter().filter(|member| on_duty(member) || took(member)).map(fixer).collect();
    fixers.sort_by_key(|fixer| !fixer.on_duty);
    fixers
}

/// The plan for items: each to be done before the event it is for; what is for no event of today, when there is time.
fn make_plan(scene: &Scene<'_>, items: &[&Item], fixers: &[Fixer<'_>], practice: Option<Moment>) -> Plan<String> {
    let until = scene.now.plus(TimeDelta::days(1));
    let hand = |own_only| Hand { from: scene.now, until, own_only };
    let mut hands: Vec<Hand> = fixers.iter().map(|fixer| hours_today(scene, fixer, hand(!fixer.on_duty))).collect();
    if fixers.iter().all(|fixer| !fixer.on_duty) {
        // Nobody on duty: one pair of hands is planned with, and the alerts see to it that there is one.
        hands.push(hand(false));
    }
    let jobs: Vec<Job<String>> = items
        .iter()
        .map(|item| Job {
            id: item.id.clone(),
            urgency: Urgency::of(item.flags),
            minutes: minutes_left(scene, item),
            ready: ready(scene, item, practice),
            of: item.taken_by.as_ref().and_then(|staff| fixers.iter().position(|fixer| fixer.member.id == *staff)),
        })
        .collect();
    plan(&jobs, &hands, scene.now)
}

/// The hands of somebody with hours of duty, while they are there today.
fn hours_today(scene: &Scene<'_>, fixer: &Fixer<'_>, all_day: Hand) -> Hand {
    let Some(hours) = fixer.member.hours.filter(|_| fixer.on_duty) else { return all_day };
    let at = |time| resolve(scene.today.and_time(time), scene.program.zone);
    let until = if hours.from < hours.until { at(hours.until) } else { all_day.until };
    Hand { from: at(hours.from).max(all_day.from), until, ..all_day }
}

/// When a helmet has to be ready: before its team's next event of today.
fn ready(scene: &Scene<'_>, item: &Item, practice: Option<Moment>) -> Option<Moment> {
    let own = item.team.as_ref().and_then(|team| next_event(scene, Some(team))).map(|event| event.starts_at);
    own.or(practice.filter(|_| item.team.is_none())).map(|starts| starts.minus(READY_BEFORE))
}

/// Minutes of work that are left: what has been worked on since it was taken is taken off, but for one.
fn minutes_left(scene: &Scene<'_>, item: &Item) -> u32 {
    let whole = scene.fix_minutes.of(item.flags);
    let waits = item.about.as_deref().is_some_and(|about| about.starts_with("needs "));
    let Some(since) = item.taken_at.filter(|_| !waits) else { return whole };
    let worked = u32::try_from(scene.now.since(since).num_minutes()).unwrap_or(0);
    whole.saturating_sub(worked).max(1)
}

fn helmet_of<'s>(scene: &'s Scene<'_>, item: &Item) -> Option<&'s crate::trade::roster::Helmet> {
    item.athlete.as_ref().and_then(|athlete| scene.helmets.get(athlete))
}

fn fix_row(scene: &Scene<'_>, item: &Item, slot: &Slot<String>, fixers: &[Fixer<'_>]) -> FixRow {
    let helmet = helmet_of(scene, item);
    let planned = ready(scene, item, None).is_some();
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
        hand: fixers.get(slot.hand).map(|fixer| fixer.member.first.clone()),
        begins_at: Some(slot.begins).filter(|_| planned),
        ends_at: Some(slot.ends).filter(|_| planned),
        fits: slot.fits,
    }
}

fn team_name(scene: &Scene<'_>, team: Option<&TeamId>) -> String {
    team.and_then(|team| scene.program.teams.get(team)).map_or_else(String::new, |team| team.name.clone())
}

/// The athletes to check at the door. Those with a helmet on the fix list are there already, and those whose helmet staff
/// have seen to today need not be.
fn silent(scene: &Scene<'_>, checks: &[&MorningCheck]) -> Vec<DoorRow> {
    let seen = |item: &&Item| item.queue == Queue::Equipment && (item.is_open() || item.closed_by.is_some());
    let on_list: std::collections::BTreeSet<&AthleteId> =
        scene.items.values().filter(seen).filter_map(|item| item.athlete.as_ref()).collect();
    checks
        .iter()
        .filter(|check| check.state.needs_door_check() && !on_list.contains(&check.athlete))
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
        if self.done > 0 {
            write!(out, " · {} done", self.done)?;
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
        if !self.bring.is_empty() {
            writeln!(out, "    Bring: {}", self.bring.join(", "))?;
        }
        for (row, number) in self.fix_list.iter().zip(1..) {
            let helmet = row.helmet.as_deref().unwrap_or("no helmet on file");
            let wear = if row.do_not_wear { " · do not wear" } else { "" };
            let taken = row.taken_by.as_ref().map(|name| format!(" · {name} has it")).unwrap_or_default();
            let note = row.note.as_ref().map(|note| format!(" · {note}")).unwrap_or_default();
            let late = if row.fits { "" } else { " · cannot be done in time" };
            writeln!(out, "{number:>3} {:<18} {helmet:<7} {}{wear}{note}{taken}{late}", row.who, row.what)?;
            if let Some(reply) = &row.reply {
                writeln!(out, "      “{}”", reply.replace('\n', " / "))?;
            }
        }
        Ok(())
    }
}
