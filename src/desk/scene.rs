//! What a decision sees and what it changes: plain values, no SQL.
//!
//! The desk loads a [`Scene`] for the happenings of one transaction, pure functions decide on it one happening after the
//! other, and what they changed is written back in a few statements. So decisions can be tested without a database, and
//! a burst of replies costs one commit.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{NaiveDate, TimeDelta};

use super::record;
use crate::config::Program;
use crate::schedule::after_quiet;
use crate::store::chat::ChatPost;
use crate::store::rows::{
    Happening, InMessage, Interpretation, Number, OutMessage, OutState, ProgramRow, Purpose, RecordLine,
};
use crate::trade::drill::{Absence, Drill};
use crate::trade::morning::MorningCheck;
use crate::trade::notice::News;
use crate::trade::phone::Phone;
use crate::trade::plan::FixMinutes;
use crate::trade::queue::{Hold, HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{Athlete, AthleteId, Event, EventId, Guardian, Helmet, Language, Role, StaffMember, TeamId};
use crate::trade::time::Moment;
use crate::trade::times::QuietHours;
use crate::wording::{Accents, Message, Wording, segments, words};

/// Values by key, with those remembered that were changed.
#[derive(Debug)]
pub struct Kept<K, V> {
    all: BTreeMap<K, V>,
    changed: BTreeSet<K>,
}

impl<K, V> Default for Kept<K, V> {
    fn default() -> Self {
        Self { all: BTreeMap::new(), changed: BTreeSet::new() }
    }
}

impl<K: Ord + Clone, V: Clone> Kept<K, V> {
    /// Takes in what is stored.
    pub fn load(&mut self, values: impl IntoIterator<Item = (K, V)>) {
        self.all.extend(values);
    }

    /// The value at a key.
    pub fn get(&self, key: &K) -> Option<&V> {
        self.all.get(key)
    }

    /// Sets a value, to be written.
    pub fn put(&mut self, key: K, value: V) {
        self.changed.insert(key.clone());
        self.all.insert(key, value);
    }

    /// Changes the value at a key, if there is one.
    pub fn change(&mut self, key: &K, change: impl FnOnce(&mut V)) {
        if let Some(value) = self.all.get_mut(key) {
            change(value);
            self.changed.insert(key.clone());
        }
    }

    /// All values.
    pub fn values(&self) -> impl Iterator<Item = &V> {
        self.all.values()
    }

    /// Those to be written.
    pub fn changed(&self) -> Vec<V> {
        self.changed.iter().filter_map(|key| self.all.get(key).cloned()).collect()
    }
}

/// One line of the story: what happened, for people who watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoryLine {
    /// When.
    pub at: Moment,
    /// What, in plain words, without medical detail.
    pub text: String,
}

/// Queued messages to drop.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cancel {
    /// Everything to a number, but for confirmations of its rights.
    To(Phone),
    /// Nudges to an athlete for a day.
    Nudge(NaiveDate, AthleteId),
    /// Checks and nudges to an athlete for a day.
    Checks(NaiveDate, AthleteId),
}

/// What a decision sees and changes, for one program.
pub struct Scene<'a> {
    /// The program's settings.
    pub program: &'a Program,
    /// Its texts.
    pub wording: &'a Wording,
    /// The present moment.
    pub now: Moment,
    /// Today in the program's zone.
    pub today: NaiveDate,
    /// Athletes known here.
    pub athletes: BTreeMap<AthleteId, Athlete>,
    /// Whose number it is.
    pub at_phone: HashMap<Phone, Vec<AthleteId>>,
    /// Guardians by number, with those they answer for.
    pub guardians: HashMap<Phone, Vec<(Guardian, Vec<AthleteId>)>>,
    /// All active staff, in the order they are called.
    pub staff: Vec<StaffMember>,
    /// Who wears which helmet.
    pub helmets: BTreeMap<AthleteId, Helmet>,
    /// Minutes a fix takes, learned where there was enough to learn from.
    pub fix_minutes: FixMinutes,
    /// Numbers.
    pub numbers: Kept<Phone, Number>,
    /// Checks.
    pub checks: Kept<(AthleteId, NaiveDate), MorningCheck>,
    /// Items.
    pub items: Kept<String, Item>,
    /// Open holds.
    pub holds: Kept<String, Hold>,
    /// Events around today.
    pub events: Kept<EventId, Event>,
    /// Messages to queue.
    pub out: Vec<OutMessage>,
    /// Messages heard, to store.
    pub heard: Vec<InMessage>,
    /// Messages to drop, before those to queue are queued.
    pub cancels: Vec<Cancel>,
    /// Scheduled things done.
    pub happenings: Vec<Happening>,
    /// What unclear replies meant, by the word of staff.
    pub interpretations: Vec<Interpretation>,
    /// New lines of the record.
    pub record: Vec<RecordLine>,
    /// The head of the record.
    pub head: ProgramRow,
    /// The story, told after the commit.
    pub story: Vec<StoryLine>,
    /// Codes for chat accounts that were asked for: drawn when the scene is written.
    pub codes_wanted: Vec<super::chat::link::Wanted>,
    /// Accounts of athletes who get their check in chat.
    pub chat_accounts: BTreeMap<AthleteId, String>,
    /// New posts on the chat platform.
    pub posts: Vec<ChatPost>,
    /// What families may hear.
    pub news: Vec<(AthleteId, News)>,
    /// Families: what they were told, and what they say.
    pub families: super::notices::Families,
    /// What coverage is looked at with, when it was loaded.
    pub drills: Option<super::drills::Book>,
    /// Drills to write.
    pub drilled: Vec<Drill>,
    /// Absences to write.
    pub absences: Vec<Absence>,
    /// The kits, when they were loaded; what changes in them is written.
    pub kits: Option<super::kits::Cupboard>,
    /// The helmets, when they were loaded; what changes in them is written.
    pub rack: Option<super::helmets::Rack>,
    /// The ways back of those who are held, when they were loaded; what changes in them is written.
    pub ways: Option<super::clearance::Ways>,
    /// Check-ins of those who are held.
    pub check_ins: super::clearance::CheckIns,
}

/// Someone who is written to.
#[derive(Debug, Clone, Copy)]
pub struct To<'a> {
    /// The number.
    pub phone: &'a Phone,
    /// The language.
    pub language: Language,
    /// The athlete it is about.
    pub athlete: Option<&'a AthleteId>,
}

impl<'a> Scene<'a> {
    /// An empty scene.
    #[must_use]
    pub fn new(program: &'a Program, wording: &'a Wording, now: Moment, head: ProgramRow) -> Self {
        Self {
            program,
            wording,
            now,
            today: now.date(program.zone),
            athletes: BTreeMap::new(),
            at_phone: HashMap::new(),
            guardians: HashMap::new(),
            staff: Vec::new(),
            helmets: BTreeMap::new(),
            fix_minutes: program.fix_minutes.clone(),
            numbers: Kept::default(),
            checks: Kept::default(),
            items: Kept::default(),
            holds: Kept::default(),
            events: Kept::default(),
            out: Vec::new(),
            heard: Vec::new(),
            cancels: Vec::new(),
            happenings: Vec::new(),
            interpretations: Vec::new(),
            record: Vec::new(),
            head,
            story: Vec::new(),
            codes_wanted: Vec::new(),
            chat_accounts: BTreeMap::new(),
            posts: Vec::new(),
            news: Vec::new(),
            families: super::notices::Families::default(),
            drills: None,
            drilled: Vec::new(),
            absences: Vec::new(),
            kits: None,
            rack: None,
            ways: None,
            check_ins: super::clearance::CheckIns::default(),
        }
    }

    /// What is known of a number.
    #[must_use]
    pub fn number(&self, phone: &Phone) -> Number {
        let new = || Number::new(self.program.id.clone(), phone.clone());
        self.numbers.get(phone).cloned().unwrap_or_else(new)
    }

    /// Changes what is known of a number.
    pub fn change_number(&mut self, phone: &Phone, change: impl FnOnce(&mut Number)) {
        let mut number = self.number(phone);
        change(&mut number);
        self.numbers.put(phone.clone(), number);
    }

    /// Adds a line to the record.
    pub fn note(&mut self, who: &str, what: &str, subject: &str, why: &str, message: Option<&str>) {
        let line = record::append(&mut self.head, self.now, who, what, subject, why, message);
        self.record.push(line);
    }

    /// Says that something happened of which the athlete's family may be told.
    pub fn family_hears(&mut self, athlete: &AthleteId, news: News) {
        self.news.push((athlete.clone(), news));
    }

    /// Adds a line to the story.
    pub fn tell(&mut self, text: impl Into<String>) {
        self.story.push(StoryLine { at: self.now, text: text.into() });
    }

    /// The hours in which a team, or the whole program, is not texted.
    #[must_use]
    pub fn quiet(&self, team: Option<&TeamId>) -> Option<QuietHours> {
        let team = team.and_then(|team| self.program.teams.get(team));
        team.or_else(|| self.program.teams.values().next()).map(|team| team.times.quiet)
    }

    /// Says a message, in a language.
    #[must_use]
    pub fn say(&self, language: Language, message: &Message<'_>) -> String {
        let accents = if self.program.fold_accents { Accents::Fold } else { Accents::Keep };
        self.wording.say(language, message, accents)
    }

    /// Queues a message under its natural key, unless its number is stopped; the first to a number is preceded by who
    /// writes, how often, and how to stop.
    pub fn send(&mut self, to: To<'_>, purpose: Purpose, key: String, message: &Message<'_>, send_by: Option<Moment>) {
        let body = self.say(to.language, message);
        self.send_text(to, purpose, key, body, send_by);
    }

    /// As [`Scene::send`], for a text that is made already.
    pub fn send_text(&mut self, to: To<'_>, purpose: Purpose, key: String, body: String, send_by: Option<Moment>) {
        let number = self.number(to.phone);
        if number.is_stopped() && purpose != Purpose::Rights {
            return;
        }
        // The visitors' medical staff get one text a game that says itself who writes and how to stop it.
        let is_visitor = self.program.drills.time_out_also.contains(to.phone);
        if number.welcomed_at.is_none() && self.welcomes(purpose) && !is_visitor {
            self.welcome(to, purpose);
        }
        self.queue(to, purpose, key, body, send_by);
    }

    const fn welcomes(&self, purpose: Purpose) -> bool {
        matches!(
            purpose,
            Purpose::Check
                | Purpose::List
                | Purpose::Medical
                | Purpose::Change
                | Purpose::Staff
                | Purpose::Notice
                | Purpose::NoticeAtOnce
        )
    }

    fn welcome(&mut self, to: To<'_>, purpose: Purpose) {
        let name = self.program.name.clone();
        let is_staff = self.staff.iter().any(|member| member.phone.as_ref() == Some(to.phone));
        let is_family = matches!(purpose, Purpose::Notice | Purpose::NoticeAtOnce);
        let message = match (is_staff, is_family) {
            (true, _) => Message::StaffStart { program: &name },
            (false, true) => Message::FamilyWelcome { program: &name },
            (false, false) => Message::Welcome { program: &name },
        };
        let body = self.say(to.language, &message);
        let now = self.now;
        self.change_number(to.phone, |number| number.welcomed_at = Some(now));
        let key = format!("welcome/{}", to.phone);
        self.queue(To { athlete: None, ..to }, Purpose::Welcome, key, body, None);
    }

    fn queue(&mut self, to: To<'_>, purpose: Purpose, key: String, body: String, send_by: Option<Moment>) {
        let team = to.athlete.and_then(|id| self.athletes.get(id)).map(|athlete| athlete.team.clone());
        let due_at = match self.quiet(team.as_ref()) {
            Some(quiet) if !purpose.ignores_quiet_hours() => after_quiet(self.now, quiet, self.program.zone),
            _ => self.now,
        };
        let counted = segments::count(&body).segments;
        self.out.push(OutMessage {
            program: self.program.id.clone(),
            id: key,
            phone: to.phone.clone(),
            segments: i64::try_from(counted).unwrap_or(i64::MAX),
            body,
            purpose,
            priority: purpose.priority(),
            athlete: to.athlete.cloned(),
            date: matches!(purpose, Purpose::Check | Purpose::Nudge).then_some(self.today),
            state: OutState::Due,
            due_at,
            send_by,
            created_at: self.now,
            attempts: 0,
            first_tried_at: None,
            in_doubt: false,
            claimed_by: None,
            lease_until: None,
            carrier_id: None,
            sent_at: None,
            error: None,
        });
    }

    /// Drops queued messages: those stored when the scene is written, those queued here at once.
    pub fn cancel(&mut self, cancel: Cancel) {
        self.out.retain(|message| {
            message.purpose == Purpose::Rights
                || match &cancel {
                    Cancel::To(phone) => message.phone != *phone,
                    Cancel::Nudge(date, athlete) => {
                        message.purpose != Purpose::Nudge
                            || message.date != Some(*date)
                            || message.athlete.as_ref() != Some(athlete)
                    }
                    Cancel::Checks(date, athlete) => {
                        !matches!(message.purpose, Purpose::Check | Purpose::Nudge)
                            || message.date != Some(*date)
                            || message.athlete.as_ref() != Some(athlete)
                    }
                }
        });
        self.cancels.push(cancel);
    }

    /// Staff with a role who serve a team and are on duty on a day, in the order they are called.
    pub fn on_duty(&self, role: Role, team: Option<&TeamId>, date: NaiveDate) -> Vec<StaffMember> {
        self.staff
            .iter()
            .filter(|member| member.has(role) && member.phone.is_some() && member.on_duty(date))
            .filter(|member| team.is_none_or(|team| member.serves(team)))
            .cloned()
            .collect()
    }

    /// The athletic trainer whom athletes are sent to: the first on duty today, else the first there is.
    #[must_use]
    pub fn trainer(&self, team: Option<&TeamId>) -> Option<StaffMember> {
        let on_duty = self.on_duty(Role::Trainer, team, self.today).into_iter().next();
        on_duty.or_else(|| self.staff.iter().find(|member| member.has(Role::Trainer)).cloned())
    }

    /// Name and number of the trainer whom an athlete with a body complaint is sent to, when there is one.
    #[must_use]
    pub fn trainer_contact(&self, team: Option<&TeamId>) -> (Option<String>, Option<String>) {
        self.trainer(team).map_or((None, None), |member| (Some(member.first), member.phone.as_ref().map(phone_words)))
    }

    /// Where helmets are fixed, as it stands in a sentence.
    #[must_use]
    pub fn place(&self, language: Language) -> String {
        let own = self.program.equipment_room.clone();
        own.unwrap_or_else(|| words::equipment_room(language).to_owned())
    }

    /// The athlete's newest check, up to today.
    #[must_use]
    pub fn latest_check(&self, athlete: &AthleteId) -> Option<&MorningCheck> {
        self.checks
            .values()
            .filter(|check| check.athlete == *athlete && check.date <= self.today)
            .max_by_key(|check| check.date)
    }

    /// The team's next event with helmets that has not begun, within a week.
    #[must_use]
    pub fn next_event(&self, team: &TeamId) -> Option<&Event> {
        self.events
            .values()
            .filter(|event| event.team == *team && event.helmets && !event.cancelled)
            .filter(|event| event.starts_at >= self.now)
            .filter(|event| event.starts_at.since(self.now) <= TimeDelta::days(7))
            .min_by_key(|event| event.starts_at)
    }

    /// The athlete's open holds.
    pub fn holds_on<'s>(&'s self, athlete: &'s AthleteId) -> impl Iterator<Item = &'s Hold> {
        self.holds.values().filter(move |hold| hold.athlete == *athlete && hold.closed_at.is_none())
    }

    /// Whether the athlete is held for the body.
    #[must_use]
    pub fn is_held_for_body(&self, athlete: &AthleteId) -> bool {
        self.holds_on(athlete).any(|hold| hold.kind != HoldKind::Equipment)
    }

    /// Opens a hold, unless there is one of the kind.
    pub fn hold(&mut self, athlete: &AthleteId, kind: HoldKind, by: &str, message: Option<&str>) {
        if self.holds_on(athlete).any(|hold| hold.kind == kind) {
            return;
        }
        let kind_name = kind_name(kind);
        let id = format!("{athlete}/{kind_name}/{}", self.now.millis());
        let hold = Hold {
            program: self.program.id.clone(),
            id: id.clone(),
            athlete: athlete.clone(),
            kind,
            opened_at: self.now,
            opened_by: by.to_owned(),
            closed_at: None,
            closed_by: None,
        };
        self.holds.put(id, hold);
        self.note(by, "hold opened", athlete.as_str(), kind_name, message);
        self.family_hears(athlete, if kind == HoldKind::Equipment { News::HelmetOut } else { News::Held });
    }

    /// Ends the holds of one kind. Medical holds are not ended here: they need a clinician's recorded decision.
    pub fn release(&mut self, athlete: &AthleteId, kind: HoldKind, by: &str, message: Option<&str>) {
        assert!(kind != HoldKind::Medical, "the program never lifts a medical hold by itself");
        self.end_holds(athlete, kind, by, message);
    }

    /// Ends the holds for the body after a clearance took effect: for [`super::clearance::record`] alone, which has the
    /// clinician's decision on file.
    pub(super) fn release_cleared(&mut self, athlete: &AthleteId, by: &str, key: &str) {
        for kind in [HoldKind::Medical, HoldKind::Trainer] {
            self.end_holds(athlete, kind, by, Some(key));
        }
    }

    fn end_holds(&mut self, athlete: &AthleteId, kind: HoldKind, by: &str, message: Option<&str>) {
        let ids: Vec<String> =
            self.holds_on(athlete).filter(|hold| hold.kind == kind).map(|hold| hold.id.clone()).collect();
        let now = self.now;
        for id in ids {
            self.holds.change(&id, |hold| {
                hold.closed_at = Some(now);
                hold.closed_by = Some(by.to_owned());
            });
            self.note(by, "hold ended", athlete.as_str(), kind_name(kind), message);
            self.family_hears(athlete, if kind == HoldKind::Equipment { News::HelmetBack } else { News::Cleared });
        }
    }

    /// The item with this key, or a new one that is open.
    pub fn item(&mut self, queue: Queue, subject: &str, athlete: Option<&AthleteId>) -> Item {
        let key = item_key(queue, subject, self.today);
        // An item still open from an earlier day goes on: one a person at a time.
        let earlier = self.items.values().find(|item| {
            item.is_open() && item.queue == queue && athlete.is_some() && item.athlete.as_ref() == athlete
        });
        if let Some(item) = earlier {
            return item.clone();
        }
        let key = match self.items.get(&key) {
            Some(item) if item.is_open() => return item.clone(),
            // Closed today already: what comes now is new.
            Some(_) => format!("{key}/{}", self.now.millis()),
            None => key,
        };
        let athlete_row = athlete.and_then(|id| self.athletes.get(id));
        let team = athlete_row.map(|athlete| athlete.team.clone());
        let event = team.as_ref().and_then(|team| self.next_event(team)).cloned();
        let due_at = event.as_ref().map(|event| {
            let before = self.program.teams.get(&event.team).map(|team| team.times.fix_by_before.span());
            event.starts_at.minus(before.unwrap_or_default())
        });
        Item {
            program: self.program.id.clone(),
            id: key,
            queue,
            athlete: athlete.cloned(),
            team,
            event: event.as_ref().map(|event| event.id.clone()),
            date: event.map_or(self.today, |event| event.date),
            flags: crate::trade::flag::Flags::NONE,
            about: None,
            replies: Vec::new(),
            photos: Vec::new(),
            state: ItemState::Open,
            red_flag: false,
            opened_at: self.now,
            due_at,
            taken_by: None,
            taken_at: None,
            closed_by: None,
            closed_at: None,
            done: None,
            alerts: 0,
        }
    }

    /// How staff are told of an athlete: "#12 Jonah".
    #[must_use]
    pub fn who(&self, athlete: &AthleteId) -> String {
        self.athletes.get(athlete).map_or_else(|| athlete.0.clone(), Athlete::short)
    }
}

/// Natural key of an item: queue, subject, day.
#[must_use]
pub fn item_key(queue: Queue, subject: &str, date: NaiveDate) -> String {
    let queue = match queue {
        Queue::Equipment => "equipment",
        Queue::Medical => "medical",
        Queue::Contact => "contact",
    };
    format!("{queue}/{subject}/{date}")
}

/// The word for a hold in keys and in the record.
#[must_use]
pub const fn kind_name(kind: HoldKind) -> &'static str {
    match kind {
        HoldKind::Equipment => "equipment",
        HoldKind::Trainer => "trainer",
        HoldKind::Medical => "medical",
    }
}

/// A number as people read it in a text: "312-555-0100" for a North American one.
#[must_use]
pub fn phone_words(phone: &Phone) -> String {
    let text = phone.as_str();
    match text.strip_prefix("+1") {
        Some(rest) if rest.len() == 10 => format!("{}-{}-{}", &rest[..3], &rest[3..6], &rest[6..]),
        _ => text.to_owned(),
    }
}
