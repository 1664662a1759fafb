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

/// The number of the first line that does not follow from the one before it, if there is one.
#[must_use]
pub fn first_broken(lines: &[RecordLine]) -> Option<i64> {
    let mut previous = "";
    for (line, expected) in lines.iter().zip(1..) {
        if line.seq != expected || line.previous != previous || line.hash != hash(line) {
            return Some(line.seq);
        }
        previous = &line.hash;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::roster::ProgramId;

    fn lines() -> Vec<RecordLine> {
        let mut head = ProgramRow { program: ProgramId::from("p"), record_seq: 0, record_hash: String::new() };
        ["a", "b", "c"]
            .into_iter()
            .map(|what| append(&mut head, Moment::from_millis(5), "program", what, "12", "", None))
            .collect()
    }

    #[test]
    fn an_untouched_record_holds() {
        assert_eq!(first_broken(&lines()), None);
    }

    #[test]
    fn a_changed_missing_or_moved_line_shows() {
        let mut changed = lines();
        changed[1].why = "because".into();
        assert_eq!(first_broken(&changed), Some(2));
        let mut missing = lines();
        missing.remove(1);
        assert_eq!(first_broken(&missing), Some(3));
        let mut moved = lines();
        moved.swap(0, 1);
        assert_eq!(first_broken(&moved), Some(2));
    }
}
