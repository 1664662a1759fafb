//! The staff's board: pages rendered on the server, complete without script.
//!
//! A request goes through [`guard`]: who is signed in, whether the role may open the page ([`access`], one table), and for a
//! form whether its token is that of the session. Pages show what [`crate::desk::board`] put together and decide nothing.

pub mod access;
mod acts;
pub mod chance;
mod charts;
mod clearance;
mod coming;
mod drills;
mod families;
mod guard;
mod helmets;
mod kits;
mod limits;
mod live;
mod pages;
mod sign_in;

use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{StatusCode, header};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::response::{Html, Response};
use axum::routing::{get, post};
use chrono::TimeDelta;
use minijinja::{Environment, Value};
use tokio::sync::{Semaphore, watch};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::timeout::TimeoutLayer;
use url::Url;

use crate::desk::Desk;
use chance::Chance;
use limits::Limit;
use live::Shared;

const STYLE: &str = include_str!("../../../templates/board/board.css");
const SCRIPT: &str = include_str!("../../../templates/board/board.js");
const TEMPLATES: &[(&str, &str)] = &[
    ("base.html", include_str!("../../../templates/board/base.html")),
    ("today.html", include_str!("../../../templates/board/today.html")),
    ("silent.html", include_str!("../../../templates/board/silent.html")),
    ("print.html", include_str!("../../../templates/board/print.html")),
    ("athlete.html", include_str!("../../../templates/board/athlete.html")),
    ("trainer.html", include_str!("../../../templates/board/trainer.html")),
    ("availability.html", include_str!("../../../templates/board/availability.html")),
    ("messages.html", include_str!("../../../templates/board/messages.html")),
    ("season.html", include_str!("../../../templates/board/season.html")),
    ("settings.html", include_str!("../../../templates/board/settings.html")),
    ("drills.html", include_str!("../../../templates/board/drills.html")),
    ("helmets.html", include_str!("../../../templates/board/helmets.html")),
    ("clearance.html", include_str!("../../../templates/board/clearance.html")),
    ("way.html", include_str!("../../../templates/board/way.html")),
    ("decision.html", include_str!("../../../templates/board/decision.html")),
    ("paper.html", include_str!("../../../templates/board/paper.html")),
    ("families.html", include_str!("../../../templates/board/families.html")),
    ("kits.html", include_str!("../../../templates/board/kits.html")),
    ("orders.html", include_str!("../../../templates/board/orders.html")),
    ("coming.html", include_str!("../../../templates/board/coming.html")),
    ("welcome.html", include_str!("../../../templates/board/welcome.html")),
    ("sign_in.html", include_str!("../../../templates/board/sign_in.html")),
    ("link.html", include_str!("../../../templates/board/link.html")),
    ("notice.html", include_str!("../../../templates/board/notice.html")),
    ("today_main.html", include_str!("../../../templates/board/today_main.html")),
    ("item_forms.html", include_str!("../../../templates/board/item_forms.html")),
    ("fields.html", include_str!("../../../templates/board/fields.html")),
    ("hold_fields.html", include_str!("../../../templates/board/hold_fields.html")),
    ("interpret.html", include_str!("../../../templates/board/interpret.html")),
    ("parts.html", include_str!("../../../templates/board/parts.html")),
];

/// A form of the board is a few hundred bytes.
const MOST_BYTES: usize = 16 * 1024;
const ANSWER_WITHIN: Duration = Duration::from_secs(20);
/// Browsers that are told of changes at the same time; the others see them when they load a page.
const MOST_LISTENERS: usize = 400;

/// What the board's handlers share; clones share it.
#[derive(Clone)]
pub struct Board(Arc<Inner>);

/// The board itself; its parts are this module's.
pub struct Inner {
    desk: Desk,
    public_url: Url,
    templates: Environment<'static>,
    chance: Chance,
    by_address: Limit,
    by_number: Limit,
    shared: Shared,
    listeners: Arc<Semaphore>,
    closing: watch::Receiver<bool>,
}

impl std::ops::Deref for Board {
    type Target = Inner;
    fn deref(&self) -> &Inner {
        &self.0
    }
}

/// How a board is opened.
pub struct Opening {
    /// The desk.
    pub desk: Desk,
    /// The address that staff open, without a path: links in texts begin with it. With https, cookies are for https alone.
    pub public_url: Url,
    /// Seed of tokens: the machine's randomness, but for the demo and tests.
    pub seed: [u8; 32],
    /// How old a page of today may be that many readers share.
    pub shared_for: Duration,
    /// Turns true when the program ends: browsers that listen for changes are let go.
    pub closing: watch::Receiver<bool>,
}

/// Today's page is put together at most this often for all of its readers together.
pub const SHARED_FOR: Duration = Duration::from_millis(400);

impl Board {
    /// Opens the board.
    ///
    /// # Errors
    /// When a page that is built in does not compile.
    pub fn open(opening: Opening) -> Result<Self, minijinja::Error> {
        let mut templates = Environment::new();
        let syntax = minijinja::syntax::SyntaxConfig::builder().trim_blocks(true).lstrip_blocks(true).build()?;
        templates.set_syntax(syntax);
        for (name, source) in TEMPLATES {
            templates.add_template(name, source)?;
        }
        Ok(Self(Arc::new(Inner {
            shared: Shared::new(opening.shared_for),
            desk: opening.desk,
            public_url: opening.public_url,
            templates,
            chance: Chance::new(opening.seed),
            by_address: Limit::new(20, TimeDelta::minutes(10)),
            by_number: Limit::new(5, TimeDelta::minutes(10)),
            listeners: Arc::new(Semaphore::new(MOST_LISTENERS)),
            closing: opening.closing,
        })))
    }

    /// The desk that the board shows.
    #[must_use]
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    fn is_https(&self) -> bool {
        self.public_url.scheme() == "https"
    }

    fn render(&self, name: &str, values: Value) -> Result<Html<String>, Failed> {
        Ok(Html(self.templates.get_template(name)?.render(values)?))
    }
}

/// The board's routes.
pub fn router(board: Board) -> Router {
    let routes = Router::new()
        .route("/board", get(pages::today))
        .route("/board/silent", get(pages::silent))
        .route("/board/print", get(pages::print))
        .route("/board/athlete/{id}", get(pages::athlete))
        .route("/board/act", post(acts::act))
        .route("/board/trainer", get(pages::trainer))
        .route("/board/trainer/act", post(acts::trainer_act))
        .route("/board/families", get(families::page))
        .route("/board/families/ask", post(families::ask))
        .route("/board/clearance", get(clearance::page))
        .route("/board/clearance/{id}", get(clearance::one).post(clearance::record))
        .route("/board/messages", get(pages::messages))
        .route("/board/season", get(pages::season))
        .route("/board/settings", get(pages::settings))
        .route("/board/availability", get(pages::availability))
        .route("/board/drills", get(drills::page))
        .route("/board/drills/record", post(drills::record))
        .route("/board/helmets", get(helmets::page))
        .route("/board/helmets/note", post(helmets::note))
        .route("/board/kits", get(kits::page))
        .route("/board/kits/count", post(kits::count))
        .route("/board/orders", get(kits::orders))
        .route("/board/orders.csv", get(kits::csv))
        .route("/board/orders/note", post(kits::note_order))
        .route("/board/coming", get(coming::page))
        .route("/board/calendar", post(coming::calendar))
        .route("/board/welcome", get(pages::welcome))
        .route("/board/events", get(live::events))
        .route("/sign-out", post(sign_in::sign_out));
    guarded(routes, board)
}

/// Routes behind the guard, beside those that need no session.
pub fn guarded(routes: Router<Board>, board: Board) -> Router {
    routes
        .route_layer(from_fn_with_state(board.clone(), guard::guard))
        .route("/calendar/{program}/{file}", get(super::feed::show))
        .route("/sign-in", get(sign_in::form).post(sign_in::ask))
        .route("/sign-in/{program}/{token}", get(sign_in::link).post(sign_in::use_link))
        .route("/board.css", get(|| async { ([(header::CONTENT_TYPE, "text/css; charset=utf-8")], STYLE) }))
        .route("/board.js", get(|| async { ([(header::CONTENT_TYPE, "text/javascript; charset=utf-8")], SCRIPT) }))
        .layer(from_fn(guard::headers))
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(TimeoutLayer::with_status_code(StatusCode::SERVICE_UNAVAILABLE, ANSWER_WITHIN))
        .layer(CatchPanicLayer::new())
        .with_state(board)
}

/// A page could not be made: the reason goes to the log, a sentence to the reader.
struct Failed(String);

impl<E: std::error::Error> From<E> for Failed {
    fn from(error: E) -> Self {
        Self(error.to_string())
    }
}

impl axum::response::IntoResponse for Failed {
    fn into_response(self) -> Response {
        tracing::error!(error = %self.0, "a page of the board cannot be made");
        let page = "<!doctype html><html lang=\"en\"><title>Not now</title><p>This page cannot be made now. Nothing was \
                    changed. Try again, or ask by text: list</p></html>";
        (StatusCode::INTERNAL_SERVER_ERROR, Html(page)).into_response()
    }
}
