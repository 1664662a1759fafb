use proptest::prelude::*;

use super::*;

fn check(text: &str, kind: Kind, flags: &[Flag]) {
    let reading = read(text);
    let wanted: Flags = flags.iter().copied().collect();
    assert_eq!((reading.kind, reading.flags), (kind, wanted), "{text}: {:?}", reading.evidence);
}

#[test]
fn plain_answers_are_all_clear() {
    for text in [
        "ok",
        "OK!",
        "all good",
        "todo bien",
        "okayyy",
        "6 for 6",
        "no problems",
        "no cracks nothing broken we good",
        "6/6",
        "ta bn",
        "sin problemas",
        "✅✅✅✅✅✅",
        "tudo certo treinador",
    ] {
        check(text, Kind::AllClear, &[]);
    }
}

#[test]
fn points_are_read_however_they_are_written() {
    use Flag::{Brow, Cheeks, Crown, Grip, Hardware, Strap, Unwell};
    for text in ["2 5", "2n5", "25", "2,5", "2 and 5", "two and five", "2&5", "5 y 2", "✅❌✅✅❌✅"] {
        check(text, Kind::Flagged, &[Grip, Strap]);
    }
    check("all but 4", Kind::Flagged, &[Cheeks]);
    check("1-3 off", Kind::Flagged, &[Brow, Grip, Crown]);
    check("solo el 4 ta bien", Kind::Flagged, &[Brow, Grip, Crown, Strap, Hardware]);
    check("7", Kind::Flagged, &[Unwell]);
    check("1 2 3 4 5 6 good", Kind::AllClear, &[]);
    check("be there at 6", Kind::Unclear, &[]);
}

#[test]
fn a_head_sign_is_never_talked_away() {
    for text in [
        "my head hurts",
        "me duele la cabeza",
        "not dizzy anymore so all 6 good",
        "no headache just dizzy",
        "estou tonto",
    ] {
        check(text, Kind::Flagged, &[Flag::Symptom]);
    }
    check("no headache, all good", Kind::AllClear, &[]);
    assert!(read("my neck hurts and my fingers are tingling").red_flag);
}

#[test]
fn a_third_language_is_data_alone() {
    check("a jugular quebrou", Kind::Flagged, &[Flag::Strap]);
    check("esqueci o capacete", Kind::Flagged, &[Flag::Missing]);
}

#[test]
fn what_is_not_known_is_asked_again() {
    for text in ["blorp", "all good blorp", "fine i guess", "what is grip", "", "💀", "should be good"] {
        check(text, Kind::Unclear, &[]);
    }
}

#[test]
fn spelling_repair_worries_and_never_reassures() {
    assert_eq!(read("dizyz").kind, Kind::Flagged);
    assert_eq!(read("perfct").kind, Kind::Unclear);
}

/// 47 CFR 64.1200(a)(10) lists these; the carriers' guidelines add STOPALL.
#[test]
fn every_word_of_the_regulation_opts_out() {
    for text in [
        "stop",
        "quit",
        "end",
        "revoke",
        "opt out",
        "cancel",
        "unsubscribe",
        "STOP.",
        "Stopall",
        "optout",
        "alto",
        "baja",
        "stop please",
    ] {
        assert_eq!(read(text).control, Some(Control::Stop), "{text}");
    }
    for text in ["wont stop sliding", "need help with the strap"] {
        assert_eq!(read(text).control, None, "{text}");
    }
}

const CLEARS: &[&str] = &["ok", "all good", "todo bien", "6 for 6", "no problems here", "yessir everything fits"];
const PROBLEMS: &[&str] = &[
    "strap is broken",
    "my head hurts",
    "forgot my helmet",
    "mask is loose",
    "theres a crack",
    "estoy mareado",
    "se rompio la correa",
];

proptest! {
    #[test]
    fn any_text_is_safe_and_its_evidence_lies_within_it(text in ".{0,200}") {
        let reading = read(&text);
        prop_assert_eq!(&reading, &read(&text));
        for evidence in &reading.evidence {
            prop_assert!(text.get(evidence.span.0..evidence.span.1).is_some());
        }
    }

    #[test]
    fn a_problem_added_to_an_all_clear_is_seen(
        clear in prop::sample::select(CLEARS), problem in prop::sample::select(PROBLEMS), joint in prop::sample::select(&[" ", ". ", ", ", " but "][..]), first: bool,
    ) {
        let text = if first { format!("{problem}{joint}{clear}") } else { format!("{clear}{joint}{problem}") };
        prop_assert_ne!(read(&text).kind, Kind::AllClear, "{}", text);
    }

    #[test]
    fn case_and_spacing_change_nothing(text in prop::sample::select([CLEARS, PROBLEMS].concat())) {
        let wide = text.replace(' ', "   ").to_uppercase();
        prop_assert_eq!((read(text).kind, read(text).flags), (read(&wide).kind, read(&wide).flags));
    }
}
