//! Notices to families: what happened becomes texts and e-mails in the transaction in which it happened.
//!
//! Decisions say what a family may hear ([`Scene::family_hears`]); here it is turned into messages just before a scene is
//! written, so that news and notice are committed together. A number or address that is lost on the way is noticed in the
//! same place: whoever stands in is told, and staff are asked to call.

pub mod choice;
pub mod consent;
mod household;
pub mod reply;
mod rungs;
mod tell;

use std::collections::{BTreeMap, BTreeSet};

use chrono::TimeDelta;

use super::DeskError;
use super::scene::{Kept, Scene};
use crate::store::rows::Mail;
use crate::store::{Result, Tx};
use crate::trade::notice::{Address, ConsentAsk, FamilyChoice, Notice, NoticeState, TEXT_KEY};
use crate::trade::phone::Phone;
use crate::trade::queue::{Item, ItemState};
use crate::trade::roster::{Athlete, AthleteId, Consent};

pub use household::Household;
pub use tell::guardians_at;

/// How far back notices are looked at: longer than any hold lasts.
const LOOK_BACK: TimeDelta = TimeDelta::days(400);
/// A text from a number that was told something within this may be about it.
pub const MAY_BE_ABOUT: TimeDelta = TimeDelta::days(14);

/// What a decision sees and changes of families.
#[derive(Debug, Default)]
pub struct Families {
    /// Notices.
    pub notices: Kept<String, Notice>,
    /// Questions for consent.
    pub asks: Kept<(String, Phone), ConsentAsk>,
    /// What athletes of age decided.
    pub choices: Kept<AthleteId, FamilyChoice>,
    /// E-mail addresses.
    pub addresses: Kept<String, Address>,
    /// Consents to write.
    pub consents: Vec<Consent>,
    /// E-mails to queue.
    pub mails: Vec<Mail>,
    /// Keys of messages that are not to be sent any more.
    pub dropped: Vec<String>,
    /// Keys of messages that did not arrive, and why.
    pub lost: Vec<(String, String)>,
}

/// Loads what these numbers may be answering: notices, questions for consent, what athletes of age decided.
pub async fn load(tx: &mut Tx, scene: &mut Scene<'_>, phones: &BTreeSet<Phone>) -> Result<()> {
    let program = &scene.program.id;
    let notices = tx.notices_at(program, phones, scene.now.minus(MAY_BE_ABOUT)).await?;
    scene.families.notices.load(notices.into_iter().map(|notice| (notice.id.clone(), notice)));
    let asks = tx.consent_asks_at(program, phones).await?;
    scene.families.asks.load(asks.into_iter().map(|ask| ((ask.person.clone(), ask.phone.clone()), ask)));
    let adults: Vec<AthleteId> = scene
        .athletes
        .values()
        .filter(|athlete| {
            athlete.is_adult(scene.today) && athlete.phone.as_ref().is_some_and(|own| phones.contains(own))
        })
        .map(|athlete| athlete.id.clone())
        .collect();
    if !adults.is_empty() {
        let choices = tx.family_choices(program, &adults).await?;
        scene.families.choices.load(choices.into_iter().map(|choice| (choice.athlete.clone(), choice)));
    }
    Ok(())
}

/// Turns news into messages, and sees to families whose number, address or message was lost. Before a scene is written.
pub async fn give(tx: &mut Tx, scene: &mut Scene<'_>) -> std::result::Result<(), DeskError> {
    called(tx, scene).await?;
    let lost = lost(tx, scene).await?;
    let news = std::mem::take(&mut scene.news);
    if lost.is_empty() && news.is_empty() {
        return Ok(());
    }
    let about: BTreeSet<AthleteId> = news
        .iter()
        .map(|(athlete, _)| athlete.clone())
        .chain(lost.iter().map(|notice| notice.athlete.clone()))
        .collect();
    let households = open(tx, scene, &about, lost.iter().map(|notice| notice.family.as_str())).await?;
    for (athlete, news) in news {
        if let Some(household) = households.get(&athlete) {
            tell::news(scene, household, news);
        }
    }
    tell::lost(scene, &households, &lost);
    Ok(())
}

/// Loads households, with the items that may be opened for them today.
async fn open(
    tx: &mut Tx,
    scene: &mut Scene<'_>,
    about: &BTreeSet<AthleteId>,
    families: impl Iterator<Item = &str>,
) -> Result<BTreeMap<AthleteId, Household>> {
    let households = household::load(tx, scene, about).await?;
    let mut keys = tell::items(scene, &households, families);
    keys.retain(|key| scene.items.get(key).is_none());
    let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
    let items = tx.items_keyed(&scene.program.id, &keys).await?;
    scene.items.load(items.into_iter().map(|item| (item.id.clone(), item)));
    Ok(households)
}

/// Writes what changed.
pub async fn write(tx: &mut Tx, scene: &Scene<'_>) -> Result<()> {
    let families = &scene.families;
    tx.put(&families.notices.changed()).await?;
    tx.put(&families.asks.changed()).await?;
    tx.put(&families.choices.changed()).await?;
    tx.put(&families.addresses.changed()).await?;
    tx.put(&families.consents).await?;
    if !families.dropped.is_empty() {
        let keys: Vec<&str> = families.dropped.iter().map(String::as_str).collect();
        tx.drop_messages(&scene.program.id, &keys).await?;
    }
    for address in families.addresses.changed().iter().filter(|address| address.is_stopped()) {
        tx.drop_mail_to(&scene.program.id, &address.address).await?;
    }
    tx.insert(&families.mails).await?;
    Ok(())
}

/// Where a person was to call and the item is closed now, the family knows.
async fn called(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<()> {
    let closed = |item: &Item| item.state == ItemState::Closed && item.id.contains(tell::CALL_SUBJECT);
    let closed: Vec<String> = scene.items.changed().into_iter().filter(closed).map(|item| item.id).collect();
    if closed.is_empty() {
        return Ok(());
    }
    let keys: Vec<&str> = closed.iter().map(String::as_str).collect();
    for mut notice in tx.notices_by_item(&scene.program.id, &keys).await? {
        if notice.state == NoticeState::ToCall {
            notice.state = NoticeState::Called;
            notice.acknowledged_at = Some(scene.now);
            scene.families.notices.put(notice.id.clone(), notice);
        }
    }
    Ok(())
}

/// Notices that do not reach their guardians by what changed in this scene: marked, and returned.
async fn lost(tx: &mut Tx, scene: &mut Scene<'_>) -> Result<Vec<Notice>> {
    let mut lost: BTreeMap<String, Notice> = BTreeMap::new();
    let numbers: Vec<_> =
        scene.numbers.changed().into_iter().filter(|number| household::no_text(number).is_some()).collect();
    if !numbers.is_empty() {
        let phones: Vec<&Phone> = numbers.iter().map(|number| &number.phone).collect();
        for notice in tx.notices_at(&scene.program.id, phones, scene.now.minus(LOOK_BACK)).await? {
            let number = numbers.iter().find(|number| Some(&number.phone) == notice.phone.as_ref());
            let why = number.and_then(household::no_text).unwrap_or_default();
            take(scene, notice, Part::Text, why, &mut lost);
        }
    }
    let addresses: Vec<Address> = scene.families.addresses.changed().into_iter().filter(Address::is_stopped).collect();
    if !addresses.is_empty() {
        let to: Vec<&str> = addresses.iter().map(|address| address.address.as_str()).collect();
        for notice in tx.notices_mailed(&scene.program.id, &to).await? {
            let address = addresses.iter().find(|address| Some(&address.address) == notice.email.as_ref());
            let why = address.and_then(household::no_mail).unwrap_or_default();
            take(scene, notice, Part::Mail, why, &mut lost);
        }
    }
    let messages = std::mem::take(&mut scene.families.lost);
    if !messages.is_empty() {
        let id = |key: &String| key.trim_start_matches(TEXT_KEY).trim_end_matches("/again").to_owned();
        let ids: Vec<String> = messages.iter().map(|(key, _)| id(key)).collect();
        let keys: Vec<&str> = ids.iter().map(String::as_str).collect();
        for notice in tx.notices_keyed(&scene.program.id, &keys).await? {
            let why = messages.iter().find(|(key, _)| id(key) == notice.id).map(|(_, why)| why.clone());
            take(scene, notice, Part::Text, &why.unwrap_or_default(), &mut lost);
        }
    }
    Ok(lost.into_values().collect())
}

/// Which way of a notice was lost.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Text,
    Mail,
}

fn take(scene: &mut Scene<'_>, notice: Notice, part: Part, why: &str, lost: &mut BTreeMap<String, Notice>) {
    // What this scene has changed already is newer than what is stored.
    let mut notice = scene.families.notices.get(&notice.id).cloned().unwrap_or(notice);
    if !matches!(notice.state, NoticeState::Told | NoticeState::Again) {
        return;
    }
    match part {
        Part::Text => notice.phone = None,
        Part::Mail => notice.email = None,
    }
    notice.why = Some(why.to_owned());
    if notice.phone.is_none() && notice.email.is_none() {
        notice.state = NoticeState::Unreachable;
        notice.next_at = None;
        lost.insert(notice.id.clone(), notice.clone());
    }
    scene.families.notices.put(notice.id.clone(), notice);
}

/// How staff are told of a family: "Rosa Vega, family of #12 Jonah".
#[must_use]
pub fn family_of(guardian: (&str, &str), athletes: &[&Athlete]) -> String {
    let names: Vec<String> = athletes.iter().map(|athlete| athlete.short()).collect();
    if names.is_empty() {
        return format!("{} {}", guardian.0, guardian.1);
    }
    format!("{} {}, family of {}", guardian.0, guardian.1, names.join(" and "))
}
