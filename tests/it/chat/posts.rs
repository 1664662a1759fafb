//! Posts: one an item, edited in place, whatever the platform does.

use browline::channel::chat::What;
use browline::store::chat::PostState;
use chrono::TimeDelta;

use super::*;
use crate::fake_chat::{CONTACT, EQUIPMENT, MEDICAL};

in_chat! {
    async fn an_item_is_one_post_edited_in_place(room) {
        room.world.to("15T06:45:00").await;
        room.text(MARCUS, "strap broke").await;
        let [post] = room.fake.posts(EQUIPMENT).try_into().unwrap();
        let post: crate::fake_chat::Standing = post;
        for part in ["**#7 Marcus**", "Varsity", "chin strap", "not to be worn", "fix by 2:45 pm", "open"] {
            assert!(post.text().contains(part), "{part}: {}", post.text());
        }
        assert!(!post.text().contains("broke"), "what was typed is not posted");
        // By text, and the same post shows it.
        room.text(COLE, "got 7").await;
        // More comes, and the same post shows it.
        room.world.clock.advance(TimeDelta::minutes(2));
        room.text(MARCUS, "and the mask is loose").await;
        let [post] = room.fake.posts(EQUIPMENT).try_into().unwrap();
        assert!(post.text().contains("taken by Cole") && post.text().contains("face mask hardware"), "{}", post.text());
        room.text(COLE, "7 done new strap").await;
        let [post] = room.fake.posts(EQUIPMENT).try_into().unwrap();
        assert!(post.text().contains("done by Cole: new strap"), "{}", post.text());
        assert!(post.controls().is_empty(), "nothing is left to press");
        let calls = room.fake.calls("", "").len() + room.fake.state().calls.len();
        room.settle().await;
        room.world.clock.advance(TimeDelta::hours(2));
        room.settle().await;
        assert_eq!(room.fake.state().calls.len(), calls, "what stands is not posted again");
        assert!(room.rows().await.iter().all(|row| !row.live), "nothing more changes");
    }

    async fn the_medical_channel_learns_that_one_waits_and_no_more(room) {
        room.world.to("15T06:45:00").await;
        room.text(NOAH, "my head hurts and the chin strap is broken").await;
        let [post] = room.fake.posts(MEDICAL).try_into().unwrap();
        let post: crate::fake_chat::Standing = post;
        assert_eq!(post.text(), "A body report is waiting.");
        assert_eq!(post.controls()[0]["url"], "https://kestrels.example/board/trainer");
        let all: String = room.fake.state().calls.iter().map(|call| call.body.to_string()).collect();
        for word in ["head", "hurt", "concussion", "symptom"] {
            assert!(!all.contains(word), "`{word}` went to the platform: {all}");
        }
        assert!(!post.body.to_string().contains("Noah") && !post.body.to_string().contains("63"));
        room.text(ANA, "got 63").await;
        let [post] = room.fake.posts(MEDICAL).try_into().unwrap();
        assert_eq!(post.text(), "A body report is with the athletic trainer.");
    }

    async fn the_contact_channel_learns_who_waits(room) {
        room.world.to("15T06:45:00").await;
        room.text(MARCUS, "stop").await;
        let [post] = room.fake.posts(CONTACT).try_into().unwrap();
        let post: crate::fake_chat::Standing = post;
        assert!(post.text().contains("#7 Marcus"), "{}", post.text());
        assert!(!post.text().contains("opted"), "not why: {}", post.text());
        room.text("+13125550177", "who is this").await;
        let posts = room.fake.posts(CONTACT);
        assert!(posts[1].text().contains("an unknown number") && !posts[1].text().contains("0177"));
    }

    async fn a_429_is_waited_out_by_the_clock(room) {
        room.world.to("15T06:45:00").await;
        room.fake.slow_down("POST", "messages", 20.0, false);
        room.text(MARCUS, "strap broke").await;
        room.text(LUIS, "2").await;
        assert_eq!(room.fake.calls("POST", "messages").len(), 1, "the channel's next post waits too");
        room.world.clock.advance(TimeDelta::seconds(19));
        room.settle().await;
        assert_eq!(room.fake.calls("POST", "messages").len(), 1);
        room.world.clock.advance(TimeDelta::seconds(2));
        room.settle().await;
        assert_eq!(room.fake.posts(EQUIPMENT).len(), 2);
    }

    async fn a_429_for_everything_halts_every_channel(room) {
        room.world.to("15T06:45:00").await;
        room.fake.slow_down("POST", "messages", 30.0, true);
        room.text(MARCUS, "strap broke").await;
        room.text(NOAH, "my head hurts").await;
        assert_eq!(room.fake.calls("POST", "messages").len(), 1);
        assert!(room.fake.posts(MEDICAL).is_empty());
        room.world.clock.advance(TimeDelta::seconds(31));
        room.settle().await;
        assert_eq!((room.fake.posts(MEDICAL).len(), room.fake.posts(EQUIPMENT).len()), (1, 1));
    }

    /// Gone channels and lost permissions: what waits is posted when they are mended; the doctor says which.
    async fn a_channel_that_cannot_be_posted_to_waits_and_is_reported(room) {
        room.world.to("15T06:45:00").await;
        for (code, from) in [(10_003, MARCUS), (50_013, LUIS), (50_001, IVAN)] {
            room.fake.always("POST", &format!("channels/{EQUIPMENT}"), 403, code);
            room.text(from, "the strap is broken").await;
            room.text(BROTHERS, "stop").await;
            assert!(!room.fake.posts(CONTACT).is_empty(), "other channels go on");
            let broken = room.broken().await;
            assert!(
                broken.iter().any(|what| what.contains("equipment channel") && what.contains(&code.to_string())),
                "{broken:?}"
            );
            let before = room.fake.posts(EQUIPMENT).len();
            room.fake.all_well();
            room.world.clock.advance(TimeDelta::minutes(6));
            room.settle().await;
            assert_eq!(room.fake.posts(EQUIPMENT).len(), before + 1, "{code}");
            assert_eq!(room.broken().await, [""; 0]);
        }
    }

    async fn a_deleted_post_is_made_anew(room) {
        room.world.to("15T06:45:00").await;
        room.text(MARCUS, "strap broke").await;
        room.fake.delete(&room.fake.posts(EQUIPMENT)[0].id);
        room.text(COLE, "got 7").await;
        let [post] = room.fake.posts(EQUIPMENT).try_into().unwrap();
        let post: crate::fake_chat::Standing = post;
        assert!(post.text().contains("taken by Cole"));
        assert_eq!(room.rows().await[0].message_id.as_ref(), Some(&post.id));
    }

    async fn a_lost_answer_posts_nothing_twice(room) {
        room.world.to("15T06:45:00").await;
        room.fake.lose_answer("POST", "messages");
        room.text(MARCUS, "strap broke").await;
        assert_eq!(room.rows().await[0].message_id, None, "it is in doubt");
        room.world.clock.advance(TimeDelta::seconds(10));
        room.settle().await;
        assert_eq!(room.fake.calls("POST", "messages").len(), 2);
        assert_eq!(room.fake.posts(EQUIPMENT).len(), 1);
        assert_eq!(room.rows().await[0].message_id.as_ref(), Some(&room.fake.posts(EQUIPMENT)[0].id));
    }

    /// A worker that died after the hand-over: its lease runs out, and another posts under the same nonce.
    async fn a_crash_after_the_hand_over_posts_nothing_twice(room) {
        room.world.to("15T06:45:00").await;
        room.text(MARCUS, "strap broke").await;
        let mut row = room.rows().await.remove(0);
        row.state = PostState::Claimed;
        row.message_id = None;
        row.posted_hash = None;
        row.claimed_by = Some("the dead".to_owned());
        row.lease_until = Some(room.world.clock.now().plus(TimeDelta::seconds(60)));
        let mut tx = room.world.desk.store().write().await.unwrap();
        tx.put(&[row]).await.unwrap();
        tx.commit().await.unwrap();
        room.settle().await;
        assert_eq!(room.fake.calls("POST", "messages").len(), 1, "the lease holds");
        // What is wanted changes meanwhile, and is posted when the lease is over.
        room.text(COLE, "got 7").await;
        room.world.clock.advance(TimeDelta::seconds(61));
        room.settle().await;
        room.settle().await;
        assert_eq!(room.fake.posts(EQUIPMENT).len(), 1);
        let [row] = room.rows().await.try_into().unwrap();
        assert_eq!((row.state, row.message_id), (PostState::Posted, Some(room.fake.posts(EQUIPMENT)[0].id.clone())));
    }

    async fn two_processes_post_once(room) {
        room.world.to("15T06:45:00").await;
        let other = open(&room.world.address, &settings(&room.fake.base, ""), env, &room.world.carrier, &room.world.clock, "two").await;
        let other = ChatDesk::open(&other).unwrap().unwrap();
        for from in [MARCUS, LUIS, IVAN] {
            room.world.text(from, "strap broke").await;
            let now = room.world.clock.now();
            let (one, two) = tokio::join!(
                async { room.chat.sync(now).await.unwrap(); room.chat.post_due(now).await.unwrap() },
                async { other.sync(now).await.unwrap(); other.post_due(now).await.unwrap() }
            );
            assert_eq!(one.made + two.made, 1);
        }
        assert_eq!(room.fake.calls("POST", "messages").len(), 3);
    }

    async fn what_was_fixed_before_anybody_saw_it_is_not_posted(room) {
        room.world.to("15T06:45:00").await;
        room.world.text(MARCUS, "strap broke").await;
        room.world.text(COLE, "7 done new strap").await;
        room.settle().await;
        assert!(room.fake.posts(EQUIPMENT).is_empty());
    }

    async fn a_refused_token_halts_and_says_so_and_goes_on(room) {
        room.world.to("15T06:45:00").await;
        room.fake.always("POST", "messages", 401, 0);
        room.text(MARCUS, "strap broke").await;
        room.text(NOAH, "my head hurts").await;
        assert_eq!(room.fake.calls("POST", "messages").len(), 1, "one asks for all");
        assert!(room.broken().await.iter().any(|what| what.contains("takes nothing")), "{:?}", room.broken().await);
        room.fake.all_well();
        room.world.clock.advance(TimeDelta::minutes(6));
        room.settle().await;
        room.settle().await;
        assert_eq!((room.fake.posts(MEDICAL).len(), room.fake.posts(EQUIPMENT).len()), (1, 1));
        assert_eq!(room.broken().await, [""; 0]);
    }

    /// The platform down: texts go as ever, posts wait.
    async fn chat_down_delays_no_text(room) {
        room.world.to("15T06:45:00").await;
        for method in ["POST", "PATCH", "GET", "PUT"] {
            room.fake.always(method, "", 503, 0);
        }
        room.world.text(NOAH, "my head hurts").await;
        assert!(room.world.purposes(ANA).await.contains(&"alert".to_owned()));
        assert!(room.world.purposes(NOAH).await.contains(&"care".to_owned()));
        room.settle().await;
        assert!(room.fake.posts(MEDICAL).is_empty());
        room.fake.all_well();
        room.world.clock.advance(TimeDelta::minutes(5));
        room.settle().await;
        assert_eq!(room.fake.posts(MEDICAL).len(), 1);
    }
}

#[tokio::test]
async fn an_athlete_may_be_shown_by_jersey_alone() {
    let room = Room::open(Engine::Sqlite, "athletes = \"jersey\"\nlanguage = \"es\"").await;
    room.world.to("15T06:45:00").await;
    room.text(MARCUS, "strap broke").await;
    room.text(IVAN, "stop").await;
    room.link(COLE, COLE_USER).await;
    let today = room.command(COLE_USER, "today", &[]).await;
    assert!(today.text.contains("#7"), "{today:?}");
    let post = &room.fake.posts(EQUIPMENT)[0];
    assert!(post.text().contains("**#7**") && post.text().contains("correa del barbijo"), "{}", post.text());
    let all: String = room.fake.state().calls.iter().map(|call| call.body.to_string()).collect();
    assert!(!all.contains("Marcus") && !all.contains("Ivan") && !today.text.contains("Marcus"), "{all}");
}

#[tokio::test]
async fn every_post_of_an_item_has_controls_that_read_back() {
    let room = Room::open(Engine::Sqlite, "").await;
    room.world.to("15T06:45:00").await;
    room.text(MARCUS, "2").await;
    let post = room.fake.posts(EQUIPMENT).remove(0);
    let actions = ["take", "hold", "fixed", "hand"];
    for action in actions {
        let what = What::Control { id: post.control(action), picked: None };
        assert!(matches!(room.hear(&room.interaction(STRANGER, what)).await, Answer::FollowUp(_)));
    }
    assert_eq!(post.controls().len(), actions.len());
}
