//! The reader on one core: replies a second, the median and the worst reply, allocations, and how time grows with length.
//!
//! Against a floor: one pass of the aho-corasick crate with the same lexicon's words over the same bytes, leftmost and
//! longest, case ignored. The two sides in turn, on the labelled sample and on texts of 1,600 characters, the longest
//! that a carrier delivers. Then texts made to be slow, ten times as long each time: the ratio of times should stay near
//! ten. Times are this thread's on the processor, so that other work on the machine disturbs little.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a benchmark stops at the first thing that is wrong")]

#[path = "../tests/support/nasty.rs"]
mod nasty;
#[path = "../reading/src/phrases.rs"]
mod phrases;

use std::hint::black_box;
use std::time::Duration;

use aho_corasick::{AhoCorasick, MatchKind};
use browline::reading::read;
use cpu_time::ThreadTime;
use nasty::nasty;
use phrases::spelled_out;

/// The longest text that a carrier delivers.
const LONGEST: usize = 1_600;

fn main() {
    let sample = sample();
    let long = long_texts(&sample);
    let floor = floor();
    for (name, texts) in [("sample", &sample), ("1,600 characters", &long)] {
        compare(name, texts, &floor);
        single(name, texts);
        allocations(name, texts);
    }
    growth();
}

/// The texts of the labelled sample.
fn sample() -> Vec<String> {
    let path = format!("{}/tests/replies/sample.jsonl", env!("CARGO_MANIFEST_DIR"));
    let lines = std::fs::read_to_string(path).expect("the sample");
    let text = |line| {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        line["text"].as_str().unwrap().to_owned()
    };
    lines.lines().map(text).collect()
}

/// The sample's lines joined to texts of the greatest length, each beginning with another line.
fn long_texts(sample: &[String]) -> Vec<String> {
    let long = |first| {
        let lines = sample.iter().cycle().skip(first).take(LONGEST);
        lines.flat_map(|line| line.chars().chain([' '])).take(LONGEST).collect()
    };
    (0..sample.len()).step_by(7).map(long).collect()
}

/// One automaton of every entry of every lexicon.
fn floor() -> AhoCorasick {
    let folder = format!("{}/reading/src/words", env!("CARGO_MANIFEST_DIR"));
    let mut entries: Vec<String> = Vec::new();
    for file in std::fs::read_dir(folder).expect("the lexicons") {
        let file: toml::Table = std::fs::read_to_string(file.unwrap().path()).unwrap().parse().unwrap();
        let Some(words) = file.get("words").and_then(toml::Value::as_table) else { continue };
        let lists = words.values().flat_map(|list| list.as_array().unwrap());
        entries.extend(lists.flat_map(|entry| spelled_out(entry.as_str().unwrap())));
    }
    let mut builder = AhoCorasick::builder();
    builder.match_kind(MatchKind::LeftmostLongest).ascii_case_insensitive(true).build(entries).unwrap()
}

/// Rounds of both sides in turn, each over all the texts for a tenth of a second or more.
fn compare(name: &str, texts: &[String], floor: &AhoCorasick) {
    let (mut reader, mut passes) = (Vec::new(), Vec::new());
    for _ in 0..rounds() {
        passes.push(rate(texts, |text| floor.find_iter(text).count()));
        reader.push(rate(texts, |text| read(text).evidence.len()));
    }
    let (reader, passes) = (middle(&mut reader), middle(&mut passes));
    println!("{name}: {reader:.0} replies a second, the floor {passes:.0}; ratio {:.3}", reader / passes);
}

/// Texts a second.
fn rate(texts: &[String], work: impl Fn(&str) -> usize) -> f64 {
    let (start, mut done) = (ThreadTime::now(), 0);
    while start.elapsed() < Duration::from_millis(100) {
        for text in texts {
            black_box(work(black_box(text)));
        }
        done += texts.len();
    }
    done as f64 / start.elapsed().as_secs_f64()
}

/// Each text by itself: the median and the worst.
fn single(name: &str, texts: &[String]) {
    let mut times: Vec<(Duration, &String)> = texts.iter().map(|text| (quickest(text, 20), text)).collect();
    times.sort();
    let (worst, text) = times[times.len() - 1];
    let shown: String = text.chars().take(60).collect();
    println!("{name}: median {:?}, worst {worst:?} ({shown})", times[times.len() / 2].0);
}

/// The quickest of several readings: what it costs when nothing else runs.
fn quickest(text: &str, tries: usize) -> Duration {
    let once = |_| {
        let start = ThreadTime::now();
        black_box(read(black_box(text)));
        start.elapsed()
    };
    (0..tries).map(once).min().unwrap()
}

fn allocations(name: &str, texts: &[String]) {
    let mut counts: Vec<u64> = texts
        .iter()
        .map(|text| {
            allocation_counter::measure(|| {
                black_box(read(text));
            })
            .count_total
        })
        .collect();
    counts.sort_unstable();
    println!("{name}: allocations a reply: median {}, most {}", counts[counts.len() / 2], counts[counts.len() - 1]);
}

/// Ten times as long should take ten times the time.
fn growth() {
    println!("growth with length, 1,000 to 10,000 to 100,000 characters:");
    let mut steepest = 0.0_f64;
    for (name, text) in nasty() {
        let [short, middle, long] =
            [1_000, 10_000, 100_000].map(|length| quickest(&text(length), 200_000 / length + 3));
        let ratio = |a: Duration, b: Duration| b.as_secs_f64() / a.as_secs_f64();
        let (first, second) = (ratio(short, middle), ratio(middle, long));
        steepest = steepest.max(first).max(second);
        println!("  {name:<24} {short:>10.1?} {middle:>10.1?} {long:>10.1?}  ratios {first:.1} {second:.1}");
    }
    println!("steepest ratio {steepest:.1}");
}

/// How many rounds; `BROWLINE_BENCH_ROUNDS` changes it.
fn rounds() -> usize {
    std::env::var("BROWLINE_BENCH_ROUNDS").map_or(5, |rounds| rounds.parse().expect("a number"))
}

fn middle(rates: &mut [f64]) -> f64 {
    rates.sort_by(f64::total_cmp);
    rates[rates.len() / 2]
}
