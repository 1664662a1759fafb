//! A page that readers share is never older than what its reader knows; browsers that listen hear of changes, and of
//! nothing once they are signed out.

use std::time::Duration;

use axum::body::{Body, BodyDataStream};
use axum::http::{Request, StatusCode, header};
use browline::web::board::router;
use futures::StreamExt as _;
use tower::ServiceExt as _;

use crate::support::*;
use crate::visitor::*;

#[tokio::test]
async fn readers_share_a_page_but_not_past_what_they_did_or_heard_of() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    world.text(MARCUS, "strap broke").await;
    // Far longer than a test takes: whatever is fresh here is fresh for another reason.
    let router = router(opened_sharing(&world, Duration::from_secs(600)));
    let cole = Visitor::signed_in(&world, &router, COLE).await;
    let ana = Visitor::signed_in(&world, &router, ANA).await;
    let first = cole.get("/board").await.body;
    assert!(first.contains("Fix list: 1"), "{first}");
    world.text(NOAH, "mask is loose").await;
    assert!(ana.get("/board").await.body.contains("Fix list: 1"), "the one that was made for Cole");
    let heard = world.desk.changed(&world.program).await.unwrap();
    let page = ana.get(&format!("/board?seen={heard}")).await.body;
    assert!(page.contains("Fix list: 2"), "she has heard of more: {page}");
    assert!(
        ana.get("/board?seen=999999").await.body.contains("Fix list: 2"),
        "a number that is made up waits for nothing"
    );

    let item = world.open_items().await[0].id.clone();
    let csrf = cole.get("/board").await.csrf();
    assert_ne!(csrf, ana.get("/board").await.csrf(), "the page is shared, the token is not");
    let taken = cole.post("/board/act", &[("csrf", &csrf), ("take", &item)]).await;
    assert_eq!(taken.status, StatusCode::SEE_OTHER);
    assert!(cole.get("/board").await.body.contains("Cole has it"), "whoever did something sees it done");
    assert!(ana.get("/board").await.body.contains("Cole has it"));
}

#[tokio::test]
async fn two_teams_do_not_share_a_page() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    world.text(MARCUS, "strap broke").await;
    world.text(LUIS, "strap broke").await;
    let router = router(opened_sharing(&world, Duration::from_secs(600)));
    let cole = Visitor::signed_in(&world, &router, COLE).await;
    assert!(cole.get("/board").await.body.contains("Fix list: 2"));
    let jv = cole.get("/board?team=jv").await.body;
    assert!(jv.contains("Fix list: 1") && jv.contains("Luis"), "{jv}");
}

#[tokio::test]
async fn a_browser_hears_of_changes_and_of_nothing_after_it_signed_out() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    let router = board(&world);
    let cole = Visitor::signed_in(&world, &router, COLE).await;
    let csrf = cole.get("/board").await.csrf();
    let request = Request::get("/board/events").header(header::COOKIE, cookie(&cole)).body(Body::empty()).unwrap();
    let answer = router.clone().oneshot(request).await.unwrap();
    assert_eq!(answer.headers()[header::CONTENT_TYPE], "text/event-stream");
    let mut stream = answer.into_body().into_data_stream();
    let first = next(&mut stream).await.unwrap();
    let now = world.desk.changed(&world.program).await.unwrap();
    assert_eq!(first, now, "what is so when it begins");
    world.text(MARCUS, "strap broke").await;
    let heard = next(&mut stream).await.unwrap();
    assert!(heard > first, "{heard}");
    assert_eq!(cole.post("/sign-out", &[("csrf", &csrf)]).await.status, StatusCode::SEE_OTHER);
    world.text(NOAH, "strap broke").await;
    assert_eq!(next(&mut stream).await, None, "the stream ends with the session");
}

/// Looking at the trainer's page adds to the record, and must not make the page refresh itself for ever.
#[tokio::test]
async fn a_look_at_a_medical_item_is_no_change() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    world.text(MARCUS, "my head hurts").await;
    let router = board(&world);
    let ana = Visitor::signed_in(&world, &router, ANA).await;
    let before = world.desk.changed(&world.program).await.unwrap();
    ana.get("/board/trainer").await;
    ana.get("/board/athlete/a4").await;
    assert_eq!(world.desk.changed(&world.program).await.unwrap(), before);
    world.text(NOAH, "strap broke").await;
    assert!(world.desk.changed(&world.program).await.unwrap() > before);
}

fn cookie(visitor: &Visitor) -> String {
    visitor.cookie.clone().unwrap()
}

/// The number in the next event; nothing when the stream has ended. Keep-alives are passed over.
async fn next(stream: &mut BodyDataStream) -> Option<i64> {
    let within = Duration::from_secs(10);
    loop {
        let piece =
            tokio::time::timeout(within, stream.next()).await.expect("nothing came within ten seconds")?.unwrap();
        let text = String::from_utf8(piece.to_vec()).unwrap();
        if let Some(data) = text.lines().find_map(|line| line.strip_prefix("data: ")) {
            return Some(data.parse().unwrap());
        }
    }
}
