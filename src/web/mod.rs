//! What the server answers: the carrier's webhooks, the staff's board, health, metrics. No page of it needs a script.
//!
//! A webhook is verified before it is read, and answered after the commit. Numbers and texts never reach a log.

pub mod board;
pub mod family;
pub mod feed;
mod list;
pub mod webhook;

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use metrics_exporter_prometheus::PrometheusHandle;
use secrecy::SecretString;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;
use url::Url;

use crate::desk::Desk;

/// A carrier's webhook is a few kilobytes; anything larger is not one.
const MOST_BYTES: usize = 64 * 1024;
/// The carrier waits fifteen seconds for an answer.
const ANSWER_WITHIN: Duration = Duration::from_secs(14);

/// What the handlers share.
#[derive(Clone)]
pub struct Web {
    /// The desk.
    pub desk: Desk,
    /// The carrier's token: verifies its calls.
    pub token: Arc<SecretString>,
    /// The address that the carrier calls, without a path.
    pub public_url: Url,
    /// Metrics, when they are collected.
    pub metrics: Option<PrometheusHandle>,
}

/// The server's routes.
pub fn router(web: Web) -> Router {
    Router::new()
        .route("/sms/inbound", post(webhook::inbound))
        .route("/sms/status", post(webhook::status))
        .route("/family/{program}/{guardian}/{mark}", get(family::show).post(family::read))
        .route("/family/{program}/{guardian}/{mark}/stop", get(family::show).post(family::stop))
        .route("/today/{program}/{team}/{date}/{mark}", get(list::show))
        .route("/health", get(health))
        .route("/metrics", get(metrics))
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, ANSWER_WITHIN))
        .layer(CatchPanicLayer::new())
        .with_state(web)
}

/// 200 when the store answers, 503 when it does not. Says nothing of anybody.
async fn health(State(web): State<Web>) -> Response {
    match web.desk.store().read().await {
        Ok(_) => (StatusCode::OK, "ok\n").into_response(),
        Err(error) => {
            tracing::error!(%error, "the store does not answer");
            (StatusCode::SERVICE_UNAVAILABLE, "the store does not answer\n").into_response()
        }
    }
}

async fn metrics(State(web): State<Web>) -> Response {
    match &web.metrics {
        Some(handle) => ([(header::CONTENT_TYPE, "text/plain; version=0.0.4")], handle.render()).into_response(),
        None => StatusCode::NOT_FOUND.into_response(),
    }
}
