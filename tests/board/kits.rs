//! Kits and orders on the board: the count, the list, and the file.

use axum::http::StatusCode;

use crate::on_both_engines;
use crate::support::*;
use crate::visitor::*;

const KITS: &str = "\
kit,name,place,keeper,goes,teams,item,par,count,expires,lead_days
1,Sideline kit,ice shed,cole,practice; home,,pump,1,1,,
,,,,,,cutter,2,2,2026-09-01,
";

on_both_engines! {
    async fn a_count_and_an_order_on_the_board_are_noted_once(world) {
        staffed(&world).await;
        let mut all = roster();
        all.extend(files(&[("kits.csv", KITS)]));
        world.desk.import(&world.program, &all, world.clock.now(), false).await.unwrap();
        let board = board(&world);
        let cole = Visitor::signed_in(&world, &board, COLE).await;
        let page = cole.get("/board/kits").await;
        assert!(page.body.contains("Sideline kit") && page.body.contains("expired"), "{}", page.body);
        let csrf = page.csrf();
        let count = |pump: &'static str| [("csrf", csrf.as_str()), ("seen", "1"), ("kit", "1"), ("count:pump", pump)].to_vec();
        assert_eq!(cole.post("/board/kits/count", &count("lots")).await.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(cole.post("/board/kits/count", &count("0")).await.status, StatusCode::SEE_OTHER);
        let row = |stock: Vec<browline::trade::kit::Stock>| stock.into_iter().find(|row| row.item == "pump").unwrap();
        let stock = world.desk.store().read().await.unwrap().stock(&world.program).await.unwrap();
        assert_eq!(row(stock).count, 0);
        let order = [("csrf", csrf.as_str()), ("seen", "2"), ("item", "pump"), ("pieces", "3"), ("do", "ordered")];
        for _ in 0..2 {
            assert_eq!(cole.post("/board/orders/note", &order).await.status, StatusCode::SEE_OTHER);
        }
        let stock = world.desk.store().read().await.unwrap().stock(&world.program).await.unwrap();
        assert_eq!(row(stock).on_order, 3, "a form sent twice counts once");
        let unknown = [("csrf", csrf.as_str()), ("seen", "3"), ("item", "anvil"), ("pieces", "3"), ("do", "ordered")];
        assert_eq!(cole.post("/board/orders/note", &unknown).await.status, StatusCode::UNPROCESSABLE_ENTITY);
        let file = cole.get("/board/orders.csv").await;
        assert!(file.body.starts_with("item,order,have,par,on_order,"), "{}", file.body);
        assert!(file.body.contains("\ncutter,2,0,2,0,"), "what has expired does not count: {}", file.body);
        assert!(file.body.contains("\npump,0,0,1,3,2026-09-15,"), "{}", file.body);
        world.record_holds().await;
    }
}
