//! `browline init`: a commented configuration and CSV templates to fill in.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result};

use super::Ended;
use crate::config::TEMPLATE;

/// What `init` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder to write into.
    #[arg(long, default_value = ".", value_name = "DIR")]
    dir: PathBuf,
}

const FILES: &[(&str, &str)] = &[
    ("browline.toml", TEMPLATE),
    ("roster/athletes.csv", include_str!("../../templates/import/athletes.csv")),
    ("roster/guardians.csv", include_str!("../../templates/import/guardians.csv")),
    ("roster/staff.csv", include_str!("../../templates/import/staff.csv")),
    ("roster/helmets.csv", include_str!("../../templates/import/helmets.csv")),
    ("roster/models.csv", include_str!("../../templates/import/models.csv")),
    ("roster/drills.csv", include_str!("../../templates/import/drills.csv")),
    ("roster/venues.csv", include_str!("../../templates/import/venues.csv")),
    ("roster/kits.csv", include_str!("../../templates/import/kits.csv")),
    ("roster/holds.csv", include_str!("../../templates/import/holds.csv")),
    ("roster/events.csv", include_str!("../../templates/import/events.csv")),
];

/// Writes the files that are not there; one that is there is left alone and told.
///
/// # Errors
/// When a file cannot be written.
pub fn run(args: &Args) -> Result<Ended> {
    for (name, text) in FILES {
        let path = args.dir.join(name);
        if path.exists() {
            eprintln!("{} is there already and was left alone", path.display());
            continue;
        }
        write(&path, text)?;
        println!("wrote {}", path.display());
    }
    println!(
        "\nNext: fill in browline.toml, put your own rows in place of the example rows in roster/, add calendars (.ics),\n\
         then `browline import roster --dry-run` and `browline doctor`."
    );
    Ok(Ended::Well)
}

fn write(path: &Path, text: &str) -> Result<()> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).with_context(|| format!("cannot make {}", folder.display()))?;
    }
    std::fs::write(path, text).with_context(|| format!("cannot write {}", path.display()))
}
