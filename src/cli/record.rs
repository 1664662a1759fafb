//! `browline record`: the record verified, and given out.

use std::io::Write as _;
use std::path::Path;

use anyhow::{Result, bail};
use chrono::NaiveDate;
use clap::{Subcommand, ValueEnum};
use minijinja::{Environment, context};

use super::{Ended, open};
use crate::clock::Clock;
use crate::store::rows::RecordLine;
use crate::trade::roster::AthleteId;

/// What `record` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Find a changed, missing or reordered line. Note the hash that it prints somewhere else: with `--hash` it is looked for
    /// again, so that a record that was made anew from the start shows too.
    #[command(after_help = "Example:\n  browline record verify\n  browline record verify --hash 3f9a...")]
    Verify {
        /// Program, when there are several; otherwise each is verified.
        #[arg(long, value_name = "KEY")]
        program: Option<String>,
        /// A hash that was printed before.
        #[arg(long, value_name = "HASH")]
        hash: Option<String>,
    },
    /// Write the record out, of one athlete or all, for a period or whole.
    #[command(
        after_help = "Example:\n  browline record export --athlete jonah-vega --format page > jonah.html\n  browline record export --from 2026-08-01 --to 2026-12-01 > record.csv"
    )]
    Export {
        /// Program, when there are several.
        #[arg(long, value_name = "KEY")]
        program: Option<String>,
        /// The athlete's id.
        #[arg(long, value_name = "ID")]
        athlete: Option<String>,
        /// First day.
        #[arg(long, value_name = "DATE")]
        from: Option<NaiveDate>,
        /// Last day.
        #[arg(long, value_name = "DATE")]
        to: Option<NaiveDate>,
        /// CSV, or a page to print.
        #[arg(long, value_enum, default_value_t = Format::Csv)]
        format: Format,
    },
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Format {
    /// Comma-separated values.
    Csv,
    /// HTML, made for paper.
    Page,
}

/// Verifies or exports.
///
/// # Errors
/// When the configuration or the store cannot be used, or the output cannot be written.
pub fn run(path: &Path, args: Args) -> Result<Ended> {
    let config = open::config(path)?;
    match args.what {
        What::Verify { program, hash } => {
            let programs = match &program {
                None => config.programs.keys().cloned().collect(),
                Some(_) => vec![open::program(&config, program.as_deref())?],
            };
            open::runtime()?.block_on(async {
                let desk = open::desk_without_carrier(config, Clock::system()).await?;
                let (mut ended, mut known) = (Ended::Well, false);
                for program in programs {
                    match desk.verify_record(&program).await? {
                        Ok(holds) => {
                            println!(
                                "{program}: {} lines hold, {} of them erased on request. Hash of the last: {}",
                                holds.lines, holds.erased, holds.hash
                            );
                        }
                        Err(broken) => {
                            println!("{program}: BROKEN: {broken}");
                            ended = Ended::WithProblems;
                        }
                    }
                    if let Some(hash) = &hash {
                        known |= desk
                            .record_lines(&program, None, (None, None))
                            .await?
                            .iter()
                            .any(|line| line.hash == *hash);
                    }
                }
                if let Some(hash) = hash.filter(|_| !known) {
                    println!("BROKEN: no line has the hash {hash}: the record was written anew since it was noted");
                    ended = Ended::WithProblems;
                }
                desk.store().close().await;
                Ok(ended)
            })
        }
        What::Export { program, athlete, from, to, format } => {
            let program = open::program(&config, program.as_deref())?;
            open::runtime()?.block_on(async {
                let desk = open::desk_without_carrier(config, Clock::system()).await?;
                let athlete = athlete.map(AthleteId);
                let lines = desk.record_lines(&program, athlete.as_ref(), (from, to)).await?;
                let settings = desk.program(&program)?;
                if lines.is_empty() {
                    bail!("the record has no such line\nhint: athletes are named by their id, as in athletes.csv");
                }
                let text = match format {
                    Format::Csv => csv(&lines, settings.zone)?,
                    Format::Page => {
                        let of = athlete.map_or_else(|| "everybody".to_owned(), |athlete| athlete.0);
                        page(&lines, settings.zone, &settings.name, &of)?
                    }
                };
                std::io::stdout().write_all(text.as_bytes())?;
                desk.store().close().await;
                Ok(Ended::Well)
            })
        }
    }
}

fn fields(line: &RecordLine, zone: chrono_tz::Tz) -> [String; 8] {
    [
        line.seq.to_string(),
        line.at.local(zone).format("%Y-%m-%d %H:%M:%S").to_string(),
        line.who.clone(),
        if line.erased { "(erased on request)".to_owned() } else { line.what.clone() },
        line.subject.clone(),
        line.why.clone(),
        line.message.clone().unwrap_or_default(),
        line.hash.clone(),
    ]
}

const HEADS: [&str; 8] = ["line", "when", "who", "what", "subject", "why", "message", "hash"];

fn csv(lines: &[RecordLine], zone: chrono_tz::Tz) -> Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEADS)?;
    for line in lines {
        writer.write_record(fields(line, zone).map(plain))?;
    }
    Ok(String::from_utf8(writer.into_inner().map_err(|error| anyhow::anyhow!("{error}"))?)?)
}

/// What a spreadsheet would take for a formula is kept from being one.
fn plain(field: String) -> String {
    if field.starts_with(['=', '+', '-', '@', '\t']) { format!("'{field}") } else { field }
}

const PAGE: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Record: {{ of }}</title><style>\
body{font:11pt/1.4 system-ui,sans-serif;margin:1.5cm}table{border-collapse:collapse;width:100%}\
th,td{border-bottom:1px solid;padding:2pt 6pt;text-align:left;vertical-align:top;overflow-wrap:anywhere}\
thead{display:table-header-group}tr{break-inside:avoid}@page{margin:1.5cm}</style>\
<h1>{{ program }}: record of {{ of }}</h1><p>{{ rows | length }} lines. Medical: for those who may read it. Times in {{ zone }}.</p>\
<table><thead><tr><th>Line<th>When<th>Who<th>What<th>Subject<th>Why</tr></thead>\
{% for row in rows %}<tr><td>{{ row[0] }}<td>{{ row[1] }}<td>{{ row[2] }}<td>{{ row[3] }}<td>{{ row[4] }}<td>{{ row[5] }}</tr>\n{% endfor %}</table>\
<p>Hash of the last line shown: {{ hash }}</p></html>\n";

fn page(lines: &[RecordLine], zone: chrono_tz::Tz, program: &str, of: &str) -> Result<String> {
    let mut environment = Environment::new();
    environment.add_template("record.html", PAGE)?;
    let rows: Vec<[String; 8]> = lines.iter().map(|line| fields(line, zone)).collect();
    let hash = lines.last().map(|line| line.hash.clone()).unwrap_or_default();
    Ok(environment.get_template("record.html")?.render(context! { rows, program, of, hash, zone => zone.name() })?)
}
