//! The command line: one file a command. Data goes to standard output, everything else to standard error.

pub mod demo;
pub mod doctor;
pub mod due;
pub mod export;
pub mod import;
pub mod init;
pub mod keep;
pub mod key;
pub mod open;
pub mod plan;
pub mod read;
pub mod record;
pub mod serve;
pub mod tick;
pub mod today;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Helmet checks, fix lists and staff alerts by text message, for athletic trainers and equipment managers of helmeted
/// teams.
///
/// A self-check supplements a hands-on fitting by trained staff and never replaces it.
#[derive(Debug, Parser)]
#[command(name = "browline", version, arg_required_else_help = true)]
pub struct Cli {
    /// Configuration file.
    #[arg(long, global = true, default_value = "browline.toml", value_name = "FILE")]
    pub config: PathBuf,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Watch a practice morning with simulated phones; nothing is sent to anybody.
    #[command(after_help = "Example:\n  browline demo\n  browline demo --plain --seed 7\n  browline demo --story es")]
    Demo(demo::Args),
    /// Write a commented browline.toml and a folder of CSV templates.
    #[command(after_help = "Example:\n  browline init\n  browline init --dir season")]
    Init(init::Args),
    /// Print a new key for BROWLINE_KEY, which seals medical words in the database.
    #[command(after_help = "Example:\n  export BROWLINE_KEY=$(browline key)")]
    Key,
    /// Load rosters, guardians, staff, helmets and events from a folder, all or nothing.
    #[command(after_help = "Example:\n  browline import roster --dry-run\n  browline import roster")]
    Import(import::Args),
    /// Say what is missing or wrong, and how to mend it.
    #[command(after_help = "Example:\n  browline doctor")]
    Doctor(doctor::Args),
    /// Run: the schedule, the sender and the webhooks.
    #[command(after_help = "Example:\n  BROWLINE_CARRIER_ACCOUNT=... BROWLINE_CARRIER_TOKEN=... browline serve")]
    Serve(serve::Args),
    /// Do what is due at one moment, send what is queued, and exit.
    #[command(after_help = "Example:\n  browline tick --at 2026-09-15T06:45:00-05:00\n  browline tick --at now")]
    Tick(tick::Args),
    /// Print the fix list, who has not answered, who is held.
    #[command(after_help = "Example:\n  browline today --team varsity\n  browline today --json")]
    Today(today::Args),
    /// Print all that is coming: events, drills, kits, helmets, clearances.
    #[command(after_help = "Example:\n  browline due --days 60\n  browline due --json")]
    Due(due::Args),
    /// Print which helmets go to the shop when, what to buy, and what retires.
    #[command(after_help = "Example:\n  browline plan\n  browline plan --json")]
    Plan(plan::Args),
    /// Write out what was learned, as JSON lines.
    Export(export::Args),
    /// Verify the record, or write it out.
    Record(record::Args),
    /// Say what is older than it is kept, and delete it.
    #[command(after_help = "Example:\n  browline purge\n  browline purge --delete")]
    Purge(keep::Purge),
    /// Delete an athlete's data on request; the record keeps a gap that is counted.
    #[command(after_help = "Example:\n  browline forget jonah-vega --reason 'asked by the family'")]
    Forget(keep::Forget),
    /// Write a consistent copy of everything to a file, while serving.
    #[command(after_help = "Example:\n  browline backup 2026-09-15.backup")]
    Backup(keep::Backup),
    /// Read a backup into an empty database, of either engine.
    #[command(after_help = "Example:\n  browline restore 2026-09-15.backup")]
    Restore(keep::Restore),
    /// Read replies from standard input, one a line, and say what each means.
    #[command(after_help = "Example:\n  echo 'strap busted n 2' | browline read --json")]
    Read(read::Args),
}

/// How a command ended. Success is 0, a failure that the user can mend 1, one that they cannot 2.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Done.
    Well,
    /// Something in the input, the files or the settings has to be mended.
    WithProblems,
}

/// Runs the command that was typed.
#[must_use]
pub fn run() -> ExitCode {
    let cli = Cli::parse();
    let outcome = match cli.command {
        Command::Demo(args) => demo::run(args),
        Command::Init(args) => init::run(&args),
        Command::Key => key::run(),
        Command::Import(args) => import::run(&cli.config, args),
        Command::Doctor(args) => doctor::run(&cli.config, &args),
        Command::Serve(args) => serve::run(&cli.config, args),
        Command::Tick(args) => tick::run(&cli.config, args),
        Command::Today(args) => today::run(&cli.config, args),
        Command::Due(args) => due::run(&cli.config, args),
        Command::Plan(args) => plan::run(&cli.config, &args),
        Command::Export(args) => export::run(&cli.config, args),
        Command::Record(args) => record::run(&cli.config, args),
        Command::Purge(args) => keep::purge(&cli.config, &args),
        Command::Forget(args) => keep::forget(&cli.config, &args),
        Command::Backup(args) => keep::backup(&cli.config, &args),
        Command::Restore(args) => keep::restore(&cli.config, &args),
        Command::Read(args) => read::run(args),
    };
    match outcome {
        Ok(Ended::Well) => ExitCode::SUCCESS,
        Ok(Ended::WithProblems) => ExitCode::from(1),
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::from(2)
        }
    }
}
