//! Replies a second through the HTTP webhook, signature check to commit, against a bare handler that only verifies the
//! signature.
//!
//! Both serve on loopback in a runtime of their own and are loaded by the same client: keep-alive connections, each
//! posting one signed form after the other, requests made beforehand. Alternating. On PostgreSQL the numbers mean
//! something only when its fsync is on.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

mod common;
#[path = "../tests/support/fake_carrier.rs"]
mod fake_carrier;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use axum::Router;
use axum::body::Bytes;
use axum::extract::{OriginalUri, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::post;
use browline::channel::inbound::form_pairs;
use browline::channel::signature::{self, HEADER, SETTINGS_HEADER};
use browline::clock::Clock;
use browline::desk::Desk;
use browline::web::{Web, router};
use common::{Engine, at, config, desk, median, numbers, program_number, rounds, spread, timed};
use fake_carrier::inbound_form;
use secrecy::SecretString;
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

const REPLIES: usize = 10_000;
const CONNECTIONS: usize = 256;
const PUBLIC: &str = "https://browline.example";
const TOKEN: &str = "a-token-for-tests";

fn main() {
    let runtime =
        |threads| tokio::runtime::Builder::new_multi_thread().worker_threads(threads).enable_all().build().unwrap();
    let (server, client) = (runtime(2), runtime(1));
    let requests = Arc::new(requests());
    for engine in Engine::all() {
        let prepared = server.block_on(engine.prepared(REPLIES, true, true));
        let (mut bare, mut whole) = (Vec::new(), Vec::new());
        for _ in 0..rounds() {
            let port = server.block_on(serve(bare_router()));
            bare.push(client.block_on(load(port, &requests)));

            let address = server.block_on(engine.copy(&prepared));
            let desk =
                server.block_on(desk(&address, &config(1, ""), &Clock::manual(at("2026-09-15T07:00:00-05:00")), None));
            let port = server.block_on(serve(router(web(&desk))));
            whole.push(client.block_on(load(port, &requests)));
            server.block_on(async {
                let mut tx = desk.store().read().await.unwrap();
                let stored = tx.numbers("SELECT COUNT(*) FROM inbox WHERE handled", Vec::new()).await.unwrap();
                assert_eq!(stored, [i64::try_from(REPLIES).unwrap()], "every reply is stored and acted on");
                drop(tx);
                desk.store().close().await;
                engine.drop(&address).await;
            });
        }
        let rate = |times: &[Duration]| REPLIES as f64 / median(times).as_secs_f64();
        println!(
            "{}: {REPLIES} replies over {CONNECTIONS} connections: to the commit {} = {:.0}/s, signature alone {} = {:.0}/s; ratio {:.2}",
            engine.name(),
            spread(&whole),
            rate(&whole),
            spread(&bare),
            rate(&bare),
            rate(&whole) / rate(&bare),
        );
    }
}

fn web(desk: &Desk) -> Web {
    Web {
        desk: desk.clone(),
        token: Arc::new(SecretString::from(TOKEN)),
        public_url: PUBLIC.parse().unwrap(),
        metrics: None,
    }
}

fn bare_router() -> Router {
    Router::new().route("/sms/inbound", post(verify)).with_state(Arc::new(SecretString::from(TOKEN)))
}

async fn verify(
    State(token): State<Arc<SecretString>>,
    OriginalUri(uri): OriginalUri,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let pairs = form_pairs(&body);
    let text = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let called = format!("{PUBLIC}{}", uri.path());
    match signature::check(&token, &called, &pairs, text(HEADER), text(SETTINGS_HEADER)) {
        Ok(()) => ([(header::CONTENT_TYPE, "text/xml")], "<Response></Response>").into_response(),
        Err(_) => StatusCode::FORBIDDEN.into_response(),
    }
}

/// Serves on a free port for the rest of the run.
async fn serve(router: Router) -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    tokio::spawn(async move { axum::serve(listener, router).await });
    port
}

/// Replies of as many athletes, as they stand on the wire: of a hundred 88 say all is well, 10 flag the helmet, 2 the
/// head.
fn requests() -> Vec<Vec<u8>> {
    let token = SecretString::from(TOKEN);
    let request = |(index, from): (usize, String)| {
        let body = match index % 100 {
            0..10 => "strap broke",
            10..12 => "my head hurts",
            _ => "OK",
        };
        let form = inbound_form(&from, &program_number(0), body, &format!("SM{index:032}"));
        let signature = signature::sign(&token, &format!("{PUBLIC}/sms/inbound"), &form);
        let body = url::form_urlencoded::Serializer::new(String::new()).extend_pairs(&form).finish();
        format!(
            "POST /sms/inbound HTTP/1.1\r\nhost: browline.example\r\n{HEADER}: {signature}\r\n\
             content-type: application/x-www-form-urlencoded\r\ncontent-length: {}\r\n\r\n{body}",
            body.len()
        )
        .into_bytes()
    };
    numbers(REPLIES).into_iter().enumerate().map(request).collect()
}

/// Posts every request, and returns how long all of them took.
async fn load(port: u16, requests: &Arc<Vec<Vec<u8>>>) -> Duration {
    let mut connections = Vec::new();
    for _ in 0..CONNECTIONS {
        let stream = TcpStream::connect(("127.0.0.1", port)).await.unwrap();
        stream.set_nodelay(true).unwrap();
        connections.push(stream);
    }
    let next = Arc::new(AtomicUsize::new(0));
    let work = connections.into_iter().map(|mut stream| {
        let (next, requests) = (Arc::clone(&next), Arc::clone(requests));
        tokio::spawn(async move {
            let mut buffer = Vec::with_capacity(1024);
            while let Some(request) = requests.get(next.fetch_add(1, Ordering::Relaxed)) {
                stream.write_all(request).await.unwrap();
                answer(&mut stream, &mut buffer).await;
            }
        })
    });
    let (time, ended) = timed(futures::future::join_all(work)).await;
    ended.into_iter().for_each(|ended| ended.unwrap());
    time
}

/// Reads one answer to its end and wants it to be a success.
async fn answer(stream: &mut TcpStream, buffer: &mut Vec<u8>) {
    buffer.clear();
    loop {
        assert!(stream.read_buf(buffer).await.unwrap() > 0, "the server hung up");
        let text = std::str::from_utf8(buffer).unwrap();
        let Some((head, body)) = text.split_once("\r\n\r\n") else { continue };
        assert!(head.starts_with("HTTP/1.1 200"), "{head}");
        let length = head.lines().find_map(|line| line.strip_prefix("content-length: ")).unwrap();
        if body.len() >= length.parse::<usize>().unwrap() {
            return;
        }
    }
}
