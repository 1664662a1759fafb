//! Signing in: links that work once, the same answer to everybody, limits, sessions, headers.

use axum::http::{Method, StatusCode, header};
use browline::desk::sign_in::{Asked, LINKS_AN_HOUR, hash};
use browline::trade::roster::ProgramId;

use crate::on_both_engines;
use crate::support::*;
use crate::visitor::*;

on_both_engines! {
    async fn a_link_signs_in_once_and_looking_at_it_uses_nothing_up(world) {
        let board = board(&world);
        let visitor = Visitor::new(&board);
        let path = visitor.link(&world, COLE).await;
        for _ in 0..3 {
            let page = visitor.get(&path).await;
            assert_eq!(page.status, StatusCode::OK);
            assert!(page.body.contains("Sign in on this device"), "{}", page.body);
        }
        let first = visitor.post(&path, &[]).await;
        assert_eq!((first.status, first.location()), (StatusCode::SEE_OTHER, "/board"));
        let cookie = first.headers[header::SET_COOKIE].to_str().unwrap();
        assert!(cookie.starts_with("__Host-browline=larkspur."), "{cookie}");
        for part in ["HttpOnly", "SameSite=Lax", "Secure", "Path=/"] {
            assert!(cookie.contains(part), "{part} in {cookie}");
        }
        assert!(!cookie.contains("Domain"));
        let second = visitor.post(&path, &[]).await;
        assert_eq!(second.status, StatusCode::GONE);
        assert!(!second.headers.contains_key(header::SET_COOKIE));
        assert_eq!(visitor.get(&path).await.status, StatusCode::GONE);
        world.record_holds().await;
    }

    async fn a_link_is_of_no_use_after_a_quarter_of_an_hour_or_to_who_is_no_longer_staff(world) {
        let board = board(&world);
        let visitor = Visitor::new(&board);
        let path = visitor.link(&world, COLE).await;
        world.clock.set(at("15T06:15:00"));
        assert_eq!(visitor.get(&path).await.status, StatusCode::GONE);
        assert_eq!(visitor.post(&path, &[]).await.status, StatusCode::GONE);
        let path = visitor.link(&world, COLE).await;
        inactive(&world, "cole").await;
        assert_eq!(visitor.post(&path, &[]).await.status, StatusCode::GONE);
        assert_eq!(visitor.post("/sign-in/larkspur/nonsense", &[]).await.status, StatusCode::GONE);
        assert_eq!(visitor.get("/sign-in/nowhere/nonsense").await.status, StatusCode::GONE);
    }

    async fn whoever_asks_is_answered_alike_and_only_staff_get_a_text(world) {
        let board = board(&world);
        let visitor = Visitor::new(&board);
        let known = visitor.post("/sign-in", &[("phone", "(312) 555-0103")]).await;
        let unknown = visitor.post("/sign-in", &[("phone", "312-555-0188")]).await;
        let athlete = visitor.post("/sign-in", &[("phone", MARCUS)]).await;
        assert_eq!((known.status, &known.body), (unknown.status, &unknown.body));
        assert_eq!((known.status, &known.body), (athlete.status, &athlete.body));
        settled().await;
        assert_eq!(sign_in_texts(&world, COLE).await.len(), 1);
        assert!(world.outbox("+13125550188").await.is_empty());
        assert!(world.outbox(MARCUS).await.is_empty());
        world.settle().await;
        assert!(world.got(COLE).iter().any(|text| text.contains("sign in to the board")), "quiet hours do not hold it");
    }

    async fn the_store_keeps_no_token(world) {
        let board = board(&world);
        let visitor = Visitor::signed_in(&world, &board, COLE).await;
        let cookie = visitor.cookie.clone().unwrap();
        let token = cookie.split_once('.').unwrap().1;
        let mut tx = world.desk.store().read().await.unwrap();
        let session = tx.session(&world.program, &hash(token)).await.unwrap().unwrap();
        assert_eq!(session.staff.as_str(), "cole");
        assert!(!serde_json::to_string(&session).unwrap().contains(token));
        let stored = tx.texts("SELECT hash FROM session WHERE program = $1", vec![(&world.program).into()]).await.unwrap();
        assert_eq!(stored, [hash(token)]);
    }

    async fn a_session_ends_by_sign_out_rest_age_and_leaving(world) {
        let board = board(&world);
        let page = |visitor: Visitor| async move { visitor.get("/board").await.status };
        let visitor = Visitor::signed_in(&world, &board, COLE).await;
        assert_eq!(page(visitor.clone()).await, StatusCode::OK);
        world.clock.set(at("15T07:59:00"));
        assert_eq!(page(visitor.clone()).await, StatusCode::OK, "used within two hours");
        world.clock.set(at("15T09:58:00"));
        assert_eq!(page(visitor.clone()).await, StatusCode::OK, "two hours since the last use, not since the first");
        world.clock.set(at("15T11:58:30"));
        assert_eq!(page(visitor.clone()).await, StatusCode::SEE_OTHER, "rested for two hours");

        let visitor = Visitor::signed_in(&world, &board, COLE).await;
        for hour in 13..=23 {
            world.clock.set(at(&format!("15T{hour}:00:00")));
            assert_eq!(page(visitor.clone()).await, StatusCode::OK, "{hour}");
        }
        world.clock.set(at("15T23:58:30"));
        assert_eq!(page(visitor.clone()).await, StatusCode::SEE_OTHER, "twelve hours old");

        let visitor = Visitor::signed_in(&world, &board, COLE).await;
        let csrf = visitor.get("/board").await.csrf();
        let out = visitor.post("/sign-out", &[("csrf", &csrf)]).await;
        assert_eq!((out.status, out.location()), (StatusCode::SEE_OTHER, "/sign-in"));
        let gone = out.headers[header::SET_COOKIE].to_str().unwrap();
        assert!(gone.starts_with("__Host-browline=;") && gone.contains("Secure") && gone.contains("Max-Age=0"), "{gone}");
        assert_eq!(page(visitor).await, StatusCode::SEE_OTHER, "signed out, whatever the browser still sends");

        let visitor = Visitor::signed_in(&world, &board, ANA).await;
        inactive(&world, "ana").await;
        assert_eq!(page(visitor).await, StatusCode::SEE_OTHER);
    }

    async fn no_more_than_so_many_links_are_texted_whichever_process_is_asked(world) {
        let cole = phone(COLE);
        for n in 0..LINKS_AN_HOUR {
            let token = hash(&n.to_string());
            let asked = world.desk.send_sign_in(&world.program, &cole, "https://x.example/l", &token, world.clock.now());
            assert_eq!(asked.await.unwrap(), Asked::Sent);
        }
        let other = world.another("two").await;
        let more = || other.send_sign_in(&world.program, &cole, "https://x.example/l", "one-more", world.clock.now());
        assert_eq!(more().await.unwrap(), Asked::Enough);
        let tess = phone(TESS);
        let tess = other.send_sign_in(&world.program, &tess, "https://x.example/l", "for-tess", world.clock.now());
        assert_eq!(tess.await.unwrap(), Asked::Sent, "somebody else has their own share");
        world.clock.set(at("15T07:00:01"));
        let later = other.send_sign_in(&world.program, &cole, "https://x.example/l", "later", world.clock.now());
        assert_eq!(later.await.unwrap(), Asked::Sent);
    }
}

/// Marks a staff member as gone.
async fn inactive(world: &World, staff: &str) {
    let mut tx = world.desk.store().write().await.unwrap();
    let sql = "UPDATE staff SET active = FALSE WHERE program = $1 AND id = $2";
    assert_eq!(tx.execute(sql, vec![(&world.program).into(), staff.into()]).await.unwrap(), 1);
    tx.commit().await.unwrap();
}

#[tokio::test]
async fn an_address_that_asks_too_often_is_told_so_and_others_are_not() {
    let world = World::new(Engine::Sqlite).await;
    let board = board(&world);
    let visitor = Visitor::new(&board);
    let from = |address: &'static str| {
        let visitor = visitor.clone();
        async move {
            let headers = [("x-forwarded-for", address)];
            visitor.send(Method::POST, "/sign-in", &[("phone", "312-555-0188")], &headers).await.status
        }
    };
    for _ in 0..20 {
        assert_eq!(from("198.51.100.7, 203.0.113.1").await, StatusCode::OK);
    }
    assert_eq!(
        from("203.0.113.9, 203.0.113.1").await,
        StatusCode::TOO_MANY_REQUESTS,
        "the last hop counts, not what is claimed"
    );
    assert_eq!(from("203.0.113.2").await, StatusCode::OK);
    world.clock.set(at("15T06:10:01"));
    assert_eq!(from("203.0.113.1").await, StatusCode::OK);
}

#[tokio::test]
async fn a_number_that_is_asked_for_too_often_gets_no_more_and_the_answer_is_the_same() {
    let world = World::new(Engine::Sqlite).await;
    let board = board(&world);
    let visitor = Visitor::new(&board);
    let mut bodies = Vec::new();
    for address in
        ["203.0.113.1", "203.0.113.2", "203.0.113.3", "203.0.113.4", "203.0.113.5", "203.0.113.6", "203.0.113.7"]
    {
        let answer = visitor.send(Method::POST, "/sign-in", &[("phone", COLE)], &[("x-forwarded-for", address)]).await;
        bodies.push((answer.status, answer.body));
    }
    settled().await;
    assert!(bodies.iter().all(|body| *body == bodies[0]));
    assert_eq!(sign_in_texts(&world, COLE).await.len(), 5);
}

#[tokio::test]
async fn a_form_needs_the_token_of_its_own_session_and_comes_from_the_same_site() {
    let world = World::new(Engine::Sqlite).await;
    world.to("15T06:45:00").await;
    world.text(MARCUS, "strap broke").await;
    let board = board(&world);
    let cole = Visitor::signed_in(&world, &board, COLE).await;
    let ana = Visitor::signed_in(&world, &board, ANA).await;
    let page = cole.get("/board").await;
    let item = world.open_items().await[0].id.clone();
    let take = |csrf: String| vec![("csrf".to_owned(), csrf), ("take".to_owned(), item.clone())];
    let others = ana.get("/board").await.csrf();
    for wrong in [String::new(), "nonsense".to_owned(), others, page.csrf().to_uppercase()] {
        let pairs = take(wrong);
        let pairs: Vec<(&str, &str)> = pairs.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
        assert_eq!(cole.post("/board/act", &pairs).await.status, StatusCode::FORBIDDEN);
    }
    assert_eq!(cole.post("/board/act", &[("take", &item)]).await.status, StatusCode::FORBIDDEN);
    assert_eq!(cole.post("/sign-out", &[("csrf", "x")]).await.status, StatusCode::FORBIDDEN);
    let csrf = page.csrf();
    let right = [("csrf", csrf.as_str()), ("take", item.as_str())];
    let elsewhere = cole.send(Method::POST, "/board/act", &right, &[("sec-fetch-site", "cross-site")]).await;
    assert_eq!(elsewhere.status, StatusCode::FORBIDDEN);
    assert!(world.open_items().await[0].taken_by.is_none(), "none of them did anything");
    let done = cole.send(Method::POST, "/board/act", &right, &[("sec-fetch-site", "same-origin")]).await;
    assert_eq!(done.status, StatusCode::SEE_OTHER);
    assert_eq!(world.open_items().await[0].taken_by.as_ref().unwrap().as_str(), "cole");
    let nobody = Visitor::new(&board);
    assert_eq!(nobody.post("/board/act", &right).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn every_answer_carries_the_headers_and_no_page_asks_elsewhere() {
    let world = World::new(Engine::Sqlite).await;
    let board = board(&world);
    let ana = Visitor::signed_in(&world, &board, ANA).await;
    let nobody = Visitor::new(&board);
    let pages = [
        "/sign-in",
        "/sign-in/larkspur/x",
        "/board",
        "/board/trainer",
        "/board/messages",
        "/board/season",
        "/board/settings",
        "/board/print",
        "/board/athlete/a1",
        "/board/athlete/nobody",
        "/board.css",
        "/board.js",
        "/board/nowhere",
    ];
    for path in pages {
        for visitor in [&ana, &nobody] {
            let answer = visitor.get(path).await;
            let header = |name: &str| answer.headers.get(name).map(|value| value.to_str().unwrap()).unwrap_or_default();
            let policy = header("content-security-policy");
            for part in [
                "default-src 'none'",
                "style-src 'self'",
                "script-src 'self'",
                "form-action 'self'",
                "frame-ancestors 'none'",
                "base-uri 'none'",
            ] {
                assert!(policy.contains(part), "{path}: {part} in {policy}");
            }
            assert!(!policy.contains("unsafe"), "{path}");
            assert_eq!(header("x-content-type-options"), "nosniff", "{path}");
            assert_eq!(header("referrer-policy"), "no-referrer", "{path}");
            assert_eq!(header("cache-control"), "no-store", "{path}");
            let page = answer.body.replace("http://www.w3.org/2000/svg", "");
            assert!(!page.contains("http://") && !page.contains("https://"), "{path} names another place");
            assert!(!page.contains(" style=") && !page.contains("onclick"), "{path}: the policy would refuse it");
        }
    }
}

/// A cookie of one program is none of another's, and nonsense is nobody.
#[tokio::test]
async fn a_cookie_names_its_program_and_is_good_for_no_other() {
    let config = format!(
        "{CONFIG}\n{}",
        CONFIG
            .replace("larkspur", "bosun")
            .replace("555 0100", "555 0190")
            .split_once("[programs")
            .map(|(_, rest)| format!("[programs{rest}"))
            .unwrap()
    );
    let world = World::empty(Engine::Sqlite, &config).await;
    for program in ["larkspur", "bosun"] {
        world.desk.import(&ProgramId::from(program), &roster(), world.clock.now(), false).await.unwrap();
    }
    let board = board(&world);
    let visitor = Visitor::signed_in(&world, &board, COLE).await;
    assert_eq!(visitor.get("/board").await.status, StatusCode::OK);
    let cookie = visitor.cookie.clone().unwrap();
    for wrong in [
        cookie.replace("larkspur.", "bosun."),
        cookie.replace("larkspur.", ""),
        cookie.replace("larkspur.", "nowhere."),
        "__Host-browline=".to_owned(),
    ] {
        let mut other = visitor.clone();
        other.cookie = Some(wrong.clone());
        assert_eq!(other.get("/board").await.status, StatusCode::SEE_OTHER, "{wrong}");
    }
    assert_eq!(world.outbox(COLE).await.len(), 2, "the welcome and the link of one program");
    let mut tx = world.desk.store().read().await.unwrap();
    let other = tx.outbox_of(&ProgramId::from("bosun"), &phone(COLE)).await.unwrap();
    assert!(
        other.iter().any(|message| message.id.starts_with("sign-in/")),
        "and a link for the other program, from its number"
    );
}
