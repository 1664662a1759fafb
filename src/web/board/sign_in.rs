//! Signing in and out. The answer to a number is the same whether it is known or not; a link is used up by the button on
//! its page and not by opening it, since phones and carriers open links to show what is behind them.

use std::net::{IpAddr, SocketAddr};

use axum::extract::{ConnectInfo, Extension, Form, Path, Request, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse as _, Redirect, Response};
use axum_extra::extract::CookieJar;
use axum_extra::extract::cookie::{Cookie, SameSite};
use minijinja::context;
use serde::Deserialize;

use super::guard::{Visitor, cookie_name, is_from_elsewhere};
use super::{Board, Failed, access};
use crate::desk::sign_in::hash;
use crate::trade::phone::Phone;
use crate::trade::roster::ProgramId;

/// Bytes of chance in a link: 128 bits that stand for fifteen minutes.
const LINK_BYTES: usize = 16;
/// Bytes of chance in a session.
const SESSION_BYTES: usize = 32;

/// The page that asks for a number.
pub async fn form(State(board): State<Board>) -> Result<Response, Failed> {
    Ok(board.render("sign_in.html", context! { asked => false })?.into_response())
}

/// What the form sends.
#[derive(Debug, Deserialize)]
pub struct Number {
    phone: String,
}

/// Has a link texted, if the number is a staff member's; says the same if it is not, and takes as long.
pub async fn ask(State(board): State<Board>, request: Request) -> Result<Response, Failed> {
    use axum::extract::FromRequest as _;
    let now = board.desk.clock().now();
    let address = address(&request);
    let elsewhere = is_from_elsewhere(request.headers());
    let Ok(Form(Number { phone })) = Form::from_request(request, &board).await else {
        return Ok(StatusCode::BAD_REQUEST.into_response());
    };
    if elsewhere || !board.by_address.allows(&address, now) {
        let page = board.render("sign_in.html", context! { asked => false, too_often => true })?;
        return Ok((StatusCode::TOO_MANY_REQUESTS, page).into_response());
    }
    let Ok(phone) = Phone::parse(&phone) else {
        let page = board.render("sign_in.html", context! { asked => false, unreadable => true })?;
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
    };
    if board.by_number.allows(phone.as_str(), now) {
        // Not waited for: how long it takes would tell whether the number is known.
        tokio::spawn(send_links(board.clone(), phone));
    }
    Ok(board.render("sign_in.html", context! { asked => true })?.into_response())
}

/// A link for each program in which the number is a staff member's.
async fn send_links(board: Board, phone: Phone) {
    let now = board.desk.clock().now();
    let programs: Vec<ProgramId> = board.desk.config().programs.keys().cloned().collect();
    for program in programs {
        let token = board.chance.token::<LINK_BYTES>();
        let base = board.public_url.as_str().trim_end_matches('/');
        let link = format!("{base}/sign-in/{program}/{token}");
        match board.desk.send_sign_in(&program, &phone, &link, &hash(&token), now).await {
            Ok(outcome) => tracing::info!(%program, ?outcome, "asked to sign in"),
            Err(error) => tracing::error!(%program, %error, "a sign-in link could not be queued"),
        }
    }
}

/// Where a request comes from: the last hop that a proxy on this machine vouches for, else the peer itself.
fn address(request: &Request) -> String {
    let peer = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|info| info.0.ip());
    let behind_proxy = peer.is_none_or(|peer| is_near(&peer));
    let named = request.headers().get("x-forwarded-for").and_then(|value| value.to_str().ok());
    let last = named.filter(|_| behind_proxy).and_then(|all| all.rsplit(',').next()).map(|last| last.trim().to_owned());
    last.or_else(|| peer.map(|peer| peer.to_string())).unwrap_or_else(|| "unknown".to_owned())
}

fn is_near(peer: &IpAddr) -> bool {
    match peer {
        IpAddr::V4(peer) => peer.is_loopback() || peer.is_private(),
        IpAddr::V6(peer) => peer.is_loopback() || peer.is_unique_local(),
    }
}

/// The page behind a link: a button, and nothing is used up.
pub async fn link(
    State(board): State<Board>,
    Path((program, token)): Path<(String, String)>,
) -> Result<Response, Failed> {
    let program = ProgramId(program);
    let name = board.desk.program(&program).ok().map(|program| program.name.clone());
    let stands = match &name {
        Some(_) => board.desk.sign_in_stands(&program, &hash(&token), board.desk.clock().now()).await?,
        None => false,
    };
    page_of_link(&board, stands, name.as_deref())
}

fn page_of_link(board: &Board, stands: bool, program: Option<&str>) -> Result<Response, Failed> {
    let status = if stands { StatusCode::OK } else { StatusCode::GONE };
    Ok((status, board.render("link.html", context! { stands, program })?).into_response())
}

/// Uses a link up and begins a session.
pub async fn use_link(
    State(board): State<Board>,
    Path((program, token)): Path<(String, String)>,
    headers: HeaderMap,
    jar: CookieJar,
) -> Result<Response, Failed> {
    let program = ProgramId(program);
    if is_from_elsewhere(&headers) || board.desk.program(&program).is_err() {
        return page_of_link(&board, false, None);
    }
    let session = board.chance.token::<SESSION_BYTES>();
    let now = board.desk.clock().now();
    let Some(member) = board.desk.use_sign_in(&program, &hash(&token), &hash(&session), now).await? else {
        return page_of_link(&board, false, None);
    };
    let cookie = Cookie::build((cookie_name(&board), format!("{program}.{session}")))
        .path("/")
        .http_only(true)
        .same_site(SameSite::Lax)
        .secure(board.is_https())
        .build();
    Ok((jar.add(cookie), Redirect::to(access::home(&member))).into_response())
}

/// Ends the session.
pub async fn sign_out(
    State(board): State<Board>,
    Extension(visitor): Extension<Visitor>,
    jar: CookieJar,
) -> Result<Response, Failed> {
    board.desk.sign_out(&visitor.who, board.desk.clock().now()).await?;
    // With its prefix a browser takes it, and so its removal, over https alone.
    let gone = Cookie::build(cookie_name(&board)).path("/").secure(board.is_https()).build();
    Ok((jar.remove(gone), Redirect::to("/sign-in")).into_response())
}
