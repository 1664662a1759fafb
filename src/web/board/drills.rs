//! Drills: the page and its form.

use axum::extract::{Extension, Form, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::guard::Visitor;
use super::{Board, Failed, charts};
use crate::desk::board::Viewer;
use crate::desk::drills::record::NewDrill;
use crate::trade::drill::times::seconds;
use crate::trade::drill::{Part, Skill};
use crate::trade::roster::StaffId;

/// Longest note.
const LONGEST: usize = 200;

/// The page.
pub async fn page(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let view = board.desk.board_drills(&visitor.who.program, viewer, board.desk.clock().now()).await?;
    let charts: Vec<(String, Value)> = view
        .times
        .iter()
        .filter(|series| series.times.len() > 1)
        .map(|series| {
            Ok((series.competence.words(), charts::times(series).map_err(|error| Failed(error.to_string()))?))
        })
        .collect::<Result<_, Failed>>()?;
    let values = context! {
        title => "Drills",
        view => Value::from(Serde(&view)),
        charts,
        may_record => crate::desk::drills::record::may(&visitor.who.member),
        ..super::pages::frame(&board, &visitor, "/board/drills")
    };
    Ok(board.render("drills.html", values)?.into_response())
}

/// Records a drill.
pub async fn record(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let today = now.date(board.desk.program(&who.program)?.zone);
    let outcome = match read(&fields, today) {
        Ok(new) => {
            let session: String = who.session.chars().take(16).collect();
            let seen = get(&fields, "seen").unwrap_or("0");
            let key = format!("board/{session}/{seen}/drill/{}/{}", new.date, new.skill.name());
            match board.desk.record_drill(&who.program, &who.member, new, &key, now).await? {
                true => return Ok(Redirect::to("/board/drills").into_response()),
                false => (
                    StatusCode::FORBIDDEN,
                    "Somebody or some model in the form is not known here, or your role does not record drills. Nothing was recorded.",
                ),
            }
        }
        Err(what) => (StatusCode::UNPROCESSABLE_ENTITY, what),
    };
    let values = context! {
        title => "Nothing was recorded",
        text => outcome.1,
        back => "/board/drills",
        ..super::pages::frame(&board, &visitor, "")
    };
    Ok((outcome.0, board.render("notice.html", values)?).into_response())
}

fn get<'f>(fields: &'f [(String, String)], name: &str) -> Option<&'f str> {
    fields.iter().find(|(own, _)| own == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
}

fn all<'f>(fields: &'f [(String, String)], name: &'f str) -> impl Iterator<Item = &'f str> {
    fields.iter().filter(move |(own, _)| own == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
}

fn read(fields: &[(String, String)], today: chrono::NaiveDate) -> Result<NewDrill, &'static str> {
    let skill = get(fields, "skill").and_then(|name| Skill::ALL.into_iter().find(|skill| skill.name() == name));
    let skill = skill.ok_or("Say which drill it was. Nothing was recorded.")?;
    let date = get(fields, "date")
        .and_then(|text| text.parse().ok())
        .ok_or("The day could not be read. Nothing was recorded.")?;
    if date > today {
        return Err("The day lies ahead. Record a drill once it was held.");
    }
    let people: Vec<Part> = all(fields, "who").map(|id| Part { staff: StaffId::from(id), position: None }).collect();
    if people.is_empty() {
        return Err("Tick who took part. Nothing was recorded.");
    }
    let models: Vec<String> = all(fields, "model").map(ToOwned::to_owned).collect();
    if skill.is_by_hardware() && models.is_empty() {
        return Err("Tick the helmet model: a face-mask drill counts for its kind of hardware. Nothing was recorded.");
    }
    let time = get(fields, "seconds");
    let seconds = time.and_then(seconds);
    if time.is_some() && seconds.is_none() {
        return Err("The time could not be read: write seconds, such as 42, or 1:05. Nothing was recorded.");
    }
    let words = |name| get(fields, name).map(|text| text.chars().filter(|c| !c.is_control()).take(LONGEST).collect());
    Ok(NewDrill { date, skill, people, models, seconds, place: words("place"), notes: words("notes") })
}
