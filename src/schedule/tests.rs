use chrono::NaiveTime;
use proptest::prelude::*;

use super::*;
use crate::trade::roster::{EventId, EventKind, ProgramId};

const CHICAGO: Tz = chrono_tz::America::Chicago;

fn times() -> TeamTimes {
    let at = |h, m| NaiveTime::from_hms_opt(h, m, 0).unwrap();
    TeamTimes {
        check: When::At(at(6, 45)),
        spread: Minutes(10),
        nudge_after: Minutes(45),
        check_closes_before: Minutes(20),
        fix_list_before: Minutes(90),
        silent_before: Minutes(45),
        availability_before: Minutes(30),
        fix_by_before: Minutes(45),
        quiet: QuietHours { from: at(21, 0), until: at(6, 30) },
    }
}

fn event(id: &str, start: &str) -> Event {
    let local = chrono::NaiveDateTime::parse_from_str(start, "%Y-%m-%d %H:%M").unwrap();
    Event {
        program: ProgramId::from("p"),
        id: EventId::from(id),
        team: TeamId::from("varsity"),
        kind: EventKind::Practice,
        starts_at: resolve(local, CHICAGO),
        ends_at: None,
        date: local.date(),
        place: None,
        helmets: true,
        cancelled: false,
        source: "events.csv".into(),
    }
}

const LIGHT: Load = Load { segments: 50, per_second: 1.0 };

fn local(at: Moment) -> String {
    at.local(CHICAGO).format("%d %H:%M:%S").to_string()
}

fn at_of(due: &[Due<'_>], step: Step) -> Vec<String> {
    due.iter().filter(|due| due.step == step).map(|due| local(due.at)).collect()
}

#[test]
fn an_afternoon_practice_has_its_five_steps_at_the_teams_times() {
    let event = event("a", "2026-09-15 15:30");
    let due = day(&[&event], &times(), CHICAGO, LIGHT);
    assert_eq!(at_of(&due, Step::Check), ["15 06:45:00"]);
    assert_eq!(at_of(&due, Step::Nudge), ["15 07:30:00"]);
    assert_eq!(at_of(&due, Step::FixList), ["15 14:00:00"]);
    assert_eq!(at_of(&due, Step::Silent), ["15 14:45:00"]);
    assert_eq!(at_of(&due, Step::Availability), ["15 15:00:00"]);
}

#[test]
fn no_helmets_or_called_off_means_no_step() {
    let mut off = event("a", "2026-09-15 15:30");
    off.cancelled = true;
    let mut film = event("b", "2026-09-15 17:00");
    film.helmets = false;
    assert_eq!(day(&[&off, &film], &times(), CHICAGO, LIGHT), []);
}

#[test]
fn two_practices_on_a_day_share_one_check_and_have_lists_of_their_own() {
    let (morning, evening) = (event("a", "2026-08-11 09:00"), event("b", "2026-08-11 17:00"));
    let due = day(&[&evening, &morning], &times(), CHICAGO, LIGHT);
    assert_eq!(at_of(&due, Step::Check).len(), 1);
    assert_eq!(at_of(&due, Step::FixList), ["11 07:30:00", "11 15:30:00"]);
    assert!(due.iter().all(|due| due.step != Step::Check || due.event.id == morning.id));
}

#[test]
fn a_large_roster_starts_early_enough_to_end_in_time() {
    let event = event("a", "2026-09-15 15:30");
    let load = Load { segments: 1_200, per_second: 1.0 };
    let due = day(&[&event], &times(), CHICAGO, load);
    // 20 minutes of sending, 10 of them within the spread: ten early.
    assert_eq!(at_of(&due, Step::Check), ["15 06:35:00"]);
    let load = Load { segments: 7_200, per_second: 1.0 };
    let due = day(&[&event], &times(), CHICAGO, load);
    assert_eq!(at_of(&due, Step::Check), ["15 06:30:00"], "never before quiet hours end");
}

#[test]
fn an_early_event_pulls_the_check_forward() {
    let event = event("a", "2026-09-19 08:00");
    let mut times = times();
    times.check = When::At(NaiveTime::from_hms_opt(9, 0, 0).unwrap());
    let due = day(&[&event], &times, CHICAGO, LIGHT);
    assert_eq!(at_of(&due, Step::Check), ["19 06:40:00"]);
}

/// Daylight saving ends on 2026-11-01 and begins on 2027-03-14 (15 U.S.C. 260a): the wall time stays.
#[test]
fn the_check_keeps_its_wall_time_across_daylight_saving() {
    for date in ["2026-10-31", "2026-11-01", "2026-11-02", "2027-03-13", "2027-03-14", "2027-03-15"] {
        let event = event("a", &format!("{date} 15:30"));
        let due = day(&[&event], &times(), CHICAGO, LIGHT);
        assert!(at_of(&due, Step::Check)[0].ends_with("06:45:00"), "{date}");
    }
}

#[test]
fn quiet_hours_push_to_their_end_on_the_right_day() {
    let quiet = times().quiet;
    let at = |text: &str| resolve(chrono::NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").unwrap(), CHICAGO);
    assert_eq!(local(after_quiet(at("2026-09-14 22:10"), quiet, CHICAGO)), "15 06:30:00");
    assert_eq!(local(after_quiet(at("2026-09-15 05:00"), quiet, CHICAGO)), "15 06:30:00");
    assert_eq!(local(after_quiet(at("2026-09-15 12:00"), quiet, CHICAGO)), "15 12:00:00");
}

proptest! {
    #[test]
    fn steps_never_fall_in_quiet_hours_and_the_check_comes_before_it_is_useless(
        day_of_year in 0_i64..730, minute in 7 * 60 + 30..20 * 60_i64, segments in 0_u32..20_000,
    ) {
        let date = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap() + TimeDelta::days(day_of_year);
        let mut event = event("a", &format!("{date} 00:00"));
        event.starts_at = resolve(date.and_hms_opt(0, 0, 0).unwrap() + TimeDelta::minutes(minute), CHICAGO);
        let load = Load { segments, per_second: 1.0 };
        for due in day(&[&event], &times(), CHICAGO, load) {
            prop_assert!(!times().quiet.covers(due.at.local(CHICAGO).time()));
            prop_assert!(due.step != Step::Check || due.at <= due.until);
            prop_assert_eq!(due.at.date(CHICAGO), date);
        }
    }
}
