//! `browline purge`, `forget`, `backup`, `restore`: what is kept, and what is not.

use std::fs::OpenOptions;
use std::io::{BufReader, BufWriter};
use std::path::{Path, PathBuf};

use anyhow::{Context as _, Result};

use super::{Ended, open};
use crate::clock::Clock;
use crate::trade::roster::AthleteId;

/// What `purge` is told.
#[derive(Debug, clap::Args)]
pub struct Purge {
    /// Program, when there are several.
    #[arg(long, value_name = "KEY")]
    program: Option<String>,
    /// Delete it. Without, it is only said what would be deleted.
    #[arg(long)]
    delete: bool,
}

/// What `forget` is told.
#[derive(Debug, clap::Args)]
pub struct Forget {
    /// The athlete's id.
    athlete: String,
    /// Program, when there are several.
    #[arg(long, value_name = "KEY")]
    program: Option<String>,
    /// Why, without a name: it stays in the record.
    #[arg(long, value_name = "WORDS")]
    reason: String,
    /// Delete it. Without, it is only said what would be deleted.
    #[arg(long)]
    delete: bool,
}

/// What `backup` is told.
#[derive(Debug, clap::Args)]
pub struct Backup {
    /// The file to write; it must not be there.
    file: PathBuf,
}

/// What `restore` is told.
#[derive(Debug, clap::Args)]
pub struct Restore {
    /// The file that `backup` wrote.
    file: PathBuf,
}

/// Deletes what is older than it is kept.
///
/// # Errors
/// When the configuration or the store cannot be used.
pub fn purge(path: &Path, args: &Purge) -> Result<Ended> {
    let config = open::config(path)?;
    let program = open::program(&config, args.program.as_deref())?;
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::system()).await?;
        let all = desk.purge(&program, desk.clock().now(), !args.delete).await?;
        for kind in &all {
            match kind.days {
                None => println!("{}: kept for ever", kind.kind),
                Some(days) => println!("{}: {} rows older than {days} days", kind.kind, kind.rows),
            }
        }
        println!("{}", if args.delete { "Deleted." } else { "Nothing was deleted; say --delete to do it." });
        desk.store().close().await;
        Ok(Ended::Well)
    })
}

/// Deletes an athlete's data.
///
/// # Errors
/// When there is no such athlete, the athlete is held, or the store cannot be used.
pub fn forget(path: &Path, args: &Forget) -> Result<Ended> {
    let config = open::config(path)?;
    let program = open::program(&config, args.program.as_deref())?;
    open::runtime()?.block_on(async {
        let desk = open::desk_without_carrier(config, Clock::system()).await?;
        let athlete = AthleteId(args.athlete.clone());
        let gone = desk.forget(&program, &athlete, &args.reason, desk.clock().now(), !args.delete).await?;
        println!("{}:", gone.who);
        for (table, rows) in &gone.rows {
            println!("  {table}: {rows} rows");
        }
        println!("  record: the words of {} lines are erased; the lines stay and are counted", gone.lines.len());
        if args.delete {
            println!("Deleted. Take the athlete out of the files too, or the next import brings them back; older backups still have them.");
        } else {
            println!("Nothing was deleted; say --delete to do it.");
        }
        desk.store().close().await;
        Ok(Ended::Well)
    })
}

/// Writes a consistent copy, while others go on.
///
/// # Errors
/// When the file is there already or cannot be written, or the store cannot be used.
pub fn backup(path: &Path, args: &Backup) -> Result<Ended> {
    let config = open::config(path)?;
    open::runtime()?.block_on(async {
        let store = open::store(&config).await?;
        let mut options = OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let file = options.open(&args.file).with_context(|| format!("{}", args.file.display()))?;
        let mut out = BufWriter::new(file);
        let copy = store.back_up(&mut out, Clock::system().now()).await?;
        out.into_inner().map_err(|error| anyhow::anyhow!("{error}"))?.sync_all()?;
        println!("{} rows in {}, sum {}", copy.rows, args.file.display(), copy.hash);
        store.close().await;
        Ok(Ended::Well)
    })
}

/// Reads a backup into an empty database.
///
/// # Errors
/// When the database is not empty, or the file is not whole.
pub fn restore(path: &Path, args: &Restore) -> Result<Ended> {
    let config = open::config(path)?;
    open::runtime()?.block_on(async {
        let file = std::fs::File::open(&args.file).with_context(|| format!("{}", args.file.display()))?;
        let programs: Vec<_> = config.programs.keys().cloned().collect();
        let desk = open::desk_without_carrier(config, Clock::system()).await?;
        let copy = desk.store().restore(&mut BufReader::new(file)).await?;
        println!("{} rows restored, sum {}", copy.rows, copy.hash);
        let mut ended = Ended::Well;
        for program in programs {
            match desk.verify_record(&program).await? {
                Ok(holds) => println!("{program}: the record holds, {} lines", holds.lines),
                Err(broken) => {
                    println!("{program}: the record is BROKEN: {broken}");
                    ended = Ended::WithProblems;
                }
            }
        }
        desk.store().close().await;
        Ok(ended)
    })
}
