//! Coverage of a season, and a plan of batches: how long they take, and how that grows.
//!
//! Coverage: 40 events, each with its own responders on duty, 8 positions, 6 models of different hardware; against the
//! largest matching alone (Hopcroft and Karp's question without preferences, by augmenting paths). Plan: 50 to 400 helmets
//! of four sizes with limits spread over a winter, spring and summer work. Both sides of a ratio in one run.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

use std::hint::black_box;
use std::time::{Duration, Instant};

use browline::trade::batches::{Going, Terms, Work, plan};
use browline::trade::coverage::{Field, suggest};
use browline::trade::drill::{Currency, Drill, Part, Position, Practised, Skill};
use browline::trade::model::Model;
use browline::trade::roster::{Language, ProgramId, Role, StaffId, StaffMember};
use browline::trade::time::Moment;
use chrono::{NaiveDate, TimeDelta};

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A generator of our own, so that every run sees the same season.
struct Chance(u64);

impl Chance {
    fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % most
    }
}

struct Season {
    people: Vec<StaffMember>,
    models: Vec<Model>,
    worn: Vec<String>,
    practised: Practised,
    days: Vec<NaiveDate>,
}

fn season(events: usize, responders: usize, models: usize) -> Season {
    let mut chance = Chance(7);
    let program = ProgramId::from("p");
    let people: Vec<StaffMember> = (0..responders)
        .map(|n| StaffMember {
            program: program.clone(),
            id: StaffId(format!("s{n:02}")),
            first: format!("S{n}"),
            last: String::new(),
            phone: None,
            email: None,
            language: Language::En,
            roles: vec![if n % 6 == 0 { Role::Trainer } else { Role::Responder }],
            teams: Vec::new(),
            duty: Vec::new(),
            hours: None,
            call_order: 1,
            active: true,
        })
        .collect();
    let models: Vec<Model> = (0..models)
        .map(|n| Model {
            program: program.clone(),
            name: format!("M{n}"),
            hardware: Some(format!("hardware {n}")),
            tools: Vec::new(),
            spares: Vec::new(),
            recertify_months: None,
            retire_years: None,
            sizes: Vec::new(),
            notes: None,
        })
        .collect();
    let worn: Vec<String> = models.iter().map(|model| model.name.clone()).collect();
    let drills: Vec<Drill> = (0..responders * 6)
        .map(|n| {
            let skill = Skill::ALL[usize::try_from(chance.below(Skill::ALL.len() as u64)).unwrap()];
            let who = &people[usize::try_from(chance.below(responders as u64)).unwrap()];
            Drill {
                program: program.clone(),
                id: format!("d{n}"),
                date: day("2026-07-01") + TimeDelta::days(i64::try_from(chance.below(60)).unwrap()),
                skill,
                place: None,
                people: vec![Part { staff: who.id.clone(), position: None }],
                models: vec![worn[usize::try_from(chance.below(worn.len() as u64)).unwrap()].clone()],
                seconds: None,
                notes: None,
                recorded_by: String::new(),
                recorded_at: Moment::from_millis(0),
                undone: false,
            }
        })
        .collect();
    let practised = Practised::new(&drills, &models);
    let days = (0..events).map(|n| day("2026-09-01") + TimeDelta::days(2 * i64::try_from(n).unwrap())).collect();
    Season { people, models, worn, practised, days }
}

/// Looks at every event; with `mend`, also for what closes the gaps. How many were covered, and how long it took.
fn look(season: &Season, mend: bool) -> (usize, Duration) {
    let currency = Currency::default();
    let mut chance = Chance(11);
    let begin = Instant::now();
    let mut covered = 0;
    for date in &season.days {
        // Of all responders two in three are on duty on a day.
        let people: Vec<&StaffMember> = season.people.iter().filter(|_| chance.below(3) > 0).collect();
        let field = Field {
            on: *date,
            people: &people,
            positions: &Position::ALL,
            worn: &season.worn,
            models: &season.models,
            practised: &season.practised,
            currency: &currency,
        };
        let covers = field.covers();
        if covers.iter().all(|cover| cover.empty.is_empty()) {
            covered += 1;
        } else if mend {
            black_box(suggest(&field, &[], day("2026-08-01")));
        }
        black_box(covers);
    }
    (covered, begin.elapsed())
}

/// The floor: whether each position has somebody, by augmenting paths, without anything else.
fn floor(season: &Season) -> Duration {
    fn augment(row: usize, ready: &[Vec<usize>], seen: &mut [bool], owner: &mut [Option<usize>]) -> bool {
        for column in &ready[row] {
            if !std::mem::replace(&mut seen[*column], true)
                && owner[*column].is_none_or(|other| augment(other, ready, seen, owner))
            {
                owner[*column] = Some(row);
                return true;
            }
        }
        false
    }
    let currency = Currency::default();
    let mut chance = Chance(11);
    let begin = Instant::now();
    for date in &season.days {
        let people: Vec<&StaffMember> = season.people.iter().filter(|_| chance.below(3) > 0).collect();
        let field = Field {
            on: *date,
            people: &people,
            positions: &Position::ALL,
            worn: &season.worn,
            models: &season.models,
            practised: &season.practised,
            currency: &currency,
        };
        for model in &season.worn {
            let ready: Vec<Vec<usize>> = Position::ALL
                .iter()
                .map(|position| {
                    let fits =
                        |n: &usize| field.missing(people[*n], *position, model).is_some_and(|what| what.is_empty());
                    (0..people.len()).filter(fits).collect()
                })
                .collect();
            let mut owner = vec![None; people.len()];
            for row in 0..ready.len() {
                let mut seen = vec![false; people.len()];
                black_box(augment(row, &ready, &mut seen, &mut owner));
            }
        }
    }
    begin.elapsed()
}

fn batches(helmets: usize) -> Duration {
    let mut chance = Chance(13);
    let sizes = ["S", "M", "L", "XL"];
    let start = day("2026-12-01");
    let all: Vec<Going> = (0..helmets)
        .map(|n| Going {
            tag: format!("h{n:03}"),
            size: sizes[usize::try_from(chance.below(4)).unwrap()].to_owned(),
            until: Some(start + TimeDelta::days(i64::try_from(chance.below(420)).unwrap())),
            goes: true,
        })
        .collect();
    let needs = |share: usize| sizes.iter().map(|size| ((*size).to_owned(), helmets / 4 * share / 10)).collect();
    let works = [
        Work { from: day("2027-02-15"), until: day("2027-03-05"), needs: needs(3) },
        Work { from: day("2027-04-12"), until: day("2027-05-07"), needs: needs(7) },
        Work { from: day("2027-06-14"), until: day("2027-06-25"), needs: needs(5) },
    ];
    let terms = Terms {
        from: start,
        ship_by: day("2027-06-07"),
        away_days: 52,
        pick_up: Some(chrono::Weekday::Mon),
        most: 60,
        batch_cost: 150.0,
        helmet_cost: 50.0,
        new_cost: 400.0,
    };
    let begin = Instant::now();
    let plan = plan(&all, &works, &terms).unwrap();
    let took = begin.elapsed();
    let bought: usize = plan.buy.values().sum();
    println!(
        "batches: {helmets} helmets: {:.3} s, {} batches, {bought} to buy, cost {:.0}",
        took.as_secs_f64(),
        plan.batches.len(),
        plan.cost
    );
    took
}

fn main() {
    let rounds = std::env::var("BROWLINE_BENCH_ROUNDS").map_or(5, |rounds| rounds.parse().expect("a number"));
    if std::env::var("BROWLINE_BENCH_ONLY").is_ok_and(|only| only == "batches") {
        for helmets in [50, 100, 200, 400] {
            batches(helmets);
        }
        return;
    }
    for (events, responders, models) in [(10, 60, 6), (20, 60, 6), (40, 15, 6), (40, 30, 6), (40, 60, 3), (40, 60, 6)] {
        let season = season(events, responders, models);
        let (mut looks, mut mends, mut floors, mut covered) = (Vec::new(), Vec::new(), Vec::new(), 0);
        for _ in 0..rounds {
            let (count, time) = look(&season, false);
            covered = count;
            looks.push(time);
            mends.push(look(&season, true).1);
            floors.push(floor(&season));
        }
        let median = |times: &mut Vec<Duration>| {
            times.sort();
            times[times.len() / 2].as_secs_f64()
        };
        let (look, mend, floor) = (median(&mut looks), median(&mut mends), median(&mut floors));
        println!(
            "coverage: {events} events, {responders} responders, {} positions, {models} models: {:.1} ms, {:.2} times a \
             matching without preferences; with what closes the gaps {:.1} ms ({covered} covered)",
            Position::ALL.len(),
            look * 1e3,
            look / floor,
            mend * 1e3,
        );
    }
    for helmets in [50, 100, 200, 400] {
        batches(helmets);
    }
}
