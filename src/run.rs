//! The loops of a running program: one does what is due, one hands over what is queued; and the chat's own.
//!
//! Each wakes when it is told to and looks for itself at least every few seconds: the wake-up shortens the wait, looking
//! stays the truth, since another process may have queued something.

use std::future::Future;

use chrono::TimeDelta;
use tokio::sync::watch;

use crate::desk::Desk;
use crate::desk::chat::ChatDesk;
use crate::trade::time::Moment;

/// Nothing waits longer than this for a look, in the clock's own time.
const LOOK_AT_LEAST: TimeDelta = TimeDelta::seconds(5);

/// A post shows what changed elsewhere within this: another process may have changed it.
const CHAT_LOOK_AT_LEAST: TimeDelta = TimeDelta::seconds(1);

/// Runs the schedule and the sender until `stop` turns true; both finish what they have in hand.
pub async fn run(desk: &Desk, stop: watch::Receiver<bool>) {
    tokio::join!(schedule(desk, stop.clone()), send(desk, stop));
}

/// Runs the chat until `stop` turns true: posts what changed, and listens for every bot. It has loops of its own, so that
/// the platform being slow or down delays nothing else.
pub async fn chat(chat: &ChatDesk, stop: watch::Receiver<bool>) {
    let listening = chat.bots().iter().map(|bot| chat.listen(bot, stop.clone()));
    tokio::join!(posts(chat, stop.clone()), futures::future::join_all(listening));
}

/// Sends e-mail until `stop` turns true.
pub async fn mail(desk: &Desk, post: &dyn crate::desk::mail::Post, mut stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        let now = desk.clock().now();
        match desk.send_mail_due(post, now).await {
            Ok(report) => {
                metrics::counter!("browline_mail_sent_total").increment(report.sent as u64);
                metrics::counter!("browline_mail_again_total").increment(report.again as u64);
                metrics::counter!("browline_mail_failed_total").increment(report.failed as u64);
            }
            Err(error) => tracing::error!(%error, "e-mail could not be sent; it is tried again"),
        }
        let most = desk.clock().now().max(now).plus(LOOK_AT_LEAST);
        let next = desk.next_mail().await.ok().flatten().unwrap_or(most).min(most);
        let next = next.max(desk.clock().now().plus(TimeDelta::milliseconds(500)));
        tokio::select! {
            () = desk.clock().sleep_until(next) => {}
            _ = stop.changed() => {}
        }
    }
}

async fn posts(chat: &ChatDesk, mut stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        let now = chat.desk().clock().now();
        if let Err(error) = chat.sync(now).await {
            tracing::error!(%error, "the posts could not be brought up to date; it is tried again");
        }
        match chat.post_due(now).await {
            Ok(report) => count_posts(&report),
            Err(error) => tracing::error!(%error, "posting failed; it is tried again"),
        }
        let clock = chat.desk().clock();
        let most = clock.now().max(now).plus(CHAT_LOOK_AT_LEAST);
        let next = chat.next_due().await.ok().flatten().unwrap_or(most).min(most);
        let next = next.max(clock.now().plus(TimeDelta::milliseconds(50)));
        tokio::select! {
            () = clock.sleep_until(next) => {}
            () = chat.desk().chat_woken() => {}
            _ = stop.changed() => {}
        }
    }
}

fn count_posts(report: &crate::desk::chat::outcome::ChatReport) {
    metrics::counter!("browline_chat_made_total").increment(report.made as u64);
    metrics::counter!("browline_chat_changed_total").increment(report.changed as u64);
    metrics::counter!("browline_chat_again_total").increment(report.again as u64);
    metrics::counter!("browline_chat_failed_total").increment(report.failed as u64);
}

async fn schedule(desk: &Desk, stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        let now = desk.clock().now();
        if let Err(error) = desk.tick(now).await {
            tracing::error!(%error, "the schedule could not run; it is tried again");
        }
        wait(desk, &stop, now, std::future::pending()).await;
    }
}

async fn send(desk: &Desk, stop: watch::Receiver<bool>) {
    while !*stop.borrow() {
        let now = desk.clock().now();
        match desk.send_due(now).await {
            Ok(report) => count(&report),
            Err(error) => tracing::error!(%error, "sending failed; it is tried again"),
        }
        wait(desk, &stop, now, desk.woken()).await;
    }
}

fn count(report: &crate::desk::outbox::SendReport) {
    metrics::counter!("browline_sent_total").increment(report.sent as u64);
    metrics::counter!("browline_send_again_total").increment(report.again as u64);
    metrics::counter!("browline_send_failed_total").increment(report.failed as u64);
    metrics::counter!("browline_send_found_total").increment(report.found as u64);
}

async fn wait(desk: &Desk, stop: &watch::Receiver<bool>, since: Moment, woken: impl Future<Output = ()>) {
    let mut stop = stop.clone();
    let most = desk.clock().now().max(since).plus(LOOK_AT_LEAST);
    let next = desk.next_due(since).await.ok().flatten().unwrap_or(most).min(most);
    // What is due already but could not be done is not tried again in a tight circle.
    let next = next.max(desk.clock().now().plus(TimeDelta::milliseconds(50)));
    tokio::select! {
        () = desk.clock().sleep_until(next) => {}
        () = woken => {}
        _ = stop.changed() => {}
    }
}
