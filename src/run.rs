//! The two loops of a running program: one does what is due, one hands over what is queued.
//!
//! Each wakes when it is told to and looks for itself at least every few seconds: the wake-up shortens the wait, looking
//! stays the truth, since another process may have queued something.

use std::future::Future;

use chrono::TimeDelta;
use tokio::sync::watch;

use crate::desk::Desk;
use crate::trade::time::Moment;

/// Nothing waits longer than this for a look, in the clock's own time.
const LOOK_AT_LEAST: TimeDelta = TimeDelta::seconds(5);

/// Runs the schedule and the sender until `stop` turns true; both finish what they have in hand.
pub async fn run(desk: &Desk, stop: watch::Receiver<bool>) {
    tokio::join!(schedule(desk, stop.clone()), send(desk, stop));
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
