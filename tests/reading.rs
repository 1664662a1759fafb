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

#[test]
fn nothing_off_is_read_as_all_clear_and_most_is_read_exactly() {
    let score = score("sample.jsonl");
    assert!(score.lines > 200);
    assert_eq!(score.unsafe_clear, 0, "{score}");
    assert!(score.symptoms_missed * 50 < score.symptoms * 2, "{score}");
    assert!(score.flags_exact * 100 >= score.flagged * 90, "{score}");
    assert!(score.clear_asked * 100 < score.clear * 12, "{score}");
    assert!(score.control_right * 100 >= score.controls * 90, "{score}");
}
