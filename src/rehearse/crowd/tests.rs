use super::*;
use crate::reading::{Kind, read};
use crate::trade::flag::{Control, Flag};
use crate::trade::roster::{AthleteId, ProgramId, TeamId};
use crate::wording::{Accents, Kind as Text, Wording};

fn athletes(count: usize) -> Vec<Athlete> {
    (0..count)
        .map(|index| Athlete {
            program: ProgramId::from("larkspur"),
            id: AthleteId(format!("athlete-{index}")),
            team: TeamId::from("varsity"),
            jersey: None,
            first: if index == 1 { "Jonah".into() } else { format!("Eli{index}") },
            last: "Vega".into(),
            born: None,
            language: if index % 4 == 0 { Language::Es } else { Language::En },
            // The first two share a phone.
            phone: Phone::parse(&format!("{}-555-01{:02}", 312 + index / 90, index.max(1) % 90)).ok(),
            head_mm: None,
            active: true,
        })
        .collect()
}

fn date() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 9, 15).unwrap()
}

fn check(athlete: &Athlete) -> String {
    format!("Helmet check, {}: 1 brow 2 grip ...", athlete.first)
}

fn morning(seed: u64) -> BTreeMap<Phone, Vec<Act>> {
    let athletes = athletes(90);
    let crowd = Crowd::new(seed, &athletes);
    let mut acts: BTreeMap<Phone, Vec<Act>> = BTreeMap::new();
    for athlete in &athletes {
        let phone = athlete.phone.clone().unwrap();
        let answers = crowd.answers(date(), &phone, &check(athlete));
        acts.entry(phone).or_default().extend(answers);
    }
    acts
}

#[test]
fn the_same_seed_is_the_same_morning_in_any_order_and_another_is_not() {
    let athletes = athletes(90);
    let mut turned = athletes.clone();
    turned.reverse();
    let (crowd, same) = (Crowd::new(7, &athletes), Crowd::new(7, &turned));
    for athlete in turned.iter().rev() {
        let phone = athlete.phone.as_ref().unwrap();
        let text = check(athlete);
        assert_eq!(crowd.answers(date(), phone, &text), same.answers(date(), phone, &text));
    }
    assert_ne!(morning(7), morning(8));
    let next_day = date().succ_opt().unwrap();
    assert_ne!(crowd.cast(date()), crowd.cast(next_day));
}

#[test]
fn every_morning_has_what_the_story_needs() {
    for seed in 0..50 {
        let crowd = Crowd::new(seed, &athletes(90));
        let cast = crowd.cast(date());
        let count = |wanted: &[Part]| cast.values().filter(|part| wanted.contains(part)).count();
        assert_eq!(cast.len(), 89, "two share a phone");
        assert_eq!(count(&[Part::Stop]), 1);
        assert_eq!(count(&[Part::Shared]), 1);
        assert!((1..=2).contains(&count(&[Part::Symptom])), "seed {seed}");
        assert!((1..=2).contains(&count(&[Part::Symptom, Part::Unwell])), "seed {seed}");
        assert!((5..=7).contains(&count(&[Part::Silent])), "seed {seed}");
        assert!(count(&[Part::Ok]) > 30, "seed {seed}");
        let to_fix = [
            Part::Words,
            Part::Numbers,
            Part::Correction,
            Part::FixedIt,
            Part::Photo,
            Part::PhotoAlone,
            Part::Missing,
            Part::PuzzledThenOff,
            Part::PuzzledTwice,
            Part::Shared,
        ];
        assert!((10..=15).contains(&count(&to_fix)), "seed {seed}: {}", count(&to_fix));
    }
}

#[test]
fn nobody_types_after_the_morning_or_before_the_text() {
    for seed in 0..30 {
        for act in morning(seed).values().flatten() {
            assert!(act.after > TimeDelta::zero() && act.after <= LONGEST, "{act:?}");
            assert!(act.photo || !act.text.is_empty());
        }
    }
}

#[test]
fn brothers_answer_once_for_both_and_say_whose_it_was_when_asked() {
    let athletes = athletes(90);
    let phone = athletes[0].phone.clone().unwrap();
    assert_eq!(athletes[1].phone.as_ref(), Some(&phone));
    let (mut told, mut asked) = (0, 0);
    for seed in 0..20 {
        let crowd = Crowd::new(seed, &athletes);
        assert_eq!(crowd.answers(date(), &phone, &check(&athletes[0])), []);
        let acts = crowd.answers(date(), &phone, &check(&athletes[1]));
        if acts[0].text == "ok" {
            asked += 1;
            assert_eq!(acts[1].text, "Eli0 5 wont click");
            let which = crowd.answers(date(), &phone, "Which one? 1 Eli0 2 Jonah. Reply with the number or the name.");
            assert_eq!(which[0].text, "Jonah");
        } else {
            told += 1;
            assert_eq!(acts[0].text, "Jonah ok, Eli0 5");
        }
    }
    assert!(told > 0 && asked > 0);
}

/// A person who gets one of the program's texts sees what it is, in both languages.
#[test]
fn texts_are_seen_for_what_they_are() {
    for entry in Wording::embedded().catalogue(Accents::Fold) {
        let wanted = match entry.kind {
            Text::Check => Seen::Check,
            Text::Nudge => Seen::Nudge,
            Text::Unclear => Seen::AskedAgain,
            Text::WhichAthlete => Seen::AskedWho,
            Text::PhotoOnly => Seen::AskedWords,
            Text::FlaggedHold | Text::FlaggedRefit | Text::FlaggedMissing => Seen::ToBring,
            // Staff are no part of the crowd.
            Text::WhichItem | Text::StaffStart | Text::EventWhich => continue,
            _ => Seen::Other,
        };
        assert_eq!(Seen::of(&entry.text), wanted, "{:?}: {}", entry.kind, entry.text);
    }
}

fn all(lines: &Lines) -> impl Iterator<Item = &'static str> {
    lines.en.iter().chain(lines.es).chain(lines.mix).copied()
}

/// Lines that do not pass, so that all are seen at once.
fn misread(lines: &[&Lines], right: impl Fn(&crate::reading::Reading) -> bool) -> Vec<&'static str> {
    lines.iter().flat_map(|lines| all(lines)).filter(|text| !right(&read(text))).collect()
}

#[test]
fn the_crowd_is_read_as_it_means_to_be() {
    let none: [&str; 0] = [];
    assert_eq!(misread(&[&lines::OK, &lines::FIXED], |reading| reading.kind == Kind::AllClear), none);
    let off = [&lines::NUMBERS, &lines::WORDS, &lines::MISSING, &lines::STRAP_OFF];
    let helmet_alone = |reading: &crate::reading::Reading| {
        reading.kind == Kind::Flagged && !reading.flags.helmet().is_empty() && reading.flags.body().is_empty()
    };
    assert_eq!(misread(&off, helmet_alone), none);
    assert_eq!(misread(&[&lines::SYMPTOM], |reading| reading.flags.contains(Flag::Symptom)), none);
    assert_eq!(misread(&[&lines::UNWELL], |reading| !reading.flags.body().is_empty()), none);
    assert_eq!(misread(&[&lines::PUZZLING], |reading| reading.kind == Kind::Unclear), none);
    for (lines, control) in [
        (&lines::LATER, Control::Later),
        (&lines::ABSENT, Control::Absent),
        (&lines::WRONG_NUMBER, Control::WrongNumber),
        (&lines::STOP, Control::Stop),
    ] {
        assert_eq!(misread(&[lines], |reading| reading.control == Some(control)), none);
    }
}

#[test]
fn a_slip_of_the_thumb_is_never_read_as_a_fault() {
    for text in all(&lines::OK_SLOPPY) {
        assert!(matches!(read(text).kind, Kind::AllClear | Kind::Unclear), "{text}");
    }
}
