//! Worst cases of every message, for the check at start: long names, all flags, long lists, every branch.

use super::message::{Attempt, Body, FixLine, Helmet, Kind, Message, OutLine, Typed, Why};
use crate::trade::flag::{Flag, Flags};
use crate::trade::roster::Language;

const FIRST: &str = "Constantinos";
const PROGRAM: &str = "Larkspur Valley High School Kestrels";
const CONTACT: &str = "Rosalinda Wetherington";
const CONTACT_PHONE: &str = "312-555-0142";
const TRAINER: Option<&str> = Some("Maribel Castellanos-Ruíz");
const TRAINER_PHONE: Option<&str> = Some("312-555-0111");
const WHO: &str = "#12 Constantinos";
const TEAM: &str = "Junior Varsity";
const LINK: Option<&str> = Some("https://kestrels.larkspur-valley.example/board/jv");
const OPTIONS: &str = "1 Jonah 2 Constantinos 3 Evangelina 4 Bartholomew";
const SIGN_IN: &str = "https://kestrels.larkspur-valley.example/sign-in/larkspur/u3bWmq0yTz2cVd8RkLxQsA";
const REPLY: &str = "got 12";

/// The words that the caller gives in the reader's language.
struct Spoken {
    by: &'static str,
    clock: &'static str,
    place: &'static str,
    event: &'static str,
    head: &'static str,
    when: &'static str,
    several: &'static str,
}

const fn spoken(language: Language) -> Spoken {
    match language {
        Language::En => Spoken {
            by: "12:45 pm",
            clock: "12:45 pm",
            place: "the equipment room, east gym",
            event: "the practice Wed Sep 23 at 12:45 pm",
            head: "Junior Varsity, practice 12:45 pm",
            when: "Thu Sep 24 at 12:45 pm",
            several: "1 Varsity, practice 10:30 am 2 Junior Varsity, practice 12:45 pm 3 Freshman, game 12:45 pm",
        },
        Language::Es => Spoken {
            by: "las 12:45 p. m.",
            clock: "12:45 p. m.",
            place: "el cuarto de equipo, gimnasio este",
            event: "la práctica del mié 23 sep a las 12:45 p. m.",
            head: "Junior Varsity, práctica 12:45 p. m.",
            when: "el jue 24 sep a las 12:45 p. m.",
            several: "1 Varsity, práctica 10:30 a. m. 2 Junior Varsity, práctica 12:45 p. m. 3 Freshman, partido 12:45 p. m.",
        },
    }
}

fn all_flags() -> Flags {
    Flag::ALL.into_iter().collect()
}

fn three_flags() -> Flags {
    [Flag::Brow, Flag::Hardware, Flag::WrongHelmet].into_iter().collect()
}

const NAMES: [&str; 6] = ["#3 Jonah", "#12 Constantinos", "#00 Iván", "#47 Evangelina", "#8 Eli", "#66 Bartholomew"];

fn many_names() -> Vec<&'static str> {
    NAMES.iter().copied().cycle().take(92).collect()
}

fn many_fixes() -> Vec<FixLine<'static>> {
    many_names()
        .into_iter()
        .enumerate()
        .map(|(index, who)| FixLine {
            who,
            helmet: (index % 3 != 0).then_some("T-0142"),
            flags: Flag::ALL.into_iter().skip(index % 13).take(index % 4).collect(),
            note: (index % 5 == 0).then_some("photo"),
        })
        .collect()
}

fn many_out() -> Vec<OutLine<'static>> {
    let why = [Why::Held, Why::Equipment].into_iter().cycle();
    many_names().into_iter().zip(why).map(|(who, why)| OutLine { who, why }).collect()
}

impl Kind {
    /// Examples of the message that between them take every branch of its template and are about as long as it gets.
    #[must_use]
    pub fn samples(self, language: Language) -> Vec<Message<'static>> {
        let words = spoken(language);
        athlete_samples(self, &words)
            .or_else(|| care_samples(self))
            .or_else(|| anyone_samples(self))
            .or_else(|| super::family_samples::of(self))
            .or_else(|| list_samples(self, &words))
            .unwrap_or_else(|| staff_samples(self, &words))
    }
}

fn athlete_samples(kind: Kind, words: &Spoken) -> Option<Vec<Message<'static>>> {
    let (first, by, place) = (FIRST, words.by, words.place);
    let flags = Helmet(all_flags());
    let each = [false, true];
    Some(match kind {
        Kind::Check => vec![Message::Check { first }, Message::Check { first: "Iván" }],
        Kind::Nudge => vec![Message::Nudge { first, by }],
        Kind::AllClear => vec![Message::AllClear { first }],
        Kind::FlaggedRefit => {
            let flags = [flags, Helmet(three_flags())];
            flags.map(|flags| Message::FlaggedRefit { first, flags, place, by }).to_vec()
        }
        Kind::FlaggedHold => {
            let flags = [flags, Helmet(three_flags())];
            flags.map(|flags| Message::FlaggedHold { first, flags, place, by }).to_vec()
        }
        Kind::FlaggedMissing => each.map(|wrong| Message::FlaggedMissing { first, wrong, place, by }).to_vec(),
        Kind::Unclear => vec![Message::Unclear { first }],
        Kind::UnclearAgain => vec![Message::UnclearAgain { first, place, by }],
        Kind::StillNeedsStaff => each.map(|hold| Message::StillNeedsStaff { first, hold, place, by }).to_vec(),
        Kind::Later => vec![Message::Later { first, by }],
        Kind::Absent => vec![Message::Absent { first }],
        Kind::LateAnswer => vec![Message::LateAnswer { first }],
        Kind::WhichAthlete => vec![Message::WhichAthlete { options: OPTIONS }],
        Kind::PhotoOnly => vec![Message::PhotoOnly { first }],
        Kind::PhotoKept => vec![Message::PhotoKept { first }],
        Kind::Fixed => {
            let done = Some("new strap, two screws, jaw pads a size up");
            vec![
                Message::Fixed { first, done, still_held: false },
                Message::Fixed { first, done, still_held: true },
                Message::Fixed { first, done: None, still_held: false },
            ]
        }
        Kind::OutOfUse => vec![Message::OutOfUse { first, place }],
        Kind::HeldEquipment => vec![Message::HeldEquipment { first, place, by }],
        Kind::EventCancelled => vec![Message::EventCancelled { event: words.event, team: TEAM }],
        Kind::EventMoved => [Some("north practice field"), None]
            .map(|place| Message::EventMoved { event: words.event, team: TEAM, when: words.when, place })
            .to_vec(),
        _ => return None,
    })
}

fn care_samples(kind: Kind) -> Option<Vec<Message<'static>>> {
    let first = FIRST;
    // The trainer's own name and number are required in the first of each; a program may lack them.
    let known = [(TRAINER, TRAINER_PHONE), (TRAINER, None), (None, TRAINER_PHONE), (None, None)];
    let also = known.iter().flat_map(|who| [(*who, true), (*who, false)]);
    Some(match kind {
        Kind::Symptom => also
            .map(|((trainer, trainer_phone), also_helmet)| Message::Symptom {
                first,
                trainer,
                trainer_phone,
                also_helmet,
            })
            .collect(),
        Kind::Body => also
            .map(|((trainer, trainer_phone), also_helmet)| Message::Body { first, trainer, trainer_phone, also_helmet })
            .collect(),
        Kind::Emergency => {
            known.map(|(trainer, trainer_phone)| Message::Emergency { first, trainer, trainer_phone }).to_vec()
        }
        Kind::HeldBody => {
            known.map(|(trainer, trainer_phone)| Message::HeldBody { first, trainer, trainer_phone }).to_vec()
        }
        Kind::StillHeld => {
            known.map(|(trainer, trainer_phone)| Message::StillHeld { first, trainer, trainer_phone }).to_vec()
        }
        _ => return None,
    })
}

fn anyone_samples(kind: Kind) -> Option<Vec<Message<'static>>> {
    let (program, contact, contact_phone) = (PROGRAM, CONTACT, CONTACT_PHONE);
    Some(vec![match kind {
        Kind::Welcome => Message::Welcome { program },
        Kind::Stopped => Message::Stopped { program },
        Kind::Started => Message::Started { program },
        Kind::Help => Message::Help { program, contact, contact_phone },
        Kind::WrongNumber => Message::WrongNumber { program },
        Kind::UnknownNumber => Message::UnknownNumber { program, contact, contact_phone },
        Kind::GuardianReply => Message::GuardianReply { program, contact, contact_phone },
        Kind::NoOpenCheck => Message::NoOpenCheck { program, contact, contact_phone },
        Kind::ChatCode => Message::ChatCode { program, first: FIRST, code: "MWQX-7KHB" },
        Kind::StaffStart => Message::StaffStart { program },
        _ => return None,
    }])
}

fn list_samples(kind: Kind, words: &Spoken) -> Option<Vec<Message<'static>>> {
    let (event, link) = (words.head, LINK);
    let few = || many_names().into_iter().take(2).collect::<Vec<_>>();
    Some(match kind {
        Kind::FixList => {
            let bring = Some("14 chin straps, 9 face-mask clips (Tern), screwdriver, needle and glycerine");
            let list = |lines: Vec<_>, hands, not_fit, link| Message::FixList {
                bring: bring.filter(|_| hands != 2),
                event,
                starts: words.by,
                hands,
                lines,
                not_fit,
                link,
            };
            let one = many_fixes().into_iter().take(1).collect::<Vec<_>>();
            vec![
                list(many_fixes(), 12, 41, link),
                list(many_fixes(), 1, 1, None),
                list(one.clone(), 1, 0, link),
                list(one, 2, 0, None),
            ]
        }
        Kind::FixWaiting => {
            let waiting = |lines: Vec<_>, everyone, link| Message::FixWaiting {
                event,
                lines,
                everyone,
                reply: "got Constantinos",
                link,
            };
            let one = many_fixes().into_iter().take(1).collect::<Vec<_>>();
            vec![waiting(many_fixes(), true, link), waiting(many_fixes(), false, None), waiting(one, false, link)]
        }
        Kind::SilentList => vec![
            Message::SilentList { event, lines: many_names(), total: 104, link },
            Message::SilentList { event, lines: many_names(), total: 104, link: None },
            Message::SilentList { event, lines: few(), total: 46, link },
            Message::SilentList { event, lines: Vec::new(), total: 46, link },
        ],
        Kind::HandsOnList => vec![
            Message::HandsOnList { event, lines: many_names(), link },
            Message::HandsOnList { event, lines: many_names(), link: None },
            Message::HandsOnList { event, lines: few(), link },
            Message::HandsOnList { event, lines: Vec::new(), link },
        ],
        Kind::Availability => vec![
            Message::Availability { event, lines: many_out(), silent: 41, link },
            Message::Availability { event, lines: many_out(), silent: 0, link: None },
            Message::Availability { event, lines: Vec::new(), silent: 41, link },
            Message::Availability { event, lines: Vec::new(), silent: 0, link },
        ],
        Kind::TrainerPending => vec![
            Message::TrainerPending { lines: many_names(), link, reply: REPLY },
            Message::TrainerPending { lines: many_names(), link: None, reply: REPLY },
            Message::TrainerPending { lines: few(), link, reply: REPLY },
        ],
        _ => return None,
    })
}

fn staff_samples(kind: Kind, words: &Spoken) -> Vec<Message<'static>> {
    let (who, event) = (WHO, words.head);
    let what = "new helmet, size large, with a wide mask";
    vec![match kind {
        Kind::BodyAlert => return alert_samples(words),
        Kind::StaffHelp => return staff_help_samples(),
        Kind::FixAdded => return fix_added_samples(event),
        Kind::ItemDone => {
            return vec![Message::ItemDone { who, what: Some(what) }, Message::ItemDone { who, what: None }];
        }
        Kind::ItemHas
        | Kind::ItemStatus
        | Kind::HandedOn
        | Kind::ItemHanded
        | Kind::ItemHeld
        | Kind::WhatMeant
        | Kind::Meant => {
            return shared_samples(kind);
        }
        Kind::EventCalledOff => {
            return [92, 1].map(|told| Message::EventCalledOff { event: words.event, told }).to_vec();
        }
        Kind::ChecksMissed => {
            return [92, 1].map(|missed| Message::ChecksMissed { event, missed }).to_vec();
        }
        Kind::BodyAcknowledged => Message::BodyAcknowledged { who, by_whom: CONTACT },
        Kind::ListEmpty => Message::ListEmpty { event },
        Kind::ItemTaken => Message::ItemTaken { who, by: CONTACT },
        Kind::ItemNeeds => Message::ItemNeeds { who, what },
        Kind::ItemNone => Message::ItemNone { who: "12 Constantinos" },
        Kind::WhichItem => Message::WhichItem { options: OPTIONS },
        Kind::EventWhich => Message::EventWhich { options: words.several },
        Kind::StaffNotUnderstood => Message::StaffNotUnderstood { hint: "12 done new strap" },
        Kind::StaffNotAllowed => Message::StaffNotAllowed { what: "12 done new strap" },
        Kind::MedicalNotByText => Message::MedicalNotByText { who },
        Kind::SignIn => Message::SignIn { program: PROGRAM, link: SIGN_IN, minutes: 15 },
        Kind::OptedOut => Message::OptedOut { who },
        Kind::CourseNoted
        | Kind::StepDue
        | Kind::CourseMissing
        | Kind::NotRecorded
        | Kind::SecondAsked
        | Kind::CheckInAsk
        | Kind::CheckInNoted
        | Kind::CheckInSummary
        | Kind::Cleared => return clearance_samples(kind, words),
        Kind::DrillRecorded
        | Kind::DrillUndone
        | Kind::DrillAsk
        | Kind::CoverageGap
        | Kind::CoverageFine
        | Kind::RehearsalDue
        | Kind::TimeOut
        | Kind::Away => return drill_samples(kind, words),
        Kind::ShipBy
        | Kind::NotBack
        | Kind::CertificationEnds
        | Kind::HelmetsShipped
        | Kind::HelmetsBack
        | Kind::HelmetsStatus
        | Kind::HelmetAsk
        | Kind::HelmetFailed
        | Kind::HelmetRecertified
        | Kind::HelmetMarked
        | Kind::HelmetSpare
        | Kind::HelmetIssued => return helmet_samples(kind, words),
        Kind::KitPrompt
        | Kind::KitNoted
        | Kind::KitStatus
        | Kind::KitAsk
        | Kind::KitLacks
        | Kind::KitExpires
        | Kind::OrderList
        | Kind::OrderNoted => return kit_samples(kind, words),
        _ => return Vec::new(),
    }]
}

/// What is said of drills and coverage.
fn drill_samples(kind: Kind, words: &Spoken) -> Vec<Message<'static>> {
    let (event, day) = (words.head, words.when);
    let gap =
        "nobody current for cutter (Halyard, Petrel); 2 people for 3 places, chest, hips, legs: Ana, Constantinos";
    let who = "Ana, Priya, Constantinos, Beth and Rosalinda";
    let skill = "face mask with the release tool";
    match kind {
        Kind::DrillRecorded => vec![
            Message::DrillRecorded {
                skill,
                day,
                who,
                seconds: Some("205"),
                failed: Some("180"),
                slower: Some("45"),
                next: Some(event),
                gap: Some(gap),
            },
            Message::DrillRecorded {
                skill,
                day,
                who,
                seconds: None,
                failed: None,
                slower: None,
                next: Some(event),
                gap: None,
            },
            Message::DrillRecorded {
                skill,
                day,
                who,
                seconds: None,
                failed: None,
                slower: None,
                next: None,
                gap: None,
            },
        ],
        Kind::DrillUndone => [Some("face mask with the release tool, Thu Sep 24"), None]
            .map(|drill| Message::DrillUndone { drill })
            .to_vec(),
        Kind::DrillAsk => {
            vec![Message::DrillAsk { what: "on which helmets? name a model: Bosun, Halyard, Petrel, Tern" }]
        }
        Kind::CoverageGap => {
            let drill = "Constantinos and Rosalinda, face mask with the cutter on quarter-turn clips; Beth, log roll";
            let full = |people_short| Message::CoverageGap {
                event,
                gap,
                away: Some("Ana"),
                drill: Some(drill),
                day: Some(day),
                bring: Some("the cutter with a mask to cut"),
                people_short,
            };
            let bare = |drill, people_short| Message::CoverageGap {
                event,
                gap,
                away: None,
                drill,
                day: None,
                bring: None,
                people_short,
            };
            vec![full(0), full(2), bare(Some(drill), 0), bare(None, 1)]
        }
        Kind::CoverageFine => vec![Message::CoverageFine { event }],
        Kind::RehearsalDue => vec![
            Message::RehearsalDue { last: Some(day), by: Some(day) },
            Message::RehearsalDue { last: None, by: None },
        ],
        Kind::TimeOut => {
            let who = "head and neck Ana, mask with the tool Constantinos, cutter Rosalinda, chest Beth, hips Grady, calling 911 Denise";
            let full = Message::TimeOut {
                program: Some(PROGRAM),
                event,
                who,
                empty: Some("cutter, legs"),
                place: Some("Larkspur Stadium"),
                address: Some("400 Kestrel Way, Larkspur Valley"),
                entrance: Some("north gate from Kestrel Way"),
                aed: Some("home tunnel, left wall"),
                kit: Some("home bench"),
                hospital: Some("Larkspur County Hospital"),
            };
            let bare = Message::TimeOut {
                program: None,
                event,
                who,
                empty: None,
                place: None,
                address: None,
                entrance: None,
                aed: None,
                kit: None,
                hospital: None,
            };
            vec![full, bare]
        }
        Kind::Away => vec![
            Message::Away { who: CONTACT, days: day, back: false, next: Some(event), gap: Some(gap) },
            Message::Away { who: CONTACT, days: day, back: false, next: None, gap: None },
            Message::Away { who: CONTACT, days: day, back: true, next: None, gap: None },
        ],
        _ => Vec::new(),
    }
}

/// What is said of helmets over the years.
fn clearance_samples(kind: Kind, words: &Spoken) -> Vec<Message<'static>> {
    let (who, page) = (WHO, Some("https://browline.example.org/board/clearance"));
    let contact = Some(("Ana Delgado", "312-555-0101"));
    let names = Some("#12 Constantinos, #7 Jo, #31 Mateo, #55 Ivan, #63 Noah");
    let what = "aerobic exercise: light, to about 55 % of the greatest heart rate, then moderate, to about 70 %; light resistance work";
    match kind {
        Kind::CourseNoted => [Some("Step 3 from 3:30 pm tomorrow at the soonest."), None]
            .map(|next| Message::CourseNoted {
                who,
                what: "step 2, recorded by Ana, sooner than the steps allow",
                next,
            })
            .to_vec(),
        Kind::StepDue => [(true, false), (false, false), (false, true)]
            .map(|(lacks, last)| Message::StepDue { who, step: 2, what, lacks, last, reply: "12 step 2", page })
            .to_vec(),
        Kind::CourseMissing => vec![Message::CourseMissing { who, since: words.when, page }],
        Kind::NotRecorded => vec![Message::NotRecorded {
            who,
            why: "step 4 needs a licensed clinician's determination on file: what it is, its date, and where it is kept",
        }],
        Kind::SecondAsked => vec![Message::SecondAsked { who, by: "Ana", page }],
        Kind::CheckInAsk => [contact, None]
            .map(|contact| Message::CheckInAsk {
                first: FIRST,
                contact: contact.map(|(name, _)| name),
                contact_phone: contact.map(|(_, phone)| phone),
            })
            .to_vec(),
        Kind::CheckInNoted => [true, false]
            .map(|well| Message::CheckInNoted { first: FIRST, contact: contact.map(|(name, _)| name), well })
            .to_vec(),
        Kind::CheckInSummary => {
            vec![Message::CheckInSummary { well: names, symptoms: names, unclear: names, silent: names }]
        }
        _ => [Some("Ana Delgado"), None].map(|contact| Message::Cleared { first: FIRST, contact }).to_vec(),
    }
}

fn helmet_samples(kind: Kind, words: &Spoken) -> Vec<Message<'static>> {
    let (day, by) = (words.when, Some(words.when));
    let tags = "LV-001, LV-003, LV-005 to LV-012, LV-014, LV-016, LV-018, LV-020 to LV-024, LV-026, LV-028, LV-030, LV-032 and 47 more";
    let (tag, who) = ("LV-012", WHO);
    match kind {
        Kind::ShipBy => [(73, true, by), (1, false, None), (73, false, by)]
            .map(|(count, late, pack)| Message::ShipBy { count, tags, by: day, pack, late })
            .to_vec(),
        Kind::NotBack => [1, 73].map(|count| Message::NotBack { count, tags, day }).to_vec(),
        Kind::CertificationEnds => [1, 73].map(|count| Message::CertificationEnds { count, tags, first: day }).to_vec(),
        Kind::HelmetsShipped => [(73, 12, by), (1, 0, None), (2, 1, None)]
            .map(|(count, left, by)| Message::HelmetsShipped { count, tags, expected: day, left, by })
            .to_vec(),
        Kind::HelmetsBack => [(73, Some(tags)), (1, None)]
            .map(|(count, still)| Message::HelmetsBack { count, tags, still, example: tag })
            .to_vec(),
        Kind::HelmetsStatus => [(Some(tags), by), (None, None)]
            .map(|(some, by)| Message::HelmetsStatus { count: 73, worn_out: some, away: some, to_go: some, by })
            .to_vec(),
        Kind::HelmetAsk => {
            vec![Message::HelmetAsk {
                what: "LV-012 is no longer certified since Jan 16 2027.",
                example: "h24 to jonah vega",
            }]
        }
        Kind::HelmetFailed => {
            [Some(who), None].map(|who| Message::HelmetFailed { tag, why: "crack at the ear hole", who }).to_vec()
        }
        Kind::HelmetRecertified => {
            [Some("2028-07-20"), None].map(|until| Message::HelmetRecertified { tag, until }).to_vec()
        }
        Kind::HelmetMarked => vec![Message::HelmetMarked { tag, mark: "scuffed crown, chip at the left jaw" }],
        Kind::HelmetSpare => [Some(who), None].map(|who| Message::HelmetSpare { tag, who }).to_vec(),
        Kind::HelmetIssued => [(Some("XL"), Some("M")), (None, None)]
            .map(|(needs, size)| Message::HelmetIssued { tag, who, needs, size })
            .to_vec(),
        _ => Vec::new(),
    }
}

/// What is said of kits and orders.
fn kit_samples(kind: Kind, words: &Spoken) -> Vec<Message<'static>> {
    let (kit, id, event, day) = ("Kit 2 (Away kit)", "2", Some(words.head), words.when);
    let items = "long needle 1, short needle 2, needle lubricant 0, release tool 1, cross screwdriver 1, high chin strap 12, T-nut \
                 screw 8, quarter-turn clip 6, loop strap 3, mask clip 4 and 8 more";
    let below = Some("long needle 1 of 3, needle lubricant 0 of 2, high chin strap 1 of 4 and 5 more");
    let lacks = Some("9 Halyard and 12 Tern helmets and no needle lubricant; no cutter");
    match kind {
        Kind::KitPrompt => {
            [(false, None, lacks), (true, None, None), (false, Some(CONTACT), lacks), (false, None, None)]
                .map(|(again, late, lacks)| Message::KitPrompt {
                    kit,
                    id,
                    items,
                    item: "quarter-turn clip",
                    again,
                    late,
                    lacks,
                    event,
                })
                .to_vec()
        }
        Kind::KitNoted => {
            [(Some(items), true, below, lacks), (Some(items), false, None, None), (None, true, None, None)]
                .map(|(items, all, below, lacks)| Message::KitNoted { kit, items, all, below, lacks, event })
                .to_vec()
        }
        Kind::KitStatus => [(below, lacks), (None, None)]
            .map(|(below, lacks)| Message::KitStatus { kit, items, below, lacks, event })
            .to_vec(),
        Kind::KitAsk => vec![Message::KitAsk {
            what: "which strap? high chin strap, low chin strap or loop strap.",
            example: "kit 2 glycerine 1 straps 4",
        }],
        Kind::KitLacks => [(Some("kits 1 and 2 go"), lacks), (None, None)]
            .map(|(kits, needs)| Message::KitLacks {
                kits,
                event: words.head,
                needs,
                elsewhere: Some("long needle (kit room), cutter (kit 1)"),
            })
            .to_vec(),
        Kind::KitExpires => [true, false]
            .map(|past| Message::KitExpires {
                kit,
                id,
                items: "needle lubricant, needle lubricant spare",
                item: "needle lubricant",
                day,
                past,
            })
            .to_vec(),
        Kind::OrderList => {
            [(Some(items), Some("20 high chin strap")), (None, Some("20 high chin strap")), (Some(items), None)]
                .map(|(items, late)| Message::OrderList { items, late, example: "ordered 20 high straps" })
                .to_vec()
        }
        Kind::OrderNoted => {
            [true, false].map(|came| Message::OrderNoted { items: "20 high chin strap, 4 pump", came, kit }).to_vec()
        }
        _ => Vec::new(),
    }
}

/// What staff hear of each other's work.
fn shared_samples(kind: Kind) -> Vec<Message<'static>> {
    let who = WHO;
    let (all, none) = (Helmet(all_flags()), Helmet(Flags::NONE));
    match kind {
        Kind::ItemHas => [(Some(CONTACT), true), (Some(CONTACT), false), (None, true), (None, false)]
            .map(|(by, done)| Message::ItemHas { who, by, done })
            .to_vec(),
        Kind::ItemStatus => [(Some(CONTACT), Some("T-0142"), all), (None, None, none)]
            .map(|(by, helmet, flags)| Message::ItemStatus { who, helmet, flags, by, note: Some("needs new helmet") })
            .to_vec(),
        Kind::HandedOn => [(Some("T-0142"), all), (None, none)]
            .map(|(helmet, flags)| Message::HandedOn { who, helmet, flags, from: CONTACT })
            .to_vec(),
        Kind::ItemHanded => [Some(CONTACT), None].map(|to| Message::ItemHanded { who, to }).to_vec(),
        Kind::ItemHeld => [true, false].map(|body| Message::ItemHeld { who, body }).to_vec(),
        Kind::WhatMeant => {
            [Some("gm coach its like kinda whatever the thing on the side does the thing again lol"), None]
                .map(|words| Message::WhatMeant { who, words: words.map(Typed), reply: "Constantinos" })
                .to_vec()
        }
        Kind::Meant => [(all, true), (all, false), (none, true), (none, false)]
            .map(|(flags, body)| Message::Meant { who, flags, body })
            .to_vec(),
        _ => Vec::new(),
    }
}

fn alert_samples(words: &Spoken) -> Vec<Message<'static>> {
    let time = words.clock;
    let alert = |typed: Option<&'static str>, red_flag, attempt, phone, what| Message::BodyAlert {
        who: WHO,
        team: TEAM,
        time,
        what: Body(what),
        words: typed.map(Typed),
        red_flag,
        attempt,
        phone,
        reply: REPLY,
    };
    let long = "coach my head has been hurting since the scrimmage yesterday and the light in first period \
                makes it worse, i threw up before school and again on the bus, also my neck is stiff, should i \
                still come to lift or what, my mom says ask you first, i also left my helmet at the field house";
    let phone = Some("312-555-0103");
    vec![
        alert(Some(long), true, Attempt::Everyone, phone, all_flags()),
        alert(Some("me duele la cabeza 🤕"), false, Attempt::Again, None, all_flags()),
        alert(Some("no me siento bien"), false, Attempt::Second, phone, Flags::NONE),
        alert(None, false, Attempt::First, phone, Flags::NONE),
    ]
}

fn staff_help_samples() -> Vec<Message<'static>> {
    let help = |equipment, trainer, coach| Message::StaffHelp {
        program: PROGRAM,
        contact: CONTACT,
        contact_phone: CONTACT_PHONE,
        equipment,
        trainer,
        coach,
    };
    vec![
        help(true, true, true),
        help(true, false, false),
        help(false, true, false),
        help(false, false, true),
        help(false, false, false),
    ]
}

fn fix_added_samples(event: &'static str) -> Vec<Message<'static>> {
    let added = |helmet, flags| Message::FixAdded { event, who: WHO, helmet, flags: Helmet(flags), reply: REPLY };
    vec![added(Some("T-0142"), all_flags()), added(None, Flags::NONE)]
}
