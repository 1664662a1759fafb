//! The page of phones: pick anybody, see their texts, type as them, and move the practice clock. Loopback alone.
//!
//! Rendered on the server; a small script only refreshes what changed. Without script, forms and a reload do.

use std::collections::{BTreeMap, HashMap, VecDeque};
use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::sse::{Event as Sse, KeepAlive, Sse as SseAnswer};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Form, Router};
use chrono::TimeDelta;
use futures::Stream;
use minijinja::{Environment, context};
use serde::Deserialize;
use tokio::sync::broadcast;

use crate::channel::simulated::{SimulatedCarrier, Way};
use crate::clock::Clock;
use crate::desk::Desk;
use crate::desk::scene::{StoryLine, phone_words};
use crate::trade::phone::Phone;

const PAGE: &str = include_str!("../../templates/pages/phones.html");
/// Lines of the story that the page shows.
const STORY_SHOWN: usize = 60;

/// Somebody with a phone.
#[derive(Debug, Clone)]
pub struct Person {
    /// "Staff", "Athletes", "Parents".
    pub group: &'static str,
    /// Name, and what they do or wear.
    pub name: String,
    /// The same in a few words.
    pub about: String,
    /// Number.
    pub phone: Phone,
}

/// What the page shares.
#[derive(Clone)]
pub struct Phones {
    /// The desk.
    pub desk: Desk,
    /// The carrier.
    pub carrier: SimulatedCarrier,
    /// The practice clock.
    pub clock: Clock,
    /// The program's number.
    pub number: Phone,
    /// Everybody, in order.
    pub people: Arc<Vec<Person>>,
    /// The story so far.
    pub story: Story,
    /// How many texts of each phone have been looked at.
    pub seen: Arc<Mutex<HashMap<Phone, usize>>>,
    /// Tells the page that something changed.
    pub changed: broadcast::Sender<()>,
}

/// The last lines of the story.
#[derive(Clone, Default)]
pub struct Story(Arc<Mutex<VecDeque<StoryLine>>>);

impl Story {
    /// Adds a line.
    pub fn add(&self, line: StoryLine) {
        let mut lines = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        lines.push_front(line);
        lines.truncate(STORY_SHOWN);
    }

    fn lines(&self) -> Vec<StoryLine> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).iter().cloned().collect()
    }
}

/// The page's routes.
pub fn router(phones: Phones) -> Router {
    Router::new()
        .route("/", get(page))
        .route("/type", post(type_as))
        .route("/clock", post(move_clock))
        .route("/changes", get(changes))
        .with_state(phones)
}

#[derive(Debug, Deserialize)]
struct Pick {
    phone: Option<String>,
    find: Option<String>,
}

struct Row {
    name: String,
    about: String,
    phone: String,
    last: String,
    unread: usize,
    picked: bool,
}

impl Row {
    fn value(&self) -> minijinja::Value {
        context! {
            name => self.name.as_str(), about => self.about.as_str(), phone => self.phone.as_str(),
            last => self.last.as_str(), unread => self.unread, picked => self.picked,
        }
    }
}

struct Text {
    body: String,
    mine: bool,
    at: String,
}

async fn page(State(phones): State<Phones>, Query(pick): Query<Pick>) -> Response {
    let picked = pick
        .phone
        .as_deref()
        .and_then(|phone| phones.people.iter().find(|person| person.phone.as_str() == phone))
        .or_else(|| phones.people.first());
    let zone = phones.desk.config().programs.values().next().map_or(chrono_tz::UTC, |program| program.zone);
    let mut texts: HashMap<Phone, Vec<Text>> = HashMap::new();
    for text in phones.carrier.texts() {
        let mine = text.way == Way::FromPhone;
        let phone = if mine { text.from } else { text.to };
        let at = text.at.local(zone).format("%-I:%M %p").to_string();
        texts.entry(phone).or_default().push(Text { body: text.body, mine, at });
    }
    let thread = picked.map(|person| texts.remove(&person.phone).unwrap_or_default()).unwrap_or_default();
    if let Some(person) = picked {
        phones.seen.lock().unwrap_or_else(PoisonError::into_inner).insert(person.phone.clone(), thread.len());
    }
    let find = pick.find.unwrap_or_default();
    let groups = groups(&phones, picked, &texts, &find);
    let now = phones.clock.now().local(zone);
    let story: Vec<_> = phones
        .story
        .lines()
        .into_iter()
        .map(|line| context! { at => line.at.local(zone).format("%-I:%M").to_string(), text => line.text })
        .collect();
    let rendered = environment().and_then(|environment| {
        environment.get_template("phones.html")?.render(context! {
            groups => groups.iter().map(|(name, rows)| context! { name => name.as_str(), rows => rows.iter().map(Row::value).collect::<Vec<_>>() }).collect::<Vec<_>>(),
            find,
            person => picked.map(|person| context! { name => person.name.as_str(), about => person.about.as_str(), phone => person.phone.as_str(), number => phone_words(&person.phone) }),
            thread => thread.iter().map(|text| context! { body => text.body.as_str(), mine => text.mine, at => text.at.as_str() }).collect::<Vec<_>>(),
            program => phone_words(&phones.number),
            time => now.format("%-I:%M:%S %p").to_string(),
            day => now.format("%A, %B %-d").to_string(),
            speed => phones.clock.speed(),
            story,
        })
    });
    match rendered {
        Ok(html) => (
            [(header::CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")],
            Html(html),
        )
            .into_response(),
        Err(error) => {
            tracing::error!(%error, "the page of phones cannot be rendered");
            StatusCode::INTERNAL_SERVER_ERROR.into_response()
        }
    }
}

fn environment() -> Result<Environment<'static>, minijinja::Error> {
    let mut environment = Environment::new();
    environment.add_template("phones.html", PAGE)?;
    Ok(environment)
}

fn groups(
    phones: &Phones,
    picked: Option<&Person>,
    texts: &HashMap<Phone, Vec<Text>>,
    find: &str,
) -> Vec<(String, Vec<Row>)> {
    let seen = phones.seen.lock().unwrap_or_else(PoisonError::into_inner);
    let wanted = find.trim().to_lowercase();
    let mut groups: BTreeMap<usize, (String, Vec<Row>)> = BTreeMap::new();
    for person in phones.people.iter() {
        if !wanted.is_empty() && !format!("{} {}", person.name, person.about).to_lowercase().contains(&wanted) {
            continue;
        }
        let own = texts.get(&person.phone);
        let order = ["Staff", "Athletes", "Parents"].iter().position(|group| *group == person.group).unwrap_or(9);
        let last = own.and_then(|texts| texts.last());
        let total = own.map_or(0, Vec::len);
        let group = groups.entry(order).or_insert_with(|| (person.group.to_owned(), Vec::new()));
        group.1.push(Row {
            name: person.name.clone(),
            about: person.about.clone(),
            phone: person.phone.as_str().to_owned(),
            last: last.map(|text| text.body.chars().take(60).collect()).unwrap_or_default(),
            unread: total.saturating_sub(seen.get(&person.phone).copied().unwrap_or(0)),
            picked: picked.is_some_and(|picked| picked.phone == person.phone),
        });
    }
    groups.into_values().collect()
}

#[derive(Debug, Deserialize)]
struct Typed {
    phone: String,
    text: String,
}

/// Refuses a form that another site has the browser send.
fn foreign(headers: &HeaderMap) -> bool {
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let origin = headers.get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
    origin.is_some_and(|origin| origin.split_once("://").is_none_or(|(_, from)| from != host))
}

async fn type_as(State(phones): State<Phones>, headers: HeaderMap, Form(typed): Form<Typed>) -> Response {
    let person = phones.people.iter().find(|person| person.phone.as_str() == typed.phone);
    let (Some(person), false) = (person, foreign(&headers)) else { return StatusCode::FORBIDDEN.into_response() };
    let body = typed.text.trim();
    if !body.is_empty() {
        let text = phones.carrier.write(&person.phone, &phones.number, body, Vec::new());
        if let Err(error) = phones.desk.receive(text, phones.clock.now()).await {
            tracing::error!(%error, "a typed text could not be taken in");
        }
        // Nobody may be looking.
        let _ = phones.changed.send(());
    }
    back(&person.phone)
}

fn back(phone: &Phone) -> Response {
    let query: String =
        url::form_urlencoded::Serializer::new(String::new()).append_pair("phone", phone.as_str()).finish();
    Redirect::to(&format!("/?{query}")).into_response()
}

#[derive(Debug, Deserialize)]
struct Moved {
    phone: Option<String>,
    speed: Option<f64>,
    step_minutes: Option<i64>,
    next: Option<String>,
}

async fn move_clock(State(phones): State<Phones>, headers: HeaderMap, Form(moved): Form<Moved>) -> Response {
    if foreign(&headers) {
        return StatusCode::FORBIDDEN.into_response();
    }
    if let Some(speed) = moved.speed.filter(|speed| (0.0..=600.0).contains(speed)) {
        phones.clock.set_speed(speed);
    }
    if let Some(minutes) = moved.step_minutes.filter(|minutes| (1..=240).contains(minutes)) {
        phones.clock.advance(TimeDelta::minutes(minutes));
    }
    if moved.next.is_some() {
        let now = phones.clock.now();
        if let Ok(Some(next)) = phones.desk.next_due(now.plus(TimeDelta::seconds(1))).await {
            phones.clock.set(next.max(now));
        }
    }
    // Nobody may be looking.
    let _ = phones.changed.send(());
    let phone = moved.phone.and_then(|phone| phones.people.iter().find(|person| person.phone.as_str() == phone));
    phone
        .or_else(|| phones.people.first())
        .map_or_else(|| Redirect::to("/").into_response(), |person| back(&person.phone))
}

/// One event whenever something changed; how much is left to the page to ask.
async fn changes(State(phones): State<Phones>) -> SseAnswer<impl Stream<Item = Result<Sse, Infallible>>> {
    let stream = futures::stream::unfold(phones.changed.subscribe(), |mut changed| async {
        match changed.recv().await {
            Ok(()) | Err(broadcast::error::RecvError::Lagged(_)) => Some((Ok(Sse::default().data("changed")), changed)),
            Err(broadcast::error::RecvError::Closed) => None,
        }
    });
    SseAnswer::new(stream).keep_alive(KeepAlive::default())
}
