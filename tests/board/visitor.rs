//! A browser without a screen: goes through the router, keeps its cookie, fills in forms.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, StatusCode, header};
use browline::store::rows::OutMessage;
use browline::web::board::{Board, Opening, router};
use http_body_util::BodyExt as _;
use tokio::sync::watch;
use tower::ServiceExt as _;
use url::Url;

use crate::support::*;

pub const PUBLIC: &str = "https://kestrels.example.org/";
pub const DENISE: &str = "+13125550105";
pub const BETH: &str = "+13125550106";

/// Staff with every role: a trainer, a second, equipment, a coach, an administrator, a responder.
pub const STAFF: &str = "\
id,first,last,phone,email,language,roles,teams,duty,call_order,consent_date,consent_how
ana,Ana,Ruiz,312-555-0101,,en,trainer,,,1,2026-08-01,signed form
tess,Tess,Moon,312-555-0102,,en,trainer,,,2,2026-08-01,signed form
cole,Cole,Hart,312-555-0103,,en,equipment,,,1,2026-08-01,signed form
dane,Dane,Ochs,312-555-0104,,en,coach,varsity,,1,2026-08-01,signed form
denise,Denise,Gray,312-555-0105,,en,administrator,,,1,2026-08-01,signed form
beth,Beth,Sand,312-555-0106,,es,responder,,,1,2026-08-01,signed form
";

/// The small roster with staff of every role.
pub async fn staffed(world: &World) {
    let files = files(&[("staff.csv", STAFF)]);
    world.desk.import(&world.program, &files, world.clock.now(), false).await.unwrap();
}

/// The board's router over a world. Each has tokens of its own.
pub fn board(world: &World) -> Router {
    router(opened(world))
}

/// A board whose pages are all as of now: what may be older is tested with one that shares.
pub fn opened(world: &World) -> Board {
    opened_sharing(world, Duration::ZERO)
}

/// A board whose readers share a page of today for so long.
pub fn opened_sharing(world: &World, shared_for: Duration) -> Board {
    static SEEDS: AtomicU8 = AtomicU8::new(1);
    let (_, closing) = watch::channel(false);
    Board::open(Opening {
        desk: world.desk.clone(),
        public_url: Url::parse(PUBLIC).unwrap(),
        seed: [SEEDS.fetch_add(1, Ordering::Relaxed); 32],
        shared_for,
        closing,
    })
    .unwrap()
}

pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: String,
}

impl Answer {
    pub fn location(&self) -> &str {
        self.headers[header::LOCATION].to_str().unwrap()
    }

    /// The token in the page's first form.
    pub fn csrf(&self) -> String {
        let at = self.body.find("name=\"csrf\" value=\"").unwrap() + 19;
        self.body[at..].split('"').next().unwrap().to_owned()
    }

    /// Values of the hidden fields with a name, in order.
    pub fn hidden(&self, name: &str) -> Vec<String> {
        let mark = format!("name=\"{name}\" value=\"");
        self.body
            .match_indices(&mark)
            .map(|(at, _)| unescaped(self.body[at + mark.len()..].split('"').next().unwrap()))
            .collect()
    }
}

pub fn unescaped(text: &str) -> String {
    text.replace("&#x2f;", "/")
        .replace("&quot;", "\"")
        .replace("&#x27;", "'")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
}

/// Somebody with a browser.
#[derive(Clone)]
pub struct Visitor {
    router: Arc<Router>,
    pub cookie: Option<String>,
}

impl Visitor {
    pub fn new(router: &Router) -> Self {
        Self { router: Arc::new(router.clone()), cookie: None }
    }

    /// Signed in with the link that is texted to a number.
    pub async fn signed_in(world: &World, router: &Router, phone: &str) -> Self {
        let mut visitor = Self::new(router);
        let path = visitor.link(world, phone).await;
        let answer = visitor.post(&path, &[]).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.body);
        let cookie = answer.headers[header::SET_COOKIE].to_str().unwrap().split(';').next().unwrap().to_owned();
        visitor.cookie = Some(cookie);
        visitor
    }

    /// Asks for a link and waits for the text; gives the link's path.
    pub async fn link(&self, world: &World, phone: &str) -> String {
        let before: Vec<String> = sign_in_texts(world, phone).await.into_iter().map(|text| text.id).collect();
        let answer = self.post("/sign-in", &[("phone", phone)]).await;
        assert_eq!(answer.status, StatusCode::OK);
        for _ in 0..10_000 {
            // The clock stands still: the new one is the one that was not there before.
            let new = sign_in_texts(world, phone).await.into_iter().find(|text| !before.contains(&text.id));
            if let Some(OutMessage { body, .. }) = new {
                let at = body.find(PUBLIC).unwrap();
                let link = body[at..].split_whitespace().next().unwrap();
                return format!("/{}", link.strip_prefix(PUBLIC).unwrap());
            }
            moment().await;
        }
        panic!("no link was texted to {phone}");
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.send(Method::GET, path, &[], &[]).await
    }

    pub async fn post(&self, path: &str, pairs: &[(&str, &str)]) -> Answer {
        self.send(Method::POST, path, pairs, &[]).await
    }

    pub async fn send(&self, method: Method, path: &str, pairs: &[(&str, &str)], headers: &[(&str, &str)]) -> Answer {
        let body: String = url::form_urlencoded::Serializer::new(String::new()).extend_pairs(pairs).finish();
        let mut request = Request::builder().method(method.clone()).uri(path);
        if method == Method::POST {
            request = request.header(header::CONTENT_TYPE, "application/x-www-form-urlencoded");
        }
        if let Some(cookie) = &self.cookie {
            request = request.header(header::COOKIE, cookie);
        }
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        let request = request.body(if method == Method::POST { Body::from(body) } else { Body::empty() }).unwrap();
        let answer = Router::clone(&self.router).oneshot(request).await.unwrap();
        let (parts, body) = answer.into_parts();
        // A stream of events has no end to wait for.
        let stream = parts.headers.get(header::CONTENT_TYPE).is_some_and(|kind| kind == "text/event-stream");
        let body = if stream { Vec::new() } else { body.collect().await.unwrap().to_bytes().to_vec() };
        Answer { status: parts.status, headers: parts.headers, body: String::from_utf8(body).unwrap() }
    }
}

/// Sign-in texts that are queued or sent to a number, oldest first.
pub async fn sign_in_texts(world: &World, phone: &str) -> Vec<OutMessage> {
    world.outbox(phone).await.into_iter().filter(|message| message.id.starts_with("sign-in/")).collect()
}

/// Lets what was started in the background run; enough for a few queries.
pub async fn settled() {
    for _ in 0..200 {
        moment().await;
    }
}

/// A millisecond of life: the clock of a world stands still.
async fn moment() {
    tokio::time::timeout(Duration::from_millis(1), std::future::pending::<()>()).await.unwrap_err();
}
