//! How posts get to the platform: by lease and at its pace, changed in place, once as far as can be known.
//!
//! [`ChatDesk::sync`] writes the rows of posts that are to change; [`ChatDesk::post_due`] claims what may go, hands it over,
//! and notes what became of it. A row whose worker was lost is handed over again under the same nonce, which the platform
//! knows for some minutes. Whoever changes rows holds the program's row of `chat_state`, so that nothing here waits for, or
//! holds up, the program's lock; only a direct message that stands for a text takes both, in the order of all others.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::PoisonError;

use chrono::TimeDelta;
use futures::StreamExt as _;

use super::outcome::{ChatReport, Handed, LONGEST_WAIT, after, after_attempts, outcome, stand_in};
use super::{ChatDesk, plan, render};
use crate::channel::chat::ChatRefused;
use crate::channel::chat::rest::ChatRest;
use crate::config::{Chat, Program};
use crate::desk::scene::Scene;
use crate::desk::{DeskError, load};
use crate::store::chat::{ChatPost, PostKind, PostState};
use crate::store::rows::OutState;
use crate::store::{Result as Stored, Tx};
use crate::trade::phone::Phone;
use crate::trade::queue::Queue;
use crate::trade::roster::{AthleteId, ProgramId};
use crate::trade::time::Moment;

/// How long a worker may have a post before others take it to be lost.
pub const LEASE: TimeDelta = TimeDelta::seconds(60);
/// Posts claimed together.
const AT_ONCE: i64 = 50;
/// Channels posted to side by side.
const SIDE_BY_SIDE: usize = 8;
/// What has less of its lease left is not begun.
const HAND_OVER_TAKES: TimeDelta = TimeDelta::seconds(25);

impl ChatDesk {
    /// Writes the rows of posts that are to change. Returns how many.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn sync(&self, now: Moment) -> Result<usize, DeskError> {
        let mut changed = 0;
        for (program, chat) in self.places() {
            let mut tx = self.desk.store().read().await?;
            if self.changes(&mut tx, program, chat, now).await?.is_empty() {
                continue;
            }
            drop(tx);
            let mut tx = self.desk.store().write().await?;
            tx.lock_chat_state(&program.id).await?;
            let changes = self.changes(&mut tx, program, chat, now).await?;
            tx.put(&changes).await?;
            tx.commit().await?;
            changed += changes.len();
        }
        Ok(changed)
    }

    /// Hands over all that may go at this moment.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails; what was claimed comes free when its lease runs out.
    pub async fn post_due(&self, now: Moment) -> Result<ChatReport, DeskError> {
        let mut report = ChatReport::default();
        for (program, _) in self.places() {
            let Some(rest) = self.rest(&program.id) else { continue };
            loop {
                let now = self.desk.clock().now().max(now);
                let claimed = self.claim(program, now).await?;
                if claimed.is_empty() {
                    break;
                }
                let handed = self.hand_over(rest, claimed, now).await;
                self.note(program, handed, now, &mut report).await?;
            }
        }
        Ok(report)
    }

    /// When a post is next due, as far as the store knows.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn next_due(&self) -> Result<Option<Moment>, DeskError> {
        let mut next: Option<Moment> = None;
        for (program, _) in self.places() {
            let mut tx = self.desk.store().read().await?;
            let Some(at) = tx.chat_next(&program.id).await? else { continue };
            let free = tx.chat_state(&program.id).await?.map_or(at, |state| state.next_free_at);
            let at = at.max(free);
            next = Some(next.map_or(at, |other| other.min(at)));
        }
        Ok(next)
    }

    /// Programs with a place on the platform and a bot.
    pub(super) fn places(&self) -> impl Iterator<Item = (&Program, &Chat)> {
        self.bots
            .iter()
            .flat_map(|bot| &bot.programs)
            .filter_map(|id| self.desk.config().programs.get(id))
            .filter_map(|program| Some((program, program.chat.as_ref()?)))
    }

    async fn changes(&self, tx: &mut Tx, program: &Program, chat: &Chat, now: Moment) -> Stored<Vec<ChatPost>> {
        let mut scene = load::look(tx, program, self.desk.wording(program), now).await?;
        let live = tx.chat_live(&program.id).await?;
        shelf(tx, &mut scene, &live).await?;
        Ok(plan::changes(&scene, chat, &live))
    }

    async fn claim(&self, program: &Program, now: Moment) -> Result<Vec<ChatPost>, DeskError> {
        let mut tx = self.desk.store().read().await?;
        if !tx.chat_ready(&program.id, now).await? {
            return Ok(Vec::new());
        }
        drop(tx);
        let mut tx = self.desk.store().write().await?;
        let mut state = tx.lock_chat_state(&program.id).await?;
        if state.next_free_at > now {
            return Ok(Vec::new());
        }
        let most = if state.halted_at.is_some() { 1 } else { AT_ONCE };
        let mut claimed = tx.chat_due(&program.id, now, most).await?;
        if claimed.is_empty() {
            return Ok(Vec::new());
        }
        let spoken_for = asked_otherwise(&mut tx, &program.id, &claimed).await?;
        for post in &mut claimed {
            if spoken_for.contains(&post.id) {
                post.state = PostState::Cancelled;
                post.live = false;
                continue;
            }
            if post.send_by.is_some_and(|by| by < now) && post.message_id.is_none() {
                post.state = PostState::Missed;
                post.live = false;
                continue;
            }
            post.state = PostState::Claimed;
            post.claimed_by = Some(self.desk.core.worker.clone());
            post.lease_until = Some(now.plus(LEASE));
            post.attempts += 1;
        }
        if state.halted_at.is_some() {
            state.next_free_at = now.plus(LONGEST_WAIT);
            tx.put(&[state]).await?;
        }
        tx.put(&claimed).await?;
        tx.commit().await?;
        claimed.retain(|post| post.state == PostState::Claimed);
        Ok(claimed)
    }

    /// One after the other within a channel, channels side by side.
    async fn hand_over(&self, rest: &ChatRest, claimed: Vec<ChatPost>, now: Moment) -> Vec<(ChatPost, Handed)> {
        let mut places: BTreeMap<String, Vec<ChatPost>> = BTreeMap::new();
        for post in claimed {
            places.entry(place(&post)).or_default().push(post);
        }
        let last_begin = now.plus(LEASE - HAND_OVER_TAKES);
        let handed: Vec<Vec<(ChatPost, Handed)>> = futures::stream::iter(places.into_values())
            .map(|posts| self.hand_over_in_turn(rest, posts, last_begin))
            .buffer_unordered(SIDE_BY_SIDE)
            .collect()
            .await;
        handed.into_iter().flatten().collect()
    }

    async fn hand_over_in_turn(
        &self,
        rest: &ChatRest,
        posts: Vec<ChatPost>,
        last_begin: Moment,
    ) -> Vec<(ChatPost, Handed)> {
        let mut all = Vec::with_capacity(posts.len());
        let mut not_before: Option<Moment> = None;
        for post in posts {
            let now = self.desk.clock().now();
            let waits = not_before
                .or_else(|| self.waits_until(&post, now))
                .or((now > last_begin && !all.is_empty()).then_some(now));
            if let Some(until) = waits {
                all.push((post, Handed::NotBegun(until)));
                continue;
            }
            let handed = self.hand_over_one(rest, &post).await;
            let now = self.desk.clock().now();
            not_before = match &handed {
                Handed::Taken { taken, .. } => taken.pause.map(|pause| after(now, pause)),
                Handed::Refused(ChatRefused::Later { after: wait, .. }) => Some(after(now, *wait)),
                Handed::Refused(ChatRefused::Place { .. }) => Some(after_attempts(now, post.attempts)),
                // Down for one is down for the next.
                Handed::Refused(ChatRefused::Unreached { .. } | ChatRefused::Everything { .. }) => {
                    Some(after_attempts(now, post.attempts))
                }
                _ => None,
            };
            if let Some(until) = not_before {
                let mut waits = self.waits.lock().unwrap_or_else(PoisonError::into_inner);
                waits.insert(place(&post), until);
            }
            all.push((post, handed));
        }
        all
    }

    /// Until when a post's place takes nothing, as far as this process was told: what is wanted there meanwhile waits too.
    fn waits_until(&self, post: &ChatPost, now: Moment) -> Option<Moment> {
        let mut waits = self.waits.lock().unwrap_or_else(PoisonError::into_inner);
        waits.retain(|_, until| *until > now);
        waits.get(&place(post)).copied()
    }

    async fn hand_over_one(&self, rest: &ChatRest, post: &ChatPost) -> Handed {
        let channel = match self.channel_of(rest, post).await {
            Ok(channel) => channel,
            Err(refused) => return Handed::Refused(refused),
        };
        let result = match &post.message_id {
            Some(message) => rest.edit(&channel, message, &post.body).await,
            None => rest.create(&channel, &post.body, &plan::nonce(post)).await,
        };
        match result {
            Ok(taken) => Handed::Taken { taken, channel },
            Err(refused) => Handed::Refused(refused),
        }
    }

    async fn channel_of(&self, rest: &ChatRest, post: &ChatPost) -> Result<String, ChatRefused> {
        if let Some(channel) = &post.channel {
            return Ok(channel.clone());
        }
        let Some(user) = &post.chat_user else {
            return Err(ChatRefused::Request { code: 0, why: "a post without a place".to_owned() });
        };
        let known = self.direct.lock().unwrap_or_else(PoisonError::into_inner).get(user).cloned();
        if let Some(channel) = known {
            return Ok(channel);
        }
        let channel = rest.open_direct(user).await?;
        self.direct.lock().unwrap_or_else(PoisonError::into_inner).insert(user.clone(), channel.clone());
        Ok(channel)
    }

    async fn note(
        &self,
        program: &Program,
        handed: Vec<(ChatPost, Handed)>,
        now: Moment,
        report: &mut ChatReport,
    ) -> Result<(), DeskError> {
        let now = self.desk.clock().now().max(now);
        let ids: Vec<&str> = handed.iter().map(|(post, _)| post.id.as_str()).collect();
        let mut tx = self.desk.store().write().await?;
        // What stands for a text changes a check: the program's lock, before any other.
        if handed.iter().any(|(post, _)| post.stands_for.is_some()) {
            tx.lock_program(&program.id).await?;
        }
        let mut state = tx.lock_chat_state(&program.id).await?;
        let before = state.clone();
        let mut rows: BTreeMap<String, ChatPost> =
            tx.chat_locked(&program.id, &ids).await?.into_iter().map(|row| (row.id.clone(), row)).collect();
        let mut changed = Vec::new();
        for (claimed, handed) in handed {
            // A lease that was lost meanwhile is somebody else's to note.
            let ours = |row: &ChatPost| {
                row.state == PostState::Claimed && row.claimed_by.as_ref() == Some(&self.desk.core.worker)
            };
            let Some(mut row) = rows.remove(&claimed.id).filter(ours) else { continue };
            row.claimed_by = None;
            row.lease_until = None;
            outcome(&mut row, &claimed, &handed, &mut state, now, report);
            stand_in(&mut tx, &row, now).await?;
            if let Handed::Refused(ChatRefused::Place { .. }) = &handed
                && let Some(channel) = &row.channel
            {
                tx.chat_channel_waits(&program.id, channel, row.due_at).await?;
            }
            changed.push(row);
        }
        tx.put(&changed).await?;
        if state != before {
            tx.put(&[state]).await?;
        }
        tx.commit().await?;
        Ok(())
    }
}

/// Loads what posts are made of: open items, those whose posts may still change, and whom they are about.
async fn shelf(tx: &mut Tx, scene: &mut Scene<'_>, live: &[ChatPost]) -> Stored<()> {
    let program = &scene.program.id;
    let mut items = tx.items_open(program).await?;
    let open: BTreeSet<&str> = items.iter().map(|item| item.id.as_str()).collect();
    let others: Vec<&str> = live
        .iter()
        .filter(|post| post.kind == PostKind::Item && !open.contains(post.id.as_str()))
        .map(|post| post.id.as_str())
        .collect();
    let closed = tx.items_keyed(program, &others).await?;
    items.extend(closed);
    let mut about: BTreeSet<AthleteId> = items.iter().filter_map(|item| item.athlete.clone()).collect();
    let phones: BTreeSet<Phone> =
        items.iter().filter(|item| item.queue == Queue::Contact).filter_map(render::subject_phone).collect();
    for athlete in tx.athletes_at(program, &phones).await? {
        if let Some(phone) = athlete.phone.clone() {
            scene.at_phone.entry(phone).or_default().push(athlete.id.clone());
        }
        about.insert(athlete.id.clone());
    }
    let people = tx.athletes_named(program, &about).await?;
    let helmets = tx.helmets_of(program, &about).await?;
    let holds = tx.holds_of(program, &about).await?;
    scene.athletes.extend(people.into_iter().map(|athlete| (athlete.id.clone(), athlete)));
    scene.helmets.extend(helmets.into_iter().filter_map(|helmet| Some((helmet.athlete.clone()?, helmet))));
    scene.holds.load(holds.into_iter().map(|hold| (hold.id.clone(), hold)));
    scene.items.load(items.into_iter().map(|item| (item.id.clone(), item)));
    Ok(())
}

/// Direct messages whose text no longer waits: it was sent meanwhile, or nobody is to be asked any more.
async fn asked_otherwise(tx: &mut Tx, program: &ProgramId, posts: &[ChatPost]) -> Stored<BTreeSet<String>> {
    let texts: Vec<&str> = posts.iter().filter_map(|post| post.stands_for.as_deref()).collect();
    if texts.is_empty() {
        return Ok(BTreeSet::new());
    }
    let waiting: BTreeSet<String> = tx
        .outbox_keyed(program, &texts)
        .await?
        .into_iter()
        .filter(|text| text.state == OutState::Due)
        .map(|text| text.id)
        .collect();
    let gone = |post: &&ChatPost| post.stands_for.as_ref().is_some_and(|text| !waiting.contains(text));
    Ok(posts.iter().filter(gone).map(|post| post.id.clone()).collect())
}

/// The channel, or whom a direct message is for.
fn place(post: &ChatPost) -> String {
    post.channel.clone().or_else(|| post.chat_user.clone()).unwrap_or_default()
}
