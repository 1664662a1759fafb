//! Families: the page, and the form that asks somebody for consent by text.

use axum::extract::{Extension, Form, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::board::Viewer;
use crate::desk::notices::consent::Asking;

/// The page.
pub async fn page(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let viewer = Viewer { member: &visitor.who.member };
    let view = board.desk.board_families(&visitor.who.program, viewer, board.desk.clock().now()).await?;
    let values = context! {
        title => "Families",
        view => Value::from(Serde(&view)),
        ..super::pages::frame(&board, &visitor, "/board/families")
    };
    Ok(board.render("families.html", values)?.into_response())
}

/// Asks somebody for consent.
pub async fn ask(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let person = fields.iter().find(|(name, _)| name == "person").map_or("", |(_, value)| value.as_str());
    let session: String = who.session.chars().take(16).collect();
    let key = format!("board/{session}/consent/{person}");
    let text = match board.desk.ask_consent(&who.program, &who.member, person, &key, now).await? {
        Asking::Asked | Asking::Already => return Ok(Redirect::to("/board/families").into_response()),
        Asking::NotAllowed => "Your role does not ask families.",
        Asking::Nobody => "There is nobody to ask: no such person, or no number of a parent.",
        Asking::CannotBeAsked => {
            "This number cannot be asked: it opted out, is somebody else's, or waits with another question."
        }
    };
    let values = context! {
        title => "Nothing was asked",
        text,
        back => "/board/families",
        ..super::pages::frame(&board, &visitor, "")
    };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, board.render("notice.html", values)?).into_response())
}
