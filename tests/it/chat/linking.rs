//! Accounts are linked by a one-time code that was texted to the person's number.

use chrono::TimeDelta;

use super::*;

in_chat! {
    async fn a_code_links_once_and_is_not_stored(room) {
        room.world.text(COLE, "chat").await;
        let code = room.code(COLE);
        let mut tx = room.world.desk.store().read().await.unwrap();
        let stored = tx.texts("SELECT hash FROM chat_code WHERE program = $1", vec![(&room.world.program).into()]).await.unwrap();
        drop(tx);
        assert_eq!(stored.len(), 1);
        assert!(!stored[0].contains(&code) && stored[0].len() == 64);
        // However it is typed.
        let typed = format!(" {}-{} ", code[..4].to_lowercase(), &code[4..]);
        assert!(room.command(COLE_USER, "link", &[("code", &typed)]).await.text.starts_with("Thanks, Cole"));
        let again = room.command(STRANGER, "link", &[("code", &code)]).await.text;
        assert!(again.starts_with("That code is not good"), "{again}");
        assert!(room.command(STRANGER, "today", &[]).await.text.starts_with("I do not know"));
        room.world.record_holds().await;
    }

    async fn a_code_is_good_for_ten_minutes_and_a_newer_one_ends_it(room) {
        room.world.text(COLE, "chat").await;
        let old = room.code(COLE);
        room.world.text(COLE, "chat").await;
        let newer = room.code(COLE);
        assert_ne!(old, newer);
        assert!(room.command(COLE_USER, "link", &[("code", &old)]).await.text.starts_with("That code is not good"));
        room.world.clock.advance(TimeDelta::minutes(10));
        assert!(room.command(COLE_USER, "link", &[("code", &newer)]).await.text.starts_with("That code is not good"));
        room.link(COLE, COLE_USER).await;
    }

    async fn few_wrong_codes_are_allowed_and_few_are_given(room) {
        room.world.text(COLE, "chat").await;
        let code = room.code(COLE);
        for _ in 0..5 {
            let answer = room.command(COLE_USER, "link", &[("code", "AAAAAAAA")]).await.text;
            assert!(answer.starts_with("That code is not good"), "{answer}");
        }
        assert!(room.command(COLE_USER, "link", &[("code", &code)]).await.text.starts_with("Too many"));
        // Another account is not to blame.
        assert!(room.command(DANE_USER, "link", &[("code", &code)]).await.text.starts_with("Thanks"));
        let before = room.world.got(DANE).len();
        for _ in 0..8 {
            room.world.text(DANE, "chat").await;
        }
        let codes = room.world.got(DANE).iter().skip(before).filter(|text| text.contains("/link")).count();
        assert_eq!(codes, 5);
        room.world.clock.advance(TimeDelta::minutes(61));
        room.link(COLE, COLE_USER).await;
    }

    /// Brothers on their mother's phone get a code each.
    async fn a_shared_number_gets_a_code_for_each(room) {
        room.world.text(BROTHERS, "chat").await;
        let texts: Vec<String> = room.world.got(BROTHERS).into_iter().filter(|text| text.contains("/link")).collect();
        assert_eq!(texts.len(), 2);
        let eli = texts.iter().find(|text| text.contains("Eli")).unwrap();
        let code = eli.split("/link ").nth(1).unwrap().split(' ').next().unwrap();
        assert!(room.command(MARCUS_USER, "link", &[("code", code)]).await.text.starts_with("Thanks, Eli"));
    }

    async fn nobody_unknown_and_no_stopped_number_gets_a_code(room) {
        room.world.text("+13125550177", "chat").await;
        assert!(room.world.got("+13125550177").iter().all(|text| !text.contains("/link")));
        room.world.text(MARCUS, "stop").await;
        room.world.text(MARCUS, "chat").await;
        assert!(room.world.got(MARCUS).iter().all(|text| !text.contains("/link")));
    }

    async fn a_new_account_ends_the_old_and_unlinking_ends_it_too(room) {
        room.link(COLE, COLE_USER).await;
        room.link(COLE, STRANGER).await;
        assert!(room.command(COLE_USER, "silent", &[]).await.text.starts_with("I do not know"));
        assert!(!room.command(STRANGER, "silent", &[]).await.text.starts_with("I do not know"));
        assert!(room.command(STRANGER, "unlink", &[]).await.text.starts_with("This account is no longer"));
        assert!(room.command(STRANGER, "silent", &[]).await.text.starts_with("I do not know"));
        assert!(room.command(STRANGER, "unlink", &[]).await.text.starts_with("This account is not linked"));
    }
}

#[tokio::test]
async fn without_a_place_on_the_platform_chat_is_a_word_like_any_other() {
    let world = World::new(Engine::Sqlite).await;
    world.text(COLE, "chat").await;
    assert!(world.got(COLE).iter().all(|text| !text.contains("/link")), "{:?}", world.got(COLE));
}
