//! The page of drills: what is missing, the form, and what the form refuses.

use axum::http::StatusCode;

use crate::on_both_engines;
use crate::support::*;
use crate::visitor::*;

on_both_engines! {
    async fn a_drill_told_on_the_board_is_recorded_once_and_names_only_who_is_here(world) {
        staffed(&world).await;
        let board = board(&world);
        let cole = Visitor::signed_in(&world, &board, COLE).await;
        let page = cole.get("/board/drills").await;
        assert!(page.body.contains("nobody current for"), "{}", page.body);
        let csrf = page.csrf();
        let today = "2026-09-15";
        let form = |who, more: &[(&'static str, &'static str)]| {
            let mut form = vec![("csrf", csrf.clone()), ("seen", "1".to_owned()), ("skill", "log-roll".to_owned())];
            form.extend([("date", today.to_owned()), ("who", String::from(who))]);
            form.extend(more.iter().map(|(name, value)| (*name, (*value).to_owned())));
            form
        };
        let send = async |form: Vec<(&'static str, String)>| {
            let fields: Vec<(&str, &str)> = form.iter().map(|(name, value)| (*name, value.as_str())).collect();
            cole.post("/board/drills/record", &fields).await.status
        };
        assert_eq!(send(form("nobody", &[])).await, StatusCode::FORBIDDEN, "a name that is not here");
        assert_eq!(send(form("cole", &[("seconds", "fast")])).await, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(send(form("cole", &[("seconds", "42")])).await, StatusCode::SEE_OTHER);
        assert_eq!(send(form("cole", &[("seconds", "42")])).await, StatusCode::SEE_OTHER, "the same form again");
        let since = "2026-01-01".parse().unwrap();
        let drills = world.desk.store().read().await.unwrap().drills_since(&world.program, since).await.unwrap();
        assert_eq!(drills.len(), 1, "{drills:?}");
        assert_eq!((drills[0].seconds, drills[0].people[0].staff.as_str()), (Some(42), "cole"));
        assert!(cole.get("/board/drills").await.body.contains("42 s"));
        world.record_holds().await;
    }
}
