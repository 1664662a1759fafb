//! Rendering and the difference between what stands and what is wanted, without database or network.

use std::sync::LazyLock;

use super::outcome::{ChatReport, Handed, outcome};
use super::plan::{changes, nonce};
use super::{render, tag};
use crate::channel::chat::press::Press;
use crate::channel::chat::rest::Taken;
use crate::channel::chat::{ChatRefused, Control, Post};
use crate::config::{Chat, Config, Program, Show};
use crate::desk::scene::Scene;
use crate::store::chat::{ChatPost, ChatState, PostState};
use crate::store::rows::ProgramRow;
use crate::trade::flag::{Flag, Flags};
use crate::trade::phone::Phone;
use crate::trade::queue::{HoldKind, Item, ItemState, NOT_UNDERSTOOD, Queue};
use crate::trade::roster::{
    Athlete, AthleteId, Helmet, HelmetTag, Language, ProgramId, Role, StaffId, StaffMember, TeamId,
};
use crate::trade::time::Moment;
use crate::wording::Wording;

const CONFIG: &str = r#"
[server]
public_url = "https://kestrels.example"
[programs.larkspur]
name = "Larkspur Valley Kestrels"
zone = "America/Chicago"
number = "+1 312 555 0100"
contact = "Ana"
contact_phone = "+1 312 555 0101"
[programs.larkspur.chat]
guild = "110000000000000001"
equipment = "120000000000000001"
medical = "120000000000000002"
contact = "120000000000000003"
[programs.larkspur.teams.varsity]
name = "Varsity"
"#;

static SETTINGS: LazyLock<(Config, Wording)> =
    LazyLock::new(|| (Config::parse("test.toml", CONFIG, |_| None).unwrap(), Wording::embedded()));

fn program() -> &'static Program {
    &SETTINGS.0.programs[&ProgramId::from("larkspur")]
}

fn chat() -> Chat {
    program().chat.clone().unwrap()
}

fn now() -> Moment {
    Moment::parse("2026-09-15T07:00:00-05:00").unwrap()
}

fn member(id: &str, first: &str, role: Role) -> StaffMember {
    StaffMember {
        program: program().id.clone(),
        id: StaffId::from(id),
        first: first.to_owned(),
        last: "Hart".to_owned(),
        phone: None,
        email: None,
        language: Language::En,
        roles: vec![role],
        teams: Vec::new(),
        duty: Vec::new(),
        hours: None,
        call_order: 1,
        active: true,
    }
}

fn scene() -> Scene<'static> {
    let head = ProgramRow { program: program().id.clone(), record_seq: 0, record_hash: String::new() };
    let mut scene = Scene::new(program(), &SETTINGS.1, now(), head);
    scene.staff = vec![
        member("cole", "Cole", Role::Equipment),
        member("ana", "Ana", Role::Trainer),
        member("dane", "Dane", Role::Coach),
    ];
    let id = AthleteId::from("a1");
    let athlete = Athlete {
        program: program().id.clone(),
        id: id.clone(),
        team: TeamId::from("varsity"),
        jersey: Some("12".to_owned()),
        first: "Jo*nah".to_owned(),
        last: "Reyes".to_owned(),
        born: None,
        language: Language::En,
        phone: Some(Phone::parse("+13125550110").unwrap()),
        head_mm: None,
        active: true,
    };
    let helmet = Helmet {
        program: program().id.clone(),
        tag: HelmetTag::from("LV-012"),
        model: "Tern".to_owned(),
        size: Some("L".to_owned()),
        serial: None,
        athlete: Some(id.clone()),
        made: None,
        recertified: None,
        marks: Vec::new(),
        failed: None,
        shipped: None,
        promised: None,
        issued_at: None,
        notes: None,
    };
    scene.at_phone.insert(athlete.phone.clone().unwrap(), vec![id.clone()]);
    scene.athletes.insert(id.clone(), athlete);
    scene.helmets.insert(id, helmet);
    scene
}

fn item(scene: &mut Scene<'_>, queue: Queue, flags: &[Flag]) -> Item {
    let athlete = AthleteId::from("a1");
    let mut item = scene.item(queue, athlete.as_str(), Some(&athlete));
    item.flags = flags.iter().copied().collect::<Flags>();
    item.replies = vec!["my head hurts and the strap is broken".to_owned()];
    item.due_at = Some(Moment::parse("2026-09-15T14:45:00-05:00").unwrap());
    item
}

fn text(scene: &Scene<'_>, item: &Item) -> String {
    render::item(scene, &chat(), item, "t").text
}

fn ids(post: &Post) -> Vec<Press> {
    post.rows
        .iter()
        .flatten()
        .filter_map(|control| match control {
            Control::Button { id, .. } | Control::Menu { id, .. } => Press::read(id),
            Control::Link { .. } => None,
        })
        .collect()
}

#[test]
fn an_equipment_post_says_who_what_and_by_when() {
    let mut scene = scene();
    let mut item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    assert_eq!(
        text(&scene, &item),
        "**#12 Jo\\*nah** · Tern L · LV-012 · Varsity\nfront edge height\nfix by 2:45 pm\nopen"
    );
    item.due_at = Some(Moment::parse("2026-09-16T14:45:00-05:00").unwrap());
    assert!(text(&scene, &item).contains("fix by tomorrow at 2:45 pm"));
    item.flags = [Flag::Strap].into_iter().collect();
    item.state = ItemState::Taken;
    item.taken_by = Some(StaffId::from("cole"));
    assert!(text(&scene, &item).contains("chin strap; not to be worn until staff have checked it"));
    assert!(text(&scene, &item).ends_with("taken by Cole"));
    let mut chat = chat();
    chat.language = Language::Es;
    assert!(render::item(&scene, &chat, &item, "t").text.contains("correa del barbijo"));
}

#[test]
fn no_post_holds_what_was_typed_or_a_word_of_the_body() {
    for queue in [Queue::Equipment, Queue::Medical, Queue::Contact] {
        for state in [ItemState::Open, ItemState::Taken, ItemState::Closed] {
            for about in ["needs to see someone, his head hurts", "wrote more that was not understood", "opted out"] {
                let mut scene = scene();
                let mut item = item(&mut scene, queue, &[Flag::Symptom, Flag::Strap, Flag::Illness]);
                item.about = Some(about.to_owned());
                item.done = Some("sent to the trainer, concussion".to_owned());
                item.state = state;
                let wire = render::item(&scene, &chat(), &item, "t").wire().to_string();
                for word in ["head", "hurt", "concussion", "ill", "opted", "broken"] {
                    // "illness" and not "will".
                    let found = wire.split(|c: char| !c.is_alphabetic()).any(|part| part == word);
                    assert!(!found, "`{word}` in {queue:?} {state:?}: {wire}");
                }
            }
        }
    }
}

#[test]
fn the_medical_post_names_nobody_and_has_no_button_but_the_page() {
    let mut scene = scene();
    let item = item(&mut scene, Queue::Medical, &[Flag::Symptom]);
    let post = render::item(&scene, &chat(), &item, "t");
    assert_eq!(post.text, "A body report is waiting.");
    assert_eq!(ids(&post), []);
    let wire = post.wire().to_string();
    assert!(wire.contains("https://kestrels.example/board/trainer"));
    assert!(!wire.contains("12") && !wire.contains("Jo"));
    let nowhere = Chat { trainer_page: None, ..chat() };
    assert!(render::item(&scene, &nowhere, &item, "t").rows.is_empty());
}

#[test]
fn an_athlete_is_shown_as_the_settings_say() {
    let mut scene = scene();
    let id = AthleteId::from("a1");
    let jersey = Chat { show: Show::Jersey, ..chat() };
    assert_eq!(render::shown(&scene, &jersey, &id), "#12");
    scene.athletes.get_mut(&id).unwrap().jersey = None;
    assert_eq!(render::shown(&scene, &jersey, &id), "an athlete without a number");
    assert_eq!(render::shown(&scene, &chat(), &id), "Jo\\*nah");
    assert_eq!(render::shown(&scene, &chat(), &AthleteId::from("gone")), "an athlete without a number");
}

#[test]
fn controls_are_those_that_make_sense() {
    let mut scene = scene();
    let mut item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    let t = || "t".to_owned();
    let all = [Press::Take(t()), Press::Hold(t()), Press::Fixed(t()), Press::Hand(t())];
    assert_eq!(ids(&render::item(&scene, &chat(), &item, "t")), all);
    item.state = ItemState::Taken;
    item.taken_by = Some(StaffId::from("cole"));
    scene.hold(&AthleteId::from("a1"), HoldKind::Equipment, "staff cole", None);
    let post = render::item(&scene, &chat(), &item, "t");
    assert_eq!(ids(&post), [Press::Fixed(t()), Press::Hand(t())], "taken, and held already");
    let Some([Control::Menu { choices, .. }]) = post.rows.last().map(Vec::as_slice) else { panic!("{post:?}") };
    let to: Vec<&str> = choices.iter().map(|(value, _)| value.as_str()).collect();
    assert_eq!(to, [render::OPEN, "ana"], "not to a coach, and not to the one who has it");
    item.state = ItemState::Closed;
    assert_eq!(ids(&render::item(&scene, &chat(), &item, "t")), []);
}

#[test]
fn what_waits_to_be_understood_says_so() {
    let mut scene = scene();
    let mut item = item(&mut scene, Queue::Equipment, &[]);
    item.about = Some(NOT_UNDERSTOOD.to_owned());
    assert!(text(&scene, &item).contains("look at it; an answer was not understood"));
    item.about = Some("needs new helmet".to_owned());
    assert!(text(&scene, &item).contains("needs new helmet"));
}

#[test]
fn a_contact_post_names_those_who_share_the_number() {
    let mut scene = scene();
    let mut item = scene.item(Queue::Contact, "+13125550110", None);
    item.about = Some("#12 Jonah: opted out of texts: check by hand".to_owned());
    assert_eq!(text(&scene, &item), "Somebody has to be reached: **#12 Jo\\*nah**\nopen");
    let unknown = scene.item(Queue::Contact, "+13125550177", None);
    assert!(text(&scene, &unknown).contains("an unknown number"));
}

/// The rows as they would be after these changes were posted.
fn posted(rows: Vec<ChatPost>) -> Vec<ChatPost> {
    rows.into_iter()
        .map(|row| ChatPost {
            state: PostState::Posted,
            posted_hash: Some(row.hash.clone()),
            message_id: Some("1".to_owned()),
            ..row
        })
        .collect()
}

#[test]
fn only_what_looks_different_is_changed_and_what_is_done_rests() {
    let (mut scene, chat) = (scene(), chat());
    let mut item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    scene.items.put(item.id.clone(), item.clone());
    let new = changes(&scene, &chat, &[]);
    assert_eq!((new.len(), new[0].state, new[0].channel.as_deref()), (1, PostState::Due, Some("120000000000000001")));
    assert_eq!(changes(&scene, &chat, &new), [], "it waits already");
    let stands = posted(new);
    assert_eq!(changes(&scene, &chat, &stands), []);
    // What does not show does not matter.
    item.replies.push("again".to_owned());
    scene.items.put(item.id.clone(), item.clone());
    assert_eq!(changes(&scene, &chat, &stands), []);
    item.flags = [Flag::Strap].into_iter().collect();
    scene.items.put(item.id.clone(), item.clone());
    let [edit] = changes(&scene, &chat, &stands).try_into().unwrap();
    assert_eq!((edit.state, edit.message_id.as_deref(), edit.live), (PostState::Due, Some("1"), true));
    item.state = ItemState::Closed;
    scene.items.put(item.id.clone(), item.clone());
    let stands = posted(changes(&scene, &chat, &stands));
    let rests = changes(&scene, &chat, &stands);
    assert_eq!((rests.len(), rests[0].live, rests[0].state), (1, false, PostState::Posted));
}

#[test]
fn a_claimed_post_is_left_to_its_worker_and_a_refused_one_waits_for_a_change() {
    let (mut scene, chat) = (scene(), chat());
    let mut item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    scene.items.put(item.id.clone(), item.clone());
    let new = changes(&scene, &chat, &[]);
    let state = |state| new.iter().cloned().map(|row| ChatPost { state, attempts: 1, ..row }).collect::<Vec<_>>();
    assert_eq!(changes(&scene, &chat, &state(PostState::Claimed)), []);
    assert_eq!(changes(&scene, &chat, &state(PostState::Failed)), []);
    item.flags = [Flag::Strap].into_iter().collect();
    scene.items.put(item.id.clone(), item);
    assert_eq!(changes(&scene, &chat, &state(PostState::Claimed))[0].state, PostState::Claimed);
    assert_eq!(changes(&scene, &chat, &state(PostState::Failed))[0].state, PostState::Due);
}

#[test]
fn closed_before_it_was_posted_is_dropped_unless_it_may_stand_there() {
    let (mut scene, chat) = (scene(), chat());
    let mut item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    scene.items.put(item.id.clone(), item.clone());
    let new = changes(&scene, &chat, &[]);
    item.state = ItemState::Closed;
    scene.items.put(item.id.clone(), item);
    let dropped = changes(&scene, &chat, &new);
    assert_eq!((dropped[0].state, dropped[0].live), (PostState::Cancelled, false));
    let tried: Vec<ChatPost> = new.into_iter().map(|row| ChatPost { attempts: 1, ..row }).collect();
    let kept = changes(&scene, &chat, &tried);
    assert_eq!((kept[0].state, kept[0].live), (PostState::Due, true), "its answer may have been lost");
    assert_eq!(changes(&scene, &chat, &[]), [], "what was closed before is no news");
}

#[test]
fn a_queue_that_moves_to_another_channel_is_posted_there() {
    let (mut scene, chat) = (scene(), chat());
    let item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    scene.items.put(item.id.clone(), item);
    let stands = posted(changes(&scene, &chat, &[]));
    let moved = Chat { equipment: "120000000000000009".to_owned(), ..chat };
    let [row] = changes(&scene, &moved, &stands).try_into().unwrap();
    let row: ChatPost = row;
    assert_eq!((row.state, row.message_id.as_deref()), (PostState::Due, None));
    assert_ne!(nonce(&row), nonce(&stands[0]), "it is another post");
}

#[test]
fn tags_and_nonces_are_short_and_each_its_own() {
    let id = ProgramId::from("larkspur");
    assert_ne!(tag(&id, "equipment/a1/2026-09-15"), tag(&id, "equipment/a2/2026-09-15"));
    assert_ne!(tag(&id, "x"), tag(&ProgramId::from("other"), "x"));
    assert_eq!(tag(&id, "x").len(), 16);
    let mut scene = scene();
    let item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    scene.items.put(item.id.clone(), item);
    let row = changes(&scene, &chat(), &[]).remove(0);
    assert!(nonce(&row).len() <= 25);
}

/// A post under lease for the second time, and what a hand-over made of it: state, seconds until it is tried again, and
/// the platform's state for the program.
fn handed(handed: &Handed) -> (ChatPost, i64, ChatState) {
    let mut scene = scene();
    let item = item(&mut scene, Queue::Equipment, &[Flag::Brow]);
    scene.items.put(item.id.clone(), item);
    let claimed = ChatPost {
        state: PostState::Claimed,
        attempts: 2,
        message_id: Some("1".to_owned()),
        ..changes(&scene, &chat(), &[]).remove(0)
    };
    let mut row = claimed.clone();
    let zero = Moment::from_millis(0);
    let mut state = ChatState {
        program: row.program.clone(),
        next_free_at: zero,
        halted_at: None,
        halted_why: None,
        gateway: None,
        gateway_at: None,
    };
    outcome(&mut row, &claimed, handed, &mut state, now(), &mut ChatReport::default());
    let wait = row.due_at.since(now()).num_seconds();
    (row, wait, state)
}

#[test]
fn each_refusal_has_its_consequence() {
    let after = std::time::Duration::from_secs(20);
    let why = || "x".to_owned();
    let table = [
        (ChatRefused::Later { after, everywhere: false }, PostState::Due, 20, 1),
        (ChatRefused::Unreached { why: why() }, PostState::Due, 4, 2),
        (ChatRefused::InDoubt { why: why() }, PostState::Due, 4, 2),
        (ChatRefused::Place { code: 10_003, why: why() }, PostState::Due, 4, 2),
        (ChatRefused::GonePost, PostState::Due, 0, 0),
        (ChatRefused::Everything { why: why() }, PostState::Due, 300, 1),
        (ChatRefused::Request { code: 50_035, why: why() }, PostState::Failed, 0, 2),
        (ChatRefused::Person { code: 50_007, why: why() }, PostState::Failed, 0, 2),
    ];
    for (refused, expected, wait, attempts) in table {
        let (row, waits, _) = handed(&Handed::Refused(refused.clone()));
        assert_eq!((row.state, waits, row.attempts), (expected, wait, attempts), "{refused:?}");
    }
    let (row, _, _) = handed(&Handed::Refused(ChatRefused::GonePost));
    assert_eq!((row.message_id, row.generation), (None, 1), "it is made anew");
    let (_, _, state) = handed(&Handed::Refused(ChatRefused::Later { after, everywhere: true }));
    assert_eq!(state.next_free_at.since(now()).num_seconds(), 20);
    let (_, _, state) = handed(&Handed::Refused(ChatRefused::Everything { why: why() }));
    assert!(state.halted_at.is_some());
    let taken = Taken { id: "2".to_owned(), pause: None };
    let (row, _, _) = handed(&Handed::Taken { taken, channel: "c".to_owned() });
    assert_eq!((row.state, row.attempts, row.message_id.as_deref()), (PostState::Posted, 0, Some("2")));
}
