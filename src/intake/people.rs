//! Athletes, and what all files of people have in common: names, identifiers, columns.
//!
//! Identifiers that a file leaves out are made of name and team, so that the same row is the same person next time.
//! Invariant: no identifier stands for two people, whatever their kind, since consent is kept by it.

use std::collections::BTreeMap;

use super::cell::{self, slug};
use super::consent;
use super::index::Index;
use super::table::{Column, Record, Table, column};
use super::{Dataset, Fault, Findings, Frame, SourceFile};
use crate::trade::roster::{Athlete, AthleteId, Consent, Guardian, GuardianId, Guardianship, StaffMember, TeamId};
use crate::trade::size::circumference_mm;

pub(super) const ID: Column =
    column("id", &["identifier", "athleteid", "studentid", "guardianid", "staffid", "playerid"]);
pub(super) const FIRST: Column = column("first", &["firstname", "givenname", "nombre", "nombres", "fname"]);
pub(super) const LAST: Column =
    column("last", &["lastname", "surname", "familyname", "apellido", "apellidos", "lname"]);
pub(super) const PHONE: Column = column(
    "phone",
    &[
        "phonenumber",
        "cell",
        "cellphone",
        "cellnumber",
        "mobile",
        "mobilephone",
        "mobilenumber",
        "telephone",
        "tel",
        "telefono",
        "numerodetelefono",
        "celular",
        "athletephone",
        "studentphone",
    ],
);
pub(super) const EMAIL: Column = column("email", &["emailaddress", "mail", "correo", "correoelectronico"]);
pub(super) const LANGUAGE: Column = column("language", &["lang", "idioma", "preferredlanguage", "homelanguage"]);
pub(super) const CONSENT_DATE: Column =
    column("consent_date", &["consented", "consentgiven", "consenton", "dateofconsent", "fechadeconsentimiento"]);
pub(super) const CONSENT_HOW: Column = column("consent_how", &["consentmethod", "howconsented", "consentform"]);
pub(super) const ACTIVE: Column = column("active", &["activo", "onroster"]);

pub(super) static ATHLETES: [Column; 15] = [
    ID,
    FIRST,
    LAST,
    column("name", &["fullname", "athletename", "playername", "athlete", "player", "studentname", "nombrecompleto"]),
    column("team", &["squad", "level", "equipo"]),
    column("jersey", &["jerseynumber", "jerseyno", "number", "no", "num", "uniform", "uniformnumber", "camiseta"]),
    PHONE,
    LANGUAGE,
    column("born", &["birthdate", "birthday", "dateofbirth", "dob", "fechadenacimiento", "nacimiento"]),
    column("head", &["headsize", "headcircumference", "headcm", "headinches", "cabeza"]),
    column("consent_by", &["consentgivenby", "consentedby", "consentfrom", "consentname"]),
    column("consent_standing", &["consentas", "consentrelation", "standing"]),
    CONSENT_DATE,
    CONSENT_HOW,
    ACTIVE,
];

/// The people as they are read.
pub(super) struct People<'a> {
    pub(super) frame: &'a Frame<'a>,
    athletes: Vec<Athlete>,
    pub(super) guardians: BTreeMap<String, Guardian>,
    pub(super) guardianships: BTreeMap<(GuardianId, AthleteId), Guardianship>,
    pub(super) staff: Vec<StaffMember>,
    pub(super) consents: Vec<Consent>,
    taken: BTreeMap<String, (String, u64)>,
    pub(super) index: Index,
}

impl<'a> People<'a> {
    pub(super) fn new(frame: &'a Frame<'a>) -> Self {
        Self {
            frame,
            athletes: Vec::new(),
            guardians: BTreeMap::new(),
            guardianships: BTreeMap::new(),
            staff: Vec::new(),
            consents: Vec::new(),
            taken: BTreeMap::new(),
            index: Index::new(frame.known_athletes, true),
        }
    }

    /// Who is meant by what.
    pub(super) fn index(&self) -> &Index {
        &self.index
    }

    /// Hands over what was read.
    pub(super) fn give(self, data: &mut Dataset) {
        data.athletes = self.athletes;
        data.guardians = self.guardians.into_values().collect();
        data.guardianships = self.guardianships.into_values().collect();
        data.staff = self.staff;
        data.consents = self.consents;
    }

    pub(super) fn read_athletes(&mut self, file: &SourceFile, found: &mut Findings) {
        let table = Table::read(file, &ATHLETES, found);
        let named = table.has("name") || table.require(&["first", "last"], found);
        let teamed = self.frame.teams.len() == 1 || table.require(&["team"], found);
        if !named || !teamed {
            self.index = Index::new(&[], false);
            return;
        }
        let (mut jerseys, mut sure) = (BTreeMap::new(), true);
        for record in table.records() {
            let Some(athlete) = self.athlete(record, found) else {
                sure = false;
                continue;
            };
            check_jersey(&mut jerseys, record, &athlete, found);
            let consent = consent::of_athlete(record, &athlete, self.frame, found);
            self.consents.extend(consent);
            self.athletes.push(athlete);
        }
        self.index = Index::new(&self.athletes, sure);
        self.note_phones(file, found);
    }

    fn note_phones(&self, file: &SourceFile, found: &mut Findings) {
        let consents: BTreeMap<_, _> = self.consents.iter().map(|consent| (consent.person.as_str(), consent)).collect();
        let (mut silent, mut phoneless) = (0, 0);
        let mut owners: BTreeMap<_, Vec<String>> = BTreeMap::new();
        for athlete in self.athletes.iter().filter(|athlete| athlete.active) {
            let Some(phone) = &athlete.phone else {
                phoneless += 1;
                continue;
            };
            let consent = consents.get(athlete.id.as_str());
            silent += u32::from(!consent.is_some_and(|consent| athlete.consented(consent)));
            owners.entry(phone).or_default().push(athlete.short());
        }
        let mut note = |what: String| found.note(&file.name, None, what);
        if silent > 0 {
            note(format!("{silent} with a number and no consent: checked by hand, not texted"));
        }
        if phoneless > 0 {
            note(format!("{phoneless} without a number: checked by hand"));
        }
        for (phone, owners) in owners.into_iter().filter(|(_, owners)| owners.len() > 1) {
            note(format!("{} share the number {}", owners.join(" and "), phone.short()));
        }
    }

    fn athlete(&mut self, record: Record<'_>, found: &mut Findings) -> Option<Athlete> {
        let name = name(record, found);
        let team = self.team(record, found);
        let phone = record.read("phone", found, cell::phone).flatten();
        let jersey = record.read("jersey", found, cell::jersey).flatten();
        let language = record.read("language", found, cell::language).unwrap_or_default();
        let born = record.read("born", found, |text| consent::past(text, self.frame));
        let active = record.read("active", found, cell::yes).unwrap_or(true);
        let head_mm = record.read("head", found, |text| {
            circumference_mm(text).ok_or_else(|| {
                let what = format!("`{text}` is not the circumference of a head");
                Fault::new(what, "write it as `22 1/2 in` or `57 cm`, or leave it blank")
            })
        });
        let id = record.read("id", found, cell::id);
        let ((first, last), team) = (name?, team?);
        let id = id.unwrap_or_else(|| slug(&format!("{first} {last} {team}")));
        self.take(&id, &format!("{first} {last}"), record, found);
        let program = self.frame.program.clone();
        Some(Athlete { program, id: AthleteId(id), team, jersey, first, last, born, language, phone, head_mm, active })
    }

    fn team(&self, record: Record<'_>, found: &mut Findings) -> Option<TeamId> {
        if record.text("team").is_some() {
            return record.read("team", found, |text| cell::team(text, self.frame));
        }
        if let [(only, _)] = self.frame.teams {
            return Some(only.clone());
        }
        let mend = format!("write one of {}", cell::team_names(self.frame));
        record.problem("team", Fault::new("no team", mend), found);
        None
    }

    /// Takes an identifier for a row; a problem when another row has it.
    pub(super) fn take(&mut self, id: &str, name: &str, record: Record<'_>, found: &mut Findings) {
        let place = (record.file().to_owned(), record.line());
        let Some((file, line)) = self.taken.insert(id.to_owned(), place) else {
            return;
        };
        let where_ = if file == record.file() { format!("line {line}") } else { format!("{file} line {line}") };
        let fault = Fault::new(
            format!("`{name}` has the id `{id}`, which stands on {where_} already"),
            "remove one of the two rows, or tell them apart in a column `id`",
        );
        record.problem("id", fault, found);
    }
}

/// Notes a problem when an active athlete's number is worn in the team already.
fn check_jersey(
    jerseys: &mut BTreeMap<(TeamId, String), u64>,
    record: Record<'_>,
    athlete: &Athlete,
    found: &mut Findings,
) {
    let Some(jersey) = athlete.jersey.as_ref().filter(|_| athlete.active) else {
        return;
    };
    let place = (athlete.team.clone(), jersey.clone());
    if let Some(line) = jerseys.insert(place, record.line()) {
        let what = format!("jersey {jersey} of {} is on line {line} already", athlete.team);
        let mend = "give one of the two another number, or leave it blank";
        record.problem("jersey", Fault::new(what, mend), found);
    }
}

/// First and last name, from their columns or from one that holds both.
pub(super) fn name(record: Record<'_>, found: &mut Findings) -> Option<(String, String)> {
    match (record.owned("first"), record.owned("last"), record.text("name")) {
        (Some(first), Some(last), _) => Some((first, last)),
        (None, None, Some(_)) => record.read("name", found, split_name),
        (first, last, _) => {
            for (column, cell) in [("first", first), ("last", last)] {
                if cell.is_none() {
                    let fault = Fault::new(format!("no {column} name"), "write it, or remove the row");
                    record.problem(column, fault, found);
                }
            }
            None
        }
    }
}

/// "Last, First", or exactly two words; where the last name begins in three words nobody can tell.
fn split_name(text: &str) -> Result<(String, String), Fault> {
    if let Some((last, first)) = text.split_once(',') {
        let (last, first) = (last.trim(), first.trim());
        if !last.is_empty() && !first.is_empty() && !first.contains(',') {
            return Ok((first.to_owned(), last.to_owned()));
        }
    } else if let Some((first, last)) = text.split_once(' ')
        && !last.contains(' ')
    {
        return Ok((first.to_owned(), last.to_owned()));
    }
    Err(Fault::new(
        format!("it is not plain which part of `{text}` is the last name"),
        "write `Last, First`, or use columns `first` and `last`",
    ))
}
