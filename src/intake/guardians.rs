//! Guardians, and which athletes they answer for.

use super::cell::{self, slug};
use super::consent;
use super::people::{self, People, name};
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, SourceFile};
use crate::trade::notice::{NoticeKind, Way};
use crate::trade::roster::{Consent, Guardian, GuardianId, Guardianship};

pub(super) static GUARDIANS: [Column; 14] = [
    people::ID,
    people::FIRST,
    people::LAST,
    column("name", &["fullname", "nombrecompleto", "guardian", "guardianname", "parent", "parentname"]),
    people::PHONE,
    people::EMAIL,
    people::LANGUAGE,
    column("athletes", &["athlete", "child", "children", "student", "students", "player", "players", "hijos"]),
    column("relation", &["relationship", "parentesco"]),
    column("way", &["by", "noticesby", "via", "avisospor"]),
    column("notices", &["kinds", "kindsofnotice", "avisos"]),
    column("backup", &["standin", "onlyifneeded", "suplente"]),
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
        let way = record.read("way", found, way);
        let notices = record.read("notices", found, kinds);
        let backup = record.read("backup", found, cell::yes).unwrap_or(false);
        if matches!(way, Some(Way::Email | Way::Both)) && email.is_none() {
            let fault =
                Fault::new("notices go by e-mail and there is no address", "write it in `email`, or `text` here");
            record.problem("way", fault, found);
        }
        let (first, last) = name?;
        let id = GuardianId(id.unwrap_or_else(|| slug(&format!("{first} {last} guardian"))));
        let program = self.frame.program.clone();
        Some(Guardian { program, id, first, last, phone, email, language, way, notices, backup })
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

/// By which way notices go.
fn way(text: &str) -> Result<Way, Fault> {
    match cell::key(text).as_str() {
        "text" | "sms" | "texts" | "mensaje" | "texto" => Ok(Way::Text),
        "email" | "mail" | "emails" | "correo" | "correoelectronico" => Ok(Way::Email),
        "both" | "ambos" | "textandemail" | "emailandtext" => Ok(Way::Both),
        _ => Err(Fault::new(format!("`{text}` is not a way"), "write text, email or both, or leave the cell blank")),
    }
}

/// Kinds of notice: "held; cleared", "all", "none".
fn kinds(text: &str) -> Result<Vec<NoticeKind>, Fault> {
    match cell::key(text).as_str() {
        "all" | "todos" | "todo" => return Ok(NoticeKind::ALL.to_vec()),
        "none" | "no" | "ninguno" => return Ok(Vec::new()),
        _ => {}
    }
    let mut kinds = Vec::new();
    for word in text.split([';', '|', ',']).map(cell::key).filter(|word| !word.is_empty()) {
        let kind = match word.as_str() {
            "held" | "hold" | "holds" | "pausa" => NoticeKind::Held,
            "step" | "steps" | "paso" | "pasos" => NoticeKind::Step,
            "cleared" | "clear" | "clearance" | "alta" => NoticeKind::Cleared,
            "helmet" | "helmets" | "casco" | "cascos" => NoticeKind::Helmet,
            _ => {
                let mend = "write held, step, cleared and helmet with a semicolon between, or all, or none";
                return Err(Fault::new(format!("`{word}` is not a kind of notice"), mend));
            }
        };
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    kinds.sort();
    Ok(kinds)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_named_or_refused() {
        use NoticeKind::{Cleared, Held, Step};
        assert_eq!(kinds("cleared; held").unwrap(), [Held, Cleared]);
        assert_eq!(kinds("Steps|held").unwrap(), [Held, Step]);
        assert_eq!(kinds("none").unwrap(), []);
        assert_eq!(kinds("todos").unwrap().len(), 4);
        assert!(kinds("held; everything").is_err());
        assert_eq!(way("E-mail").unwrap(), Way::Email);
        assert!(way("pigeon").is_err());
    }
}
