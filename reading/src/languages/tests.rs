//! The data files: each loads alone, says each thing once, has what a reply needs, and every entry can be reached.

use std::collections::{BTreeMap, BTreeSet};

use super::super::fold;
use super::super::lex;
use super::super::lexicon::{FILES, Lexicon, Tag};
use super::super::phrases::spelled_out;
use super::super::roles::Role;
use super::super::{Kind, read};
use super::{Lang, Languages};

/// What a language needs for the check's replies to be read in it.
const REQUIRED: &[Tag] = &[
    // The six check points, and what else of the helmet may be off.
    Tag::Brow,
    Tag::Forehead,
    Tag::Grip,
    Tag::Crown,
    Tag::Cheeks,
    Tag::Strap,
    Tag::Hardware,
    Tag::Shell,
    Tag::Air,
    Tag::Pad,
    Tag::Helmet,
    Tag::Bad,
    Tag::Broken,
    Tag::Crack,
    Tag::Loose,
    Tag::TooTight,
    Tag::Move,
    Tag::High,
    Tag::Press,
    Tag::Gone,
    Tag::Flat,
    Tag::Missing,
    Tag::WrongHelmet,
    // The body, and the signs of the recognition tool.
    Tag::Head,
    Tag::Neck,
    Tag::Eyes,
    Tag::Ears,
    Tag::Limb,
    Tag::Belly,
    Tag::Hurt,
    Tag::Symptom,
    Tag::RedFlag,
    Tag::Vomit,
    Tag::Hit,
    Tag::Illness,
    Tag::Injury,
    Tag::Unwell,
    // Good news, and what turns, doubts or asks.
    Tag::All,
    Tag::Rest,
    Tag::Good,
    Tag::Ok,
    Tag::Neg,
    Tag::None,
    Tag::But,
    Tag::Except,
    Tag::Only,
    Tag::And,
    Tag::Hedge,
    Tag::Ask,
    Tag::Need,
    Tag::Fix,
    Tag::Patch,
    Tag::Doubt,
    Tag::Glue,
    Tag::Fill,
    Tag::Story,
    Tag::Unit,
    Tag::Numeral,
    // Controls.
    Tag::Later,
    Tag::Absent,
    Tag::WrongNumber,
    Tag::StopWord,
    Tag::StopAny,
    Tag::StartWord,
    Tag::StartAny,
    Tag::HelpWord,
    Tag::HelpAny,
];

fn languages() -> Vec<Lang> {
    let mut languages: Vec<Lang> = Vec::new();
    for lang in FILES.iter().filter_map(|file| file.lang) {
        if !languages.contains(&lang) {
            languages.push(lang);
        }
    }
    languages
}

/// What the grammar needs to know of a language's words.
const ROLES: &[Role] = &[
    Role::Denies,
    Role::Opens,
    Role::Lacks,
    Role::NoLonger,
    Role::DeniesAll,
    Role::Everything,
    Role::CountsSix,
    Role::OutOf,
    Role::My,
];

/// The entries of a language, by tag.
fn entries(lang: Lang) -> Vec<(Tag, String)> {
    let files = FILES.iter().filter(|file| file.lang == Some(lang));
    files
        .flat_map(|file| file.data().unwrap().words)
        .flat_map(|(tag, phrases)| phrases.into_iter().map(move |phrase| (tag, phrase)))
        .collect()
}

#[test]
fn each_language_loads_by_itself() {
    for lang in languages() {
        let files = FILES.iter().filter(|file| file.lang.is_none_or(|its| its == lang));
        let built = Lexicon::of(files);
        assert!(built.is_ok(), "{}: {}", lang.name(), built.err().unwrap_or_default());
    }
}

#[test]
fn each_language_has_words_for_all_that_a_reply_may_say() {
    let mut lacking = Vec::new();
    for lang in languages() {
        let tags: Vec<Tag> = entries(lang).into_iter().map(|(tag, _)| tag).collect();
        lacking.extend(REQUIRED.iter().filter(|tag| !tags.contains(tag)).map(|tag| format!("{} {tag:?}", lang.name())));
        let files = FILES.iter().filter(|file| file.lang == Some(lang));
        let roles: Vec<Role> = files.clone().flat_map(|file| file.data().unwrap().roles.into_keys()).collect();
        lacking
            .extend(ROLES.iter().filter(|role| !roles.contains(role)).map(|role| format!("{} {role:?}", lang.name())));
        let numbers: Vec<u32> = files.flat_map(|file| file.data().unwrap().numbers.into_values()).collect();
        lacking.extend((1..=7).filter(|n| !numbers.contains(n)).map(|n| format!("{} the number {n}", lang.name())));
    }
    assert!(lacking.is_empty(), "no words for: {}", lacking.join(", "));
}

#[test]
fn each_word_with_a_role_can_be_read() {
    let all = Languages::build().unwrap();
    let mut strangers = Vec::new();
    for lang in languages() {
        let vocabulary = all.lexicon_of(lang).vocabulary();
        for file in FILES.iter().filter(|file| file.lang == Some(lang)) {
            for entry in file.data().unwrap().roles.into_values().flatten() {
                let known = |word: &str| vocabulary.contains(word);
                let knows_all = |phrase: &String| fold::fold(phrase).whole_tokens().all(|token| known(token.text));
                if !spelled_out(&entry).iter().all(knows_all) {
                    strangers.push(format!("{} {entry:?}", file.name));
                }
            }
        }
    }
    assert!(strangers.is_empty(), "{}", strangers.join("\n"));
}

#[test]
fn each_entry_is_there_once() {
    let mut twice = Vec::new();
    for lang in languages() {
        let mut seen: BTreeMap<Vec<String>, Tag> = BTreeMap::new();
        for (tag, entry) in entries(lang) {
            let words = fold::fold(&entry).whole_tokens().map(|token| token.text.to_owned()).collect();
            if let Some(other) = seen.insert(words, tag) {
                twice.push(format!("{} {entry:?} {other:?} {tag:?}", lang.name()));
            }
        }
    }
    assert!(twice.is_empty(), "{}", twice.join("\n"));
}

#[test]
fn each_entry_alone_is_found_with_its_tag() {
    let all = Languages::build().unwrap();
    let mut lost = BTreeSet::new();
    for lang in languages() {
        let lexicon = all.lexicon_of(lang);
        let spelled = |(tag, entry): (Tag, String)| spelled_out(&entry).into_iter().map(move |phrase| (tag, phrase));
        for (tag, entry) in entries(lang).into_iter().flat_map(spelled) {
            let folded = fold::fold(&entry);
            let items = lex::items(&mut lex::look_up(&folded, lexicon), &entry, lexicon);
            let found: Vec<Tag> = items.into_iter().map(|item| item.tag).collect();
            if found != [tag] {
                lost.insert(format!("{} {entry:?}: {tag:?}, found {found:?}", lang.name()));
            }
        }
    }
    assert!(lost.is_empty(), "{}", lost.into_iter().collect::<Vec<_>>().join("\n"));
}

#[test]
fn a_reply_is_read_apart_only_when_its_words_say_so() {
    for (text, lang) in [
        ("tudo certo no capacete", "pt"),
        ("minha cabeça tá doendo", "pt"),
        ("the strap is off", "en"),
        ("no me duele la cabeza", "es"),
        ("todo bien, the mask is good", "mix"),
        ("ok", "en"),
        ("", "en"),
    ] {
        assert_eq!(read(text).lang.name(), lang, "{text}");
    }
}

#[test]
fn a_false_friend_never_reassures() {
    // "No" is "in the" where it stands before a noun, and may be another language's "not" anywhere else.
    assert_eq!(read("tudo certo no capacete").kind, Kind::AllClear);
    for text in ["capacete no ta bem", "a fivela no fecha, tudo certo", "a grade no ta boa mas tudo ok"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn what_was_denied_denies_nothing_that_begins_anew() {
    for text in ["nothing loose helmet cracked", "zero issues strap loose", "não tem nada errado capacete rachado"] {
        assert_eq!(read(text).kind, Kind::Flagged, "{text}: {:?}", read(text));
    }
    for text in
        ["nothing broken dizzy", "no issues dizzy", "nada roto mareado", "nada frouxo tontura", "nothing loose sick"]
    {
        assert_eq!(read(text).kind, Kind::Flagged, "{text}: {:?}", read(text));
    }
    for text in ["5 my helmet is perfect", "5, capacete ta perfeito"] {
        assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
    for text in ["nothing broken no headache", "nothing bent or loose", "nada frouxo sem tontura"] {
        assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
    }
}

#[test]
fn what_is_worrying_in_another_language_is_known_apart_too() {
    for text in
        ["tudo bem aqui hoje mas dizzy", "tudo certo no meu capacete mas the strap broke", "tudo bem comigo, mareado"]
    {
        assert_eq!(read(text).kind, Kind::Flagged, "{text}: {:?}", read(text));
    }
}

proptest::proptest! {
    #[test]
    fn a_problem_added_to_an_all_clear_is_seen_apart_too(
        clear in proptest::sample::select(&["tudo bem", "td certo aqui", "os 6 ok", "tá ok", "nenhum problema", "blz"][..]),
        problem in proptest::sample::select(&[
            "a jugular quebrou", "minha cabeça dói", "esqueci o capacete", "parafuso solto", "tem uma rachadura",
            "tô tonto", "my head hurts", "se rompio la correa",
        ][..]),
        joint in proptest::sample::select(&[". ", ", ", " mas ", " e "][..]),
        first: bool,
    ) {
        let text = if first { format!("{problem}{joint}{clear}") } else { format!("{clear}{joint}{problem}") };
        proptest::prop_assert_ne!(read(&text).kind, Kind::AllClear, "{}", text);
    }
}
