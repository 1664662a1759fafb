//! Whose text it is, when several athletes share a number: by name, by jersey number, or by asking.

use crate::trade::roster::{Athlete, AthleteId};

/// Whose a text is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Whose {
    /// Each part belongs to one athlete.
    Parts(Vec<(AthleteId, String)>),
    /// It says nothing that tells: ask.
    Ask,
}

/// A word of a text, folded, with its place.
struct Word<'t> {
    folded: String,
    start: usize,
    end: usize,
    raw: &'t str,
}

/// Sorts a text among athletes who share a number. A name or `#jersey` begins the part of its athlete; "both" and its
/// like give the whole text to all.
#[must_use]
pub fn sort(text: &str, athletes: &[&Athlete]) -> Whose {
    let words = words(text);
    let mut marks: Vec<(usize, usize, &AthleteId)> = Vec::new();
    for (index, word) in words.iter().enumerate() {
        let named: Vec<&&Athlete> = athletes.iter().filter(|athlete| names(word, athlete)).collect();
        if let [athlete] = named.as_slice() {
            marks.push((index, word.end, &athlete.id));
        }
    }
    if marks.is_empty() {
        return if words.iter().any(|word| is_all(&word.folded)) {
            Whose::Parts(athletes.iter().map(|athlete| (athlete.id.clone(), without_all(text, &words))).collect())
        } else {
            Whose::Ask
        };
    }
    Whose::Parts(parts(text, &words, &marks))
}

fn parts(text: &str, words: &[Word<'_>], marks: &[(usize, usize, &AthleteId)]) -> Vec<(AthleteId, String)> {
    let mut parts: Vec<(AthleteId, String)> = Vec::new();
    // "Jonah and Eli are good": names in a row share what follows.
    let mut group: Vec<&AthleteId> = Vec::new();
    for (at, (index, end, id)) in marks.iter().enumerate() {
        group.push(id);
        let next = marks.get(at + 1);
        let stop = next.map_or(text.len(), |(next, _, _)| words.get(*next).map_or(text.len(), |word| word.start));
        let between: Vec<&Word<'_>> = words
            .iter()
            .filter(|word| word.start >= *end && word.end <= stop)
            .filter(|word| !matches!(word.folded.as_str(), "and" | "y" | "e" | "n" | "&"))
            .collect();
        if between.is_empty() && next.is_some() {
            continue;
        }
        let mut part = text.get(*end..stop).unwrap_or_default().trim().to_owned();
        if at + 1 == group.len() {
            // What stands before the first name belongs to it: "all good - Jonah".
            let first = marks.first().and_then(|(first, _, _)| words.get(*first)).map_or(0, |word| word.start);
            let before = text.get(..first).unwrap_or_default().trim();
            part = format!("{before} {part}").trim().to_owned();
        }
        let part = trim_joints(&part);
        parts.extend(group.drain(..).map(|id| (id.clone(), part.clone())));
        let _ = index;
    }
    parts
}

/// Takes the dashes, colons and linking words off the ends of a part.
fn trim_joints(part: &str) -> String {
    let mut part = part.trim_matches(|c: char| c.is_whitespace() || matches!(c, '-' | ':' | ',' | ';' | '.' | '~'));
    for joint in [" and", " y", " but", " pero"] {
        part = part.strip_suffix(joint).unwrap_or(part);
    }
    for joint in ["is ", "says ", "esta ", "está "] {
        part = part.strip_prefix(joint).unwrap_or(part);
    }
    part.trim().to_owned()
}

/// The athlete that an answer to "Which one? 1 Jonah 2 Eli" names: by the number offered, by name or by jersey.
#[must_use]
pub fn choice(text: &str, options: &[&Athlete]) -> Option<Vec<AthleteId>> {
    let words = words(text);
    if words.is_empty() || words.len() > 4 {
        return None;
    }
    if words.iter().any(|word| is_all(&word.folded)) {
        return Some(options.iter().map(|athlete| athlete.id.clone()).collect());
    }
    let named: Vec<AthleteId> = options
        .iter()
        .filter(|athlete| words.iter().any(|word| names(word, athlete)))
        .map(|athlete| athlete.id.clone())
        .collect();
    if !named.is_empty() {
        return Some(named);
    }
    let [word] = words.as_slice() else { return None };
    let number: usize = word.folded.trim_start_matches('#').parse().ok()?;
    let chosen = number.checked_sub(1).and_then(|index| options.get(index))?;
    Some(vec![chosen.id.clone()])
}

fn is_all(word: &str) -> bool {
    matches!(word, "both" | "ambos" | "ambas")
}

fn without_all(text: &str, words: &[Word<'_>]) -> String {
    let mut out = text.to_owned();
    for word in words.iter().rev().filter(|word| is_all(&word.folded)) {
        out.replace_range(word.start..word.end, "");
    }
    out.trim().to_owned()
}

fn names(word: &Word<'_>, athlete: &Athlete) -> bool {
    let first = fold(&athlete.first);
    let first = first.split_whitespace().next().unwrap_or_default();
    let jersey = athlete.jersey.as_deref();
    let tagged = word.raw.strip_prefix('#').is_some_and(|number| Some(number) == jersey);
    // Two digits are a jersey number when they cannot be check points.
    let bare =
        word.raw.len() >= 2 && Some(word.raw) == jersey && word.raw.chars().any(|digit| !('1'..='7').contains(&digit));
    (!first.is_empty() && (word.folded == first || word.folded == format!("{first}s"))) || tagged || bare
}

fn words(text: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    let mut start = None;
    let ends = text.char_indices().map(|(at, c)| (at, Some(c))).chain([(text.len(), None)]);
    for (at, c) in ends {
        let inside = c.is_some_and(|c| c.is_alphanumeric() || matches!(c, '#' | '&'));
        match (start, inside) {
            (None, true) => start = Some(at),
            (Some(from), false) => {
                let raw = text.get(from..at).unwrap_or_default();
                words.push(Word { folded: fold(raw), start: from, end: at, raw });
                start = None;
            }
            _ => {}
        }
    }
    words
}

/// Small letters without accents.
#[must_use]
pub fn fold(text: &str) -> String {
    use unicode_normalization::{UnicodeNormalization as _, char::is_combining_mark};
    text.nfd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase).collect()
}
