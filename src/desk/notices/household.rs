//! An athlete's guardians, whether each may be written to, and what they were told.

use std::collections::{BTreeMap, BTreeSet};

use super::LOOK_BACK;
use crate::desk::scene::Scene;
use crate::store::rows::Number;
use crate::store::{Result, Tx};
use crate::trade::notice::{Address, Candidate, Family, Notice, family};
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, AthleteId, Consent, Guardian, GuardianId};

/// An athlete with those who answer for them.
#[derive(Debug, Clone)]
pub struct Household {
    /// Whom it is about.
    pub athlete: Athlete,
    /// Who answers, in the order of their ids.
    pub guardians: Vec<Guardian>,
    consents: Vec<Consent>,
}

/// Why a number takes no texts.
pub const NO_TEXT: [&str; 3] = ["opted out of texts", "wrong number", "the number does not take texts"];

/// Why no text may go to a number, if none may.
#[must_use]
pub const fn no_text(number: &Number) -> Option<&'static str> {
    if number.opted_out_at.is_some() {
        Some(NO_TEXT[0])
    } else if number.wrong_at.is_some() {
        Some(NO_TEXT[1])
    } else if number.trouble.is_some() {
        Some(NO_TEXT[2])
    } else {
        None
    }
}

/// Why no e-mail may go to an address, if none may.
#[must_use]
pub const fn no_mail(address: &Address) -> Option<&'static str> {
    if address.withdrawn_at.is_some() {
        Some("wants no more e-mail")
    } else if address.trouble.is_some() {
        Some("e-mail came back")
    } else {
        None
    }
}

impl Household {
    /// The guardians, with whether each may be written to.
    #[must_use]
    pub fn candidates(&self, scene: &Scene<'_>) -> Vec<Candidate<'_>> {
        let one = |guardian| Candidate {
            guardian,
            no_text: self.why_no_text(scene, guardian),
            no_mail: why_no_mail(scene, guardian),
        };
        self.guardians.iter().map(one).collect()
    }

    /// Why no text may go to a guardian: a number, a consent for it, and nothing said against it.
    fn why_no_text(&self, scene: &Scene<'_>, guardian: &Guardian) -> Option<&'static str> {
        let Some(phone) = &guardian.phone else { return Some("no number") };
        let consented = self.consents.iter().any(|consent| consent.phone == *phone && consent.person == guardian.id.0);
        if !consented {
            return Some("has not agreed to texts");
        }
        scene.numbers.get(phone).and_then(no_text)
    }

    /// Whether guardians are told of this athlete.
    #[must_use]
    pub fn family(&self, scene: &Scene<'_>) -> Family {
        family(&self.athlete, scene.today, scene.families.choices.get(&self.athlete.id))
    }

    /// The number by which the athlete may be asked something: with a consent, not stopped, and no guardian's.
    #[must_use]
    pub fn athletes_own(&self, scene: &Scene<'_>) -> Option<&Phone> {
        let phone = self.athlete.phone.as_ref()?;
        let consented = self.consents.iter().any(|consent| self.athlete.consented(consent));
        let shared = self.guardians.iter().any(|guardian| guardian.phone.as_ref() == Some(phone));
        (consented && !shared && no_text(&scene.number(phone)).is_none()).then_some(phone)
    }

    /// A guardian.
    #[must_use]
    pub fn guardian(&self, id: &GuardianId) -> Option<&Guardian> {
        self.guardians.iter().find(|guardian| guardian.id == *id)
    }

    /// What the family was told of one thing, with what this scene changes.
    #[must_use]
    pub fn told(&self, scene: &Scene<'_>, family: &str) -> Vec<Notice> {
        scene.families.notices.values().filter(|notice| notice.family == family).cloned().collect()
    }
}

fn why_no_mail(scene: &Scene<'_>, guardian: &Guardian) -> Option<&'static str> {
    let Some(email) = &guardian.email else { return Some("no e-mail address") };
    scene.families.addresses.get(email).and_then(no_mail)
}

/// Loads the households of these athletes; what the scene has of a number, an address or a notice already stays.
pub(super) async fn load(
    tx: &mut Tx,
    scene: &mut Scene<'_>,
    about: &BTreeSet<AthleteId>,
) -> Result<BTreeMap<AthleteId, Household>> {
    let program = &scene.program.id;
    let missing: Vec<&AthleteId> = about.iter().filter(|id| !scene.athletes.contains_key(*id)).collect();
    if !missing.is_empty() {
        let athletes = tx.athletes_named(program, missing).await?;
        scene.athletes.extend(athletes.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    }
    let ties = tx.guardianships_of(program, about).await?;
    let ids: BTreeSet<&GuardianId> = ties.iter().map(|tie| &tie.guardian).collect();
    let guardians = tx.guardians_named(program, ids).await?;
    let own = about.iter().filter_map(|id| scene.athletes.get(id)?.phone.clone());
    let phones: BTreeSet<Phone> = guardians.iter().filter_map(|guardian| guardian.phone.clone()).chain(own).collect();
    let consents = tx.consents_at(program, &phones).await?;
    known(tx, scene, about, &phones, &guardians).await?;
    let household = |athlete: &Athlete| Household {
        athlete: athlete.clone(),
        guardians: guardians
            .iter()
            .filter(|guardian| ties.iter().any(|tie| tie.guardian == guardian.id && tie.athlete == athlete.id))
            .cloned()
            .collect(),
        consents: consents.clone(),
    };
    Ok(about
        .iter()
        .filter_map(|id| scene.athletes.get(id))
        .map(|athlete| (athlete.id.clone(), household(athlete)))
        .collect())
}

/// Loads numbers, addresses, notices and choices, as far as the scene does not have them.
async fn known(
    tx: &mut Tx,
    scene: &mut Scene<'_>,
    about: &BTreeSet<AthleteId>,
    phones: &BTreeSet<Phone>,
    guardians: &[Guardian],
) -> Result<()> {
    let program = &scene.program.id;
    let unknown: Vec<&Phone> = phones.iter().filter(|phone| scene.numbers.get(phone).is_none()).collect();
    let numbers = tx.numbers_of(program, unknown).await?;
    scene.numbers.load(numbers.into_iter().map(|number| (number.phone.clone(), number)));
    let emails: Vec<&str> = guardians.iter().filter_map(|guardian| guardian.email.as_deref()).collect();
    let addresses = tx.addresses(program, &emails).await?;
    let notices = tx.notices_of(program, about, scene.now.minus(LOOK_BACK)).await?;
    let choices = tx.family_choices(program, about).await?;
    let families = &mut scene.families;
    let addresses = addresses.into_iter().map(|address| (address.address.clone(), address));
    families.addresses.load(addresses.filter(|(key, _)| families.addresses.get(key).is_none()).collect::<Vec<_>>());
    let notices = notices.into_iter().map(|notice| (notice.id.clone(), notice));
    families.notices.load(notices.filter(|(key, _)| families.notices.get(key).is_none()).collect::<Vec<_>>());
    let choices = choices.into_iter().map(|choice| (choice.athlete.clone(), choice));
    families.choices.load(choices.filter(|(key, _)| families.choices.get(key).is_none()).collect::<Vec<_>>());
    Ok(())
}
