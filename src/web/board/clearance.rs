//! Ways back: the pages and their form, for medical staff alone.

use axum::extract::{Extension, Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::board::Viewer;
use crate::desk::clearance::record::Act;
use crate::trade::clearance::{Decision, Licence, Worsening};
use crate::trade::roster::AthleteId;

/// Longest entry of a field.
const LONGEST: usize = 300;

/// Everybody who is held.
pub async fn page(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let view = board.desk.board_held(&visitor.who.program, viewer, board.desk.clock().now()).await?;
    let values = context! {
        title => "Held and coming back",
        view => Value::from(Serde(&view)),
        ..super::pages::frame(&board, &visitor, "/board/clearance")
    };
    Ok(board.render("clearance.html", values)?.into_response())
}

/// One athlete.
pub async fn one(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Path(athlete): Path<String>,
) -> Result<Response, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let now = board.desk.clock().now();
    let view = board.desk.board_way(&visitor.who.program, viewer, &AthleteId(athlete), now).await?;
    let Some(view) = view else {
        let values = context! {
            title => "No such athlete",
            text => "There is no such athlete here.",
            back => "/board/clearance",
            ..super::pages::frame(&board, &visitor, "")
        };
        return Ok((StatusCode::NOT_FOUND, board.render("notice.html", values)?).into_response());
    };
    let values = context! {
        title => "Way back",
        view => Value::from(Serde(&view)),
        ..super::pages::frame(&board, &visitor, "")
    };
    Ok(board.render("way.html", values)?.into_response())
}

/// Records something.
pub async fn record(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Path(athlete): Path<String>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let back = format!(
        "/board/clearance/{}",
        url::form_urlencoded::byte_serialize(athlete.as_bytes()).collect::<String>().replace('+', "%20")
    );
    let athlete = AthleteId(athlete);
    let why = match read(&fields) {
        Ok(act) => {
            let session: String = who.session.chars().take(16).collect();
            let done = get(&fields, "do").unwrap_or_default();
            let key = format!("board/{session}/{}/way/{athlete}/{done}", get(&fields, "seen").unwrap_or("0"));
            match board.desk.record_way(&who.program, &who.member, (&athlete, &act), &key, now).await? {
                Ok(()) => return Ok(Redirect::to(&back).into_response()),
                Err(why) => why,
            }
        }
        Err(why) => why.to_owned(),
    };
    let values = context! {
        title => "Nothing was recorded",
        text => format!("Nothing was recorded: {why}. What you typed is still in the form when you go back with your browser."),
        back,
        ..super::pages::frame(&board, &visitor, "")
    };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, board.render("notice.html", values)?).into_response())
}

fn get<'f>(fields: &'f [(String, String)], name: &str) -> Option<&'f str> {
    fields.iter().find(|(own, _)| own == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
}

fn text(fields: &[(String, String)], name: &str) -> Option<String> {
    get(fields, name).map(|text| text.chars().filter(|c| !c.is_control()).take(LONGEST).collect())
}

fn read(fields: &[(String, String)]) -> Result<Act, &'static str> {
    let decision = || -> Result<Box<Decision>, &'static str> {
        let day = |name: &str| get(fields, name).map(str::parse).transpose().map_err(|_| "a day could not be read");
        Ok(Box::new(Decision {
            clinician: text(fields, "clinician").unwrap_or_default(),
            licence: get(fields, "licence").and_then(Licence::named),
            number: text(fields, "number").unwrap_or_default(),
            on: day("on")?,
            document: text(fields, "document"),
            dated: day("dated")?,
            place: text(fields, "place"),
            parent: text(fields, "parent"),
            reason: text(fields, "reason"),
        }))
    };
    let number = |name: &str| get(fields, name).and_then(|text| text.parse::<u32>().ok());
    match get(fields, "do") {
        Some("open") => Ok(Act::Open {
            category: text(fields, "category"),
            progression: get(fields, "progression").map(ToOwned::to_owned),
            check_in: get(fields, "check_in").is_some(),
        }),
        Some("step") => {
            let to = number("step").and_then(|step| usize::try_from(step).ok()).ok_or("say which step")?;
            let overriding = text(fields, "reason").is_some().then(decision).transpose()?;
            Ok(Act::Step(to, overriding))
        }
        Some("worse") => {
            let points = number("points").and_then(|points| u8::try_from(points).ok()).filter(|points| *points <= 10);
            let points = points.ok_or("say by how many points, from 0 to 10")?;
            Ok(Act::Worse(Worsening { points, minutes: number("minutes").ok_or("say for how many minutes")? }))
        }
        Some("determine") => Ok(Act::Determine(decision()?)),
        Some("clear") => Ok(Act::Clear(decision()?)),
        Some("confirm") => Ok(Act::Confirm),
        Some("ask") => Ok(Act::CheckIn(true)),
        Some("ask_not") => Ok(Act::CheckIn(false)),
        Some("note") => Ok(Act::Note(text(fields, "words").ok_or("the note is empty")?)),
        _ => Err("the form was not understood"),
    }
}
