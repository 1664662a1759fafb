//! `browline read`: replies from standard input, one a line, and what each means.

use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use anyhow::{Context as _, Result};
use serde::Serialize;

use super::Ended;
use crate::reading::score::{Labelled, Score};
use crate::reading::second;
use crate::reading::{Evidence, Kind, Lang, Reading, read};
use crate::trade::flag::{Control, Flag, Flags};

/// What `read` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// One JSON object a line: text, lang, reading, flags, control, evidence.
    #[arg(long)]
    json: bool,
    /// Read labelled replies from a file instead, and print a confusion table and every miss.
    #[arg(long, value_name = "FILE", conflicts_with = "json")]
    score: Option<PathBuf>,
    /// Train the second reader from labelled replies. Without --weights, print how it does on each file when it learned from
    /// the others.
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["json", "score"])]
    train: Vec<PathBuf>,
    /// Where to write what was learned; the binary embeds reading/src/second.weights.
    #[arg(long, value_name = "FILE", requires = "train")]
    weights: Option<PathBuf>,
}

/// Reads.
///
/// # Errors
/// When the input cannot be read or the output cannot be written.
pub fn run(args: Args) -> Result<Ended> {
    if let Some(path) = args.score {
        return score(&path);
    }
    if !args.train.is_empty() {
        return train(&args.train, args.weights.as_deref());
    }
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut input = std::io::BufReader::new(std::io::stdin().lock());
    let mut bytes = Vec::new();
    loop {
        bytes.clear();
        if input.read_until(b'\n', &mut bytes).context("standard input")? == 0 {
            break;
        }
        let text = String::from_utf8_lossy(&bytes);
        let text = text.trim_end_matches(['\n', '\r']);
        let reading = read(text);
        let line = if args.json { contract(text, &reading)? } else { words(text, &reading) };
        match writeln!(out, "{line}") {
            // A reader such as `head` may have had enough.
            Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => return Ok(Ended::Well),
            written => written.context("standard output")?,
        }
    }
    out.flush().context("standard output")?;
    Ok(Ended::Well)
}

/// The machine contract: these keys, in this order.
#[derive(Serialize)]
struct Contract<'a> {
    text: &'a str,
    lang: Lang,
    reading: Kind,
    flags: Flags,
    control: Option<Control>,
    evidence: &'a [Evidence],
}

fn contract(text: &str, reading: &Reading) -> Result<String> {
    let line = Contract {
        text,
        lang: reading.lang,
        reading: reading.kind,
        flags: reading.flags,
        control: reading.control,
        evidence: &reading.evidence,
    };
    Ok(serde_json::to_string(&line)?)
}

fn words(text: &str, reading: &Reading) -> String {
    let flags: Vec<&str> = reading.flags.iter().map(Flag::name).collect();
    let what = match reading.control {
        Some(control) => Control::name(control).to_owned(),
        None => flags.join(" "),
    };
    format!("{:<10} {what:<24} {text}", reading.kind.name().replace('_', " "))
}

fn score(path: &Path) -> Result<Ended> {
    let score = Score::of(&labelled(path)?);
    println!("{score}");
    Ok(if score.unsafe_clear == 0 { Ended::Well } else { Ended::WithProblems })
}

fn train(paths: &[PathBuf], weights: Option<&Path>) -> Result<Ended> {
    // In whatever order they are given, the same weights come of them.
    let mut paths = paths.to_vec();
    paths.sort();
    let files: Vec<Vec<Labelled>> = paths.iter().map(|path| labelled(path)).collect::<Result<_>>()?;
    if let Some(path) = weights {
        std::fs::write(path, second::train(&files, &side_by_side)).with_context(|| path.display().to_string())?;
        println!("{}: learned from {} replies", path.display(), files.iter().map(Vec::len).sum::<usize>());
        return Ok(Ended::Well);
    }
    for (at, path) in paths.iter().enumerate() {
        let others: Vec<Vec<Labelled>> =
            files.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, lines)| lines.clone()).collect();
        let trial = second::trial(&others, &files[at], &side_by_side);
        let of = |(all, hit): (usize, usize)| format!("{hit} of {all}");
        println!("{}, learned from the others:", path.display());
        println!("  takes back {} right all clears and {} wrong ones", of(trial.right_clears), of(trial.wrong_clears));
        println!("  would object to {} that are not all clear", of(trial.off));
        println!(
            "  adds the symptom to {} that were missed, and to {} that have none",
            of(trial.missed_symptoms),
            of(trial.without_symptom)
        );
        println!("  mends the flags of {} and spoils those of {}", of(trial.flags_mended), of(trial.flags_spoilt));
        println!("  finds {} controls and makes {} of others", of(trial.controls_found), of(trial.controls_made));
    }
    Ok(Ended::Well)
}

/// By as many threads as there are cores.
fn side_by_side(count: usize, each: &(dyn Fn(usize) + Sync)) {
    let next = AtomicUsize::new(0);
    let work =
        || std::iter::repeat_with(|| next.fetch_add(1, Ordering::Relaxed)).take_while(|at| *at < count).for_each(each);
    let cores = thread::available_parallelism().map_or(1, usize::from);
    thread::scope(|scope| (0..cores.min(count)).for_each(|_| drop(scope.spawn(work))));
}

fn labelled(path: &Path) -> Result<Vec<Labelled>> {
    let text = std::fs::read_to_string(path).with_context(|| path.display().to_string())?;
    let mut lines = Vec::new();
    for (line, number) in text.lines().zip(1..) {
        if line.trim().is_empty() {
            continue;
        }
        let labelled: Labelled = serde_json::from_str(line).with_context(|| {
            format!("{}:{number}: not a labelled reply; see tests/replies for the format", path.display())
        })?;
        lines.push(labelled);
    }
    Ok(lines)
}
