//! Direct messages: the morning check with its buttons, and what athletes answer, by button or in words. The same reader,
//! the same decisions and queues as for a text; only the answer takes another way.
//!
//! A check in chat stands for the text of the same check. The text stays queued, a few minutes later, and is dropped when
//! the platform has the message: chat that is down costs minutes, never the check. Care for a body complaint is texted
//! as well, since nobody knows whether the chat is being looked at.

use std::collections::BTreeSet;

use chrono::{NaiveDate, TimeDelta};

use super::hear::{Answer, who_are_you};
use super::{Bot, ChatDesk, plan, tag};
use crate::channel::chat::press::Press;
use crate::channel::chat::{Control, Interaction, Post, Style, Written, plain};
use crate::config::Program;
use crate::desk::inbound::{athlete, report, rights};
use crate::desk::scene::Scene;
use crate::desk::{DeskError, load};
use crate::reading::{Kind, Reading, read};
use crate::store::chat::{ChatLink, ChatPost, PersonKind, PostKind};
use crate::store::rows::{InMessage, OutMessage, Purpose};
use crate::trade::flag::Control as Said;
use crate::trade::queue::Queue;
use crate::trade::roster::{Athlete, AthleteId, Language};
use crate::trade::time::Moment;
use crate::wording::Attempt;
use crate::wording::chat::{Say, point, say};

/// How long the text of a check waits for the chat.
pub const TEXT_WAITS: TimeDelta = TimeDelta::minutes(5);
/// The text goes out at least this long before it would be too late.
const IN_TIME: TimeDelta = TimeDelta::minutes(1);

/// Asks an athlete who has linked an account there: the queued text with this key waits, and a direct message stands for
/// it.
pub fn ask(scene: &mut Scene<'_>, person: &Athlete, date: NaiveDate, key: &str, until: Moment) {
    let Some(user) = scene.chat_accounts.get(&person.id).cloned() else { return };
    let Some(text) = scene.out.iter_mut().find(|message| message.id == key) else { return };
    let (due_at, body) = (text.due_at, text.body.clone());
    text.due_at = due_at.plus(TEXT_WAITS).min(until.minus(IN_TIME)).max(due_at);
    let id = format!("direct/{key}");
    let program = scene.program.id.clone();
    let post = check_post(&body, person.language, &tag(&program, &id));
    let row = ChatPost {
        chat_user: Some(user),
        athlete: Some(person.id.clone()),
        date: Some(date),
        stands_for: Some(key.to_owned()),
        due_at,
        send_by: Some(until),
        ..plan::new(&program, PostKind::Direct, &id, &post, scene.now)
    };
    scene.posts.push(row);
}

/// The check with a button for each point.
#[must_use]
pub fn check_post(text: &str, language: Language, tag: &str) -> Post {
    let button = |press: Press, label: String, style| Control::Button { id: press.id(), label, style };
    let number = |n: u8| button(Press::Point(tag.to_owned(), n), point(n, language), Style::Secondary);
    let good = button(Press::AllGood(tag.to_owned()), say(Say::AllGood, language).to_owned(), Style::Primary);
    Post { text: plain(text), rows: vec![(1..=5).map(number).collect(), vec![number(6), number(7), good]] }
}

impl ChatDesk {
    /// A button under a check: a point that is off, or "all good".
    pub(super) async fn pressed_point(
        &self,
        program: &Program,
        link: &ChatLink,
        interaction: &Interaction,
        tag: &str,
        pressed: Option<u8>,
        now: Moment,
    ) -> Result<Answer, DeskError> {
        let language = super::hear::language(program);
        let mut tx = self.desk.store().read().await?;
        let post = tx.chat_tagged(&program.id, tag).await?;
        let asked = post.and_then(|post| Some((post.athlete?, post.date?)));
        let Some((athlete, date)) =
            asked.filter(|(id, _)| link.kind == PersonKind::Athlete && id.as_str() == link.person)
        else {
            return Ok(Answer::follow_up(Say::NotYours, language));
        };
        if pressed.is_none() {
            // "All good" said of another day is not said of today.
            let newest = tx.checks_of(&program.id, [&athlete], date).await?.pop();
            if newest.is_some_and(|check| check.date != date) || now.date(program.zone) != date {
                return Ok(Answer::follow_up(Say::OldCheck, language));
            }
        }
        drop(tx);
        let body = pressed.map_or_else(|| "all good".to_owned(), |number| number.to_string());
        let written =
            Written { id: interaction.id.clone(), user: interaction.user.clone(), text: body, photos: Vec::new() };
        self.answered(program, link, &athlete, &written, now).await?;
        Ok(Answer::Nothing)
    }

    /// Something written to the bot.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn written(&self, bot: &Bot, written: &Written, now: Moment) -> Result<(), DeskError> {
        let Some((program, link)) = self.whose(bot, None, &written.user, None).await? else { return Ok(()) };
        // A second delivery, perhaps of what ended the link.
        let id = format!("chat/{}", written.id);
        if !self.desk.store().read().await?.inbox_known(&program.id, &[&id]).await?.is_empty() {
            return Ok(());
        }
        match link {
            Some(link) if link.kind == PersonKind::Athlete => {
                let athlete = AthleteId(link.person.clone());
                self.answered(program, &link, &athlete, written, now).await
            }
            Some(_) => {
                let text = say(Say::UseTexts, super::hear::language(program)).to_owned();
                self.say_once(program, &written.user, &format!("direct/staff/{}", written.id), text, now).await
            }
            None => self.stranger(program, written, now).await,
        }
    }

    async fn say_once(
        &self,
        program: &Program,
        user: &str,
        id: &str,
        text: String,
        now: Moment,
    ) -> Result<(), DeskError> {
        let mut tx = self.desk.store().write().await?;
        tx.insert(&[direct(program, id, user, &Post::of(text), now)]).await?;
        tx.commit().await?;
        Ok(())
    }

    /// An account that nobody is known by gets one polite answer; a body complaint goes to the trainer all the same.
    async fn stranger(&self, program: &Program, written: &Written, now: Moment) -> Result<(), DeskError> {
        let id = format!("direct/unknown/{}", written.user);
        let reading = read(&written.text);
        let mut tx = self.desk.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.desk.wording(program), now).await?;
        let post = direct(program, &id, &written.user, &Post::of(who_are_you(program)), now);
        scene.posts.push(post);
        let key = format!("chat/{}", written.id);
        let happened = !tx.happened(&program.id, &[&key]).await?.is_empty();
        if (!reading.flags.body().is_empty() || reading.red_flag) && !happened {
            let subject = format!("chat-{}", written.user);
            let known = tx
                .items_keyed(&program.id, &[&crate::desk::scene::item_key(Queue::Medical, &subject, scene.today)])
                .await?;
            scene.items.load(known.into_iter().map(|item| (item.id.clone(), item)));
            let mut item = scene.item(Queue::Medical, &subject, None);
            item.about = Some("a chat account that is not linked".to_owned());
            item.flags = item.flags.union(reading.flags.body());
            item.red_flag |= reading.red_flag;
            item.replies.push(written.text.replace('\0', "\u{fffd}"));
            item.alerts = item.alerts.max(1);
            let item_id = item.id.clone();
            scene.items.put(item_id.clone(), item);
            report::alert(&mut scene, &item_id, Attempt::First, &key);
            scene.note("chat account", "body report", &item_id, "", Some(&key));
            scene.happenings.push(crate::store::rows::Happening {
                program: program.id.clone(),
                id: key,
                at: now,
                outcome: "done".to_owned(),
            });
        }
        self.desk.finish(tx, scene).await
    }

    /// An athlete's answer in chat, stored and acted on as a text would be.
    async fn answered(
        &self,
        program: &Program,
        link: &ChatLink,
        athlete: &AthleteId,
        written: &Written,
        now: Moment,
    ) -> Result<(), DeskError> {
        let mut tx = self.desk.store().write().await?;
        let mut scene = load::begin(&mut tx, program, self.desk.wording(program), now).await?;
        let id = format!("chat/{}", written.id);
        if !tx.inbox_known(&program.id, &[&id]).await?.is_empty() {
            return Ok(());
        }
        load::about(&mut tx, &mut scene, &[], BTreeSet::from([athlete.clone()])).await?;
        let Some(person) = scene.athletes.get(athlete).filter(|person| person.active).cloned() else {
            let post = direct(program, &format!("direct/{id}"), &written.user, &Post::of(who_are_you(program)), now);
            scene.posts.push(post);
            return self.desk.finish(tx, scene).await;
        };
        let phone = person.phone.clone().unwrap_or_else(|| link.phone.clone());
        load::senders(&mut tx, &mut scene, &BTreeSet::from([phone.clone()])).await?;
        let body = written.text.replace('\0', "\u{fffd}");
        let reading = read(&body);
        let message = InMessage {
            program: program.id.clone(),
            id,
            phone,
            body,
            photos: written.photos.clone(),
            carrier_answered: None,
            received_at: now,
            handled: true,
            athletes: vec![athlete.clone()],
            reading: None,
        };
        if reading.control == Some(Said::Stop) {
            let ended = ChatLink { ended_at: Some(now), ..link.clone() };
            tx.put(&[ended]).await?;
        }
        heard(&mut scene, message, &reading, athlete, &written.user);
        self.desk.finish(tx, scene).await
    }
}

/// Draws the consequences of an athlete's answer in chat. What they are told goes to the chat.
pub fn heard(scene: &mut Scene<'_>, mut message: InMessage, reading: &Reading, athlete: &AthleteId, user: &str) {
    scene.note("chat account", "heard", athlete.as_str(), "", Some(&message.id));
    let number = scene.number(&message.phone);
    if number.is_stopped() {
        // Nothing goes to the number; what is said here goes to the chat, and must not be dropped for its sake.
        let open = crate::store::rows::Number { opted_out_at: None, wrong_at: None, ..number.clone() };
        scene.numbers.load([(message.phone.clone(), open)]);
    }
    let before = scene.out.len();
    let reading = in_chat(reading);
    if !rights::handle(scene, &mut message, &reading, None, std::slice::from_ref(athlete)) {
        athlete::handle_known(scene, &mut message, &reading, athlete);
    }
    let stopped = number.is_stopped();
    if stopped {
        restore(scene, &number);
    }
    let said = scene.out.split_off(before);
    for text in said {
        let own =
            text.phone == message.phone && (text.athlete.as_ref() == Some(athlete) || text.purpose == Purpose::Rights);
        if !own {
            scene.out.push(text);
            continue;
        }
        scene.posts.push(in_chat_of(scene.program, &text, user, scene.now));
        if text.purpose == Purpose::Medical && !stopped {
            scene.out.push(text);
        }
    }
    scene.heard.push(message);
}

/// What is read of an answer in chat: an account is never a wrong number, and only the number itself opts in again.
fn in_chat(reading: &Reading) -> Reading {
    let mut reading = reading.clone();
    match reading.control {
        Some(Said::WrongNumber) => {
            reading.control = None;
            if reading.kind == Kind::Control {
                reading.kind = Kind::Unclear;
            }
        }
        Some(Said::Start) => reading.control = Some(Said::Help),
        _ => {}
    }
    reading
}

/// What was said of the number before stands, whatever else was learned of it.
fn restore(scene: &mut Scene<'_>, before: &crate::store::rows::Number) {
    let after = scene.number(&before.phone);
    let restored = crate::store::rows::Number {
        opted_out_at: before.opted_out_at.or(after.opted_out_at),
        wrong_at: before.wrong_at.or(after.wrong_at),
        ..after
    };
    scene.numbers.put(before.phone.clone(), restored);
}

fn in_chat_of(program: &Program, text: &OutMessage, user: &str, now: Moment) -> ChatPost {
    direct(program, &format!("direct/{}", text.id), user, &Post::of(plain(&text.body)), now)
}

fn direct(program: &Program, id: &str, user: &str, post: &Post, now: Moment) -> ChatPost {
    ChatPost { chat_user: Some(user.to_owned()), ..plan::new(&program.id, PostKind::Direct, id, post, now) }
}
