//! What staff type, and what it is taken for.

use super::*;

fn known() -> Known {
    let mut known = Known::default();
    for (first, last) in [("Jonah", "Reyes"), ("Eli", "Reyes"), ("Marcus", "Bell")] {
        Known::name(&mut known.athletes, first, last);
    }
    for (first, last) in [("Ben", "Ortiz"), ("Cole", "Hart")] {
        Known::name(&mut known.staff, first, last);
    }
    known.open = ["12", "44", "2"].map(str::to_owned).into();
    known
}

fn one(text: &str) -> Option<Command> {
    let mut commands = parse(text, &known())?;
    assert_eq!(commands.len(), 1, "{text}: {commands:?}");
    commands.pop()
}

fn jerseys(numbers: &[&str]) -> Vec<Target> {
    numbers.iter().map(|number| Target::Jersey((*number).to_owned())).collect()
}

fn done(numbers: &[&str], what: &str) -> Option<Command> {
    Some(Command::Done(jerseys(numbers), Some(what.to_owned()).filter(|what| !what.is_empty())))
}

#[test]
fn fixes_are_read_as_people_type_them() {
    for (text, numbers, what) in [
        ("12 done new strap", &["12"][..], "new strap"),
        ("#12 DONE, new strap.", &["12"], "new strap"),
        ("done 12 new strap", &["12"], "new strap"),
        ("12 new strap done", &["12"], "new strap"),
        ("12 done", &["12"], ""),
        ("12 don", &["12"], ""),
        ("12 doen", &["12"], ""),
        ("12done", &["12"], ""),
        ("done12", &["12"], ""),
        ("fixd 12", &["12"], ""),
        ("fixed 12", &["12"], ""),
        ("12 is all done", &["12"], ""),
        ("12 ✅", &["12"], ""),
        ("12 good", &["12"], ""),
        ("done 12 44", &["12", "44"], ""),
        ("12 n 44 done", &["12", "44"], ""),
        ("12, 44 done new straps", &["12", "44"], "new straps"),
        ("12 & 44 & 7 fixed", &["12", "44", "7"], ""),
        ("12 done 3 screws", &["12"], "3 screws"),
        ("done 12 3 screws", &["12"], "3 screws"),
        ("12 done, 3 screws and a clip", &["12"], "3 screws and a clip"),
        ("12 listo correa nueva", &["12"], "correa nueva"),
        ("listo el 12", &["12"], ""),
        ("12 y 44 listos", &["12", "44"], ""),
        ("ya quedo el 12", &["12"], ""),
        ("12 & 44 r done", &["12", "44"], ""),
        ("12 has been fixed", &["12"], ""),
        ("done with 12", &["12"], ""),
        ("we fixed 12", &["12"], ""),
        ("12 mask fixed", &["12"], "mask"),
        ("12 ya quedó", &["12"], ""),
    ] {
        assert_eq!(one(text), done(numbers, what), "{text}");
    }
    let jonah = vec![Target::Name("jonah".into())];
    assert_eq!(one("Jonah is done"), Some(Command::Done(jonah, None)));
    assert_eq!(one("jonah reyes fixed"), Some(Command::Done(vec![Target::Name("jonah reyes".into())], None)));
}

/// No ordinary command is taken for a body complaint, and a complaint in one is found.
#[test]
fn body_words_in_a_command_are_found_and_only_those() {
    for text in [
        "got 12 n 44",
        "12 done new strap",
        "7 almost done",
        "hold 12",
        "sit 12",
        "12 needs new helmet",
        "list",
        "silent",
        "who's out",
        "no practice today",
        "practice is canceled, lightning",
        "12 done 3 screws and a clip",
        "got it",
        "12 listo correa nueva",
        "12 can go",
        "give 12 to ben",
        "no hay práctica hoy",
        "12 good",
        "12 fine",
        "help",
        "on my way",
        "12 ya quedó",
        "12 mask clip replaced done",
        "no practice, heat",
        "hand 12 to ben",
        "hand 12 off to ben",
        "12 done refit",
        "12 aired up done",
    ] {
        assert_eq!(body_words(text), (Flags::NONE, false), "{text}");
    }
    for text in [
        "12 needs a look, says his head hurts",
        "12 done but he is dizzy",
        "44 threw up",
        "12 hurt his hand",
        "a 12 le duele la cabeza",
    ] {
        assert!(!body_words(text).0.is_empty(), "{text}");
    }
}

#[test]
fn taking_needing_handing_and_holding_are_read_as_people_type_them() {
    for text in [
        "got 12",
        "got12",
        "gto 12",
        "taking 12",
        "12 got it",
        "12 mine",
        "12 is mine",
        "i have 12",
        "working on 12",
        "i'll take 12",
        "grabbing 12",
        "im on 12",
        "tengo el 12",
        "i got 12 rn",
    ] {
        assert_eq!(one(text), Some(Command::Take(jerseys(&["12"]))), "{text}");
    }
    for text in ["got 12 n 44", "got 12,44", "got 12 & 44", "got 12 44", "tengo 12 y 44", "12 and 44 mine"] {
        assert_eq!(one(text), Some(Command::Take(jerseys(&["12", "44"]))), "{text}");
    }
    let needs = |what: &str| Some(Command::Needs(jerseys(&["12"]), what.to_owned()));
    assert_eq!(one("12 needs new helmet"), needs("new helmet"));
    assert_eq!(one("12 ocupa casco nuevo"), needs("casco nuevo"));
    for text in [
        "12 to ben",
        "give 12 to ben",
        "12 -> Ben",
        "hand 12 off to ben",
        "hand 12 to ben",
        "pass 12 to Ben Ortiz",
        "pasa 12 a ben",
        "ben has 12",
    ] {
        let Some(Command::HandOn(targets, Hand::To(name))) = one(text) else { panic!("{text}: {:?}", one(text)) };
        assert!(targets == jerseys(&["12"]) && name.starts_with("ben"), "{text}");
    }
    assert_eq!(one("12 to me"), Some(Command::HandOn(jerseys(&["12"]), Hand::Me)));
    for text in ["12 back", "12 open", "put 12 back", "give 12 back", "12 libre"] {
        assert_eq!(one(text), Some(Command::HandOn(jerseys(&["12"]), Hand::Open)), "{text}");
    }
    let hold = |why| Some(Command::Hold(jerseys(&["12"]), why));
    assert_eq!(one("hold 12"), hold(None));
    assert_eq!(one("hodl 12"), hold(None));
    assert_eq!(one("sit 12"), hold(None));
    assert_eq!(one("hold 12 helmet"), hold(Some(Holding::Helmet)));
    assert_eq!(one("hold 12 strap broke"), hold(Some(Holding::Helmet)));
    assert_eq!(one("12 hold trainer"), hold(Some(Holding::Trainer)));
    assert_eq!(one("hold 12 headache"), hold(Some(Holding::Medical)));
    assert_eq!(one("12 do not wear"), hold(Some(Holding::Helmet)));
    assert_eq!(one("12 can go"), Some(Command::MayGo(jerseys(&["12"]))));
    assert_eq!(one("12 puede jugar"), Some(Command::MayGo(jerseys(&["12"]))));
}

#[test]
fn several_things_in_one_text_are_several_commands() {
    let two = parse("12 done new strap, 44 needs new helmet", &known()).unwrap();
    let strap = Command::Done(jerseys(&["12"]), Some("new strap".into()));
    assert_eq!(two, [strap.clone(), Command::Needs(jerseys(&["44"]), "new helmet".into())]);
    let two = parse("12 done new strap 44 done", &known()).unwrap();
    assert_eq!(two, [strap, Command::Done(jerseys(&["44"]), None)]);
    let three = parse("12:done 44:needs clip\n7 done", &known()).unwrap();
    let clip = Command::Needs(jerseys(&["44"]), "clip".into());
    assert_eq!(three, [Command::Done(jerseys(&["12"]), None), clip, Command::Done(jerseys(&["7"]), None)]);
    let two = parse("12 done and got 44", &known()).unwrap();
    assert_eq!(two, [Command::Done(jerseys(&["12"]), None), Command::Take(jerseys(&["44"]))]);
}

#[test]
fn what_an_unclear_reply_meant_is_read_by_the_reader() {
    let says = |meant| Some(Command::Says(Target::Jersey("12".into()), meant));
    let flags = |flags: &[Flag]| Meant::Flags(flags.iter().copied().collect());
    assert_eq!(one("12 fine"), says(Meant::AllClear));
    assert_eq!(one("12 esta bien"), says(Meant::AllClear));
    assert_eq!(one("12 strap"), says(flags(&[Flag::Strap])));
    assert_eq!(one("12 is 2 5"), says(flags(&[Flag::Grip, Flag::Strap])));
    assert_eq!(one("12 head"), says(flags(&[Flag::Symptom])));
    assert_eq!(one("12 means the mask"), says(flags(&[Flag::Hardware])));
}

#[test]
fn a_command_said_back_is_the_same_command() {
    for text in [
        "got 12",
        "12 done new strap",
        "12 needs new helmet",
        "12 to ben",
        "12 open",
        "12 to me",
        "hold 12",
        "hold 12 helmet",
        "hold 12 trainer",
        "hold 12 medical",
        "12 can go",
        "12 fine",
        "12 is 2 5",
        "12 head",
        "12 is sick",
    ] {
        let command = one(text).unwrap_or_else(|| panic!("{text}"));
        let back = command.said(&command.targets()[0]);
        assert_eq!(one(&back).as_ref(), Some(&command), "{text} -> {back}");
    }
    for flag in Flag::ALL {
        let command = Command::Says(Target::Jersey("12".into()), Meant::Flags([flag].into_iter().collect()));
        let back = command.said(&command.targets()[0]);
        assert_eq!(one(&back).as_ref(), Some(&command), "{back}");
    }
}

#[test]
fn questions_and_calls_are_read() {
    assert_eq!(one("Who's out?"), Some(Command::Out));
    assert_eq!(one("list"), Some(Command::List));
    assert_eq!(one("lits"), Some(Command::List));
    assert_eq!(one("¿Quién falta?"), Some(Command::Silent));
    assert_eq!(one("got it"), Some(Command::Acknowledge));
    assert_eq!(one("No practice today"), Some(Command::CallOff(None)));
    assert_eq!(one("no practice today varsity"), Some(Command::CallOff(Some("varsity".into()))));
    assert_eq!(one("jv practice is canceled, lightning"), Some(Command::CallOff(Some("jv".into()))));
    assert_eq!(one("no hay práctica hoy"), Some(Command::CallOff(None)));
    assert_eq!(one("cancel jv practice"), Some(Command::CallOff(Some("jv".into()))));
    assert_eq!(one("list pls"), Some(Command::List));
    assert_eq!(one("12 done?"), Some(Command::Status(jerseys(&["12"]))));
    assert_eq!(one("who has 44?"), Some(Command::Status(jerseys(&["44"]))));
}

/// A name is a name where somebody has it, and a slip of the finger where nobody does.
#[test]
fn a_slip_of_the_finger_is_no_ones_name() {
    assert_eq!(one("12 don"), done(&["12"], ""));
    let mut known = known();
    Known::name(&mut known.athletes, "Don", "Ito");
    assert_eq!(parse("12 don", &known), None);
    assert_eq!(parse("don done", &known), Some(vec![Command::Done(vec![Target::Name("don".into())], None)]));
}

/// What may be meant in two ways, or is not said yet, changes nothing.
#[test]
fn what_is_not_a_command_is_not_guessed() {
    for text in [
        "12",
        "needs",
        "12 needs",
        "who is bringing the ball bags",
        "is there no practice because of the rain tomorrow?",
        "done",
        "good morning",
        "jonah was good at practice yesterday but his strap looked off",
        "12 not done",
        "12 isn't done yet",
        "12 almost done",
        "12 done but the mask is still loose",
        "12 done except the clip",
        "12 will be done later",
        "12 gone",
        "12 casi listo",
        "12 todavia no listo",
        "done 12 2 screws",
        "12 done 44",
        "12 44 good",
        "12 new strap",
        "12 to fix",
        "give 12 to somebody",
        "12 needs it done",
        "12 done in 5 min",
        "12 done please",
        "12 good to go",
        "can someone take 12",
        "ben can u take 12",
        "12 has to be done",
        "got 12 screws left over",
        "12 done needs new clip",
        "practice 12",
        "123 done",
    ] {
        let parsed = parse(text, &known());
        let changes = parsed.iter().flatten().any(|command| !matches!(command, Command::Says(..) | Command::Status(_)));
        assert!(!changes, "{text}: {parsed:?}");
    }
}

proptest::proptest! {
    /// A doubt anywhere in a report makes it no report.
    #[test]
    fn a_doubt_anywhere_is_no_report(
        report in proptest::sample::select(vec!["12 done", "12 done new strap", "done 12 44", "12 n 44 fixed", "12 listo",
            "12 new strap done", "fixd 12", "12 good"]),
        doubt in proptest::sample::select(vec!["not", "almost", "isn't", "didn't", "never", "casi", "todavia no", "if",
            "when", "can't get", "nearly", "tomorrow", "later"]),
        place in 0_usize..6,
    ) {
        let mut words: Vec<&str> = report.split(' ').collect();
        words.insert(place.min(words.len()), doubt);
        let text = words.join(" ");
        let done = |command: &Command| matches!(command, Command::Done(..) | Command::MayGo(_));
        proptest::prop_assert!(!parse(&text, &known()).iter().flatten().any(done), "{text}");
    }

    /// Whatever is typed, reading it ends and names nobody who was not typed.
    #[test]
    fn nobody_is_named_who_was_not_typed(text in "[a-z0-9 ,.#&?é]{0,40}") {
        for command in parse(&text, &known()).unwrap_or_default() {
            for target in command.targets() {
                let Target::Jersey(number) = target else { continue };
                proptest::prop_assert!(text.contains(number.as_str()));
            }
        }
    }
}
