use proptest::prelude::*;

use super::*;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn going(tag: &str, size: &str, until: Option<&str>) -> Going {
    Going { tag: tag.to_owned(), size: size.to_owned(), until: until.map(day), goes: true }
}

fn terms() -> Terms {
    Terms {
        from: day("2027-01-04"),
        ship_by: day("2027-06-07"),
        away_days: 52,
        pick_up: Some(Weekday::Mon),
        most: 60,
        batch_cost: 150.0,
        helmet_cost: 45.0,
        new_cost: 400.0,
    }
}

#[test]
fn without_spring_work_everything_goes_at_once_as_late_as_it_may() {
    let helmets: Vec<Going> = (0..5).map(|n| going(&format!("h{n}"), "M", Some("2027-12-31"))).collect();
    let plan = plan(&helmets, &[], &terms()).unwrap();
    assert_eq!(plan.batches.len(), 1);
    assert_eq!((plan.batches[0].leaves, plan.batches[0].back), (day("2027-06-07"), day("2027-07-29")));
    assert_eq!(plan.cost, 150.0 + 5.0 * 45.0);
}

#[test]
fn a_limit_makes_a_helmet_go_earlier_and_spring_work_splits_the_rest() {
    let helmets = [
        going("h1", "M", Some("2027-02-20")),
        going("h2", "M", Some("2027-12-31")),
        going("h3", "M", Some("2027-12-31")),
    ];
    let works = [Work { from: day("2027-04-12"), until: day("2027-05-07"), needs: [("M".to_owned(), 3)].into() }];
    let plan = plan(&helmets, &works, &terms()).unwrap();
    let leaves: Vec<(NaiveDate, usize)> = plan.batches.iter().map(|batch| (batch.leaves, batch.tags.len())).collect();
    // The first is back on the day that spring work begins; the others may not leave before it is over.
    assert_eq!(leaves.iter().map(|(_, count)| count).sum::<usize>(), 3);
    assert!(leaves[0].0 <= day("2027-02-15"), "{leaves:?}");
    assert!(plan.buy.is_empty(), "{plan:?}");
    for batch in &plan.batches {
        assert!(batch.back <= day("2027-04-12") || batch.leaves > day("2027-05-07"), "{batch:?}");
    }
}

#[test]
fn what_cannot_be_is_bought() {
    let helmets = [going("h1", "M", Some("2027-03-20"))];
    let works = [Work { from: day("2027-03-15"), until: day("2027-04-02"), needs: [("M".to_owned(), 2)].into() }];
    let plan = plan(&helmets, &works, &terms()).unwrap();
    // Back by 15 March would mean leaving by 22 January; then one of two athletes has one.
    assert_eq!(plan.buy, [("M".to_owned(), 1)].into());
    assert_eq!(plan.batches[0].leaves, day("2027-01-18"));
}

#[test]
fn the_shops_limit_makes_more_shipments() {
    let helmets: Vec<Going> = (0..5).map(|n| going(&format!("h{n}"), "M", None)).collect();
    let plan = plan(&helmets, &[], &Terms { most: 2, ..terms() }).unwrap();
    assert_eq!(plan.batches[0].shipments, 3);
}

#[test]
fn too_late_is_said_and_what_has_lapsed_goes_all_the_same() {
    let late = Terms { from: day("2027-06-08"), ..terms() };
    assert_eq!(plan(&[going("h1", "M", None)], &[], &late), Err(NoPlan::TooLate(day("2027-06-07"))));
    let lapsed = plan(&[going("h1", "M", Some("2026-12-01"))], &[], &terms()).unwrap();
    assert_eq!(lapsed.late, ["h1"]);
    assert_eq!(lapsed.batches[0].tags, ["h1"]);
}

/// The least cost by trying every helmet on every pick-up day.
fn by_trying_everything(helmets: &[Going], works: &[Work], terms: &Terms) -> Option<f64> {
    let mut days = Vec::new();
    let mut day = terms.from;
    while day <= terms.ship_by {
        if terms.pick_up.is_none_or(|weekday| day.weekday() == weekday) {
            days.push(day);
        }
        day += TimeDelta::days(1);
    }
    let moving: Vec<&Going> = helmets.iter().filter(|helmet| helmet.goes).collect();
    let total = days.len().checked_pow(u32::try_from(moving.len()).unwrap()).unwrap();
    (0..total)
        .filter_map(|mut code| {
            let chosen: Vec<NaiveDate> = moving
                .iter()
                .map(|_| {
                    let day = days[code % days.len()];
                    code /= days.len();
                    day
                })
                .collect();
            cost_of(&moving, &chosen, helmets, works, terms, &days)
        })
        .min_by(f64::total_cmp)
}

fn cost_of(
    moving: &[&Going],
    chosen: &[NaiveDate],
    helmets: &[Going],
    works: &[Work],
    terms: &Terms,
    days: &[NaiveDate],
) -> Option<f64> {
    for (helmet, leaves) in moving.iter().zip(chosen) {
        let can_keep = helmet.until.is_none_or(|until| days.iter().any(|day| *day <= until));
        if can_keep && helmet.until.is_some_and(|until| *leaves > until) {
            return None;
        }
    }
    let shipments: usize =
        days.iter().map(|day| chosen.iter().filter(|own| *own == day).count().div_ceil(terms.most)).sum();
    let mut buy: BTreeMap<&String, usize> = BTreeMap::new();
    for work in works {
        for (size, needed) in &work.needs {
            let serves = |helmet: &Going| helmet.size == *size && helmet.until.is_none_or(|until| until >= work.until);
            let stay = helmets.iter().filter(|helmet| !helmet.goes && serves(helmet)).count();
            let there = moving.iter().zip(chosen).filter(|(helmet, leaves)| {
                let back = **leaves + TimeDelta::days(terms.away_days) <= work.from;
                helmet.size == *size && (back || (**leaves > work.until && serves(helmet)))
            });
            let short = needed.saturating_sub(stay + there.count());
            let most = buy.entry(size).or_default();
            *most = (*most).max(short);
        }
    }
    let count = |number: usize| f64::from(u32::try_from(number).unwrap());
    Some(
        terms.batch_cost * count(shipments)
            + terms.helmet_cost * count(moving.len())
            + terms.new_cost * count(buy.values().sum()),
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn no_plan_is_cheaper_than_that_of_trying_everything(
        helmets in prop::collection::vec((0_usize..2, prop::option::of(-10_i64..70), any::<bool>()), 1..5),
        works in prop::collection::vec((0_i64..60, 1_i64..15, 0_usize..4, 0_usize..3), 0..3),
        most in 1_usize..3,
        away in 5_i64..20,
    ) {
        let from = day("2027-01-04");
        let name = |size: usize| if size == 0 { "M".to_owned() } else { "L".to_owned() };
        let helmets: Vec<Going> = helmets
            .into_iter()
            .enumerate()
            .map(|(n, (size, until, goes))| Going {
                tag: format!("h{n}"),
                size: name(size),
                until: until.map(|days| from + TimeDelta::days(days)),
                goes: goes || n == 0,
            })
            .collect();
        let works: Vec<Work> = works
            .into_iter()
            .map(|(begin, long, medium, large)| Work {
                from: from + TimeDelta::days(begin),
                until: from + TimeDelta::days(begin + long),
                needs: [(name(0), medium), (name(1), large)].into(),
            })
            .collect();
        let terms = Terms { from, ship_by: from + TimeDelta::days(42), away_days: away, most, batch_cost: 130.0, ..terms() };
        let planned = plan(&helmets, &works, &terms).unwrap();
        let best = by_trying_everything(&helmets, &works, &terms).unwrap();
        prop_assert!((planned.cost - best).abs() < 1e-6, "{} against {best}: {planned:?}", planned.cost);
        let mut planned_tags: Vec<&String> = planned.batches.iter().flat_map(|batch| &batch.tags).collect();
        planned_tags.sort();
        let all: Vec<&String> = helmets.iter().filter(|helmet| helmet.goes).map(|helmet| &helmet.tag).collect();
        prop_assert_eq!(planned_tags, all, "each goes once");
    }
}
