//! What every request goes through: headers, session, role, and the token of a form.

use axum::body::{Body, to_bytes};
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum_extra::extract::CookieJar;
use hmac::{Hmac, KeyInit as _, Mac as _};
use minijinja::context;
use subtle::ConstantTimeEq as _;

use super::{Board, Failed, MOST_BYTES, access};
use crate::desk::sign_in::{SignedIn, hash};
use crate::trade::roster::ProgramId;

const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; img-src 'self' data:; \
                      form-action 'self'; frame-ancestors 'none'; base-uri 'none'";

/// Headers of every answer.
pub async fn headers(request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (header::CACHE_CONTROL, "no-store"),
        (header::X_FRAME_OPTIONS, "DENY"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

/// Who asks, with what their pages need: an extension of every request behind the guard.
#[derive(Debug, Clone)]
pub struct Visitor {
    /// Who is signed in.
    pub who: SignedIn,
    /// The token that this visitor's forms carry.
    pub csrf: String,
}

/// Lets through who is signed in, may open the page and, for a form, sends the token of their session.
pub async fn guard(State(board): State<Board>, path: Option<MatchedPath>, request: Request, next: Next) -> Response {
    match check(&board, path.as_ref(), request).await {
        Ok(Ok(request)) => next.run(request).await,
        Ok(Err(refused)) => refused,
        Err(failed) => failed.into_response(),
    }
}

async fn check(
    board: &Board,
    path: Option<&MatchedPath>,
    mut request: Request,
) -> Result<Result<Request, Response>, Failed> {
    let Some(visitor) = visitor(board, request.headers()).await? else {
        return Ok(Err(nobody(request.method())));
    };
    if !path.is_some_and(|path| access::may(&visitor.who.member, path.as_str())) {
        return Ok(Err(not_yours(board, &visitor)?));
    }
    if request.method() != Method::GET && request.method() != Method::HEAD {
        request = match with_token(request, &visitor.csrf).await {
            Ok(request) => request,
            Err(refused) => return Ok(Err(refused)),
        };
    }
    request.extensions_mut().insert(visitor);
    Ok(Ok(request))
}

/// Who is signed in, by the cookie.
async fn visitor(board: &Board, headers: &HeaderMap) -> Result<Option<Visitor>, Failed> {
    let jar = CookieJar::from_headers(headers);
    let Some(cookie) = jar.get(cookie_name(board)) else { return Ok(None) };
    let Some((program, token)) = cookie.value().split_once('.') else { return Ok(None) };
    let program = ProgramId::from(program);
    if board.desk.program(&program).is_err() {
        return Ok(None);
    }
    let who = board.desk.signed_in(&program, &hash(token), board.desk.clock().now()).await?;
    Ok(who.map(|who| Visitor { who, csrf: form_token(token) }))
}

/// The cookie's name. With https browsers take the prefixed one from this host alone, for every path, and never without
/// TLS.
pub fn cookie_name(board: &Board) -> &'static str {
    if board.is_https() { "__Host-browline" } else { "browline" }
}

/// The token of a session's forms: nobody can make it who has not the session's own.
fn form_token(session: &str) -> String {
    let Ok(mac) = Hmac::<sha2::Sha256>::new_from_slice(session.as_bytes()) else { return String::new() };
    hash(&format!("{:x?}", mac.chain_update("forms of the board").finalize().into_bytes()))
}

fn nobody(method: &Method) -> Response {
    if method == Method::GET {
        Redirect::to("/sign-in").into_response()
    } else {
        (StatusCode::FORBIDDEN, "you are not signed in; nothing was changed\n").into_response()
    }
}

fn not_yours(board: &Board, visitor: &Visitor) -> Result<Response, Failed> {
    let values = context! {
        title => "Not a page of yours",
        text => "Your role does not open this page. If it should, ask your program's administrator.",
        ..super::pages::frame(board, visitor, "")
    };
    Ok((StatusCode::FORBIDDEN, board.render("notice.html", values)?).into_response())
}

/// Whether a browser says that another site sent this. Older browsers say nothing; the token is checked as well.
pub fn is_from_elsewhere(headers: &HeaderMap) -> bool {
    headers.get("sec-fetch-site").is_some_and(|site| site != "same-origin" && site != "none")
}

/// The request, once its form carries the session's token.
async fn with_token(request: Request, token: &str) -> Result<Request, Response> {
    let refused = || {
        (StatusCode::FORBIDDEN, "this form is not of your session; load the page again. Nothing was changed.\n")
            .into_response()
    };
    if is_from_elsewhere(request.headers()) {
        return Err(refused());
    }
    let (parts, body) = request.into_parts();
    let bytes = to_bytes(body, MOST_BYTES).await.map_err(|_| StatusCode::PAYLOAD_TOO_LARGE.into_response())?;
    let sent =
        url::form_urlencoded::parse(&bytes).find(|(name, _)| name == "csrf").map(|(_, value)| value.into_owned());
    if !sent.is_some_and(|sent| bool::from(sent.as_bytes().ct_eq(token.as_bytes()))) {
        return Err(refused());
    }
    Ok(Request::from_parts(parts, Body::from(bytes)))
}
