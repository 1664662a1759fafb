//! Simulated people: pure and seeded. What an athlete does depends on the seed, the athlete and the day alone, not on the
//! order in which anybody is asked.

use chrono::{NaiveDate, TimeDelta};
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use sha2::{Digest, Sha256};

use crate::trade::roster::{Athlete, Language};

/// What a person does about a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    /// How long after the text.
    pub after: TimeDelta,
    /// What they type.
    pub text: String,
    /// Whether a photo comes with it.
    pub photo: bool,
}

/// What a text asks, as a person would see it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen {
    /// The morning check.
    Check,
    /// A reminder.
    Nudge,
    /// "We could not tell what you meant."
    AskedAgain,
    /// Where to go with the helmet.
    ToFix,
}

/// How an athlete is this morning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mood {
    /// Answers within minutes that all is well.
    Prompt,
    /// The same, much later.
    Late,
    /// Answers the reminder only.
    AfterNudge,
    /// Says nothing.
    Silent,
    /// Something is off with the helmet.
    Flag,
    /// Something is off, said in two texts.
    Pieces,
    /// Something is off, and later "fixed it".
    FixedMyself,
    /// Sends a photo.
    Photo,
    /// Writes what nobody can read, then answers properly.
    Unclear,
    /// Will check later, and does.
    Later,
    /// Is not coming.
    Absent,
    /// Has a headache.
    Symptom,
    /// Is ill.
    Ill,
    /// Wants no more texts.
    Stop,
    /// It is somebody else's number.
    WrongNumber,
}

/// The moods of a day's athletes: a few that are always there, the rest by chance.
#[must_use]
pub fn moods(seed: u64, date: NaiveDate, athletes: &[Athlete]) -> Vec<Mood> {
    const ALWAYS: &[Mood] = &[
        Mood::Symptom,
        Mood::Stop,
        Mood::WrongNumber,
        Mood::Symptom,
        Mood::Ill,
        Mood::Photo,
        Mood::Pieces,
        Mood::FixedMyself,
        Mood::Unclear,
        Mood::Absent,
    ];
    let mut order: Vec<usize> = (0..athletes.len())
        .filter(|index| athletes[*index].phone.is_some() && !shares(&athletes[*index], athletes))
        .collect();
    order.sort_by_key(|index| chance(seed, date, athletes[*index].id.as_str(), "order").random::<u64>());
    let mut moods: Vec<Mood> = athletes.iter().map(|athlete| by_chance(seed, date, athlete)).collect();
    for (mood, index) in ALWAYS.iter().zip(order) {
        moods[index] = *mood;
    }
    moods
}

fn shares(athlete: &Athlete, athletes: &[Athlete]) -> bool {
    athletes.iter().any(|other| other.id != athlete.id && other.phone == athlete.phone)
}

fn chance(seed: u64, date: NaiveDate, who: &str, what: &str) -> ChaCha8Rng {
    let digest = Sha256::digest(format!("{seed}/{date}/{who}/{what}"));
    let mut bytes = [0_u8; 32];
    bytes.copy_from_slice(&digest);
    ChaCha8Rng::from_seed(bytes)
}

fn by_chance(seed: u64, date: NaiveDate, athlete: &Athlete) -> Mood {
    const MOODS: &[(Mood, u32)] = &[
        (Mood::Prompt, 62),
        (Mood::Late, 9),
        (Mood::AfterNudge, 9),
        (Mood::Silent, 6),
        (Mood::Flag, 9),
        (Mood::Unclear, 2),
        (Mood::Later, 3),
    ];
    let total: u32 = MOODS.iter().map(|(_, weight)| weight).sum();
    let mut left = chance(seed, date, athlete.id.as_str(), "mood").random_range(0..total);
    for (mood, weight) in MOODS {
        if left < *weight {
            return *mood;
        }
        left -= weight;
    }
    Mood::Prompt
}

const OK_EN: &[&str] = &[
    "ok",
    "OK",
    "all good",
    "good",
    "all good coach",
    "yessir all good",
    "6 for 6",
    "everything good",
    "no problems",
    "good to go",
    "okayyy",
    "all set",
    "yep all good 👍",
    "k",
    "gud",
    "we good",
    "all six good",
    "fits perfect no cap",
    "👍",
    "nothing wrong here",
    "good morning, checked it, all good",
];
const OK_ES: &[&str] = &[
    "ok",
    "todo bien",
    "todo bien profe",
    "ta bn",
    "sin problemas",
    "los 6 bien",
    "todo bien 👍",
    "bien",
    "todo en orden",
    "listo todo bien",
    "simon todo chido",
    "todo good",
];
const FLAG_EN: &[&str] = &[
    "5",
    "strap busted",
    "2 5",
    "mask is loose",
    "everything good except the strap",
    "cheek pad fell out",
    "its too tight",
    "slides around",
    "6",
    "theres a crack in the back",
    "needs air",
    "forgot my helmet at home",
    "all but 4",
    "strapbroke",
    "2",
];
const FLAG_ES: &[&str] = &[
    "5",
    "se rompio la correa",
    "me queda grande",
    "todo bien menos el 4",
    "la careta esta floja",
    "le falta aire",
    "me aprieta",
];

fn pick<'a>(rng: &mut ChaCha8Rng, from: &[&'a str]) -> &'a str {
    from[rng.random_range(0..from.len())]
}

fn act(seconds: i64, text: &str) -> Act {
    Act { after: TimeDelta::seconds(seconds), text: text.to_owned(), photo: false }
}

/// What an athlete does about a text.
#[must_use]
pub fn acts(seed: u64, date: NaiveDate, athlete: &Athlete, mood: Mood, seen: Seen) -> Vec<Act> {
    let mut rng = chance(seed, date, athlete.id.as_str(), &format!("{seen:?}"));
    let spanish = athlete.language == Language::Es;
    let (ok, flag) = if spanish { (OK_ES, FLAG_ES) } else { (OK_EN, FLAG_EN) };
    let soon = rng.random_range(20..900);
    let en_es = |en: &'static str, es: &'static str| if spanish { es } else { en };
    match (seen, mood) {
        (Seen::Check, Mood::Prompt) => vec![act(soon, pick(&mut rng, ok))],
        (Seen::Check, Mood::Late) => vec![act(soon + 6_000, pick(&mut rng, ok))],
        (Seen::Check, Mood::Flag) => vec![act(soon, pick(&mut rng, flag))],
        (Seen::Check, Mood::Pieces) => {
            vec![
                act(soon, en_es("all good except", "todo bien menos")),
                act(soon + 12, en_es("the strap", "la correa")),
                act(soon + 80, en_es("wait 3 too", "y el 3")),
            ]
        }
        (Seen::Check, Mood::FixedMyself) => vec![act(soon, en_es("chin strap is loose", "la correa floja"))],
        (Seen::ToFix, Mood::FixedMyself) => vec![act(soon, en_es("fixed it all good", "ya la arregle todo bien"))],
        (Seen::Check, Mood::Photo) => {
            vec![Act { photo: true, ..act(soon, en_es("this screw is loose", "este tornillo esta flojo")) }]
        }
        (Seen::Check, Mood::Unclear) => vec![act(soon, pick(&mut rng, &["huh", "what is grip", "💀", "fine i guess"]))],
        (Seen::AskedAgain, _) => vec![act(soon / 4 + 70, pick(&mut rng, ok))],
        (Seen::Check, Mood::Later) => {
            vec![
                act(soon, en_es("at the dentist, will check at 3", "al rato lo checo")),
                act(soon + 14_000, pick(&mut rng, ok)),
            ]
        }
        (Seen::Check, Mood::Absent) => vec![act(soon, en_es("not coming today, doctors appointment", "hoy no voy"))],
        (Seen::Check, Mood::Symptom) => {
            let said = if spanish {
                pick(&mut rng, &["todo bien pero me duele la cabeza", "ando mareado desde ayer"])
            } else {
                pick(
                    &mut rng,
                    &[
                        "helmets good but my head hurts since yesterday",
                        "kinda dizzy ngl, helmet is fine",
                        "7 headache",
                    ],
                )
            };
            vec![act(soon, said)]
        }
        (Seen::Check, Mood::Ill) => {
            vec![act(soon, en_es("helmets good but i have a fever", "el casco bien, tengo fiebre"))]
        }
        (Seen::Check, Mood::Stop) => vec![act(soon, "STOP")],
        (Seen::Check, Mood::WrongNumber) => vec![act(soon, en_es("wrong number", "numero equivocado"))],
        (Seen::Nudge, Mood::AfterNudge) => vec![act(soon / 2, pick(&mut rng, ok))],
        _ => Vec::new(),
    }
}

/// What two athletes who share a phone type on it.
#[must_use]
pub fn shared(first: &str, second: &str, seed: u64, date: NaiveDate) -> Vec<Act> {
    let mut rng = chance(seed, date, first, "shared");
    let soon = rng.random_range(60..600);
    vec![act(soon, "ok"), act(soon + 45, first), act(soon + 400, &format!("{second} 5 wont click"))]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reading::{Kind, read};
    use crate::trade::phone::Phone;
    use crate::trade::roster::{AthleteId, ProgramId, TeamId};

    fn athletes(count: usize) -> Vec<Athlete> {
        (0..count)
            .map(|index| Athlete {
                program: ProgramId::from("p"),
                id: AthleteId(format!("a{index}")),
                team: TeamId::from("varsity"),
                jersey: None,
                first: "Jonah".into(),
                last: "Reyes".into(),
                born: None,
                language: if index % 4 == 0 { Language::Es } else { Language::En },
                phone: Phone::parse(&format!("{}-555-01{:02}", 312 + index / 90, index % 90)).ok(),
                active: true,
            })
            .collect()
    }

    fn date() -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 9, 15).unwrap()
    }

    #[test]
    fn every_morning_has_its_headache_its_stop_and_its_silence() {
        for seed in 0..20 {
            let moods = moods(seed, date(), &athletes(80));
            let count = |wanted: Mood| moods.iter().filter(|mood| **mood == wanted).count();
            assert_eq!(count(Mood::Stop), 1);
            assert_eq!(count(Mood::Symptom), 2);
            assert!(count(Mood::Prompt) > 20);
        }
    }

    #[test]
    fn the_same_seed_is_the_same_morning_and_another_is_not() {
        let athletes = athletes(80);
        assert_eq!(moods(3, date(), &athletes), moods(3, date(), &athletes));
        assert_ne!(moods(3, date(), &athletes), moods(4, date(), &athletes));
    }

    #[test]
    fn what_the_crowd_means_as_fine_is_read_as_fine_and_its_troubles_are_not() {
        for text in OK_EN.iter().chain(OK_ES) {
            assert_eq!(read(text).kind, Kind::AllClear, "{text}");
        }
        for text in FLAG_EN.iter().chain(FLAG_ES) {
            assert_ne!(read(text).kind, Kind::AllClear, "{text}");
        }
    }

    #[test]
    fn nobody_answers_after_practice_has_begun() {
        for athlete in athletes(80) {
            for seed in 0..5 {
                for mood in [Mood::Prompt, Mood::Late, Mood::Later, Mood::Pieces] {
                    for act in acts(seed, date(), &athlete, mood, Seen::Check) {
                        assert!(act.after < TimeDelta::hours(8), "{act:?}");
                    }
                }
            }
        }
    }
}
