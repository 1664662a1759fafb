use proptest::prelude::*;

use super::*;

const HELD: Moment = Moment::from_millis(1_789_470_000_000);
const HOUR: i64 = 3_600_000;

fn amsterdam() -> Progression {
    built_in().into_iter().find(|progression| progression.key == "concussion").unwrap()
}

fn after(hours: i64) -> Moment {
    Moment::from_millis(HELD.millis() + hours * HOUR)
}

fn course() -> Course {
    Course {
        program: ProgramId::from("p"),
        id: "jonah/1".into(),
        athlete: AthleteId::from("jonah"),
        category: None,
        progression: Some("concussion".into()),
        step: 0,
        since: HELD,
        ready: false,
        check_in: true,
        opened_at: HELD,
        opened_by: "staff ana".into(),
        closed_at: None,
        entries: 0,
    }
}

/// Amsterdam 2022: six steps, each at least 24 h; a medical determination before step 4, the first with a risk of head
/// impact; steps 1 to 3 are stopped and tried again the next day, 4 to 6 go back to step 3.
#[test]
fn the_consensus_strategy_is_the_one_published() {
    let progression = amsterdam();
    assert_eq!(progression.last(), 6);
    assert_eq!(progression.steps.iter().map(|step| step.hours).collect::<Vec<_>>(), [24; 6]);
    assert_eq!(
        progression.steps.iter().map(|step| step.clearance).collect::<Vec<_>>(),
        [false, false, false, true, true, true]
    );
    for (nth, step) in progression.steps.iter().enumerate() {
        assert_eq!(step.worse, if nth < 3 { Worse::Stay(Stay::Stay) } else { Worse::Back(3) });
    }
    assert!(progression.steps[1].what.contains("55 %") && progression.steps[1].what.contains("70 %"));
}

/// After at least 24 h of relative rest; from the start of step 1 games are reached no earlier than 5 x 24 = 120 h.
#[test]
fn games_are_reached_no_earlier_than_120_hours_after_the_first_step() {
    let progression = amsterdam();
    let mut course = Course { ready: true, ..course() };
    assert_eq!(course.next(&progression).unwrap().at, after(24));
    for step in 1..=6 {
        let next = course.next(&progression).unwrap();
        assert_eq!(next.step, step);
        let just_before = Moment::from_millis(next.at.millis() - 1);
        assert_eq!(course.may_step(&progression, step, just_before, false), Err(Refused::Early(step, next.at)));
        assert_eq!(course.may_step(&progression, step, next.at, false), Ok(()));
        course.step_to(step, next.at);
    }
    assert_eq!(course.since, after(24 + 120));
    assert_eq!(course.next(&progression), None);
}

#[test]
fn a_step_is_not_skipped_but_by_a_stated_reason_and_never_past_the_gate() {
    let progression = amsterdam();
    let mut course = course();
    assert_eq!(course.may_step(&progression, 3, after(99), false), Err(Refused::Skips(1)));
    assert_eq!(course.may_step(&progression, 3, after(1), true), Ok(()));
    assert_eq!(
        course.may_step(&progression, 4, after(1), true),
        Err(Refused::Determination(4)),
        "an override is no determination"
    );
    course.step_to(3, after(99));
    assert_eq!(course.may_step(&progression, 4, after(200), false), Err(Refused::Determination(4)));
    assert_eq!(course.may_step(&progression, 3, after(200), false), Err(Refused::Reached(3)));
    assert_eq!(course.may_step(&progression, 7, after(200), true), Err(Refused::NoSuchStep(7)));
    course.ready = true;
    assert_eq!(course.may_step(&progression, 4, after(200), false), Ok(()));
    course.closed_at = Some(after(200));
    assert_eq!(course.may_step(&progression, 4, after(300), true), Err(Refused::Over));
}

/// Mild and brief is up to 2 points of 10 for less than an hour.
#[test]
fn worsening_stops_the_early_steps_and_throws_the_late_ones_back() {
    let progression = amsterdam();
    let how = |points, minutes| Worsening { points, minutes };
    assert!(how(2, 59).is_mild_and_brief() && !how(2, 60).is_mild_and_brief() && !how(3, 5).is_mild_and_brief());
    let (now, tomorrow) = (after(60), after(70));
    for step in 1..=3 {
        let mut course = Course { step, since: after(50), ..course() };
        assert_eq!(course.worse(&progression, how(2, 30), now, tomorrow), Effect::Nothing);
        assert_eq!(course.since, after(50));
        assert_eq!(course.worse(&progression, how(4, 30), now, tomorrow), Effect::Again(tomorrow));
        assert_eq!((course.step, course.next(&progression).unwrap().at), (step, after(70 + 24)));
    }
    for step in 4..=6 {
        let mut course = Course { step, since: after(50), ready: true, ..course() };
        assert_eq!(course.worse(&progression, how(1, 5), now, tomorrow), Effect::Back(3), "any return of symptoms");
        let next = course.next(&progression).unwrap();
        assert_eq!(
            (course.step, next.at, next.lacks_determination),
            (3, after(60 + 24), true),
            "readiness is determined anew"
        );
    }
}

#[test]
fn a_hold_ends_after_full_contact_or_by_a_stated_reason() {
    let progression = amsterdam();
    let mut course = Course { ready: true, ..course() };
    assert_eq!(course.may_end(Some(&progression), after(300), false), Err(Refused::Skips(1)));
    course.step_to(5, after(150));
    assert_eq!(course.may_end(Some(&progression), after(160), false), Err(Refused::Early(6, after(174))));
    assert_eq!(course.may_end(Some(&progression), after(174), false), Ok(()));
    assert_eq!(course.may_end(Some(&progression), after(151), true), Ok(()));
    assert_eq!(course.may_end(None, after(1), false), Ok(()));
}

fn day(text: &str) -> chrono::NaiveDate {
    text.parse().unwrap()
}

fn decision() -> Decision {
    Decision {
        clinician: "Dr. Ruth Okafor".into(),
        licence: Some(Licence::Physician),
        number: "IL 036-0001".into(),
        on: Some(day("2026-09-22")),
        document: Some("clearance form".into()),
        dated: Some(day("2026-09-22")),
        place: Some("folder in the training room".into()),
        parent: Some("signed by the mother on the form".into()),
        reason: None,
    }
}

fn lacking(law: &Law, decision: &Decision, hours: i64) -> Vec<Lack> {
    lacks(law, decision, true, (day("2026-09-15"), HELD), (day("2026-09-22"), after(hours)))
}

#[test]
fn who_may_clear_is_a_setting_and_the_default_is_cautious() {
    let cautious = Law::cautious();
    assert_eq!(lacking(&cautious, &decision(), 170), []);
    let nurse = Decision { licence: Some(Licence::NursePractitioner), ..decision() };
    assert_eq!(lacking(&cautious, &nurse, 170), [Lack::MayNot(Licence::NursePractitioner)]);
    let of = |key: &str| Law::built_in().into_iter().find(|law| law.key == key).unwrap();
    assert_eq!(lacking(&of("us-az"), &nurse, 170), []);
    assert_eq!(lacking(&of("us-al"), &nurse, 170), [Lack::MayNot(Licence::NursePractitioner)]);
    let changed = cautious.with(&LawChanges {
        may_clear: Some(vec![Licence::NursePractitioner]),
        parent: Some(false),
        ..LawChanges::default()
    });
    assert_eq!(lacking(&changed, &Decision { parent: None, ..nurse }, 170), []);
}

#[test]
fn what_is_lacking_is_named() {
    let cautious = Law::cautious();
    let lacks = lacking(&cautious, &Decision::default(), 3);
    assert_eq!(
        lacks,
        [Lack::Name, Lack::Licence, Lack::Number, Lack::Day, Lack::Document, Lack::Parent, Lack::TooSoon(after(24))]
    );
    for day_of in ["2026-09-14", "2026-09-23"] {
        assert_eq!(lacking(&cautious, &Decision { on: Some(day(day_of)), ..decision() }, 170), [Lack::WrongDay]);
    }
    let blank = Decision { place: Some("  ".into()), number: "-".into(), ..decision() };
    assert_eq!(lacking(&cautious, &blank, 170), [Lack::Number, Lack::Document]);
}

#[test]
fn a_clinics_own_progression_is_read_and_its_faults_are_named() {
    let heat = "[[progression]]\nkey = \"heat\"\nname = \"After heat illness\"\n[[progression.step]]\nwhat = \"light work\"\nhours = 48\nworse = \"stay\"\n";
    assert_eq!(progressions(heat).unwrap()[0].steps[0].hours, 48);
    let wrong = |from: &str, to: &str| progressions(&heat.replace(from, to)).unwrap_err();
    assert!(wrong("hours = 48", "hours = 0").contains("step 1: hours = 0 is not between 1 and 720"));
    assert!(wrong("worse = \"stay\"", "worse = 2").contains("leads to no earlier step"));
    assert!(wrong("what =", "wat =").contains("wat"));
    assert!(progressions("[[progression]]\nkey = \"x\"\nname = \"X\"\nstep = []\n").unwrap_err().contains("no step"));
}

proptest! {
    /// Whatever is recorded, in whatever order: without an override no step comes sooner than its hours after the one
    /// before, none is left out, and from step 4 on a determination stands.
    #[test]
    fn no_order_of_events_outruns_the_steps(events in proptest::collection::vec((0..8_usize, 0..40_i64, 0..5_u8), 0..60)) {
        let progression = amsterdam();
        let mut course = course();
        let mut now = HELD;
        for (to, hours, kind) in events {
            now = Moment::from_millis(now.millis() + hours * HOUR);
            let before = course.clone();
            match kind {
                0 => course.ready = true,
                1 => { course.worse(&progression, Worsening { points: 5, minutes: 90 }, now, Moment::from_millis(now.millis() + 8 * HOUR)); }
                _ => if course.may_step(&progression, to, now, false).is_ok() {
                    course.step_to(to, now);
                    prop_assert_eq!(course.step, before.step + 1);
                    prop_assert!(now.millis() - before.since.millis() >= 24 * HOUR);
                }
            }
            prop_assert!(course.step < 4 || course.ready);
        }
    }
}
