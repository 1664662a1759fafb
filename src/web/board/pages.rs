//! The pages. Each asks the desk for its view and renders it.

use axum::extract::{Extension, Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};
use minijinja::value::Serde;
use minijinja::{Value, context};
use serde::Deserialize;

use super::guard::Visitor;
use super::{Board, Failed, access, charts, live};
use crate::desk::board::Viewer;
use crate::desk::board::today::{team_of, teams_of};
use crate::desk::board::trainer::{helmet_meanings, meanings};
use crate::trade::roster::AthleteId;

/// What stands around every page: whose it is, their menu, their forms' token.
pub fn frame(board: &Board, visitor: &Visitor, here: &str) -> Value {
    let member = &visitor.who.member;
    let program = board.desk.program(&visitor.who.program).map(|program| program.name.as_str()).unwrap_or_default();
    context! {
        program,
        name => member.first.as_str(),
        menu => access::menu(member),
        here,
        csrf => visitor.csrf.as_str(),
        seen => visitor.who.changed,
    }
}

/// What a page is asked for with.
#[derive(Debug, Default, Deserialize)]
pub struct Asked {
    team: Option<String>,
    /// The change that a script has heard of: the page has to know of it.
    seen: Option<i64>,
}

async fn shared(board: &Board, visitor: &Visitor, asked: &Asked) -> Result<std::sync::Arc<live::Made>, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let team = team_of(viewer, asked.team.as_deref());
    // No more than is there: a number that somebody made up is not waited for.
    let at_least = asked.seen.unwrap_or(0).min(visitor.who.changed);
    live::today(board, &visitor.who, team, at_least).await
}

/// Today: the fix list with its plan, who is silent, who is held.
pub async fn today(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Result<Response, Failed> {
    let made = shared(&board, &visitor, &asked).await?;
    let program = board.desk.program(&visitor.who.program)?;
    let values = context! {
        title => "Today",
        live => "refresh",
        content => Value::from_safe_string(made.with_token(&visitor.csrf)),
        teams => Value::from(Serde(teams_of(Viewer { member: &visitor.who.member }, program))),
        seen => made.changed,
        ..frame(&board, &visitor, "/board")
    };
    Ok(board.render("today.html", values)?.into_response())
}

/// Everybody to check at the door.
pub async fn silent(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Result<Response, Failed> {
    let made = shared(&board, &visitor, &asked).await?;
    let values =
        context! { title => "At the door", view => Value::from(Serde(&made.view)), ..frame(&board, &visitor, "") };
    Ok(board.render("silent.html", values)?.into_response())
}

/// The sheet for the equipment-room door.
pub async fn print(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Result<Response, Failed> {
    let made = shared(&board, &visitor, &asked).await?;
    let values =
        context! { title => "Fix list", view => Value::from(Serde(&made.view)), ..frame(&board, &visitor, "") };
    Ok(board.render("print.html", values)?.into_response())
}

/// For the coach: who may not take part.
pub async fn availability(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Query(asked): Query<Asked>,
) -> Result<Response, Failed> {
    let made = shared(&board, &visitor, &asked).await?;
    let values = context! {
        title => "Availability",
        live => "refresh",
        view => Value::from(Serde(&made.view)),
        ..frame(&board, &visitor, "/board/availability")
    };
    Ok(board.render("availability.html", values)?.into_response())
}

/// One athlete.
pub async fn athlete(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Path(id): Path<String>,
) -> Result<Response, Failed> {
    let now = board.desk.clock().now();
    let viewer = Viewer { member: &visitor.who.member };
    let id = AthleteId(id);
    let Some(view) = board.desk.board_athlete(&visitor.who.program, &id, viewer, now).await? else {
        let values = context! {
            title => "No such athlete",
            text => "There is nobody of that kind on your teams.",
            back => access::home(&visitor.who.member),
            ..frame(&board, &visitor, "")
        };
        return Ok((StatusCode::NOT_FOUND, board.render("notice.html", values)?).into_response());
    };
    let back =
        format!("/board/athlete/{}", url::form_urlencoded::byte_serialize(id.as_str().as_bytes()).collect::<String>());
    let values = context! {
        title => view.name.as_str(),
        live => "offer",
        view => Value::from(Serde(&view)),
        meanings => helmet_meanings(),
        back,
        ..frame(&board, &visitor, "")
    };
    Ok(board.render("athlete.html", values)?.into_response())
}

/// Body reports, and replies to make sense of.
pub async fn trainer(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let view = board.desk.board_trainer(&visitor.who.program, viewer, board.desk.clock().now()).await?;
    let values = context! {
        title => "Athletic trainer",
        live => "offer",
        view => Value::from(Serde(&view)),
        meanings => meanings(),
        back => "/board/trainer",
        ..frame(&board, &visitor, "/board/trainer")
    };
    Ok(board.render("trainer.html", values)?.into_response())
}

/// What went out and came back.
pub async fn messages(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let view = board.desk.board_messages(&visitor.who.program, viewer, board.desk.clock().now()).await?;
    let values = context! { title => "Messages", back => "/board/messages", view => Value::from(Serde(&view)), ..frame(&board, &visitor, "/board/messages") };
    Ok(board.render("messages.html", values)?.into_response())
}

/// The season at a glance.
pub async fn season(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let view = board.desk.board_season(&visitor.who.program, board.desk.clock().now()).await?;
    let drawn = |chart: Result<Value, Box<dyn std::error::Error + Send + Sync>>| {
        chart.map_err(|error| Failed(error.to_string()))
    };
    let values = context! {
        title => "Season",
        rate => drawn(charts::rate(&view.days))?,
        flags => drawn(charts::flags(&view.models))?,
        minutes => drawn(charts::minutes(&view.fixes))?,
        view => Value::from(Serde(&view)),
        ..frame(&board, &visitor, "/board/season")
    };
    Ok(board.render("season.html", values)?.into_response())
}

/// The settings, to read.
pub async fn settings(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let view = board.desk.board_settings(&visitor.who.program).await?;
    let values = context! { title => "Settings", view => Value::from(Serde(&view)), ..frame(&board, &visitor, "/board/settings") };
    Ok(board.render("settings.html", values)?.into_response())
}

/// For whoever has no other page.
pub async fn welcome(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let first = visitor.who.member.first.clone();
    let values = context! { title => "Hello", first, ..frame(&board, &visitor, "") };
    Ok(board.render("welcome.html", values)?.into_response())
}
