//! What is coming in the next weeks, and the address at which a calendar reads it.

use axum::extract::{Extension, Form, State};
use axum::response::{IntoResponse as _, Response};
use chrono::TimeDelta;
use minijinja::value::Serde;
use minijinja::{Value, context};
use serde::Serialize;

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::feed::concerns;
use crate::desk::sign_in::hash;
use crate::trade::coming::{Area, Coming, On};

/// How far ahead the page looks for what is to be done, in days.
const AHEAD_DAYS: i64 = 42;
/// How far ahead the page shows practices and games, in days.
const EVENTS_DAYS: i64 = 13;

/// One thing that is coming, as the page shows it.
#[derive(Debug, Serialize)]
struct Row {
    day: String,
    time: Option<String>,
    area: &'static str,
    title: String,
    what: String,
    place: Option<String>,
}

fn row(coming: Coming, zone: chrono_tz::Tz) -> Row {
    let time = match coming.on {
        On::Day(_) => None,
        On::At(at, _) => Some(at.local(zone).format("%-I:%M %P").to_string()),
    };
    Row {
        day: coming.on.day(zone).format("%A, %B %-d").to_string(),
        time,
        area: coming.area.name(),
        title: coming.title,
        what: coming.what,
        place: coming.place,
    }
}

/// The page.
pub async fn page(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    show(&board, &visitor, None).await
}

/// Makes a calendar address, or ends the one there is.
pub async fn calendar(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    if fields.iter().any(|(name, value)| name == "do" && value == "end") {
        board.desk.end_feed(&who.program, &who.member, now).await?;
        return show(&board, &visitor, None).await;
    }
    let token = board.chance.token::<24>();
    board.desk.make_feed(&who.program, &who.member, &hash(&token), now).await?;
    let address = board.public_url.join(&format!("calendar/{}/{token}.ics", who.program))?;
    show(&board, &visitor, Some(address.to_string())).await
}

async fn show(board: &Board, visitor: &Visitor, address: Option<String>) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let zone = board.desk.program(&who.program)?.zone;
    let today = now.date(zone);
    let coming = board.desk.coming(&who.program, today, today + TimeDelta::days(AHEAD_DAYS), now).await?;
    let feed = board.desk.feed_of(&who.program, &who.member.id).await?;
    let mine = coming.into_iter().filter(|coming| concerns(coming, &who.member));
    let (events, to_do): (Vec<Coming>, Vec<Coming>) = mine.partition(|coming| coming.area == Area::Event);
    let soon = |coming: &Coming| coming.on.day(zone) <= today + TimeDelta::days(EVENTS_DAYS);
    let to_do: Vec<Row> = to_do.into_iter().map(|coming| row(coming, zone)).collect();
    let events: Vec<Row> = events.into_iter().filter(soon).map(|coming| row(coming, zone)).collect();
    let day = |moment: crate::trade::time::Moment| moment.local(zone).format("%B %-d").to_string();
    let values = context! {
        title => "Coming",
        to_do => Value::from(Serde(to_do)),
        events => Value::from(Serde(events)),
        weeks => AHEAD_DAYS / 7,
        address,
        has_feed => feed.is_some(),
        feed_made => feed.as_ref().map(|feed| day(feed.made_at)),
        feed_read => feed.and_then(|feed| feed.read_at).map(day),
        ..super::pages::frame(board, visitor, "/board/coming")
    };
    Ok(board.render("coming.html", values)?.into_response())
}
