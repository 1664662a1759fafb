//! The reader against hand-labelled replies. Every miss is printed; what must never happen fails.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use browline::reading::score::{Labelled, Score};
use browline::reading::{Kind, read};

fn lines(path: &str) -> Vec<Labelled> {
    std::fs::read_to_string(path).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// The labelled replies of a file in `tests/replies`.
fn replies(name: &str) -> Vec<Labelled> {
    lines(&format!("{}/tests/replies/{name}", env!("CARGO_MANIFEST_DIR")))
}

fn score(name: &str) -> Score {
    let score = Score::of(&replies(name));
    println!("{score}");
    score
}

/// What a reading rests on lies in the text, in order.
#[test]
fn evidence_is_a_stretch_of_the_text() {
    for entry in std::fs::read_dir(format!("{}/tests/replies", env!("CARGO_MANIFEST_DIR"))).unwrap() {
        let path = entry.unwrap().path();
        for line in lines(path.to_str().unwrap()) {
            let reading = read(&line.text);
            for evidence in &reading.evidence {
                let (from, to) = evidence.span;
                assert!(
                    line.text.get(from..to).is_some_and(|stretch| !stretch.is_empty()),
                    "{evidence:?}: {}",
                    line.text
                );
            }
            assert!(reading.evidence.is_sorted_by_key(|evidence| evidence.span.0), "{reading:?}: {}", line.text);
        }
    }
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
        ("second_hand.jsonl", 95),
        ("second_hand_more.jsonl", 95),
        ("third_hand.jsonl", 93),
        ("fourth_hand.jsonl", 96),
        ("fifth_hand.jsonl", 98),
        ("sixth_hand.jsonl", 91),
        ("seventh_hand.jsonl", 98),
        ("eighth_hand.jsonl", 95),
        ("ninth_hand.jsonl", 92),
        ("tenth_hand.jsonl", 82),
        ("eleventh_hand.jsonl", 90),
        ("twelfth_hand.jsonl", 87),
        ("thirteenth_hand.jsonl", 89),
        ("fourteenth_hand.jsonl", 90),
        ("fifteenth_hand.jsonl", 94),
        ("sixteenth_hand.jsonl", 80),
        ("seventeenth_hand.jsonl", 89),
        ("near_misses.jsonl", 95),
        ("eighteenth_hand.jsonl", 89),
        ("nineteenth_hand.jsonl", 93),
        ("twentieth_hand.jsonl", 88),
        ("twenty_first_hand.jsonl", 94),
        ("twenty_second_hand.jsonl", 78),
        ("twenty_third_hand.jsonl", 92),
        ("twenty_fourth_hand.jsonl", 89),
        ("twenty_fifth_hand.jsonl", 90),
        ("twenty_sixth_hand.jsonl", 92),
        ("stories.jsonl", 71),
        ("twenty_seventh_hand.jsonl", 89),
        ("twenty_eighth_hand.jsonl", 93),
        ("twenty_ninth_hand.jsonl", 93),
        ("thirtieth_hand.jsonl", 90),
        ("thirty_first_hand.jsonl", 91),
        ("thirty_second_hand.jsonl", 93),
        ("thirty_third_hand.jsonl", 94),
        ("thirty_fourth_hand.jsonl", 91),
        ("thirty_fifth_hand.jsonl", 94),
        ("middling.jsonl", 76),
        ("signs.jsonl", 90),
        ("thirty_sixth_hand.jsonl", 86),
        ("thirty_seventh_hand.jsonl", 84),
        ("thirty_eighth_hand.jsonl", 85),
        ("like_the_sample.jsonl", 94),
        ("plainer.jsonl", 82),
        ("middling_more.jsonl", 67),
        ("stories_more.jsonl", 70),
        ("trouble_told.jsonl", 87),
        ("signs_more.jsonl", 80),
        ("fragments.jsonl", 82),
        ("elsewhere.jsonl", 91),
        ("ordinary.jsonl", 95),
        ("told_besides.jsonl", 85),
        ("well_said.jsonl", 89),
        ("thirty_ninth_hand.jsonl", 95),
        ("sounds_fine.jsonl", 97),
        ("and_something_else.jsonl", 89),
        ("fortieth_hand.jsonl", 95),
        ("elsewhere_more.jsonl", 87),
        ("forty_first_hand.jsonl", 95),
        ("well_said_more.jsonl", 89),
        ("trouble_told_more.jsonl", 93),
        ("forty_second_hand.jsonl", 91),
        ("well_said_again.jsonl", 87),
        ("and_small_talk.jsonl", 79),
        ("stories_that_end_well.jsonl", 56),
        ("trouble_in_passing.jsonl", 93),
        ("forty_third_hand.jsonl", 93),
        ("forty_fourth_hand.jsonl", 90),
        ("well_said_besides.jsonl", 89),
        ("plainer_more.jsonl", 88),
        ("trouble_in_passing_more.jsonl", 92),
        ("stories_that_end_well_more.jsonl", 62),
        ("forty_fifth_hand.jsonl", 92),
        ("well_said_besides_more.jsonl", 90),
        ("plainer_still.jsonl", 87),
        ("middling_again.jsonl", 83),
        ("trouble_told_again.jsonl", 93),
        ("forty_sixth_hand.jsonl", 93),
        ("well_said_besides_again.jsonl", 88),
        ("sounds_fine_more.jsonl", 93),
        ("trouble_told_once_more.jsonl", 97),
        ("stories_that_end_well_again.jsonl", 72),
        ("forty_seventh_hand.jsonl", 93),
        ("well_said_besides_once_more.jsonl", 87),
        ("plainest.jsonl", 88),
        ("asked_for.jsonl", 94),
        ("middling_once_more.jsonl", 84),
        ("forty_eighth_hand.jsonl", 91),
        ("well_said_beside_these.jsonl", 87),
        ("forty_ninth_hand.jsonl", 93),
        ("well_said_beside_those.jsonl", 88),
        ("trouble_in_passing_again.jsonl", 95),
        ("fiftieth_hand.jsonl", 91),
        ("well_said_beside_others.jsonl", 88),
        ("trouble_told_to_the_end.jsonl", 95),
        ("fifty_first_hand.jsonl", 92),
        ("well_said_beside_more.jsonl", 89),
        ("bien_dicho.jsonl", 86),
        ("fifty_second_hand.jsonl", 91),
        ("plainest_again.jsonl", 84),
        ("trouble_told_at_last.jsonl", 94),
        ("fifty_fifth_hand.jsonl", 93),
        ("fifty_fourth_hand.jsonl", 93),
        ("fifty_seventh_hand.jsonl", 92),
        ("fifty_sixth_hand.jsonl", 93),
        ("fifty_third_hand.jsonl", 91),
        ("middling_by_others.jsonl", 84),
        ("no_answers.jsonl", 92),
        ("no_answers_more.jsonl", 91),
        ("plainest_by_others.jsonl", 72),
        ("stories_that_end_well_by_others.jsonl", 78),
        ("trouble_beside_the_sample.jsonl", 94),
        ("trouble_beside_the_sample_again.jsonl", 95),
        ("trouble_beside_the_sample_at_last.jsonl", 94),
        ("trouble_beside_the_sample_more.jsonl", 95),
        ("trouble_told_by_many.jsonl", 95),
        ("trouble_told_by_others.jsonl", 93),
        ("well_said_by_all_sorts.jsonl", 90),
        ("well_said_by_many.jsonl", 92),
        ("well_said_by_more.jsonl", 87),
        ("well_said_by_others.jsonl", 91),
        ("well_said_by_still_more.jsonl", 90),
        ("well_said_by_the_last.jsonl", 92),
        ("well_said_by_yet_others.jsonl", 88),
        ("fifty_eighth_hand.jsonl", 86),
        ("fifty_ninth_hand.jsonl", 91),
        ("sixtieth_hand.jsonl", 64),
        ("sixty_first_hand.jsonl", 74),
        ("sixty_second_hand.jsonl", 90),
        ("sixty_third_hand.jsonl", 88),
        ("sixty_fourth_hand.jsonl", 90),
        ("sixty_fifth_hand.jsonl", 90),
        ("sixty_sixth_hand.jsonl", 85),
        ("well_said_in_all_ways.jsonl", 68),
        ("told_in_all_ways.jsonl", 86),
        ("told_at_length.jsonl", 75),
        ("trouble_beside_the_sample_told_otherwise.jsonl", 94),
        ("plain.jsonl", 95),
        ("plain_trouble.jsonl", 95),
        ("seasons.jsonl", 93),
        ("by_kind.jsonl", 92),
        ("chat.jsonl", 90),
        ("denials.jsonl", 92),
        ("noise.jsonl", 99),
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
        ("held_out.jsonl", 86, 88),
        ("held_out_wild.jsonl", 88, 91),
        ("held_out_season.jsonl", 94, 95),
        ("held_out_like.jsonl", 83, 89),
        ("held_out_again.jsonl", 90, 91),
        ("held_out_squad.jsonl", 92, 91),
        ("held_out_league.jsonl", 89, 91),
        ("held_out_term.jsonl", 69, 77),
        ("held_out_kin.jsonl", 92, 92),
        ("held_out_cousins.jsonl", 88, 91),
    ] {
        let score = score(name);
        assert_eq!(score.unsafe_clear, 0, "{name}: {score}");
        assert!(score.symptoms_missed * 100 <= score.symptoms * 3, "{name}: {score}");
        assert!(score.right * 100 >= score.lines * right, "{name}: {score}");
        assert!(score.flags_exact * 100 >= score.flagged * flags, "{name}: {score}");
    }
}

/// Ordinary clears by a hand that nothing was learned from: too many are asked about again, and no more than these.
#[test]
fn ordinary_clears_are_not_asked_about_more_often_than_before() {
    for (name, clear) in [("held_out_plain.jsonl", 448), ("held_out_plain_again.jsonl", 447)] {
        let score = score(name);
        assert_eq!((score.clear, score.lines), (clear, clear), "{name}: {score}");
        assert!(score.clear_asked * 100 <= score.clear * 23, "{name}: {score}");
    }
}

/// What is off, plainly said, and what is no answer, by hands that nobody learned from.
#[test]
fn what_ordinary_people_say_is_off_is_seen() {
    let score = score("held_out_plain_off.jsonl");
    assert_eq!(score.lines, 560);
    assert!(score.unsafe_clear <= 1, "{score}");
    assert_eq!(score.symptoms_missed, 0, "{score}");
    assert!(score.right * 100 >= score.lines * 84, "{score}");
}

/// The newest, which nobody has read: what a reader can be expected to do at first sight.
#[test]
fn at_first_sight_few_replies_are_misread() {
    for (name, right, flags) in [
        ("held_out_nephews.jsonl", 89, 92),
        ("held_out_neighbours.jsonl", 87, 92),
        ("held_out_grandchildren.jsonl", 83, 86),
    ] {
        let score = score(name);
        let off = score.lines - score.clear - score.controls;
        assert!(score.unsafe_clear * 1_000 <= off, "{name}: {score}");
        assert!(score.symptoms_missed * 50 <= score.symptoms, "{name}: {score}");
        assert!(score.right * 100 >= score.lines * right, "{name}: {score}");
        assert!(score.flags_exact * 100 >= score.flagged * flags, "{name}: {score}");
    }
}

/// Trouble put in words that the lexicons take for harmless, by hands that searched them for such words: what was learned from,
/// and what was not. Nobody reads all of these right; kept so that fewer get past.
#[test]
fn most_of_what_was_made_to_get_past_does_not() {
    for (name, past) in [
        ("swallowed.jsonl", 1),
        ("pairs.jsonl", 3),
        ("past_the_reader.jsonl", 2),
        ("held_out_swallowed.jsonl", 7),
        ("held_out_pairs.jsonl", 10),
    ] {
        let score = score(name);
        let off = score.lines - score.clear;
        assert!(score.unsafe_clear * 100 <= off * past, "{name}: {score}");
    }
}

/// Trouble put between two clauses of a clear reply. Some go on with what became of it ("my strap snapped, y un pad was gone, pero me lo
/// arregló todo"); kept so that fewer get past.
#[test]
fn little_trouble_in_the_middle_of_a_reply_is_lost() {
    let troubles = [
        "my strap snapped",
        "the mask is loose",
        "a screw fell out",
        "it slides around",
        "theres a crack in the shell",
        "one cheek pad is missing",
        "i got a headache",
        "the top is too tight",
        "it sits too low",
        "chin strap wont snap",
        "my head hurts",
        "la correa se rompio",
        "le falta un tornillo",
        "the air leaked out",
        "it wobbles when i run",
        "one snap popped off",
    ];
    let joints = ["and", "but", "so", "y", "pero", "n", "then", "cuz", "cause"];
    let files = ["stories_that_end_well.jsonl", "and_small_talk.jsonl", "stories.jsonl", "stories_more.jsonl"];
    let stories = files.iter().flat_map(|file| replies(file)).filter(|line| line.reading == Kind::AllClear);
    let (mut all, mut past) = (0, Vec::new());
    for (number, story) in stories.enumerate() {
        let words: Vec<&str> = story.text.split_whitespace().collect();
        let seam = |at: &usize| words[at - 1].ends_with([',', '.']) || joints.contains(&words[*at]);
        let seams: Vec<usize> = (5..words.len().saturating_sub(5)).filter(seam).collect();
        if seams.is_empty() {
            continue;
        }
        let (before, after) = words.split_at(seams[number * 7 % seams.len()]);
        let (before, after) = (before.join(" "), after.join(" "));
        let joint = [", ", " and ", ", but ", " n "][number % 4];
        let trouble = troubles[number % troubles.len()];
        let text = format!("{}{joint}{trouble}, {after}", before.trim_end_matches([',', '.']));
        all += 1;
        if read(&text).kind == Kind::AllClear {
            past.push(text);
        }
    }
    assert!(all > 1_400 && past.len() * 100 <= all * 3, "{} of {all}:\n{}", past.len(), past.join("\n"));
}

/// Trouble in a few words, put before good news or behind it with one of a dozen seams, by hands that nothing was learned from: all clear is
/// hardly ever left of it, and of what was learned from, never.
#[test]
fn trouble_put_beside_good_news_is_hardly_ever_lost() {
    let seams = [" ", ", ", " and ", " but ", ". ", " y ", " pero ", "... ", " n ", "\n", " also ", " tho "];
    let held_out = [
        "held_out_kin.jsonl",
        "held_out_cousins.jsonl",
        "held_out_nephews.jsonl",
        "held_out_neighbours.jsonl",
        "held_out_grandchildren.jsonl",
        "held_out_league.jsonl",
        "held_out_squad.jsonl",
        "held_out_again.jsonl",
    ];
    let learned = ["sample.jsonl", "like_the_sample.jsonl", "ordinary.jsonl", "seasons.jsonl", "fifth_hand.jsonl"];
    // Of a thousand: how many may be read as all clear, and how many signs of concussion among them.
    for (files, most) in [(&held_out[..], 15), (&learned[..], 5)] {
        let lines: Vec<Labelled> = files.iter().flat_map(|file| replies(file)).collect();
        let words = |line: &Labelled| line.text.split_whitespace().count();
        // What tells of a repair may tell that the trouble is over.
        let mended = |line: &Labelled| {
            let repairs =
                ["new", "nuev", "put", "swap", "pump", "air", "fix", "chang", "cambi", "tighten", "repl", "arregl"];
            let text = line.text.to_lowercase();
            repairs.iter().any(|repair| text.contains(repair))
        };
        let good: Vec<&Labelled> =
            lines.iter().filter(|line| line.reading == Kind::AllClear && words(line) <= 14 && !mended(line)).collect();
        let bad: Vec<&Labelled> = lines
            .iter()
            .filter(|line| !line.flags.is_empty() && (2..=4).contains(&words(line)) && !mended(line))
            .collect();
        assert!(good.len() > 300 && bad.len() > 150, "{} {}", good.len(), bad.len());
        let (mut all, mut lost) = (0, Vec::new());
        for (number, trouble) in bad.iter().enumerate() {
            for turn in 0..seams.len() * 4 {
                let (good, seam) = (&good[(number * 97 + turn * 31) % good.len()].text, seams[turn % seams.len()]);
                let trouble = &trouble.text;
                let text = if (turn / seams.len()).is_multiple_of(2) {
                    format!("{trouble}{seam}{good}")
                } else {
                    format!("{good}{seam}{trouble}")
                };
                all += 1;
                if read(&text).kind == Kind::AllClear {
                    lost.push(text);
                }
            }
        }
        println!("{} of {all}", lost.len());
        assert!(lost.len() * 1_000 <= all * most, "{} of {all}:\n{}", lost.len(), lost.join("\n"));
    }
}
