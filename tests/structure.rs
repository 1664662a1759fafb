//! What holds for the source as a whole: imports run one way, the pure parts stay pure, every module says what it is
//! for, and no real person's number stands anywhere.
//!
//! Read as text, so that it holds for what is compiled nowhere, too. Comments are left out of the search for imports.

#![allow(clippy::unwrap_used, reason = "helpers of tests")]
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// What each top module may name of the crate. A module that is not here may not exist.
const MAY_NAME: &[(&str, &[&str])] = &[
    // Flags and controls are what the reader finds.
    ("trade", &["trade", "reading"]),
    // A crate of its own, which knows of nothing here.
    ("reading", &["reading"]),
    ("wording", &["wording", "trade"]),
    ("intake", &["intake", "trade"]),
    ("schedule", &["schedule", "trade"]),
    ("clock", &["clock", "trade"]),
    // A setting may be a repeat: a value that the schedule reads.
    ("config", &["config", "schedule", "trade"]),
    ("channel", &["channel", "clock", "trade"]),
    // Rows hold what the reader made of a text and what the carrier said of a number: values, not behaviour.
    ("store", &["store", "channel", "reading", "trade"]),
    ("desk", &["desk", "channel", "clock", "config", "intake", "reading", "schedule", "store", "trade", "wording"]),
    ("run", &["run", "desk", "trade"]),
    ("web", &["web", "channel", "desk", "trade"]),
    (
        "rehearse",
        &[
            "rehearse", "channel", "clock", "config", "desk", "intake", "reading", "run", "schedule", "store", "trade",
            "web", "wording",
        ],
    ),
    (
        "cli",
        &[
            "cli", "channel", "clock", "config", "desk", "intake", "reading", "rehearse", "run", "schedule", "store",
            "trade", "web", "wording",
        ],
    ),
];

/// The parts that take values and `now` and return values.
const PURE: &[&str] = &["trade", "reading", "wording", "intake", "schedule"];

/// What a pure part has no business with.
const IMPURE: &[&str] = &[
    "tokio::",
    "sqlx::",
    "reqwest::",
    "axum::",
    "rand::",
    "rand_chacha::",
    "tracing::",
    "std::fs",
    "std::env",
    "std::net",
    "std::process",
    "std::thread",
    "std::io::std",
    "Instant::now",
    "println!",
];

/// The system's clock, in every way that the standard library and chrono offer it.
const SYSTEM_CLOCK: &[&str] = &["SystemTime::now", "Utc::now", "Local::now"];

/// North American numbers outside the range for fiction that have to stand where they stand, with the reason.
const NUMBERS_WITH_A_REASON: &[(&str, &[&str])] = &[
    // Numbers that cannot exist, which the parser has to refuse or keep.
    ("src/trade/phone.rs", &["3121550100", "2739110100", "9831550100"]),
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn files_under(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let Ok(entries) = fs::read_dir(folder) else { return found };
    for entry in entries {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files_under(&path));
        } else {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// Rust files of the crates with their text, by their path from the project's folder.
fn sources() -> Vec<(String, String)> {
    let files = ["src", "reading/src"].into_iter().flat_map(|folder| files_under(&root().join(folder)));
    let sources: Vec<_> = files
        .filter(|path| path.extension().is_some_and(|extension| extension == "rs"))
        .map(|path| {
            let text = fs::read_to_string(&path).unwrap();
            (path.strip_prefix(root()).unwrap().to_string_lossy().into_owned(), text)
        })
        .collect();
    assert!(sources.len() > 50, "the source is not where it was looked for");
    sources
}

/// `src/desk/outbox.rs` gives `desk`; `src/lib.rs` and `src/main.rs` give nothing; the crate `reading` is a module as others are.
fn top_module(path: &str) -> Option<&str> {
    if path.starts_with("reading/") {
        return Some("reading");
    }
    let inside = path.strip_prefix("src/")?;
    let top = inside.split('/').next()?.trim_end_matches(".rs");
    (top != "lib" && top != "main").then_some(top)
}

/// Lines of code with their numbers: no comments.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines().enumerate().map(|(index, line)| (index + 1, line.split("//").next().unwrap_or(line)))
}

fn identifier(text: &str) -> &str {
    let end = text.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(text.len());
    &text[..end]
}

/// Top modules that a line names by a path from the crate's root.
fn named<'l>(line: &'l str, depth: usize) -> Vec<&'l str> {
    let mut found: Vec<&'l str> = Vec::new();
    for root in ["crate::", "browline::"] {
        for (at, _) in line.match_indices(root) {
            let rest = &line[at + root.len()..];
            // `use crate::{desk, store}`
            match rest.strip_prefix('{') {
                Some(list) => {
                    let list = list.split('}').next().unwrap_or(list);
                    found.extend(list.split(',').map(|part| identifier(part.trim())));
                }
                None => found.push(identifier(rest)),
            }
        }
    }
    // A climb by `super::` as far as the root names a top module as well.
    let mut rest = line;
    while let Some(at) = rest.find("super::") {
        rest = &rest[at..];
        let mut climbed = 0;
        while let Some(further) = rest.strip_prefix("super::") {
            rest = further;
            climbed += 1;
        }
        if climbed >= depth {
            found.push(identifier(rest));
        }
    }
    found
}

/// How many times `super::` climbs from a file to the crate's root.
fn depth(path: &str) -> usize {
    let parts = path.split('/').count() - 1;
    if path.ends_with("/mod.rs") { parts - 1 } else { parts }
}

#[test]
fn imports_run_one_way() {
    let tops: BTreeSet<&str> = MAY_NAME.iter().map(|(top, _)| *top).collect();
    let mut wrong = Vec::new();
    let mut seen = BTreeSet::new();
    for (path, text) in sources() {
        let Some(top) = top_module(&path) else { continue };
        let Some((_, may)) = MAY_NAME.iter().find(|(module, _)| *module == top) else {
            wrong.push(format!("{path}: the module `{top}` has no place in MAY_NAME"));
            continue;
        };
        for (number, line) in code(&text) {
            for name in named(line, depth(&path)).into_iter().filter(|name| tops.contains(name)) {
                seen.insert((top.to_owned(), name.to_owned()));
                if !may.contains(&name) {
                    wrong.push(format!("{path}:{number}: `{top}` names `{name}`: {}", line.trim()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // The search finds what is known to be there; without this, a broken search would find nothing wrong.
    for (top, name) in [("desk", "store"), ("web", "desk"), ("cli", "desk"), ("schedule", "trade")] {
        assert!(seen.contains(&(top.to_owned(), name.to_owned())), "`{top}` was not seen to name `{name}`");
    }
}

#[test]
fn the_search_for_imports_sees_every_way_to_write_one() {
    assert_eq!(named("use crate::store::Tx;", 2), ["store"]);
    assert_eq!(named("let x = crate::desk::scene::who(browline::web::router);", 1), ["desk", "web"]);
    assert_eq!(named("use crate::{desk, store::Tx};", 2), ["desk", "store"]);
    assert_eq!(named("use super::super::store;", 2), ["store"]);
    assert_eq!(named("use super::errors;", 2), Vec::<&str>::new());
    assert_eq!(depth("src/desk/mod.rs"), 1);
    assert_eq!(depth("src/desk/inbound/staff.rs"), 3);
    assert_eq!(depth("src/clock.rs"), 1);
}

#[test]
fn the_pure_parts_touch_nothing_outside() {
    let mut wrong = Vec::new();
    for (path, text) in sources() {
        if !top_module(&path).is_some_and(|top| PURE.contains(&top)) || path.ends_with("/tests.rs") {
            continue;
        }
        for (number, line) in code(&text) {
            // Tests inside a file stand at its end.
            if line.trim() == "#[cfg(test)]" {
                break;
            }
            for impure in IMPURE.iter().filter(|impure| line.contains(**impure)) {
                wrong.push(format!("{path}:{number}: `{impure}` in a pure part"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_systems_clock_is_read_in_one_place() {
    let mut readers = BTreeSet::new();
    for (path, text) in sources() {
        if code(&text).any(|(_, line)| SYSTEM_CLOCK.iter().any(|clock| line.contains(clock))) {
            readers.insert(path);
        }
    }
    assert_eq!(readers, BTreeSet::from(["src/clock.rs".to_owned()]));
}

#[test]
fn every_module_opens_with_what_it_is_for() {
    let without: Vec<String> = sources()
        .into_iter()
        .filter(|(path, text)| !text.starts_with("//! ") && !path.ends_with("/tests.rs"))
        .map(|(path, _)| path)
        .collect();
    assert!(without.is_empty(), "no `//!` at the top of:\n{}", without.join("\n"));
}

/// North American numbers in a text: ten digits, or eleven after a 1, with what people write between them.
fn american_numbers(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for line in text.lines() {
        let characters: Vec<char> = line.chars().collect();
        let mut start = 0;
        while start < characters.len() {
            let Some((digits, end)) = digits_at(&characters, start) else {
                start += 1;
                continue;
            };
            found.extend(american(&digits));
            start = end;
        }
    }
    found
}

/// A run of digits with the signs that stand inside telephone numbers, from `start`; `+` only before it.
fn digits_at(characters: &[char], start: usize) -> Option<(String, usize)> {
    let part_of_word = |c: char| c.is_alphanumeric() || c == '_';
    let opens = characters[start].is_ascii_digit() || matches!(characters[start], '+' | '(');
    if !opens || (start > 0 && part_of_word(characters[start - 1])) {
        return None;
    }
    let mut digits = String::new();
    let mut end = start;
    let mut gap = 0;
    while let Some(&c) = characters.get(end) {
        if c.is_ascii_digit() {
            digits.push(c);
            gap = 0;
        } else if c == '+' && digits.is_empty() {
            digits.push('+');
        } else if matches!(c, ' ' | '(' | ')' | '-' | '.' | '\u{2013}') && gap < 2 {
            gap += 1;
        } else {
            break;
        }
        end += 1;
    }
    let joined = characters.get(end).is_some_and(|c| part_of_word(*c));
    // "2026-09-01 15" begins with four digits, as no number does.
    let date = characters[start..end].iter().take_while(|c| c.is_ascii_digit()).count() == 4;
    (!joined && !date && digits.len() >= 10).then_some((digits, end))
}

/// The ten digits of a North American number, if these are one.
fn american(digits: &str) -> Option<String> {
    let ten = match (digits.strip_prefix('+'), digits.len()) {
        (Some(international), _) => international.strip_prefix('1').filter(|ten| ten.len() == 10)?,
        (None, 11) => digits.strip_prefix('1')?,
        (None, 10) => digits,
        _ => return None,
    };
    ten.starts_with(|first: char| ('2'..='9').contains(&first)).then(|| ten.to_owned())
}

fn is_for_fiction(ten: &str) -> bool {
    ten.get(3..8) == Some("55501")
}

#[test]
fn no_telephone_number_is_anybodys() {
    let mut read = 0;
    let mut wrong = Vec::new();
    let folders = ["src", "reading", "templates", "demo", "deploy", "README.md", "DEVELOPERS.md"];
    let files = folders.iter().flat_map(|name| {
        let path = root().join(name);
        if path.is_file() { vec![path] } else { files_under(&path) }
    });
    for path in files {
        // Pictures and the like are not text.
        let Ok(text) = fs::read_to_string(&path) else { continue };
        let path = path.strip_prefix(root()).unwrap().to_string_lossy().into_owned();
        let allowed = NUMBERS_WITH_A_REASON.iter().find(|(file, _)| *file == path).map_or(&[][..], |(_, known)| known);
        for ten in american_numbers(&text) {
            read += 1;
            if !is_for_fiction(&ten) && !allowed.contains(&ten.as_str()) {
                wrong.push(format!("{path}: {ten} is not from 555-0100 to 555-0199"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(read > 20, "only {read} numbers were found: the search is broken");
}

#[test]
fn the_search_for_numbers_sees_them_as_people_write_them() {
    for written in [
        "(312) 867 5309",
        "call 312-867-5309.",
        "+1 312 867 5309",
        "3128675309",
        "1 (312) 867-5309",
        "\"+13128675309\"",
        "312.867.5309",
    ] {
        assert_eq!(american_numbers(written), ["3128675309"], "{written}");
    }
    for other in
        ["2026-09-01 15:30", "1_788_000_123_456", "AC00000000000000000000000000000000", "20260820", "+52 55 1234 5678"]
    {
        assert_eq!(american_numbers(other), Vec::<String>::new(), "{other}");
    }
    assert!(is_for_fiction("3125550199"));
    assert!(!is_for_fiction("3125550200"));
}
