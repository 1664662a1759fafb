//! Staff by button, menu and command: what each role may do, whatever the server allows.

use browline::channel::chat::What;
use browline::trade::queue::{HoldKind, ItemState};

use super::*;
use crate::fake_chat::{CONTACT, EQUIPMENT};

const ITEM: &str = "equipment/a4/2026-09-15";

in_chat! {
    async fn take_fix_and_the_athlete_hears(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.text(MARCUS, "strap broke").await;
        let post = room.fake.posts(EQUIPMENT).remove(0);
        assert_eq!(room.press(COLE_USER, &post.control("take"), None).await, Answer::Nothing);
        assert_eq!(room.item(ITEM).await.state, ItemState::Taken);
        assert!(room.fake.posts(EQUIPMENT)[0].text().contains("taken by Cole"));
        let answer = room.press(COLE_USER, &post.control("fixed"), Some("strap")).await;
        assert_eq!(answer, Answer::Nothing);
        let item = room.item(ITEM).await;
        assert_eq!((item.state, item.done.as_deref()), (ItemState::Closed, Some("new chin strap")));
        assert_eq!(room.world.holds("a4").await, [], "a hands-on fix ends the hold");
        assert!(room.world.got(MARCUS).last().unwrap().contains("new chin strap"), "{:?}", room.world.got(MARCUS));
        assert!(room.fake.posts(EQUIPMENT)[0].text().contains("done by Cole: new chin strap"));
        let late = room.press(COLE_USER, &post.control("take"), None).await;
        assert!(said(&late).contains("Cole has it already") || said(&late).contains("done already"), "{late:?}");
        room.world.record_holds().await;
    }

    async fn the_same_interaction_twice_is_done_once(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.text(MARCUS, "strap broke").await;
        let id = room.fake.posts(EQUIPMENT)[0].control("take");
        let interaction = room.interaction(COLE_USER, What::Control { id, picked: None });
        assert_eq!(room.hear(&interaction).await, Answer::Nothing);
        let lines = record(&room).await;
        assert_eq!(room.hear(&interaction).await, Answer::Nothing);
        assert_eq!(record(&room).await, lines);
    }

    async fn roles_decide_whatever_the_server_allows(room) {
        room.world.to("15T06:45:00").await;
        room.link(DANE, DANE_USER).await;
        room.link(MARCUS, MARCUS_USER).await;
        room.text(MARCUS, "2").await;
        let post = room.fake.posts(EQUIPMENT).remove(0);
        let cases = [
            (STRANGER, "take", None, "I do not know this account"),
            (MARCUS_USER, "take", None, "That is for staff"),
            (DANE_USER, "take", None, "Your role cannot"),
            (DANE_USER, "fixed", Some("strap"), "Your role cannot"),
            (DANE_USER, "hand", Some("cole"), "Your role cannot"),
        ];
        for (user, action, picked, expected) in cases {
            let answer = room.press(user, &post.control(action), picked).await;
            assert!(said(&answer).starts_with(expected), "{user} {action}: {answer:?}");
            assert_eq!(room.item(ITEM).await.state, ItemState::Open);
        }
        // Out of use is the safe side: a coach may.
        assert_eq!(room.press(DANE_USER, &post.control("hold"), None).await, Answer::Nothing);
        assert_eq!(room.world.holds("a4").await, [HoldKind::Equipment]);
        let post = room.fake.posts(EQUIPMENT).remove(0);
        assert!(post.text().contains("not to be worn"), "{}", post.text());
        assert!(!post.body.to_string().contains(":hold:"), "held already");
    }

    async fn handed_on_and_back(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.text(MARCUS, "2").await;
        let post = room.fake.posts(EQUIPMENT).remove(0);
        assert_eq!(room.press(COLE_USER, &post.control("hand"), Some("tess")).await, Answer::Nothing);
        assert_eq!(room.item(ITEM).await.taken_by.unwrap().as_str(), "tess");
        assert!(room.fake.posts(EQUIPMENT)[0].text().contains("taken by Tess"));
        assert!(room.world.got(TESS).iter().any(|text| text.contains("#7")), "who is handed it is texted");
        // A coach is not offered, and cannot be picked.
        assert!(!post.body.to_string().contains("dane"));
        let answer = room.press(COLE_USER, &post.control("hand"), Some("dane")).await;
        assert!(said(&answer).starts_with("Your role"), "{answer:?}");
        let post = room.fake.posts(EQUIPMENT).remove(0);
        assert_eq!(room.press(COLE_USER, &post.control("hand"), Some("*")).await, Answer::Nothing);
        assert_eq!(room.item(ITEM).await.state, ItemState::Open);
    }

    async fn a_contact_item_is_closed_by_a_button(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.text(LUIS, "stop").await;
        let post = room.fake.posts(CONTACT).remove(0);
        assert_eq!(room.press(COLE_USER, &post.control("done"), None).await, Answer::Nothing);
        assert!(room.fake.posts(CONTACT)[0].controls().is_empty());
    }

    async fn one_who_left_staff_may_nothing(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.text(MARCUS, "2").await;
        let mut tx = room.world.desk.store().write().await.unwrap();
        let mut staff = tx.all_staff(&room.world.program).await.unwrap();
        for member in staff.iter_mut().filter(|member| member.id.as_str() == "cole") {
            member.active = false;
        }
        tx.put(&staff).await.unwrap();
        tx.commit().await.unwrap();
        let answer = room.press(COLE_USER, &room.fake.posts(EQUIPMENT)[0].control("take"), None).await;
        assert!(said(&answer).starts_with("That is for staff"), "{answer:?}");
        assert_eq!(room.item(ITEM).await.state, ItemState::Open);
    }

    async fn lists_by_command(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.link(DANE, DANE_USER).await;
        room.text(MARCUS, "strap broke").await;
        room.text(NOAH, "my head hurts").await;
        room.text(IVAN, "todo bien").await;
        let today = room.command(COLE_USER, "today", &[]).await.text;
        assert!(today.contains("#7 Marcus") && today.contains("chin strap"), "{today}");
        assert!(today.contains("#63 Noah: held: see the athletic trainer"), "{today}");
        assert!(!today.contains("head"), "{today}");
        let silent = room.command(COLE_USER, "silent", &[]).await.text;
        assert!(silent.contains("Jonah") && !silent.contains("Ivan"), "{silent}");
        let coach = room.command(DANE_USER, "today", &[]).await.text;
        assert!(coach.contains("Held (2)") && !coach.contains("chin strap"), "{coach}");
        assert!(room.command(DANE_USER, "silent", &[]).await.text.starts_with("Your role"));
        for (user, name) in [(STRANGER, "today"), (STRANGER, "athlete"), (STRANGER, "calloff")] {
            let answer = room.command(user, name, &[("who", "7")]).await.text;
            assert!(answer.starts_with("I do not know this account"), "{answer}");
        }
    }

    async fn drills_kits_and_helmets_are_noted_by_command(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.link(DANE, DANE_USER).await;
        let kits = "kit,keeper,goes,item,par,count\n1,cole,practice; home,pump,1,1\n,,,cutter,1,1\n";
        let world = &room.world;
        world.desk.import(&world.program, &files(&[("kits.csv", kits)]), world.clock.now(), false).await.unwrap();
        let before = world.got(COLE).len();
        let drill = room.command(COLE_USER, "drill", &[("text", "log roll today ana cole 42s")]).await.text;
        assert!(drill.starts_with("Recorded: log roll, today, Ana and Cole, 42 s"), "{drill}");
        let drills = world.desk.store().read().await.unwrap().all_drills(&world.program).await.unwrap();
        assert_eq!(drills.len(), 1);
        let kit = room.command(COLE_USER, "kit", &[("text", "1 pump 0")]).await.text;
        assert!(kit.starts_with("Noted, kit 1: pump 0, the rest as on file.") && kit.contains("Below par: pump 0 of 1"), "{kit}");
        let helmets = room.command(COLE_USER, "helmets", &[("text", "h55 mark scuffed crown")]).await.text;
        assert_eq!(helmets, "Noted on LV-055: scuffed crown.");
        assert!(room.command(COLE_USER, "helmets", &[]).await.text.starts_with("3 helmets."));
        let unread = room.command(COLE_USER, "helmets", &[("text", "hello")]).await.text;
        assert!(unread.starts_with("That could not be read"), "{unread}");
        let coach = room.command(DANE_USER, "kit", &[("text", "1 pump 9")]).await.text;
        assert!(coach.contains("count kits"), "{coach}");
        assert_eq!(world.got(COLE).len(), before, "what is said in chat is not texted");
    }

    async fn one_athlete_by_command(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.link(DANE, DANE_USER).await;
        room.text(NOAH, "my head hurts").await;
        room.text(IVAN, "2").await;
        let ivan = room.command(COLE_USER, "athlete", &[("who", "#55")]).await.text;
        for part in ["#55 Ivan", "Halyard", "LV-055", "something is off", "front pad grip", "not held"] {
            assert!(ivan.contains(part), "{part}: {ivan}");
        }
        let noah = room.command(DANE_USER, "athlete", &[("who", "noah")]).await.text;
        assert_eq!(noah, "**#63 Noah**\nheld: see the athletic trainer");
        let two = room.command(COLE_USER, "athlete", &[("who", "12")]).await.text;
        assert!(two.starts_with("Which one?") && two.contains("Varsity") && two.contains("JV"), "{two}");
        // A varsity coach does not see the junior team.
        let one = room.command(DANE_USER, "athlete", &[("who", "luis")]).await.text;
        assert!(one.starts_with("No athlete like that"), "{one}");
        assert!(room.command(COLE_USER, "athlete", &[("who", " ")]).await.text.starts_with("No athlete"));
    }

    async fn a_practice_is_called_off_with_a_second_press(room) {
        room.world.to("15T06:45:00").await;
        room.link(COLE, COLE_USER).await;
        room.link(DANE, DANE_USER).await;
        assert!(room.command(COLE_USER, "calloff", &[]).await.text.starts_with("Your role"));
        let offer = room.command(DANE_USER, "calloff", &[("team", "Varsity")]).await;
        let ids = ids(&offer);
        assert_eq!(ids.len(), 2, "one event, and rather not: {offer:?}");
        let answer = room.press(DANE_USER, &ids[1], None).await;
        assert!(said(&answer).starts_with("Nothing was called off"));
        assert!(!cancelled(&room).await);
        // Whoever else presses it may not.
        let answer = room.press(COLE_USER, &ids[0], None).await;
        assert!(said(&answer).starts_with("Your role"), "{answer:?}");
        assert!(!cancelled(&room).await);
        let answer = room.press(DANE_USER, &ids[0], None).await;
        assert!(said(&answer).starts_with("Varsity practice 3:30 pm is off"), "{answer:?}");
        assert!(matches!(&answer, Answer::Reply(post) if post.rows.is_empty()), "its buttons go");
        assert!(cancelled(&room).await);
        assert!(room.world.got(MARCUS).last().unwrap().contains("called off"), "{:?}", room.world.got(MARCUS));
        let again = room.press(DANE_USER, &ids[0], None).await;
        assert!(said(&again).contains("off already"), "{again:?}");
    }
}

fn ids(post: &Post) -> Vec<String> {
    let wire = post.wire();
    let rows = wire["components"].as_array().unwrap();
    rows.iter().map(|row| row["components"][0]["custom_id"].as_str().unwrap().to_owned()).collect()
}

async fn cancelled(room: &Room) -> bool {
    let mut tx = room.world.desk.store().read().await.unwrap();
    tx.event(&room.world.program, &"p15".into()).await.unwrap().unwrap().cancelled
}

async fn record(room: &Room) -> usize {
    let mut tx = room.world.desk.store().read().await.unwrap();
    tx.record(&room.world.program).await.unwrap().len()
}
