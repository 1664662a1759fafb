//! The carrier's calls: a text came in, a message of ours fares so.

use axum::body::Bytes;
use axum::extract::{OriginalUri, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};

use super::Web;
use crate::channel::inbound::{IncomingText, StatusReport, form_pairs};
use crate::channel::signature::{self, HEADER, SETTINGS_HEADER};
use crate::desk::Received;
use crate::trade::phone::Phone;

/// An answer that sends nothing: what is to be said goes through the outbox.
const NOTHING_TO_SAY: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?><Response></Response>";

/// A text came in: verified, stored with its consequences, and only then answered.
pub async fn inbound(
    State(web): State<Web>,
    OriginalUri(uri): OriginalUri,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let pairs = match verified(&web, &uri, &headers, &body) {
        Ok(pairs) => pairs,
        Err(refused) => return refused,
    };
    let text = match IncomingText::from_pairs(&pairs) {
        Ok(text) => text,
        Err(error) => return unreadable(&error.to_string()),
    };
    let from = text.from.short();
    match web.desk.receive(text, web.desk.clock().now()).await {
        Ok(received) => {
            let what = match received {
                Received::New => "new",
                Received::Duplicate => "duplicate",
                Received::NotOurs => "not ours",
            };
            metrics::counter!("browline_heard_total", "what" => what).increment(1);
            tracing::info!(from, what, "heard");
            ([(header::CONTENT_TYPE, "text/xml")], NOTHING_TO_SAY).into_response()
        }
        Err(error) => {
            tracing::error!(from, %error, "a text could not be stored; the carrier is asked to deliver it again");
            StatusCode::SERVICE_UNAVAILABLE.into_response()
        }
    }
}

/// A message of ours fares so.
pub async fn status(
    State(web): State<Web>,
    OriginalUri(uri): OriginalUri,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let pairs = match verified(&web, &uri, &headers, &body) {
        Ok(pairs) => pairs,
        Err(refused) => return refused,
    };
    let report = match StatusReport::from_pairs(&pairs) {
        Ok(report) => report,
        Err(error) => return unreadable(&error.to_string()),
    };
    let from = pairs.iter().find(|(name, _)| name == "From").and_then(|(_, number)| Phone::parse(number).ok());
    let program = from.and_then(|from| web.desk.config().program_by_number(&from)).map(|program| program.id.clone());
    let Some(program) = program else {
        return StatusCode::NO_CONTENT.into_response();
    };
    metrics::counter!("browline_reports_total", "status" => report.raw.clone()).increment(1);
    match web.desk.report(&program, report, web.desk.clock().now()).await {
        Ok(()) => StatusCode::NO_CONTENT.into_response(),
        Err(error) => {
            tracing::error!(%error, "a delivery report could not be stored");
            StatusCode::SERVICE_UNAVAILABLE.into_response()
        }
    }
}

/// The form's pairs, once the carrier's signature fits; a refusal otherwise, with nothing stored.
#[expect(clippy::result_large_err, reason = "the error is the answer")]
fn verified(
    web: &Web,
    uri: &axum::http::Uri,
    headers: &HeaderMap,
    body: &[u8],
) -> Result<Vec<(String, String)>, Response> {
    let pairs = form_pairs(body);
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let base = web.public_url.as_str().trim_end_matches('/');
    let called = format!("{base}{}", uri.path_and_query().map_or(uri.path(), |called| called.as_str()));
    match signature::check(&web.token, &called, &pairs, text(HEADER), text(SETTINGS_HEADER)) {
        Ok(()) => Ok(pairs),
        Err(why) => {
            metrics::counter!("browline_refused_signatures_total").increment(1);
            tracing::warn!(%why, path = uri.path(), "refused a call");
            Err((StatusCode::FORBIDDEN, "the signature does not fit\n").into_response())
        }
    }
}

fn unreadable(why: &str) -> Response {
    tracing::warn!(why, "a call that cannot be read");
    (StatusCode::BAD_REQUEST, format!("{why}\n")).into_response()
}
