//! Notices to families by text: who is told what, in which language, and what follows when nobody answers.

use browline::channel::NumberTrouble;
use browline::desk::notices::consent::Asking;
use browline::store::rows::OutState;
use browline::trade::morning::{ByHand, CheckState};
use browline::trade::notice::{News, Notice, NoticeState};
use browline::trade::queue::Queue;
use browline::trade::roster::AthleteId;

use crate::on_both_engines;
use crate::support::*;

const LUIS_SOTO: &str = "+13125550121";
const ALMA: &str = "+13125550122";
const DEE: &str = "+13125550123";

const FAMILIES: &str = "\
id,first,last,phone,email,language,athletes,relation,way,notices,backup,consent_date,consent_how
g1,Mara,Reyes,312-555-0110,,en,a1;a2,mother,,,,2026-08-01,signed form
g2,Rosa,Soto,312-555-0120,,es,a3,mother,text,,,2026-08-02,signed form
g3,Luis,Soto,312-555-0121,,en,a3,father,,held,,2026-08-02,signed form
g4,Alma,Paz,312-555-0122,,es,a3,aunt,,,yes,2026-08-02,signed form
g5,Dee,Bell,312-555-0123,,en,a4,mother,,,,2026-08-02,signed form
";

/// Families as in a file; Marcus is a minor here.
async fn import(world: &World, name: &str, text: &str) {
    if name == "guardians.csv" {
        let minors = ATHLETES.replace("2008-02-02", "2009-02-02");
        world
            .desk
            .import(&world.program, &files(&[("athletes.csv", &minors)]), world.clock.now(), false)
            .await
            .unwrap();
    }
    world.desk.import(&world.program, &files(&[(name, text)]), world.clock.now(), false).await.unwrap();
}

async fn notices(world: &World, athlete: &str) -> Vec<Notice> {
    let mut tx = world.desk.store().read().await.unwrap();
    tx.notices_of(&world.program, [&AthleteId::from(athlete)], at("01T00:00:00")).await.unwrap()
}

async fn newest(world: &World, athlete: &str, guardian: &str) -> Notice {
    let all = notices(world, athlete).await;
    let found =
        all.into_iter().filter(|notice| notice.guardian.as_str() == guardian).max_by_key(|notice| notice.made_at);
    found.unwrap_or_else(|| panic!("{guardian} has no notice, {:?}", world.engine))
}

/// Texts to a phone that are notices.
fn told(world: &World, who: &str) -> Vec<String> {
    const HEADS: [&str; 6] =
        ["is held", "en pausa, sin", "is not held any more", "ya no esta en pausa", "helmet", "next step back"];
    let is_notice = |text: &String| HEADS.iter().any(|head| text.contains(head)) && text.contains("Ana, 312-555-0101");
    world.got(who).into_iter().filter(is_notice).collect()
}

async fn contact(world: &World) -> Vec<String> {
    let items = world.open_items().await;
    items.into_iter().filter(|item| item.queue == Queue::Contact).filter_map(|item| item.about).collect()
}

fn has(all: &[String], part: &str) -> bool {
    all.iter().any(|about| about.contains(part))
}

on_both_engines! {
    async fn each_guardian_hears_once_in_their_language_and_nothing_of_why(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza y estoy mareado").await;
        let rosa = told(&world, ROSA);
        assert_eq!(rosa.len(), 1, "{:?}", world.got(ROSA));
        assert!(rosa[0].contains("Ivan esta en pausa") && rosa[0].contains("Responda RECIBIDO"), "{}", rosa[0]);
        let luis = told(&world, LUIS_SOTO);
        assert!(luis.len() == 1 && luis[0].contains("Ivan is held") && luis[0].contains("reply RECEIVED"), "{luis:?}");
        assert_eq!(told(&world, ALMA), Vec::<String>::new(), "she stands in, and was not needed");
        // More of the same hold: nothing more.
        world.text(IVAN, "tengo vomito").await;
        world.text(IVAN, "estoy enfermo").await;
        assert_eq!((told(&world, ROSA).len(), told(&world, LUIS_SOTO).len()), (1, 1));
        for text in [&rosa[0], &luis[0]] {
            for word in ["cabeza", "head", "mare", "dizz", "concus", "conmoc", "sint", "sympt", "Soto", "#55"] {
                assert!(!text.contains(word), "{word}: {text}");
            }
        }
        world.record_holds().await;
    }

    async fn an_answer_is_noted_and_that_guardian_is_not_asked_again(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        world.text(ROSA, "Recibido, gracias").await;
        let noted = newest(&world, "a3", "g2").await;
        assert_eq!((noted.state, noted.words.as_deref()), (NoticeState::Acknowledged, Some("Recibido, gracias")));
        world.through("15T20:00:00").await;
        assert_eq!(told(&world, ROSA).len(), 1);
        // The father did not answer: asked once more, and since the mother knows nobody is to call.
        assert_eq!(told(&world, LUIS_SOTO).len(), 2);
        assert_eq!(newest(&world, "a3", "g3").await.state, NoticeState::PassedOn);
        assert_eq!(told(&world, ALMA).len(), 0);
        assert!(!has(&contact(&world).await, "nobody of the family"));
    }

    async fn when_nobody_answers_it_goes_again_then_to_who_stands_in_then_to_a_person(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        world.through("15T07:50:00").await;
        assert_eq!((told(&world, ROSA).len(), told(&world, ALMA).len()), (2, 0));
        assert!(told(&world, ROSA)[1].contains("de nuevo"));
        world.through("15T08:50:00").await;
        assert_eq!((told(&world, ROSA).len(), told(&world, ALMA).len()), (2, 1));
        world.through("15T12:00:00").await;
        assert_eq!(told(&world, ALMA).len(), 2);
        let calls: Vec<String> = contact(&world).await.into_iter().filter(|about| about.contains("nobody of the family")).collect();
        assert_eq!(calls.len(), 1, "{calls:?}");
        assert!(calls[0].contains("#55 Ivan, held") && calls[0].contains("Rosa Soto 312-555-0120"), "{}", calls[0]);
        assert!(notices(&world, "a3").await.iter().all(|notice| notice.state == NoticeState::ToCall));
        // A late answer is noted all the same.
        world.text(ALMA, "recibido").await;
        assert_eq!(newest(&world, "a3", "g4").await.state, NoticeState::Acknowledged);
        let before = world.outbox(ROSA).await.len();
        world.through("16T06:00:00").await;
        assert_eq!(world.outbox(ROSA).await.len(), before, "it ends there");
        world.record_holds().await;
    }

    async fn a_person_who_called_closes_it(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        world.through("15T12:00:00").await;
        let items = world.open_items().await;
        let call = items.iter().find(|item| item.about.as_ref().is_some_and(|about| about.contains("nobody of the family"))).unwrap();
        use browline::desk::act::{Action, Via};
        let done = Action::Done { item: call.id.clone(), what: Some("spoke with Dee".to_owned()) };
        let outcome = world.desk.act(&world.program, &"ana".into(), &done, "form1", Via::Board, world.clock.now()).await.unwrap();
        assert!(outcome.is_done());
        assert_eq!(newest(&world, "a4", "g5").await.state, NoticeState::Called);
    }

    async fn a_wrong_number_stops_texts_to_it_and_names_whose_it_was(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        world.text(LUIS_SOTO, "ok").await;
        world.text(ROSA, "wrong number").await;
        assert_eq!(newest(&world, "a3", "g2").await.state, NoticeState::Unreachable);
        assert_eq!(told(&world, ALMA).len(), 0, "somebody of the family knows");
        let about = contact(&world).await;
        assert!(has(&about, "Rosa Soto, family of #55 Ivan: wrong number"), "{about:?}");
        let before = world.outbox(ROSA).await.len();
        world.through("15T20:00:00").await;
        assert_eq!(world.outbox(ROSA).await.len(), before, "nothing more goes there");
    }

    async fn when_numbers_opt_out_who_stands_in_is_told_at_once_and_then_a_person(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        world.text(LUIS_SOTO, "STOP").await;
        assert_eq!(told(&world, ALMA).len(), 0, "Rosa may still answer");
        world.text(ROSA, "STOP").await;
        assert_eq!(told(&world, ALMA).len(), 1, "at once");
        world.text(ALMA, "STOP").await;
        let about = contact(&world).await;
        assert!(has(&about, "#55 Ivan, held: nobody of the family has answered"), "{about:?}");
        assert!(has(&about, "Alma Paz, family of #55 Ivan: opted out"), "{about:?}");
        world.through("15T20:00:00").await;
        for number in [ROSA, ALMA, LUIS_SOTO] {
            let texts = world.outbox(number).await;
            assert!(texts.iter().all(|text| text.state != OutState::Due), "{texts:?}");
        }
        let after_stop = world.carrier.texts_after_stop();
        assert!(after_stop.iter().all(|text| text.body.contains("you are opted out")), "{after_stop:?}");
    }

    async fn a_number_that_fails_is_a_contact_item_and_a_person_calls(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.carrier.refuse(&phone(DEE), NumberTrouble::NotMobile);
        world.text(MARCUS, "my head hurts").await;
        world.settle().await;
        assert_eq!(newest(&world, "a4", "g5").await.state, NoticeState::ToCall);
        let about = contact(&world).await;
        assert!(has(&about, "Dee Bell, family of #7 Marcus: the number cannot take texts"), "{about:?}");
        assert!(has(&about, "#7 Marcus, held: nobody of the family"), "{about:?}");
        assert_ne!(world.check("a4").await.by_hand, Some(ByHand::NumberFails), "the mother's number, not his");
    }

    async fn who_did_not_agree_to_texts_gets_none_and_staff_are_asked(world) {
        import(&world, "guardians.csv", &FAMILIES.replace("a4,mother,,,,2026-08-02,signed form", "a4,mother,,,,,")).await;
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        assert_eq!(world.got(DEE), Vec::<String>::new());
        assert!(has(&contact(&world).await, "has not agreed to texts"));
    }

    async fn a_question_is_answered_with_whom_to_call_and_staff_hear_of_it(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(MARCUS, "my head hurts").await;
        world.text(DEE, "why? what is going on").await;
        let answer = world.got(DEE).pop().unwrap();
        assert!(answer.contains("Please call Ana, 312-555-0101"), "{answer}");
        assert!(has(&world.got(ANA), "Dee Bell, family of #7 Marcus, asks about a notice"), "{:?}", world.got(ANA));
        assert_eq!(newest(&world, "a4", "g5").await.state, NoticeState::Told, "a question is no receipt");
        assert!(has(&contact(&world).await, "asks about a notice; call 312-555-0123"));
    }

    async fn on_a_shared_phone_a_receipt_makes_no_helmet_all_right(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(BROTHERS, "Jonah: my head hurts").await;
        assert_eq!(told(&world, BROTHERS).len(), 1, "{:?}", world.got(BROTHERS));
        world.text(BROTHERS, "ok").await;
        assert_eq!(newest(&world, "a1", "g1").await.state, NoticeState::Acknowledged);
        assert!(world.check("a2").await.state.is_silent());
        assert!(world.got(BROTHERS).pop().unwrap().contains("check still waits"));
        world.text(BROTHERS, "Eli ok").await;
        assert_eq!(world.check("a2").await.state, CheckState::Clear);
    }

    async fn the_family_hears_when_it_is_over_and_a_new_hold_is_news_again(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(LUIS, "i am good").await;
        world.text(IVAN, "estoy enfermo, tengo fiebre").await;
        assert_eq!((told(&world, ROSA).len(), told(&world, LUIS_SOTO).len()), (1, 1));
        world.to("15T06:50:00").await;
        world.text(ANA, "55 may go").await;
        let all = told(&world, ROSA);
        assert!(all.len() == 2 && all[1].contains("ya no esta en pausa"), "{all:?}");
        assert_eq!(told(&world, LUIS_SOTO).len(), 1, "he wanted to hear of holds alone");
        let both = notices(&world, "a3").await;
        let held = both.iter().find(|notice| notice.news == News::Held).unwrap();
        assert_eq!((held.state, held.next_at), (NoticeState::Superseded, None));
        world.text(ROSA, "got it").await;
        assert_eq!(newest(&world, "a3", "g2").await.state, NoticeState::Acknowledged);
        world.to("15T06:55:00").await;
        world.text(IVAN, "me duele la cabeza").await;
        assert_eq!(told(&world, ROSA).len(), 3);
    }

    async fn what_is_overtaken_before_it_was_sent_is_not_sent(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text_only(IVAN, "estoy enfermo, tengo fiebre").await;
        world.clock.set(at("15T06:46:00"));
        world.text_only(ANA, "55 may go").await;
        world.settle().await;
        let all = told(&world, ROSA);
        assert!(all.len() == 1 && all[0].contains("ya no esta en pausa"), "{all:?}");
    }

    async fn helmets_are_told_of_where_the_program_wants_it(fresh) {
        let notices = "[programs.larkspur.notices]\nhelmets = true\n\n[programs.larkspur.times]";
        let world = World::empty(fresh.engine, &CONFIG.replace("[programs.larkspur.times]", notices)).await;
        world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(MARCUS, "strap busted").await;
        let out = told(&world, DEE);
        assert!(out.len() == 1 && out[0].contains("out of use") && !out[0].contains("strap"), "{out:?}");
        world.to("15T08:00:00").await;
        world.text(COLE, "7 done new strap").await;
        let back = told(&world, DEE);
        assert!(back.len() == 2 && back[1].contains("in use again") && !back[1].contains("strap"), "{back:?}");
        world.through("15T20:00:00").await;
        assert_eq!(told(&world, DEE).len(), 2, "it asks for no answer");
    }

    async fn with_eighteen_the_athlete_decides(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T09:00:00").await;
        import(&world, "athletes.csv", &ATHLETES.replace("2009-01-20", "2008-01-20")).await;
        world.through("15T12:30:00").await;
        let asked = |who: &str| world.got(who).into_iter().filter(|text| text.contains("FAMILIA si")).count();
        assert_eq!(asked(IVAN), 1, "{:?}", world.got(IVAN));
        world.text(IVAN, "me duele la cabeza").await;
        assert_eq!((told(&world, ROSA).len(), told(&world, LUIS_SOTO).len()), (0, 0), "silence is no yes");
        assert_eq!(asked(IVAN), 1, "asked once");
        world.text(IVAN, "Privado").await;
        assert!(world.got(IVAN).pop().unwrap().contains("No avisaremos"), "{:?}", world.got(IVAN));
        world.text(IVAN, "FAMILIA").await;
        assert!(world.got(IVAN).pop().unwrap().contains("Avisaremos a tus padres"));
        let mut tx = world.desk.store().read().await.unwrap();
        let choice = tx.family_choices(&world.program, [&AthleteId::from("a3")]).await.unwrap().pop().unwrap();
        assert_eq!((choice.tells, choice.words.as_deref()), (Some(true), Some("FAMILIA")));
        drop(tx);
        world.record_holds().await;
    }

    async fn a_minors_word_decides_nothing(world) {
        import(&world, "guardians.csv", FAMILIES).await;
        world.to("15T06:45:00").await;
        world.text(IVAN, "PRIVADO").await;
        world.text(IVAN, "me duele la cabeza").await;
        assert_eq!(told(&world, ROSA).len(), 1);
    }

    async fn consent_by_text_keeps_what_was_shown_and_what_was_answered(world) {
        import(&world, "guardians.csv", &FAMILIES.replace("a4,mother,,,,2026-08-02,signed form", "a4,mother,,,,,")).await;
        world.to("15T09:00:00").await;
        let mut tx = world.desk.store().read().await.unwrap();
        let staff = tx.staff(&world.program).await.unwrap();
        drop(tx);
        let ask = async |who: &str, by: &str, key: &str| {
            let member = staff.iter().find(|member| member.id.as_str() == by).unwrap();
            world.desk.ask_consent(&world.program, member, who, key, world.clock.now()).await.unwrap()
        };
        assert_eq!(ask("g5", "cole", "k0").await, Asking::NotAllowed);
        assert_eq!(ask("g5", "ana", "k1").await, Asking::Asked);
        assert_eq!(ask("g5", "ana", "k1").await, Asking::Asked, "the same form");
        assert_eq!(ask("g5", "ana", "k2").await, Asking::Already, "once");
        assert_eq!(ask("g1", "ana", "k3").await, Asking::Already, "she signed the form");
        assert_eq!(ask("a6", "ana", "k4").await, Asking::Nobody, "a minor without a guardian on file");
        world.settle().await;
        let shown = world.got(DEE);
        assert_eq!(shown.len(), 1, "{shown:?}");
        world.text(DEE, "ok").await;
        let consents = async || {
            let mut tx = world.desk.store().read().await.unwrap();
            tx.consents_at(&world.program, [&phone(DEE)]).await.unwrap()
        };
        assert!(consents().await.is_empty(), "ok is no consent");
        world.text(DEE, "Agree").await;
        let given = consents().await.pop().unwrap();
        assert_eq!((given.how.as_str(), given.given_by.as_str()), ("text", "Dee Bell"));
        assert_eq!((given.shown.as_deref(), given.words.as_deref()), (Some(shown[0].as_str()), Some("Agree")));
        assert_eq!(given.at, Some(world.clock.now()));
        assert!(world.got(DEE).pop().unwrap().contains("noted that you agree"));
        // The next import leaves the proof as it is, and the number is written to.
        import(&world, "guardians.csv", FAMILIES).await;
        assert_eq!(consents().await, [given]);
        world.text(MARCUS, "my head hurts").await;
        assert_eq!(told(&world, DEE).len(), 1);
        world.record_holds().await;
    }

    async fn a_no_is_kept_and_nothing_more_is_asked(world) {
        import(&world, "guardians.csv", &FAMILIES.replace("a4,mother,,,,2026-08-02,signed form", "a4,mother,,,,,")).await;
        world.to("15T09:00:00").await;
        let mut tx = world.desk.store().read().await.unwrap();
        let ana = tx.staff(&world.program).await.unwrap().into_iter().find(|member| member.id.as_str() == "ana").unwrap();
        drop(tx);
        let ask = async |key: &str| world.desk.ask_consent(&world.program, &ana, "g5", key, world.clock.now()).await.unwrap();
        assert_eq!(ask("k1").await, Asking::Asked);
        world.settle().await;
        world.text(DEE, "No thanks").await;
        let mut tx = world.desk.store().read().await.unwrap();
        let kept = tx.all_consent_asks(&world.program).await.unwrap().pop().unwrap();
        assert_eq!((kept.agreed, kept.words.as_deref()), (Some(false), Some("No thanks")));
        drop(tx);
        assert_eq!(ask("k2").await, Asking::Already);
    }
}
