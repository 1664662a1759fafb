//! Calendars: RFC 5545's examples, daylight saving, moved and cancelled occurrences, what is refused.

use browline::trade::roster::{Event, EventKind};
use browline::trade::time::Moment;
use chrono_tz::America::New_York;

use crate::support::{School, calendar, entry};

/// The events of one calendar, by start.
fn events(school: &School, ics: &str) -> Vec<Event> {
    let mut events = school.read(&[("varsity.ics", ics)]).events;
    events.sort_by_key(|event| event.starts_at);
    events
}

fn starts(school: &School, ics: &str) -> Vec<String> {
    events(school, ics).iter().map(|event| event.starts_at.to_string()).collect()
}

/// Starts as "1997-09-02 09:00 EDT", the way the standard prints them.
fn printed(rule: &str, first: &str, until: usize) -> Vec<String> {
    let mut school = School::in_zone(New_York, "1997-01-01T00:00:00Z");
    if first.starts_with("2007") {
        school.now = Moment::parse("2007-01-01T00:00:00Z").unwrap();
    }
    school.horizon_days = 2000;
    let ics = calendar(&entry("rfc", &format!("DTSTART;TZID=America/New_York:{first}T090000\n{rule}")));
    let print = |event: &Event| event.starts_at.utc().with_timezone(&New_York).format("%Y-%m-%d %H:%M %Z").to_string();
    events(&school, &ics).iter().take(until).map(print).collect()
}

/// "1997 Sep 2,4 EDT; 1998 Jan 2 EST" as the list it stands for, at 09:00.
fn listed(text: &str) -> Vec<String> {
    let months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let mut dates = Vec::new();
    for part in text.split(';').map(str::trim) {
        let words: Vec<_> = part.split(' ').collect();
        let [year, month, days, zone] = words.as_slice() else { panic!("{part}") };
        let month = 1 + months.iter().position(|name| name == month).unwrap();
        for day in days.split(',') {
            let day: u32 = day.parse().unwrap();
            dates.push(format!("{year}-{month:02}-{day:02} 09:00 {zone}"));
        }
    }
    dates
}

/// RFC 5545 section 3.8.5.3, the examples with an end: every date and zone as printed there.
#[test]
fn the_standards_examples() {
    for (first, rule, dates) in [
        (
            "19970901",
            "RRULE:FREQ=WEEKLY;INTERVAL=2;UNTIL=19971224T000000Z;WKST=SU;BYDAY=MO,WE,FR",
            "1997 Sep 1,3,5,15,17,19,29 EDT; 1997 Oct 1,3,13,15,17 EDT; 1997 Oct 27,29,31 EST; \
             1997 Nov 10,12,14,24,26,28 EST; 1997 Dec 8,10,12,22 EST",
        ),
        (
            "19970902",
            "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH",
            "1997 Sep 2,4,16,18,30 EDT; 1997 Oct 2,14,16 EDT",
        ),
        (
            "19970905",
            "RRULE:FREQ=MONTHLY;COUNT=10;BYDAY=1FR",
            "1997 Sep 5 EDT; 1997 Oct 3 EDT; 1997 Nov 7 EST; 1997 Dec 5 EST; 1998 Jan 2 EST; 1998 Feb 6 EST; \
             1998 Mar 6 EST; 1998 Apr 3 EST; 1998 May 1 EDT; 1998 Jun 5 EDT",
        ),
        (
            "19970907",
            "RRULE:FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU",
            "1997 Sep 7,28 EDT; 1997 Nov 2,30 EST; 1998 Jan 4,25 EST; 1998 Mar 1,29 EST; 1998 May 3,31 EDT",
        ),
        (
            "19970922",
            "RRULE:FREQ=MONTHLY;COUNT=6;BYDAY=-2MO",
            "1997 Sep 22 EDT; 1997 Oct 20 EDT; 1997 Nov 17 EST; 1997 Dec 22 EST; 1998 Jan 19 EST; 1998 Feb 16 EST",
        ),
        (
            "19970928",
            "RRULE:FREQ=MONTHLY;BYMONTHDAY=-3",
            "1997 Sep 28 EDT; 1997 Oct 29 EST; 1997 Nov 28 EST; 1997 Dec 29 EST; 1998 Jan 29 EST; 1998 Feb 26 EST",
        ),
        (
            "19970930",
            "RRULE:FREQ=MONTHLY;COUNT=10;BYMONTHDAY=1,-1",
            "1997 Sep 30 EDT; 1997 Oct 1 EDT; 1997 Oct 31 EST; 1997 Nov 1,30 EST; 1997 Dec 1,31 EST; \
             1998 Jan 1,31 EST; 1998 Feb 1 EST",
        ),
        (
            "19970902",
            "EXDATE;TZID=America/New_York:19970902T090000\nRRULE:FREQ=MONTHLY;BYDAY=FR;BYMONTHDAY=13",
            "1998 Feb 13 EST; 1998 Mar 13 EST; 1998 Nov 13 EST; 1999 Aug 13 EDT; 2000 Oct 13 EDT",
        ),
        (
            "19970904",
            "RRULE:FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3",
            "1997 Sep 4 EDT; 1997 Oct 7 EDT; 1997 Nov 6 EST",
        ),
        ("19970805", "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=MO", "1997 Aug 5,10,19,24 EDT"),
        ("19970805", "RRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=4;BYDAY=TU,SU;WKST=SU", "1997 Aug 5,17,19,31 EDT"),
        (
            "20070115",
            "RRULE:FREQ=MONTHLY;BYMONTHDAY=15,30;COUNT=5",
            "2007 Jan 15,30 EST; 2007 Feb 15 EST; 2007 Mar 15,30 EDT",
        ),
    ] {
        let dates = listed(dates);
        let endless = !rule.contains("COUNT") && !rule.contains("UNTIL");
        let most = if endless { dates.len() } else { usize::MAX };
        assert_eq!(printed(rule, first, most), dates, "{rule}");
    }
}

/// RFC 5545 section 3.3.5 and erratum 4271: a skipped local time is kept, with the offset before the gap, and counted;
/// a repeated one is the first pass. Moments from the tz database for 2026.
#[test]
fn daylight_saving_skips_and_repeats() {
    let spring = School::in_zone(New_York, "2026-03-06T12:00:00Z");
    let daily =
        |first: &str, rest: &str| calendar(&entry("dst", &format!("DTSTART;TZID=America/New_York:{first}\n{rest}")));
    assert_eq!(
        starts(&spring, &daily("20260307T023000", "RRULE:FREQ=DAILY;COUNT=3")),
        ["2026-03-07T07:30:00Z", "2026-03-08T07:30:00Z", "2026-03-09T06:30:00Z"]
    );
    let autumn = School::in_zone(New_York, "2026-10-30T12:00:00Z");
    assert_eq!(
        starts(&autumn, &daily("20261031T013000", "RRULE:FREQ=DAILY;UNTIL=20261102T063000Z")),
        ["2026-10-31T05:30:00Z", "2026-11-01T05:30:00Z", "2026-11-02T06:30:00Z"]
    );
    assert_eq!(
        starts(&autumn, &daily("20261031T070000", "RRULE:FREQ=DAILY;COUNT=2")),
        ["2026-10-31T11:00:00Z", "2026-11-01T12:00:00Z"]
    );
    // A removal that names the moment removes the skipped time too.
    assert_eq!(
        starts(&spring, &daily("20260307T023000", "RRULE:FREQ=DAILY;COUNT=3\nEXDATE:20260308T073000Z")),
        ["2026-03-07T07:30:00Z", "2026-03-09T06:30:00Z"]
    );
    let (_, notes) = spring.read_with_notes(&[("varsity.ics", &daily("20260307T023000", "RRULE:FREQ=DAILY;COUNT=3"))]);
    assert!(notes.iter().any(|note| note.contains("daylight saving skips 2026-03-08 02:30:00")), "{notes:?}");
}

#[test]
fn zones_of_every_sort() {
    let school = School::default();
    for start in [
        "DTSTART:20260901T153000",
        "DTSTART;TZID=America/Chicago:20260901T153000",
        "DTSTART;TZID=\"Central Standard Time\":20260901T153000",
        "DTSTART;TZID=/example.org/20260101_1/America/Chicago:20260901T153000",
        "DTSTART;TZID=America/New_York:20260901T163000",
        "DTSTART:20260901T203000Z",
        "dtstart;tzid=America/Phoenix:20260901T133000",
    ] {
        assert_eq!(starts(&school, &calendar(&entry("z", start))), ["2026-09-01T20:30:00Z"], "{start}");
    }
    let local = "BEGIN:VTIMEZONE\nTZID:Our time\nX-LIC-LOCATION:America/Chicago\nEND:VTIMEZONE\n".to_owned()
        + &entry("z", "DTSTART;TZID=Our time:20260901T153000");
    assert_eq!(starts(&school, &calendar(&local)), ["2026-09-01T20:30:00Z"]);
    let problems = school.problems(&[("varsity.ics", &calendar(&entry("z", "DTSTART;TZID=Our time:20260901T153000")))]);
    assert!(problems[0].starts_with("varsity.ics:5:1 the time zone `Our time` is not known"), "{problems:?}");
}

const WEEK: &str = "DTSTART;TZID=America/Chicago:20260824T153000\nDTEND;TZID=America/Chicago:20260824T173000\nRRULE:FREQ=WEEKLY;COUNT=3\nSUMMARY:Practice";

#[test]
fn occurrences_moved_cancelled_added_and_removed() {
    let school = School::default();
    let changed = |lines: &str| format!("{}\n{}", entry("week", WEEK), entry("week", lines));
    let moved = changed(
        "RECURRENCE-ID:20260831T203000Z\nDTSTART;TZID=America/Chicago:20260901T060000\nDURATION:PT1H30M\nLOCATION:Gym",
    );
    let moved = events(&school, &calendar(&moved));
    assert_eq!((moved[1].id.as_str(), moved[1].place.as_deref()), ("week/20260831", Some("Gym")));
    assert_eq!(
        (moved[1].starts_at.to_string(), moved[1].date.to_string()),
        ("2026-09-01T11:00:00Z".into(), "2026-09-01".into())
    );
    assert_eq!(moved[1].ends_at.unwrap().to_string(), "2026-09-01T12:30:00Z");
    assert_eq!(moved.len(), 3);

    let cancelled = changed(
        "RECURRENCE-ID;TZID=America/Chicago:20260831T153000\nDTSTART;TZID=America/Chicago:20260831T153000\nSTATUS:CANCELLED",
    );
    let cancelled = events(&school, &calendar(&cancelled));
    assert_eq!(cancelled.iter().map(|event| event.cancelled).collect::<Vec<_>>(), [false, true, false]);

    for (line, ids) in [
        ("EXDATE;TZID=America/Chicago:20260831T153000", vec!["week/20260824", "week/20260907"]),
        ("EXDATE;VALUE=DATE:20260831,20260907", vec!["week/20260824"]),
        ("RDATE:20260826T203000Z", vec!["week/20260824", "week/20260826", "week/20260831", "week/20260907"]),
        (
            "RDATE;TZID=America/Chicago:20260831T070000",
            vec!["week/20260824", "week/20260831T0700", "week/20260831T1530", "week/20260907"],
        ),
    ] {
        let found = events(&school, &calendar(&entry("week", &format!("{WEEK}\n{line}"))));
        assert_eq!(found.iter().map(|event| event.id.as_str()).collect::<Vec<_>>(), ids, "{line}");
    }
    let idle = calendar(&entry("week", &format!("{WEEK}\nEXDATE;TZID=America/Chicago:20260831T000000")));
    let (_, notes) = school.read_with_notes(&[("varsity.ics", &idle)]);
    assert!(
        notes.iter().any(|note| note.starts_with("varsity.ics:9 ") && note.contains("is no occurrence")),
        "{notes:?}"
    );
}

#[test]
fn a_change_for_this_and_all_later_occurrences() {
    let later = "RECURRENCE-ID;RANGE=THISANDFUTURE;TZID=America/Chicago:20260831T153000\nDTSTART;TZID=America/Chicago:20260901T160000\nSUMMARY:Practice";
    let ics = calendar(&format!("{}\n{}", entry("week", WEEK), entry("week", later)));
    assert_eq!(
        starts(&School::default(), &ics),
        ["2026-08-24T20:30:00Z", "2026-09-01T21:00:00Z", "2026-09-08T21:00:00Z"]
    );
}

#[test]
fn versions_of_one_entry_and_cancelled_calendars() {
    let school = School::default();
    let twice = |first: u32, second: u32| {
        let version =
            |hour: u32, sequence: u32| entry("one", &format!("DTSTART:20260901T{hour}0000\nSEQUENCE:{sequence}"));
        calendar(&format!("{}\n{}", version(15, first), version(16, second)))
    };
    assert_eq!(starts(&school, &twice(0, 1)), ["2026-09-01T21:00:00Z"]);
    assert_eq!(starts(&school, &twice(2, 1)), ["2026-09-01T20:00:00Z"]);
    let single = events(&school, &twice(0, 1));
    assert_eq!(single[0].id.as_str(), "one");
    let off = calendar(&entry("one", "DTSTART:20260901T150000")).replace("VERSION:2.0", "VERSION:2.0\r\nMETHOD:CANCEL");
    assert!(events(&school, &off)[0].cancelled);
}

#[test]
fn what_entries_say_of_themselves() {
    let school = School::default();
    let ics = calendar(
        &[
            entry("a", "DTSTART:20260901T150000\nSUMMARY:Kestrels vs. Herons\nLOCATION:Alder Creek\\, north field"),
            entry("b", "DTSTART:20260902T150000\nSUMMARY:Film"),
            entry("c", "DTSTART:20260903T150000\nSUMMARY:Practice\nCATEGORIES:PRACTICE,No-Helmets"),
            entry("d", "DTSTART:20260904T150000\nCATEGORIES:JV,Scrimmage"),
            entry("e", "DTSTART;VALUE=DATE:20260905\nSUMMARY:Picture day"),
            entry("f", "DTSTART:20260906T150000\nSUMMARY:Joint practice\nCATEGORIES:varsity,Junior Varsity"),
        ]
        .join("\n"),
    );
    let (data, notes) = school.read_with_notes(&[("varsity.ics", &ics)]);
    let told: Vec<_> =
        data.events.iter().map(|event| (event.id.as_str(), event.team.as_str(), event.kind, event.helmets)).collect();
    assert_eq!(
        told,
        [
            ("a", "varsity", EventKind::Game, true),
            ("b", "varsity", EventKind::Practice, false),
            ("c", "varsity", EventKind::Practice, false),
            ("d", "jv", EventKind::Game, true),
            ("f/jv", "jv", EventKind::Practice, true),
            ("f/varsity", "varsity", EventKind::Practice, true),
        ]
    );
    assert_eq!(data.events[0].place.as_deref(), Some("Alder Creek, north field"));
    for said in [
        "vs. Herons` is taken as a game",
        "`Film` is taken as without helmets",
        "category No-Helmets",
        "`Picture day` is all day",
    ] {
        assert!(notes.iter().any(|note| note.contains(said)), "{said}: {notes:#?}");
    }
}

#[test]
fn a_calendar_says_its_team_or_is_refused() {
    let school = School::default();
    let one = calendar(&entry("one", "DTSTART:20260901T150000"));
    for name in ["varsity.ics", "Kestrels Varsity.ics", "folder/VARSITY.ICS"] {
        assert_eq!(school.read(&[(name, &one)]).events[0].team.as_str(), "varsity", "{name}");
    }
    let named = one.replace("VERSION:2.0", "VERSION:2.0\r\nX-WR-CALNAME:Junior varsity");
    assert_eq!(school.read(&[("schedule.ics", &named)]).events[0].team.as_str(), "jv");
    // "junior-varsity-2026" is not taken for varsity because the word is in it.
    for name in ["schedule.ics", "varsity-2026.ics"] {
        let problems = school.problems(&[(name, &one)]);
        assert!(
            problems[0].contains(":3:1 nothing says which team") && problems[0].contains("`varsity`, `jv`"),
            "{problems:?}"
        );
    }
    let problems = school.problems(&[("varsity.ics", &one), ("jv.ics", &one)]);
    assert!(problems[0].contains("the event `one` is in varsity.ics too"), "{problems:?}");
}

#[test]
fn what_cannot_be_meant_is_refused_with_its_line() {
    let school = School::default();
    let long = "DTSTART:20260901T150000";
    for (lines, place) in [
        ("DTSTART:20260931T150000", "5:1"),
        ("DTSTART:20260901T250000", "5:1"),
        ("SUMMARY:no start", "3:1"),
        (&format!("{long}\nDTEND:20260901T140000"), "6:1"),
        (&format!("{long}\nDURATION:2 hours"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=SECONDLY"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=HOURLY;COUNT=2"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=DAILY;BYMINUTE=0,5,10,15,20,25,30,35,40"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=DAILY;INTERVAL=0"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=DAILY;COUNT=0"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=DAILY;COUNT=2;UNTIL=20260908T000000Z"), "6:1"),
        (&format!("{long}\nRRULE:FREQ=WEEKLY;BYDAY=XX"), "6:1"),
        (&format!("{long}\nRRULE:every day"), "6:1"),
        (&format!("{long}\nEXRULE:FREQ=DAILY"), "6:1"),
        (&format!("{long}\nEXDATE:someday"), "6:1"),
        (&format!("{long}\nEXDATE 20260908T150000"), "6:1"),
        ("DTSTART:00010101T150000\nRRULE:FREQ=DAILY", "6:1"),
    ] {
        let problems = school.problems(&[("varsity.ics", &calendar(&entry("bad", lines)))]);
        assert_eq!(problems.len(), 1, "{lines}: {problems:?}");
        assert!(problems[0].starts_with(&format!("varsity.ics:{place} ")), "{lines}: {problems:?}");
    }
    let cut = calendar(&entry("one", long)).replace("END:VCALENDAR", "");
    assert!(school.problems(&[("varsity.ics", &cut)])[0].contains("cut short"));
    for text in ["", "hello", "BEGIN:VEVENT\nEND:VEVENT\n"] {
        assert!(school.problems(&[("varsity.ics", text)])[0].contains("not a calendar"), "{text}");
    }
    let nameless = calendar(&format!("BEGIN:VEVENT\n{long}\nEND:VEVENT"));
    assert!(school.problems(&[("varsity.ics", &nameless)])[0].contains("no UID"));
}

#[test]
fn a_change_with_a_rule_of_its_own_is_refused() {
    let change = "RECURRENCE-ID;TZID=America/Chicago:20260831T153000\nDTSTART:20260831T160000\nRRULE:FREQ=DAILY";
    let ics = calendar(&format!("{}\n{}", entry("week", WEEK), entry("week", change)));
    let problems = School::default().problems(&[("varsity.ics", &ics)]);
    assert!(problems[0].starts_with("varsity.ics:14:1 a changed occurrence repeats"), "{problems:?}");
}

/// Rules that never or hardly ever fire come to an end.
#[test]
fn absurd_rules_do_not_hang() {
    let school = School::default();
    for rule in [
        "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30",
        "FREQ=DAILY;BYMONTH=2;BYMONTHDAY=30",
        "FREQ=MONTHLY;BYMONTHDAY=31;BYMONTH=4",
        "FREQ=DAILY;INTERVAL=65535",
        "FREQ=YEARLY;BYWEEKNO=53;BYDAY=MO;BYYEARDAY=1",
        "FREQ=DAILY",
    ] {
        let ics = calendar(&entry("odd", &format!("DTSTART:19700101T150000\nRRULE:{rule}")));
        let outcome = school.parse(&[("varsity.ics", ics.as_bytes())]);
        assert!(outcome.is_ok() || outcome.is_err_and(|problems| problems[0].what.contains("too many")), "{rule}");
    }
}

#[test]
fn an_endless_rule_is_followed_to_the_horizon() {
    let school = School { horizon_days: 10, ..School::default() };
    let ics = calendar(&entry("daily", "DTSTART:20250101T153000\nRRULE:FREQ=DAILY"));
    let found = starts(&school, &ics);
    assert_eq!(
        (found.len(), found[0].as_str(), found[11].as_str()),
        (12, "2026-08-18T20:30:00Z", "2026-08-29T20:30:00Z")
    );
}

#[test]
fn a_last_day_is_meant_to_its_end_and_a_series_cut_off_at_its_start_is_empty() {
    let school = School::default();
    let rule =
        |rule: &str| calendar(&entry("r", &format!("DTSTART;TZID=America/Chicago:20260824T153000\nRRULE:{rule}")));
    assert_eq!(starts(&school, &rule("FREQ=DAILY;UNTIL=20260826")).len(), 3);
    assert_eq!(starts(&school, &rule("FREQ=DAILY;UNTIL=20260826T203000Z")).len(), 3);
    assert_eq!(starts(&school, &rule("FREQ=DAILY;UNTIL=20260826T202959Z")).len(), 2);
    assert_eq!(starts(&school, &rule("FREQ=DAILY;UNTIL=20260824T000000Z")).len(), 0);
}
