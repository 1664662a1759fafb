//! What must be true when the morning is over, whatever was killed in it.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::RangeInclusive;

use browline::desk::record::verify;
use browline::store::Store;
use browline::store::rows::{Happening, OutMessage, OutState, ProgramRow, Purpose, RecordLine};
use browline::trade::morning::{CheckState, MorningCheck};
use browline::trade::queue::{Hold, HoldKind, Item, Queue};
use browline::trade::roster::ProgramId;
use browline::trade::time::Moment;

use crate::fake_carrier::Sent;
use crate::roster::Athlete;

/// Words of the reminder to the silent.
const REMINDER: &str = "no answer to your helmet check yet";
/// The steps of the day, each done once.
const STEPS: [&str; 5] = [
    "availability/p15/2026-09-15",
    "check/varsity/2026-09-15",
    "fix-list/p15/2026-09-15",
    "nudge/varsity/2026-09-15",
    "silent/p15/2026-09-15",
];

/// The program's state and the carrier's, side by side.
pub struct Aftermath<'a> {
    athletes: &'a [Athlete],
    check_texts: Vec<String>,
    /// How often the carrier took a text for a number.
    taken: HashMap<(String, String), usize>,
    outbox: Vec<OutMessage>,
    /// Replies in the inbox: id, number, text, whether its consequences are drawn.
    inbox: Vec<(String, String, String, bool)>,
    items: Vec<Item>,
    holds: Vec<Hold>,
    checks: Vec<MorningCheck>,
    record: Vec<RecordLine>,
    head: ProgramRow,
    happenings: Vec<Happening>,
}

impl<'a> Aftermath<'a> {
    /// Reads it all.
    pub async fn read(store: &Store, athletes: &'a [Athlete], check_texts: Vec<String>, sent: Vec<Sent>) -> Self {
        let program = ProgramId::from("larkspur");
        let mut tx = store.read().await.unwrap();
        let mut inbox = Vec::new();
        for athlete in athletes {
            let phone = browline::trade::phone::Phone::parse(&athlete.phone).unwrap();
            let heard = tx.inbox_of(&program, &phone).await.unwrap();
            inbox.extend(heard.into_iter().map(|text| (text.id, text.phone.to_string(), text.body, text.handled)));
        }
        let day = Moment::parse("2026-09-15T12:00:00-05:00").unwrap().date(chrono_tz::America::Chicago);
        let mut taken = HashMap::new();
        for text in sent {
            *taken.entry((text.to, text.body)).or_default() += 1;
        }
        Self {
            athletes,
            check_texts,
            taken,
            outbox: tx.outbox_all(&program).await.unwrap(),
            inbox,
            items: tx.items_open(&program).await.unwrap(),
            holds: tx.holds_open(&program).await.unwrap(),
            checks: tx.checks_on_day(&program, day).await.unwrap(),
            record: tx.record(&program).await.unwrap(),
            head: tx.record_head(&program).await.unwrap(),
            happenings: tx.happened(&program, &STEPS).await.unwrap(),
        }
    }

    /// Everything that is not as it should be.
    pub fn wrong(&self) -> Vec<String> {
        let mut wrong = Vec::new();
        self.texts(&mut wrong);
        self.outbox_against_carrier(&mut wrong);
        self.replies(&mut wrong);
        self.consequences(&mut wrong);
        self.trace(&mut wrong);
        wrong
    }

    /// Each athlete got the welcome, the check and the answer to the reply, and each once; nobody was reminded twice.
    fn texts(&self, wrong: &mut Vec<String>) {
        for (athlete, check) in self.athletes.iter().zip(&self.check_texts) {
            let got: Vec<(&String, usize)> = self
                .taken
                .iter()
                .filter(|((to, _), _)| *to == athlete.phone)
                .map(|((_, text), times)| (text, *times))
                .collect();
            let times = |mine: &dyn Fn(&str) -> bool| -> usize {
                got.iter().filter(|(text, _)| mine(text)).map(|(_, times)| times).sum()
            };
            let counts = [
                times(&|text| text.starts_with("This is Larkspur Valley Kestrels.")),
                times(&|text| text == check),
                times(&|text| !text.starts_with("This is") && text != check && !text.contains(REMINDER)),
            ];
            let expected = [1, 1, usize::from(athlete.reply.is_some())];
            if counts != expected || times(&|text| text.contains(REMINDER)) > 1 {
                let (id, reply) = (&athlete.id, athlete.reply);
                wrong.push(format!("{id} ({reply:?}): welcome, check, answer came {counts:?} times: {got:?}"));
            }
        }
    }

    /// What the program says it sent is what the carrier took, staff's texts too. What was called off or still waits
    /// may have been taken unnoticed, once.
    fn outbox_against_carrier(&self, wrong: &mut Vec<String>) {
        let mut noted: HashMap<(String, String), RangeInclusive<usize>> = HashMap::new();
        for message in &self.outbox {
            let key = (message.phone.to_string(), message.body.clone());
            let range = noted.get(&key).cloned().unwrap_or(0..=0);
            let (sent, maybe) = match (message.state, message.purpose) {
                (OutState::Sent | OutState::Delivered, _) => (1, 1),
                // The reply came first, or the next rung was reached while the program was stopping.
                (OutState::Cancelled, Purpose::Nudge) | (OutState::Due, Purpose::Medical) => {
                    (0, usize::from(message.attempts > 0))
                }
                _ => {
                    wrong.push(format!("{} is {:?} ({:?})", message.id, message.state, message.error));
                    (0, 1)
                }
            };
            noted.insert(key, range.start() + sent..=range.end() + maybe);
        }
        let all: BTreeSet<&(String, String)> = noted.keys().chain(self.taken.keys()).collect();
        for key in all {
            let taken = self.taken.get(key).copied().unwrap_or_default();
            let noted = noted.get(key).cloned().unwrap_or(0..=0);
            if !noted.contains(&taken) {
                wrong.push(format!("noted {noted:?} times, taken {taken} times: {key:?}"));
            }
        }
        // The fix list and the silent to the equipment manager, the silent to the trainer, availability to the coach.
        let is_list = |id: &str| ["fix-list/", "silent/", "availability/"].iter().any(|kind| id.starts_with(kind));
        let lists =
            self.outbox.iter().filter(|message| message.purpose == Purpose::List && is_list(&message.id)).count();
        if lists != 4 {
            wrong.push(format!("{lists} lists went to staff, not 4"));
        }
        let ids: Vec<&str> = self.outbox.iter().filter_map(|message| message.carrier_id.as_deref()).collect();
        let distinct: BTreeSet<&&str> = ids.iter().collect();
        if ids.len() != distinct.len() {
            wrong.push("two messages have one carrier id".to_owned());
        }
    }

    /// Every reply that was sent is in the inbox, once, and acted on.
    fn replies(&self, wrong: &mut Vec<String>) {
        let mut sent: Vec<(String, String, String, bool)> = self
            .athletes
            .iter()
            .filter_map(|athlete| Some((athlete.sid(), athlete.phone.clone(), athlete.reply?.to_owned(), true)))
            .collect();
        sent.sort();
        let mut heard = self.inbox.clone();
        heard.sort();
        if sent != heard {
            let lost: Vec<_> = sent.iter().filter(|reply| !heard.contains(reply)).collect();
            let extra: Vec<_> = heard.iter().filter(|reply| !sent.contains(reply)).collect();
            wrong.push(format!("replies lost: {lost:?}; replies too many: {extra:?}"));
        }
    }

    /// Each flag opened one item, one hold of its kind, and moved the check.
    fn consequences(&self, wrong: &mut Vec<String>) {
        let mut items: BTreeMap<&str, Vec<Queue>> = BTreeMap::new();
        for item in &self.items {
            let athlete = item.athlete.as_ref().map_or("nobody", |athlete| athlete.as_str());
            items.entry(athlete).or_default().push(item.queue);
        }
        let mut holds: BTreeMap<&str, Vec<HoldKind>> = BTreeMap::new();
        for hold in &self.holds {
            holds.entry(hold.athlete.as_str()).or_default().push(hold.kind);
        }
        let states: BTreeMap<&str, CheckState> =
            self.checks.iter().map(|check| (check.athlete.as_str(), check.state)).collect();
        for athlete in self.athletes {
            let expected = match athlete.reply {
                Some("strap broke") => (vec![Queue::Equipment], vec![HoldKind::Equipment], CheckState::Flagged),
                Some("my head hurts") => (vec![Queue::Medical], vec![HoldKind::Medical], CheckState::Flagged),
                Some(_) => (vec![], vec![], CheckState::Clear),
                None => (vec![], vec![], CheckState::Sent),
            };
            let id = athlete.id.as_str();
            let found = (
                items.remove(id).unwrap_or_default(),
                holds.remove(id).unwrap_or_default(),
                states.get(id).copied().unwrap_or(CheckState::Missed),
            );
            if found != expected {
                wrong.push(format!("{id} ({:?}): {found:?}, not {expected:?}", athlete.reply));
            }
        }
        if !items.is_empty() || !holds.is_empty() || states.len() != self.athletes.len() {
            wrong.push(format!("too much: items {items:?}, holds {holds:?}, {} checks", states.len()));
        }
    }

    /// Each step was done; the record is whole, and tells of each reply once.
    fn trace(&self, wrong: &mut Vec<String>) {
        let done = self.happenings.iter().filter(|happening| happening.outcome == "done").count();
        if done != STEPS.len() {
            wrong.push(format!("{done} steps were done: {:?}", self.happenings));
        }
        if let Err(broken) = verify(&self.record, &self.head) {
            wrong.push(format!("the record is broken: {broken}"));
        }
        let mut told: BTreeMap<&str, usize> = BTreeMap::new();
        for line in self.record.iter().filter(|line| line.what == "heard") {
            *told.entry(line.message.as_deref().unwrap_or_default()).or_default() += 1;
        }
        let replies = self.athletes.iter().filter(|athlete| athlete.reply.is_some()).count();
        let twice: Vec<_> = told.iter().filter(|(_, times)| **times != 1).collect();
        if told.len() != replies || !twice.is_empty() {
            wrong.push(format!("{} replies in the record, not {replies}; more than once: {twice:?}", told.len()));
        }
    }
}
