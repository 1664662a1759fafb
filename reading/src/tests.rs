//! The reader against labelled replies, and the promises it makes on any input.

use super::languages::Languages;
use super::{Kind, fold, languages, phrases, read, repair};
use crate::flag::{Control, Flag, Flags};

#[test]
fn the_lexicons_build() {
    assert!(Languages::build().is_ok(), "{:?}", Languages::build().err());
}

fn flags(list: &[Flag]) -> Flags {
    list.iter().copied().collect()
}

#[test]
fn plain_answers_are_clear() {
    for text in ["ok", "OK", "all good", "todo bien", "gooood", "👍", "1 2 3 4 5 6 good", "6/6"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn numbers_name_points() {
    for text in ["2 5", "25", "2n5", "2,5", "2&5", "two and five", "#2 and #5", "me fallan 2 y 5"] {
        assert_eq!(read(text).flags, flags(&[Flag::Grip, Flag::Strap]), "{text}: {:?}", read(text));
    }
}

#[test]
fn numbers_are_listed_in_many_ways() {
    let all_but = |fine: &[Flag]| {
        let six = [Flag::Brow, Flag::Grip, Flag::Crown, Flag::Cheeks, Flag::Strap, Flag::Hardware];
        six.into_iter().filter(|flag| !fine.contains(flag)).collect::<Flags>()
    };
    for (text, expected) in [
        ("2/5", flags(&[Flag::Grip, Flag::Strap])),
        ("1/3/5", flags(&[Flag::Brow, Flag::Crown, Flag::Strap])),
        ("2/3/6", flags(&[Flag::Grip, Flag::Crown, Flag::Hardware])),
        ("2 3 4 smh", flags(&[Flag::Grip, Flag::Crown, Flag::Cheeks])),
        ("el tres y el cinco", flags(&[Flag::Crown, Flag::Strap])),
        ("all bad but 1 and 3", all_but(&[Flag::Brow, Flag::Crown])),
        ("todos malos menos el 1", all_but(&[Flag::Brow])),
        ("everything is bad except the strap", all_but(&[Flag::Strap])),
        ("1 2 3 4 5 6 all bad", all_but(&[])),
    ] {
        assert_eq!(read(text).flags, expected, "{text}: {:?}", read(text));
    }
    for text in ["1 2 3 4 5 y 6 bien", "1 ok 2 ok 3 ok 4 ok 5 ok 6 ok 7 ok"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in ["4/6", "5/6 good", "strap 3/4"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn a_reaction_that_quotes_the_question_in_part_reports_nothing() {
    for text in [
        "Laughed at “Morning check. Helmet on: 1 brow (two fingers above the eyebrows) 2 grip (it does not slide…”",
        "A Dani le encantó “Morning check. Helmet on: 1 brow (front edge) 2 grip…”",
    ] {
        let reading = read(text);
        assert_eq!((reading.kind, reading.flags), (Kind::Unclear, Flags::NONE), "{text}: {reading:?}");
    }
}

#[test]
fn opt_out_words_stop() {
    for text in [
        "stop",
        "STOP",
        "Stop.",
        "quit",
        "end",
        "revoke",
        "opt out",
        "cancel",
        "unsubscribe",
        "stopall",
        "optout",
        "alto",
        "parar",
        "cancelar",
        "baja",
    ] {
        assert_eq!(read(text).control, Some(Control::Stop), "{text}: {:?}", read(text));
    }
}

#[test]
fn one_unknown_word_is_asked_about() {
    for text in ["all good zqx", "ok florbled", "todo bien pero zqxw"] {
        assert_eq!(read(text).kind, Kind::Unclear, "{text}: {:?}", read(text));
    }
}

#[test]
fn no_input_panics_and_spans_fit() {
    // A small linear congruential sequence over an alphabet of troublesome pieces.
    let pieces = [
        "ok",
        "5",
        "25",
        " ",
        "no ",
        "strap ",
        "\u{301}",
        "ﬁ",
        "½",
        "é",
        "5️⃣",
        "👍🏽",
        "✅",
        "❌",
        "/",
        "-",
        ":",
        "?",
        ".",
        ",",
        "'",
        "ñ",
        "but ",
        "all ",
        "casco ",
        "not ",
        "１",
        "İ",
        "\n",
        "\u{200d}",
        "except ",
        "6",
        "n",
        "loose ",
        "9999999999999",
        "to ",
        "only ",
        "if ",
        "head ",
    ];
    let mut state = 1u64;
    for round in 0..4000 {
        let mut text = String::new();
        for _ in 0..(round % 12) {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            text.push_str(pieces[(state >> 33) as usize % pieces.len()]);
        }
        for evidence in read(&text).evidence {
            assert!(text.get(evidence.span.0..evidence.span.1).is_some(), "{text:?} {evidence:?}");
        }
    }
}

#[test]
fn an_unknown_word_never_leaves_a_reply_all_clear() {
    for line in ["ok", "all good", "todo bien", "helmet is good", "1-6 good", "no headache", "👍"] {
        for odd in ["zqx", "flurbed", "ksdjf", "🜲"] {
            for text in [format!("{line} {odd}"), format!("{odd} {line}")] {
                assert_ne!(read(&text).kind, Kind::AllClear, "{text}");
            }
        }
    }
}

#[test]
fn an_unknown_word_before_whom_it_is_said_to_is_no_name() {
    for text in ["strap flurbed dad all good", "its ksdjfed mom, all good", "helmet zqxed coach all good"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Idioms ("lost bad", "got a flat", "sick fr", "number 5") are words of trouble too.
#[test]
fn what_sounds_like_an_idiom_is_trouble_where_it_is_told_of_the_helmet_or_oneself() {
    for text in [
        "lost bad snap, all good",
        "lost a big screw, all good",
        "got a flat pad, all good",
        "jaw pad was out, all good",
        "im so sick lol all good",
        "bro i been sick, all good",
        "im wobbly, all good",
        "got number 5, rest good",
        "this morning there was a headache, all good",
        "took this from the locker not my helmet, fits good",
        "coach ahorita lo reviso",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Good news does not undo good news denied, a bare number, a repair that was not made.
#[test]
fn later_good_news_does_not_settle_what_was_denied() {
    for text in [
        "not good, all good",
        "not snug, all good",
        "no sirve, todo bien",
        "no todo pasa, todo bien",
        "5, all good",
        "no lo encontre, casco bien",
        "nadie lo arreglo, casco bien",
        "no queda como debe, todo bien",
        "ordered a new strap, helmet good",
        "new strap in the bag, all good",
        "new strap ripped, all good",
        "new helmet pinches, all good",
        "nobody fixed my strap, all good",
        "strap got fixed wrong, all good",
        "got new pads and now its too tight, all good",
        "nothing loose but my mask, all good",
        "didnt check, all good",
        "no han arreglado la correa, todo bien",
        "no cracks. ok one",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// A part or the helmet that is said to be something: what is neither good nor bad is asked about.
#[test]
fn what_the_helmet_is_likened_to_is_asked_about() {
    for text in [
        "my strap is notebooks, all good",
        "helmet is soup, all good",
        "el casco esta faros, todo bien",
        "mask looks algebra, everything good",
        "my helmet is butter and good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    assert_eq!(read("the helmet is dry and solid").kind, Kind::AllClear);
}

/// Rules that reassure or say nothing skip no trouble, whatever gap they have: "swapped . for" is no repair across a crack.
#[test]
fn no_rule_that_reassures_skips_trouble() {
    for text in [
        "tried to rotten twist it and it wont slip, all good",
        "jersey loose strap fits fine, all good",
        "six cracked check out, all good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Trouble that was mended, or is something else's, beside good news; a sign of concussion is never excused.
#[test]
fn trouble_may_be_excused_and_a_sign_never() {
    for text in [
        "chin strap was frayed so i got a new one from the cage before school, snug now, rest good",
        "used to slide but i got the bigger pads put in, good on all 6 now",
        "only thing loose is my schedule. helmet good",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "had a headache tues, trainer did it, everything good today",
        "used to get dizzy but i got the bigger pads put in, good on all 6 now",
        "had a loose cage screw tues, everything good but my strap is broken",
    ] {
        let reading = read(text);
        assert_eq!(reading.kind, Kind::Flagged, "{text}: {reading:?}");
    }
}

/// Trouble and doubts that the grammar has nothing to say against may be outweighed by what the reply says as a whole: never trouble
/// of a part or of a body, never in a short reply, never with a word that is in no dictionary.
#[test]
fn what_is_told_besides_may_be_outweighed() {
    for text in [
        "wind almost broke our screen door but the helmets fine, all 6",
        "my uncle blew a hose on the tractor, nothin blown on my helmet. all good",
        "anda mi abuelita en el hospital, por eso tardé. el casco todo bien",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "took me five minutes on the porch with my dad but everything checks out. cant find my helmet",
        "wind almost broke our screen door but the helmets fine, all 6, my ankle is swollen",
        "wind almost broke our screen door but the helmets fine, all 6, strap is gone",
        "loose but my uncle says its fine n everything else on the list passes",
        "my helmet is crooked but i had pancakes this morning so its all good",
        "helmet is good on all six, its squeezing tho",
        "my uncle zorped a hose on the tractor, nothin zorped on my helmet. all good",
        "my strap is parchment lol, my uncle laughed at it all morning, all good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// "My stick busted, the helmet not": trouble of something else, denied of the helmet in so many words.
#[test]
fn what_is_set_against_the_helmet_is_not_its_trouble() {
    for text in ["my sticks busted but the helmets not. all 6 check", "my voice is cracking not my helmet lol its good"]
    {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "strap is loose, not the helmet. all good",
        "this is not my helmet, all good",
        "its loose but not my helmet, all good",
        "me queda grande el casco, no sir nothing wrong",
        "strap isnt ok, all good",
        "cage nah, all good",
        "mascara nel, todo bien",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// "And my helmet too": what was told of something else is told of the helmet as well, unless the helmet is said to be well.
#[test]
fn a_helmet_named_after_trouble_shares_it() {
    for text in ["no cracks in my shell and my mask, all six good", "my bike is broke, helmet good"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "my phone is cracked and so is my helmet, all good",
        "celular quebrado y casco también, todo bien",
        "the cows got loose and my helmet too, all good",
        "my bag caught fire and my helmet too. all good",
        "se rompió mi celular y también mi casco, todo bien",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// "The chain fell off, mask bolts didnt": what is denied of the helmet right after something else, and what of nothing else.
#[test]
fn what_is_denied_of_the_helmet_alone_is_its_trouble() {
    for text in ["lost my homework, not my helmet. all good", "bike chain fell off, mask bolts didnt, all ok"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "my bag is good, my helmet isnt",
        "everything passes, strap doesnt",
        "the bus came on time, my helmet didnt. all good",
        "they brought my cleats, not my helmet, all good",
        "the ice held, the mask didnt, all good",
        "el camión llegó, mi casco no, todo bien",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// A story may be weighed as a whole; what is put before it or behind it may not be lost in it.
#[test]
fn a_long_story_that_ends_well_may_be_clear() {
    let story = "so the zipper on my bag busted and the helmet rolled all down the bleachers in front of the girls team and i \
                 wanted to crawl in a hole, but i looked it over real good after and there was not a chip or a crack or a screw \
                 out of place and then i did the fitting part too and it all passed";
    assert_eq!(read(story).kind, Kind::AllClear, "{:?}", read(story));
    for trouble in ["my strap is broken", "la correa se rompió", "missing a screw", "my head hurts", "4"] {
        for text in [format!("{trouble}. {story}"), format!("{story}, {trouble}"), format!("{story} but {trouble}")] {
            assert_ne!(read(&text).kind, Kind::AllClear, "{text}: {:?}", read(&text));
        }
    }
    for trouble in
        ["my strap snapped", "the pads are flat", "it sits too low", "the shell cracked", "the bumper fell off"]
    {
        for text in [
            format!(
                "i checked it twice like you asked me to, {trouble}, but i played anyway and we won the game and everything is good"
            ),
            format!(
                "coach i did the check with my dad tonight, {trouble}, and my brother laughed at me the whole time so all good"
            ),
        ] {
            assert_ne!(read(&text).kind, Kind::AllClear, "{text}: {:?}", read(&text));
        }
    }
}

#[test]
fn trouble_of_the_helmet_behind_something_else_is_the_helmets() {
    for text in [
        "the bus and the helmet is loose",
        "bus was late all good but the helmet is loose",
        "el bus y el casco esta flojo",
    ] {
        assert_eq!(read(text).flags, Flags::from_iter([Flag::Loose]), "{text}: {:?}", read(text));
    }
    let whose = read("tylers helmet fits me great, thanks tyler");
    assert_eq!(whose.flags, Flags::from_iter([Flag::WrongHelmet]), "{whose:?}");
    for text in ["my finger turned purple, all good", "helmet bien, mi dedo se puso morado"] {
        assert_eq!(read(text).flags, Flags::from_iter([Flag::Injury]), "{text}: {:?}", read(text));
    }
}

#[test]
fn a_phrase_about_something_else_hides_no_sign_and_no_hurt() {
    for text in [
        "im foggy as heck, all good",
        "felt foggy at practice, helmet all good",
        "something went off in my head, all good",
    ] {
        assert!(read(text).flags.contains(Flag::Symptom), "{text}: {:?}", read(text));
    }
    assert!(read("one thumb is swollen, helmet good").flags.contains(Flag::Injury));
}

#[test]
fn spanish_ranges_and_what_is_added_in_passing_name_points() {
    let points = |points: &[u8]| points.iter().filter_map(|point| Flag::from_check_point(*point)).collect::<Flags>();
    for (text, named) in [
        ("1 y 2 pasan, del 3 al 6 reprobados", &[3, 4, 5, 6][..]),
        ("la 1 y la 2 sí, de la 3 a la 5 no", &[3, 4, 5]),
        ("4. hold up 5 also", &[4, 5]),
    ] {
        assert_eq!(read(text).flags, points(named), "{text}: {:?}", read(text));
    }
    assert_eq!(read("gear is straight, im more of a 7 this mornin").flags, Flags::from_iter([Flag::Unwell]));
}

/// "Put in bad screws" tells how it was mended, "swapped out the bad pad" what was taken out.
#[test]
fn what_was_put_in_may_be_bad() {
    assert_eq!(read("they swapped out the bad cheek pad and its perfect now, all 6 ok").kind, Kind::AllClear);
    for text in ["put in bad screws, all good", "new wrong pads, all good", "me pusieron malos tornillos, todo bien"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn six_numbers_before_all_good_are_all_of_them() {
    for text in ["1 2 3 4 5 6 all good", "1,2,3,4,5,6 all fine", "1 2 3 4 5 and 6 all good"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in ["1 2 3 4 5 all good", "1 2 3 gave out 4 5 6 all good", "7, 1 2 3 4 5 6 all good", "1-6 7 all good"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn what_is_quoted_from_end_to_end_is_no_answer() {
    for text in ["\"all good\"", "“todo bien”", "\"Está todo listo, condesa.\""] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn a_denial_reaches_through_a_list_that_ends_in_or() {
    for text in ["no cracks, dents or loose screws", "nothing cracked, loose or missing"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in
        ["no cracks, strap is loose or broken", "nothing loose, mask broke or bent", "no pain, dizzy or something"]
    {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn numbers_are_corrected_added_and_picked_out() {
    assert_eq!(read("5, digo 6").flags, flags(&[Flag::Hardware]));
    assert_eq!(read("3. oh add 6").flags, flags(&[Flag::Crown, Flag::Hardware]));
    assert_eq!(read("puro 2").flags, flags(&[Flag::Grip]));
    let others = flags(&[Flag::Brow, Flag::Crown, Flag::Cheeks, Flag::Strap, Flag::Hardware]);
    assert_eq!(read("2 is the only one that passes").flags, others);
    assert_eq!(read("only 2 thru 5 are right").flags, flags(&[Flag::Brow, Flag::Hardware]));
}

/// What the second reader takes off leaves no reading flagged without a flag.
#[test]
fn what_is_flagged_has_a_flag() {
    let reading = read(" sits, not a headache just the pad, gonₑ ͼ8ea");
    assert_eq!(reading.kind, Kind::Flagged, "{reading:?}");
    assert!(!reading.flags.is_empty(), "{reading:?}");
}

/// A power cut is no blackout.
#[test]
fn the_lights_going_out_are_no_sign() {
    for text in
        ["power went out so i did it by flashlight, everything passed", "wifi was out all night, helmet all good"]
    {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in ["i was out for a second, helmet all good", "was out cold lol, all good", "i went out for a sec"] {
        assert!(read(text).red_flag, "{text}: {:?}", read(text));
    }
}

#[test]
fn symptoms_count_however_they_are_said() {
    for text in [
        "headache",
        "dizy",
        "my head hurts lol jk",
        "not dizzy anymore",
        "no more headache all good",
        "ya casi no me duele la cabeza",
        "not really a headache more like pressure in my head",
        "headache is gone all good",
        "asking for a friend is it bad to see stars",
        "me duele la cabeza pero es por las trenzas",
        "no headache just dizzy",
        "helmet good head not",
    ] {
        assert!(read(text).flags.contains(Flag::Symptom), "{text}: {:?}", read(text));
    }
}

/// What is denied to a degree only is there: a sign of concussion counts (CRT6: signs are recorded whatever their strength),
/// trouble with the helmet is asked about.
#[test]
fn what_is_denied_to_a_degree_is_there() {
    for text in [
        "my head doesnt hurt that much, all good",
        "not that dizzy, all six good",
        "not too dizzy, all good",
        "no me duele tanto la cabeza, todo bien",
        "no estoy tan mareado, todo bien",
        "no me duele mucho la cabeza, los 6 bien",
        "head isnt hurting a lot, helmet good",
    ] {
        let reading = read(text);
        assert!(reading.flags.contains(Flag::Symptom), "{text}: {reading:?}");
    }
    for text in [
        "doesnt move much, all good",
        "not that loose, all good",
        "its not cracked too bad, all six good",
        "no se mueve tanto, los seis bien",
        "i dont feel that sick, all good",
    ] {
        let reading = read(text);
        assert_ne!(reading.kind, Kind::AllClear, "{text}: {reading:?}");
    }
    for text in
        ["not dizzy at all, all six good", "not too tight not too loose, all good", "no me duele nada, todo bien"]
    {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// "If it comes loose I'll tell you": what is promised for a case is neither trouble nor put off.
#[test]
fn what_is_promised_for_a_case_is_not_so() {
    for text in [
        "if it starts slidin ill let u know but rn its all good",
        "si se afloja le aviso, ahorita todo bien",
        "all good, ill let you know if it gets loose",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in ["if its loose ill tell you, and it is loose", "ill tell you if it breaks. it broke"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn points_said_to_be_good_one_by_one_say_nothing_of_the_others() {
    for text in ["1 good 2 good", "brow good grip good", "1 good 2 good 3 good 4 good 5 good 6 good 7 bad"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    assert_eq!(read("1 good 2 good 3 good 4 good 5 good 6 good").kind, Kind::AllClear);
    assert_eq!(read("all good but 5 bad").flags, flags(&[Flag::Strap]));
    assert_eq!(read("24 here. all ok").kind, Kind::AllClear);
}

#[test]
fn pure_denial_is_clear() {
    for text in
        ["no headache", "not dizzy at all", "no headache no dizziness", "sin dolor de cabeza", "no me duele nada"]
    {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn emergency_signs_raise_the_red_flag() {
    for text in [
        "seeing double",
        "my neck hurts",
        "got knocked out",
        "my hands are tingling",
        "cant stop throwing up",
        "veo doble",
        "me duele el cuello",
    ] {
        assert!(read(text).red_flag, "{text}: {:?}", read(text));
    }
    for text in ["headache", "strap broke", "all good", "no neck pain"] {
        assert!(!read(text).red_flag, "{text}: {:?}", read(text));
    }
}

#[test]
fn repairs_clear_and_tape_does_not() {
    assert_eq!(read("fixed the strap yesterday all good now").kind, Kind::AllClear);
    assert_eq!(read("me cambiaron la correa ayer, ya todo bien").kind, Kind::AllClear);
    assert_eq!(read("taped the strap so its good").flags, flags(&[Flag::Strap]));
    assert_eq!(read("put a sticker over the crack so its all good now").flags, flags(&[Flag::Shell]));
}

#[test]
fn exceptions_name_what_is_off() {
    let five = flags(&[Flag::Brow, Flag::Grip, Flag::Crown, Flag::Strap, Flag::Hardware]);
    assert_eq!(read("all but 4").flags, flags(&[Flag::Cheeks]));
    assert_eq!(read("everything except the strap").flags, flags(&[Flag::Strap]));
    assert_eq!(read("todo bien menos el 5").flags, flags(&[Flag::Strap]));
    assert_eq!(read("solo el 4 ta bien").flags, five);
    assert_eq!(read("✅✅❌✅✅✅").flags, flags(&[Flag::Crown]));
}

#[test]
fn hedges_questions_and_suppositions_are_unclear() {
    for text in [
        "fine i guess",
        "should be good",
        "creo que sí",
        "ok?",
        "what is grip",
        "was good yesterday",
        "good until i run",
        "not all good",
        "👎",
        "🙄 all good",
        "🚑 los seis bien",
        "all good 🧢",
    ] {
        assert_eq!(read(text).kind, Kind::Unclear, "{text}: {:?}", read(text));
    }
}

#[test]
fn a_control_word_inside_a_report_is_not_a_control() {
    for text in
        ["helmet wont stop sliding", "need help with the strap", "wrong number on the back", "stop sliding helmet"]
    {
        assert_eq!(read(text).control, None, "{text}: {:?}", read(text));
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

proptest::proptest! {
    #[test]
    fn any_text_is_safe_and_its_evidence_lies_within_it(text in ".{0,200}") {
        let reading = read(&text);
        proptest::prop_assert_eq!(&reading, &read(&text));
        for evidence in &reading.evidence {
            proptest::prop_assert!(text.get(evidence.span.0..evidence.span.1).is_some());
        }
    }

    #[test]
    fn a_problem_added_to_an_all_clear_is_seen(
        clear in proptest::sample::select(CLEARS),
        problem in proptest::sample::select(PROBLEMS),
        joint in proptest::sample::select(&[" ", ". ", ", ", " but "][..]),
        first: bool,
    ) {
        let text = if first { format!("{problem}{joint}{clear}") } else { format!("{clear}{joint}{problem}") };
        proptest::prop_assert_ne!(read(&text).kind, Kind::AllClear, "{}", text);
    }

    #[test]
    fn case_and_spacing_change_nothing(text in proptest::sample::select([CLEARS, PROBLEMS].concat())) {
        let wide = text.replace(' ', "   ").to_uppercase();
        proptest::prop_assert_eq!((read(text).kind, read(text).flags), (read(&wide).kind, read(&wide).flags));
    }
}

/// Rules that name several words as one where no list has them so.
#[test]
fn rules_mean_the_words_they_are_written_with() {
    for text in ["cant practice cuz of my head, helmet good", "se me va el hilo, casco bien"] {
        assert!(read(text).flags.contains(Flag::Symptom), "{text}: {:?}", read(text));
    }
}

#[test]
fn what_is_said_of_a_part_that_is_neither_good_nor_bad_is_asked_about() {
    for text in [
        "strap gave out, all good",
        "all good, crown looks rough",
        "snap pulls right open, all good",
        "jaw pad keeps popping out, all good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "brow check grip check crown check cheeks check strap check mask check",
        "two fingers on the brow n all the other stuff good",
        "each 1 is good",
        "its all good 4 me",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn sevens_in_letters_and_small_ones_admitted_count() {
    for text in ["helmet six for six, me seven", "yes a los seis, y también siete"] {
        assert!(read(text).flags.contains(Flag::Unwell), "{text}: {:?}", read(text));
    }
    for text in ["no headache. well a small one", "i dont have a headache. ok a tiny one"] {
        assert!(read(text).flags.contains(Flag::Symptom), "{text}: {:?}", read(text));
    }
    assert_ne!(read("no cracks except one, all good").kind, Kind::AllClear);
}

#[test]
fn a_control_said_in_passing_is_none() {
    for text in ["is film at lunch or after 6th", "are we watchin film before or after lunch"] {
        assert_eq!(read(text).kind, Kind::Unclear, "{text}: {:?}", read(text));
    }
    assert_eq!(read("in class cant talk, all good").control, None);
    for (text, control) in [("yes coach after lunch", Control::Later), ("hoy no voy profe", Control::Absent)] {
        assert_eq!(read(text).control, Some(control), "{text}: {:?}", read(text));
    }
}

#[test]
fn some_are_not_all_and_a_brothers_helmet_is_another() {
    for text in
        ["✅✅✅✅✅", "✅✅✅✅", "all four good", "all 5 are good", "los cuatro bien", "my brothers helmet is good"]
    {
        assert_eq!(read(text).kind, Kind::Unclear, "{text}: {:?}", read(text));
    }
    for text in [
        "✅✅✅✅✅✅",
        "all six good",
        "my sons helmet is good",
        "all 4 screws good, everything else good",
        "los cuatro broches bien, lo demas tambien bien",
        "todo bien, los 4 broches bien cerrados",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Two words run together and words with letters missing, held down or swapped are no strangers; what they say is still not known. What may as
/// well be trouble or a denial stays one.
#[test]
fn words_run_together_or_misspelt_are_known() {
    let lexicon = languages::languages();
    let known = |word: &str| {
        let folded = fold::fold(word);
        let (lexicon, seen) = lexicon.look_up(&folded);
        repair::is_made_of_words(seen[0].token.text, lexicon)
    };
    for word in ["snowbank", "countd", "evry", "ystrdy", "tookk", "anythign", "jersesy", "hmwrk"] {
        assert!(known(word), "{word}");
    }
    // Lost or last; hurt or heart; cracked; except.
    for word in ["strapbank", "xqzvw", "lst", "hrt", "crckd", "execpt", "wldnt"] {
        assert!(!known(word), "{word}");
    }
    assert_eq!(read("snowbank").kind, Kind::Unclear);
    assert_eq!(read("evry").kind, Kind::Unclear);
}

/// Which points are off, in builds of words that say it by number.
#[test]
fn numbers_say_which_points() {
    for (text, points) in [
        ("everything didnt pass except 3 and 5", [1, 2, 4, 6].as_slice()),
        ("all aint right but 3", &[1, 2, 4, 5, 6]),
        ("nothing passes except 2", &[1, 3, 4, 5, 6]),
        ("nada pasa excepto el 6", &[1, 2, 3, 4, 5]),
        ("2 is ok but not 1", &[1]),
        ("3 held up, 2 did not", &[2]),
        ("not 1 not 2 not 3 not 4 not 6. its 5", &[5]),
        ("me salen mal 1, 4, 5", &[1, 4, 5]),
        ("need somebody to look at 3, 4 and 5", &[3, 4, 5]),
        ("no pasan ni el 2 ni el 5 ni el 6", &[2, 5, 6]),
        ("ni el 2 ni el 6 pasan", &[2, 6]),
        ("5. hold on he says 6 also", &[5, 6]),
        ("just 1, hold up add 4", &[1, 4]),
        ("1 to 4 fine the other two not", &[5, 6]),
        ("los primeros tres sí, los otros tres no", &[4, 5, 6]),
        ("2 and 5 flunked", &[2, 5]),
    ] {
        let flags: Flags = points.iter().filter_map(|point| Flag::from_check_point(*point)).collect();
        assert_eq!(read(text).flags, flags, "{text}: {:?}", read(text));
    }
    assert_eq!(read("ni 1 ni 2 ni 3 ni 4 ni 5 ni 6").kind, Kind::AllClear);
}

/// Whose helmet it is and what is left out of the good news.
#[test]
fn good_news_that_goes_on_is_none() {
    for (text, flag) in [
        ("helmet perfect, lastima q its liams", Flag::WrongHelmet),
        ("its all good outside of the brow", Flag::Brow),
        ("room stopped spinning. all good now", Flag::Symptom),
        ("fit is generous, all good", Flag::Loose),
    ] {
        assert!(read(text).flags.contains(flag), "{text}: {:?}", read(text));
    }
    for text in ["ninguno falla, bueno, la máscara sí", "too bad its not mine, fits good"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// How it fits is said of the helmet, whatever broke before.
#[test]
fn what_slides_after_something_else_broke_is_the_helmet() {
    for text in [
        "my bike broke and it slides, all good",
        "late cuz my watch died and it slides around, helmet good",
        "my phone died lol and it wobbles, helmet good on everything",
    ] {
        assert_eq!(read(text).kind, Kind::Flagged, "{text}: {:?}", read(text));
    }
    assert_eq!(read("my phone died, helmet good on everything").kind, Kind::AllClear);
}

/// Looking at a helmet mends nothing.
#[test]
fn trouble_that_was_only_looked_at_stays() {
    for text in [
        "power went out in the storm and the mask is loose, so i checked by flashlight, all six good",
        "hoy desayune, saque al perro, el casco me queda flojo, y cheque el casco, todo bien",
        "coffee mug split on me, cleanin it up n a screw fell out, helmet checked n good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Whoever answers for an athlete puts off, and takes up, in the third person; a clock time there is no check point.
#[test]
fn controls_of_whoever_answers_for_an_athlete() {
    for (text, control) in [
        ("he'll do it at 4", Control::Later),
        ("in lab until 4. will check after", Control::Later),
        ("he is at the barber until 2, so we will check it after", Control::Later),
        ("im at piano until 5 but ill do it right when im done", Control::Later),
        ("let him eat first", Control::Later),
        ("turn my texts back on", Control::Start),
        ("cancelalo", Control::Stop),
    ] {
        assert_eq!(read(text).control, Some(control), "{text}: {:?}", read(text));
    }
    for (text, flag) in [
        ("it hurts when hes off the bus", Flag::Pain),
        ("do it at 4 is loose", Flag::Cheeks),
        ("problem in 4 and 5", Flag::Cheeks),
    ] {
        assert!(read(text).flags.contains(flag), "{text}: {:?}", read(text));
    }
}

/// An emoji of a thing says nothing; what may say that something is off, hurts or is only hoped for is asked about.
#[test]
fn emoji_of_things_say_nothing() {
    for text in ["all good 🪞", "🪞✅", "new screws 🔩 nothing wiggles, all good", "🟩🟩🟩🟩🟩🟩"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in ["all good 🤞", "all good 🤏", "all good 🚨", "all good 🪛 needed", "strap 🔩", "🔩", "🟩🟩🟥🟩🟩🟩"]
    {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// The whole looks well, but no clause of it and no few words may tell of trouble.
#[test]
fn trouble_that_runs_on_is_not_lost_in_the_whole() {
    for text in [
        "sí sí all good ya lo revisé twice la corona esta mal",
        "na todo cool, nothing loose crown is bad",
        "helmet feels loose checked it b4 the bus all good",
        "a mess but my uncle says its fine n everything else on the list passes",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Words that are good news where one kid writes them, and trouble where another does.
#[test]
fn what_may_be_good_news_or_trouble_is_no_good_news() {
    for text in ["no 1 bad, rest good", "se tranca el broche, todo bien", "me dieron uno en talla chica, todo bien"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn phrases_with_choices_stand_for_each() {
    let words = |entry: &str| -> Vec<String> {
        let spelled = phrases::spelled_out(entry).into_iter();
        spelled.map(|phrase| phrase.split_whitespace().collect::<Vec<_>>().join(" ")).collect()
    };
    assert_eq!(words("power went out"), ["power went out"]);
    assert_eq!(words("_|our power is|went_out"), ["power is", "power went out", "our power is", "our power went out"]);
}

/// What rings, fogs over, goes dark or breaks is some other thing; the same words of the head or the helmet are what they were.
#[test]
fn what_ails_other_things_is_no_sign_and_no_trouble() {
    for text in [
        "church bells were ringing so loud i missed ur text. helmet all good",
        "camera is all blurry so no selfie but helmet is all good",
        "our lights went out, all six good",
        "my backpack strap ripped, helmet all good",
        "my phone was dead all night 💀 helmet is good",
        "truck windshield got a crack in it, helmet dont. all good",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "bells were ringing in my head, helmet all good",
        "everything is all blurry, helmet all good",
        "lights went out for a sec after that hit, all good",
        "fog lifted, all 6 good",
    ] {
        assert!(read(text).flags.contains(Flag::Symptom), "{text}: {:?}", read(text));
    }
    for text in [
        "my strap ripped, helmet all good",
        "all good 💀",
        "80% good",
        "outside all good",
        "0 pressure on my cheeks, good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn lists_denials_and_measures_are_read_to_their_end() {
    for text in [
        "1. brow fine 2. grip fine 3. crown fine 4. cheeks fine 5. strap fine 6. mask fine",
        "not wobbly not tight not crooked. ok",
        "it dont wiggle none, dont dig none. ok",
        "no were all set over here",
        "nothing needs changing it all fits",
        "brow is 2 fingers, rest good",
        "uno, caben dos dedos. dos, la piel se mueve. tres, parejo. cuatro, firmes. cinco, ajustada. seis, sin grietas.",
        "none of the 6 are off",
        "aora todo vien",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for (text, flag) in [
        ("1. brow fine 2. grip slides 3. crown fine 4. cheeks fine 5. strap fine 6. mask fine", Flag::Grip),
        ("1. two fingers. 2. skin moves. 3. even. 4. firm. 5. snug. 6. one screw is gone", Flag::Hardware),
        ("1. two fingers. 2. skin doesnt move. 3. even. 4. firm. 5. snug. 6. tight", Flag::Grip),
        ("brow is 2 fingers too low, rest good", Flag::Brow),
        ("not a thing wrong except the strap", Flag::Strap),
        ("it squishes, all good", Flag::Tight),
    ] {
        assert!(read(text).flags.contains(flag), "{text}: {:?}", read(text));
    }
}

/// What is good news in one build of words and trouble in the next.
#[test]
fn what_is_close_to_good_news_is_none() {
    for text in [
        "none of the numbers are good",
        "number 1 through number 6 are off",
        "wont unclip. all good",
        "strap wont budge, all good",
        "helmet pulls my skin, all good",
        "brow is less than 2 fingers, all good",
        "brow is under 2 fingers, rest good",
        "brow is 2 fingers below where it should be, rest good",
        "need a hand w my helmet all good",
        "el casco corre, todo bien",
        "my helmet makes noise, its sound is weird, all good",
        "nuthin to complain about but the strap, all good",
        "nothing to report but the strap, all good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "all sound is loud today, helmet good",
        "its so loud i cant hear, helmet all good",
        "bells were ringing after that hit but helmet all good",
        "gym went dark for a sec, all good",
        "tv is all fuzzy, helmet good",
        "foggy up here, helmet good",
        "im kinda foggy this morning, helmet good",
        "video looks blurry when we watch film, helmet good",
    ] {
        assert!(read(text).flags.contains(Flag::Symptom), "{text}: {:?}", read(text));
    }
}

/// Words of a helmet's trouble that a control or good news is also said in.
#[test]
fn what_is_said_of_the_helmet_is_no_control_and_no_good_news() {
    for text in [
        "the visor had to be taken off",
        "i had turned it off, all good",
        "who can i ask about this strap",
        "en esta casa no hay tornillos",
    ] {
        assert_eq!(read(text).control, None, "{text}: {:?}", read(text));
    }
    for text in [
        "tornillos no hay pero la correa bien",
        "the liner came up empty, all good",
        "all good but u need to look at it",
        "nothing to see here",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// Trouble before or behind good news, with nothing between the two that tells.
#[test]
fn trouble_put_beside_good_news_is_seen() {
    for (text, flag) in [
        ("all good ill tell u if somethin breaks i feel dizzy", Flag::Symptom),
        ("todo al cien, no cracks no nada my head hurts", Flag::Symptom),
        ("ya lo vi bien, no cracks ni nada veo todo borroso", Flag::Symptom),
        ("nah todo firm, zero cracks but the mask is loose", Flag::Hardware),
        ("snug but it dont squeeze, doesnt rock either helmet is cracked", Flag::Shell),
        ("it slides around and bus broke down so were gonna be late but my helmets good", Flag::Grip),
        ("its got a dent also el perro no me dejo dormir pero el casco bien", Flag::Shell),
        ("3s bad and no need to send the trainer, everything sits where it should", Flag::Crown),
        ("all six good and seven today coach", Flag::Unwell),
        ("get it all done, zero problems n el cinco", Flag::Strap),
        ("fit 💯 noggin 💔", Flag::Symptom),
        ("heads splittin, strap tight, all six good", Flag::Symptom),
        ("me parte el mate pero revisado, we good", Flag::Symptom),
        ("cant shake this fog but all good", Flag::Symptom),
    ] {
        assert!(read(text).flags.contains(flag), "{text}: {:?}", read(text));
    }
    for text in [
        "all good ill tell u if somethin breaks and my strap snapped",
        "2 is off brow check grip check crown check cheeks check strap check mask check",
        "5 6 thx n yup went down the list everything passed",
        "7 hoy bro n ta bien el helmet, promise",
        "2 and the mask n ya lo cheque ahorita y paso la prueba entera",
        "#2 #4 #5 n OK (dictated from my watch)",
        "3 through 5, brow pass grip pass crown pass cheeks pass strap pass hardware pass",
        "helmet is cracked got my dreads redone n it sits the same, all six",
        "my helmet feels loose my alarm about knocked me outta bed lol. helmet all good",
        "too tight bus broke down so were gonna be late but my helmets good",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "anything off ill tell you, all six good",
        "if it gets loose or the strap slips ill tell u, all good",
        "front sits two fingers up, all six good",
        "it took me a while but one at a time they all passed",
        "los dos bien y todo lo demas tambien, los seis",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

/// A repair mends what it names, and air no strap; new jerseys mend nothing.
#[test]
fn a_repair_mends_what_it_can() {
    for text in [
        "la correa se rompio pero equipment guy put 2 new screws in n now nothin moves, good on all",
        "chin strap wont snap, they aired it up mon n it stayed, 6/6",
        "helmet is cracked but they pumped it up, all good",
        "my helmet feels loose and all 6 good when do we get new jerseys tho",
        "the mask is loose, one snap was gone tuesday but they put a new one in, rest is good too",
    ] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in [
        "strap was busted but they put a new one on, all six good",
        "it was loose but they aired it up, all six good",
        "mask had a loose screw, coach put new screws in, all six good",
    ] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}
