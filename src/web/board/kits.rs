//! Kits: the page and its count, the order list as a page and as CSV.

use axum::extract::{Extension, Form, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse as _, Redirect, Response};
use minijinja::value::Serde;
use minijinja::{Value, context};

use super::guard::Visitor;
use super::{Board, Failed};
use crate::desk::kits::record::Said;
use crate::desk::kits::say::orders_csv;

/// The page.
pub async fn page(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let who = &visitor.who;
    let view = board.desk.board_kits(&who.program, &who.member, board.desk.clock().now()).await?;
    let values = context! {
        title => "Kits",
        view => Value::from(Serde(&view)),
        ..super::pages::frame(&board, &visitor, "/board/kits")
    };
    Ok(board.render("kits.html", values)?.into_response())
}

/// The order list.
pub async fn orders(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let who = &visitor.who;
    let view = board.desk.orders(&who.program, board.desk.clock().now()).await?;
    let rows: Vec<(&str, &crate::desk::kits::Order)> =
        view.names.iter().map(String::as_str).zip(&view.orders).collect();
    let values = context! {
        title => "Orders",
        rows => Value::from(Serde(&rows)),
        weeks => view.weeks,
        may_note => super::access::may(&who.member, "/board/orders/note"),
        ..super::pages::frame(&board, &visitor, "/board/orders")
    };
    Ok(board.render("orders.html", values)?.into_response())
}

/// The order list as CSV.
pub async fn csv(State(board): State<Board>, Extension(visitor): Extension<Visitor>) -> Result<Response, Failed> {
    let view = board.desk.orders(&visitor.who.program, board.desk.clock().now()).await?;
    let text = orders_csv(&view.orders).map_err(|error| Failed(error.to_string()))?;
    let headers = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"orders.csv\""),
    ];
    Ok((headers, text).into_response())
}

/// Notes a count.
pub async fn count(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let kit = get(&fields, "kit").unwrap_or_default();
    let mut said = Vec::new();
    for (name, value) in &fields {
        let Some(item) = name.strip_prefix("count:") else { continue };
        match value.trim().parse::<i64>() {
            Ok(count) if (0..=9_999).contains(&count) => said.push((item.to_owned(), Said::Count(count))),
            _ => {
                return refused(
                    &board,
                    &visitor,
                    "/board/kits",
                    "A count is a whole number from 0. Nothing was noted.",
                );
            }
        }
    }
    note(&board, &visitor, &fields, (kit, &said, true), "/board/kits").await
}

/// Notes an order, or what came in.
pub async fn note_order(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    Form(fields): Form<Vec<(String, String)>>,
) -> Result<Response, Failed> {
    let back = "/board/orders";
    let item = get(&fields, "item").unwrap_or_default().to_owned();
    let pieces = get(&fields, "pieces").and_then(|text| text.parse::<i64>().ok()).filter(|n| (1..=9_999).contains(n));
    let Some(pieces) = pieces else {
        return refused(&board, &visitor, back, "Say how many: a whole number from 1. Nothing was noted.");
    };
    let said = match get(&fields, "do") {
        Some("ordered") => Said::Ordered(pieces),
        Some("received") => Said::Received(pieces),
        _ => return refused(&board, &visitor, back, "Say whether it was ordered or came in. Nothing was noted."),
    };
    note(&board, &visitor, &fields, ("", &[(item, said)], false), back).await
}

async fn note(
    board: &Board,
    visitor: &Visitor,
    fields: &[(String, String)],
    (kit, said, whole): (&str, &[(String, Said)], bool),
    back: &str,
) -> Result<Response, Failed> {
    let (who, now) = (&visitor.who, board.desk.clock().now());
    let session: String = who.session.chars().take(16).collect();
    let seen = get(fields, "seen").unwrap_or("0");
    let item = said.first().filter(|_| !whole).map(|(item, _)| item.as_str()).unwrap_or_default();
    let what = get(fields, "do").unwrap_or("count");
    let key = format!("board/{session}/{seen}/kit/{kit}/{item}/{what}");
    if board.desk.note_kit(&who.program, &who.member, (kit, said, whole), &key, now).await? {
        return Ok(Redirect::to(back).into_response());
    }
    refused(
        board,
        visitor,
        back,
        "There is no such kit or thing here, or your role does not count it. Nothing was noted.",
    )
}

fn refused(board: &Board, visitor: &Visitor, back: &str, text: &str) -> Result<Response, Failed> {
    let values = context! { title => "Nothing was noted", text, back, ..super::pages::frame(board, visitor, "") };
    Ok((StatusCode::UNPROCESSABLE_ENTITY, board.render("notice.html", values)?).into_response())
}

fn get<'f>(fields: &'f [(String, String)], name: &str) -> Option<&'f str> {
    fields.iter().find(|(own, _)| own == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
}
