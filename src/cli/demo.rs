//! `browline demo`: a practice morning with simulated phones, in a throw-away folder. Nothing is sent to anybody.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use anyhow::{Context as _, Result, anyhow};
use chrono::{NaiveDate, TimeDelta};
use tokio::net::TcpListener;
use tokio::sync::{broadcast, watch};
use url::Url;

use super::{Ended, open};
use crate::channel::inbound::MediaLink;
use crate::channel::simulated::{SimulatedCarrier, SimulatedSettings, SimulatedText, Way};
use crate::clock::Clock;
use crate::config::Config;
use crate::desk::scene::StoryLine;
use crate::desk::{Desk, Identity};
use crate::rehearse::crowd::{self, Act, Mood, Seen};
use crate::rehearse::phones::{Person, Phones, Story, router};
use crate::rehearse::scenario::{self, EVENING, MORNING};
use crate::run;
use crate::store::Store;
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, Guardian, Guardianship, Language, ProgramId, Role, StaffMember};
use crate::trade::time::Moment;
use crate::wording::{Accents, Message};

/// What `demo` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The whole morning without waiting and without a page: prints the story and ends.
    #[arg(long)]
    plain: bool,
    /// Decides how the crowd answers; the same seed is the same morning.
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    seed: u64,
    /// Port of the page of phones; 0 takes a free one.
    #[arg(long, default_value_t = 8095, value_name = "PORT")]
    port: u16,
    /// Practice minutes a minute.
    #[arg(long, default_value_t = 20.0, value_name = "TIMES")]
    speed: f64,
}

/// Runs the demo.
///
/// # Errors
/// When the throw-away folder or the port cannot be used.
pub fn run(args: Args) -> Result<Ended> {
    if args.plain {
        // One thread, so that the story follows from the seed alone.
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        runtime.block_on(plain(&args))
    } else {
        open::runtime()?.block_on(with_page(&args))
    }
}

/// The scenario, loaded, with everything that takes part in it.
struct Stage {
    desk: Desk,
    carrier: SimulatedCarrier,
    clock: Clock,
    program: ProgramId,
    number: Phone,
    cast: Cast,
    _folder: tempfile::TempDir,
}

/// Who takes part.
struct Cast {
    seed: u64,
    date: NaiveDate,
    athletes: Vec<Athlete>,
    moods: Vec<Mood>,
    staff: Vec<StaffMember>,
    guardians: Vec<Guardian>,
    ties: Vec<Guardianship>,
}

async fn stage(args: &Args, speed: f64) -> Result<Stage> {
    let folder = tempfile::Builder::new().prefix("browline-demo").tempdir()?;
    let mut config = Config::parse("demo/browline.toml", scenario::CONFIG, |_| None)?;
    config.database = format!("sqlite://{}", folder.path().join("demo.db").display());
    let (program, number) = config
        .programs
        .values()
        .next()
        .map(|program| (program.id.clone(), program.number.clone()))
        .ok_or_else(|| anyhow!("the scenario has no program"))?;
    let start = scenario::moment(MORNING);
    let clock = Clock::practice(start, 0.0);
    let carrier =
        SimulatedCarrier::new(clock.clone(), SimulatedSettings { seed: args.seed, ..SimulatedSettings::default() });
    let wordings = open::wordings(&config)?;
    let zone = config.programs[&program].zone;
    let store = Store::open(&config.database).await?;
    let identity = Identity { worker: "demo".to_owned(), seed: args.seed };
    let desk = Desk::open(store, config, wordings, Arc::new(carrier.clone()), clock.clone(), identity);
    desk.import(&program, &scenario::files(), start, false).await?;
    let mut tx = desk.store().read().await?;
    let date = start.date(zone);
    let athletes = tx.all_athletes(&program).await?;
    let cast = Cast {
        seed: args.seed,
        date,
        moods: crowd::moods(args.seed, date, &athletes),
        athletes,
        staff: tx.all_staff(&program).await?,
        guardians: tx.all_guardians(&program).await?,
        ties: tx.all_guardianships(&program).await?,
    };
    drop(tx);
    clock.set_speed(speed);
    Ok(Stage { desk, carrier, clock, program, number, cast, _folder: folder })
}

/// A text that somebody is about to type.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Coming {
    from: Phone,
    text: String,
    photo: bool,
}

impl Cast {
    /// What athletes do about a text that has reached their phone. `answered` holds those who have written already.
    fn athletes_act(&self, desk: &Desk, text: &SimulatedText, answered: &BTreeMap<Phone, usize>) -> Vec<Act> {
        let here: Vec<(&Athlete, Mood)> = self
            .athletes
            .iter()
            .zip(&self.moods)
            .filter(|(athlete, _)| athlete.phone.as_ref() == Some(&text.to))
            .map(|(athlete, mood)| (athlete, *mood))
            .collect();
        match here.as_slice() {
            [(athlete, mood)] => self
                .seen(desk, athlete, &text.body, answered.get(&text.to).copied().unwrap_or(0))
                .map(|seen| crowd::acts(self.seed, self.date, athlete, *mood, seen))
                .unwrap_or_default(),
            [(first, _), (second, _)] if self.seen(desk, second, &text.body, 0) == Some(Seen::Check) => {
                crowd::shared(&first.first, &second.first, self.seed, self.date)
            }
            _ => Vec::new(),
        }
    }

    /// What a text asks, told by comparing it with what the program says.
    fn seen(&self, desk: &Desk, athlete: &Athlete, body: &str, answered: usize) -> Option<Seen> {
        let program = desk.config().programs.values().next()?;
        let say = |message: &Message<'_>| desk.wording(program).say(athlete.language, message, Accents::Fold);
        if body == say(&Message::Check { first: &athlete.first }) {
            Some(Seen::Check)
        } else if body == say(&Message::Unclear { first: &athlete.first }) {
            Some(Seen::AskedAgain)
        } else if body == say(&Message::Welcome { program: &program.name }) {
            None
        } else {
            match answered {
                0 => Some(Seen::Nudge),
                1 => Some(Seen::ToFix),
                _ => None,
            }
        }
    }

    fn member(&self, phone: &Phone) -> Option<&StaffMember> {
        self.staff.iter().find(|member| member.phone.as_ref() == Some(phone))
    }

    fn name(&self, phone: &Phone) -> String {
        if let Some(member) = self.member(phone) {
            return member.first.clone();
        }
        let athletes: Vec<String> =
            self.athletes.iter().filter(|athlete| athlete.phone.as_ref() == Some(phone)).map(Athlete::short).collect();
        if athletes.is_empty() { phone.short() } else { athletes.join(" / ") }
    }

    /// Everybody with a phone, for the page.
    fn people(&self) -> Vec<Person> {
        let mut people = Vec::new();
        let mut known = BTreeSet::new();
        let mut staff: Vec<&StaffMember> = self.staff.iter().collect();
        staff.sort_by_key(|member| (member.roles.first().map(|role| *role as usize), member.call_order));
        for member in staff {
            if let Some(phone) = &member.phone {
                let roles: Vec<&str> = member.roles.iter().map(|role| role_words(*role)).collect();
                let name = format!("{} {}", member.first, member.last);
                known.insert(phone.clone());
                people.push(Person { group: "Staff", name, about: roles.join(", "), phone: phone.clone() });
            }
        }
        for athlete in &self.athletes {
            let Some(phone) = athlete.phone.clone().filter(|phone| known.insert(phone.clone())) else { continue };
            let here: Vec<&Athlete> =
                self.athletes.iter().filter(|other| other.phone.as_ref() == Some(&phone)).collect();
            let names: Vec<String> =
                here.iter().map(|athlete| format!("{} {}", athlete.short(), athlete.last)).collect();
            let language = if athlete.language == Language::Es { ", Spanish" } else { "" };
            let about = if here.len() > 1 { "share a phone".to_owned() } else { format!("{}{language}", athlete.team) };
            people.push(Person { group: "Athletes", name: names.join(" and "), about, phone });
        }
        for guardian in &self.guardians {
            let Some(phone) = guardian.phone.clone().filter(|phone| known.insert(phone.clone())) else { continue };
            let of: Vec<&str> = self
                .ties
                .iter()
                .filter(|tie| tie.guardian == guardian.id)
                .filter_map(|tie| self.athletes.iter().find(|athlete| athlete.id == tie.athlete))
                .map(|athlete| athlete.first.as_str())
                .collect();
            let name = format!("{} {}", guardian.first, guardian.last);
            people.push(Person { group: "Parents", name, about: format!("for {}", of.join(" and ")), phone });
        }
        people
    }
}

const fn role_words(role: Role) -> &'static str {
    match role {
        Role::Trainer => "athletic trainer",
        Role::Equipment => "equipment",
        Role::Coach => "coach",
        Role::Responder => "responder",
        Role::Administrator => "administrator",
    }
}

fn photo() -> Vec<MediaLink> {
    let url = Url::parse("https://photos.example.org/helmet.jpg");
    url.into_iter().map(|url| MediaLink { url, content_type: Some("image/jpeg".to_owned()) }).collect()
}

async fn type_it(stage: &Stage, coming: &Coming, now: Moment) -> Result<()> {
    let media = if coming.photo { photo() } else { Vec::new() };
    let text = stage.carrier.write(&coming.from, &stage.number, &coming.text, media);
    stage.desk.receive(text, now).await?;
    Ok(())
}

/// Simulated staff of the plain run: the trainer acknowledges after the second alert, the equipment manager works down
/// the list that was texted.
#[derive(Default)]
struct StaffActs {
    alerts: BTreeMap<String, usize>,
    listed: BTreeSet<Phone>,
}

impl StaffActs {
    async fn react(&mut self, stage: &Stage, text: &SimulatedText) -> Result<Vec<(TimeDelta, String)>> {
        let Some(member) = stage.cast.member(&text.to) else { return Ok(Vec::new()) };
        let now = stage.clock.now();
        let mut acts = Vec::new();
        if member.has(Role::Trainer) {
            let mut tx = stage.desk.store().read().await?;
            for item in tx.items_open(&stage.program).await? {
                let waiting = item.queue == crate::trade::queue::Queue::Medical
                    && item.state == crate::trade::queue::ItemState::Open
                    && (item.alerts == 2 || !crate::schedule::is_pressing(&item))
                    && member.call_order == 1;
                let athlete =
                    item.athlete.as_ref().and_then(|id| stage.cast.athletes.iter().find(|other| other.id == *id));
                if let (true, Some(athlete)) = (waiting, athlete) {
                    let count = self.alerts.entry(item.id.clone()).or_default();
                    *count += 1;
                    if *count == 1 {
                        acts.push((TimeDelta::seconds(95), format!("got {}", athlete.first)));
                    }
                }
            }
        } else if member.has(Role::Equipment) && text.body.contains("LV-") && self.listed.insert(text.to.clone()) {
            let team = member.teams.first();
            let today = stage.desk.today(&stage.program, team, now).await?;
            let fixes = ["new strap", "tightened the screw", "refit", "new pad", "aired up"];
            let mine = today.fix_list.iter().filter(|row| team.is_some() || row.team == "Varsity");
            for ((row, fix), number) in mine.zip(fixes).zip(0..) {
                let jersey: String = row.who.trim_start_matches('#').split(' ').next().unwrap_or_default().to_owned();
                let at = 300 + number * 420;
                acts.push((TimeDelta::seconds(at), format!("got {jersey}")));
                acts.push((TimeDelta::seconds(at + 240), format!("{jersey} done {fix}")));
            }
        }
        Ok(acts)
    }
}

/// The whole morning on a clock that jumps from happening to happening.
async fn plain(args: &Args) -> Result<Ended> {
    let stage = stage(args, 0.0).await?;
    let zone = stage.desk.program(&stage.program)?.zone;
    let end = scenario::moment(EVENING);
    let mut story = stage.desk.story();
    let mut texts = stage.carrier.subscribe();
    let mut reports = stage.carrier.subscribe_reports();
    let mut coming: BTreeMap<(Moment, u64), Coming> = BTreeMap::new();
    let mut answered: BTreeMap<Phone, usize> = BTreeMap::new();
    let mut staff = StaffActs::default();
    let mut number = 0;
    println!("Larkspur Valley Kestrels, Tuesday September 15: a practice morning, seed {}\n", args.seed);
    loop {
        let now = stage.clock.now();
        while let Some(entry) = coming.first_entry().filter(|entry| entry.key().0 <= now) {
            let coming = entry.remove();
            say(
                now,
                zone,
                &format!(
                    "{} types: {}{}",
                    stage.cast.name(&coming.from),
                    coming.text,
                    if coming.photo { " [photo]" } else { "" }
                ),
            );
            *answered.entry(coming.from.clone()).or_default() += 1;
            type_it(&stage, &coming, now).await?;
            tell(&mut story, zone);
        }
        stage.desk.tick(now).await?;
        stage.desk.send_due(now).await?;
        while let Ok(report) = reports.try_recv() {
            stage.desk.report(&stage.program, report, now).await?;
        }
        while let Ok(text) = texts.try_recv() {
            if text.way != Way::ToPhone {
                continue;
            }
            if stage.cast.member(&text.to).is_some() {
                say(now, zone, &format!("{} gets: {}", stage.cast.name(&text.to), text.body.replace('\n', " / ")));
            }
            let acts = stage
                .cast
                .athletes_act(&stage.desk, &text, &answered)
                .into_iter()
                .map(|act| (act.after, act.text, act.photo));
            let by_staff = staff.react(&stage, &text).await?.into_iter().map(|(after, text)| (after, text, false));
            for (after, said, photo) in acts.chain(by_staff).collect::<Vec<_>>() {
                number += 1;
                coming.insert((now.plus(after), number), Coming { from: text.to.clone(), text: said, photo });
            }
        }
        tell(&mut story, zone);
        let due = stage.desk.next_due(now).await?;
        let typed = coming.first_key_value().map(|((at, _), _)| *at);
        match due.into_iter().chain(typed).min() {
            Some(next) if next <= end => stage.clock.set(next.max(now.plus(TimeDelta::milliseconds(200)))),
            _ => break,
        }
    }
    let at = scenario::moment("2026-09-15T15:20:00-05:00");
    println!("\n{}", stage.desk.today(&stage.program, None, at).await?);
    stage.desk.store().close().await;
    Ok(Ended::Well)
}

fn say(at: Moment, zone: chrono_tz::Tz, text: &str) {
    println!("{} {text}", at.local(zone).format("%H:%M:%S"));
}

fn tell(story: &mut broadcast::Receiver<StoryLine>, zone: chrono_tz::Tz) {
    while let Ok(line) = story.try_recv() {
        say(line.at, zone, &line.text);
    }
}

/// The morning with a page, at its own speed, until Ctrl-C.
async fn with_page(args: &Args) -> Result<Ended> {
    let stage = Arc::new(stage(args, args.speed).await?);
    let zone = stage.desk.program(&stage.program)?.zone;
    let listener = TcpListener::bind(("127.0.0.1", args.port))
        .await
        .with_context(|| format!("cannot listen on port {}; give another with --port", args.port))?;
    println!("Larkspur Valley Kestrels, Tuesday September 15: a practice morning, seed {}", args.seed);
    println!("Phones: http://{}  (Ctrl-C ends)\n", listener.local_addr()?);
    let (changed, _) = broadcast::channel(64);
    let lines = Story::default();
    let phones = Phones {
        desk: stage.desk.clone(),
        carrier: stage.carrier.clone(),
        clock: stage.clock.clone(),
        number: stage.number.clone(),
        people: Arc::new(stage.cast.people()),
        story: lines.clone(),
        seen: Arc::new(Mutex::default()),
        changed: changed.clone(),
    };
    let (stop, stopped) = watch::channel(false);
    let helpers = [
        tokio::spawn(told(stage.desk.story(), lines, changed.clone(), zone)),
        tokio::spawn(crowd_acts(Arc::clone(&stage), changed)),
        tokio::spawn(carrier_reports(Arc::clone(&stage))),
        tokio::spawn(evening(Arc::clone(&stage))),
    ];
    let server = tokio::spawn(async move { axum::serve(listener, router(phones)).await });
    let loops = run::run(&stage.desk, stopped);
    let ends = async {
        // Without a handler for Ctrl-C the program ends at once, which is as good.
        let _ = tokio::signal::ctrl_c().await;
        let _ = stop.send(true);
    };
    tokio::join!(loops, ends);
    server.abort();
    helpers.iter().for_each(tokio::task::JoinHandle::abort);
    println!("\n{}", stage.desk.today(&stage.program, None, stage.clock.now()).await?);
    stage.desk.store().close().await;
    Ok(Ended::Well)
}

async fn told(
    mut story: broadcast::Receiver<StoryLine>,
    lines: Story,
    changed: broadcast::Sender<()>,
    zone: chrono_tz::Tz,
) {
    loop {
        match story.recv().await {
            Ok(line) => {
                say(line.at, zone, &line.text);
                lines.add(line);
                // Nobody may be looking.
                let _ = changed.send(());
            }
            Err(broadcast::error::RecvError::Lagged(_)) => {}
            Err(broadcast::error::RecvError::Closed) => return,
        }
    }
}

/// Athletes answer; staff and parents are left to whoever watches.
async fn crowd_acts(stage: Arc<Stage>, changed: broadcast::Sender<()>) {
    let answered: Arc<Mutex<BTreeMap<Phone, usize>>> = Arc::default();
    let mut texts = stage.carrier.subscribe();
    loop {
        let text = match texts.recv().await {
            Ok(text) => text,
            Err(broadcast::error::RecvError::Lagged(_)) => continue,
            Err(broadcast::error::RecvError::Closed) => return,
        };
        let _ = changed.send(());
        let known = answered.lock().unwrap_or_else(PoisonError::into_inner).clone();
        if text.way == Way::FromPhone {
            *answered.lock().unwrap_or_else(PoisonError::into_inner).entry(text.from.clone()).or_default() += 1;
            continue;
        }
        for act in stage.cast.athletes_act(&stage.desk, &text, &known) {
            let (stage, from, at) = (Arc::clone(&stage), text.to.clone(), text.at.plus(act.after));
            tokio::spawn(async move {
                stage.clock.sleep_until(at).await;
                let coming = Coming { from, text: act.text, photo: act.photo };
                if let Err(error) = type_it(&stage, &coming, stage.clock.now()).await {
                    tracing::error!(%error, "a simulated text could not be taken in");
                }
            });
        }
    }
}

async fn carrier_reports(stage: Arc<Stage>) {
    let mut reports = stage.carrier.subscribe_reports();
    loop {
        match reports.recv().await {
            Ok(report) => {
                if let Err(error) = stage.desk.report(&stage.program, report, stage.clock.now()).await {
                    tracing::error!(%error, "a delivery report could not be taken in");
                }
            }
            Err(broadcast::error::RecvError::Lagged(_)) => {}
            Err(broadcast::error::RecvError::Closed) => return,
        }
    }
}

/// When practice begins, the morning is summed up once.
async fn evening(stage: Arc<Stage>) {
    let at = scenario::moment("2026-09-15T15:20:00-05:00");
    stage.clock.sleep_until(at).await;
    match stage.desk.today(&stage.program, None, at).await {
        Ok(today) => println!("\n{today}\n"),
        Err(error) => tracing::error!(%error, "today cannot be put together"),
    }
}
