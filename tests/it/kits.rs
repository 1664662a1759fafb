//! Kits: counts by text, what is lacking before a game, use by a fix, orders and what came of them.

use browline::trade::kit::Stock;

use crate::on_both_engines;
use crate::support::*;

const MODELS: &str = "\
model,hardware,tools,spares
Tern,quarter-turn clips,release tool,chin strap: low
Halyard,T-nut screws,pump; needle: long; release tool,chin strap: high
";

const KITS: &str = "\
kit,name,place,keeper,goes,teams,item,par,count,expires,lead_days
1,Sideline kit,ice shed,cole,practice; home,,release tool,1,1,,
,,,,,,pump,1,1,,
,,,,,,needle: long,2,2,,
,,,,,,needle lubricant,2,2,2026-10-10,
,,,,,,cutter,1,1,,
,,,,,,chin strap: high,2,2,,
,,,,,,chin strap: low,2,2,,
2,Away kit,top shelf,tess,away,,release tool,1,1,,
,,,,,,pump,1,1,,
,,,,,,needle: long,1,0,,
,,,,,,chin strap: high,2,2,,
,,,,,,chin strap: low,2,2,,
room,Shelf,equipment room,cole,room,,chin strap: high,6,4,,10
,,,,,,chin strap: low,6,6,,10
,,,,,,needle: long,2,2,,
";

const VENUES: &str = "\
name,address,entrance,aed,kit,hospital,notes
Larkspur Stadium,400 Kestrel Way,north gate,home tunnel,home bench,County Hospital,
";

const EVENTS: &str = "\
id,team,kind,date,start,end,place,helmets,status
p15,varsity,practice,2026-09-15,15:30,17:30,Field 2,yes,on
g18,varsity,game,2026-09-18,19:00,21:30,Harbor Field,yes,on
p25,varsity,practice,2026-09-25,15:30,17:30,Field 2,yes,on
";

async fn world(engine: Engine) -> World {
    let world = World::empty(engine, CONFIG).await;
    stock(&world, KITS).await;
    world
}

async fn stock(world: &World, kits: &str) {
    let mut all = roster();
    all.retain(|file| file.name != "events.csv");
    all.extend(files(&[("models.csv", MODELS), ("kits.csv", kits), ("venues.csv", VENUES), ("events.csv", EVENTS)]));
    world.desk.import(&world.program, &all, world.clock.now(), false).await.unwrap();
}

fn last(world: &World, who: &str) -> String {
    let welcome = |text: &String| text.starts_with("Larkspur Valley Kestrels staff texts");
    world.got(who).into_iter().rfind(|text| !welcome(text)).unwrap_or_default()
}

async fn held(world: &World, kit: &str, item: &str) -> Stock {
    let stock = world.desk.store().read().await.unwrap().stock(&world.program).await.unwrap();
    stock.into_iter().find(|row| row.kit == kit && row.item == item).expect("a row")
}

on_both_engines! {
    async fn a_kit_is_counted_by_text_and_says_what_it_lacks(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(TESS, "kit 2 release tool 1 high straps 1").await;
        let told = last(&world, TESS);
        assert!(told.starts_with("Noted, kit 2 (Away kit): release tool 1, high chin strap 1, the rest as on file."), "{told}");
        assert!(told.contains("Below par: high chin strap 1 of 2, long needle 0 of 1"), "{told}");
        assert!(told.contains("Varsity, game 7:00 pm Fri Sep 18 has"), "{told}");
        assert!(told.contains("Halyard helmet and no long needle") && told.contains("; no cutter"), "{told}");
        assert_eq!(held(&world, "2", "chin strap: high").await.count, 1);
        // Two straps could be meant: a number answers, and the count is noted.
        world.text(TESS, "kit 2 straps 2").await;
        assert!(last(&world, TESS).contains("1 high chin strap") && last(&world, TESS).contains("2 low chin strap"), "{}", last(&world, TESS));
        assert_eq!(held(&world, "2", "chin strap: low").await.count, 2, "nothing is noted before");
        world.text(TESS, "1").await;
        assert_eq!(held(&world, "2", "chin strap: high").await.count, 2);
        world.text(TESS, "kit 2 needles +1").await;
        assert_eq!(held(&world, "2", "needle: long").await.count, 1);
        world.text(TESS, "kit 2 used 1 needle").await;
        assert_eq!(held(&world, "2", "needle: long").await.count, 0);
        world.text(TESS, "kit 2 tape 4").await;
        assert!(last(&world, TESS).starts_with("Nothing noted: there is no \"tape\""), "{}", last(&world, TESS));
        world.record_holds().await;
    }

    async fn keepers_are_asked_to_count_until_they_have(fresh) {
        let world = world(fresh.engine).await;
        world.to("20T12:00:00").await;
        world.through("21T09:30:00").await;
        let asked = |who: &str, word: &str| world.got(who).into_iter().filter(|text| text.contains(word)).count();
        assert_eq!(asked(TESS, "Please count kit 2"), 1, "{:?}", world.got(TESS));
        assert_eq!(asked(COLE, "Please count"), 2, "the sideline kit and the room: {:?}", world.got(COLE));
        world.text(COLE, "kit 1 ok").await;
        assert!(last(&world, COLE).starts_with("Noted, kit 1 (Sideline kit): all as on file."), "{}", last(&world, COLE));
        // The prompt asks for what differs: that is an answer as well.
        world.text(COLE, "kit room low straps 5").await;
        world.through("22T09:30:00").await;
        assert_eq!(asked(TESS, "Still to count: kit 2"), 1, "{:?}", world.got(TESS));
        assert_eq!(asked(COLE, "Still to count"), 0, "who has counted is left alone");
        world.through("23T09:30:00").await;
        assert_eq!(asked(ANA, "Tess has not counted kit 2"), 1, "{:?}", world.got(ANA));
        world.through("28T09:30:00").await;
        assert_eq!(asked(COLE, "Please count"), 2, "nothing is ahead any more: nobody is asked");
    }

    async fn what_the_away_kit_lacks_is_told_before_the_game_and_where_it_is(fresh) {
        let world = world(fresh.engine).await;
        world.through("17T13:00:00").await;
        let told: Vec<String> = world.got(TESS).into_iter().filter(|text| text.starts_with("Kit 2 goes")).collect();
        assert_eq!(told.len(), 1, "{:?}", world.got(TESS));
        for part in ["Kit 2 goes to Varsity, game 7:00 pm tomorrow with", "Halyard helmet and no long needle", "no cutter", "There is cutter (kit 1), long needle (kit 1)"] {
            assert!(told[0].contains(part), "{part}: {}", told[0]);
        }
        assert!(world.got(ANA).iter().all(|text| !text.starts_with("Kit 2 goes")), "the trainer hears on the day");
        world.text(TESS, "kit 2 needle +1").await;
        world.through("18T15:30:00").await;
        let late: Vec<String> = world.got(ANA).into_iter().filter(|text| text.starts_with("Kit 2 goes")).collect();
        assert_eq!(late.len(), 1, "{late:?}");
        assert!(late[0].contains("no cutter") && !late[0].contains("needle"), "{late:?}");
    }

    async fn a_fix_takes_its_part_from_the_room_and_the_order_follows(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "strap broke").await;
        // Ivan wears a Halyard: of the two straps the high one is its spare.
        world.text(COLE, "55 done new strap").await;
        assert_eq!(held(&world, "room", "chin strap: high").await.count, 3);
        assert_eq!(held(&world, "room", "chin strap: low").await.count, 6);
        let view = world.desk.orders(&world.program, world.clock.now()).await.unwrap();
        let order = |item: &str| view.orders.iter().find(|order| order.item == item).map(|order| (order.order, order.on_order));
        // All kits together: par 10, 7 there.
        assert_eq!(order("chin strap: high"), Some((3, 0)));
        assert_eq!(order("chin strap: low"), None);
        assert_eq!(order("needle: long"), Some((1, 0)));
        // Where nothing tells which part it was, none is taken and the one who wrote is asked.
        world.text(NOAH, "strap broke").await;
        world.text(COLE, "63 done new strap").await;
        assert!(world.got(COLE).iter().any(|text| text.contains("which was used? high chin strap, low chin strap")), "{:?}", world.got(COLE));
        assert_eq!(held(&world, "room", "chin strap: high").await.count, 3);
        world.text(COLE, "ordered 3 high straps").await;
        assert!(last(&world, COLE).starts_with("Noted: 3 high chin strap ordered"), "{}", last(&world, COLE));
        let view = world.desk.orders(&world.program, world.clock.now()).await.unwrap();
        let high = view.orders.iter().find(|order| order.item == "chin strap: high").unwrap();
        assert_eq!((high.order, high.on_order, high.late), (0, 3, false));
        world.through("29T09:30:00").await;
        let list = world.got(COLE).into_iter().rfind(|text| text.contains("To order for all kits")).expect("the list");
        assert!(list.contains("Ordered and not here yet: 3 high chin strap"), "ten days are over: {list}");
        world.text(COLE, "received 3 high straps").await;
        let row = held(&world, "room", "chin strap: high").await;
        assert_eq!((row.count, row.on_order), (6, 0));
        world.record_holds().await;
    }

    async fn an_expiry_is_told_a_month_and_a_week_ahead_and_ends_with_the_new_date(fresh) {
        let world = world(fresh.engine).await;
        world.to("10T08:00:00").await;
        world.through("11T09:30:00").await;
        let told = || world.got(COLE).into_iter().filter(|text| text.contains("needle lubricant expires")).collect::<Vec<_>>();
        assert_eq!(told().len(), 1, "30 days ahead: {:?}", world.got(COLE));
        assert!(told()[0].starts_with("Kit 1 (Sideline kit): needle lubricant expires Sat Oct 10"), "{:?}", told());
        world.text(COLE, "kit 1 lubricant expires 6/30/2028").await;
        assert_eq!(held(&world, "1", "needle lubricant").await.expires, "2028-06-30".parse().ok());
        world.through("30T09:30:00").await;
        assert_eq!(told().len(), 1);
    }

    async fn filling_a_kit_from_the_room_and_a_first_count_are_no_use(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(COLE, "kit room high straps 5 low straps 6 needles 2").await;
        world.text(TESS, "kit 2 ok").await;
        world.text(TESS, "kit 2 high straps +2").await;
        world.text(COLE, "kit room high straps 3").await;
        world.text(TESS, "kit 2 used 1 high strap").await;
        let since = at("01T00:00:00");
        let moves = world.desk.store().read().await.unwrap().stock_moves_since(&world.program, since).await.unwrap();
        let used = |item: &str| -> i64 {
            let of = moves.iter().filter(|moved| moved.item == item && moved.kind != browline::trade::kit::Move::Received);
            of.map(|moved| -moved.change).sum()
        };
        assert_eq!(used("chin strap: high"), 1, "{moves:?}");
    }

    async fn an_import_keeps_what_was_counted(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(COLE, "kit 1 pump 0").await;
        stock(&world, &KITS.replace("pump,1,1", "pump,2,1")).await;
        let row = held(&world, "1", "pump").await;
        assert_eq!((row.par, row.count), (2, 0));
    }

    async fn what_is_coming_names_counts_games_and_orders(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        let (from, to) = ("2026-09-15".parse().unwrap(), "2026-10-15".parse().unwrap());
        let coming = world.desk.coming(&world.program, from, to, world.clock.now()).await.unwrap();
        let has = |key: &str| coming.iter().any(|coming| coming.key == key);
        for key in ["kit-count/2/2026-09-21", "kit-check/g18", "kit-expiry/1/needle lubricant/2026-10-10", "order-list/2026-09-22"] {
            assert!(has(key), "{key}: {:?}", coming.iter().map(|coming| &coming.key).collect::<Vec<_>>());
        }
    }

    async fn who_keeps_no_kit_counts_none(fresh) {
        let world = world(fresh.engine).await;
        world.to("15T09:00:00").await;
        world.text(DANE, "kit 1 pump 0").await;
        assert_eq!(held(&world, "1", "pump").await.count, 1);
    }
}
