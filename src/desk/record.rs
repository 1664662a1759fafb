//! The record: append-only lines, each with the hash of the one before it, so that a change shows.

use sha2::{Digest, Sha256};

use crate::store::rows::{ProgramRow, RecordLine};
use crate::trade::time::Moment;

/// Makes the next line and moves the head to it.
pub fn append(
    head: &mut ProgramRow,
    at: Moment,
    who: &str,
    what: &str,
    subject: &str,
    why: &str,
    message: Option<&str>,
) -> RecordLine {
    let mut line = RecordLine {
        program: head.program.clone(),
        seq: head.record_seq + 1,
        at,
        who: who.to_owned(),
        what: what.to_owned(),
        subject: subject.to_owned(),
        why: why.to_owned(),
        message: message.map(ToOwned::to_owned),
        previous: head.record_hash.clone(),
        hash: String::new(),
        erased: false,
    };
    line.hash = hash(&line);
    head.record_seq = line.seq;
    head.record_hash.clone_from(&line.hash);
    line
}

/// SHA-256 over the line's fields, each with its length before it, so that no text can pass for two fields.
#[must_use]
pub fn hash(line: &RecordLine) -> String {
    let mut hasher = Sha256::new();
    let seq = line.seq.to_string();
    let at = line.at.millis().to_string();
    let fields = [
        line.program.as_str(),
        &seq,
        &at,
        &line.who,
        &line.what,
        &line.subject,
        &line.why,
        line.message.as_deref().unwrap_or_default(),
        &line.previous,
    ];
    for field in fields {
        hasher.update((field.len() as u64).to_be_bytes());
        hasher.update(field.as_bytes());
    }
    hasher.finalize().iter().fold(String::new(), |mut text, byte| {
        use std::fmt::Write as _;
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// What is wrong with a record.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Broken {
    /// A line is missing, or two are in each other's place.
    #[error("line {0} is missing, or out of its place")]
    Missing(i64),
    /// A line does not follow from the one before it.
    #[error("line {0} does not follow from the line before it: one of them was changed")]
    Chain(i64),
    /// A line's words are not those that were recorded.
    #[error("line {0} was changed")]
    Changed(i64),
    /// Lines at the end are missing: the last that there is, and the last that there was.
    #[error("the record ends with line {0}, and line {1} was written")]
    End(i64, i64),
    /// A line's words are gone, and no later line says that they were erased.
    #[error("the words of line {0} are gone, and no line says that they were erased")]
    Unexplained(i64),
}

/// A record that holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holds {
    /// How many lines it has.
    pub lines: usize,
    /// Of them erased on request.
    pub erased: usize,
    /// Hash of the last line.
    pub hash: String,
}

/// What a line says that erases others.
pub const ERASED: &str = "words erased";

/// Whether a record holds, from its first line to its head. An erased line keeps its place and its hash; a later line has to
/// account for it.
///
/// # Errors
/// [`Broken`], the first that is found.
pub fn verify(lines: &[RecordLine], head: &ProgramRow) -> Result<Holds, Broken> {
    let mut previous = "";
    for (line, expected) in lines.iter().zip(1..) {
        if line.seq != expected {
            return Err(Broken::Missing(expected));
        }
        if line.previous != previous {
            return Err(Broken::Chain(line.seq));
        }
        if !line.erased && line.hash != hash(line) {
            return Err(Broken::Changed(line.seq));
        }
        previous = &line.hash;
    }
    let last = lines.last().map_or(0, |line| line.seq);
    if last != head.record_seq || previous != head.record_hash {
        return Err(Broken::End(last, head.record_seq));
    }
    let accounted: std::collections::BTreeSet<i64> =
        lines.iter().filter(|line| line.what == ERASED && !line.erased).flat_map(|line| numbers(&line.why)).collect();
    let erased: Vec<i64> = lines.iter().filter(|line| line.erased).map(|line| line.seq).collect();
    match erased.iter().find(|seq| !accounted.contains(seq)) {
        Some(seq) => Err(Broken::Unexplained(*seq)),
        None => Ok(Holds { lines: lines.len(), erased: erased.len(), hash: previous.to_owned() }),
    }
}

/// The numbers behind the last colon: "asked by the family: 3-5, 9".
fn numbers(why: &str) -> Vec<i64> {
    let list = why.rsplit(':').next().unwrap_or_default();
    let range = |part: &str| -> Option<std::ops::RangeInclusive<i64>> {
        let (first, last) = part.trim().split_once('-').unwrap_or((part.trim(), part.trim()));
        Some(first.parse().ok()?..=last.parse().ok()?)
    };
    list.split(',').filter_map(range).flatten().collect()
}

/// Numbers as ranges: "3-5, 9".
#[must_use]
pub fn ranges(numbers: &[i64]) -> String {
    let mut all: Vec<(i64, i64)> = Vec::new();
    for number in numbers {
        match all.last_mut() {
            Some((_, last)) if *last + 1 == *number => *last = *number,
            _ => all.push((*number, *number)),
        }
    }
    let one = |(first, last): &(i64, i64)| if first == last { first.to_string() } else { format!("{first}-{last}") };
    all.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// Whether a line is about somebody: one of these identifiers or numbers stands in it as a whole.
#[must_use]
pub fn is_about(line: &RecordLine, ids: &std::collections::BTreeSet<String>) -> bool {
    let fields = [&line.who, &line.subject, &line.why, line.message.as_ref().unwrap_or(&line.subject)];
    let ends = |c: char| !(c.is_alphanumeric() || matches!(c, '-' | '_' | '+' | '.'));
    fields.iter().any(|field| ids.contains(field.as_str()) || field.split(ends).any(|word| ids.contains(word)))
}

/// A line without its words.
#[must_use]
pub fn erase(line: &RecordLine) -> RecordLine {
    RecordLine {
        who: String::new(),
        what: String::new(),
        subject: String::new(),
        why: String::new(),
        message: None,
        erased: true,
        ..line.clone()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::trade::roster::ProgramId;

    fn record(of: &[(&str, &str)]) -> (Vec<RecordLine>, ProgramRow) {
        let mut head = ProgramRow { program: ProgramId::from("p"), record_seq: 0, record_hash: String::new() };
        let lines = of
            .iter()
            .map(|(what, subject)| append(&mut head, Moment::from_millis(5), "program", what, subject, "", None))
            .collect();
        (lines, head)
    }

    fn lines() -> (Vec<RecordLine>, ProgramRow) {
        record(&[("a", "12"), ("b", "12"), ("c", "a7"), ("d", "held/a7/5")])
    }

    /// The hash function is the one of its standard: FIPS 180-4's published examples, by way of NIST's example values.
    #[test]
    fn sha256_is_that_of_the_standard() {
        let of = |text: &str| format!("{:x}", HexOf(&Sha256::digest(text.as_bytes())));
        assert_eq!(of("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(
            of("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
        );
        assert_eq!(of(""), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    }

    struct HexOf<'a>(&'a [u8]);
    impl std::fmt::LowerHex for HexOf<'_> {
        fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            self.0.iter().try_for_each(|byte| write!(out, "{byte:02x}"))
        }
    }

    #[test]
    fn an_untouched_record_holds() {
        let (lines, head) = lines();
        assert_eq!(verify(&lines, &head).unwrap().lines, 4);
    }

    #[test]
    fn a_changed_missing_or_moved_line_shows() {
        let (whole, head) = lines();
        let mut changed = whole.clone();
        changed[1].why = "because".into();
        assert_eq!(verify(&changed, &head), Err(Broken::Changed(2)));
        let mut missing = whole.clone();
        missing.remove(1);
        assert_eq!(verify(&missing, &head), Err(Broken::Missing(2)));
        let mut moved = whole.clone();
        moved.swap(0, 1);
        assert_eq!(verify(&moved, &head), Err(Broken::Missing(1)));
        let mut short = whole.clone();
        short.pop();
        assert_eq!(verify(&short, &head), Err(Broken::End(3, 4)));
        let mut forged = whole;
        forged[1].why = "because".into();
        forged[1].hash = hash(&forged[1]);
        assert_eq!(verify(&forged, &head), Err(Broken::Chain(3)), "a line made to fit breaks the next");
    }

    #[test]
    fn an_erased_line_is_counted_and_has_to_be_accounted_for() {
        let (mut lines, mut head) = lines();
        let ids = std::collections::BTreeSet::from(["a7".to_owned()]);
        let about: Vec<i64> = lines.iter().filter(|line| is_about(line, &ids)).map(|line| line.seq).collect();
        assert_eq!(about, [3, 4]);
        for line in &mut lines {
            if about.contains(&line.seq) {
                *line = erase(line);
            }
        }
        assert_eq!(verify(&lines, &head), Err(Broken::Unexplained(3)));
        let why = format!("asked by the family, 2 lines: {}", ranges(&about));
        lines.push(append(&mut head, Moment::from_millis(9), "administrator", ERASED, "an athlete", &why, None));
        let holds = verify(&lines, &head).unwrap();
        assert_eq!((holds.lines, holds.erased), (5, 2));
    }

    proptest! {
        #[test]
        fn ranges_read_back(numbers in proptest::collection::btree_set(1..200_i64, 0..40)) {
            let all: Vec<i64> = numbers.into_iter().collect();
            prop_assert_eq!(super::numbers(&format!("x: {}", ranges(&all))), all);
        }

        /// Whichever one field of whichever line is changed, it shows.
        #[test]
        fn every_change_shows(line in 0..4_usize, field in 0..8_u8) {
            let (mut lines, head) = lines();
            let one = &mut lines[line];
            match field {
                0 => one.who.push('x'),
                1 => one.what.push('x'),
                2 => one.subject.push('x'),
                3 => one.why.push('x'),
                4 => one.message = Some("x".into()),
                5 => one.at = Moment::from_millis(6),
                6 => one.previous.push('0'),
                _ => one.erased = true,
            }
            prop_assert!(verify(&lines, &head).is_err());
        }
    }
}
