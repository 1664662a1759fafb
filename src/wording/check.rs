//! What may be wrong with a template, and how to mend it.
//!
//! Each template is rendered with the worst cases of its message. What HELP, STOP and first messages have to hold
//! follows 47 CFR 64.1200(a)(12) and the CTIA Messaging Principles and Best Practices (May 2023); what the answers to
//! athletes have to hold is this program's own rule of care.

use minijinja::{Environment, Error};

use super::message::{Audience, Kind, Message};
use super::segments::{self, Encoding};
use super::{Accents, Said, file, folder, render};
use crate::trade::roster::Language;

/// One thing that is wrong with one template.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}: {what}; {mend}")]
pub struct WordingProblem {
    /// The template's file, from the templates' folder: `en/check.txt`.
    pub file: String,
    /// What is wrong.
    pub what: String,
    /// How to mend it.
    pub mend: String,
}

fn problem(language: Language, kind: Kind, what: impl Into<String>, mend: impl Into<String>) -> WordingProblem {
    WordingProblem { file: file(language, kind), what: what.into(), mend: mend.into() }
}

pub(super) fn unknown_stem(language: Language, stem: &str) -> WordingProblem {
    let names = Kind::ALL.iter().map(|kind| kind.name());
    let mend = nearest(stem, names.clone()).map_or_else(
        || format!("rename it to one of: {}", names.collect::<Vec<_>>().join(", ")),
        |near| format!("rename it, perhaps to `{near}.txt`, or take it out"),
    );
    WordingProblem {
        file: format!("{}/{stem}.txt", folder(language)),
        what: "no message has this name".to_owned(),
        mend,
    }
}

pub(super) fn does_not_compile(language: Language, kind: Kind, error: &Error) -> WordingProblem {
    let mend = "correct the template there; every {{ needs its }} and every {% if %} its {% endif %}";
    problem(language, kind, format!("does not compile: {}", says(error)), mend)
}

/// The error's own words, with its line.
fn says(error: &Error) -> String {
    let detail = error.detail().map_or_else(|| error.kind().to_string(), str::to_owned);
    error.line().map_or_else(|| detail.clone(), |line| format!("{detail} (line {line})"))
}

/// Everything that is wrong with one template; the same trouble in several samples is told once.
pub(super) fn check(environment: &Environment<'_>, language: Language, kind: Kind) -> Vec<WordingProblem> {
    let mut problems = unknown_variables(environment, language, kind);
    if !problems.is_empty() {
        return problems;
    }
    let samples = kind.samples(language);
    let said: Result<Vec<Said>, Error> =
        samples.iter().map(|message| render(environment, language, message, Accents::Fold)).collect();
    match said {
        Ok(said) => {
            let dearest = said.iter().max_by_key(|said| segments::count(&said.text).segments);
            problems.extend(dearest.and_then(|said| over_budget(language, kind, &said.text)));
            for (message, said) in samples.iter().zip(&said) {
                for found in check_said(language, message, said) {
                    if !problems.contains(&found) {
                        problems.push(found);
                    }
                }
            }
        }
        Err(error) => {
            let mend = format!("use filters and tests that exist, and its variables: {}", known(kind));
            problems.push(problem(language, kind, format!("fails: {}", says(&error)), mend));
        }
    }
    problems
}

fn known(kind: Kind) -> String {
    kind.variables().join(", ")
}

fn unknown_variables(environment: &Environment<'_>, language: Language, kind: Kind) -> Vec<WordingProblem> {
    let Ok(template) = environment.get_template(&file(language, kind)) else {
        return vec![problem(language, kind, "is missing", "put it back")];
    };
    let variables = kind.variables();
    let mut used: Vec<String> = template.undeclared_variables(false).into_iter().collect();
    used.sort();
    used.iter()
        .filter(|name| !variables.contains(&name.as_str()))
        .filter(|name| !environment.globals().any(|(global, _)| global == name.as_str()))
        .map(|name| {
            let mend = nearest(name, variables.iter().copied()).map_or_else(
                || format!("use one of: {}", known(kind)),
                |near| format!("perhaps `{near}` is meant; there are: {}", known(kind)),
            );
            problem(language, kind, format!("uses `{name}`, which this message does not have"), mend)
        })
        .collect()
}

fn check_said(language: Language, message: &Message<'_>, said: &Said) -> Vec<WordingProblem> {
    let kind = message.kind();
    let mut problems = Vec::new();
    problems.extend(list_not_told(language, kind, said));
    let text = plain(&said.text);
    for item in required(language, message) {
        if !item.met_by(&text) {
            problems.push(problem(language, kind, item.missing(), item.mend()));
        }
    }
    for word in unwanted(kind) {
        if contains_words(&text, word) {
            let what = format!("says `{word}`");
            problems.push(problem(language, kind, what, format!("leave `{word}` out: {}", reason(kind))));
        }
    }
    problems.extend(keyword_yes(language, kind, &said.text));
    problems
}

fn over_budget(language: Language, kind: Kind, text: &str) -> Option<WordingProblem> {
    let cost = segments::count(text);
    if cost.segments <= kind.budget() {
        return None;
    }
    let plain = segments::plainly(text);
    let strange: String = plain.chars().filter(|character| segments::septets(*character).is_none()).take(5).collect();
    let (name, mend) = match cost.encoding {
        Encoding::Gsm7 => ("GSM-7", "shorten it".to_owned()),
        Encoding::Ucs2 => ("UCS-2", format!("shorten it, or leave out what forces UCS-2: {strange}")),
    };
    let what = format!(
        "takes {} segments ({} units of {name}) with long names, and may take {}",
        cost.segments,
        cost.units,
        kind.budget()
    );
    Some(problem(language, kind, what, mend))
}

fn list_not_told(language: Language, kind: Kind, said: &Said) -> Option<WordingProblem> {
    if !kind.has_list() {
        return None;
    }
    let whole = said.lines.iter().all(|line| contains(&said.text, line));
    let told = said.hidden == 0 || said.text.contains(&format!("+{}", said.hidden));
    match (whole, told) {
        (false, _) => Some(problem(language, kind, "leaves lines of its list out", "show every one of `lines`, whole")),
        (true, false) => Some(problem(
            language,
            kind,
            "does not say how many lines are not shown",
            "end it with +{{ hidden }} where `hidden` is not 0",
        )),
        (true, true) => None,
    }
}

/// Whether a value stands in a text, folded or not.
fn contains(text: &str, value: &str) -> bool {
    segments::plainly(text).contains(&segments::plainly(value))
}

/// Lower case, accents folded, so that wording can be looked for.
fn plain(text: &str) -> String {
    segments::plainly(text).to_lowercase()
}

/// Something that a message has to say, in one of several ways.
struct Required {
    name: &'static str,
    any: Vec<String>,
    variable: bool,
}

impl Required {
    fn met_by(&self, plain_text: &str) -> bool {
        self.any.iter().any(
            |way| {
                if self.variable { plain_text.contains(way) } else { contains_words(plain_text, way) }
            },
        )
    }

    fn missing(&self) -> String {
        if self.variable { format!("does not say its `{}`", self.name) } else { format!("does not say {}", self.name) }
    }

    fn mend(&self) -> String {
        if self.variable {
            format!("put {{{{ {} }}}} into every branch", self.name)
        } else {
            format!("say it, for example with `{}`", self.any.first().map_or("", String::as_str))
        }
    }
}

/// Whether these words stand in the text, not as part of longer ones; a last `*` stands for any ending.
fn contains_words(text: &str, words: &str) -> bool {
    let (words, open) = words.strip_suffix('*').map_or((words, false), |stem| (stem, true));
    text.match_indices(words).any(|(at, found)| {
        let before = text[..at].chars().next_back();
        let after = text[at + found.len()..].chars().next();
        !before.is_some_and(char::is_alphanumeric) && (open || !after.is_some_and(char::is_alphanumeric))
    })
}

fn words(name: &'static str, en: &[&str], es: &[&str], language: Language) -> Required {
    let any = match language {
        Language::En => en,
        Language::Es => es,
    };
    Required { name, any: any.iter().map(|way| plain(way)).collect(), variable: false }
}

const NOT_WEAR_EN: &[&str] = &["do not wear it", "don't wear it", "do not put it on", "don't put it on"];
const NOT_WEAR_ES: &[&str] = &["no te lo pongas", "no lo uses", "no se lo ponga"];

fn rule(name: &'static str, language: Language) -> Required {
    let (en, es): (&[&str], &[&str]) = match name {
        "how often it writes" => (
            &["each", "every", "per", "a day", "a week", "vary", "varies"],
            &["cada", "por", "al día", "a la semana", "varía", "varían"],
        ),
        "that rates may apply" => (&["data rates may apply"], &["pueden aplicarse tarifas", "pueden aplicar tarifas"]),
        "STOP" => (&["stop"], &["stop"]),
        "HELP" => (&["help"], &["help"]),
        "that no more will be sent" => (
            &["no more texts", "no more messages", "not get any more", "no further*"],
            &["no se enviarán más", "no recibirás más", "no recibirá más", "no habrá más"],
        ),
        "do not wear it until staff have checked it" => (NOT_WEAR_EN, NOT_WEAR_ES),
        "keep the helmet off" => (
            &["do not put your helmet on", "don't put your helmet on", "leave your helmet off", "no helmet"],
            &["no te pongas el casco", "sin casco"],
        ),
        "do not practice" => (&["do not practice", "don't practice"], &["ni practiques", "no practiques"]),
        "an adult" => (&["adult"], &["adulto"]),
        "that a self-check never replaces a fitting" => {
            (&["never replaces"], &["nunca lo reemplaza", "nunca reemplaza"])
        }
        "whom to see" => {
            (&["athletic trainer"], &["medicina deportiva", "entrenador atlético", "entrenadora atlética"])
        }
        _ => (&[], &[]),
    };
    words(name, en, es, language)
}

/// The value of a field has to stand in the text.
fn field(name: &'static str, value: &str) -> Required {
    Required { name, any: vec![plain(value)], variable: true }
}

fn literal(name: &'static str) -> Required {
    Required { name, any: vec![name.to_lowercase()], variable: false }
}

fn required(language: Language, message: &Message<'_>) -> Vec<Required> {
    let mut items = required_fields(message);
    items.extend(required_rules(message.kind()).iter().map(|name| rule(name, language)));
    match message {
        Message::StillNeedsStaff { hold: true, .. } => {
            items.push(rule("do not wear it until staff have checked it", language));
        }
        Message::Fixed { still_held: true, .. } => items.push(rule("whom to see", language)),
        Message::Check { .. } | Message::Unclear { .. } => {
            items.extend(["OK", "1", "2", "3", "4", "5", "6", "7"].map(literal));
        }
        Message::Symptom { .. } | Message::Emergency { .. } | Message::Body { .. } => {
            items.push(literal("911"));
        }
        _ => {}
    }
    items
}

fn required_rules(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Welcome | Kind::Started => &["how often it writes", "that rates may apply", "STOP", "HELP"],
        Kind::Help | Kind::StaffHelp => &["how often it writes", "that rates may apply", "STOP"],
        Kind::StaffStart => &[
            "how often it writes",
            "that rates may apply",
            "STOP",
            "HELP",
            "that a self-check never replaces a fitting",
        ],
        Kind::FamilyWelcome | Kind::ConsentNoted => &["how often it writes", "that rates may apply", "STOP", "HELP"],
        Kind::ConsentAsk => &["how often it writes", "that rates may apply", "STOP"],
        Kind::Stopped => &["that no more will be sent"],
        Kind::FlaggedHold | Kind::FlaggedMissing | Kind::UnclearAgain => {
            &["do not wear it until staff have checked it"]
        }
        Kind::OutOfUse | Kind::HeldEquipment => &["do not wear it until staff have checked it"],
        Kind::Symptom | Kind::Body => &["keep the helmet off", "do not practice", "an adult", "whom to see"],
        Kind::Emergency => &["keep the helmet off", "an adult", "whom to see"],
        Kind::StillHeld => &["whom to see"],
        Kind::HeldBody => &["keep the helmet off", "do not practice", "whom to see"],
        _ => &[],
    }
}

fn required_fields(message: &Message<'_>) -> Vec<Required> {
    match message {
        Message::Welcome { program }
        | Message::Started { program }
        | Message::Stopped { program }
        | Message::WrongNumber { program }
        | Message::StaffStart { program } => vec![field("program", program)],
        Message::SignIn { program, link, .. } => vec![field("program", program), field("link", link)],
        Message::Help { program, contact, contact_phone }
        | Message::StaffHelp { program, contact, contact_phone, .. }
        | Message::UnknownNumber { program, contact, contact_phone }
        | Message::NoOpenCheck { program, contact, contact_phone } => {
            vec![field("program", program), field("contact", contact), field("contact_phone", contact_phone)]
        }
        Message::FlaggedRefit { place, by, .. }
        | Message::FlaggedHold { place, by, .. }
        | Message::FlaggedMissing { place, by, .. }
        | Message::UnclearAgain { place, by, .. }
        | Message::HeldEquipment { place, by, .. }
        | Message::StillNeedsStaff { place, by, .. } => {
            vec![field("place", place), field("by", by.trim_end_matches('.'))]
        }
        Message::NoticeHeld { program, first, contact, contact_phone, .. }
        | Message::NoticeCleared { program, first, contact, contact_phone, .. }
        | Message::NoticeStep { program, first, contact, contact_phone }
        | Message::NoticeHelmetOut { program, first, contact, contact_phone }
        | Message::NoticeHelmetBack { program, first, contact, contact_phone } => vec![
            field("program", program),
            field("first", first),
            field("contact", contact),
            field("contact_phone", contact_phone),
        ],
        Message::NoticeQuestion { program, contact, contact_phone } => {
            vec![field("program", program), field("contact", contact), field("contact_phone", contact_phone)]
        }
        Message::MailFooter { contact, contact_phone, page, .. } => {
            vec![field("contact", contact), field("contact_phone", contact_phone), field("page", page)]
        }
        Message::ConsentAsk { program, .. }
        | Message::ConsentNoted { program, .. }
        | Message::FamilyWelcome { program }
        | Message::FamilyAsk { program, .. }
        | Message::MailSubject { program, .. } => vec![field("program", program)],
        Message::Check { first } => vec![field("first", first)],
        Message::ChatCode { first, code, .. } => vec![field("first", first), field("code", code)],
        Message::Symptom { trainer, trainer_phone, .. }
        | Message::Emergency { trainer, trainer_phone, .. }
        | Message::StillHeld { trainer, trainer_phone, .. }
        | Message::HeldBody { trainer, trainer_phone, .. }
        | Message::Body { trainer, trainer_phone, .. } => {
            let trainer = trainer.map(|trainer| field("trainer", trainer));
            let phone = trainer_phone.map(|phone| field("trainer_phone", phone));
            trainer.into_iter().chain(phone).collect()
        }
        Message::BodyAlert { who, reply, .. } | Message::WhatMeant { who, reply, .. } => {
            vec![field("who", who), field("reply", reply)]
        }
        Message::WhichAthlete { options } | Message::WhichItem { options } => {
            vec![field("options", options)]
        }
        _ => Vec::new(),
    }
}

/// Words that have no place in a message, whatever else it says.
fn unwanted(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Symptom | Kind::Emergency | Kind::Body | Kind::StillHeld | Kind::HeldBody => &[
            "wait and see",
            "wait it out",
            "see how you feel",
            "probably",
            "nothing to worry",
            "espera a ver",
            "no es nada",
            "seguramente",
        ],
        _ if kind.audience() == Audience::Family => FAMILY_UNWANTED,
        _ if kind.audience() == Audience::Staff => &[
            "concussion*",
            "symptom*",
            "headache*",
            "dizz*",
            "nause*",
            "vomit*",
            "diagnos*",
            "illness*",
            "conmocion*",
            "sintoma*",
            "dolor de cabeza",
            "mareo*",
            "enferm*",
        ],
        _ => &[],
    }
}

/// What a family is never told by a notice: a diagnosis, a sign of one, a part of the body, what is off with a helmet.
const FAMILY_UNWANTED: &[&str] = &[
    "concussion*",
    "symptom*",
    "headache*",
    "head",
    "brain",
    "neck",
    "dizz*",
    "nause*",
    "vomit*",
    "diagnos*",
    "ill",
    "illness*",
    "sick*",
    "hurt*",
    "injur*",
    "pain*",
    "ache*",
    "unwell",
    "medical*",
    "strap*",
    "crack*",
    "broken",
    "loose",
    "conmocion*",
    "sintoma*",
    "cabeza",
    "cerebro",
    "cuello",
    "dolor*",
    "duele*",
    "mareo*",
    "maread*",
    "vomit*",
    "enferm*",
    "lesion*",
    "herid*",
    "golpe*",
    "barbijo*",
    "roto",
    "rota",
    "grieta*",
];

fn reason(kind: Kind) -> &'static str {
    if kind.audience() == Audience::Family {
        "a notice says what happens next and whom to call, and nothing of why"
    } else if kind.audience() == Audience::Staff {
        "medical words are for medical staff alone"
    } else {
        "nobody may read it as advice to wait"
    }
}

/// `YES` as something to type: carriers take it as opting in again.
fn keyword_yes(language: Language, kind: Kind, text: &str) -> Option<WordingProblem> {
    let typed = ["YES", "SÍ", "SI"].into_iter().find(|word| contains_words(text, word))?;
    let mend = "ask for OK or a number instead: carriers take YES as opting in again";
    Some(problem(language, kind, format!("asks for `{typed}`"), mend))
}

/// The name nearest to a mistyped one: a third of its letters wrong at most.
fn nearest<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    names
        .map(|name| (distance(typed, name), name))
        .filter(|(distance, name)| *distance <= name.chars().count().div_ceil(3))
        .min()
        .map(|(_, name)| name)
}

/// Levenshtein's distance.
fn distance(a: &str, b: &str) -> usize {
    let mut row: Vec<usize> = (0..=b.chars().count()).collect();
    for (i, x) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, y) in b.chars().enumerate() {
            let substituted = diagonal + usize::from(x != y);
            diagonal = row[j + 1];
            row[j + 1] = substituted.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.chars().count()]
}
