//! What is coming, and the address at which a calendar reads it.

use axum::http::{StatusCode, header};

use crate::on_both_engines;
use crate::visitor::*;

/// The path of the calendar address on a page.
fn address(page: &str) -> Option<String> {
    let page = page.replace("&#x2f;", "/");
    let start = page.find("http").and_then(|from| Some(from + page[from..].find("/calendar/")?))?;
    let end = page[start..].find(".ics")?;
    Some(page[start..start + end + 4].to_owned())
}

on_both_engines! {
    async fn a_calendar_address_is_shown_once_and_a_new_one_ends_it(world) {
        staffed(&world).await;
        let board = board(&world);
        let beth = Visitor::signed_in(&world, &board, BETH).await;
        let page = beth.get("/board/coming").await;
        assert!(page.body.contains("Varsity practice"), "{}", page.body);
        assert_eq!(address(&page.body), None);
        let csrf = page.csrf();
        let made = beth.post("/board/calendar", &[("csrf", &csrf), ("do", "make")]).await;
        let first = address(&made.body).expect("the address");
        assert_eq!(address(&beth.get("/board/coming").await.body), None, "it is shown once");

        let nobody = Visitor::new(&board);
        let feed = nobody.get(&first).await;
        assert_eq!(feed.status, StatusCode::OK);
        assert!(feed.headers[header::CONTENT_TYPE].to_str().unwrap().starts_with("text/calendar"));
        assert!(feed.body.starts_with("BEGIN:VCALENDAR") && feed.body.contains("SUMMARY:Varsity practice"), "{}", feed.body);
        assert!(beth.get("/board/coming").await.body.contains("last read on"));

        let second = address(&beth.post("/board/calendar", &[("csrf", &csrf), ("do", "make")]).await.body).unwrap();
        assert_eq!(nobody.get(&first).await.status, StatusCode::NOT_FOUND);
        assert_eq!(nobody.get(&second).await.status, StatusCode::OK);
        beth.post("/board/calendar", &[("csrf", &csrf), ("do", "end")]).await;
        assert_eq!(nobody.get(&second).await.status, StatusCode::NOT_FOUND);
        assert_eq!(nobody.get("/calendar/elsewhere/x.ics").await.status, StatusCode::NOT_FOUND);
        world.record_holds().await;
    }
}
