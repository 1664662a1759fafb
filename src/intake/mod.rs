//! Intake: from spreadsheets and calendar files to checked values, and what they would change.
//!
//! Pure: bytes, a [`Frame`] with the moment of the import, and what is known go in; a [`Dataset`] or every
//! [`Problem`] at once comes out. Reading folders is the command's part, writing rows the store's. Invariant: a
//! [`Dataset`] from [`parse`] is sorted by key, holds no key twice and names no athlete that is not there.
//!
//! What is read: `athletes.csv`, `guardians.csv`, `staff.csv`, `helmets.csv`, `models.csv`, `drills.csv`, `venues.csv`, `kits.csv`, `holds.csv`, `events.csv` and every `*.ics`. A file
//! that is absent says nothing about its kind; see [`Scope`].

mod calendar;
mod cell;
mod changes;
mod consent;
mod drills;
mod events;
mod guardians;
mod helmets;
mod holds;
mod index;
mod kits;
mod models;
mod people;
mod staff;
mod table;
mod text;
mod when;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use chrono_tz::Tz;

use crate::trade::clearance::Brought;
use crate::trade::drill::{Drill, Venue};
use crate::trade::kit::{Kit, Stock};
use crate::trade::model::Model;
use crate::trade::roster::{Athlete, Consent, Event, Guardian, Guardianship, Helmet, ProgramId, StaffMember, TeamId};
use crate::trade::time::Moment;

pub use changes::{Changes, Kind, Update, changes};

/// How far ahead calendars are expanded unless told otherwise, in days: a season and its next.
pub const HORIZON_DAYS: i64 = 400;
/// How far back calendars are expanded, in days, so that yesterday's practice is still known.
pub const LOOK_BACK_DAYS: i64 = 2;

/// A file as it was found.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// Name, with or without folders; it stands at the front of every problem, and its last part tells what it is.
    pub name: String,
    /// Content, untouched.
    pub bytes: Vec<u8>,
}

/// What the files are read against.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    /// The program that everything belongs to.
    pub program: &'a ProgramId,
    /// Its time zone: of events.csv, and of calendar times that name none.
    pub zone: Tz,
    /// Staff already stored; consulted only when there is no staff.csv among the files.
    pub known_staff: &'a [StaffMember],
    /// Its teams: key and display name; files may use either.
    pub teams: &'a [(TeamId, String)],
    /// Athletes already stored; consulted only when there is no athletes.csv among the files.
    pub known_athletes: &'a [Athlete],
    /// The moment of the import; dates after it are refused where they must lie behind.
    pub now: Moment,
    /// Calendars are expanded from [`LOOK_BACK_DAYS`] before `now` to this many days after it.
    pub horizon_days: i64,
    /// Keys of the ways back that are known.
    pub progressions: &'a [String],
}

/// What is wrong at one place, and how to mend it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Problem {
    /// File, as named in [`SourceFile`].
    pub file: String,
    /// Line in the file, from 1. For a row with line breaks inside quotes, the line it begins on.
    pub line: u64,
    /// Field in the row, from 1, for CSV files (column B is 2); always 1 for calendar files.
    pub column: u64,
    /// What is wrong.
    pub what: String,
    /// How to mend it.
    pub mend: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { file, line, column, what, mend } = self;
        write!(formatter, "{file}:{line}:{column} {what}; {mend}")
    }
}

/// Something harmless that is worth saying.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Note {
    /// File, as named in [`SourceFile`].
    pub file: String,
    /// Line in the file, from 1; none when it is about the whole file.
    pub line: Option<u64>,
    /// What there is to say.
    pub what: String,
}

impl fmt::Display for Note {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { file, line, what } = self;
        match line {
            Some(line) => write!(formatter, "{file}:{line} {what}"),
            None => write!(formatter, "{file}: {what}"),
        }
    }
}

/// Which kinds the files spoke of, so that silence is not taken for removal.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Scope {
    /// There was an athletes.csv.
    pub athletes: bool,
    /// There was a guardians.csv.
    pub guardians: bool,
    /// There was a staff.csv.
    pub staff: bool,
    /// There was a helmets.csv.
    pub helmets: bool,
    /// There was a models.csv.
    pub models: bool,
    /// There was a drills.csv.
    pub drills: bool,
    /// There was a venues.csv.
    pub venues: bool,
    /// There was a kits.csv.
    pub kits: bool,
    /// There was a holds.csv.
    pub holds: bool,
    /// There was an events.csv.
    pub events: bool,
    /// Each calendar file (last part of its name) with the UIDs that it holds whole: the entry itself, with a time, and
    /// not only a change to one. Those without an occurrence are included.
    pub calendars: BTreeMap<String, BTreeSet<String>>,
    /// The moment of the import; events before it are left as they are.
    pub from: Moment,
    /// End of the span that calendars were expanded for.
    pub until: Moment,
}

/// Everything the files say; or, with a default [`Scope`], everything the store holds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Dataset {
    /// By identifier.
    pub athletes: Vec<Athlete>,
    /// By identifier.
    pub guardians: Vec<Guardian>,
    /// By guardian, then athlete.
    pub guardianships: Vec<Guardianship>,
    /// By identifier.
    pub staff: Vec<StaffMember>,
    /// By tag.
    pub helmets: Vec<Helmet>,
    /// By name.
    pub models: Vec<Model>,
    /// By key.
    pub drills: Vec<Drill>,
    /// By name.
    pub venues: Vec<Venue>,
    /// By number.
    pub kits: Vec<Kit>,
    /// By kit, then item.
    pub stock: Vec<Stock>,
    /// Who is held: from a file, or for the body in the store.
    pub held: Vec<Brought>,
    /// By identifier.
    pub events: Vec<Event>,
    /// By person, then number.
    pub consents: Vec<Consent>,
    /// What was spoken of.
    pub scope: Scope,
}

impl Dataset {
    fn sort(&mut self) {
        self.athletes.sort_by(|a, b| a.id.cmp(&b.id));
        self.guardians.sort_by(|a, b| a.id.cmp(&b.id));
        self.guardianships.sort();
        self.staff.sort_by(|a, b| a.id.cmp(&b.id));
        self.helmets.sort_by(|a, b| a.tag.cmp(&b.tag));
        self.models.sort_by(|a, b| a.name.cmp(&b.name));
        self.drills.sort_by(|a, b| a.id.cmp(&b.id));
        self.venues.sort_by(|a, b| a.name.cmp(&b.name));
        self.kits.sort_by(|a, b| a.id.cmp(&b.id));
        self.stock.sort_by(|a, b| (&a.kit, &a.item).cmp(&(&b.kit, &b.item)));
        self.events.sort_by(|a, b| a.id.cmp(&b.id));
        self.consents.sort_by(|a, b| (&a.person, &a.phone).cmp(&(&b.person, &b.phone)));
    }
}

/// What is wrong with one value, before it is known where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Fault {
    what: String,
    mend: String,
}

impl Fault {
    fn new(what: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { what: what.into(), mend: mend.into() }
    }
}

/// Problems and notes as they are gathered.
#[derive(Debug, Default)]
struct Findings {
    problems: Vec<Problem>,
    notes: Vec<Note>,
}

impl Findings {
    fn problem(&mut self, file: &str, line: u64, column: u64, fault: Fault) {
        let Fault { what, mend } = fault;
        self.problems.push(Problem { file: file.to_owned(), line, column, what, mend });
    }

    fn note(&mut self, file: &str, line: Option<u64>, what: impl Into<String>) {
        self.notes.push(Note { file: file.to_owned(), line, what: what.into() });
    }
}

/// Reads all files together.
///
/// # Errors
/// Every [`Problem`] there is, in the order of files and lines; with a single one nothing is returned as read.
pub fn parse(files: &[SourceFile], frame: &Frame<'_>) -> Result<(Dataset, Vec<Note>), Vec<Problem>> {
    let mut found = Findings::default();
    let sorted = Sorted::new(files, &mut found);
    let mut data = Dataset::default();
    data.scope.from = frame.now;
    data.scope.until = frame.now.plus(days(frame.horizon_days));

    let mut people = people::People::new(frame);
    if let Some(file) = sorted.athletes {
        data.scope.athletes = true;
        people.read_athletes(file, &mut found);
    }
    if let Some(file) = sorted.guardians {
        data.scope.guardians = true;
        people.read_guardians(file, &mut found);
    }
    if let Some(file) = sorted.staff {
        data.scope.staff = true;
        people.read_staff(file, &mut found);
    }
    if let Some(file) = sorted.helmets {
        data.scope.helmets = true;
        data.helmets = helmets::read(file, frame, people.index(), &mut found);
    }
    if let Some(file) = sorted.models {
        data.scope.models = true;
        data.models = models::read(file, frame, &mut found);
        models::note_unknown(&data, file, &mut found);
    }
    if let Some(file) = sorted.drills {
        data.scope.drills = true;
        let staff = if data.scope.staff { people.staff.as_slice() } else { frame.known_staff };
        data.drills = drills::read(file, frame, staff, &mut found);
    }
    if let Some(file) = sorted.venues {
        data.scope.venues = true;
        data.venues = drills::venues(file, frame, &mut found);
    }
    if let Some(file) = sorted.kits {
        data.scope.kits = true;
        let staff = if data.scope.staff { people.staff.as_slice() } else { frame.known_staff };
        (data.kits, data.stock) = kits::read(file, frame, staff, &mut found);
    }
    if let Some(file) = sorted.holds {
        data.scope.holds = true;
        data.held = holds::read(file, frame, people.index(), &mut found);
    }
    people.give(&mut data);
    if let Some(file) = sorted.events {
        data.scope.events = true;
        data.events = events::read(file, frame, &mut found);
    }
    calendar::read(&sorted.calendars, frame, &mut data, &mut found);
    data.sort();
    events::note_overlaps(&data.events, &mut found);

    if found.problems.is_empty() {
        return Ok((data, found.notes));
    }
    found.problems.sort();
    found.problems.dedup();
    Err(found.problems)
}

fn days(days: i64) -> chrono::TimeDelta {
    chrono::TimeDelta::days(days.clamp(0, 3660))
}

/// The files by what they are.
#[derive(Default)]
struct Sorted<'a> {
    athletes: Option<&'a SourceFile>,
    guardians: Option<&'a SourceFile>,
    staff: Option<&'a SourceFile>,
    helmets: Option<&'a SourceFile>,
    models: Option<&'a SourceFile>,
    drills: Option<&'a SourceFile>,
    venues: Option<&'a SourceFile>,
    kits: Option<&'a SourceFile>,
    holds: Option<&'a SourceFile>,
    events: Option<&'a SourceFile>,
    calendars: Vec<&'a SourceFile>,
}

impl<'a> Sorted<'a> {
    fn new(files: &'a [SourceFile], found: &mut Findings) -> Self {
        let mut sorted = Self::default();
        let mut calendars = BTreeSet::new();
        for file in files {
            let name = last_part(&file.name).to_lowercase();
            let slot = match name.as_str() {
                "athletes.csv" => &mut sorted.athletes,
                "guardians.csv" => &mut sorted.guardians,
                "staff.csv" => &mut sorted.staff,
                "helmets.csv" => &mut sorted.helmets,
                "models.csv" => &mut sorted.models,
                "drills.csv" => &mut sorted.drills,
                "venues.csv" => &mut sorted.venues,
                "kits.csv" => &mut sorted.kits,
                "holds.csv" => &mut sorted.holds,
                "events.csv" => &mut sorted.events,
                _ if name.ends_with(".ics") => {
                    if !calendars.insert(name) {
                        twice(file, found);
                    }
                    sorted.calendars.push(file);
                    continue;
                }
                _ => {
                    found.note(&file.name, None, not_read(&name));
                    continue;
                }
            };
            if slot.replace(file).is_some() {
                twice(file, found);
            }
        }
        sorted
    }
}

fn twice(file: &SourceFile, found: &mut Findings) {
    let fault = Fault::new("there are two files of this name", "keep one of them");
    found.problem(&file.name, 1, 1, fault);
}

fn not_read(name: &str) -> String {
    let sheet = [".xlsx", ".xls", ".ods", ".numbers"].iter().any(|end| name.ends_with(end));
    if sheet {
        return "not read: save the sheet as CSV (UTF-8)".to_owned();
    }
    "not read: only athletes.csv, guardians.csv, staff.csv, helmets.csv, models.csv, drills.csv, venues.csv, kits.csv, holds.csv, events.csv and *.ics are"
        .to_owned()
}

/// A path's last part, with either kind of slash.
fn last_part(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}
