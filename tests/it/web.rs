//! The server: signed calls, health, and the list behind a link.

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use browline::channel::signature::{HEADER, sign};
use browline::web::{Web, router};
use http_body_util::BodyExt as _;
use secrecy::SecretString;
use std::sync::Arc;
use tower::ServiceExt as _;
use url::Url;

use crate::on_both_engines;
use crate::support::*;

const PUBLIC: &str = "https://kestrels.example.org/";
const TOKEN: &str = "a-token-for-tests";

fn web(world: &World) -> axum::Router {
    let web = Web {
        desk: world.desk.clone(),
        token: Arc::new(SecretString::from(TOKEN)),
        public_url: Url::parse(PUBLIC).unwrap(),
        metrics: None,
    };
    router(web)
}

fn call(path: &str, pairs: &[(&str, &str)], token: &str) -> Request<Body> {
    let pairs: Vec<(String, String)> = pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
    let url = format!("{}{path}", PUBLIC.trim_end_matches('/'));
    let signature = sign(&SecretString::from(token), &url, &pairs);
    let body: String = url::form_urlencoded::Serializer::new(String::new()).extend_pairs(&pairs).finish();
    Request::post(path)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(HEADER, signature)
        .body(Body::from(body))
        .unwrap()
}

async fn get(router: axum::Router, path: &str) -> (StatusCode, String) {
    let answer = router.oneshot(Request::get(path).body(Body::empty()).unwrap()).await.unwrap();
    let status = answer.status();
    let body = answer.into_body().collect().await.unwrap().to_bytes();
    (status, String::from_utf8_lossy(&body).into_owned())
}

on_both_engines! {
    async fn a_wrong_signature_is_refused_and_nothing_is_stored(world) {
        world.to("15T06:45:00").await;
        let text = [("MessageSid", "SM1"), ("From", MARCUS), ("To", "+13125550100"), ("Body", "strap broke"), ("NumMedia", "0")];
        let refused = web(&world).oneshot(call("/sms/inbound", &text, "another-token")).await.unwrap();
        assert_eq!(refused.status(), StatusCode::FORBIDDEN);
        assert!(world.open_items().await.is_empty());
        let taken = web(&world).oneshot(call("/sms/inbound", &text, TOKEN)).await.unwrap();
        assert_eq!(taken.status(), StatusCode::OK);
        assert_eq!(world.open_items().await.len(), 1, "committed before it is answered");
        let again = web(&world).oneshot(call("/sms/inbound", &text, TOKEN)).await.unwrap();
        assert_eq!(again.status(), StatusCode::OK);
        assert_eq!(world.open_items().await[0].replies.len(), 1);
    }

    async fn health_answers(world) {
        assert_eq!(get(web(&world), "/health").await.0, StatusCode::OK);
    }
}

/// The fix list's text carries a link; the link shows the list, and a changed one shows nothing.
#[tokio::test]
async fn the_fix_list_has_a_link_that_opens_it_and_no_other() {
    let config = format!("[server]\npublic_url = \"{PUBLIC}\"\n{CONFIG}");
    let world = World::empty_with(Engine::Sqlite, &config, |key| {
        (key == browline::config::CARRIER_TOKEN).then(|| TOKEN.to_owned())
    })
    .await;
    world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
    world.to("15T06:45:00").await;
    for (phone, text) in [(MARCUS, "strap broke"), (NOAH, "mask is loose"), (IVAN, "se rompio la correa")] {
        world.text(phone, text).await;
    }
    world.to("15T14:00:00").await;
    let day = world.clock.now().date(chrono_tz::America::Chicago);
    let team = browline::trade::roster::TeamId::from("varsity");
    let link = world.desk.program(&world.program).unwrap().list_link(&team, day).unwrap();
    let path = link.strip_prefix(PUBLIC.trim_end_matches('/')).unwrap().to_owned();
    let (status, page) = get(web(&world), &path).await;
    assert_eq!(status, StatusCode::OK);
    assert!(page.contains("#7 Marcus"), "{page}");
    assert_eq!(get(web(&world), &path.replace("varsity", "jv")).await.0, StatusCode::NOT_FOUND);
    assert_eq!(get(web(&world), &format!("{}0", &path[..path.len() - 1])).await.0, StatusCode::NOT_FOUND);
    world.clock.set(at("16T08:00:00"));
    assert_eq!(get(web(&world), &path).await.0, StatusCode::NOT_FOUND, "of no use the day after");
}
