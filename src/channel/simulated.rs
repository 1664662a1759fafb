//! A carrier in memory, for the demo, the rehearsal and tests: no network, no cost, the same answers for the same seed.
//!
//! It keeps every text either way, shows them to whoever listens as they arrive, reports how they fare, and refuses and
//! fails as a real carrier does. Faults are drawn from the seed, the message and how often it was tried, not from the
//! order of calls: tasks that run at the same time do not change the plan.
//!
//! What is lost on a restart is lost: nothing here is stored.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use async_trait::async_trait;
use sha2::{Digest, Sha256};
use tokio::sync::broadcast;

use super::inbound::{IncomingText, MediaLink, OptOut, StatusReport};
use super::{Accepted, Channel, DeliveryStatus, Found, NumberTrouble, Outgoing, Refused};
use crate::clock::Clock;
use crate::trade::phone::Phone;
use crate::trade::time::Moment;

/// Events that a slow listener may fall behind by before it loses some; [`SimulatedCarrier::texts`] has them all.
const BACKLOG: usize = 4096;

/// How the carrier behaves.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SimulatedSettings {
    /// Decides ids and faults.
    pub seed: u64,
    /// How often it fails.
    pub faults: Faults,
    /// Whether it answers STOP, START and HELP itself and refuses those who opted out, as many accounts do. When not,
    /// opting out is left to the program.
    pub intervenes: bool,
}

/// Shares of attempts that fail, each from 0 to 1, their sum at most 1.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Faults {
    /// Too many requests: never processed, wait some seconds.
    pub busy: f64,
    /// A server error, and the message was not taken.
    pub lost: f64,
    /// The message was taken, but the answer is lost.
    pub unanswered: f64,
}

/// Which way a text went.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// From the program to a phone.
    ToPhone,
    /// From a phone to the program.
    FromPhone,
    /// From the carrier to a phone, in the program's place: only when it intervenes.
    Carrier,
}

/// A text that passed through.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SimulatedText {
    /// Its id.
    pub carrier_id: String,
    /// Sender.
    pub from: Phone,
    /// Receiver.
    pub to: Phone,
    /// Text.
    pub body: String,
    /// When it passed.
    pub at: Moment,
    /// Which way.
    pub way: Way,
}

/// The carrier; clones are the same one.
#[derive(Debug, Clone)]
pub struct SimulatedCarrier(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    clock: Clock,
    state: Mutex<State>,
    texts: broadcast::Sender<SimulatedText>,
    reports: broadcast::Sender<StatusReport>,
}

#[derive(Debug, Default)]
struct State {
    settings: SimulatedSettings,
    texts: Vec<SimulatedText>,
    reports: Vec<StatusReport>,
    refused: HashMap<Phone, NumberTrouble>,
    /// Who wrote STOP to which number, and how many texts had passed by then.
    stopped: HashMap<(Phone, Phone), usize>,
    /// How often each message was tried.
    tries: HashMap<[u8; 32], u64>,
}

/// What a fault plan says of one attempt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fate {
    Good,
    Busy(u64),
    Lost,
    Unanswered,
}

impl SimulatedCarrier {
    /// A carrier that has seen nothing yet.
    #[must_use]
    pub fn new(clock: Clock, settings: SimulatedSettings) -> Self {
        let state = Mutex::new(State { settings, ..State::default() });
        let (texts, _) = broadcast::channel(BACKLOG);
        let (reports, _) = broadcast::channel(BACKLOG);
        Self(Arc::new(Inner { clock, state, texts, reports }))
    }

    /// Texts either way, from now on.
    #[must_use]
    pub fn subscribe(&self) -> broadcast::Receiver<SimulatedText> {
        self.0.texts.subscribe()
    }

    /// Status reports, from now on: each message is reported once, at once, and perhaps before its sender hears that it
    /// was taken.
    #[must_use]
    pub fn subscribe_reports(&self) -> broadcast::Receiver<StatusReport> {
        self.0.reports.subscribe()
    }

    /// Every text so far, oldest first.
    #[must_use]
    pub fn texts(&self) -> Vec<SimulatedText> {
        self.lock().texts.clone()
    }

    /// The texts of one phone, oldest first.
    #[must_use]
    pub fn texts_of(&self, phone: &Phone) -> Vec<SimulatedText> {
        self.lock().texts.iter().filter(|text| &text.to == phone || &text.from == phone).cloned().collect()
    }

    /// Every status report so far, oldest first.
    #[must_use]
    pub fn reports(&self) -> Vec<StatusReport> {
        self.lock().reports.clone()
    }

    /// What the program sent to those who had written STOP, since they did: the one confirmation, if all is well.
    #[must_use]
    pub fn texts_after_stop(&self) -> Vec<SimulatedText> {
        let state = self.lock();
        let after = |(index, text): &(usize, &SimulatedText)| {
            let stop = state.stopped.get(&(text.to.clone(), text.from.clone()));
            text.way == Way::ToPhone && stop.is_some_and(|stop| index >= stop)
        };
        state.texts.iter().enumerate().filter(after).map(|(_, text)| text.clone()).collect()
    }

    /// From now on this number cannot be written to. One that is [`NumberTrouble::Unreachable`] is taken and then
    /// reported as failed, as a real carrier does; the others are refused at once.
    pub fn refuse(&self, phone: &Phone, trouble: NumberTrouble) {
        self.lock().refused.insert(phone.clone(), trouble);
    }

    /// Takes back [`Self::refuse`].
    pub fn allow(&self, phone: &Phone) {
        self.lock().refused.remove(phone);
    }

    /// Changes how often it fails.
    pub fn set_faults(&self, faults: Faults) {
        self.lock().settings.faults = faults;
    }

    /// A phone writes. The text is kept and shown; the answer is what the carrier's webhook would say, for the caller to
    /// deliver.
    #[must_use = "the text is not delivered to the program by itself"]
    pub fn write(&self, from: &Phone, to: &Phone, body: &str, media: Vec<MediaLink>) -> IncomingText {
        let mut state = self.lock();
        let id = state.next_id();
        self.keep(&mut state, id.clone(), from, to, body, Way::FromPhone);
        let keyword = keyword(body);
        let passed = state.texts.len();
        match keyword {
            Some(OptOut::Stop) => {
                state.stopped.entry((from.clone(), to.clone())).or_insert(passed);
            }
            Some(OptOut::Start) => {
                state.stopped.remove(&(from.clone(), to.clone()));
            }
            _ => {}
        }
        let opt_out_type = keyword.filter(|_| state.settings.intervenes);
        if let Some(answer) = opt_out_type.as_ref().and_then(own_answer) {
            let id = state.next_id();
            self.keep(&mut state, id, to, from, answer, Way::Carrier);
        }
        IncomingText { carrier_id: id, from: from.clone(), to: to.clone(), body: body.to_owned(), media, opt_out_type }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.0.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn keep(&self, state: &mut State, carrier_id: String, from: &Phone, to: &Phone, body: &str, way: Way) {
        let (from, to, body) = (from.clone(), to.clone(), body.to_owned());
        let text = SimulatedText { carrier_id, from, to, body, at: self.0.clock.now(), way };
        state.texts.push(text.clone());
        // Nobody may be listening.
        let _ = self.0.texts.send(text);
    }

    fn report(&self, state: &mut State, carrier_id: &str, unreachable: bool) {
        let (status, raw, error_code) = if unreachable {
            (DeliveryStatus::Failed, "undelivered", Some(30003))
        } else {
            (DeliveryStatus::Delivered, "delivered", None)
        };
        let report = StatusReport { carrier_id: carrier_id.to_owned(), status, raw: raw.to_owned(), error_code };
        state.reports.push(report.clone());
        let _ = self.0.reports.send(report);
    }

    fn take(&self, state: &mut State, message: &Outgoing) -> Accepted {
        let carrier_id = state.next_id();
        let unreachable = state.refused.get(&message.to) == Some(&NumberTrouble::Unreachable);
        self.keep(state, carrier_id.clone(), &message.from, &message.to, &message.body, Way::ToPhone);
        self.report(state, &carrier_id, unreachable);
        Accepted { carrier_id }
    }
}

impl State {
    /// Ids in the carrier's form.
    fn next_id(&self) -> String {
        format!("SM{:016x}{:016x}", self.settings.seed, self.texts.len() + 1)
    }

    /// Draws what becomes of this attempt at a message.
    fn fate(&mut self, kind: &str, message: &Outgoing) -> Fate {
        let mut hash = Sha256::new_with_prefix(self.settings.seed.to_le_bytes());
        for part in [kind, message.from.as_str(), message.to.as_str(), &message.body] {
            hash.update(part.len().to_le_bytes());
            hash.update(part);
        }
        let key: [u8; 32] = hash.finalize().into();
        let tries = self.tries.entry(key).or_default();
        *tries += 1;
        let drawn: [u8; 32] = Sha256::new_with_prefix(key).chain_update(tries.to_le_bytes()).finalize().into();
        let share = f64::from(u32::from_le_bytes([drawn[0], drawn[1], drawn[2], drawn[3]])) / 2_f64.powi(32);
        let Faults { busy, lost, unanswered } = self.settings.faults;
        if share < busy {
            Fate::Busy(1 + u64::from(drawn[4] % 5))
        } else if share < busy + lost {
            Fate::Lost
        } else if share < busy + lost + unanswered {
            Fate::Unanswered
        } else {
            Fate::Good
        }
    }

    fn refusal(&self, message: &Outgoing) -> Option<Refused> {
        let stopped =
            self.settings.intervenes && self.stopped.contains_key(&(message.to.clone(), message.from.clone()));
        let trouble = if stopped { NumberTrouble::OptedOut } else { *self.refused.get(&message.to)? };
        let code = match trouble {
            NumberTrouble::OptedOut => 21610,
            NumberTrouble::Invalid => 21211,
            NumberTrouble::NotMobile => 21614,
            NumberTrouble::NoRoute => 21612,
            NumberTrouble::Unreachable => return None,
        };
        Some(Refused::Number { code, trouble, why: "simulated".to_owned() })
    }
}

#[async_trait]
impl Channel for SimulatedCarrier {
    async fn send(&self, message: &Outgoing) -> Result<Accepted, Refused> {
        let mut state = self.lock();
        let fate = state.fate("send", message);
        if let Fate::Busy(seconds) = fate {
            let after = Some(Duration::from_secs(seconds));
            return Err(Refused::Retry { why: "simulated: too many requests".to_owned(), after });
        }
        if fate == Fate::Lost {
            return Err(Refused::InDoubt { why: "simulated: server error".to_owned() });
        }
        if let Some(refused) = state.refusal(message) {
            return Err(refused);
        }
        let accepted = self.take(&mut state, message);
        match fate {
            Fate::Unanswered => Err(Refused::InDoubt { why: "simulated: no answer".to_owned() }),
            _ => Ok(accepted),
        }
    }

    async fn look(&self, message: &Outgoing, since: Moment) -> Result<Vec<Found>, Refused> {
        let mut state = self.lock();
        if state.fate("look", message) != Fate::Good {
            return Err(Refused::InDoubt { why: "simulated: no answer".to_owned() });
        }
        let failed = |id: &str| {
            state.reports.iter().any(|report| report.carrier_id == id && report.status == DeliveryStatus::Failed)
        };
        let ours = |text: &&SimulatedText| {
            text.way == Way::ToPhone && text.to == message.to && text.from == message.from && text.at >= since
        };
        let found = state.texts.iter().rev().filter(ours).map(|text| Found {
            carrier_id: text.carrier_id.clone(),
            body: text.body.clone(),
            created_at: Some(text.at),
            status: if failed(&text.carrier_id) { DeliveryStatus::Failed } else { DeliveryStatus::Delivered },
        });
        Ok(found.collect())
    }
}

/// The keywords that a carrier answers by default, as its help pages list them ("YES" is one of its opt-in words).
fn keyword(body: &str) -> Option<OptOut> {
    match body.trim().to_ascii_uppercase().as_str() {
        "STOP" | "STOPALL" | "UNSUBSCRIBE" | "CANCEL" | "END" | "QUIT" | "OPTOUT" | "REVOKE" => Some(OptOut::Stop),
        "START" | "YES" | "UNSTOP" => Some(OptOut::Start),
        "HELP" | "INFO" => Some(OptOut::Help),
        _ => None,
    }
}

const fn own_answer(keyword: &OptOut) -> Option<&'static str> {
    match keyword {
        OptOut::Stop => Some("You have been unsubscribed and will get no more messages. Reply START to resubscribe."),
        OptOut::Start => Some("You have been resubscribed. Reply HELP for help, STOP to unsubscribe."),
        OptOut::Help => Some("Reply STOP to unsubscribe. Message and data rates may apply."),
        OptOut::Other(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use chrono::TimeDelta;

    use super::*;

    const START: Moment = Moment::from_millis(1_788_000_000_000);

    fn phone(last: u32) -> Phone {
        Phone::parse(&format!("+1312555{last:04}")).unwrap()
    }

    fn message(to: u32, body: &str) -> Outgoing {
        Outgoing { from: phone(100), to: phone(to), body: body.to_owned(), valid_for: None }
    }

    fn carrier(settings: SimulatedSettings) -> (SimulatedCarrier, Clock) {
        let clock = Clock::manual(START);
        (SimulatedCarrier::new(clock.clone(), settings), clock)
    }

    #[tokio::test]
    async fn a_text_is_kept_shown_and_found() {
        let (carrier, clock) = carrier(SimulatedSettings::default());
        let mut texts = carrier.subscribe();
        let mut reports = carrier.subscribe_reports();
        let check = message(123, "Helmet check");
        let accepted = carrier.send(&check).await.unwrap();
        clock.advance(TimeDelta::minutes(5));
        let nudge = carrier.send(&message(123, "Still there?")).await.unwrap();
        assert_ne!(accepted, nudge);

        let seen = texts.try_recv().unwrap();
        assert_eq!((seen.carrier_id, seen.at, seen.body), (accepted.carrier_id.clone(), START, "Helmet check".into()));
        assert_eq!(reports.try_recv().unwrap().carrier_id, accepted.carrier_id);
        let found = carrier.look(&check, START).await.unwrap();
        assert_eq!(found.iter().map(|one| one.carries(&check)).collect::<Vec<_>>(), [false, true]);
        let later = carrier.look(&check, START.plus(TimeDelta::minutes(1))).await.unwrap();
        assert_eq!(later.len(), 1);
        assert_eq!(carrier.look(&message(124, ""), START).await.unwrap(), []);
    }

    #[tokio::test]
    async fn numbers_are_refused_as_told() {
        let (carrier, _) = carrier(SimulatedSettings::default());
        carrier.refuse(&phone(123), NumberTrouble::NotMobile);
        let refused = carrier.send(&message(123, "x")).await.unwrap_err();
        assert!(matches!(refused, Refused::Number { code: 21614, trouble: NumberTrouble::NotMobile, .. }));
        assert_eq!(carrier.texts(), []);
        carrier.allow(&phone(123));
        carrier.send(&message(123, "x")).await.unwrap();

        carrier.refuse(&phone(124), NumberTrouble::Unreachable);
        let taken = carrier.send(&message(124, "x")).await.unwrap();
        let report = carrier.reports().pop().unwrap();
        assert_eq!((report.carrier_id, report.error_code), (taken.carrier_id, Some(30003)));
        assert_eq!(report.status, DeliveryStatus::Failed);
    }

    #[tokio::test]
    async fn a_carrier_that_does_not_intervene_leaves_stop_to_the_program() {
        let (carrier, _) = carrier(SimulatedSettings::default());
        carrier.send(&message(123, "before")).await.unwrap();
        let stop = carrier.write(&phone(123), &phone(100), " Stop ", Vec::new());
        assert_eq!((stop.opt_out_type, stop.body.as_str()), (None, " Stop "));
        carrier.send(&message(123, "after")).await.unwrap();
        carrier.send(&message(124, "somebody else")).await.unwrap();
        let after: Vec<_> = carrier.texts_after_stop().into_iter().map(|text| text.body).collect();
        assert_eq!(after, ["after"]);
        let _ = carrier.write(&phone(123), &phone(100), "START", Vec::new());
        assert_eq!(carrier.texts_after_stop(), []);
    }

    #[tokio::test]
    async fn a_carrier_that_intervenes_answers_and_refuses() {
        let settings = SimulatedSettings { intervenes: true, ..SimulatedSettings::default() };
        let (carrier, _) = carrier(settings);
        let stop = carrier.write(&phone(123), &phone(100), "STOP", Vec::new());
        assert_eq!(stop.opt_out_type, Some(OptOut::Stop));
        assert_eq!(carrier.texts_of(&phone(123)).len(), 2, "the word and the carrier's answer");
        let refused = carrier.send(&message(123, "x")).await.unwrap_err();
        assert!(matches!(refused, Refused::Number { code: 21610, trouble: NumberTrouble::OptedOut, .. }));
        let yes = carrier.write(&phone(123), &phone(100), "yes", Vec::new());
        assert_eq!(yes.opt_out_type, Some(OptOut::Start));
        carrier.send(&message(123, "x")).await.unwrap();
        let ok = carrier.write(&phone(123), &phone(100), "ok", Vec::new());
        assert_eq!(ok.opt_out_type, None);
    }

    /// Sends each message of a crowd until it is taken, looking first when in doubt; what each attempt came to.
    async fn morning(carrier: &SimulatedCarrier, order: impl Iterator<Item = u32>) -> HashMap<u32, Vec<String>> {
        let mut story = HashMap::new();
        for to in order {
            let message = message(to, "Helmet check");
            let mut attempts: Vec<String> = Vec::new();
            loop {
                let result = carrier.send(&message).await;
                attempts.push(result.as_ref().map_or_else(ToString::to_string, |_| "taken".to_owned()));
                match result {
                    Ok(_) => break,
                    Err(Refused::Retry { .. }) => {}
                    Err(_) => {
                        let found = loop {
                            if let Ok(found) = carrier.look(&message, START).await {
                                break found;
                            }
                        };
                        if found.iter().any(|one| one.carries(&message)) {
                            break;
                        }
                    }
                }
            }
            story.insert(to, attempts);
        }
        story
    }

    #[tokio::test]
    async fn faults_follow_the_seed_and_not_the_order_of_calls() {
        let faults = Faults { busy: 0.2, lost: 0.2, unanswered: 0.2 };
        let settings = |seed| SimulatedSettings { seed, faults, intervenes: false };
        let (first, _) = carrier(settings(7));
        let (second, _) = carrier(settings(7));
        let (other, _) = carrier(settings(8));
        let story = morning(&first, 100..200).await;
        assert_eq!(story, morning(&second, (100..200).rev()).await);
        assert_ne!(story, morning(&other, 100..200).await);

        let told: Vec<&String> = story.values().flatten().collect();
        for word in ["too many", "server error", "no answer", "taken"] {
            let count = told.iter().filter(|attempt| attempt.contains(word)).count();
            assert!(count > 10, "{word}: {count} of {}", told.len());
        }
        assert_eq!(first.texts().len(), 100, "everybody once, for those who look before sending again");
    }
}
