//! Helmets over the years: the page and its form.

use axum::extract::{Extension, Form, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::helmets::record::{Said, may};

/// Longest reason or mark.
const LONGEST: usize = 120;

/// The page.
pub async fn page(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let view = board.desk.board_helmets(&visitor.who.program, board.desk.clock().now()).await?;
    let values = context! {
        title => "Helmets",
        view => Value::from(Serde(&view)),
        may_note => may(&visitor.who.member),
        ..super::pages::frame(&board, &visitor, "/board/helmets")
    };
    Ok(board.render("helmets.html", values)?.into_response())
}

/// Notes what became of some helmets.
pub async fn note(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let tags: Vec<String> = fields.iter().filter(|(name, _)| name == "tag").map(|(_, tag)| tag.clone()).collect();
    let text = match read(&fields, &tags) {
        Ok(said) => {
            let session: String = who.session.chars().take(16).collect();
            let key = format!("board/{session}/{}/helmets", get(&fields, "seen").unwrap_or("0"));
            if board.desk.note_helmets(&who.program, &who.member, (&tags, &said), &key, now).await? {
                return Ok(Redirect::to("/board/helmets").into_response());
            }
            "There is no such helmet here, or your role does not note helmets. Nothing was noted."
        }
        Err(what) => what,
    };
    let values = context! {
        title => "Nothing was noted",
        text,
        back => "/board/helmets",
        ..super::pages::frame(&board, &visitor, "")
    };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, board.render("notice.html", values)?).into_response())
}

fn get<'f>(fields: &'f [(String, String)], name: &str) -> Option<&'f str> {
    fields.iter().find(|(own, _)| own == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
}

fn read(fields: &[(String, String)], tags: &[String]) -> Result<Said, &'static str> {
    if tags.is_empty() {
        return Err("Tick the helmets that it is about. Nothing was noted.");
    }
    let words: Option<String> =
        get(fields, "words").map(|text| text.chars().filter(|c| !c.is_control()).take(LONGEST).collect());
    let day = get(fields, "day").map(str::parse).transpose();
    let day = day.map_err(|_| "The day could not be read. Nothing was noted.")?;
    match (get(fields, "do"), words) {
        (Some("shipped"), _) => Ok(Said::Shipped(day)),
        (Some("back"), _) => Ok(Said::Back),
        (Some("failed"), Some(why)) => Ok(Said::Failed(why)),
        (Some("failed"), None) => Err("Say why it failed. Nothing was noted."),
        (Some("marked"), Some(mark)) => Ok(Said::Marked(mark)),
        (Some("marked"), None) => Err("Say what mark it has. Nothing was noted."),
        (Some("spare"), _) => Ok(Said::Issued(None)),
        _ => Err("Say what became of them. Nothing was noted."),
    }
}
