//! The reader against hand-labelled replies. Every miss is printed; what must never happen fails.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use browline::reading::score::{Labelled, Score};

fn labelled(name: &str) -> Vec<Labelled> {
    let path = format!("{}/tests/replies/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn score(name: &str) -> Score {
    let score = Score::of(&labelled(name));
    println!("{score}");
    score
}

/// The sample that the lexicons were written beside.
#[test]
fn nothing_off_is_read_as_all_clear_and_nearly_all_is_read_exactly() {
    let score = score("sample.jsonl");
    assert!(score.lines > 200);
    assert_eq!(score.unsafe_clear, 0, "{score}");
    assert_eq!(score.symptoms_missed, 0, "{score}");
    assert!(score.flags_exact * 100 >= score.flagged * 95, "{score}");
    assert!(score.clear_asked * 100 <= score.clear * 5, "{score}");
    assert!(score.control_right * 100 >= score.controls * 97, "{score}");
}

/// Another hand's replies, which the lexicons were not written to. What must never happen is held to; how many are asked
/// again that need not be is held to what is reached today, so that it only gets better.
#[test]
fn replies_of_another_hand_are_read_safely() {
    let score = score("second_hand_dev.jsonl");
    assert_eq!(score.unsafe_clear, 0, "{score}");
    assert!(score.right * 100 >= score.lines * 68, "{score}");
}

/// A language read apart. What must never happen is held to; the rest to a little less than what is reached.
#[test]
fn portuguese_is_read_safely() {
    let score = score("portuguese.jsonl");
    assert!(score.lines >= 120 && score.symptoms >= 20, "{score}");
    assert_eq!(score.unsafe_clear, 0, "{score}");
    assert_eq!(score.symptoms_missed, 0, "{score}");
    assert!(score.right * 100 >= score.lines * 96, "{score}");
    assert!(score.control_right * 100 >= score.controls * 97, "{score}");
}

/// Written before there was a Portuguese word in the reader, and never written to. Keep it so.
#[test]
fn portuguese_held_apart_is_read_safely() {
    let score = score("portuguese_held_out.jsonl");
    assert!(score.lines >= 60, "{score}");
    assert_eq!(score.unsafe_clear, 0, "{score}");
    assert_eq!(score.symptoms_missed, 0, "{score}");
    assert!(score.right * 100 >= score.lines * 90, "{score}");
}

/// Lines of languages that are read side by side are not read apart.
#[test]
fn another_language_takes_no_reply_from_english_and_spanish() {
    for name in ["sample.jsonl", "second_hand_dev.jsonl"] {
        for line in labelled(name) {
            let lang = browline::reading::read(&line.text).lang.name();
            assert!(["en", "es", "mix"].contains(&lang), "{lang}: {}", line.text);
        }
    }
}
