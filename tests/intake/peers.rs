//! Answers for the scripts in `tests/peers`, which compare them with libraries that nobody here wrote.
//!
//! Not a check by itself, so it is left out of a plain run: a script names a file of questions and a file for answers in
//! the environment, one JSON object a line.

use std::fmt::Write as _;

use browline::desk::feed::FeedView;
use browline::schedule::repeat::Repeat;
use browline::trade::batches::{Going, NoPlan, Terms, Work, plan};
use browline::trade::coming::{Area, Coming, On};
use browline::trade::coverage::matching;
use browline::trade::phone::Phone;
use browline::trade::restock::pieces;
use browline::trade::time::Moment;
use chrono_tz::Tz;
use serde_json::{Value, json};

use crate::support::School;

/// The environment variable with the file of questions.
const QUESTIONS: &str = "BROWLINE_PEER_QUESTIONS";
/// The environment variable with the file for answers.
const ANSWERS: &str = "BROWLINE_PEER_ANSWERS";

#[test]
#[ignore = "run by calendars.py, feed.py, phones.py and upkeep.py in tests/peers"]
fn answer_questions() {
    let file = |name: &str| std::env::var(name).unwrap_or_else(|_| panic!("{name} is not set"));
    let questions = std::fs::read_to_string(file(QUESTIONS)).unwrap();
    let mut answers = String::new();
    for question in questions.lines() {
        let question: Value = serde_json::from_str(question).unwrap();
        let answer = match question["ask"].as_str() {
            Some("repeat") => repeat(&question),
            Some("feed") => feed(&question),
            Some("matching") => matched(&question),
            Some("batches") => batches(&question),
            Some("pieces") => demand(&question),
            _ if question["ics"].is_string() => calendar(&question),
            _ => phone(&question),
        };
        writeln!(answers, "{answer}").unwrap();
    }
    std::fs::write(file(ANSWERS), answers).unwrap();
}

fn calendar(question: &Value) -> Value {
    let zone: Tz = question["zone"].as_str().unwrap().parse().unwrap();
    let mut school = School::in_zone(zone, question["now"].as_str().unwrap());
    school.horizon_days = question["horizon_days"].as_i64().unwrap();
    let ics = question["ics"].as_str().unwrap();
    match school.parse(&[("varsity.ics", ics.as_bytes())]) {
        Err(problems) => {
            let problems: Vec<_> = problems.iter().map(ToString::to_string).collect();
            json!({ "problems": problems })
        }
        Ok((data, _)) => {
            let events = data.events.iter().map(|event| {
                json!({
                    "id": event.id.as_str(),
                    "start": event.starts_at.to_string(),
                    "end": event.ends_at.map(|end| end.to_string()),
                    "place": event.place,
                    "cancelled": event.cancelled,
                })
            });
            json!({ "events": events.collect::<Vec<_>>() })
        }
    }
}

/// The times of a repeat in a span.
fn repeat(question: &Value) -> Value {
    let text = |name: &str| question[name].as_str().unwrap();
    let moment = |name: &str| Moment::parse(text(name)).unwrap();
    let repeat: Repeat = text("repeat").parse().unwrap();
    let times = repeat.between(moment("after"), moment("until"), text("zone").parse().unwrap());
    json!({ "times": times.iter().map(ToString::to_string).collect::<Vec<_>>() })
}

/// A calendar feed of what is coming.
fn feed(question: &Value) -> Value {
    let coming = question["coming"].as_array().unwrap().iter().map(|entry| {
        let text = |name: &str| entry[name].as_str().map(ToOwned::to_owned);
        let moment = |name: &str| text(name).map(|text| Moment::parse(&text).unwrap());
        let on = match text("day") {
            Some(day) => On::Day(day.parse().unwrap()),
            None => On::At(moment("at").unwrap(), moment("end")),
        };
        Coming {
            key: text("key").unwrap(),
            area: Area::Kit,
            on,
            title: text("title").unwrap(),
            what: text("what").unwrap_or_default(),
            place: text("place"),
            staff: Vec::new(),
            medical: false,
        }
    });
    let view = FeedView {
        program: "Larkspur; Valley, \\High".into(),
        zone: chrono_tz::America::Chicago,
        coming: coming.collect(),
    };
    let now = Moment::parse(question["now"].as_str().unwrap()).unwrap();
    json!({ "ics": browline::web::feed::calendar("larkspur", &view, now) })
}

/// How many positions can be filled at once.
fn matched(question: &Value) -> Value {
    let ready: Vec<Vec<usize>> = serde_json::from_value(question["ready"].clone()).unwrap();
    let columns = usize::try_from(question["columns"].as_u64().unwrap()).unwrap();
    let found = matching(&ready, columns, |_, _| 0);
    json!({ "value": found.iter().flatten().count() })
}

/// The cost of a plan of batches; none when it is too late for one.
fn batches(question: &Value) -> Value {
    let day = |value: &Value| value.as_str().map(|text| text.parse().unwrap());
    let number = |name: &str| question[name].as_i64().unwrap();
    let helmets: Vec<Going> = question["helmets"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
        .map(|(nth, helmet)| Going {
            tag: format!("h{nth}"),
            size: helmet["size"].as_str().unwrap().to_owned(),
            until: day(&helmet["until"]),
            goes: helmet["goes"].as_bool().unwrap(),
        })
        .collect();
    let works: Vec<Work> = question["works"]
        .as_array()
        .unwrap()
        .iter()
        .map(|work| Work {
            from: day(&work["from"]).unwrap(),
            until: day(&work["until"]).unwrap(),
            needs: serde_json::from_value(work["needs"].clone()).unwrap(),
        })
        .collect();
    let costs: [f64; 3] = serde_json::from_value(question["costs"].clone()).unwrap();
    let terms = Terms {
        from: day(&question["from"]).unwrap(),
        ship_by: day(&question["ship_by"]).unwrap(),
        away_days: number("away_days"),
        pick_up: Some(chrono::Weekday::Mon),
        most: usize::try_from(number("most")).unwrap(),
        batch_cost: costs[0],
        helmet_cost: costs[1],
        new_cost: costs[2],
    };
    match plan(&helmets, &works, &terms) {
        Ok(plan) => json!({ "value": plan.cost }),
        Err(NoPlan::TooLate(_)) => json!({ "value": null }),
        Err(error) => panic!("{error}"),
    }
}

/// The fewest pieces that cover a share of demand.
fn demand(question: &Value) -> Value {
    let number = |name: &str| question[name].as_f64().unwrap();
    json!({ "value": pieces(number("mean"), number("variance"), number("service")) })
}

fn phone(question: &Value) -> Value {
    match Phone::parse(question["phone"].as_str().unwrap()) {
        Ok(phone) => json!({ "e164": phone.as_str() }),
        Err(error) => json!({ "e164": null, "error": error.to_string() }),
    }
}
