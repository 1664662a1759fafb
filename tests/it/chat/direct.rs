//! Athletes who prefer chat: the check as a direct message, the same reader, the same queues.

use browline::channel::chat::Written;
use browline::store::rows::OutState;
use browline::trade::flag::Flag;
use browline::trade::morning::CheckState;
use browline::trade::queue::{HoldKind, Queue};
use chrono::TimeDelta;

use super::*;
use crate::fake_chat::{EQUIPMENT, MEDICAL, Standing};

impl Room {
    /// An account writes to the bot; what follows is sent and posted.
    async fn writes(&self, user: &str, text: &str) {
        let now = self.world.clock.now();
        let id = format!("1500000000000{}", now.millis() % 100_000);
        let written = Written { id, user: user.to_owned(), text: text.to_owned(), photos: Vec::new() };
        self.chat.written(self.bot(), &written, now).await.unwrap();
        self.chat.written(self.bot(), &written, now).await.unwrap();
        self.world.desk.send_due(now).await.unwrap();
        self.settle().await;
        self.world.clock.advance(TimeDelta::seconds(90));
    }

    async fn asked(&self, user: &str) -> Standing {
        self.settle().await;
        self.fake.direct(user).into_iter().last().expect("a direct message")
    }

    fn checks_by_text(&self, phone: &str) -> usize {
        self.world.got(phone).iter().filter(|text| text.starts_with("Helmet check")).count()
    }
}

in_chat! {
    async fn the_check_comes_to_chat_and_a_button_answers_it(room) {
        room.link(MARCUS, MARCUS_USER).await;
        room.world.to("15T06:45:00").await;
        let check = room.asked(MARCUS_USER).await;
        assert!(check.text().starts_with("Helmet check, Marcus"), "{}", check.text());
        assert_eq!(check.controls().len(), 8, "six points, 7 and all good");
        assert_eq!(room.world.check("a4").await.state, CheckState::Sent);
        room.world.to("15T06:55:00").await;
        assert_eq!(room.checks_by_text(MARCUS), 0, "one way is enough");
        assert_eq!(room.checks_by_text(LUIS), 1, "others are texted");
        assert_eq!(room.press(MARCUS_USER, &check.control("point:"), None).await, Answer::Nothing);
        let five = check.control("point:").replace(":1", ":5");
        room.world.clock.advance(TimeDelta::seconds(5));
        room.press(MARCUS_USER, &five, None).await;
        let item = room.item("equipment/a4/2026-09-15").await;
        assert_eq!(item.flags.iter().collect::<Vec<_>>(), [Flag::Brow, Flag::Strap]);
        assert!(room.fake.posts(EQUIPMENT)[0].text().contains("chin strap"));
        let texts = room.world.got(MARCUS).len();
        let answer = room.asked(MARCUS_USER).await;
        assert!(answer.text().contains("chin strap") && answer.text().contains("Do not wear it"), "{}", answer.text());
        assert_eq!(room.world.got(MARCUS).len(), texts, "the answer is not texted as well");
        room.world.record_holds().await;
    }

    async fn all_good_is_all_clear_and_yesterdays_is_not_todays(room) {
        room.link(MARCUS, MARCUS_USER).await;
        room.world.to("15T06:45:00").await;
        let yesterday = room.asked(MARCUS_USER).await;
        room.press(MARCUS_USER, &yesterday.control("good"), None).await;
        assert_eq!(room.world.check("a4").await.state, CheckState::Clear);
        room.world.through("16T06:45:00").await;
        let today = room.asked(MARCUS_USER).await;
        assert_ne!(today.id, yesterday.id);
        let answer = room.press(MARCUS_USER, &yesterday.control("good"), None).await;
        assert!(said(&answer).starts_with("That check is over"), "{answer:?}");
        assert_eq!(room.world.check("a4").await.state, CheckState::Sent);
        // What is off is off, whichever button says so.
        assert_eq!(room.press(MARCUS_USER, &yesterday.control("point:"), None).await, Answer::Nothing);
        assert_eq!(room.world.check("a4").await.state, CheckState::Flagged);
    }

    async fn words_go_to_the_same_reader_and_a_body_complaint_to_the_trainer(room) {
        room.link(NOAH, NOAH_USER).await;
        room.world.to("15T06:45:00").await;
        room.asked(NOAH_USER).await;
        room.writes(NOAH_USER, "my head hurts since yesterday").await;
        assert_eq!(room.world.holds("a7").await, [HoldKind::Medical]);
        let alerts = room.world.purposes(ANA).await.iter().filter(|kind| *kind == "alert").count();
        assert_eq!(alerts, 1, "a second delivery is nothing");
        assert_eq!(room.fake.posts(MEDICAL).len(), 1);
        let care = room.asked(NOAH_USER).await;
        assert!(care.text().contains("911"), "{}", care.text());
        assert!(room.world.purposes(NOAH).await.contains(&"care".to_owned()), "care is texted as well");
        room.writes(NOAH_USER, "all good now").await;
        assert_eq!(room.world.holds("a7").await, [HoldKind::Medical], "nothing lifts it");
    }

    async fn seven_is_for_the_trainer(room) {
        room.link(NOAH, NOAH_USER).await;
        room.world.to("15T06:45:00").await;
        let check = room.asked(NOAH_USER).await;
        let seven = check.control("point:").replace(":1", ":7");
        room.press(NOAH_USER, &seven, None).await;
        assert_eq!(room.world.holds("a7").await, [HoldKind::Trainer]);
        assert_eq!(room.fake.posts(MEDICAL).len(), 1);
    }

    async fn nobody_answers_for_another(room) {
        room.link(MARCUS, MARCUS_USER).await;
        room.link(NOAH, NOAH_USER).await;
        room.link(COLE, COLE_USER).await;
        room.world.to("15T06:45:00").await;
        let check = room.asked(MARCUS_USER).await;
        for user in [NOAH_USER, COLE_USER, STRANGER] {
            let answer = room.press(user, &check.control("good"), None).await;
            assert!(!said(&answer).is_empty(), "{user}");
            assert_eq!(room.world.check("a4").await.state, CheckState::Sent, "{user}");
        }
    }

    /// A number in chat is a check point, even where the shared phone waits for "which one?".
    async fn a_question_to_the_shared_phone_is_not_answered_in_chat(room) {
        room.world.text(BROTHERS, "chat").await;
        let texts = room.world.got(BROTHERS);
        let eli = texts.iter().find(|text| text.contains("Eli") && text.contains("/link")).unwrap();
        let code = eli.split("/link ").nth(1).unwrap().split(' ').next().unwrap();
        room.command(MARCUS_USER, "link", &[("code", code)]).await;
        room.world.to("15T06:45:00").await;
        room.world.text(BROTHERS, "all good").await;
        room.writes(MARCUS_USER, "1").await;
        assert_eq!(room.world.check("a2").await.state, CheckState::Flagged);
        assert_ne!(room.world.check("a1").await.state, CheckState::Clear);
    }

    async fn who_cannot_be_written_to_is_texted_at_once(room) {
        room.link(MARCUS, MARCUS_USER).await;
        room.fake.always("POST", "messages", 403, 50_007);
        room.world.to("15T06:45:00").await;
        room.settle().await;
        room.world.settle().await;
        assert_eq!(room.checks_by_text(MARCUS), 1);
        assert_eq!(room.world.check("a4").await.state, CheckState::Sent);
        assert!(room.broken().await.iter().any(|what| what.contains("direct messages")));
    }

    async fn chat_that_is_down_costs_five_minutes_and_never_the_check(room) {
        room.link(MARCUS, MARCUS_USER).await;
        for method in ["POST", "PATCH", "GET"] {
            room.fake.always(method, "", 503, 0);
        }
        room.world.to("15T06:45:00").await;
        room.settle().await;
        room.world.to("15T06:49:00").await;
        room.settle().await;
        assert_eq!(room.checks_by_text(MARCUS), 0);
        room.world.to("15T06:50:00").await;
        assert_eq!(room.checks_by_text(MARCUS), 1);
        // Up again, the check is not asked a second time.
        room.fake.all_well();
        room.world.clock.advance(TimeDelta::minutes(6));
        room.settle().await;
        assert!(room.fake.direct(MARCUS_USER).is_empty());
    }

    async fn called_off_before_it_is_posted_is_not_posted(room) {
        room.link(MARCUS, MARCUS_USER).await;
        room.fake.always("POST", "", 503, 0);
        room.world.to("15T06:45:00").await;
        room.settle().await;
        room.world.text(DANE, "no practice today").await;
        room.fake.all_well();
        room.world.clock.advance(TimeDelta::minutes(3));
        room.settle().await;
        assert!(room.fake.direct(MARCUS_USER).is_empty());
        room.world.to("15T07:00:00").await;
        assert_eq!(room.checks_by_text(MARCUS), 0);
    }

    async fn stop_in_chat_stops_both(room) {
        room.link(MARCUS, MARCUS_USER).await;
        room.world.to("15T06:45:00").await;
        room.asked(MARCUS_USER).await;
        let texts = room.world.got(MARCUS).len();
        room.writes(MARCUS_USER, "STOP").await;
        assert_eq!(room.world.check("a4").await.state, CheckState::ByHand);
        let last = room.asked(MARCUS_USER).await;
        assert!(last.text().to_lowercase().contains("no more"), "{}", last.text());
        let direct = room.fake.direct(MARCUS_USER).len();
        room.world.through("16T09:00:00").await;
        room.settle().await;
        assert_eq!(room.fake.direct(MARCUS_USER).len(), direct, "nothing more in chat");
        assert_eq!(room.world.got(MARCUS).len(), texts, "and nothing by text");
        let mut tx = room.world.desk.store().read().await.unwrap();
        let waiting = tx.outbox_of(&room.world.program, &phone(MARCUS)).await.unwrap();
        assert!(waiting.iter().all(|text| text.state != OutState::Due));
    }

    /// Whose number has opted out of texts and who writes in chat is answered there, and the number stays as it was.
    async fn care_reaches_an_account_whose_number_opted_out(room) {
        room.link(NOAH, NOAH_USER).await;
        room.world.text(NOAH, "stop").await;
        room.world.to("15T06:45:00").await;
        let texts = room.world.got(NOAH).len();
        room.writes(NOAH_USER, "my head hurts").await;
        assert!(room.asked(NOAH_USER).await.text().contains("911"));
        assert_eq!(room.world.got(NOAH).len(), texts, "nothing goes to the number");
        room.world.to("15T07:30:00").await;
        let mut tx = room.world.desk.store().read().await.unwrap();
        let number = tx.numbers_of(&room.world.program, [&phone(NOAH)]).await.unwrap().remove(0);
        assert!(number.opted_out_at.is_some());
    }

    async fn an_unknown_account_gets_one_answer_and_its_complaint_is_heard(room) {
        room.world.to("15T06:45:00").await;
        room.writes(STRANGER, "hello").await;
        room.writes(STRANGER, "my head hurts").await;
        let direct = room.fake.direct(STRANGER);
        assert_eq!(direct.len(), 1);
        assert!(direct[0].text().contains("312-555-0100") && direct[0].text().contains("911"), "{}", direct[0].text());
        let items = room.world.open_items().await;
        assert_eq!(items.iter().filter(|item| item.queue == Queue::Medical).count(), 1);
        assert!(room.world.purposes(ANA).await.contains(&"alert".to_owned()));
        assert_eq!(room.fake.posts(MEDICAL).len(), 1);
    }
}

/// One bot for two schools: a button counts where it stands, and a server's commands are its own program's.
#[tokio::test]
async fn programs_that_share_a_bot_are_told_apart() {
    let other = "[programs.juniper]\nname = \"Juniper Hollow Herons\"\nzone = \"America/Chicago\"\n\
        number = \"+1 312 555 0150\"\ncontact = \"Ana\"\ncontact_phone = \"+1 312 555 0101\"\n\
        [programs.juniper.times]\ncheck = \"06:45\"\nquiet_until = \"06:30\"\n\
        [programs.juniper.teams.varsity]\nname = \"Varsity\"\n[programs.juniper.teams.jv]\nname = \"JV\"\n\
        [programs.juniper.chat]\nguild = \"110000000000000002\"\nequipment = \"120000000000000011\"\n\
        medical = \"120000000000000012\"\ncontact = \"120000000000000013\"\n";
    let room = Room::open(Engine::Sqlite, other).await;
    for channel in ["120000000000000011", "120000000000000012", "120000000000000013"] {
        room.fake.state().channels.insert(channel.to_owned());
    }
    assert_eq!(room.chat.bots().len(), 1, "one token, one gateway");
    let juniper = browline::trade::roster::ProgramId::from("juniper");
    let now = room.world.clock.now();
    room.world.desk.import(&juniper, &roster(), now, false).await.unwrap();
    room.link(MARCUS, MARCUS_USER).await;
    let text = room.world.carrier.write(&phone(MARCUS), &phone("+13125550150"), "chat", Vec::new());
    room.world.desk.receive(text, now).await.unwrap();
    room.world.desk.send_due(now).await.unwrap();
    let what = What::Command { name: "link".to_owned(), options: options(&[("code", &room.code(MARCUS))]) };
    let mut there = room.interaction(MARCUS_USER, what);
    assert!(said(&room.hear(&there).await).starts_with("That code is not good"), "it is the other program's");
    there.guild = Some("110000000000000002".to_owned());
    assert!(said(&room.hear(&there).await).starts_with("Thanks, Marcus"));
    there.guild = Some("110000000000000099".to_owned());
    assert!(said(&room.hear(&there).await).starts_with("This server is not set up"));

    room.world.to("15T06:45:00").await;
    room.settle().await;
    let checks = room.fake.direct(MARCUS_USER);
    assert_eq!(checks.len(), 2);
    let state = async |program: &browline::trade::roster::ProgramId| {
        let mut tx = room.world.desk.store().read().await.unwrap();
        let date = at("15T00:00:00").date(chrono_tz::UTC);
        tx.checks_of(program, [&"a4".into()], date).await.unwrap().remove(0).state
    };
    // The one of the second program, from the direct message.
    let second = {
        let mut tx = room.world.desk.store().read().await.unwrap();
        let rows = tx.chat_posts(&juniper).await.unwrap();
        let id = rows.into_iter().find(|row| row.athlete.is_some()).unwrap().message_id.unwrap();
        checks.into_iter().find(|post| post.id == id).unwrap()
    };
    let mut pressed = room.interaction(MARCUS_USER, What::Control { id: second.control("good"), picked: None });
    pressed.guild = None;
    assert_eq!(room.hear(&pressed).await, Answer::Nothing);
    assert_eq!((state(&juniper).await, state(&room.world.program).await), (CheckState::Clear, CheckState::Sent));
}
