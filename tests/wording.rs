//! What the program says: every text in both languages, what it costs, and what is refused as a replacement.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;
use std::sync::LazyLock;

use browline::trade::flag::{Flag, Flags};
use browline::trade::roster::Language;
use browline::wording::segments::{Encoding, count, fold};
use browline::wording::{
    Accents, Attempt, Audience, Body, FixLine, Helmet, Kind, LANGUAGES, Message, OutLine, Typed, Why, Wording,
    WordingProblem, folder,
};
use proptest::prelude::*;

use Language::{En, Es};

// ---------------------------------------------------------------------------------------------------------------
// Segments
// ---------------------------------------------------------------------------------------------------------------

/// Strings with encoding, units and segments, on which npm `sms-segments-calculator` 1.3.0, npm `split-sms` 0.1.7 and
/// PyPI `smsutil` 1.1.3 agree; the limits are those of 3GPP TS 23.038 and 23.040.
fn agreed_rows() -> Vec<(&'static str, String, Encoding, usize, usize)> {
    use Encoding::{Gsm7, Ucs2};
    let a = |times| "a".repeat(times);
    let quote = |times| "\u{2019}".repeat(times);
    let thumb = "\u{1f44d}";
    let english = "Helmet check, Jonah: 1 brow 2 grip 3 crown 4 cheeks 5 strap 6 mask. Reply OK or the numbers that are \
                   off. 7 = you don't feel right.";
    let spanish = "Revisión del casco, Iván: 1 frente 2 agarre 3 corona 4 mejillas 5 barbijo 6 careta. Responde OK o \
                   los números que fallan. 7 = no te sientes bien.";
    let plain = spanish.replace('ó', "o").replace('á', "a").replace('ú', "u");
    let row = |id, text: &str, encoding, units, segments| (id, text.to_owned(), encoding, units, segments);
    vec![
        row("1", &a(160), Gsm7, 160, 1),
        row("2", &a(161), Gsm7, 161, 2),
        row("3", &a(306), Gsm7, 306, 2),
        row("4", &a(307), Gsm7, 307, 3),
        row("5", &a(459), Gsm7, 459, 3),
        row("6", &a(460), Gsm7, 460, 4),
        row("7", "€", Gsm7, 2, 1),
        row("8", &(a(158) + "€"), Gsm7, 160, 1),
        row("9", &(a(159) + "€"), Gsm7, 161, 2),
        row("10", &"€".repeat(80), Gsm7, 160, 1),
        row("11", &"€".repeat(81), Gsm7, 162, 2),
        row("12", &(a(151) + "€" + &a(153)), Gsm7, 306, 2),
        row("13", &(a(152) + "€" + &a(151)), Gsm7, 305, 2),
        row("14", &(a(152) + "€" + &a(152)), Gsm7, 306, 3),
        row("15", "Reply {OK} or [1-6]", Gsm7, 23, 1),
        row("16", "^{}\\[~]|€", Gsm7, 18, 1),
        row("17", "Don't", Gsm7, 5, 1),
        row("18", "Don\u{2019}t", Ucs2, 5, 1),
        row("19", "Reply \u{201c}OK\u{201d}", Ucs2, 10, 1),
        row("20", "1\u{2013}6", Ucs2, 3, 1),
        row("21", "OK\u{2026}", Ucs2, 3, 1),
        row("22", "`", Ucs2, 1, 1),
        row("23", "\u{a0}", Ucs2, 1, 1),
        row("24", "\t", Ucs2, 1, 1),
        row("25", "A\nB", Gsm7, 3, 1),
        row("26", "A\r\nB", Gsm7, 4, 1),
        row("27", &quote(70), Ucs2, 70, 1),
        row("28", &quote(71), Ucs2, 71, 2),
        row("29", &quote(134), Ucs2, 134, 2),
        row("30", &quote(135), Ucs2, 135, 3),
        row("31", &(a(69) + &quote(1)), Ucs2, 70, 1),
        row("32", &(a(70) + &quote(1)), Ucs2, 71, 2),
        row("33", &(a(159) + &quote(1)), Ucs2, 160, 3),
        row("34", thumb, Ucs2, 2, 1),
        row("35", &thumb.repeat(35), Ucs2, 70, 1),
        row("36", &thumb.repeat(36), Ucs2, 72, 2),
        row("37", &(a(67) + thumb + &a(65)), Ucs2, 134, 2),
        row("38", &(a(66) + thumb + &a(65)), Ucs2, 133, 2),
        row("39", &(a(66) + thumb + &a(66)), Ucs2, 134, 3),
        row("40", "\u{1f44d}\u{1f3fd}", Ucs2, 4, 1),
        row("41", "1\u{fe0f}\u{20e3}", Ucs2, 3, 1),
        row("42", "Sí", Ucs2, 2, 1),
        row("43", "está", Ucs2, 4, 1),
        row("44", "revisión", Ucs2, 8, 1),
        row("45", "número", Ucs2, 6, 1),
        row("46", "mañana", Gsm7, 6, 1),
        row("47", "pingüino", Gsm7, 8, 1),
        row("48", "caf\u{e9}", Gsm7, 4, 1),
        row("49", "cafe\u{301}", Ucs2, 5, 1),
        row("50", "¿Listo?", Gsm7, 7, 1),
        row("51", "¡Listo!", Gsm7, 7, 1),
        row("52", "ÉÑÜÄÖ", Gsm7, 5, 1),
        row("53 Á", "Á", Ucs2, 1, 1),
        row("53 Í", "Í", Ucs2, 1, 1),
        row("53 Ó", "Ó", Ucs2, 1, 1),
        row("53 Ú", "Ú", Ucs2, 1, 1),
        row("54a", "Ç", Gsm7, 1, 1),
        row("54b", "ç", Ucs2, 1, 1),
        row("55", "àèìòù", Gsm7, 5, 1),
        row("56", english, Gsm7, 131, 1),
        row("57", &english.replace('\'', "\u{2019}"), Ucs2, 131, 2),
        row("58", spanish, Ucs2, 145, 3),
        row("59", &plain, Gsm7, 145, 1),
    ]
}

#[test]
fn texts_cost_what_three_calculators_agree_on() {
    for (id, text, encoding, units, segments) in agreed_rows() {
        let cost = count(&text);
        assert_eq!((cost.encoding, cost.units, cost.segments), (encoding, units, segments), "row {id}: {text:?}");
    }
}

/// The basic table as 3GPP TS 23.038 section 6.2.1 prints it, without the escape.
const BASIC: &str = "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿\
                     abcdefghijklmnopqrstuvwxyzäöñüà";
const EXTENSION: &str = "\u{c}^{}\\[~]|€";

/// A second counter, made plainly: puts each character into a message of its own kind and begins another when full.
fn plain_count(text: &str) -> (Encoding, usize, usize) {
    let is_gsm = text.chars().all(|character| BASIC.contains(character) || EXTENSION.contains(character));
    let width = |character: char| match is_gsm {
        true if EXTENSION.contains(character) => 2,
        true => 1,
        false => character.encode_utf16(&mut [0; 2]).len(),
    };
    let units: usize = text.chars().map(width).sum();
    let (encoding, alone, part) = if is_gsm { (Encoding::Gsm7, 160, 153) } else { (Encoding::Ucs2, 70, 67) };
    if units <= alone {
        return (encoding, units, 1);
    }
    let mut messages: Vec<usize> = Vec::new();
    for character in text.chars() {
        match messages.last_mut() {
            Some(last) if *last + width(character) <= part => *last += width(character),
            _ => messages.push(width(character)),
        }
    }
    (encoding, units, messages.len())
}

/// Texts as they come: mostly GSM-7, with what breaks it now and then, and long enough to need several segments.
fn any_text() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        20 => "[ -~\n]{0,40}",
        6 => proptest::sample::select(BASIC.chars().collect::<Vec<_>>()).prop_map(String::from),
        6 => proptest::sample::select(EXTENSION.chars().collect::<Vec<_>>()).prop_map(String::from),
        4 => proptest::sample::select("áíóúÁÍÓÚçŁłđœ“”‘’–—…\u{a0}\u{301}\u{200b}\u{fe0f}•½Å\u{958}".chars().collect::<Vec<_>>())
            .prop_map(String::from),
        1 => proptest::sample::select(vec!["👍", "👍🏽", "1\u{fe0f}\u{20e3}", "👨\u{200d}👩\u{200d}👧", "🇲🇽", "頭", "не"])
            .prop_map(String::from),
        1 => any::<char>().prop_map(String::from),
        4 => (1_usize..170).prop_map(|times| "a".repeat(times)),
        1 => (1_usize..90).prop_map(|times| "…".repeat(times)),
    ];
    prop::collection::vec(piece, 0..12).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn counts_agree_with_a_second_counter(text in any_text()) {
        let cost = count(&text);
        prop_assert_eq!((cost.encoding, cost.units, cost.segments), plain_count(&text));
    }

    #[test]
    fn folding_never_costs_more_and_folding_twice_changes_nothing(text in any_text()) {
        let folded = fold(&text);
        prop_assert!(count(&folded).segments <= count(&text).segments, "{:?} -> {:?}", text, folded);
        prop_assert_eq!(fold(&folded), folded);
    }
}

/// Writes random texts with our counts for `tests/peers/segments.mjs`, after the second counter has agreed.
#[test]
#[ignore = "run by tests/peers/segments.sh"]
fn write_counts_for_the_peers() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;

    let mut runner = TestRunner::deterministic();
    let rows = agreed_rows().into_iter().map(|(_, text, ..)| text);
    let drawn = (0..4000).map(|_| any_text().new_tree(&mut runner).unwrap().current());
    let mut lines = String::new();
    for text in rows.chain(drawn) {
        let cost = count(&text);
        assert_eq!((cost.encoding, cost.units, cost.segments), plain_count(&text), "{text:?}");
        let line = serde_json::json!({"text": text, "folded": fold(&text), "cost": cost, "after": count(&fold(&text))});
        writeln!(lines, "{line}").unwrap();
    }
    let path = std::env::var("BROWLINE_SEGMENTS").expect("BROWLINE_SEGMENTS names the file to write");
    std::fs::write(path, lines).unwrap();
}

// ---------------------------------------------------------------------------------------------------------------
// The built-in texts
// ---------------------------------------------------------------------------------------------------------------

#[test]
fn both_languages_have_a_file_for_every_message_and_no_other() {
    let expected: BTreeSet<String> = Kind::ALL.iter().map(|kind| format!("{}.txt", kind.name())).collect();
    assert_eq!(expected.len(), Kind::ALL.len(), "two messages share a file");
    for language in LANGUAGES {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates").join(folder(language));
        let files: BTreeSet<String> =
            std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        assert_eq!(files, expected, "{language:?}");
    }
}

#[test]
fn every_message_has_samples_of_its_own_kind() {
    for kind in Kind::ALL {
        for language in LANGUAGES {
            let samples = kind.samples(language);
            assert!(!samples.is_empty(), "{}", kind.name());
            assert!(samples.iter().all(|sample| sample.kind() == *kind), "{}", kind.name());
        }
    }
}

#[test]
fn the_built_in_texts_pass_the_check_that_replacements_must_pass() {
    let problems: Vec<String> = Wording::embedded().problems().iter().map(ToString::to_string).collect();
    assert_eq!(problems, Vec::<String>::new());
}

#[test]
fn every_sample_fits_its_budget() {
    for entry in Wording::embedded().catalogue(Accents::Fold) {
        assert!(entry.cost.segments <= entry.kind.budget(), "{:?} {:?}: {}", entry.language, entry.cost, entry.text);
        assert_eq!(entry.cost, count(&entry.text));
        assert!(!entry.text.contains("  "), "two spaces: {}", entry.text);
        assert!(!entry.text.contains("m.."), "two full stops: {}", entry.text);
        assert_eq!(entry.text.trim(), entry.text);
    }
}

fn wording() -> &'static Wording {
    static WORDING: LazyLock<Wording> = LazyLock::new(Wording::embedded);
    &WORDING
}

fn say(language: Language, message: &Message<'_>) -> String {
    wording().say(language, message, Accents::Fold)
}

#[test]
fn the_check_is_one_segment_and_a_name_with_an_accent_costs_no_more() {
    let rows = agreed_rows();
    let row = |id| rows.iter().find(|row| row.0 == id).unwrap().1.clone();
    assert_eq!(say(En, &Message::Check { first: "Jonah" }), row("56"));
    assert_eq!(say(Es, &Message::Check { first: "Iván" }), row("59"));
    let kept = wording().say(Es, &Message::Check { first: "Iván" }, Accents::Keep);
    assert_eq!(kept, row("58"));
    assert_eq!(count(&say(En, &Message::Check { first: "Iván" })).segments, 1);
}

#[test]
fn no_text_for_staff_says_anything_medical_even_when_every_flag_is_set() {
    let all: Flags = Flag::ALL.into_iter().collect();
    let texts = [
        say(
            En,
            &Message::FixList {
                bring: None,
                event: "Varsity practice 3:30 pm",
                starts: "2:40 pm",
                hands: 2,
                lines: vec![FixLine { who: "#12 Jonah", helmet: Some("T-014"), flags: all, note: None }],
                not_fit: 0,
                link: None,
            },
        ),
        say(
            En,
            &Message::FixAdded {
                event: "Varsity practice 3:30 pm",
                who: "#12 Jonah",
                helmet: None,
                flags: Helmet(all),
                reply: "got 12",
            },
        ),
        say(
            En,
            &Message::Availability {
                event: "Varsity practice 3:30 pm",
                lines: vec![OutLine { who: "#12 Jonah", why: Why::Held }],
                silent: 0,
                link: None,
            },
        ),
    ];
    for text in &texts {
        for word in ["concussion", "ill", "hurt", "feel", "sign"] {
            let said = text.split(|c: char| !c.is_alphabetic()).any(|said| said == word);
            assert!(!said, "`{word}` in: {text}");
        }
    }
    assert!(texts[0].contains("#12 Jonah T-014: brow, grip, crown, cheeks, strap, mask, shell"), "{}", texts[0]);
    assert!(texts[2].ends_with("#12 Jonah: held, see the athletic trainer"), "{}", texts[2]);
}

#[test]
fn a_fixed_helmet_may_be_worn_unless_something_else_holds_the_athlete() {
    let fixed = |still_held| say(En, &Message::Fixed { first: "Jonah", done: Some("new strap"), still_held });
    assert!(fixed(false).contains("(new strap)") && fixed(false).contains("OK to wear"));
    assert!(!fixed(true).contains("OK") && fixed(true).contains("see the athletic trainer"));
}

#[test]
fn a_spanish_sentence_that_ends_with_a_time_has_one_full_stop() {
    let text = say(Es, &Message::Later { first: "Iván", by: "la 1:15 p. m." });
    assert!(text.contains("antes de la 1:15 p. m. Si no"), "{text}");
}

#[test]
fn the_alert_quotes_the_reply_and_says_when_it_is_cut() {
    let alert = |words| {
        say(
            En,
            &Message::BodyAlert {
                who: "#12 Jonah",
                team: "Varsity",
                time: "6:52 am",
                what: Body([Flag::Symptom].into_iter().collect()),
                words: Some(Typed(words)),
                red_flag: false,
                attempt: Attempt::First,
                phone: None,
                reply: "got 12",
            },
        )
    };
    let short = alert("my head\nhurts");
    assert!(short.contains("possible concussion sign. They wrote: \"my head hurts\" Reply got 12"), "{short}");
    let long = alert(&"my head hurts 🤕 ".repeat(40));
    assert!(long.contains("...\" Reply got 12"), "{long}");
    assert!(count(&long).segments <= 3);
}

// ---------------------------------------------------------------------------------------------------------------
// Lists that are shortened
// ---------------------------------------------------------------------------------------------------------------

fn a_name() -> impl Strategy<Value = String> {
    prop_oneof![
        6 => "#[0-9]{1,2} [A-Z][a-z]{1,11}",
        2 => "#[0-9]{1,2} [A-Z][áéíóúñ]{1,3}[a-z]{1,8}",
        1 => "#[0-9]{1,2} [A-Z][a-z]{1,8} 🏈",
        1 => "#[0-9]{1,2} [A-Z][a-z]{100,300}",
    ]
}

fn some_flags() -> impl Strategy<Value = Flags> {
    proptest::sample::subsequence(Flag::ALL.to_vec(), 0..4).prop_map(|flags| flags.into_iter().collect())
}

/// Takes a shortened fix list apart: its lines, and how many it says are hidden.
fn apart(text: &str) -> (Vec<&str>, usize) {
    let mut lines: Vec<&str> = text.lines().skip(1).collect();
    let hidden = lines
        .last()
        .and_then(|last| last.strip_prefix('+'))
        .map(|last| last.split(' ').next().unwrap().parse().unwrap());
    if hidden.is_some() || lines.last().is_some_and(|last| last.starts_with("https://")) {
        lines.pop();
    }
    (lines, hidden.unwrap_or(0))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(80))]

    #[test]
    fn a_shortened_list_fits_cuts_no_line_and_says_how_many_it_hides(
        people in prop::collection::vec((a_name(), some_flags(), proptest::option::of("T-[0-9]{3}")), 1..70),
        has_link in any::<bool>(),
        spanish in any::<bool>(),
        keep in any::<bool>(),
    ) {
        let language = if spanish { Es } else { En };
        let accents = if keep { Accents::Keep } else { Accents::Fold };
        let link = has_link.then_some("https://kestrels.example/board/varsity");
        let lines: Vec<FixLine<'_>> = people
            .iter()
            .map(|(who, flags, helmet)| FixLine { who, flags: *flags, helmet: helmet.as_deref(), note: None })
            .collect();
        let list = |lines: Vec<_>| Message::FixList { bring: None,
            event: "Varsity practice 3:30 pm", starts: "2:40 pm", hands: 2, lines, not_fit: 1, link,
        };
        let wording = wording();
        let text = wording.say(language, &list(lines.clone()), accents);
        prop_assert!(count(&text).segments <= 3, "{}", text);

        let (shown, hidden) = apart(&text);
        prop_assert_eq!(shown.len() + hidden, people.len(), "{}", text);
        for (line, (who, _, helmet)) in shown.iter().zip(&people) {
            let helmet = helmet.as_ref().map(|tag| format!(" {tag}")).unwrap_or_default();
            let start = format!("{who}{helmet}: ");
            prop_assert!(line.starts_with(&start) || line.starts_with(&fold(&start)), "{} / {}", line, start);
        }
        for (index, line) in shown.iter().enumerate() {
            let alone = wording.say(language, &list(vec![lines[index].clone()]), accents);
            let whole = apart(&alone).0;
            prop_assert!(whole.is_empty() || fold(whole[0]) == fold(line), "{} / {:?}", line, whole);
        }
        // One line more would not have fitted.
        if hidden > 0 {
            let next = wording.say(language, &list(vec![lines[shown.len()].clone()]), accents);
            if let [next] = apart(&next).0[..] {
                let more = format!("\n+{hidden} ");
                let with_next = text.replace(&more, &format!("\n{next}\n+{} ", hidden.max(2) - 1));
                prop_assert!(count(&with_next).segments > 3 || hidden == 1, "{} could be shown in: {}", next, text);
            }
        }
    }

    #[test]
    fn names_in_a_row_are_shortened_the_same_way(names in prop::collection::vec(a_name(), 1..110), spanish in any::<bool>()) {
        let language = if spanish { Es } else { En };
        let lines: Vec<&str> = names.iter().map(String::as_str).collect();
        let list = Message::SilentList { event: "Varsity practice 3:30 pm", lines, total: names.len() + 3, link: None };
        let text = say(language, &list);
        prop_assert!(count(&text).segments <= 3, "{}", text);
        let tail = text.rsplit_once(": ").unwrap().1;
        let (row, hidden) = match tail.rsplit_once('+') {
            Some((row, more)) => (row.trim_end_matches("; "), more.split(' ').next().unwrap().parse().unwrap()),
            None => (tail, 0),
        };
        let shown: Vec<&str> = row.split(", ").filter(|name| !name.is_empty()).collect();
        prop_assert_eq!(shown.len() + hidden, names.len(), "{}", text);
        for (said, name) in shown.iter().zip(&names) {
            prop_assert!(said == name || *said == fold(name), "{} / {}", said, name);
        }
    }
}

#[test]
fn a_list_that_fits_hides_nothing_and_gives_its_link() {
    let lines = vec![
        FixLine {
            who: "#12 Jonah",
            helmet: Some("T-014"),
            flags: [Flag::Strap].into_iter().collect(),
            note: Some("photo"),
        },
        FixLine { who: "#7 Eli", helmet: None, flags: Flags::NONE, note: None },
    ];
    let list = Message::FixList {
        bring: None,
        event: "Varsity practice 3:30 pm",
        starts: "2:40 pm",
        hands: 2,
        lines,
        not_fit: 0,
        link: Some("https://kestrels.example/board"),
    };
    assert_eq!(
        say(En, &list),
        "Fix list, Varsity practice 3:30 pm: 2 helmets, start by 2:40 pm with 2 people.\n#12 Jonah T-014: strap \
         (photo)\n#7 Eli: look at it\nhttps://kestrels.example/board"
    );
}

// ---------------------------------------------------------------------------------------------------------------
// Replacements
// ---------------------------------------------------------------------------------------------------------------

fn problems(language: Language, stem: &str, text: &str) -> Vec<String> {
    Wording::with_overrides(vec![(language, stem.to_owned(), text.to_owned())])
        .map_or_else(|problems| problems.iter().map(WordingProblem::to_string).collect(), |_| Vec::new())
}

fn built_in(language: Language, kind: Kind) -> String {
    let file = format!("templates/{}/{}.txt", folder(language), kind.name());
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(file)).unwrap()
}

#[test]
fn a_good_replacement_is_used_in_its_language_alone() {
    let text = "Thank you, {{ first }}. If anything changes, tell staff.";
    let wording = Wording::with_overrides(vec![(En, "all_clear".to_owned(), text.to_owned())]).unwrap();
    let message = Message::AllClear { first: "Jonah" };
    assert_eq!(wording.say(En, &message, Accents::Fold), "Thank you, Jonah. If anything changes, tell staff.");
    assert_eq!(wording.say(Es, &message, Accents::Fold), say(Es, &message));
}

#[test]
fn every_built_in_text_may_be_given_as_a_replacement() {
    for language in LANGUAGES {
        for kind in Kind::ALL {
            assert_eq!(problems(language, kind.name(), &built_in(language, *kind)), Vec::<String>::new());
        }
    }
}

#[test]
fn a_mistyped_variable_is_named_with_the_one_that_was_meant() {
    let text = built_in(En, Kind::Check).replace("first", "frist");
    assert_eq!(
        problems(En, "check", &text),
        ["en/check.txt: uses `frist`, which this message does not have; perhaps `first` is meant; there are: first"]
    );
}

#[test]
fn a_mistyped_variable_is_found_in_a_branch_that_is_rarely_taken() {
    let text =
        "{{ first }}, fixed.{% if still_held and done == 'x' %} See the athletic trainer {{ trainr }}{% endif %}";
    let found = problems(En, "fixed", text);
    assert!(found[0].contains("uses `trainr`"), "{found:?}");
}

#[test]
fn a_text_that_does_not_compile_is_named_with_its_line() {
    let found = problems(Es, "nudge", "Falta tu revisión.\n{% if first %}{{ first }}");
    assert_eq!(found.len(), 1);
    assert!(found[0].starts_with("es/nudge.txt: does not compile: ") && found[0].contains("(line 2)"), "{found:?}");
}

#[test]
fn an_unknown_filter_is_a_problem_at_start_and_not_at_six_in_the_morning() {
    let found = problems(En, "all_clear", "Thanks, {{ first | shout }}.");
    assert!(found[0].starts_with("en/all_clear.txt: fails: ") && found[0].contains("shout"), "{found:?}");
}

#[test]
fn a_text_that_is_too_long_says_by_how_much_and_why() {
    let text = built_in(En, Kind::Check).trim().replace("don't", "don\u{2019}t") + " 👍";
    assert_eq!(
        problems(En, "check", &text),
        [
            "en/check.txt: takes 3 segments (141 units of UCS-2) with long names, and may take 1; shorten it, or leave out \
          what forces UCS-2: 👍"
        ]
    );
    let long = format!("{}{}", built_in(En, Kind::Check).trim(), " Be quick about it please.".repeat(2));
    assert!(problems(En, "check", &long)[0].contains("takes 2 segments"), "{long}");
}

#[test]
fn a_file_for_no_message_is_a_problem_with_a_guess_at_what_was_meant() {
    assert_eq!(
        problems(En, "chek", "x"),
        ["en/chek.txt: no message has this name; rename it, perhaps to `check.txt`, or take it out"]
    );
}

/// What has to be in a text: each time one item is taken out of the built-in text, and that alone is reported.
#[test]
fn what_the_law_the_carriers_and_care_ask_for_cannot_be_left_out() {
    let cases: &[(Language, Kind, &str, &str, &str)] = &[
        (En, Kind::Help, "{{ program }}", "The team", "program"),
        (En, Kind::Help, "{{ contact }}, ", "", "its `contact`"),
        (En, Kind::Help, "{{ contact_phone }}", "", "its `contact_phone`"),
        (En, Kind::Help, "each practice or game day", "sometimes", "how often"),
        (En, Kind::Help, "Msg & data rates may apply. ", "", "rates"),
        (En, Kind::Help, " Reply STOP to stop.", "", "STOP"),
        (Es, Kind::Help, "Pueden aplicarse tarifas de mensajes y datos. ", "", "rates"),
        (Es, Kind::Help, " STOP para no recibir más.", "", "STOP"),
        (En, Kind::Welcome, "Reply HELP for help, STOP to stop these texts.", "Reply STOP to stop.", "HELP"),
        (En, Kind::Welcome, "{{ program }}", "the team", "program"),
        (En, Kind::Stopped, "and no more texts will be sent to this number", "thank you", "no more will be sent"),
        (Es, Kind::Stopped, "No se enviarán más mensajes a este número. ", "", "no more will be sent"),
        (En, Kind::Stopped, "{{ program }}: y", "Y", "program"),
        (En, Kind::FlaggedHold, " Do not wear it until staff have checked it.", "", "do not wear it"),
        (Es, Kind::FlaggedHold, " No te lo pongas hasta que el personal lo revise.", "", "do not wear it"),
        (En, Kind::FlaggedHold, "{{ place }}", "staff", "place"),
        (En, Kind::FlaggedHold, "by {{ by }}", "soon", "`by`"),
        (En, Kind::Symptom, "Call 911", "Call", "911"),
        (En, Kind::Symptom, "do not put your helmet on and ", "", "keep the helmet off"),
        (En, Kind::Symptom, " or an adult", "", "an adult"),
        (En, Kind::Emergency, "Call 911 now", "Call now", "911"),
        (En, Kind::Check, " 4 cheeks", "", "does not say 4"),
        (En, Kind::StaffStart, " and never replaces it", "", "never replaces a fitting"),
        (En, Kind::BodyAlert, "Reply {{ reply }} to take it.", "Go.", "reply"),
    ];
    for (language, kind, old, new, expected) in cases {
        let text = built_in(*language, *kind);
        assert!(text.contains(old), "{} does not hold `{old}`", kind.name());
        let found = problems(*language, kind.name(), &text.replace(old, new));
        assert!(found.iter().any(|problem| problem.contains(expected)), "{} without `{old}`: {found:?}", kind.name());
        assert!(found.iter().all(|problem| problem.starts_with(&format!(
            "{}/{}.txt: ",
            folder(*language),
            kind.name()
        ))));
    }
}

#[test]
fn yes_is_never_asked_for() {
    for (language, text) in [(En, "Thanks, {{ first }}. Reply YES."), (Es, "Gracias, {{ first }}. Responde SÍ.")] {
        let found = problems(language, "all_clear", text);
        assert!(found[0].contains("carriers take YES as opting in again"), "{found:?}");
    }
    assert!(problems(En, "all_clear", "Yes, {{ first }}, noted. Tell staff if it changes.").is_empty());
}

#[test]
fn medical_words_are_refused_in_staff_texts_and_allowed_to_the_trainer() {
    let text = "{{ event }}: {{ count }} out with headache or concussion, {{ silent }} silent.\
                {% for line in lines %}\n{{ line }}{% endfor %}{% if hidden %}\n+{{ hidden }} more{% endif %}";
    let found = problems(En, "availability", text);
    assert!(found.iter().all(|problem| problem.contains("medical words are for medical staff alone")), "{found:?}");
    assert_eq!(found.len(), 2, "{found:?}");
    assert_eq!(Kind::BodyAlert.audience(), Audience::Medical);
}

#[test]
fn nobody_is_told_to_wait_and_see() {
    let text = built_in(En, Kind::Symptom).replace("Tell", "Wait and see, or tell");
    assert!(problems(En, "symptom", &text).iter().any(|problem| problem.contains("advice to wait")));
}

#[test]
fn a_list_must_show_its_lines_and_say_what_it_hides() {
    let full = built_in(En, Kind::TrainerPending);
    let silent_about_rest = full.split("{% if hidden %}").next().unwrap();
    let found = problems(En, "trainer_pending", silent_about_rest);
    assert!(found[0].contains("does not say how many lines are not shown"), "{found:?}");
    let cut = full.replace("{{ line }}", "{{ line[:4] }}");
    let found = problems(En, "trainer_pending", &cut);
    assert!(found[0].contains("leaves lines of its list out"), "{found:?}");
}

#[test]
fn every_problem_of_every_file_is_told_at_once() {
    let files = vec![
        (En, "check".to_owned(), "{{ frist }} {{ by }}".to_owned()),
        (Es, "nope".to_owned(), String::new()),
        (Es, "stopped".to_owned(), "Adiós.".to_owned()),
    ];
    let found = Wording::with_overrides(files).unwrap_err();
    let names: BTreeSet<&str> = found.iter().map(|problem| problem.file.as_str()).collect();
    assert_eq!(names, BTreeSet::from(["en/check.txt", "es/nope.txt", "es/stopped.txt"]));
    assert!(found.len() >= 5, "{found:?}");
}

/// A replacement may fail on a value that no sample has: then the built-in text goes out, not nothing.
#[test]
fn a_replacement_that_fails_on_the_day_gives_way_to_the_built_in_text() {
    let text = "{% if first == 'Jonah' %}{{ first.a.b }}{% endif %}Thanks, {{ first }}.";
    let wording = Wording::with_overrides(vec![(En, "all_clear".to_owned(), text.to_owned())]).unwrap();
    assert_eq!(wording.say(En, &Message::AllClear { first: "Eli" }, Accents::Fold), "Thanks, Eli.");
    let message = Message::AllClear { first: "Jonah" };
    assert_eq!(wording.say(En, &message, Accents::Fold), say(En, &message));
}
