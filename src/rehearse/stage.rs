//! The whole program among simulated people, on a practice clock: a database in a throw-away folder, the real import,
//! schedule, desk and outbox, a carrier in memory, a crowd that answers.
//!
//! One task drives everything, from happening to happening: it does what is due, lets the texts arrive, and waits for
//! the next moment or jumps to it. Jumped or waited for, each thing happens at its own time, so that a morning without
//! waiting is the same as one at the speed of life.

use std::collections::{BTreeMap, HashMap};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Context as _, Result};
use chrono::TimeDelta;
use chrono_tz::Tz;
use tokio::sync::{Notify, broadcast, watch};
use url::Url;

use super::crowd::{Act, Crowd};
use super::scenario::{self, Holder};
use super::staff::Duty;
use super::story::{Story, Told, Typed, told};
use crate::channel::inbound::{MediaLink, StatusReport};
use crate::channel::simulated::{SimulatedCarrier, SimulatedSettings, SimulatedText, Way};
use crate::clock::Clock;
use crate::config::{Config, Program};
use crate::desk::import::stored;
use crate::desk::scene::StoryLine;
use crate::desk::today::Today;
use crate::desk::{Desk, Identity};
use crate::intake::Dataset;
use crate::schedule::{Load, Step, steps};
use crate::store::Store;
use crate::store::seal::Seal;
use crate::trade::phone::Phone;
use crate::trade::roster::{Event, ProgramId, Role, StaffMember};
use crate::trade::time::Moment;
use crate::wording::{Accents, LANGUAGES, Message, Wording};

/// What is due and could not be done is tried again after this.
const AGAIN: TimeDelta = TimeDelta::milliseconds(200);
/// A text that comes within this time of what its receiver typed is an answer to it.
const ANSWERED_WITHIN: TimeDelta = TimeDelta::seconds(10);
/// With nothing ahead, the clock is looked at this often.
const IDLE: TimeDelta = TimeDelta::minutes(30);

/// How a rehearsal begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Decides what people do.
    pub seed: u64,
    /// Whether staff are simulated too; if not, they are left to whoever watches.
    pub staff: bool,
    /// Practice seconds a real second; 0 stands still.
    pub speed: f64,
}

/// A text that somebody is about to type.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Coming {
    from: Phone,
    text: String,
    photo: bool,
    /// It asks for something: the answer belongs in the story.
    asks: bool,
}

/// What has come and is not dealt with, and what is about to come.
struct Post {
    texts: broadcast::Receiver<SimulatedText>,
    reports: broadcast::Receiver<StatusReport>,
    lines: broadcast::Receiver<StoryLine>,
    /// By moment, then in the order in which it was decided.
    coming: BTreeMap<(Moment, u64), Coming>,
    decided: u64,
    /// When each phone last typed something.
    typed_at: HashMap<Phone, Moment>,
    /// What each simulated staff member's phone has shown.
    shown: HashMap<Phone, Vec<String>>,
}

/// A moment of the day's schedule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ahead {
    /// When.
    pub at: Moment,
    /// What, in a few words.
    pub what: String,
}

/// The stage.
pub struct Stage {
    /// The program's desk.
    pub desk: Desk,
    /// The carrier in memory.
    pub carrier: SimulatedCarrier,
    /// The practice clock.
    pub clock: Clock,
    /// What happened so far.
    pub story: Story,
    /// Everybody with a phone.
    pub holders: Vec<Holder>,
    program: Program,
    crowd: Crowd,
    duties: HashMap<Phone, Duty>,
    /// Held while something happens, so that each line is told with what led to it.
    post: tokio::sync::Mutex<Post>,
    /// Links to the photos that came with a text, by its id.
    photos: Mutex<HashMap<String, String>>,
    goal: Mutex<Option<Moment>>,
    wake: Notify,
    changes: AtomicU64,
    on_line: Box<dyn Fn(&Told) + Send + Sync>,
    _folder: tempfile::TempDir,
}

impl Stage {
    /// Sets the stage: imports the scenario and stands at its beginning. Every line of the story goes to `on_line`.
    ///
    /// # Errors
    /// When the temporary folder or the scenario cannot be used.
    pub async fn open(options: Options, on_line: impl Fn(&Told) + Send + Sync + 'static) -> Result<Self> {
        let folder = tempfile::Builder::new().prefix("browline-demo-").tempdir().context("no temporary folder")?;
        let mut config = Config::parse("demo/browline.toml", scenario::CONFIG, |_| None)?;
        config.database = format!("sqlite://{}", folder.path().join("demo.db").display());
        let program = config.programs.values().next().context("the scenario has no program")?.clone();
        let start = scenario::moment(scenario::START);
        let clock = Clock::manual(start);
        let settings = SimulatedSettings { seed: options.seed, ..SimulatedSettings::default() };
        let carrier = SimulatedCarrier::new(clock.clone(), settings);
        let seal = Seal::of(&[u8::try_from(options.seed % 251).unwrap_or_default(); 32]);
        let store = Store::open_with(&config.database, Some(seal)).await?;
        let wordings = [(program.id.clone(), Wording::embedded())].into();
        let identity = Identity { worker: "demo".to_owned(), seed: options.seed };
        let desk = Desk::open(store, config, wordings, Arc::new(carrier.clone()), clock.clone(), identity);
        let post = Post {
            texts: carrier.subscribe(),
            reports: carrier.subscribe_reports(),
            lines: desk.story(),
            coming: BTreeMap::new(),
            decided: 0,
            typed_at: HashMap::new(),
            shown: HashMap::new(),
        };
        desk.import(&program.id, &scenario::files(), start, false).await?;
        let data = known(&desk, &program.id).await?;
        let team = |team: &crate::trade::roster::TeamId| {
            program.teams.get(team).map_or_else(|| team.0.clone(), |team| team.name.clone())
        };
        let stage = Self {
            crowd: Crowd::new(options.seed, &texted(&data)),
            duties: if options.staff { duties(&data.staff, &program) } else { HashMap::new() },
            holders: scenario::holders(&data, |athlete| team(&athlete.team)),
            desk,
            carrier,
            clock,
            story: Story::default(),
            program,
            post: tokio::sync::Mutex::new(post),
            photos: Mutex::default(),
            goal: Mutex::default(),
            wake: Notify::new(),
            changes: AtomicU64::new(1),
            on_line: Box::new(on_line),
            _folder: folder,
        };
        let mut post = stage.post.lock().await;
        stage.tell(&mut post);
        if options.staff {
            stage.errands(&mut post);
        }
        drop(post);
        stage.clock.set_speed(options.speed);
        Ok(stage)
    }

    /// What staff are going to text unasked.
    fn errands(&self, post: &mut Post) {
        for (at, first, text) in scenario::ERRANDS {
            let holder = self.holders.iter().find(|holder| {
                holder.group == scenario::Group::Staff && holder.labels.iter().any(|label| label == first)
            });
            let Some(holder) = holder else { continue };
            post.decided += 1;
            let coming = Coming { from: holder.phone.clone(), text: (*text).to_owned(), photo: false, asks: true };
            post.coming.insert((scenario::moment(at), post.decided), coming);
        }
    }

    /// The program.
    #[must_use]
    pub const fn program(&self) -> &Program {
        &self.program
    }

    /// The program's zone.
    #[must_use]
    pub const fn zone(&self) -> Tz {
        self.program.zone
    }

    /// Grows whenever there is something new to see.
    #[must_use]
    pub fn changes(&self) -> u64 {
        self.changes.load(Ordering::Relaxed)
    }

    /// Notes that there is something new to see, and has the driver look again.
    pub fn changed(&self) {
        self.changes.fetch_add(1, Ordering::Relaxed);
        self.wake.notify_one();
    }

    /// The photo that came with a text.
    #[must_use]
    pub fn photo(&self, carrier_id: &str) -> Option<String> {
        self.photos.lock().unwrap_or_else(PoisonError::into_inner).get(carrier_id).cloned()
    }

    /// Where the driver is going without waiting, if it is.
    #[must_use]
    pub fn goal(&self) -> Option<Moment> {
        *self.goal.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Has the driver go to a moment without waiting; everything before it happens at its own time.
    pub fn go_to(&self, goal: Option<Moment>) {
        *self.goal.lock().unwrap_or_else(PoisonError::into_inner) = goal;
        self.changed();
    }

    /// Today as staff see it.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn today(&self) -> Result<Today> {
        Ok(self.desk.today(&self.program.id, None, self.clock.now()).await?)
    }

    /// The moments of the schedule after this one, within the next week, soonest first.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn ahead(&self, now: Moment) -> Result<Vec<Ahead>> {
        let date = now.date(self.zone());
        let mut tx = self.desk.store().read().await?;
        let events = tx.events(&self.program.id, date, date + TimeDelta::days(7)).await?;
        let none = Load { segments: 0, per_second: 0.0 };
        let times = |team: &_| self.program.teams.get(team).map(|team| team.times);
        let mut ahead: Vec<Ahead> = steps(&events, self.zone(), times, |_| none)
            .into_iter()
            .map(|due| Ahead { at: due.at, what: step_words(due.step).to_owned() })
            .chain(events.iter().filter(is_on).map(|event| Ahead { at: event.starts_at, what: start_words(event) }))
            .filter(|ahead| ahead.at > now)
            .collect();
        ahead.sort_by(|a, b| (a.at, &a.what).cmp(&(b.at, &b.what)));
        ahead.dedup();
        Ok(ahead)
    }

    /// Somebody types. Returns when the program has acted on it.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn types(&self, from: &Phone, text: &str, photo: bool) -> Result<()> {
        let mut post = self.post.lock().await;
        self.receive(&mut post, from, text, photo).await?;
        drop(post);
        self.changed();
        Ok(())
    }

    async fn receive(&self, post: &mut Post, from: &Phone, text: &str, photo: bool) -> Result<()> {
        self.tell(post);
        let media = if photo { photo_link(post.decided) } else { Vec::new() };
        let link = media.first().map(|media| media.url.to_string());
        let incoming = self.carrier.write(from, &self.program.number, text, media);
        if let Some(link) = link {
            let mut photos = self.photos.lock().unwrap_or_else(PoisonError::into_inner);
            photos.insert(incoming.carrier_id.clone(), link);
        }
        let now = self.clock.now();
        post.typed_at.insert(from.clone(), now);
        self.desk.receive(incoming, now).await?;
        let labels = self.holder(from).map(|holder| holder.labels.clone()).unwrap_or_default();
        let words = match (text.is_empty(), photo) {
            (true, true) => "[photo]".to_owned(),
            (false, true) => format!("{text} [photo]"),
            _ => text.replace('\n', " / "),
        };
        let typed = Typed { text: words, phone: from.clone(), labels };
        for line in told(now, self.zone(), typed, drain(&mut post.lines)) {
            self.say(line);
        }
        Ok(())
    }

    /// Does everything that is due now: what people are about to type, the schedule, the outbox.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn settle(&self) -> Result<()> {
        let mut post = self.post.lock().await;
        let post = &mut *post;
        let now = self.clock.now();
        while let Some(entry) = post.coming.first_entry().filter(|entry| entry.key().0 <= now) {
            let coming = entry.remove();
            self.receive(post, &coming.from, &coming.text, coming.photo).await?;
            if coming.asks {
                post.typed_at.remove(&coming.from);
            }
        }
        self.desk.tick(now).await?;
        self.tell(post);
        self.desk.send_due(now).await?;
        for report in drain(&mut post.reports) {
            self.desk.report(&self.program.id, report, now).await?;
        }
        self.tell(post);
        for text in drain(&mut post.texts) {
            self.arrives(post, &text);
        }
        Ok(())
    }

    /// A text is on a phone: whoever holds it decides what to do.
    fn arrives(&self, post: &mut Post, text: &SimulatedText) {
        self.changes.fetch_add(1, Ordering::Relaxed);
        if text.way == Way::FromPhone {
            return;
        }
        let phone = &text.to;
        if let Some(holder) = self.holder(phone).filter(|_| self.is_news(post, text)) {
            let body = text.body.replace('\n', " / ");
            let line = format!("to {}: {body}", holder.labels.first().unwrap_or(&holder.name));
            self.say(Told { at: text.at, zone: self.zone(), text: line, typed: None, phone: Some(phone.clone()) });
        }
        let mut acts = self.crowd.answers(text.at.date(self.zone()), phone, &text.body);
        if let Some(duty) = self.duties.get(phone) {
            let shown = post.shown.entry(phone.clone()).or_default();
            acts.extend(duty.answers(shown, &text.body));
            shown.push(text.body.clone());
        }
        for Act { after, text: typed, photo } in acts {
            post.decided += 1;
            let coming = Coming { from: phone.clone(), text: typed, photo, asks: false };
            post.coming.insert((text.at.plus(after), post.decided), coming);
        }
    }

    /// Whether a text belongs in the story: what staff get, but for the answers to what they have just typed, which the
    /// story has told, and the first text of all.
    fn is_news(&self, post: &Post, text: &SimulatedText) -> bool {
        let answered = post.typed_at.get(&text.to).is_some_and(|typed| text.at.since(*typed) <= ANSWERED_WITHIN);
        let program = &self.program.name;
        let start = Message::StaffStart { program };
        let wording = self.desk.wording(&self.program);
        let starts = || LANGUAGES.iter().any(|language| wording.say(*language, &start, Accents::Fold) == text.body);
        let to_staff = self.holder(&text.to).is_some_and(|holder| holder.group == scenario::Group::Staff);
        to_staff && !answered && !starts()
    }

    /// When something happens next, if anything is ahead.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn next(&self) -> Result<Option<Moment>> {
        let now = self.clock.now();
        let typed = self.post.lock().await.coming.first_key_value().map(|((at, _), _)| *at);
        let due = self.desk.next_due(now).await?;
        Ok(due.into_iter().chain(typed).min().map(|next| next.max(now.plus(AGAIN))))
    }

    /// Goes from happening to happening until a moment, without waiting.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn run_to(&self, end: Moment) -> Result<()> {
        loop {
            self.settle().await?;
            match self.next().await? {
                Some(next) if next <= end => self.clock.set(next),
                _ => break,
            }
        }
        self.clock.set(end.max(self.clock.now()));
        Ok(())
    }

    /// Drives the practice at its clock's speed, or without waiting to where [`Stage::go_to`] says, until `stop` turns
    /// true.
    ///
    /// # Errors
    /// When the store fails.
    pub async fn drive(&self, mut stop: watch::Receiver<bool>) -> Result<()> {
        while !*stop.borrow() {
            self.settle().await?;
            let next = self.next().await?;
            if let Some(goal) = self.goal() {
                // A running clock is not turned back.
                self.clock.set(next.map_or(goal, |next| next.min(goal)).max(self.clock.now()));
                if self.clock.now() >= goal {
                    self.go_to(None);
                }
                continue;
            }
            let next = next.unwrap_or_else(|| self.clock.now().plus(IDLE));
            tokio::select! {
                () = self.clock.sleep_until(next) => {}
                () = self.wake.notified() => {}
                // Somebody did something on the board: what it says goes out.
                () = self.desk.woken() => {}
                _ = stop.changed() => {}
            }
        }
        Ok(())
    }

    fn holder(&self, phone: &Phone) -> Option<&Holder> {
        self.holders.iter().find(|holder| holder.phone == *phone)
    }

    /// Tells what happened by itself.
    fn tell(&self, post: &mut Post) {
        for line in drain(&mut post.lines) {
            let about = |holder: &&Holder| {
                holder
                    .labels
                    .iter()
                    .any(|label| line.text.strip_prefix(label.as_str()).is_some_and(|rest| rest.starts_with(':')))
            };
            let phone = self.holders.iter().find(about).map(|holder| holder.phone.clone());
            self.say(Told { at: line.at, zone: self.zone(), text: line.text, typed: None, phone });
        }
    }

    fn say(&self, line: Told) {
        (self.on_line)(&line);
        self.story.add(line);
        self.changes.fetch_add(1, Ordering::Relaxed);
    }
}

fn drain<T: Clone>(from: &mut broadcast::Receiver<T>) -> Vec<T> {
    use broadcast::error::TryRecvError;
    let mut all = Vec::new();
    loop {
        match from.try_recv() {
            Ok(one) => all.push(one),
            // What was lost is still on the phones and in the store; only the telling has a gap.
            Err(TryRecvError::Lagged(_)) => {}
            Err(TryRecvError::Empty | TryRecvError::Closed) => return all,
        }
    }
}

async fn known(desk: &Desk, program: &ProgramId) -> Result<Dataset> {
    let mut tx = desk.store().read().await?;
    Ok(stored(&mut tx, program).await?)
}

/// The athletes who are texted: with a phone, and with consent for it.
fn texted(data: &Dataset) -> Vec<crate::trade::roster::Athlete> {
    let consented =
        |athlete: &&crate::trade::roster::Athlete| data.consents.iter().any(|consent| athlete.consented(consent));
    data.athletes.iter().filter(consented).cloned().collect()
}

/// The first trainer answers alerts; each team's list goes to one who serves that team alone, or to the first who serves
/// all.
fn duties(staff: &[StaffMember], program: &Program) -> HashMap<Phone, Duty> {
    let mut in_order: Vec<&StaffMember> = staff.iter().collect();
    in_order.sort_by_key(|member| member.call_order);
    let mut duties = HashMap::new();
    let mut give = |member: Option<&&StaffMember>, duty: Duty| {
        if let Some(phone) = member.and_then(|member| member.phone.clone()) {
            duties.entry(phone).or_insert(duty);
        }
    };
    give(in_order.iter().find(|member| member.has(Role::Trainer)), Duty::Alerts);
    for team in program.teams.values() {
        let equipment = || in_order.iter().filter(|member| member.has(Role::Equipment));
        let own = equipment().find(|member| member.teams == [team.id.clone()]);
        give(own.or_else(|| equipment().find(|member| member.serves(&team.id))), Duty::FixList(team.name.clone()));
    }
    duties
}

fn photo_link(number: u64) -> Vec<MediaLink> {
    let url = Url::parse(&format!("https://photos.example.org/{number}.jpg"));
    url.into_iter().map(|url| MediaLink { url, content_type: Some("image/jpeg".to_owned()) }).collect()
}

fn is_on(event: &&Event) -> bool {
    event.helmets && !event.cancelled
}

const fn step_words(step: Step) -> &'static str {
    match step {
        Step::Check => "check texts go out",
        Step::Nudge => "the silent are reminded",
        Step::FixList => "the fix list goes out",
        Step::FixAgain | Step::FixSecond | Step::FixEveryone => "helmets that nobody took are called out again",
        Step::Silent => "staff get the silent list",
        Step::Availability => "coaches hear who is out",
    }
}

fn start_words(event: &Event) -> String {
    match event.kind {
        crate::trade::roster::EventKind::Practice => "practice begins".to_owned(),
        crate::trade::roster::EventKind::Game => "game begins".to_owned(),
    }
}
