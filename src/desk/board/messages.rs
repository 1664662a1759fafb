//! What went out and came back, and the numbers that fail.
//!
//! No text that may hold body words is shown here to anybody: of what went out only the kinds that never hold any, of what
//! came in only what was understood as all clear. The rest is on the athlete's page, for those who may read it.

use std::collections::{BTreeSet, HashMap};

use serde::Serialize;

use super::{Viewer, reading_words, when};
use crate::channel::NumberTrouble;
use crate::config::Program;
use crate::desk::scene::phone_words;
use crate::desk::sign_in::SIGN_IN_TEXT;
use crate::desk::{Desk, DeskError};
use crate::reading::{Kind, Reading};
use crate::store::Tx;
use crate::store::rows::{InMessage, Number, OutMessage, OutState, Purpose};
use crate::trade::flag::Flags;
use crate::trade::phone::Phone;
use crate::trade::queue::Queue;
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// Messages shown, of each way.
const NEWEST: i64 = 80;

/// A message.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MessageView {
    /// When.
    pub when: String,
    /// Whether it came from the phone.
    pub heard: bool,
    /// Whose phone.
    pub who: String,
    /// What kind of message: "check", or what was heard in it: "strap".
    pub what: String,
    /// How it fares, in words.
    pub state: String,
    /// The text, where it may be shown.
    pub body: Option<String>,
    /// What the carrier said.
    pub error: Option<String>,
}

/// A number that gets nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FailedNumber {
    /// The number.
    pub phone: String,
    /// Whose.
    pub who: String,
    /// Why, in words.
    pub why: String,
    /// Since when.
    pub since: String,
}

/// Somebody whom staff have to reach.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ContactView {
    /// The item's key.
    pub id: String,
    /// Whom, and why.
    pub about: String,
    /// Since when.
    pub since: String,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MessagesView {
    /// People whom staff have to reach.
    pub contact: Vec<ContactView>,
    /// The newest messages, newest first.
    pub messages: Vec<MessageView>,
    /// Numbers that get nothing.
    pub failed: Vec<FailedNumber>,
    /// Why nothing at all is sent, when nothing is.
    pub halted: Option<String>,
}

impl Desk {
    /// The messages page.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_messages(
        &self,
        program: &ProgramId,
        viewer: Viewer<'_>,
        now: Moment,
    ) -> Result<MessagesView, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let out = tx.outbox_newest(&program.id, NEWEST).await?;
        let heard = tx.inbox_newest(&program.id, NEWEST).await?;
        let numbers = tx.numbers_stopped(&program.id).await?;
        let contact = tx.items_open(&program.id).await?;
        let halted = tx.sender(&program.id).await?.filter(|sender| sender.halted_at.is_some());
        let phones: BTreeSet<Phone> = out
            .iter()
            .map(|message| &message.phone)
            .chain(heard.iter().map(|message| &message.phone))
            .chain(numbers.iter().map(|number| &number.phone))
            .cloned()
            .collect();
        let names = names(&mut tx, program, viewer, &phones).await?;
        let who = |phone: &Phone| names.get(phone).cloned();
        let mut messages: Vec<(Moment, MessageView)> = Vec::new();
        messages.extend(out.iter().filter_map(|message| {
            Some((message.sent_at.unwrap_or(message.due_at), sent(message, who(&message.phone)?, now, program)))
        }));
        messages.extend(
            heard.iter().filter_map(|message| {
                Some((message.received_at, received(message, who(&message.phone)?, now, program)))
            }),
        );
        messages.sort_by_key(|(at, _)| std::cmp::Reverse(*at));
        Ok(MessagesView {
            contact: contact
                .iter()
                .filter(|item| item.queue == Queue::Contact && viewer.sees(item.team.as_ref()))
                .map(|item| ContactView {
                    id: item.id.clone(),
                    about: item.about.clone().unwrap_or_default(),
                    since: when(item.opened_at, now, program),
                })
                .collect(),
            messages: messages.into_iter().map(|(_, message)| message).collect(),
            failed: numbers.iter().filter_map(|number| failed(number, who(&number.phone)?, now, program)).collect(),
            halted: halted
                .map(|sender| sender.halted_why.unwrap_or_else(|| "the carrier refuses all texts".to_owned())),
        })
    }
}

/// Whose phone each is, of those that the viewer may see: people of the teams they serve, staff, and who is nobody's.
async fn names(
    tx: &mut Tx,
    program: &Program,
    viewer: Viewer<'_>,
    phones: &BTreeSet<Phone>,
) -> Result<HashMap<Phone, String>, DeskError> {
    let mut names: HashMap<Phone, Vec<String>> = phones.iter().map(|phone| (phone.clone(), Vec::new())).collect();
    let mut hidden: BTreeSet<Phone> = BTreeSet::new();
    for member in tx.staff(&program.id).await? {
        if let Some(own) = member.phone.as_ref().and_then(|phone| names.get_mut(phone)) {
            own.push(format!("{} (staff)", member.first));
        }
    }
    for athlete in tx.athletes_at(&program.id, phones).await? {
        let Some(phone) = &athlete.phone else { continue };
        if !viewer.sees(Some(&athlete.team)) {
            hidden.insert(phone.clone());
        } else if let Some(own) = names.get_mut(phone) {
            own.push(athlete.short());
        }
    }
    for guardian in tx.guardians_at(&program.id, phones).await? {
        if let Some(own) = guardian.phone.as_ref().and_then(|phone| names.get_mut(phone)) {
            own.push(format!("{} {} (parent)", guardian.first, guardian.last));
        }
    }
    Ok(names
        .into_iter()
        .filter(|(phone, own)| !(own.is_empty() && hidden.contains(phone)))
        .map(|(phone, own)| {
            let who = if own.is_empty() { phone_words(&phone) } else { own.join(" and ") };
            (phone, who)
        })
        .collect())
}

fn sent(message: &OutMessage, who: String, now: Moment, program: &Program) -> MessageView {
    MessageView {
        when: when(message.sent_at.unwrap_or(message.due_at), now, program),
        heard: false,
        who,
        what: purpose_words(message).to_owned(),
        state: out_words(message.state).to_owned(),
        body: may_be_shown(message).then(|| message.body.clone()),
        error: message.error.clone().filter(|_| !matches!(message.state, OutState::Sent | OutState::Delivered)),
    }
}

/// Lists that hold names and helmets alone, by how their keys begin. Others of their purpose may quote a reply.
const PLAIN_LISTS: [&str; 3] = ["fix-list/", "silent/", "availability/"];

/// Whether a text is of a kind that never holds body words, nor a key to the board. What is not known to be plain is
/// hidden.
fn may_be_shown(message: &OutMessage) -> bool {
    match message.purpose {
        Purpose::Check | Purpose::Nudge | Purpose::Welcome | Purpose::Change | Purpose::Rights => true,
        Purpose::List => PLAIN_LISTS.iter().any(|head| message.id.starts_with(head)),
        _ => false,
    }
}

fn purpose_words(message: &OutMessage) -> &'static str {
    if message.id.starts_with(SIGN_IN_TEXT) {
        return "link to the board";
    }
    match message.purpose {
        Purpose::Check => "check",
        Purpose::Nudge => "reminder",
        Purpose::List if may_be_shown(message) => "list",
        Purpose::List => "to staff",
        Purpose::Welcome => "who writes, and how to stop",
        Purpose::Change => "change of plan",
        Purpose::Rights => "stop, start or help",
        Purpose::Staff => "answer to staff",
        // Neither purpose says more to those who may not know more.
        _ => "answer",
    }
}

const fn out_words(state: OutState) -> &'static str {
    match state {
        OutState::Due => "waits",
        OutState::Claimed => "is being sent",
        OutState::Sent => "sent",
        OutState::Delivered => "delivered",
        OutState::Failed => "did not arrive",
        OutState::Cancelled => "dropped: no longer needed, or opted out",
        OutState::Missed => "not sent: too late to be of use",
    }
}

fn received(message: &InMessage, who: String, now: Moment, program: &Program) -> MessageView {
    let reading = message.reading.as_ref();
    let clear = reading.is_some_and(|reading| reading.kind == Kind::AllClear);
    MessageView {
        when: when(message.received_at, now, program),
        heard: true,
        who,
        what: reading.map_or_else(|| "to staff".to_owned(), heard_words),
        state: if message.handled { "heard" } else { "not acted on yet" }.to_owned(),
        body: clear.then(|| message.body.clone()),
        error: None,
    }
}

/// What was heard, with the helmet's flags alone.
fn heard_words(reading: &Reading) -> String {
    if reading.red_flag || reading.flags.body() != Flags::NONE {
        return "for the athletic trainer".to_owned();
    }
    reading_words(reading)
}

fn failed(number: &Number, who: String, now: Moment, program: &Program) -> Option<FailedNumber> {
    let trouble = number.trouble.map(trouble_words);
    let (why, since) = match (number.opted_out_at, number.wrong_at, trouble) {
        (Some(at), _, _) => ("opted out of texts", Some(at)),
        (None, Some(at), _) => ("somebody else's number", Some(at)),
        (None, None, Some(words)) => (words, number.trouble_at),
        (None, None, None) => return None,
    };
    Some(FailedNumber {
        phone: phone_words(&number.phone),
        who,
        why: why.to_owned(),
        since: since.map(|at| when(at, now, program)).unwrap_or_default(),
    })
}

const fn trouble_words(trouble: NumberTrouble) -> &'static str {
    match trouble {
        NumberTrouble::OptedOut => "opted out with the carrier",
        NumberTrouble::Invalid => "not a number that exists",
        NumberTrouble::NotMobile => "does not take texts",
        NumberTrouble::Unreachable => "switched off or out of service",
        NumberTrouble::NoRoute => "the carrier has no way there",
    }
}
