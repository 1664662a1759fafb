//! `browline plan`: which helmets go to the shop when, and what retires.

use std::path::Path;

use anyhow::Result;

use super::{Ended, open};
use crate::clock::Clock;

/// What `plan` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Program, when there are several.
    #[arg(long, value_name = "KEY")]
    program: Option<String>,
    /// The whole view as JSON.
    #[arg(long)]
    json: bool,
}

/// Prints the plan.
///
/// # Errors
/// When the configuration or the store cannot be used.
pub fn run(path: &Path, args: &Args) -> Result<Ended> {
    let config = open::config(path)?;
    let program = open::program(&config, args.program.as_deref())?;
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::system()).await?;
        let view = desk.board_helmets(&program, desk.clock().now()).await?;
        desk.store().close().await;
        if args.json {
            println!("{}", serde_json::to_string_pretty(&view)?);
            return Ok(Ended::Well);
        }
        match (&view.plan, &view.ship_by) {
            (Some(lines), Some(by)) => {
                println!("Last day to leave and be back in time: {by}");
                for line in lines {
                    println!("{line}");
                }
            }
            _ => println!(
                "No plan: set first_practice under [programs.{program}.reconditioning], the first practice of the next season."
            ),
        }
        for row in view.retirements.iter().filter(|row| !row.tags.is_empty()) {
            println!("Too old for {}: {}", row.season, row.tags.join(", "));
            for size in row.sizes.iter().filter(|size| size.replace > 0) {
                let name = if size.size.is_empty() { "unknown" } else { &size.size };
                println!("  replace {} of size {name}: {} athletes, {} helmets", size.replace, size.needed, size.serve);
            }
        }
        Ok(Ended::Well)
    })
}
