//! `browline due`: all that is coming, of every kind.

use std::path::Path;

use anyhow::Result;
use chrono::TimeDelta;

use super::{Ended, open};
use crate::clock::Clock;
use crate::trade::coming::{Coming, On};
use crate::trade::time::Moment;

/// What `due` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// How many days ahead to look.
    #[arg(long, default_value_t = 30, value_parser = clap::value_parser!(i64).range(0..=800))]
    days: i64,
    /// Program, when there are several.
    #[arg(long, value_name = "KEY")]
    program: Option<String>,
    /// As JSON.
    #[arg(long)]
    json: bool,
    /// Moment to look from.
    #[arg(long, default_value = "now", value_parser = open::moment, value_name = "TIME")]
    at: Moment,
}

/// Prints what is coming.
///
/// # Errors
/// When the configuration or the store cannot be used.
pub fn run(path: &Path, args: Args) -> Result<Ended> {
    let config = open::config(path)?;
    let program = open::program(&config, args.program.as_deref())?;
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::manual(args.at)).await?;
        let zone = desk.program(&program)?.zone;
        let today = args.at.date(zone);
        let coming = desk.coming(&program, today, today + TimeDelta::days(args.days), args.at).await?;
        if args.json {
            println!("{}", serde_json::to_string_pretty(&coming)?);
        } else if coming.is_empty() {
            println!("nothing within {} days", args.days);
        }
        if !args.json {
            coming.iter().for_each(|coming| println!("{}", line(coming, zone)));
        }
        desk.store().close().await;
        Ok(Ended::Well)
    })
}

fn line(coming: &Coming, zone: chrono_tz::Tz) -> String {
    let day = coming.on.day(zone).format("%a %b %e");
    let time = match coming.on {
        On::Day(_) => String::new(),
        On::At(at, _) => at.local(zone).format("%-I:%M %P").to_string(),
    };
    let place = coming.place.as_ref().map(|place| format!(", {place}")).unwrap_or_default();
    let what = if coming.what.is_empty() { String::new() } else { format!(": {}", coming.what.replace('\n', " ")) };
    format!("{day} {time:>8}  {:<9}  {}{place}{what}", coming.area.name(), coming.title)
}
