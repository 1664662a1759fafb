//! What the board's pages show, put together from the store: one truth with the texts, since today comes from
//! [`super::today`] and every act goes the way that a text goes.
//!
//! Who may see what is decided here, for whole pages by the caller's table of roles: body words are put into a view for the
//! athletic trainer alone, and every such view is noted in the record, in a transaction that is committed before the view
//! is handed out.

pub mod athlete;
pub mod clearance;
pub mod drills;
pub mod families;
pub mod helmets;
pub mod kits;
pub mod messages;
pub mod season;
pub mod settings;
pub mod today;
pub mod trainer;

use chrono::Datelike as _;
use serde::Serialize;

use super::inbound::by_staff;
use super::scene::Scene;
use super::{Desk, DeskError};
use crate::config::Program;
use crate::reading::{Evidence, Reading, read};
use crate::store::queries::board::VIEWED;
use crate::trade::flag::{Control, Flag};
use crate::trade::queue::{HoldKind, Item, ItemState};
use crate::trade::roster::{Language, ProgramId, StaffId, StaffMember, TeamId};
use crate::trade::time::Moment;
use crate::wording::words;

/// Who looks at a page.
#[derive(Debug, Clone, Copy)]
pub struct Viewer<'a> {
    /// The staff member.
    pub member: &'a StaffMember,
}

impl Viewer<'_> {
    /// Whether body words may be shown.
    #[must_use]
    pub fn is_medical(&self) -> bool {
        self.member.has(crate::trade::roster::Role::Trainer)
    }

    /// Whether a team is among those that the viewer serves.
    #[must_use]
    pub fn sees(&self, team: Option<&TeamId>) -> bool {
        team.is_none_or(|team| self.member.serves(team))
    }
}

/// A stretch of what was typed, and what it was taken for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Piece {
    /// The stretch.
    pub text: String,
    /// "strap", "good", "not understood"; absent where the reading does not rest on it.
    pub says: Option<String>,
}

/// A text cut where its reading's evidence begins and ends. Spans that do not fit the text are left out.
#[must_use]
pub fn pieces(text: &str, evidence: &[Evidence]) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut at = 0;
    let mut push = |text: &str, says: Option<String>| {
        if !text.is_empty() {
            pieces.push(Piece { text: text.to_owned(), says });
        }
    };
    for Evidence { span: (start, end), says } in evidence {
        let (Some(before), Some(marked)) = (text.get(at..*start), text.get(*start..*end)) else { continue };
        push(before, None);
        push(marked, Some(says_words(says)));
        at = *end;
    }
    push(text.get(at..).unwrap_or_default(), None);
    pieces
}

fn says_words(says: &str) -> String {
    match says {
        "good" => "good".to_owned(),
        "doubt" => "in doubt".to_owned(),
        "unknown" => "not understood".to_owned(),
        other => other.replace('_', " "),
    }
}

/// What was typed, as read now.
fn typed(text: &str) -> Vec<Piece> {
    pieces(text, &read(text).evidence)
}

/// A reading in a few words.
fn reading_words(reading: &Reading) -> String {
    use crate::reading::Kind;
    match reading.kind {
        Kind::AllClear => "all clear".to_owned(),
        Kind::Unclear => "not understood".to_owned(),
        Kind::Control => reading.control.map_or("about the texts", control_words).to_owned(),
        Kind::Flagged => flag_words(reading.flags.iter()),
    }
}

/// Flags by their short names, as the reader and the season page call them.
fn flag_words(flags: impl Iterator<Item = Flag>) -> String {
    flags.map(|flag| flag.name().replace('_', " ")).collect::<Vec<_>>().join(", ")
}

const fn control_words(control: Control) -> &'static str {
    match control {
        Control::Stop => "stop",
        Control::Start => "start",
        Control::Help => "help",
        Control::WrongNumber => "wrong number",
        Control::Absent => "will not be there",
        Control::Later => "later",
    }
}

/// "2:45 pm".
fn clock(at: Moment, program: &Program) -> String {
    words::clock_words(at.local(program.zone).time(), Language::En)
}

/// "Sep 15, 2:45 pm", without the day when it is today's.
fn when(at: Moment, now: Moment, program: &Program) -> String {
    let (date, today) = (at.date(program.zone), now.date(program.zone));
    let clock = clock(at, program);
    if date == today {
        clock
    } else if date.year() == today.year() {
        format!("{}, {clock}", date.format("%b %-d"))
    } else {
        format!("{}, {clock}", date.format("%b %-d, %Y"))
    }
}

/// Where an item stands, in words.
fn state_words(item: &Item, name: impl Fn(&StaffId) -> String) -> String {
    match (item.state, &item.taken_by) {
        (ItemState::Open, _) => "nobody has it".to_owned(),
        (ItemState::Taken, Some(by)) => format!("{} has it", name(by)),
        (ItemState::Taken, None) => "taken".to_owned(),
        (ItemState::Closed, _) => "done".to_owned(),
    }
}

/// A staff member's first name, or the identifier of one who is no longer on file.
fn name_of(scene: &Scene<'_>, id: &StaffId) -> String {
    scene.staff.iter().find(|member| member.id == *id).map_or_else(|| id.0.clone(), |member| member.first.clone())
}

/// A hold in words; for medical staff with what ends it.
const fn hold_words(kind: HoldKind, medical: bool) -> &'static str {
    match (kind, medical) {
        (HoldKind::Equipment, _) => "helmet out of use until staff have checked it",
        (HoldKind::Trainer, true) => "held: the athletic trainer decides",
        (HoldKind::Medical, true) => "medical hold: ends only with a licensed clinician's recorded decision",
        (HoldKind::Trainer | HoldKind::Medical, false) => "held: see the athletic trainer",
    }
}

/// Notes that somebody looked at something medical.
fn note_view(scene: &mut Scene<'_>, member: &StaffMember, subject: &str, page: &str) {
    scene.note(&by_staff(member), VIEWED, subject, page, None);
}

impl Desk {
    /// The last line of the record that changed something.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn changed(&self, program: &ProgramId) -> Result<i64, DeskError> {
        Ok(self.core.store.read().await?.changed_seq(program).await?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn evidence(start: usize, end: usize, says: &'static str) -> Evidence {
        Evidence { span: (start, end), says: says.into() }
    }

    fn shown(pieces: &[Piece]) -> Vec<(&str, Option<&str>)> {
        pieces.iter().map(|piece| (piece.text.as_str(), piece.says.as_deref())).collect()
    }

    #[test]
    fn a_reply_is_cut_at_its_evidence_and_nothing_of_it_is_lost() {
        let cut = pieces("my strap broke bro", &[evidence(3, 14, "strap"), evidence(15, 18, "unknown")]);
        assert_eq!(
            shown(&cut),
            [("my ", None), ("strap broke", Some("strap")), (" ", None), ("bro", Some("not understood"))]
        );
        assert_eq!(shown(&pieces("ok", &[])), [("ok", None)]);
    }

    #[test]
    fn spans_that_do_not_fit_are_left_out() {
        let cut = pieces("señal", &[evidence(0, 3, "a"), evidence(2, 99, "b"), evidence(4, 6, "c")]);
        let whole: String = cut.iter().map(|piece| piece.text.as_str()).collect();
        assert_eq!(whole, "señal");
    }

    #[test]
    fn only_medical_eyes_read_what_kind_of_hold_it_is() {
        assert_eq!(hold_words(HoldKind::Medical, false), hold_words(HoldKind::Trainer, false));
        assert!(hold_words(HoldKind::Medical, true).contains("clinician"));
    }
}
