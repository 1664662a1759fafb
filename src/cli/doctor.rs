//! `browline doctor`: what is missing or wrong, each with how to mend it.

use std::path::Path;

use anyhow::Result;

use super::{Ended, open};
use crate::clock::Clock;
use crate::desk::Desk;
use crate::desk::chat::ChatDesk;
use crate::desk::doctor::{Finding, Gravity, config as examine_config};
use crate::trade::time::Moment;

/// What `doctor` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Moment to look from.
    #[arg(long, default_value = "now", value_parser = open::moment, value_name = "TIME")]
    at: Moment,
    /// Ask the carrier and the chat platform whether the credentials are good; sends nothing.
    #[arg(long)]
    online: bool,
}

/// Examines everything. Ends with problems when something is broken.
///
/// # Errors
/// Never: what cannot be opened is a finding.
pub fn run(path: &Path, args: &Args) -> Result<Ended> {
    let mut found = Vec::new();
    match open::config(path) {
        Err(error) => found.push(broken(format!("{error:#}"), "mend the file; `browline init` writes a commented one")),
        Ok(config) => open::runtime()?.block_on(async {
            found.extend(examine_config(&config));
            if args.online {
                found.push(online(&config).await);
            }
            match open::desk_without_carrier(config, Clock::manual(args.at)).await {
                Err(error) => found.push(broken(format!("{error:#}"), "mend what it names")),
                Ok(desk) => {
                    found.push(fine(format!("database {} is open and up to date", address(&desk.config().database))));
                    found.push(fine("every text compiles and fits its segment budget".to_owned()));
                    if args.online {
                        found.extend(online_chat(&desk).await);
                    }
                    for program in desk.config().programs.values() {
                        match desk.examine(program, args.at).await {
                            Ok(more) => found.extend(more),
                            Err(error) => found.push(broken(error.to_string(), "see the database")),
                        }
                    }
                    desk.store().close().await;
                }
            }
        }),
    }
    Ok(print(&found))
}

async fn online(config: &crate::config::Config) -> Finding {
    let carrier = match open::carrier(config) {
        Ok(carrier) => carrier,
        Err(error) => return broken(format!("{error:#}"), "set them, then ask again"),
    };
    match carrier.ping().await {
        Ok(()) => fine("the carrier answers and takes the credentials".to_owned()),
        Err(error) => broken(format!("the carrier: {error}"), "mend what it names"),
    }
}

async fn online_chat(desk: &Desk) -> Vec<Finding> {
    match ChatDesk::open(desk) {
        Ok(Some(chat)) => chat.examine_online().await,
        Ok(None) => Vec::new(),
        Err(error) => vec![broken(error.to_string(), "mend chat.base_url")],
    }
}

fn broken(what: String, mend: &str) -> Finding {
    Finding { gravity: Gravity::Broken, what, mend: Some(mend.to_owned()) }
}

const fn fine(what: String) -> Finding {
    Finding { gravity: Gravity::Fine, what, mend: None }
}

/// A database address without the password in it.
fn address(url: &str) -> String {
    url::Url::parse(url).map_or_else(
        |_| url.to_owned(),
        |mut parsed| {
            if parsed.password().is_some() {
                let _ = parsed.set_password(Some("..."));
            }
            parsed.to_string()
        },
    )
}

fn print(found: &[Finding]) -> Ended {
    for finding in found {
        let mark = match finding.gravity {
            Gravity::Fine => "ok    ",
            Gravity::Watch => "watch ",
            Gravity::Broken => "BROKEN",
        };
        println!("{mark} {}", finding.what.replace('\n', "\n       "));
        if let Some(mend) = &finding.mend {
            println!("       mend: {mend}");
        }
    }
    let broken = found.iter().filter(|finding| finding.gravity == Gravity::Broken).count();
    let watch = found.iter().filter(|finding| finding.gravity == Gravity::Watch).count();
    println!("\n{broken} broken, {watch} to watch");
    if broken == 0 { Ended::Well } else { Ended::WithProblems }
}
