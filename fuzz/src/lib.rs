//! What holds for every reading of any text; the fuzz targets call it.

#[path = "../../reading/src/phrases.rs"]
mod phrases;

use std::collections::HashSet;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;
use std::time::{Duration, Instant};

use browline::reading::{Kind, Reading, read};
use browline::trade::flag::Flag;
use phrases::spelled_out;

/// Signs of the body: nothing but a denial makes them harmless, and a denial needs a word that denies.
const SIGNS: [&str; 16] = [
    "headache",
    "dizzy",
    "concussion",
    "concussed",
    "vomiting",
    "vomited",
    "nauseous",
    "migraine",
    "blurry",
    "mareado",
    "mareada",
    "jaqueca",
    "migrana",
    "vomitando",
    "desmaye",
    "borroso",
];

/// Troubles of a helmet: harmless when denied, repaired or said of something else, and each takes a word.
const TROUBLES: [&str; 12] = [
    "broken", "cracked", "busted", "loose", "leaking", "missing", "rota", "roto", "flojo", "floja", "rajado",
    "quebrado",
];

/// Tags whose words may take the harm out of a trouble: denials, repairs, other things, other people, what-ifs.
const DISARMING: [&str; 10] = ["neg", "none", "nah", "fix", "patch", "retract", "other", "person", "if", "unit"];

struct Words {
    /// Every entry, in a fixed order.
    entries: Vec<String>,
    /// First words of entries that deny.
    denying: HashSet<String>,
    /// Words of entries that take the harm out of a trouble.
    disarming: HashSet<String>,
    /// Entries that begin a what-if.
    supposing: Vec<String>,
}

static WORDS: LazyLock<Words> = LazyLock::new(words);

fn words() -> Words {
    let mut words =
        Words { entries: Vec::new(), denying: HashSet::new(), disarming: HashSet::new(), supposing: Vec::new() };
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../reading/src/words");
    let mut files: Vec<_> =
        fs::read_dir(folder).expect("the lexicons").map(|file| file.expect("a file").path()).collect();
    files.sort();
    for path in files {
        let file: toml::Table = fs::read_to_string(path).expect("a lexicon").parse().expect("a lexicon");
        let Some(table) = file.get("words").and_then(toml::Value::as_table) else { continue };
        for (tag, entries) in table {
            for entry in entries.as_array().expect("a list").iter().filter_map(|entry| entry.as_str()) {
                spelled_out(entry).iter().for_each(|entry| words.add(tag, entry));
            }
        }
    }
    words
}

impl Words {
    fn add(&mut self, tag: &str, entry: &str) {
        let parts = || entry.split_whitespace().map(str::to_owned);
        self.entries.push(entry.to_owned());
        // Entries of many words deny by their first words: "no me", "nothing wrong".
        if matches!(tag, "neg" | "none" | "nah") {
            self.denying.extend(parts());
        }
        if DISARMING.contains(&tag) {
            self.disarming.extend(parts());
        }
        if tag == "if" {
            self.supposing.push(entry.to_owned());
        }
        // "Cant complain", "no cracks": a denial within an entry is one all the same.
        if ["no", "not", "sin", "ni", "nothing"].iter().any(|word| parts().any(|part| part == *word)) {
            self.disarming.extend(parts().take(1));
        }
    }
}

/// The entries joined as the bytes say.
pub fn sentence(bytes: &[u8]) -> String {
    const JOINTS: [&str; 12] = [" ", " ", " ", ", ", ". ", " and ", " but ", " y ", " pero ", "\n", "? ", "! "];
    let mut text = String::new();
    for pair in bytes.chunks(2).take(64) {
        let index = usize::from(pair[0]) << 8 | usize::from(*pair.last().unwrap_or(&0));
        let (entry, joint) = (index % WORDS.entries.len(), index / WORDS.entries.len());
        text.push_str(&WORDS.entries[entry]);
        text.push_str(JOINTS[joint % JOINTS.len()]);
    }
    text
}

/// Panics when something that holds for every text does not hold for this one.
pub fn check(text: &str) {
    let reading = timed(text);
    assert_eq!(reading, read(text), "the same text is read the same way: {text:?}");
    well_formed(text, &reading);
    if reading.kind == Kind::AllClear {
        assert!(!alarming(text), "read as all clear: {text:?}");
    }
}

/// Panics when a change that says nothing changes the reading.
pub fn check_alike(text: &str) {
    let reading = read(text);
    for other in [text.to_uppercase(), format!("  {text} "), text.replace(' ', "   ")] {
        let changed = read(&other);
        let same = changed.kind == reading.kind && changed.flags == reading.flags && changed.control == reading.control;
        assert!(same, "{text:?} is read as {reading:?}, {other:?} as {changed:?}");
    }
    // A what-if ends with its sentence.
    let supposes = WORDS.supposing.iter().any(|entry| text.contains(entry.as_str()));
    for problem in [". the strap is broken", ". my head hurts", ", la correa esta rota", ". me duele la cabeza"] {
        if supposes && problem.starts_with(',') {
            continue;
        }
        let more = format!("{text}{problem}");
        assert!(read(&more).kind != Kind::AllClear, "read as all clear: {more:?}");
    }
}

/// The reading, in time that the length of the text bounds. Instrumented and on a busy machine; so three tries.
fn timed(text: &str) -> Reading {
    let most = Duration::from_millis(50) + Duration::from_micros(100) * u32::try_from(text.len()).unwrap_or(u32::MAX);
    let mut quickest = Duration::MAX;
    for _ in 0..3 {
        let start = Instant::now();
        let reading = read(text);
        quickest = quickest.min(start.elapsed());
        if quickest <= most {
            return reading;
        }
    }
    panic!("{quickest:?} for {} bytes", text.len());
}

fn well_formed(text: &str, reading: &Reading) {
    let mut last = 0;
    for evidence in &reading.evidence {
        let (start, end) = evidence.span;
        assert!(text.get(start..end).is_some_and(|stretch| !stretch.is_empty()), "{evidence:?} is not in {text:?}");
        assert!(last <= start, "evidence in the order of the text: {text:?}");
        last = start;
    }
    let says = |what: &str| reading.evidence.iter().any(|evidence| evidence.says == what);
    assert_eq!(
        !reading.flags.is_empty(),
        reading.kind == Kind::Flagged,
        "flags and only flags make it flagged: {text:?}"
    );
    assert_eq!(
        reading.control.is_some(),
        reading.kind == Kind::Control,
        "a control and only that makes it one: {text:?}"
    );
    let hurts = |flag: Flag| flag.is_body() || flag == Flag::Pain;
    assert!(!reading.red_flag || reading.flags.iter().any(hurts), "a red flag hurts: {text:?} {reading:?}");
    if reading.kind == Kind::AllClear {
        assert!(!says("unknown") && !says("doubt"), "all clear with something left over: {text:?} {reading:?}");
    }
}

/// Whether the text has a word of trouble standing alone, and none that could take the harm out of it.
fn alarming(text: &str) -> bool {
    let lower = text.to_lowercase();
    let words: HashSet<&str> = lower.split(|c: char| !c.is_alphanumeric() && c != '\'').collect();
    let plain = |word: &str| word.replace('\'', "");
    let any = |set: &HashSet<String>| words.iter().any(|word| set.contains(&plain(word)));
    let sign = SIGNS.iter().any(|sign| words.contains(sign));
    let trouble = TROUBLES.iter().any(|trouble| words.contains(trouble));
    (sign && !any(&WORDS.denying)) || (trouble && !any(&WORDS.denying) && !any(&WORDS.disarming))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_alarming() {
        for text in ["strap broken", "all good, dizzy", "CASCO ROTO"] {
            assert!(alarming(text), "{text}");
        }
        for text in ["strap not broken", "isn't broken", "broken phone", "all good", "sin mareado"] {
            assert!(!alarming(text), "{text}");
        }
    }
}
