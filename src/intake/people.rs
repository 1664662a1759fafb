//! Athletes and guardians; and who is meant when another file names an athlete.
//!
//! Identifiers that a file leaves out are made of name and team, so that the same row is the same person next time.
//! Invariant: no identifier stands for two people, whatever their kind, since consent is kept by it.

use std::collections::BTreeMap;

use super::cell::{self, key, slug};
use super::consent;
use super::table::{Column, Record, Table, column};
use super::{Dataset, Fault, Findings, Frame, SourceFile};
use crate::trade::roster::{
    Athlete, AthleteId, Consent, Guardian, GuardianId, Guardianship, StaffMember, TeamId,
};

pub(super) const ID: Column = column(
    "id",
    &[
        "identifier",
        "athleteid",
        "studentid",
        "guardianid",
        "staffid",
        "playerid",
    ],
);
pub(super) const FIRST: Column = column(
    "first",
    &["firstname", "givenname", "nombre", "nombres", "fname"],
);
pub(super) const LAST: Column = column(
    "last",
    &[
        "lastname",
        "surname",
        "familyname",
        "apellido",
        "apellidos",
        "lname",
    ],
);
pub(super) const NAME: Column = column(
    "name",
    &[
        "fullname",
        "athletename",
        "playername",
        "athlete",
        "player",
        "nombrecompleto",
        "guardian",
        "guardianname",
        "parent",
        "parentname",
    ],
);
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
pub(super) const EMAIL: Column = column(
    "email",
    &["emailaddress", "mail", "correo", "correoelectronico"],
);
pub(super) const LANGUAGE: Column = column(
    "language",
    &["lang", "idioma", "preferredlanguage", "homelanguage"],
);
pub(super) const CONSENT_DATE: Column = column(
    "consent_date",
    &[
        "consented",
        "consentgiven",
        "consenton",
        "dateofconsent",
        "fechadeconsentimiento",
    ],
);
pub(super) const CONSENT_HOW: Column = column(
    "consent_how",
    &["consentmethod", "howconsented", "consentform"],
);
pub(super) const ACTIVE: Column = column("active", &["activo", "onroster"]);

static ATHLETES: [Column; 14] = [
    ID,
    FIRST,
    LAST,
    column(
        "name",
        &[
            "fullname",
            "athletename",
            "playername",
            "athlete",
            "player",
            "studentname",
            "nombrecompleto",
        ],
    ),
    column("team", &["squad", "level", "equipo"]),
    column(
        "jersey",
        &[
            "jerseynumber",
            "jerseyno",
            "number",
            "no",
            "num",
            "uniform",
            "uniformnumber",
            "camiseta",
        ],
    ),
    PHONE,
    LANGUAGE,
    column(
        "born",
        &[
            "birthdate",
            "birthday",
            "dateofbirth",
            "dob",
            "fechadenacimiento",
            "nacimiento",
        ],
    ),
    column(
        "consent_by",
        &[
            "consentgivenby",
            "consentedby",
            "consentfrom",
            "consentname",
        ],
    ),
    column(
        "consent_standing",
        &["consentas", "consentrelation", "standing"],
    ),
    CONSENT_DATE,
    CONSENT_HOW,
    ACTIVE,
];

static GUARDIANS: [Column; 11] = [
    ID,
    FIRST,
    LAST,
    NAME,
    PHONE,
    EMAIL,
    LANGUAGE,
    column(
        "athletes",
        &[
            "athlete", "child", "children", "student", "students", "player", "players", "hijos",
        ],
    ),
    column("relation", &["relationship", "parentesco"]),
    CONSENT_DATE,
    CONSENT_HOW,
];

/// The people as they are read.
pub(super) struct People<'a> {
    pub(super) frame: &'a Frame<'a>,
    athletes: Vec<Athlete>,
    guardians: Vec<Guardian>,
    guardianships: Vec<Guardianship>,
    pub(super) staff: Vec<StaffMember>,
    pub(super) consents: Vec<Consent>,
    taken: BTreeMap<String, (String, u64)>,
    index: Index,
}

impl<'a> People<'a> {
    pub(super) fn new(frame: &'a Frame<'a>) -> Self {
        Self {
            frame,
            athletes: Vec::new(),
            guardians: Vec::new(),
            guardianships: Vec::new(),
            staff: Vec::new(),
            consents: Vec::new(),
            taken: BTreeMap::new(),
            index: Index {
                athletes: frame.known_athletes.to_vec(),
                sure: true,
            },
        }
    }

    /// Who is meant by what.
    pub(super) fn index(&self) -> &Index {
        &self.index
    }

    /// Hands over what was read.
    pub(super) fn give(self, data: &mut Dataset) {
        data.athletes = self.athletes;
        data.guardians = self.guardians;
        data.guardianships = self.guardianships;
        data.staff = self.staff;
        data.consents = self.consents;
    }

    pub(super) fn read_athletes(&mut self, file: &SourceFile, found: &mut Findings) {
        let table = Table::read(file, &ATHLETES, found);
        let named = table.has("name") || table.require(&["first", "last"], found);
        let teamed = self.frame.teams.len() == 1 || table.require(&["team"], found);
        if !named || !teamed {
            self.index = Index {
                athletes: Vec::new(),
                sure: false,
            };
            return;
        }
        let mut jerseys = BTreeMap::new();
        for record in table.records() {
            let Some(athlete) = self.athlete(record, found) else {
                self.index.sure = false;
                continue;
            };
            if athlete.active
                && let Some(jersey) = &athlete.jersey
            {
                let place = (athlete.team.clone(), jersey.clone());
                if let Some(line) = jerseys.insert(place, record.line()) {
                    let what = format!(
                        "jersey {jersey} of {} is on line {line} already",
                        athlete.team
                    );
                    let fault = Fault::new(
                        what,
                        "give one of the two another number, or leave it blank",
                    );
                    record.problem("jersey", fault, found);
                }
            }
            self.consents
                .extend(consent::of_athlete(record, &athlete, self.frame, found));
            self.athletes.push(athlete);
        }
        self.index = Index {
            athletes: self.athletes.clone(),
            sure: self.index.sure,
        };
        self.note_phones(file, found);
    }

    fn note_phones(&self, file: &SourceFile, found: &mut Findings) {
        let active = || self.athletes.iter().filter(|athlete| athlete.active);
        let silent = active().filter(|athlete| {
            athlete.phone.is_some()
                && !self
                    .consents
                    .iter()
                    .any(|consent| athlete.consented(consent))
        });
        let phoneless = active().filter(|athlete| athlete.phone.is_none());
        let mut owners: BTreeMap<_, Vec<String>> = BTreeMap::new();
        for athlete in active() {
            owners
                .entry(&athlete.phone)
                .or_default()
                .push(athlete.short());
        }
        let (silent, phoneless) = (silent.count(), phoneless.count());
        if silent > 0 {
            found.note(
                &file.name,
                None,
                format!("{silent} with a number and no consent: checked by hand, not texted"),
            );
        }
        if phoneless > 0 {
            found.note(
                &file.name,
                None,
                format!("{phoneless} without a number: checked by hand"),
            );
        }
        for (phone, owners) in owners {
            if let Some(phone) = phone
                && owners.len() > 1
            {
                found.note(
                    &file.name,
                    None,
                    format!(
                        "{} share the number {}",
                        owners.join(" and "),
                        phone.short()
                    ),
                );
            }
        }
    }

    fn athlete(&mut self, record: Record<'_>, found: &mut Findings) -> Option<Athlete> {
        let name = name(record, found);
        let team = self.team(record, found);
        let phone = record.read("phone", found, cell::phone).flatten();
        let jersey = record.read("jersey", found, cell::jersey).flatten();
        let language = record
            .read("language", found, cell::language)
            .unwrap_or_default();
        let born = record.read("born", found, |text| consent::past(text, self.frame));
        let active = record.read("active", found, cell::yes).unwrap_or(true);
        let id = record.read("id", found, cell::id);
        let ((first, last), team) = (name?, team?);
        let id = id.unwrap_or_else(|| slug(&format!("{first} {last} {team}")));
        self.take(&id, &format!("{first} {last}"), record, found);
        let program = self.frame.program.clone();
        Some(Athlete {
            program,
            id: AthleteId(id),
            team,
            jersey,
            first,
            last,
            born,
            language,
            phone,
            active,
        })
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
        let where_ = if file == record.file() {
            format!("line {line}")
        } else {
            format!("{file} line {line}")
        };
        let fault = Fault::new(
            format!("`{name}` has the id `{id}`, which stands on {where_} already"),
            "remove one of the two rows, or tell them apart in a column `id`",
        );
        record.problem("id", fault, found);
    }

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
            let consent =
                consent::of_adult(record, person, guardian.phone.as_ref(), self.frame, found);
            if self.guardians.contains(&guardian) {
                // One row a child: the person is the same, and so must the consent be, which is then kept once.
                self.repeat(record, consent, &guardian, found);
                continue;
            }
            self.take(&guardian.id.0, &name, record, found);
            self.consents.extend(consent);
            self.guardians.push(guardian);
        }
    }

    fn repeat(
        &mut self,
        record: Record<'_>,
        consent: Option<Consent>,
        guardian: &Guardian,
        found: &mut Findings,
    ) {
        let before = self
            .consents
            .iter()
            .find(|consent| consent.person == guardian.id.0);
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
        let language = record
            .read("language", found, cell::language)
            .unwrap_or_default();
        let id = record.read("id", found, cell::id);
        let (first, last) = name?;
        let id = GuardianId(id.unwrap_or_else(|| slug(&format!("{first} {last} guardian"))));
        Some(Guardian {
            program: self.frame.program.clone(),
            id,
            first,
            last,
            phone,
            email,
            language,
        })
    }

    fn link(&mut self, record: Record<'_>, guardian: &Guardian, found: &mut Findings) {
        let Some(list) = record.text("athletes") else {
            record.note(
                format!(
                    "{} {} answers for no athlete",
                    guardian.first, guardian.last
                ),
                found,
            );
            return;
        };
        for text in list
            .split([';', '|'])
            .map(str::trim)
            .filter(|text| !text.is_empty())
        {
            let athlete = match self.index.find(text, None, self.frame) {
                Ok(Some(athlete)) => athlete,
                Ok(None) => continue,
                Err(fault) => {
                    record.problem("athletes", fault, found);
                    continue;
                }
            };
            let same =
                |link: &&mut Guardianship| link.guardian == guardian.id && link.athlete == athlete;
            let relation = record.owned("relation");
            if let Some(link) = self.guardianships.iter_mut().find(same) {
                link.relation = link.relation.take().or(relation);
                continue;
            }
            let program = self.frame.program.clone();
            self.guardianships.push(Guardianship {
                program,
                guardian: guardian.id.clone(),
                athlete,
                relation,
            });
        }
    }
}

/// First and last name, from their columns or from one that holds both.
pub(super) fn name(record: Record<'_>, found: &mut Findings) -> Option<(String, String)> {
    match (
        record.owned("first"),
        record.owned("last"),
        record.text("name"),
    ) {
        (Some(first), Some(last), _) => Some((first, last)),
        (None, None, Some(_)) => record.read("name", found, split_name),
        (first, last, _) => {
            for (column, cell) in [("first", first), ("last", last)] {
                if cell.is_none() {
                    let fault =
                        Fault::new(format!("no {column} name"), "write it, or remove the row");
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

/// Who is meant when a file names an athlete.
pub(super) struct Index {
    athletes: Vec<Athlete>,
    /// Whether all rows could be read; if not, a name that is not found may be one of those.
    sure: bool,
}

impl Index {
    /// The athlete meant by an id, a full name, or a jersey number that only one active athlete (of the team) wears.
    /// None when that cannot be told because rows of the roster have problems of their own.
    pub(super) fn find(
        &self,
        text: &str,
        team: Option<&TeamId>,
        frame: &Frame<'_>,
    ) -> Result<Option<AthleteId>, Fault> {
        let mut fits: Vec<_> = self
            .athletes
            .iter()
            .filter(|athlete| athlete.id.as_str() == text)
            .collect();
        if fits.is_empty() {
            fits = self.named(text);
        }
        if fits.is_empty() {
            fits = self.wearing(text, team, frame);
        }
        match fits.as_slice() {
            [only] => Ok(Some(only.id.clone())),
            [] if !self.sure => Ok(None),
            [] => Err(Fault::new(
                format!("there is no athlete `{text}`"),
                "write an id, a full name or a jersey number from athletes.csv",
            )),
            many => {
                let ids: Vec<_> = many
                    .iter()
                    .map(|athlete| format!("`{}`", athlete.id))
                    .collect();
                Err(Fault::new(
                    format!("`{text}` may be {}", ids.join(" or ")),
                    "write the id",
                ))
            }
        }
    }

    fn named(&self, text: &str) -> Vec<&Athlete> {
        let turned = text
            .split_once(',')
            .map(|(last, first)| format!("{first} {last}"));
        let wanted = key(turned.as_deref().unwrap_or(text));
        let full =
            |athlete: &&Athlete| key(&format!("{}{}", athlete.first, athlete.last)) == wanted;
        let fits: Vec<_> = self.athletes.iter().filter(full).collect();
        let active: Vec<_> = fits
            .iter()
            .copied()
            .filter(|athlete| athlete.active)
            .collect();
        if active.is_empty() { fits } else { active }
    }

    fn wearing(&self, text: &str, team: Option<&TeamId>, frame: &Frame<'_>) -> Vec<&Athlete> {
        let (numbers, rest): (Vec<_>, Vec<_>) = text
            .split([' ', '#', ',', '(', ')'])
            .filter(|part| !part.is_empty())
            .partition(|part| part.bytes().all(|byte| byte.is_ascii_digit()));
        let [jersey] = numbers.as_slice() else {
            return Vec::new();
        };
        let named = if rest.is_empty() {
            None
        } else {
            cell::find_team(&rest.join(" "), frame)
        };
        if named.is_none() && !rest.is_empty() {
            return Vec::new();
        }
        let team = named.as_ref().or(team);
        let fits = |athlete: &&Athlete| {
            athlete.active
                && athlete.jersey.as_deref() == Some(jersey)
                && team.is_none_or(|team| athlete.team == *team)
        };
        self.athletes.iter().filter(fits).collect()
    }
}
