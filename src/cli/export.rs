//! `browline export`: what the program has learned, for use elsewhere.

use std::io::Write as _;
use std::path::Path;

use anyhow::{Context as _, Result};
use clap::Subcommand;

use super::{Ended, open};
use crate::clock::Clock;
use crate::reading::score::Labelled;
use crate::store::rows::Interpretation;
use crate::trade::flag::Flags;

/// What `export` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Replies that could not be read, with what staff say they meant, one JSON object a line: what `browline read
    /// --score` takes. No names and no numbers, but the athletes' own words: handle them as you handle the replies.
    #[command(
        after_help = "Example:\n  browline export replies > replies.jsonl && browline read --score replies.jsonl"
    )]
    Replies {
        /// Program, when there are several.
        #[arg(long, value_name = "KEY")]
        program: Option<String>,
    },
    /// The order list of all kits as CSV: what to order now, and what is on its way.
    #[command(after_help = "Example:\n  browline export orders > orders.csv")]
    Orders {
        /// Program, when there are several.
        #[arg(long, value_name = "KEY")]
        program: Option<String>,
    },
}

/// Exports.
///
/// # Errors
/// When the configuration or the store cannot be used, or the output cannot be written.
pub fn run(path: &Path, args: Args) -> Result<Ended> {
    let (What::Replies { program } | What::Orders { program }) = &args.what;
    let config = open::config(path)?;
    let program = open::program(&config, program.as_deref())?;
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::system()).await?;
        if matches!(args.what, What::Orders { .. }) {
            let view = desk.orders(&program, desk.clock().now()).await?;
            print!("{}", crate::desk::kits::say::orders_csv(&view.orders)?);
            desk.store().close().await;
            return Ok(Ended::Well);
        }
        let mut tx = desk.store().read().await?;
        let known = tx.interpretations(&program).await?;
        drop(tx);
        let mut out = std::io::BufWriter::new(std::io::stdout().lock());
        for line in &known {
            writeln!(out, "{}", serde_json::to_string(&labelled(line))?).context("standard output")?;
        }
        out.flush().context("standard output")?;
        drop(out);
        desk.store().close().await;
        Ok(Ended::Well)
    })
}

/// An interpretation as a labelled reply.
fn labelled(known: &Interpretation) -> Labelled {
    Labelled {
        text: known.text.clone(),
        lang: known.lang,
        reading: known.reading,
        flags: known.flags,
        also_ok: Flags::NONE,
        control: None,
        why: "said by staff".to_owned(),
    }
}
