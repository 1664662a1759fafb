use proptest::prelude::*;

use super::*;
use crate::trade::drill::{Drill, Part, Skill};
use crate::trade::roster::{Language, ProgramId};
use crate::trade::time::Moment;

fn size(ready: &[Vec<usize>], columns: usize) -> usize {
    matching(ready, columns, |_, _| 0).iter().flatten().count()
}

/// Published worked examples: six applicants of a public tutorial on matching, and the Hopcroft-Karp library example.
#[test]
fn published_matchings() {
    let six = [vec![1, 2], vec![0, 3], vec![2], vec![2, 3], vec![], vec![5]];
    assert_eq!(size(&six, 6), 5);
    let matched = matching(&six, 6, |_, _| 0);
    assert_eq!(short_set(&six, &matched), Some((vec![4], vec![])), "nobody takes the fifth");
    let library = [vec![1, 2], vec![0], vec![1], vec![1, 3]];
    let matched = matching(&library, 4, |_, _| 0);
    assert_eq!(matched, [Some(2), Some(0), Some(1), Some(3)], "one augmenting step");
    assert_eq!(short_set(&library, &matched), None);
}

/// Hall 1935, with Ore's deficiency: three who can have two.
#[test]
fn halls_theorem_names_those_who_are_too_many() {
    let ready = [vec![0, 1], vec![0, 1], vec![0, 1], vec![0, 1, 2, 3]];
    let matched = matching(&ready, 4, |_, _| 0);
    assert_eq!(matched.iter().flatten().count(), 3);
    assert_eq!(short_set(&ready, &matched), Some((vec![0, 1, 2], vec![0, 1])));
}

proptest! {
    /// The matching is as large as trying everything finds, and the set that Hall's theorem promises is one.
    #[test]
    fn a_matching_is_largest_and_its_short_set_is_short(
        ready in proptest::collection::vec(proptest::collection::btree_set(0_usize..5, 0..4), 1..6),
    ) {
        let ready: Vec<Vec<usize>> = ready.into_iter().map(|row| row.into_iter().collect()).collect();
        let matched = matching(&ready, 5, |row, column| ((row * 7 + column * 3) % 10) as i64);
        prop_assert_eq!(matched.iter().flatten().count(), by_trying(&ready, 0, &mut BTreeSet::new()));
        let distinct: BTreeSet<&usize> = matched.iter().flatten().collect();
        prop_assert_eq!(distinct.len(), matched.iter().flatten().count());
        for (row, column) in matched.iter().enumerate().filter_map(|(row, column)| Some((row, (*column)?))) {
            prop_assert!(ready[row].contains(&column));
        }
        match short_set(&ready, &matched) {
            None => prop_assert!(matched.iter().all(Option::is_some)),
            Some((rows, columns)) => {
                let reached: BTreeSet<usize> = rows.iter().flat_map(|row| ready[*row].iter().copied()).collect();
                prop_assert_eq!(reached.into_iter().collect::<Vec<_>>(), columns.clone());
                prop_assert_eq!(rows.len(), columns.len() + 1);
            }
        }
    }
}

fn by_trying(ready: &[Vec<usize>], row: usize, taken: &mut BTreeSet<usize>) -> usize {
    let Some(columns) = ready.get(row) else { return 0 };
    let mut best = by_trying(ready, row + 1, taken);
    for column in columns {
        if taken.insert(*column) {
            best = best.max(1 + by_trying(ready, row + 1, taken));
            taken.remove(column);
        }
    }
    best
}

const ON: &str = "2026-09-18";

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn member(id: &str, roles: &[Role]) -> StaffMember {
    StaffMember {
        program: ProgramId::from("p"),
        id: StaffId::from(id),
        first: id.to_owned(),
        last: String::new(),
        phone: None,
        email: None,
        language: Language::En,
        roles: roles.to_vec(),
        teams: Vec::new(),
        duty: Vec::new(),
        hours: None,
        call_order: 1,
        active: true,
    }
}

fn model(name: &str, hardware: &str) -> Model {
    Model::sample(name, Some(hardware))
}

fn drilled(who: &str, skill: Skill, models: &[&str]) -> Drill {
    Drill {
        program: ProgramId::from("p"),
        id: format!("{who}/{}", skill.name()),
        date: day("2026-08-10"),
        skill,
        place: None,
        people: vec![Part { staff: StaffId::from(who), position: None }],
        models: models.iter().map(|model| (*model).to_owned()).collect(),
        seconds: None,
        notes: None,
        recorded_by: String::new(),
        recorded_at: Moment::from_millis(0),
        undone: false,
    }
}

struct Scenario {
    people: Vec<StaffMember>,
    models: Vec<Model>,
    worn: Vec<String>,
    positions: Vec<Position>,
    practised: Practised,
}

impl Scenario {
    fn with<R>(&self, look: impl FnOnce(&Field<'_>) -> R) -> R {
        let people: Vec<&StaffMember> = self.people.iter().collect();
        let currency = Currency::default();
        look(&Field {
            on: day(ON),
            people: &people,
            positions: &self.positions,
            worn: &self.worn,
            models: &self.models,
            practised: &self.practised,
            currency: &currency,
        })
    }
}

/// Ana is away; Ben and Cole have never had the cutter in hand on Tern's clips.
fn friday() -> Scenario {
    let models = vec![model("Tern", "clips"), model("Petrel", "screws")];
    let drills = [
        drilled("priya", Skill::LogRoll, &[]),
        drilled("priya", Skill::HelmetRemoval, &[]),
        drilled("ben", Skill::MaskTool, &["Tern", "Petrel"]),
        drilled("cole", Skill::MaskTool, &["Tern", "Petrel"]),
        drilled("cole", Skill::MaskCutter, &["Petrel"]),
    ];
    Scenario {
        people: vec![
            member("priya", &[Role::Trainer]),
            member("ben", &[Role::Equipment]),
            member("cole", &[Role::Equipment]),
        ],
        worn: vec!["Tern".into(), "Petrel".into()],
        positions: vec![Position::Head, Position::Mask, Position::Cutter],
        practised: Practised::new(&drills, &models),
        models,
    }
}

#[test]
fn what_is_missing_and_what_closes_it() {
    let scenario = friday();
    scenario.with(|field| {
        let covers = field.covers();
        let empty: Vec<_> = covers.iter().map(|cover| (cover.models.clone(), cover.empty.clone())).collect();
        assert_eq!(empty, [(vec!["Tern".to_owned()], vec![Position::Cutter]), (vec!["Petrel".to_owned()], vec![])]);
        assert_eq!(covers[0].short, Some(Short { positions: vec![Position::Cutter], people: Vec::new() }));
        let remedy = remedy(field, &|_| true, day("2026-09-01"));
        assert_eq!(remedy.drills.len(), 1);
        assert_eq!(remedy.drills[0].1, Competence::on(Skill::MaskCutter, "Tern", field.models));
        assert!(remedy.suffices());
        // Only Ben is there on Wednesday, everybody on Thursday.
        let some = |who: &[&str]| who.iter().map(|who| StaffId::from(*who)).collect::<BTreeSet<_>>();
        let days = [
            (day("2026-09-15"), some(&["priya"])),
            (day("2026-09-16"), some(&["ben"])),
            (day("2026-09-17"), some(&["ben", "cole"])),
        ];
        let suggestion = suggest(field, &days, day("2026-09-01"));
        assert_eq!(suggestion.day, Some(day("2026-09-16")));
        assert_eq!(suggestion.remedy.drills[0].0, StaffId::from("ben"));
    });
}

#[test]
fn people_who_are_not_there_are_not_drilled_into_being() {
    let mut scenario = friday();
    scenario.people.pop();
    scenario.with(|field| {
        let remedy = remedy(field, &|_| true, day("2026-09-01"));
        assert_eq!(remedy.people_short, 1, "two people, three positions: {remedy:?}");
    });
}

#[test]
fn the_head_is_for_those_trained_to_answer_and_who_suits_goes_first() {
    let mut scenario = friday();
    scenario.people.push(member("beth", &[Role::Responder]));
    scenario.positions = vec![Position::Head];
    scenario.worn = vec!["Petrel".into()];
    let drills: Vec<Drill> = ["priya", "beth", "ben"]
        .iter()
        .flat_map(|who| [drilled(who, Skill::LogRoll, &[]), drilled(who, Skill::HelmetRemoval, &[])])
        .collect();
    scenario.practised = Practised::new(&drills, &scenario.models);
    scenario.with(|field| {
        assert_eq!(field.covers()[0].filled, [(Position::Head, StaffId::from("priya"))]);
    });
    scenario.people.retain(|member| member.first == "ben");
    scenario.with(|field| assert!(!field.is_covered(), "an equipment manager does not hold the head"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    /// No smaller set of drills does it, and the set that is given does.
    #[test]
    fn the_remedy_is_smallest(
        known in proptest::collection::vec((0_usize..4, 0_usize..4, 0_usize..2), 0..9),
        roles in proptest::collection::vec(0_usize..3, 2..5),
        chosen in proptest::sample::subsequence(vec![Position::Head, Position::Mask, Position::Cutter, Position::Chest], 1..=4),
    ) {
        const SKILLS: [Skill; 4] = [Skill::LogRoll, Skill::HelmetRemoval, Skill::MaskTool, Skill::MaskCutter];
        let names = ["a", "b", "c", "d"];
        let role = [Role::Trainer, Role::Equipment, Role::Administrator];
        let worn = ["Tern", "Petrel"];
        let models = vec![model("Tern", "clips"), model("Petrel", "screws")];
        let drills: Vec<Drill> =
            known.iter().map(|(who, skill, on)| drilled(names[*who], SKILLS[*skill], &[worn[*on]])).collect();
        let scenario = Scenario {
            people: roles.iter().enumerate().map(|(n, kind)| member(names[n], &[role[*kind]])).collect(),
            worn: worn.iter().map(|name| (*name).to_owned()).collect(),
            positions: chosen,
            practised: Practised::new(&drills, &models),
            models,
        };
        scenario.with(|field| {
            let remedy = remedy(field, &|_| true, day("2026-09-01"));
            let after = |drills: &[(StaffId, Competence)]| {
                let practised = field.practised.with(drills, field.on);
                Field { practised: &practised, ..*field }.is_covered()
            };
            if remedy.suffices() {
                prop_assert!(after(&remedy.drills), "{remedy:?}");
            }
            let mut could: BTreeSet<(StaffId, Competence)> = BTreeSet::new();
            for member in field.people {
                for (position, model) in field.positions.iter().flat_map(|position| worn.map(|model| (*position, model))) {
                    could.extend(field.missing(member, position, model).into_iter().flatten().map(|what| (member.id.clone(), what)));
                }
            }
            let could: Vec<_> = could.into_iter().collect();
            prop_assert_eq!(smallest(&could, &after), remedy.suffices().then_some(remedy.drills.len()));
            Ok(())
        })?;
    }
}

type Does<'d> = dyn Fn(&[(StaffId, Competence)]) -> bool + 'd;

/// The size of the smallest subset that does it, by trying all of them, the small ones first.
fn smallest(could: &[(StaffId, Competence)], does: &Does<'_>) -> Option<usize> {
    fn of_size(
        could: &[(StaffId, Competence)],
        size: usize,
        chosen: &mut Vec<(StaffId, Competence)>,
        does: &Does<'_>,
    ) -> bool {
        if size == 0 {
            return does(chosen);
        }
        (0..could.len()).any(|n| {
            chosen.push(could[n].clone());
            let found = of_size(&could[n + 1..], size - 1, chosen, does);
            chosen.pop();
            found
        })
    }
    if !does(could) {
        return None;
    }
    (0..=could.len()).find(|size| of_size(could, *size, &mut Vec::new(), does))
}
