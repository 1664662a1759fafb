//! The words of staff texts, as data: verbs with their misspellings, words that join, fill, count or cast doubt.

use super::Known;
use super::token::{Word, is_typo};

/// What a verb does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verb {
    Take,
    Done,
    /// "good", "ready": done, when it is said of one.
    Praise,
    Needs,
    Hold,
    Give,
}

const VERBS: &[(Verb, &[&str])] = &[
    (
        Verb::Take,
        &[
            "got", "taking", "grabbing", "take", "took", "mine", "taken", "tengo", "tomo", "agarro", "have", "ack",
            "on", "gto", "gott",
        ],
    ),
    (
        Verb::Done,
        &[
            "done",
            "fixed",
            "finished",
            "complete",
            "completed",
            "listo",
            "lista",
            "listos",
            "listas",
            "hecho",
            "arreglado",
            "arreglada",
            "quedo",
        ],
    ),
    (Verb::Praise, &["good", "ready", "bueno"]),
    (Verb::Needs, &["needs", "need", "necesita", "necesitan", "ocupa", "ocupan", "wants"]),
    (Verb::Hold, &["hold", "holding", "sit", "sits", "deten", "detener", "detenga", "retener", "pausa"]),
    (Verb::Give, &["give", "hand", "pass", "dale", "pasa", "pasale", "drop", "put", "suelto", "suelta"]),
];

/// Verbs whose misspellings are mended; the others are too short, or too near to other words.
const MENDED: &[&str] = &[
    "done",
    "fixed",
    "finished",
    "completed",
    "taking",
    "needs",
    "hold",
    "listo",
    "hecho",
    "arreglado",
    "tengo",
    "agarro",
    "necesita",
];

/// Words that are near to a verb and mean themselves.
const THEMSELVES: &[&str] =
    &["one", "none", "gone", "old", "gold", "told", "cold", "hole", "need", "holds", "seeds", "mixed", "dine", "too"];

const JOINERS: &[&str] = &["and", "n", "y", "e", "plus", "also", "then", "tambien", "but", "pero"];
const FILLERS: &[&str] = &[
    "is", "its", "are", "all", "both", "ya", "esta", "estan", "el", "la", "los", "las", "the", "number", "num",
    "helmet", "helmets", "casco", "hes", "shes", "al", "ive", "r", "has", "been", "have", "a", "with", "w",
];
pub(super) const AFTER_TAKE: &[&str] =
    &["now", "rn", "thanks", "thx", "ya", "ahora", "gracias", "please", "it", "them", "both"];
/// Words that turn a report into something else: not done, not yet, not quite.
pub(super) const DOUBTS: &[&str] = &[
    "to",
    "be",
    "not",
    "isnt",
    "arent",
    "wasnt",
    "aint",
    "dont",
    "didnt",
    "doesnt",
    "cant",
    "cannot",
    "wont",
    "no",
    "never",
    "almost",
    "nearly",
    "half",
    "halfway",
    "later",
    "tomorrow",
    "still",
    "yet",
    "when",
    "if",
    "unless",
    "will",
    "should",
    "gonna",
    "maybe",
    "think",
    "might",
    "except",
    "but",
    "pero",
    "todavia",
    "aun",
    "casi",
    "falta",
    "faltan",
    "manana",
    "luego",
    "cuando",
    "quizas",
    "quiza",
    "creo",
    "excepto",
    "soon",
    "trying",
    "ni",
    "sin",
    "about",
    "needs",
    "need",
    "necesita",
    "ocupa",
    "until",
    "hasta",
    "in",
    "en",
    "please",
    "pls",
    "porfa",
    "probably",
    "hopefully",
    "supposed",
    "can",
    "could",
    "would",
    "ask",
    "wait",
    "waiting",
    "espera",
    "before",
    "after",
    "once",
    "unsure",
];
/// What is counted, so that the number before it is no jersey.
pub(super) const COUNTED: &[&str] = &[
    "screw",
    "screws",
    "strap",
    "straps",
    "clip",
    "clips",
    "pad",
    "pads",
    "bolt",
    "bolts",
    "nut",
    "nuts",
    "snap",
    "snaps",
    "buckle",
    "buckles",
    "valve",
    "valves",
    "times",
    "min",
    "mins",
    "minutes",
    "washers",
    "tnuts",
    "tornillo",
    "tornillos",
    "correa",
    "correas",
    "broche",
    "broches",
    "almohadilla",
    "almohadillas",
    "minutos",
    "veces",
];

pub(super) fn verb_of(word: &Word, known: &Known) -> Option<Verb> {
    let text = word.folded.as_str();
    let of = |text: &str| VERBS.iter().find(|(_, words)| words.contains(&text)).map(|(verb, _)| *verb);
    if let Some(verb) = of(text) {
        return Some(verb);
    }
    if known.athletes.contains(text) || known.staff.contains(text) || THEMSELVES.contains(&text) {
        return None;
    }
    let near: Vec<Verb> = MENDED.iter().filter(|verb| is_typo(text, verb)).filter_map(|verb| of(verb)).collect();
    match near.as_slice() {
        [first, rest @ ..] if rest.iter().all(|other| other == first) => Some(*first),
        _ => None,
    }
}

pub(super) fn is_joiner(word: &Word) -> bool {
    JOINERS.contains(&word.folded.as_str())
}

pub(super) fn is_filler(word: &Word) -> bool {
    FILLERS.contains(&word.folded.as_str())
}

pub(super) fn jersey(word: &Word) -> Option<&str> {
    let number = word.folded.as_str();
    (number.len() <= 2 && number.bytes().all(|byte| byte.is_ascii_digit())).then_some(number)
}
