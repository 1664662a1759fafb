//! `browline today`: the fix list, who has not answered, who is held.

use std::path::Path;

use anyhow::{Result, bail};

use super::{Ended, open};
use crate::clock::Clock;
use crate::trade::roster::TeamId;
use crate::trade::time::Moment;

/// What `today` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// One team alone.
    #[arg(long, value_name = "KEY")]
    team: Option<String>,
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

/// Prints today.
///
/// # Errors
/// When the configuration or the store cannot be used, or the team does not exist.
pub fn run(path: &Path, args: Args) -> Result<Ended> {
    let config = open::config(path)?;
    let program = open::program(&config, args.program.as_deref())?;
    let team = args.team.map(TeamId);
    if let Some(team) = &team {
        let teams = config.programs.get(&program).map(|program| &program.teams);
        if teams.is_some_and(|teams| !teams.contains_key(team)) {
            let keys: Vec<&str> = teams.into_iter().flatten().map(|(key, _)| key.as_str()).collect();
            bail!("no team `{team}`; there is: {}", keys.join(", "));
        }
    }
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::manual(args.at)).await?;
        let today = desk.today(&program, team.as_ref(), args.at).await?;
        if args.json {
            println!("{}", serde_json::to_string_pretty(&today)?);
        } else {
            println!("{today}");
        }
        desk.store().close().await;
        Ok(Ended::Well)
    })
}
