//! `browline import`: a folder of spreadsheets and calendars, all or nothing.

use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result, bail};

use super::{Ended, open};
use crate::clock::Clock;
use crate::desk::import::ImportError;
use crate::intake::SourceFile;
use crate::trade::time::Moment;

/// What `import` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Folder with athletes.csv, guardians.csv, staff.csv, helmets.csv, models.csv, events.csv and calendars (.ics);
    /// any of them.
    dir: PathBuf,
    /// Say what would change, and change nothing.
    #[arg(long)]
    dry_run: bool,
    /// Program to load into, when there are several.
    #[arg(long, value_name = "KEY")]
    program: Option<String>,
    /// Moment of the import.
    #[arg(long, default_value = "now", value_parser = open::moment, value_name = "TIME")]
    at: Moment,
}

/// Imports.
///
/// # Errors
/// When the folder, the configuration or the store cannot be used.
pub fn run(config: &Path, args: Args) -> Result<Ended> {
    let config = open::config(config)?;
    let program = open::program(&config, args.program.as_deref())?;
    let files = files(&args.dir)?;
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::manual(args.at)).await?;
        let outcome = desk.import(&program, &files, args.at, args.dry_run).await;
        desk.store().close().await;
        match outcome {
            Ok(imported) => {
                for note in &imported.notes {
                    eprintln!("note: {note}");
                }
                println!("{imported}");
                if args.dry_run {
                    println!("dry run: nothing was changed");
                }
                Ok(Ended::Well)
            }
            Err(ImportError::Problems(problems)) => {
                for problem in &problems {
                    eprintln!("{problem}");
                }
                eprintln!("{}", ImportError::Problems(problems));
                Ok(Ended::WithProblems)
            }
            Err(error) => Err(error.into()),
        }
    })
}

/// The files of a folder that an import reads, by name.
///
/// # Errors
/// When the folder or a file cannot be read, or there is nothing to read.
pub fn files(dir: &Path) -> Result<Vec<SourceFile>> {
    let entries = std::fs::read_dir(dir).with_context(|| format!("cannot read the folder {}", dir.display()))?;
    let mut files = Vec::new();
    for entry in entries {
        let path = entry?.path();
        let extension = path.extension().and_then(|extension| extension.to_str()).map(str::to_lowercase);
        if !path.is_file() || !matches!(extension.as_deref(), Some("csv" | "ics")) {
            continue;
        }
        let bytes = std::fs::read(&path).with_context(|| format!("cannot read {}", path.display()))?;
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        files.push(SourceFile { name, bytes });
    }
    if files.is_empty() {
        bail!("no .csv or .ics file in {}\nhint: `browline init` writes templates", dir.display());
    }
    files.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(files)
}
