//! Guardians, and which athletes they answer for.

use super::cell::{self, slug};
use super::consent;
use super::people::{self, People, name};
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, SourceFile};
use crate::trade::roster::{Consent, Guardian, GuardianId, Guardianship};

pub(super) static GUARDIANS: [Column; 11] = [
    people::ID,
    people::FIRST,
    people::LAST,
    column("name", &["fullname", "nombrecompleto", "guardian", "guardianname", "parent", "parentname"]),
    people::PHONE,
    people::EMAIL,
    people::LANGUAGE,
    column("athletes", &["athlete", "child", "children", "student", "students", "player", "players", "hijos"]),
    column("relation", &["relationship", "parentesco"]),
    people::CONSENT_DATE,
    people::CONSENT_HOW,
];

impl People<'_> {
    pub(super) fn read_guardians(&mut self, file: &SourceFile, found: &mut Findings) {
        let table = Table::read(file, &GUARDIANS, found);
        let named = table.has("name") || table.require(&["first", "last"], found);
        if !table.require(&["athletes"], found) || !named {
            return;
        }
        for record in table.records() {
            let Some(guardian) = self.guardian(record, found) else {
                continue;
            };
            self.link(record, &guardian, found);
            let name = format!("{} {}", guardian.first, guardian.last);
            let person = (guardian.id.as_str(), name.as_str());
            let consent = consent::of_adult(record, person, guardian.phone.as_ref(), self.frame, found);
            if self.guardians.get(guardian.id.as_str()) == Some(&guardian) {
                // One row a child: the person is the same, and so must the consent be, which is then kept once.
                self.repeat(record, consent, &guardian, found);
                continue;
            }
            self.take(&guardian.id.0, &name, record, found);
            self.consents.extend(consent);
            self.guardians.insert(guardian.id.0.clone(), guardian);
        }
    }

    fn repeat(&mut self, record: Record<'_>, consent: Option<Consent>, guardian: &Guardian, found: &mut Findings) {
        let before = self.consents.iter().rev().find(|consent| consent.person == guardian.id.0);
        match (before, consent) {
            (None, Some(consent)) => self.consents.push(consent),
            (Some(before), Some(consent)) if *before != consent => {
                let fault = Fault::new(
                    "an earlier row of this guardian records another consent",
                    "write the same consent in both rows, or leave it blank in one",
                );
                record.problem("consent_date", fault, found);
            }
            _ => {}
        }
    }

    fn guardian(&self, record: Record<'_>, found: &mut Findings) -> Option<Guardian> {
        let name = name(record, found);
        let phone = record.read("phone", found, cell::phone).flatten();
        let email = record.read("email", found, cell::email);
        let language = record.read("language", found, cell::language).unwrap_or_default();
        let id = record.read("id", found, cell::id);
        let (first, last) = name?;
        let id = GuardianId(id.unwrap_or_else(|| slug(&format!("{first} {last} guardian"))));
        Some(Guardian { program: self.frame.program.clone(), id, first, last, phone, email, language })
    }

    fn link(&mut self, record: Record<'_>, guardian: &Guardian, found: &mut Findings) {
        let Some(list) = record.text("athletes") else {
            record.note(format!("{} {} answers for no athlete", guardian.first, guardian.last), found);
            return;
        };
        for text in list.split([';', '|']).map(str::trim).filter(|text| !text.is_empty()) {
            let athlete = match self.index.find(text, None, self.frame) {
                Ok(Some(athlete)) => athlete,
                Ok(None) => continue,
                Err(fault) => {
                    record.problem("athletes", fault, found);
                    continue;
                }
            };
            let place = (guardian.id.clone(), athlete.clone());
            let link = self.guardianships.entry(place).or_insert_with(|| Guardianship {
                program: self.frame.program.clone(),
                guardian: guardian.id.clone(),
                athlete,
                relation: None,
            });
            link.relation = link.relation.take().or_else(|| record.owned("relation"));
        }
    }
}
