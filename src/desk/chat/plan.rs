//! Which posts are to change: the difference between what items look like and what stands, or is to stand, on the
//! platform. Pure.
//!
//! However an item changes (a text, a button, the board, the schedule), its rendered post changes, and that is seen here.

use std::collections::BTreeMap;

use super::{hex, render, tag};
use crate::channel::chat::Post;
use crate::config::Chat;
use crate::desk::scene::Scene;
use crate::store::chat::{ChatPost, PostKind, PostState};
use crate::trade::queue::Item;
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// The posts that have to be written anew, given those that may still change.
#[must_use]
pub fn changes(scene: &Scene<'_>, chat: &Chat, live: &[ChatPost]) -> Vec<ChatPost> {
    let rows: BTreeMap<&str, &ChatPost> =
        live.iter().filter(|row| row.kind == PostKind::Item).map(|row| (row.id.as_str(), row)).collect();
    scene.items.values().filter_map(|item| change(scene, chat, item, rows.get(item.id.as_str()).copied())).collect()
}

fn change(scene: &Scene<'_>, chat: &Chat, item: &Item, row: Option<&ChatPost>) -> Option<ChatPost> {
    let program = &scene.program.id;
    let channel = render::channel(chat, item.queue);
    let tag = tag(program, &item.id);
    let post = render::item(scene, chat, item, &tag);
    let body = post.wire();
    let hash = hash(&body);
    let Some(row) = row else {
        // What was done before anybody saw it needs no post.
        return item.is_open().then(|| ChatPost {
            channel: Some(channel.to_owned()),
            ..new(program, PostKind::Item, &item.id, &post, scene.now)
        });
    };
    let mut next = row.clone();
    if row.channel.as_deref() != Some(channel) {
        // The queue has another channel now: the post is made there.
        next.channel = Some(channel.to_owned());
        next.message_id = None;
        next.posted_hash = None;
        next.generation += 1;
    }
    next.hash = hash;
    next.body = body;
    let never_tried = row.message_id.is_none() && row.attempts == 0 && row.state == PostState::Due;
    if !item.is_open() && never_tried {
        next.state = PostState::Cancelled;
        next.live = false;
    } else if next.posted_hash.as_ref() != Some(&next.hash) {
        if matches!(row.state, PostState::Posted | PostState::Cancelled | PostState::Missed)
            || (row.state == PostState::Failed && next.hash != row.hash)
        {
            next.state = PostState::Due;
            next.due_at = scene.now;
            next.attempts = 0;
        }
    } else if !item.is_open() && row.state == PostState::Posted {
        next.live = false;
    }
    (next != *row).then_some(next)
}

/// A post that is wanted and stands nowhere yet.
#[must_use]
pub fn new(program: &ProgramId, kind: PostKind, id: &str, post: &Post, now: Moment) -> ChatPost {
    let body = post.wire();
    ChatPost {
        program: program.clone(),
        id: id.to_owned(),
        kind,
        channel: None,
        chat_user: None,
        athlete: None,
        date: None,
        tag: tag(program, id),
        generation: 0,
        hash: hash(&body),
        body,
        message_id: None,
        posted_hash: None,
        state: PostState::Due,
        live: true,
        stands_for: None,
        due_at: now,
        send_by: None,
        created_at: now,
        posted_at: None,
        attempts: 0,
        claimed_by: None,
        lease_until: None,
        error: None,
    }
}

fn hash(body: &serde_json::Value) -> String {
    hex(body.to_string().as_bytes(), 16)
}

/// What makes the platform drop a second post of the same: the key, and how often it was made anew.
#[must_use]
pub fn nonce(post: &ChatPost) -> String {
    hex(format!("{}\n{}\n{}", post.program, post.id, post.generation).as_bytes(), 12)
}
