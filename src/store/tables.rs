//! The tables: which value has which columns. The migrations say why a column is as it is.

use super::chat::{ChatCode, ChatLink, ChatPost, ChatState, ChatTry};
use super::rows::{
    EarlyStatus, Feed, Happening, InMessage, Interpretation, Mail, Number, OutMessage, ProgramRow, RecordLine, Sender,
    Session, SignIn,
};
use super::table::{Dialect, Kind, Table};
use crate::trade::clearance::{CheckIn, Clearance, Course, CourseEntry};
use crate::trade::drill::{Absence, Drill, Venue};
use crate::trade::kit::{Kit, Stock, StockMove};
use crate::trade::model::Model;
use crate::trade::morning::MorningCheck;
use crate::trade::notice::{Address, ConsentAsk, FamilyChoice, Notice};
use crate::trade::queue::{Hold, Item};
use crate::trade::roster::{Athlete, Consent, Event, Guardian, Guardianship, Helmet, StaffMember};

/// How a table is copied.
pub(super) struct Copied {
    /// Its name.
    pub(super) table: &'static str,
    /// Rows as JSON, so many (`$1`) from the one with a number (`$2`) on.
    pub(super) select: String,
    /// Puts a JSON array of rows (`$1`).
    pub(super) insert: String,
}

macro_rules! tables {
    ($($type:ty = $name:literal ($($key:ident),+) { $($column:ident: $kind:ident),+ $(,)? })+) => {$(
        impl Table for $type {
            const NAME: &'static str = $name;
            const KEY: &'static [&'static str] = &[$(stringify!($key)),+];
            const COLUMNS: &'static [(&'static str, Kind)] = &[$((stringify!($column), Kind::$kind)),+];
        }
    )+

        /// Every table with its columns, for checks against the migrations.
        #[must_use]
        pub fn all() -> Vec<(&'static str, &'static [&'static str], &'static [(&'static str, Kind)])> {
            vec![$((<$type>::NAME, <$type>::KEY, <$type>::COLUMNS)),+]
        }

        /// Every table with what reads its rows as JSON, as they lie there, and what puts such rows back.
        pub(super) fn copied(dialect: Dialect) -> Vec<Copied> {
            vec![$(Copied {
                table: <$type>::NAME,
                select: format!(
                    "{} ORDER BY {} LIMIT $1 OFFSET $2",
                    <$type>::select(dialect),
                    <$type>::KEY.join(", "),
                ),
                insert: <$type>::insert(dialect),
            }),+]
        }
    };
}

tables! {
    ProgramRow = "program" (program) { program: Text, record_seq: Int, record_hash: Text }
    Athlete = "athlete" (program, id) {
        program: Text, id: Text, team: Text, jersey: Text, first: Text, last: Text, born: Text, language: Text,
        phone: Text, head_mm: Int, active: Bool,
    }
    Guardian = "guardian" (program, id) {
        program: Text, id: Text, first: Text, last: Text, phone: Text, email: Text, language: Text, way: Text,
        notices: Json, backup: Bool,
    }
    Guardianship = "guardianship" (program, guardian, athlete) {
        program: Text, guardian: Text, athlete: Text, relation: Text,
    }
    StaffMember = "staff" (program, id) {
        program: Text, id: Text, first: Text, last: Text, phone: Text, email: Text, language: Text, roles: Json,
        teams: Json, duty: Json, hours: Text, call_order: Int, active: Bool,
    }
    Helmet = "helmet" (program, tag) {
        program: Text, tag: Text, model: Text, size: Text, serial: Text, athlete: Text, made: Text,
        recertified: Text, marks: Json, failed: Text, shipped: Text, promised: Text, issued_at: Int, notes: Text,
    }
    Model = "model" (program, name) {
        program: Text, name: Text, hardware: Text, tools: Json, spares: Json, recertify_months: Int, retire_years: Int,
        sizes: Json, notes: Text,
    }
    Drill = "drill" (program, id) {
        program: Text, id: Text, date: Text, skill: Text, place: Text, people: Json, models: Json, seconds: Int,
        notes: Text, recorded_by: Text, recorded_at: Int, undone: Bool,
    }
    Absence = "absence" (program, staff, first) {
        program: Text, staff: Text, first: Text, last: Text, cancelled: Bool,
    }
    Venue = "venue" (program, name) {
        program: Text, name: Text, address: Text, entrance: Text, aed: Text, kit: Text, hospital: Text, notes: Text,
    }
    Kit = "kit" (program, id) {
        program: Text, id: Text, name: Text, place: Text, keeper: Text, goes: Json, teams: Json, counted_at: Int,
    }
    Stock = "stock" (program, kit, item) {
        program: Text, kit: Text, item: Text, par: Int, count: Int, on_order: Int, ordered_at: Int, expires: Text,
        lead_days: Int,
    }
    StockMove = "stock_move" (program, id) {
        program: Text, id: Text, kit: Text, item: Text, kind: Text, change: Int, at: Int, who: Text,
    }
    Event = "event" (program, id) {
        program: Text, id: Text, team: Text, kind: Text, starts_at: Int, ends_at: Int, date: Text, place: Text,
        helmets: Bool, cancelled: Bool, source: Text,
    }
    Consent = "consent" (program, phone, person) {
        program: Text, phone: Text, person: Text, given_by: Text, standing: Text, given_on: Text, how: Text,
        shown: Text, words: Text, at: Int,
    }
    Notice = "notice" (program, id) {
        program: Text, id: Text, athlete: Text, guardian: Text, news: Text, family: Text, date: Text, phone: Text,
        email: Text, state: Text, made_at: Int, next_at: Int, acknowledged_at: Int, words: Sealed, why: Text, item: Text,
    }
    Mail = "mail" (program, id) {
        program: Text, id: Text, guardian: Text, athlete: Text, address: Text, subject: Sealed, body: Sealed,
        language: Text, state: Text, due_at: Int, created_at: Int, attempts: Int, claimed_by: Text, lease_until: Int,
        sent_at: Int, error: Text,
    }
    Address = "address" (program, address) {
        program: Text, address: Text, withdrawn_at: Int, trouble: Text, trouble_at: Int,
    }
    ConsentAsk = "consent_ask" (program, person, phone) {
        program: Text, person: Text, phone: Text, asked: Text, given_by: Text, standing: Text, shown: Text,
        asked_by: Text, asked_at: Int, answered_at: Int, agreed: Bool, words: Text,
    }
    FamilyChoice = "family_choice" (program, athlete) {
        program: Text, athlete: Text, asked_at: Int, tells: Bool, answered_at: Int, words: Text,
    }
    MorningCheck = "morning_check" (program, date, athlete) {
        program: Text, date: Text, athlete: Text, team: Text, event: Text, phone: Text, state: Text, by_hand: Text,
        flags: Flags, asked_again: Bool, answered_at: Int, last_text: Sealed, last_text_at: Int,
    }
    Item = "item" (program, id) {
        program: Text, id: Text, queue: Text, athlete: Text, team: Text, event: Text, date: Text, flags: Flags,
        about: Sealed, replies: SealedJson, photos: Json, state: Text, red_flag: Bool, opened_at: Int, due_at: Int,
        taken_by: Text, taken_at: Int, closed_by: Text, closed_at: Int, done: Sealed, alerts: Int,
    }
    Hold = "hold" (program, id) {
        program: Text, id: Text, athlete: Text, kind: Text, opened_at: Int, opened_by: Text, closed_at: Int,
        closed_by: Text,
    }
    Course = "course" (program, id) {
        program: Text, id: Text, athlete: Text, category: Sealed, progression: Sealed, step: Int, since: Int, ready: Bool,
        check_in: Bool, opened_at: Int, opened_by: Text, closed_at: Int, entries: Int,
    }
    CourseEntry = "course_entry" (program, id) {
        program: Text, id: Text, course: Text, athlete: Text, at: Int, what: Sealed, step: Int, who: Text, words: Sealed,
    }
    Clearance = "clearance" (program, id) {
        program: Text, id: Text, course: Text, athlete: Text, ends_hold: Bool, decision: SealedJson, at: Int,
        recorded_by: Text, second: Text, second_at: Int, withdrawn_at: Int, stands: Bool,
    }
    CheckIn = "check_in" (program, date, athlete) {
        program: Text, date: Text, athlete: Text, sent_at: Int, phone: Text, state: Sealed, answered_at: Int,
        words: Sealed,
    }
    Number = "number" (program, phone) {
        program: Text, phone: Text, opted_out_at: Int, wrong_at: Int, trouble: Text, trouble_at: Int,
        welcomed_at: Int, asked: SealedJson,
    }
    OutMessage = "outbox" (program, id) {
        program: Text, id: Text, phone: Text, body: Sealed, purpose: Text, priority: Int, segments: Int,
        athlete: Text, date: Text, state: Text, due_at: Int, send_by: Int, created_at: Int, attempts: Int,
        first_tried_at: Int, in_doubt: Bool, claimed_by: Text, lease_until: Int, carrier_id: Text, sent_at: Int,
        error: Text,
    }
    InMessage = "inbox" (program, id) {
        program: Text, id: Text, phone: Text, body: Sealed, photos: Json, carrier_answered: Text, received_at: Int,
        handled: Bool, athletes: Json, reading: SealedJson,
    }
    RecordLine = "record" (program, seq) {
        program: Text, seq: Int, at: Int, who: Text, what: Text, subject: Text, why: Sealed, message: Text,
        previous: Text, hash: Text, erased: Bool,
    }
    Happening = "happening" (program, id) { program: Text, id: Text, at: Int, outcome: Text }
    Interpretation = "interpretation" (program, id) {
        program: Text, id: Text, text: Sealed, lang: Text, reading: Text, flags: Flags, said_by: Text, at: Int,
    }
    EarlyStatus = "early_status" (program, carrier_id) {
        program: Text, carrier_id: Text, delivered: Bool, error_code: Int, at: Int,
    }
    SignIn = "sign_in" (program, hash) {
        program: Text, hash: Text, staff: Text, made_at: Int, ends_at: Int, used_at: Int,
    }
    Session = "session" (program, hash) {
        program: Text, hash: Text, staff: Text, made_at: Int, seen_at: Int, ends_at: Int, ended_at: Int,
    }
    Feed = "feed" (program, hash) {
        program: Text, hash: Text, staff: Text, made_at: Int, read_at: Int, ended_at: Int,
    }
    Sender = "sender" (program) { program: Text, next_free_at: Int, halted_at: Int, halted_why: Text }
    ChatPost = "chat_post" (program, id) {
        program: Text, id: Text, kind: Text, channel: Text, chat_user: Text, athlete: Text, date: Text, tag: Text,
        generation: Int, body: Json, hash: Text, message_id: Text, posted_hash: Text, state: Text, live: Bool,
        stands_for: Text, due_at: Int, send_by: Int, created_at: Int, posted_at: Int, attempts: Int, claimed_by: Text,
        lease_until: Int, error: Text,
    }
    ChatLink = "chat_link" (program, chat_user) {
        program: Text, chat_user: Text, kind: Text, person: Text, phone: Text, linked_at: Int, ended_at: Int,
    }
    ChatCode = "chat_code" (program, hash) {
        program: Text, hash: Text, kind: Text, person: Text, phone: Text, made_at: Int, expires_at: Int, used_at: Int,
    }
    ChatTry = "chat_try" (program, chat_user) { program: Text, chat_user: Text, tries: Int, since: Int }
    ChatState = "chat_state" (program) {
        program: Text, next_free_at: Int, halted_at: Int, halted_why: Text, gateway: Text, gateway_at: Int,
    }
}
