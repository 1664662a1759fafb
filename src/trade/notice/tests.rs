use super::*;
use crate::trade::roster::{Language, TeamId};

fn guardian(id: &str) -> Guardian {
    Guardian {
        program: ProgramId::from("larkspur"),
        id: GuardianId::from(id),
        first: id.to_owned(),
        last: "Vega".to_owned(),
        phone: Phone::parse("+13125550101").ok(),
        email: Some(format!("{id}@example.org")),
        language: Language::En,
        way: None,
        notices: None,
        backup: false,
    }
}

fn can(guardian: &Guardian) -> Candidate<'_> {
    Candidate { guardian, no_text: None, no_mail: None }
}

fn told(plan: &Plan) -> Vec<&str> {
    let tell = plan.each.iter().filter(|(_, how)| matches!(how, Decision::Tell { .. }));
    tell.map(|(id, _)| id.as_str()).collect()
}

#[test]
fn each_guardian_hears_the_kinds_that_were_asked_for_by_the_way_that_was_asked_for() {
    let (mut rosa, mut luis, mut aunt) = (guardian("rosa"), guardian("luis"), guardian("aunt"));
    rosa.way = Some(Way::Both);
    luis.notices = Some(vec![NoticeKind::Cleared]);
    aunt.backup = true;
    let family = [can(&rosa), can(&luis), can(&aunt)];
    let rules = Rules::default();
    let held = plan(News::Held, &rules, &family, false);
    assert_eq!(told(&held), ["rosa"]);
    let Decision::Tell { phone, email } = &held.each[0].1 else { panic!("rosa is told") };
    assert!(phone.is_some() && email.as_deref() == Some("rosa@example.org"));
    assert_eq!(told(&plan(News::Cleared, &rules, &family, false)), ["rosa", "luis"]);
    assert_eq!(told(&plan(News::HelmetOut, &rules, &family, false)), Vec::<&str>::new(), "off unless switched on");
    assert_eq!(told(&plan(News::Held, &Rules { on: false, ..rules }, &family, true)), Vec::<&str>::new());
}

#[test]
fn who_stands_in_hears_when_nobody_else_can_be_told() {
    let (rosa, mut aunt) = (guardian("rosa"), guardian("aunt"));
    aunt.backup = true;
    let lost = Candidate { guardian: &rosa, no_text: Some("opted out of texts"), no_mail: None };
    let plan = plan(News::Held, &Rules::default(), &[lost, can(&aunt)], false);
    assert_eq!(plan.each[0].1, Decision::Cannot("opted out of texts".to_owned()));
    assert_eq!(told(&plan), ["aunt"]);
}

#[test]
fn an_opt_out_of_texts_is_not_answered_with_e_mail_unless_that_was_asked_for() {
    let mut rosa = guardian("rosa");
    let lost = |rosa: &Guardian| {
        let family = [Candidate { guardian: rosa, no_text: Some("opted out of texts"), no_mail: None }];
        plan(News::Held, &Rules::default(), &family, false).anybody
    };
    assert!(!lost(&rosa));
    rosa.way = Some(Way::Both);
    assert!(lost(&rosa));
}

#[test]
fn with_eighteen_the_athlete_decides_and_silence_is_no_yes() {
    let day = |text: &str| text.parse::<NaiveDate>().unwrap();
    let mut athlete = Athlete {
        program: ProgramId::from("larkspur"),
        id: AthleteId::from("a1"),
        team: TeamId::from("varsity"),
        jersey: None,
        first: "Jonah".to_owned(),
        last: "Vega".to_owned(),
        born: Some(day("2008-09-15")),
        language: Language::En,
        phone: None,
        head_mm: None,
        active: true,
    };
    let choice = |tells| FamilyChoice {
        program: athlete.program.clone(),
        athlete: athlete.id.clone(),
        asked_at: None,
        tells,
        answered_at: None,
        words: None,
    };
    let (asked, yes, no) = (choice(None), choice(Some(true)), choice(Some(false)));
    assert_eq!(family(&athlete, day("2026-09-14"), Some(&no)), Family::Hears, "a minor");
    assert_eq!(family(&athlete, day("2026-09-15"), None), Family::NotSaid);
    assert_eq!(family(&athlete, day("2026-09-15"), Some(&asked)), Family::NotSaid);
    assert_eq!(family(&athlete, day("2026-09-15"), Some(&yes)), Family::Hears);
    assert_eq!(family(&athlete, day("2026-09-15"), Some(&no)), Family::Private);
    athlete.born = None;
    assert_eq!(family(&athlete, day("2040-01-01"), None), Family::Hears, "without a date of birth a minor");
}

fn notice(guardian: &str, state: NoticeState, next_at: Option<i64>) -> Notice {
    let family = family_key(News::Held, &AthleteId::from("a1"), "0");
    Notice {
        program: ProgramId::from("larkspur"),
        id: format!("{family}/{guardian}"),
        athlete: AthleteId::from("a1"),
        guardian: GuardianId::from(guardian),
        news: News::Held,
        family,
        date: NaiveDate::MIN,
        phone: Phone::parse("+13125550101").ok(),
        email: None,
        state,
        made_at: Moment::from_millis(0),
        next_at: next_at.map(Moment::from_millis),
        acknowledged_at: None,
        words: None,
        why: None,
        item: None,
    }
}

#[test]
fn nobody_answers_again_then_who_stands_in_then_a_person() {
    use NoticeState::{Acknowledged, Again, PassedOn, Told, Unreachable};
    let now = Moment::from_millis(10);
    let aunt = [GuardianId::from("aunt")];
    assert_eq!(ladder(&[notice("rosa", Told, Some(11))], &aunt, now), []);
    assert_eq!(ladder(&[notice("rosa", Told, Some(10))], &aunt, now), [Step::Again("held/a1/0/rosa".to_owned())]);
    let again = [notice("rosa", Again, Some(9))];
    let rest = Step::Rest("held/a1/0/rosa".to_owned());
    assert_eq!(ladder(&again, &aunt, now), [rest.clone(), Step::StandIns(aunt.to_vec())]);
    assert_eq!(ladder(&again, &[], now), [rest.clone(), Step::Call]);
    let other_waits = [notice("rosa", Again, Some(9)), notice("luis", Told, Some(30))];
    assert_eq!(ladder(&other_waits, &[], now), std::slice::from_ref(&rest));
    let other_knows = [notice("rosa", Again, Some(9)), notice("luis", Acknowledged, None)];
    assert_eq!(ladder(&other_knows, &aunt, now), [rest]);
    assert_eq!(ladder(&[notice("rosa", Unreachable, None)], &[], now), [Step::Call]);
    let mut called = notice("rosa", PassedOn, None);
    assert_eq!(ladder(std::slice::from_ref(&called), &[], now), [Step::Call]);
    called.item = Some("contact/x".to_owned());
    assert_eq!(ladder(&[called], &[], now), [], "it is on the list once");
}

#[test]
fn what_wants_no_answer_calls_nobody() {
    let mut step = notice("rosa", NoticeState::Told, None);
    step.news = News::StepReached;
    assert_eq!(ladder(&[step], &[], Moment::from_millis(99)), []);
}

mod properties {
    use super::*;
    use proptest::prelude::*;

    fn state() -> impl Strategy<Value = NoticeState> {
        use NoticeState::*;
        prop::sample::select(vec![Told, Again, Acknowledged, PassedOn, ToCall, Called, Unreachable, Superseded])
    }

    proptest! {
        /// Whatever state a family is in, and whoever falls silent: it comes to rest, nobody is written to more than twice,
        /// and when nobody answered a person calls.
        #[test]
        fn a_silent_family_comes_to_rest_with_a_person(
            states in prop::collection::vec((state(), 0_i64..200), 1..4), stand_ins in 0_usize..3, news in 0_usize..5,
        ) {
            let news = News::ALL[news];
            let mut stand_ins: Vec<GuardianId> = (0..stand_ins).map(|n| GuardianId(format!("s{n}"))).collect();
            let mut family: Vec<Notice> = states.iter().enumerate().map(|(n, (state, at))| {
                let waits = matches!(state, NoticeState::Told | NoticeState::Again) && news.wants_answer();
                let mut notice = notice(&format!("g{n}"), *state, waits.then_some(*at));
                notice.news = news;
                notice
            }).collect();
            let mut texts: std::collections::BTreeMap<String, u32> =
                family.iter().map(|notice| (notice.id.clone(), 1)).collect();
            let mut calls = 0;
            for now in (0..5_000).step_by(10) {
                let at = Moment::from_millis(now);
                for step in ladder(&family, &stand_ins, at) {
                    match step {
                        Step::Again(id) => {
                            *texts.get_mut(&id).unwrap() += 1;
                            let notice = family.iter_mut().find(|notice| notice.id == id).unwrap();
                            (notice.state, notice.next_at) = (NoticeState::Again, Some(Moment::from_millis(now + 60)));
                        }
                        Step::Rest(id) => {
                            let notice = family.iter_mut().find(|notice| notice.id == id).unwrap();
                            (notice.state, notice.next_at) = (NoticeState::PassedOn, None);
                        }
                        Step::StandIns(ids) => {
                            stand_ins.clear();
                            for id in ids {
                                let mut new = notice(id.as_str(), NoticeState::Told, Some(now + 60));
                                new.news = news;
                                texts.insert(new.id.clone(), 1);
                                family.push(new);
                            }
                        }
                        Step::Call => {
                            calls += 1;
                            family.iter_mut().for_each(|notice| notice.item = Some("contact/x".to_owned()));
                        }
                    }
                }
            }
            prop_assert!(family.iter().all(|notice| notice.next_at.is_none()), "{family:?}");
            prop_assert!(texts.values().all(|texts| *texts <= 2));
            let known = family.iter().any(|notice| notice.state.is_known());
            let live = family.iter().any(|notice| notice.state != NoticeState::Superseded);
            prop_assert_eq!(calls == 1, news.wants_answer() && !known && live, "{:?}", family);
            prop_assert!(calls <= 1);
        }
    }
}
