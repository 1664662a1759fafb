//! What a staff text does to items: whom it means, each done by [`act`](crate::desk::act::act), and what is answered.

use super::command::{Command, Hand, Holding, Target, body_words};
use super::{answer, not_understood, report};
use crate::desk::act::{self, Action, By, HandTo, Meant, Outcome, Via};
use crate::desk::inbound::who::fold;
use crate::desk::scene::Scene;
use crate::store::rows::{Asked, InMessage};
use crate::trade::flag::{Flag, Flags};
use crate::trade::queue::{HoldKind, Item, ItemState, Queue};
use crate::trade::roster::{Athlete, AthleteId, Language, Role, StaffMember};
use crate::wording::{Helmet, Message, words};

/// What came of one text's targets, to be answered together.
#[derive(Default)]
struct Came {
    done: Vec<String>,
    acknowledged: Vec<String>,
    /// Who, by whom.
    already: Vec<(String, Option<String>)>,
    medical: Vec<String>,
    not_allowed: bool,
}

/// Does a command to each item that it means. One that may mean several is asked about; the clear ones are done.
pub(super) fn run(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, command: &Command, text: &str) {
    let mut chosen = Vec::new();
    let mut unsure = Vec::new();
    let mut nobody = Vec::new();
    for target in command.targets() {
        let items = matching(scene, member, target, command);
        match items.as_slice() {
            [] => nobody.push(target),
            [only] => chosen.push(only.clone()),
            _ => unsure.push((target, items)),
        }
    }
    if let Some(question) = checked_or_meant(scene, text, command, &chosen) {
        return question.ask(scene, message, member);
    }
    act_on(scene, message, member, command, &chosen);
    for target in nobody {
        none_open(scene, message, member, target, command);
    }
    if let Some((target, _)) = unsure.first() {
        let text = command.said(target);
        let items = unsure.iter().flat_map(|(_, items)| items.iter().cloned()).collect();
        which_item(scene, message, member, text, items);
    }
}

/// The items that a question was answered with.
pub(super) fn chosen(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    command: &Command,
    items: &[String],
) {
    act_on(scene, message, member, command, items);
}

/// Helmets on the list that nobody has, for this member's teams.
fn not_taken(scene: &Scene<'_>, member: &StaffMember) -> Vec<String> {
    let open = |item: &&Item| item.queue == Queue::Equipment && item.state == ItemState::Open && serves(member, item);
    scene.items.values().filter(open).map(|item| item.id.clone()).collect()
}

/// "Got all".
pub(super) fn take_all(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let items = not_taken(scene, member);
    if items.is_empty() {
        let who = match member.language {
            Language::En => "the list",
            Language::Es => "la lista",
        };
        return answer(scene, message, member, &Message::ItemHas { who, by: None, done: false });
    }
    act_on(scene, message, member, &Command::Take(Vec::new()), &items);
}

/// "Got it": the body report that waits; which one, when there are several. From equipment staff, with helmets on the
/// list that nobody has: all of them?
pub(super) fn acknowledge(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    if !member.has(Role::Trainer) {
        let count = not_taken(scene, member).len();
        if count > 0 {
            all_of_them(count).ask(scene, message, member);
        }
        return;
    }
    let waiting: Vec<String> = scene
        .items
        .values()
        .filter(|item| item.queue == Queue::Medical && item.state == ItemState::Open && serves(member, item))
        .map(|item| item.id.clone())
        .collect();
    match waiting.as_slice() {
        [] => {}
        [_] => act_on(scene, message, member, &Command::Take(Vec::new()), &waiting),
        _ => which_item(scene, message, member, "got it".to_owned(), waiting),
    }
}

fn serves(member: &StaffMember, item: &Item) -> bool {
    item.team.as_ref().is_none_or(|team| member.serves(team))
}

fn act_on(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, command: &Command, items: &[String]) {
    let mut came = Came::default();
    let by = By { member, via: Via::Text(&message.id), key: &message.id };
    for id in items {
        let medical = scene.items.get(id).is_some_and(|item| item.queue == Queue::Medical);
        let Some(action) = action(scene, member, command, id) else {
            return not_understood(scene, message, member);
        };
        match act::act(scene, &by, &action) {
            Outcome::Done { who, .. } if medical && matches!(action, Action::Take { .. }) => {
                came.acknowledged.push(who);
            }
            Outcome::Done { who, .. } => came.done.push(who),
            Outcome::AlreadyDone { who, by } => came.already.push((who, by)),
            Outcome::Medical { who } => came.medical.push(who),
            Outcome::NotAllowed => came.not_allowed = true,
            Outcome::NotFound => {
                let who = scene.items.get(id).map(|item| act::subject(scene, item)).unwrap_or_default();
                answer(scene, message, member, &Message::ItemNone { who: &who });
            }
        }
    }
    tell(scene, message, member, command, &came);
}

fn action(scene: &Scene<'_>, member: &StaffMember, command: &Command, item: &str) -> Option<Action> {
    let item = item.to_owned();
    Some(match command {
        Command::Take(_) | Command::Acknowledge => Action::Take { item },
        Command::Done(_, what) => Action::Done { item, what: what.clone() },
        Command::Needs(_, what) => Action::Needs { item, what: what.clone() },
        Command::MayGo(_) => Action::MayGo { item },
        Command::Says(_, meant) => Action::Interpret { item, reading: *meant },
        Command::HandOn(_, Hand::Open) => Action::HandOn { item, to: HandTo::Open },
        Command::HandOn(_, Hand::Me) => Action::HandOn { item, to: HandTo::Staff(member.id.clone()) },
        Command::HandOn(_, Hand::To(name)) => {
            let named: Vec<&StaffMember> = scene.staff.iter().filter(|member| is_named(member, name)).collect();
            let [one] = named.as_slice() else { return None };
            Action::HandOn { item, to: HandTo::Staff(one.id.clone()) }
        }
        _ => return None,
    })
}

fn is_named(member: &StaffMember, name: &str) -> bool {
    let (first, last) = (fold(&member.first), fold(&member.last));
    name == first || name == last || name == format!("{first} {last}")
}

/// Answers for all of them together.
fn tell(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, command: &Command, came: &Came) {
    let me = member.first.as_str();
    if !came.acknowledged.is_empty() {
        let who = names(&came.acknowledged, member.language);
        answer(scene, message, member, &Message::BodyAcknowledged { who: &who, by_whom: me });
    }
    if !came.done.is_empty() {
        let who = names(&came.done, member.language);
        let who = who.as_str();
        let to = handed_to(scene, member, command);
        let text = match command {
            Command::Take(_) | Command::Acknowledge => Message::ItemTaken { who, by: me },
            Command::Needs(_, what) => Message::ItemNeeds { who, what },
            Command::HandOn(..) => Message::ItemHanded { who, to: to.as_deref() },
            Command::Says(_, Meant::Flags(flags)) => {
                Message::Meant { who, flags: Helmet(*flags), body: !flags.body().is_empty() }
            }
            Command::Says(..) => Message::Meant { who, flags: Helmet(Flags::NONE), body: false },
            Command::Done(_, what) => Message::ItemDone { who, what: what.as_deref() },
            _ => Message::ItemDone { who, what: None },
        };
        answer(scene, message, member, &text);
    }
    for (who, by) in &came.already {
        let done = !matches!(command, Command::Take(_) | Command::Acknowledge | Command::HandOn(..));
        answer(scene, message, member, &Message::ItemHas { who, by: by.as_deref(), done });
    }
    for who in &came.medical {
        answer(scene, message, member, &Message::MedicalNotByText { who });
    }
    if came.not_allowed {
        answer(scene, message, member, &Message::StaffNotAllowed { what: command.words(member.language) });
    }
}

fn handed_to(scene: &Scene<'_>, member: &StaffMember, command: &Command) -> Option<String> {
    match command {
        Command::HandOn(_, Hand::Me) => Some(member.first.clone()),
        Command::HandOn(_, Hand::To(name)) => {
            scene.staff.iter().find(|member| is_named(member, name)).map(|member| member.first.clone())
        }
        _ => None,
    }
}

/// Several as people say them; many by their numbers alone.
fn names(who: &[String], language: Language) -> String {
    const IN_FULL: usize = 3;
    let short = |who: &'_ str| who.split(' ').next().unwrap_or_default().to_owned();
    let names: Vec<String> =
        if who.len() > IN_FULL { who.iter().map(|who| short(who)).collect() } else { who.to_vec() };
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    words::joined(&names, language)
}

fn matching(scene: &Scene<'_>, member: &StaffMember, target: &Target, command: &Command) -> Vec<String> {
    let mut items: Vec<&Item> = scene
        .items
        .values()
        .filter(|item| item.is_open() && item.queue != Queue::Contact && serves(member, item))
        .filter(|item| item.athlete.as_ref().is_some_and(|athlete| is_target(scene, athlete, target)))
        .filter(|item| item.queue == Queue::Equipment || member.has(Role::Trainer))
        .collect();
    let medical = |item: &&Item| item.queue == Queue::Medical;
    let has_medical = items.iter().any(medical);
    let has_equipment = items.iter().any(|item| !medical(item));
    // A body report is acknowledged first; a fix is never about one.
    let about_bodies = match command {
        Command::Take(_) => items.iter().any(|item| medical(item) && item.state == ItemState::Open),
        Command::MayGo(_) => true,
        Command::HandOn(..) => has_medical && !has_equipment,
        _ => false,
    };
    items.retain(|item| medical(item) == about_bodies);
    if matches!(command, Command::Says(..)) {
        items.retain(|item| item.is_unread());
    }
    items.into_iter().map(|item| item.id.clone()).collect()
}

fn is_target(scene: &Scene<'_>, athlete: &AthleteId, target: &Target) -> bool {
    scene.athletes.get(athlete).is_some_and(|person| is_meant(person, target))
}

fn is_meant(person: &Athlete, target: &Target) -> bool {
    match target {
        Target::Jersey(number) => person.jersey.as_deref() == Some(number),
        Target::Name(name) => {
            let (first, last) = (fold(&person.first), fold(&person.last));
            *name == first || *name == last || *name == format!("{first} {last}")
        }
    }
}

/// The athletes whom a target may mean.
pub(super) fn people(scene: &Scene<'_>, member: &StaffMember, target: &Target) -> Vec<Athlete> {
    scene
        .athletes
        .values()
        .filter(|athlete| athlete.active && member.serves(&athlete.team) && is_meant(athlete, target))
        .cloned()
        .collect()
}

/// Nothing open: because it is done, because the athlete is held for the body, or because there was nothing.
fn none_open(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, target: &Target, command: &Command) {
    if let Command::Says(_, Meant::Flags(flags)) = command
        && !flags.body().is_empty()
    {
        // Nothing unread waits, but a body complaint is none the less one.
        return report::body(scene, message, member, std::slice::from_ref(target), flags.body(), false);
    }
    if let Command::Says(_, meant) = command {
        return match meant {
            Meant::Flags(flags) => seen(scene, message, member, target, *flags),
            Meant::AllClear => not_understood(scene, message, member),
        };
    }
    let held = scene
        .holds
        .values()
        .filter(|hold| hold.closed_at.is_none() && hold.kind == HoldKind::Medical)
        .find(|hold| is_target(scene, &hold.athlete, target))
        .map(|hold| scene.who(&hold.athlete));
    if let Some(who) = held.filter(|_| !matches!(command, Command::Take(_))) {
        return answer(scene, message, member, &Message::MedicalNotByText { who: &who });
    }
    let closed = scene
        .items
        .values()
        .filter(|item| item.state == ItemState::Closed && item.queue == Queue::Equipment && serves(member, item))
        .filter(|item| item.closed_at.is_some_and(|at| at.date(scene.program.zone) == scene.today))
        .find(|item| item.athlete.as_ref().is_some_and(|athlete| is_target(scene, athlete, target)))
        .map(|item| (act::subject(scene, item), item.closed_by.clone()));
    if let Some((who, by)) = closed {
        let by = by.and_then(|staff| act::first_name(scene, &staff));
        return answer(scene, message, member, &Message::ItemHas { who: &who, by: by.as_deref(), done: true });
    }
    let who = target.words();
    answer(scene, message, member, &Message::ItemNone { who: &who });
}

/// "12 strap" with no reply that waits to be understood: staff have seen it themselves.
fn seen(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, target: &Target, flags: Flags) {
    let found = people(scene, member, target);
    let [athlete] = found.as_slice() else {
        return which_seen(scene, message, member, target, flags, &found);
    };
    let action = Action::Report { athlete: athlete.id.clone(), flags };
    let by = By { member, via: Via::Text(&message.id), key: &message.id };
    match act::act(scene, &by, &action) {
        Outcome::Done { who, .. } => {
            answer(scene, message, member, &Message::Meant { who: &who, flags: Helmet(flags), body: false });
        }
        Outcome::NotAllowed => {
            let what = Command::Says(target.clone(), Meant::Flags(flags)).words(member.language);
            answer(scene, message, member, &Message::StaffNotAllowed { what });
        }
        _ => answer(scene, message, member, &Message::ItemNone { who: &target.words() }),
    }
}

fn which_seen(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    target: &Target,
    flags: Flags,
    found: &[Athlete],
) {
    let says = Command::Says(target.clone(), Meant::Flags(flags));
    which_of(scene, message, member, target, found, |name| says.said(name));
}

fn which_item(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: String, items: Vec<String>) {
    let names: Vec<String> = items
        .iter()
        .filter_map(|id| scene.items.get(id))
        .map(|item| {
            let team = item.team.as_ref().and_then(|team| scene.program.teams.get(team));
            let who = act::subject(scene, item);
            team.map_or_else(|| who.clone(), |team| format!("{who} ({})", team.name))
        })
        .collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let options = words::options(&names);
    let asked = Asked::WhichItem { options: items, text, at: scene.now };
    scene.change_number(&message.phone, |number| number.asked = Some(asked));
    answer(scene, message, member, &Message::WhichItem { options: &options });
}

/// A question with commands for answers.
struct Question {
    commands: Vec<String>,
    says: Vec<String>,
    says_es: Vec<String>,
}

fn own(says: &[&str]) -> Vec<String> {
    says.iter().map(|says| (*says).to_owned()).collect()
}

fn all_of_them(count: usize) -> Question {
    Question {
        commands: vec!["got all".to_owned(), "list".to_owned()],
        says: vec![format!("you take all {count} on the list"), "see the list first".to_owned()],
        says_es: vec![format!("toma los {count} de la lista"), "ver primero la lista".to_owned()],
    }
}

impl Question {
    fn ask(self, scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
        let says = match member.language {
            Language::En => self.says,
            Language::Es => self.says_es,
        };
        let says: Vec<&str> = says.iter().map(String::as_str).collect();
        let options = words::options(&says);
        let asked = Asked::WhichCommand { options: self.commands, at: scene.now };
        scene.change_number(&message.phone, |number| number.asked = Some(asked));
        answer(scene, message, member, &Message::WhichItem { options: &options });
    }
}

/// "12 good", when a reply of 12 waits to be understood: did he mean that all is well, or was the helmet checked?
fn checked_or_meant(scene: &Scene<'_>, text: &str, command: &Command, items: &[String]) -> Option<Question> {
    let ([target], [item]) = (command.targets(), items) else { return None };
    let typed = fold(text);
    let says = |words: &[&str]| words.iter().any(|word| typed.contains(word));
    let in_doubt = match command {
        Command::Done(_, None) => says(&["good", "ready", "bueno"]),
        Command::Says(_, Meant::AllClear) => !says(&["fine", "bien", "said", "says", "mean", "dice", "dijo", "clear"]),
        _ => false,
    };
    if !in_doubt || !scene.items.get(item).is_some_and(Item::is_unread) {
        return None;
    }
    let meant = Command::Says(target.clone(), Meant::AllClear);
    Some(Question {
        commands: vec![meant.said(target), Command::Done(Vec::new(), None).said(target)],
        says: own(&["that was meant: all fine", "helmet checked by hand, OK"]),
        says_es: own(&["eso quiso decir: todo bien", "casco revisado a mano, OK"]),
    })
}

/// "Hold 12": the helmet, or the athlete? Who may say either is asked.
pub(super) fn hold(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    targets: &[Target],
    why: Option<Holding>,
) {
    let trainer = member.has(Role::Trainer);
    let why = match why {
        None if trainer => {
            let [target] = targets else { return not_understood(scene, message, member) };
            return which_hold(target).ask(scene, message, member);
        }
        None => Holding::Helmet,
        Some(Holding::Trainer | Holding::Medical) if !trainer => {
            let (flags, red_flag) = body_words(&message.body);
            let unwell = std::iter::once(Flag::Unwell).collect();
            let flags = if flags.is_empty() { unwell } else { flags };
            return report::body(scene, message, member, targets, flags, red_flag);
        }
        Some(why) => why,
    };
    let mut came = Came::default();
    for target in targets {
        let found = people(scene, member, target);
        let [athlete] = found.as_slice() else {
            which_athlete(scene, message, member, target, why, &found);
            continue;
        };
        let athlete = athlete.id.clone();
        let action = match why {
            Holding::Helmet => Action::HoldEquipment { athlete },
            Holding::Trainer => Action::HoldTrainer { athlete },
            Holding::Medical => Action::HoldMedical { athlete },
        };
        let by = By { member, via: Via::Text(&message.id), key: &message.id };
        match act::act(scene, &by, &action) {
            Outcome::Done { who, .. } => came.done.push(who),
            Outcome::AlreadyDone { who, by } => came.already.push((who, by)),
            _ => came.not_allowed = true,
        }
    }
    if !came.done.is_empty() {
        let who = names(&came.done, member.language);
        answer(scene, message, member, &Message::ItemHeld { who: &who, body: why != Holding::Helmet });
        came.done.clear();
    }
    tell(scene, message, member, &Command::Hold(Vec::new(), None), &came);
}

fn which_hold(target: &Target) -> Question {
    let say = |why| Command::Hold(Vec::new(), Some(why)).said(target);
    Question {
        commands: vec![say(Holding::Helmet), say(Holding::Trainer), say(Holding::Medical)],
        says: own(&["helmet", "athlete, until you decide", "athlete, medical: a clinician decides"]),
        says_es: own(&["casco", "atleta, hasta que usted decida", "atleta, médico: decide un clínico"]),
    }
}

/// Nobody, or several, have this number or name.
fn which_athlete(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    target: &Target,
    why: Holding,
    found: &[Athlete],
) {
    which_of(scene, message, member, target, found, |name| Command::Hold(Vec::new(), Some(why)).said(name));
}

/// Asks which of several is meant: the answer is the same command with the whole name.
fn which_of(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    target: &Target,
    found: &[Athlete],
    command: impl Fn(&Target) -> String,
) {
    if found.is_empty() {
        let who = target.words();
        return answer(scene, message, member, &Message::ItemNone { who: &who });
    }
    let name = |athlete: &Athlete| Target::Name(format!("{} {}", fold(&athlete.first), fold(&athlete.last)));
    let commands = found.iter().map(|athlete| command(&name(athlete))).collect();
    let names: Vec<String> = found
        .iter()
        .map(|athlete| {
            let team = scene.program.teams.get(&athlete.team).map_or(athlete.team.as_str(), |team| &team.name);
            format!("{} ({team})", athlete.short())
        })
        .collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let options = words::options(&names);
    let asked = Asked::WhichCommand { options: commands, at: scene.now };
    scene.change_number(&message.phone, |number| number.asked = Some(asked));
    answer(scene, message, member, &Message::WhichItem { options: &options });
}

/// How items stand: the answer to a question changes nothing.
pub(super) fn status(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, targets: &[Target]) {
    for target in targets {
        let items = matching(scene, member, target, &Command::Status(Vec::new()));
        if items.is_empty() {
            none_open(scene, message, member, target, &Command::Take(Vec::new()));
        }
        for id in items {
            let Some(item) = scene.items.get(&id).cloned() else { continue };
            let helmet = item.athlete.as_ref().and_then(|athlete| scene.helmets.get(athlete));
            let helmet = helmet.map(|helmet| helmet.tag.0.clone());
            let who = act::subject(scene, &item);
            let by = item.taken_by.as_ref().and_then(|staff| act::first_name(scene, staff));
            let text = Message::ItemStatus {
                who: &who,
                helmet: helmet.as_deref(),
                flags: Helmet(item.flags),
                by: by.as_deref(),
                note: item.about.as_deref(),
            };
            answer(scene, message, member, &text);
        }
    }
}
