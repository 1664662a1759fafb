//! What an import would change: a pure comparison of what is stored with what the files say.
//!
//! Nothing is deleted. A row that is gone is told; an occurrence that is gone from a series which is still in its
//! calendar is cancelled. What a file does not speak of ([`Scope`]) is left alone, and so is what has begun already, and
//! what staff changed by text.

use std::collections::BTreeMap;
use std::fmt;

use super::{Dataset, Scope};
use crate::trade::clearance::Brought;
use crate::trade::drill::{Drill, Venue};
use crate::trade::kit::{Kit, Stock};
use crate::trade::model::Model;
use crate::trade::roster::{Athlete, BY_TEXT, Consent, Event, Guardian, Guardianship, Helmet, StaffMember};

/// A row that would change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Update<T> {
    /// As stored.
    pub old: T,
    /// As it would be.
    pub new: T,
    /// Names of the fields that differ.
    pub fields: Vec<&'static str>,
}

/// What would change of one kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kind<T> {
    /// In the files and not stored.
    pub added: Vec<T>,
    /// In both, and different.
    pub updated: Vec<Update<T>>,
    /// In both, and the same; or left alone.
    pub unchanged: usize,
    /// Stored, and no longer in a file that speaks of this kind. Reported, never deleted.
    pub gone: Vec<T>,
}

impl<T> Default for Kind<T> {
    fn default() -> Self {
        Self { added: Vec::new(), updated: Vec::new(), unchanged: 0, gone: Vec::new() }
    }
}

impl<T> Kind<T> {
    /// Whether nothing would be written.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.added.is_empty() && self.updated.is_empty()
    }
}

/// What an import would change. `Display` tells it in plain words, without whole telephone numbers.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Changes {
    /// Athletes.
    pub athletes: Kind<Athlete>,
    /// Guardians.
    pub guardians: Kind<Guardian>,
    /// Who answers for whom.
    pub guardianships: Kind<Guardianship>,
    /// Staff.
    pub staff: Kind<StaffMember>,
    /// Helmets.
    pub helmets: Kind<Helmet>,
    /// Helmet models.
    pub models: Kind<Model>,
    /// Drills.
    pub drills: Kind<Drill>,
    /// Venues.
    pub venues: Kind<Venue>,
    /// Kits.
    pub kits: Kind<Kit>,
    /// What kits should hold. How many they do hold is theirs who count.
    pub stock: Kind<Stock>,
    /// Who is held. A file never ends a hold.
    pub held: Kind<Brought>,
    /// Practices and games; cancelled ones are among the updated.
    pub events: Kind<Event>,
    /// Consents. One that is gone belongs to a person who is still in the files: to a former number, or withdrawn on
    /// paper.
    pub consents: Kind<Consent>,
    /// Events that staff changed by text and that the files tell otherwise: left as staff said (old is what is stored).
    pub kept: Vec<Update<Event>>,
}

impl Changes {
    /// Whether nothing would be written. Rows that are gone do not count: they are reported and kept.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.athletes.is_empty()
            && self.guardians.is_empty()
            && self.guardianships.is_empty()
            && self.staff.is_empty()
            && self.helmets.is_empty()
            && self.models.is_empty()
            && self.drills.is_empty()
            && self.venues.is_empty()
            && self.kits.is_empty()
            && self.stock.is_empty()
            && self.held.is_empty()
            && self.events.is_empty()
            && self.consents.is_empty()
    }
}

/// What is compared: a key, the fields that differ, and a name for people.
trait Row: Clone + Eq {
    type Key: Ord;
    fn key(&self) -> Self::Key;
    fn differing(&self, other: &Self) -> Vec<&'static str>;
    fn title(&self) -> String;
}

macro_rules! row {
    ($kind:ty, $key:ty, |$row:ident| $make_key:expr, [$($field:ident),+], $title:expr) => {
        impl Row for $kind {
            type Key = $key;
            fn key(&self) -> Self::Key {
                let $row = self;
                $make_key
            }
            fn differing(&self, other: &Self) -> Vec<&'static str> {
                let mut fields = Vec::new();
                $(if self.$field != other.$field {
                    fields.push(stringify!($field));
                })+
                fields
            }
            fn title(&self) -> String {
                let $row = self;
                $title
            }
        }
    };
}

row!(
    Athlete,
    String,
    |a| a.id.0.clone(),
    [team, jersey, first, last, born, language, phone, head_mm, active],
    format!("{} {} ({})", a.first, a.last, a.team)
);
row!(
    Guardian,
    String,
    |g| g.id.0.clone(),
    [first, last, phone, email, language, way, notices, backup],
    format!("{} {}", g.first, g.last)
);
row!(
    Guardianship,
    (String, String),
    |g| (g.guardian.0.clone(), g.athlete.0.clone()),
    [relation],
    format!("{} for {}", g.guardian, g.athlete)
);
row!(Brought, String, |b| b.athlete.0.clone(), [since, kind, step], format!("{} since {}", b.athlete, b.since));
row!(
    StaffMember,
    String,
    |s| s.id.0.clone(),
    [first, last, phone, email, language, roles, teams, duty, hours, call_order, active],
    format!("{} {}", s.first, s.last)
);
row!(
    Helmet,
    String,
    |h| h.tag.0.clone(),
    [model, size, serial, athlete, made, recertified, marks, failed, shipped, promised, notes],
    format!("{} ({})", h.tag, h.model)
);
row!(
    Model,
    String,
    |m| m.name.clone(),
    [hardware, tools, spares, recertify_months, retire_years, sizes, notes],
    m.name.clone()
);
row!(
    Drill,
    String,
    |d| d.id.clone(),
    [date, skill, place, people, models, seconds, notes],
    format!("{} {}", d.date, d.skill)
);
row!(Venue, String, |v| v.name.clone(), [address, entrance, aed, kit, hospital, notes], v.name.clone());
row!(Kit, String, |k| k.id.clone(), [name, place, keeper, goes, teams], format!("kit {} ({})", k.id, k.name));
row!(
    Stock,
    (String, String),
    |s| (s.kit.clone(), s.item.clone()),
    [par, expires, lead_days],
    format!("{} in kit {}", s.item, s.kit)
);
row!(
    Event,
    String,
    |e| e.id.0.clone(),
    [team, kind, starts_at, ends_at, date, place, helmets, cancelled, source],
    format!("{} {:?} {}", e.team, e.kind, e.date).to_lowercase()
);
row!(
    Consent,
    (String, String),
    |c| (c.person.clone(), c.phone.to_string()),
    [given_by, standing, given_on, how],
    format!("{} for {}", c.person, c.phone.short())
);

/// What importing `incoming` over `existing` would change. The scope of `incoming` says what it speaks of.
#[must_use]
pub fn changes(existing: &Dataset, incoming: &Dataset) -> Changes {
    let scope = &incoming.scope;
    let said = incoming.people();
    let (events, kept) = events(&existing.events, &incoming.events, scope);
    Changes {
        athletes: compare(&existing.athletes, &incoming.athletes, |old| scope.athletes && old.active),
        guardians: compare(&existing.guardians, &incoming.guardians, |_| scope.guardians),
        guardianships: compare(&existing.guardianships, &incoming.guardianships, |_| scope.guardians),
        staff: compare(&existing.staff, &incoming.staff, |old| scope.staff && old.active),
        helmets: compare(&existing.helmets, &kept_of(&existing.helmets, &incoming.helmets, of_helmet), |_| {
            scope.helmets
        }),
        models: compare(&existing.models, &incoming.models, |_| scope.models),
        // What was recorded by text or on the board is in no file.
        drills: compare(&existing.drills, &incoming.drills, |old| scope.drills && old.recorded_by == "import"),
        venues: compare(&existing.venues, &incoming.venues, |_| scope.venues),
        kits: compare(&existing.kits, &kept_of(&existing.kits, &incoming.kits, count_of_kit), |_| scope.kits),
        stock: compare(&existing.stock, &kept_of(&existing.stock, &incoming.stock, count_of_item), |_| scope.kits),
        held: compare(&existing.held, &incoming.held, |_| false),
        consents: compare(&existing.consents, &not_by_text(existing, incoming), |old| {
            said.contains(old.person.as_str()) && old.how != BY_TEXT
        }),
        events,
        kept,
    }
}

impl Dataset {
    fn people(&self) -> std::collections::BTreeSet<&str> {
        let athletes = self.athletes.iter().map(|athlete| athlete.id.as_str());
        let guardians = self.guardians.iter().map(|guardian| guardian.id.as_str());
        let staff = self.staff.iter().map(|member| member.id.as_str());
        athletes.chain(guardians).chain(staff).collect()
    }
}

/// The incoming rows with what staff have said of them since: a file does not undo a count.
fn kept_of<T: Row>(existing: &[T], incoming: &[T], keep: impl Fn(&T, &mut T)) -> Vec<T> {
    let stored: BTreeMap<_, _> = existing.iter().map(|row| (row.key(), row)).collect();
    let mut rows = incoming.to_vec();
    for row in &mut rows {
        if let Some(old) = stored.get(&row.key()) {
            keep(old, row);
        }
    }
    rows
}

/// What staff said of a helmet stands: a later recertification, its condition, a failed inspection, that it is away, and to
/// whom it was given.
fn of_helmet(old: &Helmet, new: &mut Helmet) {
    new.recertified = new.recertified.max(old.recertified);
    for mark in &old.marks {
        if !new.marks.contains(mark) {
            new.marks.push(mark.clone());
        }
    }
    new.marks.sort();
    new.failed = new.failed.take().or_else(|| old.failed.clone());
    let came_back = old.shipped.is_none() && old.recertified >= new.shipped;
    if old.shipped.is_some() || came_back {
        new.shipped = old.shipped;
        new.promised = if old.shipped.is_some() { new.promised.or(old.promised) } else { None };
    }
    new.issued_at = old.issued_at;
    if old.issued_at.is_some() {
        new.athlete = old.athlete.clone();
    }
}

fn count_of_kit(old: &Kit, new: &mut Kit) {
    new.counted_at = old.counted_at;
}

fn count_of_item(old: &Stock, new: &mut Stock) {
    new.count = old.count;
    new.on_order = old.on_order;
    new.ordered_at = old.ordered_at;
    // Of two days the later one: what was replaced since the file was written lasts longer.
    new.expires = new.expires.max(old.expires);
}

/// Consents of the files, but for those that were given by text: what was shown and answered stays as the proof.
fn not_by_text(existing: &Dataset, incoming: &Dataset) -> Vec<Consent> {
    let by_text = |new: &&Consent| {
        existing.consents.iter().any(|old| old.how == BY_TEXT && old.person == new.person && old.phone == new.phone)
    };
    incoming.consents.iter().filter(|new| !by_text(new)).cloned().collect()
}

fn compare<T: Row>(existing: &[T], incoming: &[T], is_spoken_of: impl Fn(&T) -> bool) -> Kind<T> {
    let mut stored: BTreeMap<_, _> = existing.iter().map(|row| (row.key(), row)).collect();
    let mut kind = Kind::default();
    for new in incoming {
        match stored.remove(&new.key()) {
            None => kind.added.push(new.clone()),
            Some(old) => match update(old, new) {
                Some(update) => kind.updated.push(update),
                None => kind.unchanged += 1,
            },
        }
    }
    kind.gone = stored.into_values().filter(|row| is_spoken_of(row)).cloned().collect();
    kind
}

fn update<T: Row>(old: &T, new: &T) -> Option<Update<T>> {
    let fields = old.differing(new);
    (!fields.is_empty()).then(|| Update { old: old.clone(), new: new.clone(), fields })
}

fn events(existing: &[Event], incoming: &[Event], scope: &Scope) -> (Kind<Event>, Vec<Update<Event>>) {
    let mut kind = compare(existing, incoming, |_| true);
    let mut kept = Vec::new();
    let has_begun = |event: &Event| event.starts_at < scope.from;
    for update in std::mem::take(&mut kind.updated) {
        let by_text = update.old.source == BY_TEXT;
        if by_text && update.fields != ["source"] {
            kept.push(update);
            kind.unchanged += 1;
        } else if by_text || (has_begun(&update.old) && has_begun(&update.new)) {
            kind.unchanged += 1;
        } else {
            kind.updated.push(update);
        }
    }
    for old in std::mem::take(&mut kind.gone) {
        if has_begun(&old) || old.source == BY_TEXT || old.cancelled {
            continue;
        }
        match fate(&old, scope) {
            Fate::Unsaid => {}
            Fate::Gone => kind.gone.push(old),
            Fate::Cancelled => {
                let new = Event { cancelled: true, ..old.clone() };
                kind.updated.push(Update { old, new, fields: vec!["cancelled"] });
            }
        }
    }
    (kind, kept)
}

/// What it means that a stored event is not among the incoming.
enum Fate {
    /// No file spoke of it.
    Unsaid,
    /// Its file no longer has it.
    Gone,
    /// Its series is there, and it is not in it any more.
    Cancelled,
}

fn fate(event: &Event, scope: &Scope) -> Fate {
    if !event.source.ends_with(".ics") {
        return if scope.events { Fate::Gone } else { Fate::Unsaid };
    }
    if event.starts_at > scope.until {
        return Fate::Unsaid;
    }
    let id = event.id.as_str();
    let is_known = |uid: &str| scope.calendars.values().any(|uids| uids.contains(uid));
    if is_known(id) || id.match_indices('/').any(|(end, _)| is_known(&id[..end])) {
        return Fate::Cancelled;
    }
    if scope.calendars.contains_key(&event.source) { Fate::Gone } else { Fate::Unsaid }
}

impl fmt::Display for Changes {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_empty() {
            writeln!(formatter, "nothing changed")?;
        }
        tell(formatter, "athletes", &self.athletes)?;
        tell(formatter, "guardians", &self.guardians)?;
        tell(formatter, "guardianships", &self.guardianships)?;
        tell(formatter, "staff", &self.staff)?;
        tell(formatter, "helmets", &self.helmets)?;
        tell(formatter, "models", &self.models)?;
        tell(formatter, "drills", &self.drills)?;
        tell(formatter, "venues", &self.venues)?;
        tell(formatter, "kits", &self.kits)?;
        tell(formatter, "things in kits", &self.stock)?;
        tell(formatter, "held", &self.held)?;
        tell(formatter, "events", &self.events)?;
        tell(formatter, "consents", &self.consents)?;
        for update in &self.kept {
            let fields = update.fields.join(", ");
            writeln!(formatter, "  kept as staff texted it: {} (the file differs in {fields})", update.old.title())?;
        }
        Ok(())
    }
}

/// Rows named one by one before the rest is only counted.
const NAMED: usize = 40;

fn tell<T: Row>(formatter: &mut fmt::Formatter<'_>, name: &str, kind: &Kind<T>) -> fmt::Result {
    if kind.is_empty() && kind.gone.is_empty() {
        return Ok(());
    }
    let counts = [
        (kind.added.len(), "added"),
        (kind.updated.len(), "changed"),
        (kind.unchanged, "unchanged"),
        (kind.gone.len(), "no longer in the files (kept)"),
    ];
    let counts: Vec<_> =
        counts.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    writeln!(formatter, "{name}: {}", counts.join(", "))?;
    let added = kind.added.iter().map(|row| format!("  + {}", row.title()));
    let updated = kind.updated.iter().map(|update| format!("  ~ {}: {}", update.new.title(), update.fields.join(", ")));
    let gone = kind.gone.iter().map(|row| format!("  - {}: no longer in the files; kept", row.title()));
    let total = kind.added.len() + kind.updated.len() + kind.gone.len();
    // What changes and what is gone is read with more care than what is new, so it comes first.
    for line in updated.chain(gone).chain(added).take(NAMED) {
        writeln!(formatter, "{line}")?;
    }
    if total > NAMED {
        writeln!(formatter, "  and {} more", total - NAMED)?;
    }
    Ok(())
}
