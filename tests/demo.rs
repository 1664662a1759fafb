//! The demo as a whole: the scenario loads without a problem, a morning without waiting is the same for the same seed,
//! and has in it what the story promises.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use std::collections::BTreeSet;
use std::process::Command;
use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use browline::config::Config;
use browline::intake::{Frame, HORIZON_DAYS, parse};
use browline::rehearse::phones::router;
use browline::rehearse::scenario::{self, Group};
use browline::rehearse::stage::{Options, Stage};
use browline::schedule::{Load, Step, steps};
use browline::trade::roster::{ConsentBy, EventKind, TeamId};
use chrono::{NaiveDate, TimeDelta};
use http_body_util::BodyExt as _;
use tower::ServiceExt as _;

fn plain(seed: &str) -> String {
    let output =
        Command::new(env!("CARGO_BIN_EXE_browline")).args(["demo", "--plain", "--seed", seed]).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_same_seed_prints_the_same_morning_and_another_seed_another() {
    let (first, second, other) = (plain("7"), plain("7"), plain("8"));
    // README's excerpt is what is printed.
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let is_told =
        |line: &&str| line.get(2..3) == Some(":") && line.get(5..6) == Some(":") && line.get(8..10) == Some("  ");
    let told: Vec<&str> = readme.lines().filter(is_told).collect();
    assert!(told.len() > 12, "{told:?}");
    for line in told {
        assert!(first.lines().any(|own| own == line), "no longer printed: {line}");
    }
    assert_eq!(first, second);
    assert_ne!(first.lines().skip(1).collect::<Vec<_>>(), other.lines().skip(1).collect::<Vec<_>>());
}

#[test]
fn every_morning_tells_of_what_the_program_is_for() {
    for seed in ["1", "2", "3", "4"] {
        let story = plain(seed);
        let has = |what: &str| assert!(story.contains(what), "seed {seed}: no `{what}` in\n{story}");
        has("the morning check goes out to 49");
        has("body report → athletic trainer texted at once; held");
        has("to Ana: Medical: ");
        has("Ana has the body report on ");
        has("STOP. Nothing more goes to that number");
        has("wrong number. Nothing more goes there");
        has("#47 Eli: chin strap → fix list");
        has("says all good now; staff still have to look");
        has("will not be there");
        has("to Cole: Fix list, Varsity practice 3:30 pm");
        has("Cole fixed ");
        has("held: see the athletic trainer");
        has("#15 Tobias         Varsity   no phone");
        has("#1 Roman           JV        no consent for texts");
        let stop = story.lines().filter(|line| line.contains("STOP. Nothing more")).count();
        assert_eq!(stop, 1, "seed {seed}");
        let listed = story.split("\nFix list: ").nth(1).unwrap();
        let count: usize = listed.split(' ').next().unwrap().parse().unwrap();
        assert!((8..=18).contains(&count), "seed {seed}: {count} on the fix list at two");
    }
}

fn dataset() -> (browline::intake::Dataset, Vec<browline::intake::Note>, Config) {
    let config = Config::parse("demo/browline.toml", scenario::CONFIG, |_| None).unwrap();
    let program = config.programs.values().next().unwrap();
    let teams: Vec<_> = program.teams.values().map(|team| (team.id.clone(), team.name.clone())).collect();
    let frame = Frame {
        program: &program.id,
        zone: program.zone,
        teams: &teams,
        known_athletes: &[],
        known_staff: &[],
        now: scenario::moment(scenario::START),
        horizon_days: HORIZON_DAYS,
        progressions: &[],
    };
    let (data, notes) = parse(&scenario::files(), &frame).unwrap();
    (data, notes, config)
}

#[test]
fn the_scenario_is_a_school_as_described() {
    let (data, notes, config) = dataset();
    let count = |team: &str| data.athletes.iter().filter(|athlete| athlete.team == TeamId::from(team)).count();
    assert_eq!((count("varsity"), count("jv")), (50, 42));
    let without: Vec<&str> =
        data.athletes.iter().filter(|one| one.phone.is_none()).map(|one| one.id.as_str()).collect();
    assert_eq!(without, ["tobias-lindqvist"]);
    let silent = data.athletes.iter().filter(|one| !data.consents.iter().any(|consent| one.consented(consent)));
    assert_eq!(silent.map(|one| one.id.as_str()).collect::<Vec<_>>(), ["roman-petrov", "tobias-lindqvist"]);
    let own = data.consents.iter().filter(|consent| {
        consent.standing == ConsentBy::Own && data.athletes.iter().any(|one| one.id.0 == consent.person)
    });
    assert!(own.count() >= 2, "a couple of adults");
    let phones: BTreeSet<_> = data.athletes.iter().filter_map(|one| one.phone.as_ref()).collect();
    assert_eq!(phones.len(), 90, "two brothers share one");
    for athlete in &data.athletes {
        let age = scenario::moment(scenario::START).date(chrono_tz::UTC).years_since(athlete.born.unwrap()).unwrap();
        assert!((14..=18).contains(&age), "{}: {age}", athlete.id);
        assert!(data.helmets.iter().any(|helmet| helmet.athlete.as_ref() == Some(&athlete.id)), "{}", athlete.id);
        assert!(data.guardianships.iter().any(|tie| tie.athlete == athlete.id), "{}", athlete.id);
    }
    assert!(data.helmets.iter().any(|helmet| helmet.athlete.is_none()));
    let models: BTreeSet<&str> = data.helmets.iter().map(|helmet| helmet.model.as_str()).collect();
    assert_eq!(models.into_iter().collect::<Vec<_>>(), ["Bosun", "Halyard", "Petrel", "Tern"]);
    assert!(notes.iter().all(|note| !note.what.contains("helmets:")), "nobody has two helmets: {notes:?}");
    drop(config);
}

/// Whatever the numbers are, they are in the range that the North American plan keeps for fiction.
#[test]
fn every_number_is_for_fiction() {
    let (data, _, config) = dataset();
    let mut phones: Vec<String> = Vec::new();
    phones.extend(data.athletes.iter().filter_map(|one| one.phone.as_ref()).map(|phone| phone.as_str().to_owned()));
    phones.extend(data.guardians.iter().filter_map(|one| one.phone.as_ref()).map(|phone| phone.as_str().to_owned()));
    phones.extend(data.staff.iter().filter_map(|one| one.phone.as_ref()).map(|phone| phone.as_str().to_owned()));
    phones.extend(config.programs.values().map(|program| program.number.as_str().to_owned()));
    assert!(phones.len() > 190);
    for phone in phones {
        assert!(phone.starts_with("+1") && phone[5..].starts_with("55501") && phone.len() == 12, "{phone}");
    }
}

#[test]
fn the_calendar_has_a_season_with_its_exceptions() {
    let (data, _, config) = dataset();
    let program = config.programs.values().next().unwrap();
    let on = |team: &str, date: (i32, u32, u32)| -> Vec<_> {
        let date = NaiveDate::from_ymd_opt(date.0, date.1, date.2).unwrap();
        let here = data.events.iter().filter(|event| event.team == TeamId::from(team) && event.date == date);
        here.map(|event| {
            let time = event.starts_at.local(program.zone).format("%H:%M").to_string();
            (time, event.kind == EventKind::Game, event.helmets, event.cancelled)
        })
        .collect()
    };
    let at = |time: &str, game, helmets, off| vec![(time.to_owned(), game, helmets, off)];
    for team in ["varsity", "jv"] {
        assert_eq!(on(team, (2026, 9, 15)), at("15:30", false, true, false), "{team}");
    }
    assert_eq!(on("varsity", (2026, 9, 18)), at("19:00", true, true, false));
    assert_eq!(on("varsity", (2026, 9, 23)), at("16:30", false, true, false), "moved");
    assert_eq!(on("varsity", (2026, 9, 19)), at("09:00", false, false, false), "film");
    assert_eq!(on("varsity", (2026, 11, 2)), at("15:30", false, true, false), "after the clocks change");
    assert_eq!(on("jv", (2026, 9, 17)), at("17:30", true, true, false));
    assert_eq!(on("jv", (2026, 10, 12)), at("15:30", false, true, true), "called off");
    let times = |team: &TeamId| program.teams.get(team).map(|team| team.times);
    let none = Load { segments: 0, per_second: 0.0 };
    let due = steps(&data.events, program.zone, times, |_| none);
    let first = due.iter().find(|due| due.at > scenario::moment(scenario::START)).unwrap();
    assert_eq!(first.step, Step::Check);
    assert_eq!(first.at.local(program.zone).format("%m-%d %H:%M").to_string(), "09-15 06:45");
}

#[tokio::test]
async fn somebody_may_play_along() {
    let options = Options { seed: 5, staff: false, speed: 0.0 };
    let stage = Stage::open(options, |_| {}).await.unwrap();
    let ahead = stage.ahead(stage.clock.now()).await.unwrap();
    assert_eq!(ahead[0].what, "check texts go out");
    stage.run_to(scenario::moment("2026-09-15T07:20:00-05:00")).await.unwrap();
    let find = |name: &str| stage.holders.iter().find(|holder| holder.name.contains(name)).unwrap();
    let coach = find("Marcus Tillery");
    assert_eq!(coach.group, Group::Staff);
    stage.types(&coach.phone, "who's out", false).await.unwrap();
    stage.run_to(stage.clock.now().plus(TimeDelta::minutes(1))).await.unwrap();
    let texts = stage.carrier.texts_of(&coach.phone);
    let availability = "Varsity practice 3:30 pm: ";
    assert!(texts.iter().any(|text| text.body.starts_with(availability)), "{texts:?}");
    let parent = find("Denise Pruitt");
    stage.types(&parent.phone, "who is this", false).await.unwrap();
    let told = stage.story.newest(3);
    assert!(told.iter().any(|line| line.typed.as_deref() == Some("who is this")), "{told:?}");
    // Nothing goes to a real phone, and nothing but the invented number sends.
    assert!(stage.carrier.texts().iter().all(|text| text.from.as_str().contains("55501")));
}

async fn ask(page: &Router, request: axum::http::request::Builder, body: &str) -> (StatusCode, String, String) {
    let request = request
        .header(header::HOST, "127.0.0.1:8095")
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(body.to_owned()))
        .unwrap();
    let response = page.clone().oneshot(request).await.unwrap();
    let (status, to) = (response.status(), response.headers().get(header::LOCATION).cloned());
    let bytes = response.into_body().collect().await.unwrap().to_bytes();
    let to = to.map(|to| to.to_str().unwrap().to_owned()).unwrap_or_default();
    (status, to, String::from_utf8(bytes.to_vec()).unwrap())
}

/// The page without its script: everything by links, forms and reloads.
#[tokio::test]
async fn the_page_works_by_forms_alone() {
    let stage = Stage::open(Options { seed: 5, staff: false, speed: 0.0 }, |_| {}).await.unwrap();
    stage.run_to(scenario::moment("2026-09-15T06:55:00-05:00")).await.unwrap();
    let stage = Arc::new(stage);
    let page = router(Arc::clone(&stage));
    let (status, _, html) = ask(&page, Request::get("/"), "").await;
    assert_eq!(status, StatusCode::OK);
    for part in ["Pick a phone", "Cole Brennan", "#12 Jonah Vega and #47 Eli Vega", "check goes out to 49"] {
        assert!(html.contains(part), "no `{part}`");
    }
    assert!(html.contains(" new</span>"), "unread texts are marked");
    let (_, _, html) = ask(&page, Request::get("/?find=yellowhorse"), "").await;
    assert!(html.contains("Sam Yellowhorse") && !html.contains("Cole Brennan"));
    let (_, _, html) = ask(&page, Request::get("/?find=rosa+vega"), "").await;
    assert!(html.contains("#12 Jonah Vega and #47 Eli Vega"), "a parent's phone is found by the parent's name");

    let parker = stage.holders.iter().find(|holder| holder.name.contains("Parker Lindgren")).unwrap();
    let typed = format!("phone=%2B{}&text=%3Cb%3E2+5%3C%2Fb%3E", &parker.phone.as_str()[1..]);
    let (status, to, _) = ask(&page, Request::post("/type"), &typed).await;
    assert_eq!(status, StatusCode::SEE_OTHER);
    let (_, _, html) = ask(&page, Request::get(to.split('#').next().unwrap()), "").await;
    assert!(html.contains("&lt;b&gt;2 5") && !html.contains("<b>2 5"), "what is typed is shown, and is no markup");
    assert!(html.contains("id=\"last\""));

    let goal = scenario::moment("2026-09-15T07:30:00-05:00");
    let (status, _, _) = ask(&page, Request::post("/clock"), &format!("to={}", goal.millis())).await;
    assert_eq!((status, stage.goal()), (StatusCode::SEE_OTHER, Some(goal)));
    let (_, _, _) = ask(&page, Request::post("/clock"), "speed=20").await;
    assert_eq!(stage.goal(), None, "a new speed is to be watched from here");
    assert!((stage.clock.speed() - 20.0).abs() < f64::EPSILON);
}

#[tokio::test]
async fn the_page_sends_only_what_changed_and_answers_nobody_else() {
    let stage = Stage::open(Options { seed: 5, staff: false, speed: 0.0 }, |_| {}).await.unwrap();
    let stage = Arc::new(stage);
    let page = router(Arc::clone(&stage));
    let (_, _, all) = ask(&page, Request::get("/parts"), "").await;
    let all: serde_json::Value = serde_json::from_str(&all).unwrap();
    assert_eq!(all["time"], "6:30:00 am");
    assert_eq!(all["parts"].as_object().unwrap().len(), 4);
    let (_, _, none) = ask(&page, Request::get(format!("/parts?v={}", all["version"])), "").await;
    let none: serde_json::Value = serde_json::from_str(&none).unwrap();
    assert_eq!(none["parts"], serde_json::json!({}));

    let other = Request::post("/type").header(header::ORIGIN, "https://example.org");
    let ana = stage.holders.iter().find(|holder| holder.name == "Ana Delgado").unwrap();
    let typed = format!("phone=%2B{}&text=got+it", &ana.phone.as_str()[1..]);
    assert_eq!(ask(&page, other, &typed).await.0, StatusCode::FORBIDDEN);
    assert_eq!(stage.carrier.texts_of(&ana.phone), []);
    assert_eq!(ask(&page, Request::post("/type"), "phone=%2B13125550199&text=ok").await.0, StatusCode::NOT_FOUND);
}

/// README's tour is what the program prints, in both languages.
#[test]
fn the_tour_in_the_readme_is_what_is_printed() {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let tour = |language: &str| {
        let out = Command::new(env!("CARGO_BIN_EXE_browline")).args(["demo", "--story", language]).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    };
    let printed = [tour("en"), tour("es")].concat();
    let days = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    let told = |line: &&str| days.iter().any(|day| line.starts_with(day)) && line.get(6..7) == Some(":");
    let lines: Vec<&str> = readme.lines().filter(told).collect();
    assert!(lines.len() > 20, "{lines:?}");
    for line in lines {
        assert!(printed.lines().any(|own| own == line), "no longer printed: {line}");
    }
    // What families and athletes read holds no sign and no diagnosis but the care that an athlete needs.
    for line in printed.lines().filter(|line| line.contains("Irma reads") || line.contains("Solveig reads")) {
        for word in ["concussion", "conmoc", "symptom", "headache", "cabeza", "hurts"] {
            assert!(!line.to_lowercase().contains(word), "{line}");
        }
    }
}
