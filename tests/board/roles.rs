//! Roles decide pages, by one table: every route against every role, and a route that is not in the table.

use std::collections::BTreeSet;

use axum::http::{Method, StatusCode};
use axum::routing::get;
use browline::web::board::access::{ACCESS, home, may};
use browline::web::board::guarded;

use crate::support::*;
use crate::visitor::*;

/// Who may open what, written down a second time and not by role names in code: T trainer, E equipment, C coach, R responder,
/// A administrator.
const EXPECTED: &[(&str, Method, &str)] = &[
    ("/board", Method::GET, "TE"),
    ("/board/silent", Method::GET, "TE"),
    ("/board/print", Method::GET, "TE"),
    ("/board/athlete/{id}", Method::GET, "TE"),
    ("/board/act", Method::POST, "TEA"),
    ("/board/trainer", Method::GET, "T"),
    ("/board/trainer/act", Method::POST, "T"),
    ("/board/clearance", Method::GET, "T"),
    ("/board/clearance/{id}", Method::GET, "T"),
    ("/board/families", Method::GET, "TA"),
    ("/board/families/ask", Method::POST, "TA"),
    ("/board/messages", Method::GET, "TEA"),
    ("/board/season", Method::GET, "TEA"),
    ("/board/settings", Method::GET, "TEA"),
    ("/board/availability", Method::GET, "TC"),
    ("/board/events", Method::GET, "TECA"),
    ("/board/drills", Method::GET, "TECR"),
    ("/board/drills/record", Method::POST, "TECR"),
    ("/board/helmets", Method::GET, "TEA"),
    ("/board/helmets/note", Method::POST, "TE"),
    ("/board/kits", Method::GET, "TE"),
    ("/board/kits/count", Method::POST, "TE"),
    ("/board/orders", Method::GET, "TEA"),
    ("/board/orders.csv", Method::GET, "TEA"),
    ("/board/orders/note", Method::POST, "TE"),
    ("/board/coming", Method::GET, "TECRA"),
    ("/board/calendar", Method::POST, "TECRA"),
    ("/board/welcome", Method::GET, "TECRA"),
    ("/sign-out", Method::POST, "TECRA"),
];

const PEOPLE: [(char, &str); 5] = [('T', ANA), ('E', COLE), ('C', DANE), ('R', BETH), ('A', DENISE)];

#[tokio::test]
async fn every_route_opens_to_its_roles_and_to_no_other() {
    let world = World::new(Engine::Sqlite).await;
    staffed(&world).await;
    let board = board(&world);
    let listed: BTreeSet<&str> = ACCESS.iter().map(|(path, _)| *path).collect();
    let expected: BTreeSet<&str> = EXPECTED.iter().map(|(path, ..)| *path).collect();
    assert_eq!(listed, expected, "a page has to be thought of here as well");
    for (role, number) in PEOPLE {
        let visitor = Visitor::signed_in(&world, &board, number).await;
        let csrf = visitor.get("/board/welcome").await.csrf();
        for (path, method, roles) in EXPECTED.iter().filter(|(path, ..)| *path != "/sign-out") {
            let address = path.replace("{id}", "a1");
            let answer = visitor.send(method.clone(), &address, &[("csrf", &csrf)], &[]).await;
            let opened = answer.status != StatusCode::FORBIDDEN;
            assert_eq!(opened, roles.contains(role), "{role} {path}: {}", answer.status);
            if !opened {
                assert!(answer.body.contains("Not a page of yours"), "{role} {path}");
                assert!(!answer.body.contains("Jonah"), "{role} {path}: nothing of the page is in it");
            }
        }
        assert_eq!(visitor.post("/sign-out", &[("csrf", &csrf)]).await.status, StatusCode::SEE_OTHER);
    }
}

#[tokio::test]
async fn without_a_session_every_page_asks_to_sign_in() {
    let world = World::new(Engine::Sqlite).await;
    let nobody = Visitor::new(&board(&world));
    for (path, method, _) in EXPECTED {
        let answer = nobody.send(method.clone(), &path.replace("{id}", "a1"), &[], &[]).await;
        let refused = if *method == Method::GET { StatusCode::SEE_OTHER } else { StatusCode::FORBIDDEN };
        assert_eq!(answer.status, refused, "{path}");
    }
}

#[tokio::test]
async fn a_route_that_is_not_in_the_table_is_denied_to_everybody() {
    let world = World::new(Engine::Sqlite).await;
    staffed(&world).await;
    let opened = opened(&world);
    let routes = axum::Router::new()
        .route("/board/forgotten", get(|| async { "a secret" }))
        .route("/board/welcome", get(|| async { "hello" }));
    let router = guarded(routes, opened);
    for (role, number) in PEOPLE {
        let visitor = Visitor::signed_in(&world, &router, number).await;
        let answer = visitor.get("/board/forgotten").await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{role}");
        assert!(!answer.body.contains("a secret"));
        assert_eq!(visitor.get("/board/welcome").await.body, "hello", "the same routes, one in the table");
    }
}

#[tokio::test]
async fn everybody_comes_to_a_page_of_theirs() {
    let world = World::new(Engine::Sqlite).await;
    staffed(&world).await;
    let router = board(&world);
    let mut tx = world.desk.store().read().await.unwrap();
    let staff = tx.staff(&world.program).await.unwrap();
    for member in &staff {
        assert!(may(member, home(member)), "{}", member.first);
    }
    drop(tx);
    let beth = Visitor::signed_in(&world, &router, BETH).await;
    let page = beth.get("/board/welcome").await;
    assert!(page.body.contains("Hello, Beth") && page.body.contains("Coming</a>"), "{}", page.body);
    let dane = Visitor::signed_in(&world, &router, DANE).await;
    assert_eq!(dane.get("/board/availability").await.status, StatusCode::OK);
}

/// A coach of one team, and what another team's is to him.
#[tokio::test]
async fn who_serves_one_team_is_shown_that_team() {
    let world = World::new(Engine::Sqlite).await;
    staffed(&world).await;
    world.to("15T06:45:00").await;
    world.text(LUIS, "strap broke").await;
    world.text(MARCUS, "strap broke").await;
    let router = board(&world);
    let dane = Visitor::signed_in(&world, &router, DANE).await;
    for path in ["/board/availability", "/board/availability?team=jv"] {
        let page = dane.get(path).await.body;
        assert!(page.contains("Marcus") && !page.contains("Luis"), "{path}: {page}");
    }
    let cole = Visitor::signed_in(&world, &router, COLE).await;
    let page = cole.get("/board?team=jv").await.body;
    assert!(!page.contains("Marcus") && page.contains("Luis"), "{page}");
    let page = cole.get("/board").await.body;
    assert!(page.contains("Marcus") && page.contains("Luis"), "{page}");
}
