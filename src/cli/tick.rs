//! `browline tick`: what is due at one moment, for people who run cron.

use std::path::Path;
use std::sync::Arc;

use anyhow::Result;

use super::{Ended, open};
use crate::channel::Channel;
use crate::clock::Clock;
use crate::desk::Desk;
use crate::trade::time::Moment;

/// What `tick` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Moment: RFC 3339, or `now`.
    #[arg(long, value_parser = open::moment, value_name = "TIME")]
    at: Moment,
    /// Queue what is due, and send nothing.
    #[arg(long)]
    no_send: bool,
    /// Send for at most this many seconds, at the carrier's pace; the next tick goes on.
    #[arg(long, default_value_t = 50, value_name = "SECONDS")]
    send_for: u32,
}

/// Does what is due.
///
/// # Errors
/// When the configuration, the carrier's credentials or the store cannot be used.
pub fn run(path: &Path, args: Args) -> Result<Ended> {
    let config = open::config(path)?;
    open::runtime()?.block_on(async {
        let carrier: Option<Arc<dyn Channel>> =
            if args.no_send { None } else { Some(Arc::new(open::carrier(&config)?)) };
        // The clock goes on from the moment named, at the speed of life.
        let clock = Clock::practice(args.at, 1.0);
        let desk = match carrier {
            Some(carrier) => open::desk(config, clock.clone(), carrier).await?,
            None => open::desk_without_carrier(config, clock.clone()).await?,
        };
        let report = desk.tick(args.at).await?;
        for key in &report.done {
            println!("done {key}");
        }
        for key in &report.missed {
            println!("missed {key}");
        }
        if report.too_late > 0 {
            println!("{} texts not sent: too late for them", report.too_late);
        }
        let until = args.at.plus(chrono::TimeDelta::seconds(i64::from(args.send_for)));
        let sent = if args.no_send { 0 } else { send_until(&desk, until).await? };
        if !args.no_send {
            println!("{sent} texts sent");
        }
        desk.store().close().await;
        Ok(if report.missed.is_empty() { Ended::Well } else { Ended::WithProblems })
    })
}

/// Sends what is queued, at the carrier's pace, until nothing more may go before a moment.
async fn send_until(desk: &Desk, until: Moment) -> Result<usize> {
    let mut sent = 0;
    loop {
        let report = desk.send_due(desk.clock().now()).await?;
        sent += report.sent + report.found;
        let mut next: Option<Moment> = None;
        for program in desk.config().programs.keys() {
            let mut tx = desk.store().read().await?;
            if let Some(due) = tx.outbox_next(program).await? {
                let pace = tx.sender(program).await?.map_or(due, |sender| sender.next_free_at);
                next = Some(next.map_or(due.max(pace), |other| other.min(due.max(pace))));
            }
        }
        match next {
            Some(next) if next <= until => desk.clock().sleep_until(next).await,
            _ => return Ok(sent),
        }
    }
}
