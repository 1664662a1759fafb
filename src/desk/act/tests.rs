//! Decisions on a scene, without a database.

use std::sync::LazyLock;

use super::*;
use crate::config::Config;
use crate::store::rows::ProgramRow;
use crate::trade::flag::Flag;
use crate::trade::morning::MorningCheck;
use crate::trade::queue::{HoldKind, ItemState, NOT_UNDERSTOOD};
use crate::trade::roster::{Language, ProgramId, TeamId};
use crate::trade::time::Moment;
use crate::wording::Wording;

const CONFIG: &str = r#"
[carrier]
segments_per_second = 0.0
[programs.larkspur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "+1 312 555 0100"
contact = "Ana"
contact_phone = "+1 312 555 0101"
[programs.larkspur.teams.varsity]
name = "Varsity"
[programs.larkspur.teams.jv]
name = "JV"
"#;

static SETTINGS: LazyLock<(Config, Wording)> =
    LazyLock::new(|| (Config::parse("test.toml", CONFIG, |_| None).unwrap(), Wording::embedded()));

fn now() -> Moment {
    Moment::parse("2026-09-15T14:00:00-05:00").unwrap()
}

fn member(id: &str, first: &str, role: Role, order: i64) -> StaffMember {
    StaffMember {
        program: ProgramId::from("larkspur"),
        id: StaffId::from(id),
        first: first.to_owned(),
        last: "Hart".to_owned(),
        phone: Some(Phone::parse(&format!("+1312555013{order}")).unwrap()),
        email: None,
        language: Language::En,
        roles: vec![role],
        teams: Vec::new(),
        duty: Vec::new(),
        hours: None,
        call_order: order,
        active: true,
    }
}

/// Cole and Ben for helmets, Ana and Tess for bodies, Dane coaches; Marcus was asked this morning.
fn scene() -> Scene<'static> {
    let (config, wording) = &*SETTINGS;
    let program = &config.programs[&ProgramId::from("larkspur")];
    let head = ProgramRow { program: program.id.clone(), record_seq: 0, record_hash: String::new() };
    let mut scene = Scene::new(program, wording, now(), head);
    scene.staff = vec![
        member("cole", "Cole", Role::Equipment, 1),
        member("ben", "Ben", Role::Equipment, 2),
        member("ana", "Ana", Role::Trainer, 3),
        member("tess", "Tess", Role::Trainer, 4),
        member("dane", "Dane", Role::Coach, 5),
    ];
    let marcus = Athlete {
        program: program.id.clone(),
        id: AthleteId::from("a4"),
        team: TeamId::from("varsity"),
        jersey: Some("7".to_owned()),
        first: "Marcus".to_owned(),
        last: "Bell".to_owned(),
        born: None,
        language: Language::En,
        phone: Some(Phone::parse("+13125550112").unwrap()),
        head_mm: None,
        active: true,
    };
    let check = MorningCheck {
        program: program.id.clone(),
        date: scene.today,
        athlete: marcus.id.clone(),
        team: marcus.team.clone(),
        event: EventId::from("p15"),
        phone: marcus.phone.clone(),
        state: CheckState::Unclear,
        by_hand: None,
        flags: Flags::NONE,
        asked_again: true,
        answered_at: None,
        last_text: None,
        last_text_at: None,
    };
    scene.checks.load([((marcus.id.clone(), check.date), check)]);
    scene.athletes.insert(marcus.id.clone(), marcus);
    scene
}

fn put(scene: &mut Scene<'_>, queue: Queue, change: impl FnOnce(&mut Item)) -> String {
    let mut item = scene.item(queue, "a4", Some(&AthleteId::from("a4")));
    change(&mut item);
    let id = item.id.clone();
    scene.items.put(id.clone(), item);
    id
}

fn strap(scene: &mut Scene<'_>) -> String {
    put(scene, Queue::Equipment, |item| item.flags.insert(Flag::Strap))
}

fn by(scene: &mut Scene<'_>, who: &str, key: &str, action: &Action) -> Outcome {
    let member = scene.staff.iter().find(|member| member.id.as_str() == who).unwrap().clone();
    act(scene, &By { member: &member, via: Via::Board, key }, action)
}

fn sent(scene: &Scene<'_>, kind: &str) -> usize {
    scene.out.iter().filter(|message| message.id.starts_with(&format!("{kind}/"))).count()
}

fn marcus() -> AthleteId {
    AthleteId::from("a4")
}

#[test]
fn what_one_has_taken_another_does_not_take_but_is_handed() {
    let mut scene = scene();
    let item = strap(&mut scene);
    let take = Action::Take { item: item.clone() };
    assert!(by(&mut scene, "cole", "k1", &take).is_done());
    let has = Outcome::AlreadyDone { who: "#7 Marcus".into(), by: Some("Cole".into()) };
    assert_eq!(by(&mut scene, "ben", "k2", &take), has);
    let to_ben = Action::HandOn { item: item.clone(), to: HandTo::Staff(StaffId::from("ben")) };
    assert!(by(&mut scene, "cole", "k3", &to_ben).is_done());
    assert_eq!(scene.items.get(&item).unwrap().taken_by, Some(StaffId::from("ben")));
    assert_eq!(sent(&scene, "handed"), 1, "Ben hears of it");
    let to_dane = Action::HandOn { item: item.clone(), to: HandTo::Staff(StaffId::from("dane")) };
    assert_eq!(by(&mut scene, "ben", "k4", &to_dane), Outcome::NotAllowed, "a coach fixes no helmet");
    let open = Action::HandOn { item: item.clone(), to: HandTo::Open };
    assert!(by(&mut scene, "ben", "k5", &open).is_done());
    assert_eq!(scene.items.get(&item).unwrap().state, ItemState::Open);
    assert!(scene.record.iter().all(|line| line.message.as_deref().unwrap_or_default().starts_with("board:")));
}

#[test]
fn a_fix_ends_the_equipment_hold_once() {
    let mut scene = scene();
    let item = strap(&mut scene);
    scene.hold(&marcus(), HoldKind::Equipment, "athlete a4", None);
    let done = Action::Done { item: item.clone(), what: Some("new strap".into()) };
    assert!(by(&mut scene, "cole", "k1", &done).is_done());
    assert_eq!(scene.holds_on(&marcus()).count(), 0);
    assert_eq!(sent(&scene, "fixed"), 1);
    let lines = scene.record.len();
    let again = Outcome::AlreadyDone { who: "#7 Marcus".into(), by: Some("Cole".into()) };
    assert_eq!(by(&mut scene, "ben", "k2", &done), again);
    assert_eq!((sent(&scene, "fixed"), scene.record.len()), (1, lines), "nothing is done twice");
}

#[test]
fn no_action_ends_a_medical_hold() {
    let mut scene = scene();
    let item = put(&mut scene, Queue::Medical, |item| item.flags.insert(Flag::Symptom));
    scene.hold(&marcus(), HoldKind::Medical, "athlete a4", None);
    for action in [
        Action::MayGo { item: item.clone() },
        Action::Done { item: item.clone(), what: None },
        Action::Take { item: item.clone() },
        Action::Needs { item: item.clone(), what: "rest".into() },
        Action::HandOn { item: item.clone(), to: HandTo::Open },
        Action::Interpret { item: item.clone(), reading: Meant::AllClear },
        Action::HoldTrainer { athlete: marcus() },
        Action::HoldEquipment { athlete: marcus() },
    ] {
        for who in ["ana", "cole", "dane"] {
            by(&mut scene, who, "k", &action);
            assert!(scene.holds_on(&marcus()).any(|hold| hold.kind == HoldKind::Medical), "{who}: {action:?}");
            assert!(scene.items.get(&item).unwrap().is_open(), "{who}: {action:?}");
        }
    }
    assert!(scene.holds_on(&marcus()).all(|hold| hold.kind != HoldKind::Trainer), "the graver hold stands alone");
}

#[test]
fn body_reports_are_the_trainers_alone() {
    let mut scene = scene();
    let item = put(&mut scene, Queue::Medical, |item| item.flags.insert(Flag::Illness));
    scene.hold(&marcus(), HoldKind::Trainer, "athlete a4", None);
    for who in ["cole", "dane"] {
        for action in [Action::Take { item: item.clone() }, Action::MayGo { item: item.clone() }] {
            assert_eq!(by(&mut scene, who, "k", &action), Outcome::NotAllowed);
        }
        assert_eq!(by(&mut scene, who, "k", &Action::HoldTrainer { athlete: marcus() }), Outcome::NotAllowed);
    }
    assert!(by(&mut scene, "ana", "k", &Action::MayGo { item }).is_done());
    assert_eq!(scene.holds_on(&marcus()).count(), 0);
}

#[test]
fn when_every_trainer_was_called_the_others_hear_who_has_it() {
    let mut scene = scene();
    let item = put(&mut scene, Queue::Medical, |item| {
        item.flags.insert(Flag::Symptom);
        item.alerts = 3;
    });
    assert!(by(&mut scene, "tess", "k", &Action::Take { item }).is_done());
    let told: Vec<&str> =
        scene.out.iter().filter(|out| out.id.starts_with("ack")).map(|out| out.phone.as_str()).collect();
    assert_eq!(told, ["+13125550133"], "Ana, and not Tess herself");
}

#[test]
fn a_hold_by_staff_makes_an_item_that_ends_it() {
    let mut scene = scene();
    assert!(by(&mut scene, "dane", "k1", &Action::HoldEquipment { athlete: marcus() }).is_done());
    assert_eq!(sent(&scene, "held"), 1);
    assert!(scene.out.iter().any(|out| out.body.contains("Do not wear it")));
    let item = scene.items.values().find(|item| item.queue == Queue::Equipment).unwrap().id.clone();
    assert!(by(&mut scene, "cole", "k2", &Action::Done { item, what: None }).is_done());
    assert_eq!(scene.holds_on(&marcus()).count(), 0);
    assert!(by(&mut scene, "ana", "k3", &Action::HoldTrainer { athlete: marcus() }).is_done());
    let item = scene.items.values().find(|item| item.queue == Queue::Medical).unwrap();
    assert_eq!((item.state, item.taken_by.as_ref().map(StaffId::as_str)), (ItemState::Taken, Some("ana")));
}

#[test]
fn what_staff_see_on_a_helmet_goes_the_way_of_a_reply() {
    let mut scene = scene();
    let strap: Flags = [Flag::Strap].into_iter().collect();
    let report = |flags| Action::Report { athlete: marcus(), flags };
    assert!(by(&mut scene, "cole", "k1", &report(strap)).is_done());
    let item = scene.items.values().find(|item| item.queue == Queue::Equipment).unwrap();
    assert!(item.flags.contains(Flag::Strap) && item.replies.is_empty());
    assert!(scene.holds_on(&marcus()).any(|hold| hold.kind == HoldKind::Equipment));
    assert!(scene.out.iter().any(|out| out.body.contains("Do not wear it")));
    // Another thing is added to it; a body flag is no helmet's.
    let brow: Flags = [Flag::Brow].into_iter().collect();
    assert!(by(&mut scene, "cole", "k2", &report(brow)).is_done());
    assert_eq!(scene.items.values().filter(|item| item.queue == Queue::Equipment).count(), 1);
    assert_eq!(by(&mut scene, "cole", "k3", &report([Flag::Symptom].into_iter().collect())), Outcome::NotFound);
}

fn unread(scene: &mut Scene<'_>, text: &str) -> String {
    put(scene, Queue::Equipment, |item| {
        item.about = Some(NOT_UNDERSTOOD.to_owned());
        item.replies.push(text.to_owned());
    })
}

#[test]
fn what_was_meant_is_acted_on_as_if_it_had_been_said_and_kept() {
    let mut scene = scene();
    let item = unread(&mut scene, "the clicky bit went brr");
    let strap: Flags = [Flag::Strap].into_iter().collect();
    let action = Action::Interpret { item: item.clone(), reading: Meant::Flags(strap) };
    assert!(by(&mut scene, "cole", "k1", &action).is_done());
    let open = scene.items.get(&item).unwrap();
    assert!(open.is_open() && open.flags == strap && open.about.is_none());
    assert!(scene.holds_on(&marcus()).any(|hold| hold.kind == HoldKind::Equipment));
    assert_eq!(scene.latest_check(&marcus()).unwrap().state, CheckState::Flagged);
    assert!(scene.out.iter().any(|out| out.body.contains("chin strap")), "he hears where to go");
    let kept = &scene.interpretations[0];
    assert_eq!((kept.text.as_str(), kept.flags), ("the clicky bit went brr", strap));
    assert_eq!(by(&mut scene, "ben", "k2", &action), Outcome::NotFound, "nothing unread is left");
    assert_eq!(scene.interpretations.len(), 1);
}

#[test]
fn a_body_word_goes_to_the_trainer_with_a_hold_and_leaves_the_fix_list() {
    let mut scene = scene();
    let item = unread(&mut scene, "everything kinda swimmy");
    let flags: Flags = [Flag::Symptom].into_iter().collect();
    let action = Action::Interpret { item: item.clone(), reading: Meant::Flags(flags) };
    assert!(by(&mut scene, "cole", "k1", &action).is_done());
    assert!(!scene.items.get(&item).unwrap().is_open());
    assert!(scene.holds_on(&marcus()).any(|hold| hold.kind == HoldKind::Medical));
    let medical = scene.items.values().find(|item| item.queue == Queue::Medical).unwrap();
    assert_eq!(medical.replies, ["everything kinda swimmy"]);
    assert_eq!((sent(&scene, "alert"), sent(&scene, "care")), (1, 1));
    assert!(scene.record.iter().all(|line| !line.why.contains("symptom")), "no medical word in the record's reason");
}

#[test]
fn fine_closes_what_was_unread_and_nothing_else() {
    let mut scene = scene();
    let item = unread(&mut scene, "we gucci fr");
    let fine = Action::Interpret { item: item.clone(), reading: Meant::AllClear };
    assert!(by(&mut scene, "ana", "k1", &fine).is_done());
    assert!(!scene.items.get(&item).unwrap().is_open());
    assert_eq!(scene.latest_check(&marcus()).unwrap().state, CheckState::Clear);
    // A flag from before stays, and so does a hold.
    let mut scene = self::scene();
    let item = strap(&mut scene);
    scene.hold(&marcus(), HoldKind::Equipment, "athlete a4", None);
    scene.items.change(&item, |item| {
        item.about = Some(crate::trade::queue::MORE_NOT_UNDERSTOOD.to_owned());
        item.replies.push("lol nvm".to_owned());
    });
    let fine = Action::Interpret { item: item.clone(), reading: Meant::AllClear };
    assert!(by(&mut scene, "ana", "k1", &fine).is_done());
    assert!(scene.items.get(&item).unwrap().is_open());
    assert!(scene.holds_on(&marcus()).any(|hold| hold.kind == HoldKind::Equipment));
    assert!(scene.out.is_empty(), "nobody is told that nothing is off");
}

#[test]
fn what_is_not_there_is_not_found() {
    let mut scene = scene();
    assert_eq!(by(&mut scene, "cole", "k", &Action::Take { item: "equipment/zz/2026".into() }), Outcome::NotFound);
    assert_eq!(by(&mut scene, "ana", "k", &Action::HoldTrainer { athlete: AthleteId::from("zz") }), Outcome::NotFound);
    assert_eq!(by(&mut scene, "ana", "k", &Action::CallOff { event: EventId::from("zz") }), Outcome::NotFound);
    assert!(scene.record.is_empty() && scene.out.is_empty());
}
