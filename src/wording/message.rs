//! Every text the program sends, one variant a message; the fields are what its template may use.
//!
//! Names come as they are to be read. Clock times, days, places, events and teams come as words in the reader's
//! language (see [`super::words`]): `by` as [`super::words::by_words`] gives it, `place` with its article ("the
//! equipment room", "el cuarto de equipo"). Flags are the exception, since each language has its own words for them:
//! [`Helmet`] lets helmet words through and nothing else, [`Body`] is for medical staff.
//! Invariant: what stands in a template of one language stands for the same [`Kind`] in every other.

use std::collections::BTreeMap;

use minijinja::Value;
use unicode_segmentation::UnicodeSegmentation;

use super::words;
use crate::trade::flag::Flags;
use crate::trade::roster::Language;

/// The helmet flags of a set, in words. Body flags in it are never said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Helmet(pub Flags);

/// The body flags of a set, in words: for medical staff alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Body(pub Flags);

/// A reply as it was typed; shortened where the whole would not fit, and then it ends with three dots.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Typed<'a>(pub &'a str);

/// How often the alert has been given.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Attempt {
    /// To whoever is on duty.
    First,
    /// To the same person, who has not answered.
    Again,
    /// To the next in the order in which they are called.
    Second,
    /// To every trainer.
    Everyone,
}

/// One line of the fix list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FixLine<'a> {
    /// Jersey number and name: "12 Jonah".
    pub who: &'a str,
    /// Tag on the helmet.
    pub helmet: Option<&'a str>,
    /// What is off; without a helmet flag, the line asks for a look.
    pub flags: Flags,
    /// A few words more: "photo", "said again".
    pub note: Option<&'a str>,
}

/// Why an athlete may not wear a helmet, as a coach hears it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The helmet.
    Equipment,
    /// Anything of the body: "held: see the athletic trainer".
    Held,
}

/// One line of the availability list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OutLine<'a> {
    /// Jersey number and name.
    pub who: &'a str,
    /// Why.
    pub why: Why,
}

/// Who reads a message: decides which words it may hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Audience {
    /// The athlete it is about.
    Athlete,
    /// Whoever holds the phone.
    Anyone,
    /// Equipment staff, coaches, administrators: no medical words.
    Staff,
    /// Athletic trainers.
    Medical,
    /// Parents and guardians: neither medical words nor what is off with a helmet.
    Family,
}

/// What a template is given.
pub(super) struct Context {
    /// The variables that do not depend on what fits.
    pub(super) fixed: BTreeMap<&'static str, Value>,
    /// What is shortened to fit the budget, if anything.
    pub(super) trim: Option<Trim>,
}

/// A typed reply is never quoted beyond so many characters, whatever would fit.
const TYPED_MOST: usize = 200;

/// What is shortened to fit.
pub(super) struct Trim {
    name: &'static str,
    pieces: Pieces,
}

enum Pieces {
    /// Whole lines, none ever cut; the template is told how many are hidden.
    Lines(Vec<String>),
    /// Grapheme clusters of a reply.
    Graphemes(Vec<String>),
}

impl Trim {
    /// How many pieces there are.
    pub(super) const fn len(&self) -> usize {
        match &self.pieces {
            Pieces::Lines(pieces) | Pieces::Graphemes(pieces) => pieces.len(),
        }
    }

    /// How many pieces to try first.
    pub(super) fn most(&self) -> usize {
        match &self.pieces {
            Pieces::Lines(lines) => lines.len(),
            Pieces::Graphemes(graphemes) => graphemes.len().min(TYPED_MOST),
        }
    }

    /// Gives the template the first `shown` pieces.
    pub(super) fn put(&self, shown: usize, fixed: &mut BTreeMap<&'static str, Value>) {
        match &self.pieces {
            Pieces::Lines(lines) => {
                let lines: Value = lines.iter().take(shown).map(String::as_str).collect();
                fixed.insert(self.name, lines);
                fixed.insert("hidden", (self.len() - shown).into());
            }
            Pieces::Graphemes(graphemes) => {
                let dots = if shown < graphemes.len() { "..." } else { "" };
                let text: String = graphemes.iter().take(shown).map(String::as_str).collect();
                fixed.insert(self.name, format!("{text}{dots}").into());
            }
        }
    }

    /// The lines that are shown, when it is a list.
    pub(super) fn lines(&self, shown: usize) -> &[String] {
        match &self.pieces {
            Pieces::Lines(lines) => lines.get(..shown).unwrap_or(lines),
            Pieces::Graphemes(_) => &[],
        }
    }
}

/// A field, as a template sees it.
trait Variable {
    fn put(&self, name: &'static str, language: Language, context: &mut Context);
}

/// On one line, without control characters, so that no name or reply can break a list apart.
fn one_line(text: &str) -> String {
    text.split(|c: char| c.is_whitespace() || c.is_control())
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

impl Variable for &str {
    fn put(&self, name: &'static str, _: Language, context: &mut Context) {
        context.fixed.insert(name, one_line(self).into());
    }
}

impl Variable for Option<&str> {
    fn put(&self, name: &'static str, _: Language, context: &mut Context) {
        let text = self.map(one_line).filter(|text| !text.is_empty());
        context.fixed.insert(name, text.into());
    }
}

impl Variable for bool {
    fn put(&self, name: &'static str, _: Language, context: &mut Context) {
        context.fixed.insert(name, (*self).into());
    }
}

impl Variable for usize {
    fn put(&self, name: &'static str, _: Language, context: &mut Context) {
        context.fixed.insert(name, (*self).into());
    }
}

impl Variable for Helmet {
    fn put(&self, name: &'static str, language: Language, context: &mut Context) {
        context.fixed.insert(name, words::helmet_words(self.0, language).into());
    }
}

impl Variable for Body {
    fn put(&self, name: &'static str, language: Language, context: &mut Context) {
        context.fixed.insert(name, words::body_words(self.0, language).into());
    }
}

impl Variable for Attempt {
    fn put(&self, name: &'static str, _: Language, context: &mut Context) {
        let word = match self {
            Self::First => "first",
            Self::Again => "again",
            Self::Second => "second",
            Self::Everyone => "everyone",
        };
        context.fixed.insert(name, word.into());
    }
}

impl Variable for Option<Typed<'_>> {
    fn put(&self, name: &'static str, _: Language, context: &mut Context) {
        match self.map(|typed| one_line(typed.0)).filter(|text| !text.is_empty()) {
            None => _ = context.fixed.insert(name, ().into()),
            Some(text) => {
                let graphemes = text.graphemes(true).map(str::to_owned).collect();
                context.trim = Some(Trim { name, pieces: Pieces::Graphemes(graphemes) });
            }
        }
    }
}

/// Something that makes one line of a list.
trait Line {
    fn line(&self, language: Language) -> String;
}

impl Line for &str {
    fn line(&self, _: Language) -> String {
        one_line(self)
    }
}

impl Line for FixLine<'_> {
    fn line(&self, language: Language) -> String {
        let what = words::helmet_short(self.flags, language);
        let what = match (what.is_empty(), language) {
            (false, _) => what.as_str(),
            (true, Language::En) => "look at it",
            (true, Language::Es) => "revisar",
        };
        let helmet = self.helmet.map(|tag| format!(" {tag}")).unwrap_or_default();
        let note = self.note.map(|note| format!(" ({note})")).unwrap_or_default();
        one_line(&format!("{}{helmet}: {what}{note}", self.who))
    }
}

impl Line for OutLine<'_> {
    fn line(&self, language: Language) -> String {
        let why = match (self.why, language) {
            (Why::Equipment, Language::En) => "equipment",
            (Why::Equipment, Language::Es) => "equipo",
            (Why::Held, Language::En) => "held, see the athletic trainer",
            (Why::Held, Language::Es) => "en pausa, ver a medicina deportiva",
        };
        one_line(&format!("{}: {why}", self.who))
    }
}

impl<T: Line> Variable for Vec<T> {
    fn put(&self, name: &'static str, language: Language, context: &mut Context) {
        let lines = self.iter().map(|line| line.line(language)).collect();
        context.fixed.insert("count", self.len().into());
        context.trim = Some(Trim { name, pieces: Pieces::Lines(lines) });
    }
}

macro_rules! messages {
    ($(
        $(#[$doc:meta])*
        $variant:ident $stem:literal $budget:literal $audience:ident {
            $($field:ident: $type:ty),* $(,)?
        }
    )+) => {
        /// A message with what its template may use.
        #[derive(Debug, Clone, PartialEq, Eq)]
        pub enum Message<'a> {$(
            $(#[$doc])*
            $variant {$(
                #[doc = concat!("Template variable `", stringify!($field), "`.")]
                $field: $type,
            )*},
        )+}

        /// Which message.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind {$(
            $(#[$doc])*
            $variant,
        )+}

        impl Kind {
            /// Every message.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The stem of its template's file name.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $stem,)+ }
            }

            /// The segments it may take, accents folded.
            #[must_use]
            pub const fn budget(self) -> usize {
                match self { $(Self::$variant => $budget,)+ }
            }

            /// Who reads it.
            #[must_use]
            pub const fn audience(self) -> Audience {
                match self { $(Self::$variant => Audience::$audience,)+ }
            }

            /// The fields of the message; a list brings `count` and `hidden` as well, see [`Kind::variables`].
            const fn fields(self) -> &'static [&'static str] {
                match self { $(Self::$variant => &[$(stringify!($field)),*],)+ }
            }

            /// The template that comes with the program.
            pub(super) const fn embedded(self, language: Language) -> &'static str {
                match (self, language) {$(
                    (Self::$variant, Language::En) => {
                        include_str!(concat!("../../templates/en/", $stem, ".txt"))
                    }
                    (Self::$variant, Language::Es) => {
                        include_str!(concat!("../../templates/es/", $stem, ".txt"))
                    }
                )+}
            }
        }

        impl Message<'_> {
            /// Which message it is.
            #[must_use]
            pub const fn kind(&self) -> Kind {
                match self { $(Self::$variant { .. } => Kind::$variant,)+ }
            }

            fn put(&self, language: Language, context: &mut Context) {
                match self {$(
                    #[allow(unused_variables, reason = "a message may have no field")]
                    Self::$variant { $($field),* } => {
                        $($field.put(stringify!($field), language, context);)*
                    }
                )+}
            }
        }
    };
}

messages! {
    /// The first text to a number, before the first check.
    Welcome "welcome" 2 Anyone { program: &'a str }
    /// The morning check.
    Check "check" 1 Athlete { first: &'a str }
    /// One reminder to the silent.
    Nudge "nudge" 1 Athlete { first: &'a str, by: &'a str }
    /// Everything was understood and nothing is off.
    AllClear "all_clear" 1 Athlete { first: &'a str }
    /// Flags that ask for a refit before contact.
    FlaggedRefit "flagged_refit" 2 Athlete { first: &'a str, flags: Helmet, place: &'a str, by: &'a str }
    /// Flags that put the helmet out of use until staff have checked it: an equipment hold.
    FlaggedHold "flagged_hold" 2 Athlete { first: &'a str, flags: Helmet, place: &'a str, by: &'a str }
    /// No helmet with the athlete, or (`wrong`) somebody else's.
    FlaggedMissing "flagged_missing" 2 Athlete { first: &'a str, wrong: bool, place: &'a str, by: &'a str }
    /// A possible sign of concussion. `also_helmet`: helmet flags were in the reply too.
    Symptom "symptom" 3 Athlete {
        first: &'a str, trainer: Option<&'a str>, trainer_phone: Option<&'a str>, also_helmet: bool,
    }
    /// A sign that means an emergency was in the reply.
    Emergency "emergency" 2 Athlete {
        first: &'a str, trainer: Option<&'a str>, trainer_phone: Option<&'a str>,
    }
    /// Ill, hurt, or not feeling right.
    Body "body" 3 Athlete {
        first: &'a str, trainer: Option<&'a str>, trainer_phone: Option<&'a str>, also_helmet: bool,
    }
    /// A medical or trainer's hold is open and the athlete writes that all is well now.
    StillHeld "still_held" 2 Athlete {
        first: &'a str, trainer: Option<&'a str>, trainer_phone: Option<&'a str>,
    }
    /// Not understood: asks again, once, with the points spelled out.
    Unclear "unclear" 2 Athlete { first: &'a str }
    /// Not understood a second time: staff will look.
    UnclearAgain "unclear_again" 2 Athlete { first: &'a str, place: &'a str, by: &'a str }
    /// "Fixed it, all good" after a flag. `hold`: the helmet is out of use.
    StillNeedsStaff "still_needs_staff" 2 Athlete { first: &'a str, hold: bool, place: &'a str, by: &'a str }
    /// Will check, not yet.
    Later "later" 1 Athlete { first: &'a str, by: &'a str }
    /// Not there today.
    Absent "absent" 1 Athlete { first: &'a str }
    /// The answer came after the check had closed.
    LateAnswer "late_answer" 1 Athlete { first: &'a str }
    /// A shared phone: whose answer is it? `options` as [`super::words::options`] gives them.
    WhichAthlete "which_athlete" 1 Athlete { options: &'a str }
    /// An athlete wrote and no check is open.
    NoOpenCheck "no_open_check" 2 Athlete { program: &'a str, contact: &'a str, contact_phone: &'a str }
    /// A photo and no words.
    PhotoOnly "photo_only" 1 Athlete { first: &'a str }
    /// A photo that goes with what was already said.
    PhotoKept "photo_kept" 1 Athlete { first: &'a str }
    /// Staff fixed the helmet. `still_held`: something else keeps the athlete out, so nothing says that it may be worn.
    Fixed "fixed" 2 Athlete { first: &'a str, done: Option<&'a str>, still_held: bool }
    /// Staff took the helmet out of use.
    OutOfUse "out_of_use" 2 Athlete { first: &'a str, place: &'a str }
    /// Staff want to see the helmet: it is out of use until they have.
    HeldEquipment "held_equipment" 2 Athlete { first: &'a str, place: &'a str, by: &'a str }
    /// The athletic trainer keeps the athlete out.
    HeldBody "held_body" 2 Athlete { first: &'a str, trainer: Option<&'a str>, trainer_phone: Option<&'a str> }
    /// The event is called off; `event` as [`super::words::event_words`] gives it.
    EventCancelled "event_cancelled" 2 Athlete { event: &'a str, team: &'a str }
    /// The event is moved; `when` as [`super::words::when_words`] gives it.
    EventMoved "event_moved" 2 Athlete { event: &'a str, team: &'a str, when: &'a str, place: Option<&'a str> }

    /// The one confirmation of an opt-out.
    Stopped "stopped" 1 Anyone { program: &'a str }
    /// Opted in again.
    Started "started" 2 Anyone { program: &'a str }
    /// Answer to HELP.
    Help "help" 2 Anyone { program: &'a str, contact: &'a str, contact_phone: &'a str }
    /// The person at this number is not the one meant; the number is written to no more.
    WrongNumber "wrong_number" 1 Anyone { program: &'a str }
    /// The one answer to a number that nobody on the rosters has.
    UnknownNumber "unknown_number" 2 Anyone { program: &'a str, contact: &'a str, contact_phone: &'a str }
    /// A parent or guardian wrote.
    GuardianReply "guardian_reply" 2 Anyone { program: &'a str, contact: &'a str, contact_phone: &'a str }

    /// A one-time code that links an account of the chat platform.
    ChatCode "chat_code" 2 Anyone { program: &'a str, first: &'a str, code: &'a str }

    /// The first text to a staff number.
    StaffStart "staff_start" 3 Staff { program: &'a str }
    /// HELP from staff, with the commands of their roles.
    StaffHelp "staff_help" 3 Staff {
        program: &'a str, contact: &'a str, contact_phone: &'a str, equipment: bool, trainer: bool, coach: bool,
    }
    /// A body report, at once. `reply` is what takes it: "got 12".
    BodyAlert "body_alert" 3 Medical {
        who: &'a str, team: &'a str, time: &'a str, what: Body, words: Option<Typed<'a>>, red_flag: bool,
        attempt: Attempt, phone: Option<&'a str>, reply: &'a str,
    }
    /// To the other trainers: somebody has it.
    BodyAcknowledged "body_acknowledged" 1 Medical { who: &'a str, by_whom: &'a str }
    /// Medical items that nobody has taken yet. `reply` is what takes one: "got 12".
    TrainerPending "trainer_pending" 3 Medical { lines: Vec<&'a str>, link: Option<&'a str>, reply: &'a str }
    /// The fix list: when to start, with how many hands, and what will not be done in time.
    FixList "fix_list" 3 Staff {
        event: &'a str, starts: &'a str, hands: usize, lines: Vec<FixLine<'a>>, not_fit: usize, bring: Option<&'a str>,
        link: Option<&'a str>,
    }
    /// Helmets on the fix list that nobody has taken yet. `reply` is what takes one: "got 12".
    FixWaiting "fix_waiting" 2 Staff {
        event: &'a str, lines: Vec<FixLine<'a>>, everyone: bool, reply: &'a str, link: Option<&'a str>,
    }
    /// An item that came after the fix list had gone out. `reply` is what takes it: "got 12".
    FixAdded "fix_added" 2 Staff {
        event: &'a str, who: &'a str, helmet: Option<&'a str>, flags: Helmet, reply: &'a str,
    }
    /// Nothing is open.
    ListEmpty "list_empty" 1 Staff { event: &'a str }
    /// Who has not answered, of `total` who were asked.
    SilentList "silent_list" 3 Staff { event: &'a str, lines: Vec<&'a str>, total: usize, link: Option<&'a str> }
    /// Who gets no texts (no phone, no consent, opted out) and is checked by hand.
    HandsOnList "hands_on_list" 3 Staff { event: &'a str, lines: Vec<&'a str>, link: Option<&'a str> }
    /// Checks that did not go out in time.
    ChecksMissed "checks_missed" 1 Staff { event: &'a str, missed: usize }
    /// For the coach: who may not wear a helmet, and how many have not answered.
    Availability "availability" 3 Staff {
        event: &'a str, lines: Vec<OutLine<'a>>, silent: usize, link: Option<&'a str>,
    }
    /// An item is closed.
    ItemDone "item_done" 1 Staff { who: &'a str, what: Option<&'a str> }
    /// An item is taken.
    ItemTaken "item_taken" 1 Staff { who: &'a str, by: &'a str }
    /// Somebody else has an item, or has done it.
    ItemHas "item_has" 1 Staff { who: &'a str, by: Option<&'a str>, done: bool }
    /// How an item stands: the answer to "12 done?".
    ItemStatus "item_status" 2 Staff {
        who: &'a str, helmet: Option<&'a str>, flags: Helmet, by: Option<&'a str>, note: Option<&'a str>,
    }
    /// An item is handed to another member of staff: to that one. Without helmet flags it asks for a look.
    HandedOn "handed_on" 2 Staff { who: &'a str, helmet: Option<&'a str>, flags: Helmet, from: &'a str }
    /// An item is handed on: to the one who did. `to` is `None` when it is open again.
    ItemHanded "item_handed" 1 Staff { who: &'a str, to: Option<&'a str> }
    /// An athlete is held by the word of staff: to the one who said so. `body`: until the athletic trainer decides.
    ItemHeld "item_held" 1 Staff { who: &'a str, body: bool }
    /// A reply that could not be read twice: what did it mean? Words for trainers alone. `reply` is what begins the answer.
    WhatMeant "what_meant" 3 Medical { who: &'a str, words: Option<Typed<'a>>, reply: &'a str }
    /// What it meant is noted: to the one who said so. `flags` are the helmet's; `body`: the trainer has it.
    Meant "meant" 2 Staff { who: &'a str, flags: Helmet, body: bool }
    /// An item stays open, with what it needs.
    ItemNeeds "item_needs" 1 Staff { who: &'a str, what: &'a str }
    /// No open item for what staff typed.
    ItemNone "item_none" 1 Staff { who: &'a str }
    /// Several open items fit what staff typed.
    WhichItem "which_item" 1 Staff { options: &'a str }
    /// Staff called an event off.
    EventCalledOff "event_called_off" 1 Staff { event: &'a str, told: usize }
    /// Staff called an event off, and several could be meant.
    EventWhich "event_which" 2 Staff { options: &'a str }
    /// A staff text that was not understood; `hint` is an example of one that is.
    StaffNotUnderstood "staff_not_understood" 1 Staff { hint: &'a str }
    /// A staff text that this person may not give.
    StaffNotAllowed "staff_not_allowed" 1 Staff { what: &'a str }
    /// A medical hold cannot be closed by text.
    MedicalNotByText "medical_not_by_text" 1 Staff { who: &'a str }
    /// A link that signs in to the board, once, within so many minutes.
    SignIn "sign_in" 2 Staff { program: &'a str, link: &'a str, minutes: usize }
    /// A drill is recorded: to the one who did. `failed`: seconds that it may take at most; `slower`: percent.
    DrillRecorded "drill_recorded" 3 Staff {
        skill: &'a str, day: &'a str, who: &'a str, seconds: Option<&'a str>, failed: Option<&'a str>,
        slower: Option<&'a str>, next: Option<&'a str>, gap: Option<&'a str>,
    }
    /// The last drill that this person recorded is taken back.
    DrillUndone "drill_undone" 1 Staff { drill: Option<&'a str> }
    /// A drill that could not be read: nothing is recorded.
    DrillAsk "drill_ask" 2 Staff { what: &'a str }
    /// A position of the response cannot be filled at a coming event, and what closes that.
    CoverageGap "coverage_gap" 4 Staff {
        event: &'a str, gap: &'a str, away: Option<&'a str>, drill: Option<&'a str>, day: Option<&'a str>,
        bring: Option<&'a str>, people_short: usize,
    }
    /// Every position can be filled.
    CoverageFine "coverage_fine" 1 Staff { event: &'a str }
    /// The yearly rehearsal of the whole plan is due. `last`: when it was, if ever.
    RehearsalDue "rehearsal_due" 2 Staff { last: Option<&'a str>, by: Option<&'a str> }
    /// The medical time-out before a game: who does what, and where things are. `program`: to a number that is not staff's.
    TimeOut "time_out" 4 Staff {
        program: Option<&'a str>, event: &'a str, who: &'a str, empty: Option<&'a str>, place: Option<&'a str>, address: Option<&'a str>,
        entrance: Option<&'a str>, aed: Option<&'a str>, kit: Option<&'a str>, hospital: Option<&'a str>,
    }
    /// Somebody of staff is away, or back, on these days: to the one who said so.
    Away "away" 3 Staff { who: &'a str, days: &'a str, back: bool, next: Option<&'a str>, gap: Option<&'a str> }
    /// A kit's keeper is asked to count it; `item`: one thing of it, for the example; `late`: the keeper's name, to the one who hears that it was not counted.
    KitPrompt "kit_prompt" 5 Staff {
        kit: &'a str, id: &'a str, items: &'a str, item: &'a str, again: bool, late: Option<&'a str>, lacks: Option<&'a str>,
        event: Option<&'a str>,
    }
    /// A count, or what was used or put in, is noted. `all`: the whole kit was counted.
    KitNoted "kit_noted" 4 Staff {
        kit: &'a str, items: Option<&'a str>, all: bool, below: Option<&'a str>, lacks: Option<&'a str>,
        event: Option<&'a str>,
    }
    /// How a kit stands: to the one who asked.
    KitStatus "kit_status" 5 Staff {
        kit: &'a str, items: &'a str, below: Option<&'a str>, lacks: Option<&'a str>, event: Option<&'a str>,
    }
    /// A text about a kit that could not be read: nothing is noted.
    KitAsk "kit_ask" 2 Staff { what: &'a str, example: &'a str }
    /// Kits that go to an event lack what the helmets there need; without `kits` no kit goes there.
    KitLacks "kit_lacks" 4 Staff { kits: Option<&'a str>, event: &'a str, needs: Option<&'a str>, elsewhere: Option<&'a str> }
    /// Things in a kit expire, or have.
    KitExpires "kit_expires" 3 Staff { kit: &'a str, id: &'a str, items: &'a str, item: &'a str, day: &'a str, past: bool }
    /// What is to be ordered for all kits together, and what was ordered and is late.
    OrderList "order_list" 5 Staff { items: Option<&'a str>, late: Option<&'a str>, example: &'a str }
    /// An order is noted, or what came in.
    OrderNoted "order_noted" 2 Staff { items: &'a str, came: bool, kit: &'a str }
    /// Helmets have to leave for the shop by a day; `late`: they should have.
    ShipBy "ship_by" 3 Staff { count: usize, tags: &'a str, by: &'a str, pack: Option<&'a str>, late: bool }
    /// Helmets that were expected back are not.
    NotBack "not_back" 2 Staff { count: usize, tags: &'a str, day: &'a str }
    /// Helmets that are worn and soon no longer certified, or too old; `first`: the day of the first.
    CertificationEnds "certification_ends" 3 Staff { count: usize, tags: &'a str, first: &'a str }
    /// Helmets are noted as shipped. `left`: how many still have to go, by when.
    HelmetsShipped "helmets_shipped" 3 Staff {
        count: usize, tags: &'a str, expected: &'a str, left: usize, by: Option<&'a str>,
    }
    /// Helmets are noted as back and recertified. `still`: what is away yet; `example`: a tag.
    HelmetsBack "helmets_back" 3 Staff { count: usize, tags: &'a str, still: Option<&'a str>, example: &'a str }
    /// How the helmets stand: to the one who asked.
    HelmetsStatus "helmets_status" 5 Staff {
        count: usize, worn_out: Option<&'a str>, away: Option<&'a str>, to_go: Option<&'a str>, by: Option<&'a str>,
    }
    /// A text about helmets that could not be read: nothing is noted.
    HelmetAsk "helmet_ask" 2 Staff { what: &'a str, example: &'a str }
    /// A helmet failed an inspection. `who`: its wearer, who is on the fix list now.
    HelmetFailed "helmet_failed" 2 Staff { tag: &'a str, why: &'a str, who: Option<&'a str> }
    /// A helmet was recertified.
    HelmetRecertified "helmet_recertified" 1 Staff { tag: &'a str, until: Option<&'a str> }
    /// A mark of a helmet's condition is noted.
    HelmetMarked "helmet_marked" 1 Staff { tag: &'a str, mark: &'a str }
    /// A helmet belongs to nobody now. `who`: who had it.
    HelmetSpare "helmet_spare" 1 Staff { tag: &'a str, who: Option<&'a str> }
    /// A helmet is somebody's now. `needs`, `size`: when the head asks for another size than the helmet has.
    HelmetIssued "helmet_issued" 2 Staff { tag: &'a str, who: &'a str, needs: Option<&'a str>, size: Option<&'a str> }
    /// The first text to a guardian, before the first notice.
    FamilyWelcome "family_welcome" 2 Family { program: &'a str }
    /// A child is held. `again`: nobody answered the first; `reply`: it asks for an answer by text.
    NoticeHeld "notice_held" 2 Family {
        program: &'a str, first: &'a str, contact: &'a str, contact_phone: &'a str, again: bool, reply: bool,
    }
    /// The next step of the return to sport was taken.
    NoticeStep "notice_step" 2 Family {
        program: &'a str, first: &'a str, contact: &'a str, contact_phone: &'a str,
    }
    /// A child may take part again.
    NoticeCleared "notice_cleared" 2 Family {
        program: &'a str, first: &'a str, contact: &'a str, contact_phone: &'a str, again: bool, reply: bool,
    }
    /// A child's helmet is out of use.
    NoticeHelmetOut "notice_helmet_out" 2 Family {
        program: &'a str, first: &'a str, contact: &'a str, contact_phone: &'a str,
    }
    /// A child's helmet is in use again.
    NoticeHelmetBack "notice_helmet_back" 2 Family {
        program: &'a str, first: &'a str, contact: &'a str, contact_phone: &'a str,
    }
    /// A guardian asks about a notice: whom to call.
    NoticeQuestion "notice_question" 2 Family { program: &'a str, contact: &'a str, contact_phone: &'a str }
    /// A shared phone acknowledged a notice while a check waits.
    NoticeNoted "notice_noted" 1 Family {}
    /// To staff: a guardian asks about a notice.
    GuardianAsks "guardian_asks" 2 Staff { parent: &'a str, who: &'a str, phone: Option<&'a str> }
    /// To an athlete of age: may guardians be told?
    FamilyAsk "family_ask" 2 Family { program: &'a str, first: &'a str }
    /// What an athlete of age decided.
    FamilyNoted "family_noted" 1 Family { first: &'a str, tells: bool }
    /// The one question for consent to texts; `child`: it is for a minor's number.
    ConsentAsk "consent_ask" 2 Family {
        program: &'a str, child: Option<&'a str>, contact: &'a str, contact_phone: &'a str,
    }
    /// The answer to it is noted.
    ConsentNoted "consent_noted" 2 Family { program: &'a str, agreed: bool }
    /// Subject of a notice by e-mail.
    MailSubject "mail_subject" 1 Family { program: &'a str, first: &'a str }
    /// What stands under a notice by e-mail. `page`: the guardian's own page; `answer`: it asks to be acknowledged there.
    MailFooter "mail_footer" 6 Family {
        program: &'a str, contact: &'a str, contact_phone: &'a str, page: &'a str, answer: bool,
    }
    /// Something was recorded in an athlete's way back; `next`: what is next and from when.
    CourseNoted "course_noted" 3 Medical { who: &'a str, what: &'a str, next: Option<&'a str> }
    /// The next step of a way back may begin; `lacks`: a determination has to be on file first; `last`: it begins with a
    /// clearance.
    StepDue "step_due" 4 Medical {
        who: &'a str, step: usize, what: &'a str, lacks: bool, last: bool, reply: &'a str, page: Option<&'a str>,
    }
    /// Somebody is held, and nothing is on file of what follows.
    CourseMissing "course_missing" 2 Medical { who: &'a str, since: &'a str, page: Option<&'a str> }
    /// Nothing was recorded, and why.
    NotRecorded "not_recorded" 2 Medical { who: &'a str, why: &'a str }
    /// A clearance waits for the second person.
    SecondAsked "second_asked" 2 Medical { who: &'a str, by: &'a str, page: Option<&'a str> }
    /// The daily question to somebody who is held.
    CheckInAsk "check_in_ask" 3 Athlete { first: &'a str, contact: Option<&'a str>, contact_phone: Option<&'a str> }
    /// The answer to it is noted; `well`: it said that all is well.
    CheckInNoted "check_in_noted" 2 Athlete { first: &'a str, contact: Option<&'a str>, well: bool }
    /// What became of the day's check-ins.
    CheckInSummary "check_in_summary" 4 Medical {
        well: Option<&'a str>, symptoms: Option<&'a str>, unclear: Option<&'a str>, silent: Option<&'a str>,
    }
    /// A licensed clinician cleared an athlete: to the athlete.
    Cleared "cleared" 2 Athlete { first: &'a str, contact: Option<&'a str> }
    /// An athlete opted out: checked by hand from now on.
    OptedOut "opted_out" 1 Staff { who: &'a str }
}

impl Kind {
    /// The message whose template has this file stem.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.name() == name)
    }

    /// Whether part of it is a list that is shortened to fit.
    #[must_use]
    pub fn has_list(self) -> bool {
        self.fields().contains(&"lines")
    }

    /// The variables its template may use: the fields of its [`Message`]; for lists also `count` (lines in all) and
    /// `hidden` (lines that did not fit); where calling 911 is explained, `signs`.
    #[must_use]
    pub fn variables(self) -> Vec<&'static str> {
        let mut names = self.fields().to_vec();
        if self.has_list() {
            names.extend(["count", "hidden"]);
        }
        if self.explains_911() {
            names.push("signs");
        }
        names
    }

    const fn explains_911(self) -> bool {
        matches!(self, Self::Symptom | Self::Body)
    }
}

impl Message<'_> {
    /// The stem of its template's file name.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.kind().name()
    }

    /// The segments it may take, accents folded.
    #[must_use]
    pub const fn budget(&self) -> usize {
        self.kind().budget()
    }

    pub(super) fn context(&self, language: Language) -> Context {
        let mut context = Context { fixed: BTreeMap::new(), trim: None };
        self.put(language, &mut context);
        if self.kind().explains_911() {
            context.fixed.insert("signs", words::signs_911(language).into());
        }
        context
    }
}
