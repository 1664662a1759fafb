//! Between the store and a [`Scene`]: what is loaded for a happening, and how what it changed is written.

use std::collections::BTreeSet;

use chrono::TimeDelta;

use super::scene::{Cancel, Scene};
use crate::config::Program;
use crate::store::chat::PersonKind;
use crate::store::rows::InMessage;
use crate::store::{Result, Tx};
use crate::trade::morning::{CheckState, MorningCheck};
use crate::trade::phone::Phone;
use crate::trade::roster::{AthleteId, TeamId};
use crate::trade::time::{Moment, resolve};
use crate::wording::Wording;

/// How far back checks are looked at for the one that a text answers.
const CHECKS_SINCE: TimeDelta = TimeDelta::days(3);

/// Takes the program's lock and loads what every decision needs: staff and the events around today.
pub async fn begin<'a>(tx: &mut Tx, program: &'a Program, wording: &'a Wording, now: Moment) -> Result<Scene<'a>> {
    let head = tx.lock_program(&program.id).await?;
    common(tx, Scene::new(program, wording, now, head)).await
}

/// As [`begin`], for reading alone: no lock.
pub async fn look<'a>(tx: &mut Tx, program: &'a Program, wording: &'a Wording, now: Moment) -> Result<Scene<'a>> {
    let head =
        crate::store::rows::ProgramRow { program: program.id.clone(), record_seq: 0, record_hash: String::new() };
    common(tx, Scene::new(program, wording, now, head)).await
}

async fn common<'a>(tx: &mut Tx, mut scene: Scene<'a>) -> Result<Scene<'a>> {
    let (from, to) = (scene.today - TimeDelta::days(2), scene.today + TimeDelta::days(7));
    scene.staff = tx.staff(&scene.program.id).await?;
    let events = tx.events(&scene.program.id, from, to).await?;
    scene.events.load(events.into_iter().map(|event| (event.id.clone(), event)));
    let staff_phones: BTreeSet<Phone> = scene.staff.iter().filter_map(|member| member.phone.clone()).collect();
    load_numbers(tx, &mut scene, &staff_phones).await?;
    Ok(scene)
}

async fn load_numbers(tx: &mut Tx, scene: &mut Scene<'_>, phones: &BTreeSet<Phone>) -> Result<()> {
    let numbers = tx.numbers_of(&scene.program.id, phones).await?;
    scene.numbers.load(numbers.into_iter().map(|number| (number.phone.clone(), number)));
    Ok(())
}

/// Loads what is known of the senders of messages.
pub async fn senders(tx: &mut Tx, scene: &mut Scene<'_>, phones: &BTreeSet<Phone>) -> Result<()> {
    let program = &scene.program.id;
    load_numbers(tx, scene, phones).await?;
    let athletes = tx.athletes_at(program, phones).await?;
    for athlete in &athletes {
        if let Some(phone) = &athlete.phone {
            scene.at_phone.entry(phone.clone()).or_default().push(athlete.id.clone());
        }
    }
    let mut about: BTreeSet<AthleteId> = athletes.iter().map(|athlete| athlete.id.clone()).collect();
    scene.athletes.extend(athletes.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    let strangers: BTreeSet<Phone> =
        phones.iter().filter(|phone| !scene.at_phone.contains_key(*phone)).cloned().collect();
    let answered_for = guardians(tx, scene, phones).await?;
    if !strangers.is_empty() {
        about.extend(answered_for);
    }
    super::notices::load(tx, scene, phones).await?;
    super::clearance::load_check_ins(tx, scene).await?;
    state_of(tx, scene, &about).await?;
    if about.iter().filter_map(|id| scene.athletes.get(id)).any(|athlete| fix_list_is_out(scene, &athlete.team)) {
        let helmets = tx.helmets_of(&scene.program.id, &about).await?;
        scene.helmets.extend(helmets.into_iter().filter_map(|helmet| Some((helmet.athlete.clone()?, helmet))));
    }
    // Somebody may have asked a question about an item, or a number may have an item of its own.
    let own: Vec<String> = phones
        .iter()
        .flat_map(|phone| {
            use crate::trade::queue::Queue;
            [Queue::Contact, Queue::Medical].map(|queue| super::scene::item_key(queue, phone.as_str(), scene.today))
        })
        .collect();
    let keys: Vec<&str> = own.iter().map(String::as_str).collect();
    let items = tx.items_keyed(&scene.program.id, &keys).await?;
    scene.items.load(items.into_iter().map(|item| (item.id.clone(), item)));
    let staff = scene.staff.iter().any(|member| member.phone.as_ref().is_some_and(|phone| phones.contains(phone)));
    if staff {
        whole_day(tx, scene).await?;
    }
    Ok(())
}

/// Loads whom staff may mean by the numbers in their texts, whether anything waits for them or not.
pub async fn meant_by_staff(tx: &mut Tx, scene: &mut Scene<'_>, messages: &[&InMessage]) -> Result<()> {
    let by_staff = |message: &&&InMessage| {
        scene.staff.iter().any(|member| member.phone.as_ref().is_some_and(|phone| *phone == message.phone))
    };
    let texts: Vec<&str> = messages.iter().filter(by_staff).map(|message| message.body.as_str()).collect();
    meant_by(tx, scene, &texts).await
}

/// As [`meant_by_staff`], for the words themselves.
pub async fn meant_by(tx: &mut Tx, scene: &mut Scene<'_>, texts: &[&str]) -> Result<()> {
    if texts.is_empty() {
        return Ok(());
    }
    if texts.iter().any(|text| super::inbound::staff::drills::is_about(text)) {
        scene.drills = Some(super::drills::load(tx, scene).await?);
    }
    // What a fix uses up is taken from a kit too, so every text of staff may change one.
    scene.kits = super::kits::load(tx, scene).await?;
    super::inbound::staff::helmets::load_for(tx, scene, texts).await?;
    super::inbound::staff::clearance::load_for(tx, scene, texts).await?;
    let numbers: BTreeSet<&str> = texts
        .iter()
        .flat_map(|text| text.split(|c: char| !c.is_ascii_digit()))
        .filter(|number| !number.is_empty() && number.len() <= 2)
        .collect();
    let program = &scene.program.id;
    let wearing = tx.athletes_wearing(program, &numbers.into_iter().collect::<Vec<_>>()).await?;
    let athletes: BTreeSet<AthleteId> = wearing.into_iter().map(|athlete| athlete.id).collect();
    about(tx, scene, &[], athletes).await
}

/// Whether the team's fix list for its next event of today is out already.
fn fix_list_is_out(scene: &Scene<'_>, team: &TeamId) -> bool {
    let before = scene.program.teams.get(team).map(|team| team.times.fix_list_before.span()).unwrap_or_default();
    scene.next_event(team).is_some_and(|event| scene.now >= event.starts_at.minus(before))
}

async fn guardians(tx: &mut Tx, scene: &mut Scene<'_>, phones: &BTreeSet<Phone>) -> Result<BTreeSet<AthleteId>> {
    let program = &scene.program.id;
    let guardians = tx.guardians_at(program, phones).await?;
    if guardians.is_empty() {
        return Ok(BTreeSet::new());
    }
    let ids: Vec<&str> = guardians.iter().map(|guardian| guardian.id.as_str()).collect();
    let ties = tx.guardianships(program, &ids).await?;
    let about: BTreeSet<AthleteId> = ties.iter().map(|tie| tie.athlete.clone()).collect();
    for guardian in guardians {
        let own = ties.iter().filter(|tie| tie.guardian == guardian.id).map(|tie| tie.athlete.clone()).collect();
        let Some(phone) = guardian.phone.clone() else { continue };
        let known = scene.guardians.entry(phone).or_default();
        if known.iter().all(|(other, _)| other.id != guardian.id) {
            known.push((guardian, own));
        }
    }
    let athletes = tx.athletes_named(program, &about).await?;
    scene.athletes.extend(athletes.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    Ok(about)
}

/// Loads checks, items and holds of these athletes.
pub async fn state_of(tx: &mut Tx, scene: &mut Scene<'_>, athletes: &BTreeSet<AthleteId>) -> Result<()> {
    if athletes.is_empty() {
        return Ok(());
    }
    let program = &scene.program.id;
    let checks = tx.checks_of(program, athletes, scene.today - CHECKS_SINCE).await?;
    scene.checks.load(checks.into_iter().map(|check| ((check.athlete.clone(), check.date), check)));
    let items = tx.items_of(program, athletes, scene.today).await?;
    scene.items.load(items.into_iter().map(|item| (item.id.clone(), item)));
    let holds = tx.holds_of(program, athletes).await?;
    scene.holds.load(holds.into_iter().map(|hold| (hold.id.clone(), hold)));
    Ok(())
}

/// Loads items, whoever they are about, and athletes, with all that is known of them.
pub async fn about(
    tx: &mut Tx,
    scene: &mut Scene<'_>,
    items: &[&str],
    mut athletes: BTreeSet<AthleteId>,
) -> Result<()> {
    let program = &scene.program.id;
    let items = tx.items_keyed(program, items).await?;
    athletes.extend(items.iter().filter_map(|item| item.athlete.clone()));
    scene.items.load(items.into_iter().map(|item| (item.id.clone(), item)));
    let people = tx.athletes_named(program, &athletes).await?;
    let helmets = tx.helmets_of(program, &athletes).await?;
    scene.athletes.extend(people.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    scene.helmets.extend(helmets.into_iter().filter_map(|helmet| Some((helmet.athlete.clone()?, helmet))));
    state_of(tx, scene, &athletes).await?;
    let own = scene.athletes.values().filter_map(|athlete| athlete.phone.clone());
    let asked = scene.checks.values().filter_map(|check| check.phone.clone());
    let phones: BTreeSet<Phone> = own.chain(asked).collect();
    load_numbers(tx, scene, &phones).await
}

/// Loads everything that the lists are made from: today's checks, items open or closed today, and open holds, with their
/// athletes, helmets and numbers, and what is learned of the minutes a fix takes.
pub async fn whole_day(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<()> {
    let checks = day(tx, scene, |_| true).await?;
    load_numbers(tx, scene, &checks).await
}

/// As [`whole_day`], for lists that are only read: nobody is written to, so no numbers; and who answered that all is well
/// is counted and not named, so not loaded.
pub async fn day_to_read(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<()> {
    day(tx, scene, |check| check.state != CheckState::Clear).await?;
    Ok(())
}

/// Loads the day with the athletes of those checks that have to be named; returns the numbers that checks go to.
async fn day(tx: &mut Tx, scene: &mut Scene<'_>, named: impl Fn(&MorningCheck) -> bool) -> Result<BTreeSet<Phone>> {
    let program = &scene.program.id;
    let checks = tx.checks_on_day(program, scene.today).await?;
    let mut items = tx.items_open(program).await?;
    let midnight = resolve(scene.today.and_time(chrono::NaiveTime::MIN), scene.program.zone);
    items.extend(tx.items_closed_since(program, midnight).await?);
    let holds = tx.holds_open(program).await?;
    let mut athletes: BTreeSet<AthleteId> =
        checks.iter().filter(|check| named(check)).map(|check| check.athlete.clone()).collect();
    athletes.extend(items.iter().filter_map(|item| item.athlete.clone()));
    athletes.extend(holds.iter().map(|hold| hold.athlete.clone()));
    let people = tx.athletes_named(program, &athletes).await?;
    let helmets = tx.helmets_of(program, &athletes).await?;
    scene.fix_minutes = scene.program.fix_minutes.learned(&tx.fix_times(program).await?);
    let phones = checks.iter().filter_map(|check| check.phone.clone()).collect();
    scene.checks.load(checks.into_iter().map(|check| ((check.athlete.clone(), check.date), check)));
    scene.items.load(items.into_iter().map(|item| (item.id.clone(), item)));
    scene.holds.load(holds.into_iter().map(|hold| (hold.id.clone(), hold)));
    scene.athletes.extend(people.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    scene.helmets.extend(helmets.into_iter().filter_map(|helmet| Some((helmet.athlete.clone()?, helmet))));
    Ok(phones)
}

/// Loads a team's roster with numbers, open items and holds; returns the athletes that may be texted: those with a
/// consent for the number they have.
pub async fn roster(tx: &mut Tx, scene: &mut Scene<'_>, team: &TeamId) -> Result<BTreeSet<AthleteId>> {
    let program = &scene.program.id;
    let athletes = tx.roster(program, team).await?;
    let consents = tx.consents_of_team(program, team).await?;
    let by_person: std::collections::HashMap<&str, Vec<&crate::trade::roster::Consent>> =
        consents.iter().fold(std::collections::HashMap::new(), |mut map, consent| {
            map.entry(consent.person.as_str()).or_default().push(consent);
            map
        });
    let consented = athletes
        .iter()
        .filter(|athlete| {
            by_person.get(athlete.id.as_str()).is_some_and(|own| own.iter().any(|consent| athlete.consented(consent)))
        })
        .map(|athlete| athlete.id.clone())
        .collect();
    let phones: BTreeSet<Phone> = athletes.iter().filter_map(|athlete| athlete.phone.clone()).collect();
    let ids: BTreeSet<AthleteId> = athletes.iter().map(|athlete| athlete.id.clone()).collect();
    scene.athletes.extend(athletes.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    load_numbers(tx, scene, &phones).await?;
    let program = &scene.program.id;
    let holds = tx.holds_of(program, &ids).await?;
    scene.holds.load(holds.into_iter().map(|hold| (hold.id.clone(), hold)));
    let checks = tx.checks_on(program, team, scene.today).await?;
    scene.checks.load(checks.into_iter().map(|check| ((check.athlete.clone(), check.date), check)));
    if scene.program.chat.as_ref().is_some_and(|chat| chat.token.is_some()) {
        let links = tx.chat_links(&scene.program.id).await?;
        let athletes = links.into_iter().filter(|link| link.kind == PersonKind::Athlete);
        scene.chat_accounts.extend(athletes.map(|link| (AthleteId(link.person), link.chat_user)));
    }
    Ok(consented)
}

/// Writes what changed. The story is left for after the commit.
pub async fn write(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<()> {
    let program = scene.program.id.clone();
    tx.put(&scene.numbers.changed()).await?;
    tx.put(&scene.checks.changed()).await?;
    tx.put(&scene.items.changed()).await?;
    tx.put(&scene.holds.changed()).await?;
    tx.put(&scene.events.changed()).await?;
    cancels(tx, scene).await?;
    tx.insert(&unique(&scene.out)).await?;
    super::notices::write(tx, scene).await?;
    tx.put(&scene.drilled).await?;
    tx.put(&scene.absences).await?;
    if let Some(rack) = &scene.rack {
        tx.put(&rack.helmets.changed()).await?;
    }
    if let Some(kits) = &scene.kits {
        tx.put(&kits.kits.changed()).await?;
        tx.put(&kits.stock.changed()).await?;
        tx.insert(&kits.new_moves).await?;
    }
    super::clearance::write(tx, scene).await?;
    tx.insert(&scene.posts).await?;
    tx.insert(&scene.heard).await?;
    tx.insert(&scene.happenings).await?;
    tx.insert(&scene.interpretations).await?;
    tx.insert(&scene.record).await?;
    if !scene.record.is_empty() {
        tx.put(std::slice::from_ref(&scene.head)).await?;
    }
    tracing::debug!(program = %program, out = scene.out.len(), heard = scene.heard.len(), "written");
    Ok(())
}

/// One row a key: a second of the same is nothing.
fn unique(out: &[crate::store::rows::OutMessage]) -> Vec<crate::store::rows::OutMessage> {
    let mut seen = BTreeSet::new();
    out.iter().filter(|message| seen.insert(message.id.as_str())).cloned().collect()
}

async fn cancels(tx: &mut Tx, scene: &Scene<'_>) -> Result<()> {
    let program = &scene.program.id;
    let mut nudges: std::collections::BTreeMap<_, Vec<&str>> = std::collections::BTreeMap::new();
    let mut checks: std::collections::BTreeMap<_, Vec<&str>> = std::collections::BTreeMap::new();
    for cancel in &scene.cancels {
        match cancel {
            Cancel::To(phone) => _ = tx.cancel_to(program, phone).await?,
            Cancel::Nudge(date, athlete) => nudges.entry(*date).or_default().push(athlete.as_str()),
            Cancel::Checks(date, athlete) => checks.entry(*date).or_default().push(athlete.as_str()),
        }
    }
    for (date, athletes) in nudges {
        tx.cancel_checks(program, date, &athletes, true).await?;
    }
    for (date, athletes) in checks {
        tx.cancel_checks(program, date, &athletes, false).await?;
    }
    Ok(())
}
