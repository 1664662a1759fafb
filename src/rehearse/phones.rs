//! The page of phones: pick anybody, see their texts, type as them, and move the practice clock.
//!
//! Rendered on the server, complete without script; a small script only swaps in what changed. It is for invented people
//! on this machine: requests for another host, or sent by another site, are refused.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{Query, Request, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Form, Json, Router};
use chrono::TimeDelta;
use minijinja::{Environment, Value, context};
use serde::{Deserialize, Serialize};

use super::scenario::{Group, Holder};
use super::stage::Stage;
use super::story::Told;
use crate::channel::simulated::{SimulatedText, Way};
use crate::desk::scene::phone_words;
use crate::trade::phone::Phone;
use crate::trade::roster::Language;
use crate::trade::time::Moment;
use crate::wording::words::clock_words;

/// Lines of the story that the page shows.
const STORY_SHOWN: usize = 120;
/// Speeds that the page offers: times as fast as life, and the word for it.
const SPEEDS: &[(u32, &str)] = &[(0, "Pause"), (1, "×1"), (20, "×20"), (60, "×60"), (300, "×300")];
/// Longest text that is taken, in characters: what ten segments hold.
const LONGEST_TEXT: usize = 1_530;

const STYLE: &str = include_str!("../../templates/pages/phones.css");
const SCRIPT: &str = include_str!("../../templates/pages/phones.js");
const TEMPLATES: &[(&str, &str)] = &[
    ("phones.html", include_str!("../../templates/pages/phones.html")),
    ("controls.html", include_str!("../../templates/pages/controls.html")),
    ("people.html", include_str!("../../templates/pages/people.html")),
    ("texts.html", include_str!("../../templates/pages/texts.html")),
    ("story.html", include_str!("../../templates/pages/story.html")),
];
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src data:; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// What the page works on.
#[derive(Clone)]
struct Page {
    stage: Arc<Stage>,
    templates: Arc<Environment<'static>>,
    /// How many texts of each phone have been looked at.
    read: Arc<Mutex<HashMap<Phone, usize>>>,
}

/// The page's routes.
pub fn router(stage: Arc<Stage>) -> Router {
    let mut templates = Environment::new();
    for (name, source) in TEMPLATES {
        // They are built in, and a test renders each.
        if let Err(error) = templates.add_template(name, source) {
            tracing::error!(%error, name, "a page cannot be compiled");
        }
    }
    let page = Page { stage, templates: Arc::new(templates), read: Arc::default() };
    Router::new()
        .route("/", get(whole))
        .route("/parts", get(parts))
        .route("/type", post(type_as))
        .route("/clock", post(move_clock))
        .route("/phones.css", get(|| async { ([(header::CONTENT_TYPE, "text/css")], STYLE) }))
        .route("/phones.js", get(|| async { ([(header::CONTENT_TYPE, "text/javascript")], SCRIPT) }))
        .layer(from_fn(guard))
        .with_state(page)
}

/// Lets through what this machine's own browser asks of this machine's own page.
async fn guard(request: Request, next: Next) -> Response {
    if is_foreign(request.headers()) {
        return (StatusCode::FORBIDDEN, "this page is for this machine alone\n").into_response();
    }
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_SECURITY_POLICY, HeaderValue::from_static(POLICY));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    // Not `no-referrer`: with it browsers send forms from no origin at all, and those are refused.
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    response
}

/// Whether a request names a host that is not this machine (a name that was pointed here), or comes from another site.
fn is_foreign(headers: &HeaderMap) -> bool {
    let text = |name| headers.get(name).and_then(|value: &HeaderValue| value.to_str().ok());
    let host = text(header::HOST).unwrap_or_default();
    let name = host.rsplit_once(':').map_or(host, |(name, _)| name).trim_matches(['[', ']']);
    let local = name == "localhost" || name.parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback());
    let other = text(header::ORIGIN).is_some_and(|origin| origin != format!("http://{host}"));
    !local || other
}

/// What is looked at.
#[derive(Debug, Default, Clone, Deserialize)]
struct Look {
    #[serde(default)]
    phone: String,
    #[serde(default)]
    find: String,
    /// The state that the page shows already.
    v: Option<u64>,
}

async fn whole(State(page): State<Page>, Query(look): Query<Look>) -> Response {
    match page.render_whole(&look).await {
        Ok(html) => Html(html).into_response(),
        Err(error) => failed(&error),
    }
}

fn failed(error: &anyhow::Error) -> Response {
    tracing::error!(%error, "the page of phones cannot be made");
    (StatusCode::INTERNAL_SERVER_ERROR, "the page cannot be made; see the terminal\n").into_response()
}

/// The parts of the page that may have changed.
#[derive(Debug, Serialize)]
struct Parts {
    version: u64,
    time: String,
    day: String,
    /// By the id of the element that each stands in; empty when nothing changed.
    parts: HashMap<&'static str, String>,
}

async fn parts(State(page): State<Page>, Query(look): Query<Look>) -> Response {
    match page.render_parts(&look).await {
        Ok(parts) => Json(parts).into_response(),
        Err(error) => failed(&error),
    }
}

impl Page {
    fn holder(&self, phone: &str) -> Option<&Holder> {
        self.stage.holders.iter().find(|holder| holder.phone.as_str() == phone)
    }

    fn render(&self, name: &str, values: Value) -> anyhow::Result<String> {
        Ok(self.templates.get_template(name)?.render(values)?)
    }

    async fn values(&self, look: &Look) -> anyhow::Result<Value> {
        let holder = self.holder(&look.phone);
        let mut texts: HashMap<Phone, Vec<SimulatedText>> = HashMap::new();
        for text in self.stage.carrier.texts() {
            let phone = if text.way == Way::FromPhone { &text.from } else { &text.to };
            texts.entry(phone.clone()).or_default().push(text);
        }
        let thread: &[SimulatedText] = holder.and_then(|holder| texts.get(&holder.phone)).map_or(&[], Vec::as_slice);
        if let Some(holder) = holder {
            let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
            read.insert(holder.phone.clone(), thread.len());
        }
        let now = self.stage.clock.now();
        let ahead = self.stage.ahead(now).await?;
        let ahead: Vec<Value> = ahead
            .iter()
            .take(6)
            .map(|ahead| context! { at => ahead.at.millis(), time => self.time_of(ahead.at, now), what => ahead.what.as_str() })
            .collect();
        let speed = self.stage.clock.speed();
        let speeds: Vec<Value> = SPEEDS
            .iter()
            .map(|(times, word)| context! { times => *times, word => *word, on => (speed - f64::from(*times)).abs() < 0.01 })
            .collect();
        let story: Vec<Value> = self.stage.story.newest(STORY_SHOWN).iter().map(|line| self.line(line)).collect();
        Ok(context! {
            version => self.stage.changes(),
            program => self.stage.program().name.as_str(),
            number => phone_words(&self.stage.program().number),
            time => self.clock(now), day => self.day(now),
            speeds, ahead, goal => self.stage.goal().map(|goal| self.time_of(goal, now)),
            groups => self.groups(holder, &texts, &look.find),
            find => look.find.as_str(),
            holder => holder.map(holder_value),
            texts => thread.iter().map(|text| self.text(text)).collect::<Vec<_>>(),
            story,
        })
    }

    async fn render_whole(&self, look: &Look) -> anyhow::Result<String> {
        self.render("phones.html", self.values(look).await?)
    }

    async fn render_parts(&self, look: &Look) -> anyhow::Result<Parts> {
        let now = self.stage.clock.now();
        let version = self.stage.changes();
        let (time, day) = (self.clock(now), self.day(now));
        let mut parts = HashMap::new();
        if look.v != Some(version) {
            let values = self.values(look).await?;
            for (id, template) in [
                ("controls", "controls.html"),
                ("people", "people.html"),
                ("texts", "texts.html"),
                ("story", "story.html"),
            ] {
                parts.insert(id, self.render(template, values.clone())?);
            }
        }
        Ok(Parts { version, time, day, parts })
    }

    fn clock(&self, at: Moment) -> String {
        at.local(self.stage.zone()).format("%-I:%M:%S %P").to_string()
    }

    fn day(&self, at: Moment) -> String {
        at.local(self.stage.zone()).format("%A, %B %-d").to_string()
    }

    /// "2:00 pm", with the day when it is not the day of `now`.
    fn time_of(&self, at: Moment, now: Moment) -> String {
        let zone = self.stage.zone();
        let time = clock_words(at.local(zone).time(), Language::En);
        if at.date(zone) == now.date(zone) { time } else { format!("{} {time}", at.local(zone).format("%a")) }
    }

    fn line(&self, line: &Told) -> Value {
        // The name before the colon leads to the phone; a line without one does as a whole.
        let end = line.text.find(": ").or_else(|| line.text.rfind(':')).unwrap_or(line.text.len());
        let (who, rest) = line.text.split_at(end);
        context! {
            at => line.at.local(self.stage.zone()).format("%-I:%M:%S").to_string(),
            who, rest,
            typed => line.typed.as_deref(),
            phone => line.phone.as_ref().map(Phone::as_str),
        }
    }

    fn text(&self, text: &SimulatedText) -> Value {
        context! {
            body => text.body.as_str(),
            typed => text.way == Way::FromPhone,
            at => clock_words(text.at.local(self.stage.zone()).time(), Language::En),
            photo => self.stage.photo(&text.carrier_id),
        }
    }

    fn groups(&self, picked: Option<&Holder>, texts: &HashMap<Phone, Vec<SimulatedText>>, find: &str) -> Vec<Value> {
        let read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        let wanted = find.trim().to_lowercase();
        let row = |holder: &Holder| {
            let own: &[SimulatedText] = texts.get(&holder.phone).map_or(&[], Vec::as_slice);
            let last = own.last().map(|text| {
                let body = if text.body.is_empty() { "[photo]".to_owned() } else { text.body.replace('\n', " / ") };
                context! { body, typed => text.way == Way::FromPhone }
            });
            context! {
                name => holder.name.as_str(), about => holder.about.as_str(),
                phone => holder.phone.as_str(), last,
                unread => own.len().saturating_sub(read.get(&holder.phone).copied().unwrap_or(0)),
                picked => picked.is_some_and(|picked| picked.phone == holder.phone),
            }
        };
        let found = |holder: &&Holder| {
            let text = format!("{} {} {}", holder.name, holder.about, phone_words(&holder.phone));
            wanted.is_empty() || text.to_lowercase().contains(&wanted)
        };
        let group = |group: Group| {
            let holders = self.stage.holders.iter().filter(|holder| holder.group == group).filter(found);
            let rows: Vec<Value> = holders.map(row).collect();
            let open = !wanted.is_empty()
                || group != Group::Parents
                || picked.is_some_and(|picked| picked.group == Group::Parents);
            context! { title => group.title(), rows, open }
        };
        Group::ALL.into_iter().map(group).collect()
    }
}

fn holder_value(holder: &Holder) -> Value {
    let short = holder.labels.first().unwrap_or(&holder.name);
    context! {
        name => holder.name.as_str(), short => short.as_str(), about => holder.about.as_str(),
        phone => holder.phone.as_str(), number => phone_words(&holder.phone),
    }
}

#[derive(Debug, Deserialize)]
struct Typing {
    phone: String,
    #[serde(default)]
    text: String,
    photo: Option<String>,
}

async fn type_as(State(page): State<Page>, Form(typing): Form<Typing>) -> Response {
    let Some(holder) = page.holder(&typing.phone) else {
        return (StatusCode::NOT_FOUND, "nobody has that phone\n").into_response();
    };
    let text: String = typing.text.trim().chars().take(LONGEST_TEXT).collect();
    let photo = typing.photo.is_some();
    if (photo || !text.is_empty())
        && let Err(error) = page.stage.types(&holder.phone, &text, photo).await
    {
        return failed(&error);
    }
    back(&typing.phone)
}

fn back(phone: &str) -> Response {
    if phone.is_empty() {
        return Redirect::to("/").into_response();
    }
    let query: String = url::form_urlencoded::Serializer::new(String::new()).append_pair("phone", phone).finish();
    Redirect::to(&format!("/?{query}#last")).into_response()
}

#[derive(Debug, Deserialize)]
struct Moving {
    #[serde(default)]
    phone: String,
    /// Times as fast as life.
    speed: Option<f64>,
    /// Minutes to go on.
    minutes: Option<i64>,
    /// A moment to go to, in milliseconds since the epoch.
    to: Option<i64>,
}

async fn move_clock(State(page): State<Page>, Form(moving): Form<Moving>) -> Response {
    let now = page.stage.clock.now();
    if let Some(speed) = moving.speed.filter(|speed| (0.0..=600.0).contains(speed)) {
        page.stage.clock.set_speed(speed);
        // Whoever changes the speed wants to watch from here on.
        page.stage.go_to(None);
    }
    let step = moving.minutes.filter(|minutes| (1..=60).contains(minutes)).map(|by| now.plus(TimeDelta::minutes(by)));
    let goal = moving.to.map(Moment::from_millis).filter(|to| to.since(now) <= TimeDelta::days(8));
    if let Some(goal) = step.or(goal).filter(|goal| *goal > now) {
        page.stage.go_to(Some(goal));
    }
    back(&moving.phone)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(host: &str, origin: Option<&str>) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(header::HOST, HeaderValue::from_str(host).unwrap());
        if let Some(origin) = origin {
            headers.insert(header::ORIGIN, HeaderValue::from_str(origin).unwrap());
        }
        headers
    }

    #[test]
    fn only_this_machines_own_page_is_answered() {
        for (host, origin) in [
            ("127.0.0.1:8095", None),
            ("localhost:8095", Some("http://localhost:8095")),
            ("[::1]:8095", Some("http://[::1]:8095")),
        ] {
            assert!(!is_foreign(&headers(host, origin)), "{host}");
        }
        for (host, origin) in [
            ("phones.example.org", None),
            ("127.0.0.1.example.org:8095", None),
            ("127.0.0.1:8095", Some("https://example.org")),
            ("127.0.0.1:8095", Some("null")),
            ("127.0.0.1:8095", Some("http://127.0.0.1:8096")),
        ] {
            assert!(is_foreign(&headers(host, origin)), "{host} {origin:?}");
        }
    }
}
