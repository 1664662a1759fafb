//! The reader against hand-labelled replies. Every miss is printed; what must never happen fails.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use browline::reading::score::{Labelled, Score};

fn score(name: &str) -> Score {
    let path = format!("{}/tests/replies/{name}", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let lines: Vec<Labelled> = text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let score = Score::of(&lines);
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
