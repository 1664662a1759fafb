//! The reader against hand-labelled replies. Every miss is printed; what must never happen fails.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use browline::reading::score::{Labelled, Score};

fn lines(path: &str) -> Vec<Labelled> {
    std::fs::read_to_string(path).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn score(name: &str) -> Score {
    let score = Score::of(&lines(&format!("{}/tests/replies/{name}", env!("CARGO_MANIFEST_DIR"))));
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

/// Other hands' replies, which the lexicons were taught from since: what must never happen, and what is reached.
#[test]
fn replies_of_other_hands_are_read_safely() {
    for (name, right) in [
        ("second_hand.jsonl", 91),
        ("second_hand_more.jsonl", 92),
        ("third_hand.jsonl", 87),
        ("fourth_hand.jsonl", 93),
        ("fifth_hand.jsonl", 93),
        ("sixth_hand.jsonl", 82),
        ("seventh_hand.jsonl", 95),
        ("eighth_hand.jsonl", 91),
        ("ninth_hand.jsonl", 90),
        ("tenth_hand.jsonl", 76),
        ("eleventh_hand.jsonl", 85),
        ("twelfth_hand.jsonl", 83),
        ("thirteenth_hand.jsonl", 85),
        ("fourteenth_hand.jsonl", 85),
        ("fifteenth_hand.jsonl", 89),
        ("sixteenth_hand.jsonl", 73),
        ("seventeenth_hand.jsonl", 80),
        ("near_misses.jsonl", 90),
        ("eighteenth_hand.jsonl", 80),
        ("nineteenth_hand.jsonl", 85),
        ("twentieth_hand.jsonl", 80),
        ("twenty_first_hand.jsonl", 85),
        ("twenty_second_hand.jsonl", 70),
        ("twenty_third_hand.jsonl", 85),
        ("twenty_fourth_hand.jsonl", 75),
        ("twenty_fifth_hand.jsonl", 85),
        ("twenty_sixth_hand.jsonl", 85),
        ("stories.jsonl", 60),
        ("twenty_seventh_hand.jsonl", 85),
        ("twenty_eighth_hand.jsonl", 85),
        ("twenty_ninth_hand.jsonl", 85),
        ("thirtieth_hand.jsonl", 85),
        ("thirty_first_hand.jsonl", 80),
        ("thirty_second_hand.jsonl", 85),
        ("thirty_third_hand.jsonl", 85),
        ("thirty_fourth_hand.jsonl", 85),
        ("thirty_fifth_hand.jsonl", 85),
        ("middling.jsonl", 73),
        ("signs.jsonl", 80),
        ("thirty_sixth_hand.jsonl", 85),
        ("thirty_seventh_hand.jsonl", 82),
        ("thirty_eighth_hand.jsonl", 84),
        ("like_the_sample.jsonl", 93),
        ("plainer.jsonl", 79),
        ("middling_more.jsonl", 64),
        ("stories_more.jsonl", 67),
        ("trouble_told.jsonl", 86),
        ("signs_more.jsonl", 79),
        ("fragments.jsonl", 80),
        ("elsewhere.jsonl", 91),
        ("ordinary.jsonl", 90),
        ("told_besides.jsonl", 70),
        ("well_said.jsonl", 85),
        ("thirty_ninth_hand.jsonl", 90),
        ("sounds_fine.jsonl", 85),
        ("and_something_else.jsonl", 80),
        ("fortieth_hand.jsonl", 90),
        ("elsewhere_more.jsonl", 85),
        ("plain.jsonl", 96),
        ("plain_trouble.jsonl", 90),
        ("seasons.jsonl", 86),
        ("by_kind.jsonl", 83),
        ("chat.jsonl", 88),
        ("denials.jsonl", 91),
        ("noise.jsonl", 95),
    ] {
        let score = score(name);
        assert_eq!(score.unsafe_clear, 0, "{name}: {score}");
        assert!(score.symptoms_missed * 100 <= score.symptoms, "{name}: {score}");
        assert!(score.right * 100 >= score.lines * right, "{name}: {score}");
    }
}

/// Replies that nothing was learned from: how the reader does on what it has never seen. Kept so that it only gets better;
/// whoever teaches the lexicons from these files has to write new ones.
#[test]
fn replies_never_learned_from_are_read_safely() {
    for (name, right, flags) in [
        ("held_out.jsonl", 86, 87),
        ("held_out_wild.jsonl", 85, 90),
        ("held_out_season.jsonl", 92, 94),
        ("held_out_like.jsonl", 78, 85),
        ("held_out_again.jsonl", 85, 89),
        ("held_out_squad.jsonl", 90, 91),
        ("held_out_league.jsonl", 86, 88),
        ("held_out_term.jsonl", 66, 75),
        ("held_out_kin.jsonl", 90, 92),
        ("held_out_cousins.jsonl", 87, 91),
    ] {
        let score = score(name);
        assert_eq!(score.unsafe_clear, 0, "{name}: {score}");
        assert!(score.symptoms_missed * 100 <= score.symptoms * 3, "{name}: {score}");
        assert!(score.right * 100 >= score.lines * right, "{name}: {score}");
        assert!(score.flags_exact * 100 >= score.flagged * flags, "{name}: {score}");
    }
}

/// Trouble put in words that the lexicons take for harmless, by hands that searched them for such words: what was learned from,
/// and what was not. Nobody reads all of these right; kept so that fewer get past.
#[test]
fn most_of_what_was_made_to_get_past_does_not() {
    for (name, past) in
        [("swallowed.jsonl", 1), ("pairs.jsonl", 8), ("held_out_swallowed.jsonl", 30), ("held_out_pairs.jsonl", 40)]
    {
        let score = score(name);
        let off = score.lines - score.clear;
        assert!(score.unsafe_clear * 100 <= off * past, "{name}: {score}");
    }
}

/// What the binary embeds is what the labelled replies teach.
#[test]
fn the_second_reader_is_the_one_that_these_replies_train() {
    let folder = format!("{}/tests/replies", env!("CARGO_MANIFEST_DIR"));
    let names = [
        "sample",
        "second_hand",
        "second_hand_more",
        "third_hand",
        "fourth_hand",
        "fifth_hand",
        "sixth_hand",
        "seventh_hand",
        "eighth_hand",
        "plain",
        "portuguese",
        "ninth_hand",
        "seasons",
        "by_kind",
        "chat",
        "denials",
        "noise",
        "tenth_hand",
        "eleventh_hand",
        "twelfth_hand",
        "thirteenth_hand",
        "fourteenth_hand",
        "fifteenth_hand",
        "sixteenth_hand",
        "seventeenth_hand",
        "near_misses",
        "eighteenth_hand",
        "nineteenth_hand",
        "twentieth_hand",
        "twenty_first_hand",
        "twenty_second_hand",
        "swallowed",
        "pairs",
        "twenty_third_hand",
        "twenty_fourth_hand",
        "plain_trouble",
        "twenty_fifth_hand",
        "twenty_sixth_hand",
        "stories",
        "twenty_seventh_hand",
        "twenty_eighth_hand",
        "twenty_ninth_hand",
        "thirtieth_hand",
        "thirty_first_hand",
        "thirty_second_hand",
        "thirty_third_hand",
        "thirty_fourth_hand",
        "thirty_fifth_hand",
        "middling",
        "signs",
        "thirty_sixth_hand",
        "thirty_seventh_hand",
        "thirty_eighth_hand",
        "like_the_sample",
        "plainer",
        "middling_more",
        "stories_more",
        "trouble_told",
        "signs_more",
        "fragments",
        "elsewhere",
        "ordinary",
        "told_besides",
        "well_said",
        "thirty_ninth_hand",
        "sounds_fine",
        "and_something_else",
        "fortieth_hand",
        "elsewhere_more",
    ];
    let lines: Vec<Labelled> = names.iter().flat_map(|name| lines(&format!("{folder}/{name}.jsonl"))).collect();
    let embedded = std::fs::read(format!("{}/src/reading/second.weights", env!("CARGO_MANIFEST_DIR"))).unwrap();
    assert!(
        browline::reading::second::train(&lines) == embedded,
        "train it anew: cargo run -- read --train tests/replies/{{{}}}.jsonl --weights src/reading/second.weights",
        names.join(",")
    );
}
