//! What staff type, as people type it.

use super::fold;
use crate::trade::roster::Language;

/// Who a command is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// A jersey number.
    Jersey(String),
    /// A first name, a last name or both, folded.
    Name(String),
    /// Whatever waits.
    Any,
}

impl Target {
    /// As it was typed, to say it back.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Jersey(number) => format!("#{number}"),
            Self::Name(name) => name.clone(),
            Self::Any => String::new(),
        }
    }
}

/// A staff command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Command {
    /// "got 12"
    Take(Target),
    /// "12 done new strap"
    Done(Target, Option<String>),
    /// "12 needs new helmet"
    Needs(Target, String),
    /// "12 can go": the trainer's decision.
    MayGo(Target),
    /// "got it"
    Acknowledge,
    /// "no practice today", perhaps with a team.
    CallOff(Option<String>),
    /// "list"
    List,
    /// "silent"
    Silent,
    /// "who's out"
    Out,
    /// "help"
    Help,
}

impl Command {
    /// What it does, to tell somebody who may not.
    #[must_use]
    pub const fn words(&self, language: Language) -> &'static str {
        match (self, language) {
            (Self::CallOff(_), Language::En) => "call off practice",
            (Self::CallOff(_), Language::Es) => "cancelar la práctica",
            (Self::List | Self::Silent, Language::En) => "see that list",
            (Self::List | Self::Silent, Language::Es) => "ver esa lista",
            (_, Language::En) => "do that",
            (_, Language::Es) => "hacer eso",
        }
    }
}

const TAKE: &[&str] = &["got", "taking", "take", "mine", "tengo", "tomo", "agarro", "have", "ack"];
const DONE: &[&str] =
    &["done", "fixed", "finished", "ready", "good", "listo", "lista", "hecho", "arreglado", "complete", "completed"];
const NEEDS: &[&str] = &["needs", "need", "necesita", "ocupa", "wants"];
const GO: &[&str] = &["go", "play", "practice", "jugar", "entrenar"];

/// Reads a staff text; `None` when it is not one of the commands.
#[must_use]
pub fn parse(text: &str) -> Option<Command> {
    let folded = fold(text);
    let cleaned: String = folded
        .chars()
        .map(|c| if c.is_alphanumeric() || c == '#' || c == '\'' { c } else { ' ' })
        .filter(|c| *c != '\'')
        .collect();
    let words: Vec<&str> = cleaned.split_whitespace().collect();
    let joined = words.join(" ");
    whole(&joined)
        .or_else(|| call_off(&words))
        .or_else(|| may_go(&words))
        .or_else(|| done_or_needs(&words, text))
        .or_else(|| take(&words))
}

fn whole(text: &str) -> Option<Command> {
    Some(match text {
        "list" | "fix list" | "the list" | "todo list" | "whats left" | "what is left" | "lista" | "la lista"
        | "que falta" => Command::List,
        "silent" | "whos silent" | "who is silent" | "who hasnt answered" | "no answer" | "whos missing"
        | "quien falta" | "silencio" | "who didnt answer" => Command::Silent,
        "whos out"
        | "who is out"
        | "out"
        | "whos out today"
        | "held"
        | "who cant play"
        | "whos held"
        | "availability"
        | "quien no juega"
        | "quienes estan fuera"
        | "quien esta fuera" => Command::Out,
        "help" | "ayuda" | "commands" | "what can i text" | "" => Command::Help,
        "got it" | "on it" | "ack" | "ok" | "okay" | "copy" | "roger" | "received" | "on my way" | "omw"
        | "enterado" | "voy" | "ya voy" | "recibido" | "k" | "got" => Command::Acknowledge,
        _ => return None,
    })
}

fn call_off(words: &[&str]) -> Option<Command> {
    let text = words.join(" ");
    let said = [
        "no practice",
        "practice is off",
        "practice off",
        "practice cancelled",
        "practice canceled",
        "practice is cancelled",
        "practice is canceled",
        "cancel practice",
        "call off practice",
        "no game",
        "game is off",
        "game cancelled",
        "game canceled",
        "cancel game",
        "no hay practica",
        "sin practica",
        "practica cancelada",
        "se cancela la practica",
        "no hay partido",
        "partido cancelado",
    ];
    let phrase = said.iter().find(|phrase| text.contains(**phrase))?;
    let rest = text.replacen(phrase, " ", 1);
    const FILLER: &[&str] = &[
        "today", "hoy", "guys", "everyone", "por", "lluvia", "for", "the", "rain", "due", "to", "weather", "is", "el",
        "la", "de", "all",
    ];
    let rest: Vec<&str> = rest.split_whitespace().filter(|word| !FILLER.contains(word)).collect();
    match rest.as_slice() {
        [] => Some(Command::CallOff(None)),
        team if team.len() <= 2 => Some(Command::CallOff(Some(team.join(" ")))),
        _ => None,
    }
}

fn jersey(word: &str) -> Option<Target> {
    let number = word.trim_start_matches('#');
    let fits = !number.is_empty() && number.len() <= 2 && number.chars().all(|c| c.is_ascii_digit());
    fits.then(|| Target::Jersey(number.to_owned()))
}

fn target(words: &[&str]) -> Option<Target> {
    match words {
        [one] => jersey(one).or_else(|| is_name(one).then(|| Target::Name((*one).to_owned()))),
        [first, last] if is_name(first) && is_name(last) => Some(Target::Name(format!("{first} {last}"))),
        _ => None,
    }
}

fn is_name(word: &str) -> bool {
    let known = TAKE.contains(&word) || DONE.contains(&word) || NEEDS.contains(&word) || GO.contains(&word);
    word.chars().count() >= 2 && word.chars().all(char::is_alphabetic) && !known && word != "it"
}

fn may_go(words: &[&str]) -> Option<Command> {
    match words {
        [who @ .., "can" | "may" | "puede", last] if GO.contains(last) => target(who).map(Command::MayGo),
        [who @ .., "ok" | "okay", "to", last] if GO.contains(last) => target(who).map(Command::MayGo),
        _ => None,
    }
}

fn done_or_needs(words: &[&str], text: &str) -> Option<Command> {
    // "done 12 new strap"
    if let [verb, who, ..] = words
        && matches!(*verb, "done" | "fixed" | "finished" | "listo" | "lista" | "hecho")
        && let Some(target) = jersey(who).or_else(|| target(&[who]))
    {
        return Some(Command::Done(target, rest(text, 2)));
    }
    // "12 done new strap", "jonah is done", "jonah reyes fixed"
    let at = words.iter().position(|word| DONE.contains(word) || NEEDS.contains(word))?;
    let mut who = words.get(..at)?;
    if let [before @ .., "is" | "its" | "all" | "ya" | "esta"] = who {
        who = before;
    }
    // "jonah was good at": a word of praise, not a report.
    let praise = matches!(words.get(at), Some(&("good" | "ready" | "complete")));
    if praise && who.len() > 1 {
        return None;
    }
    let target = target(who)?;
    let what = rest(text, at + 1);
    if words.get(at).is_some_and(|word| NEEDS.contains(word)) {
        return Some(Command::Needs(target, what?));
    }
    Some(Command::Done(target, what))
}

/// What was typed after the first `count` words, as it was typed.
fn rest(text: &str, count: usize) -> Option<String> {
    let mut seen = 0;
    let mut inside = false;
    for (at, c) in text.char_indices() {
        let is_word = c.is_alphanumeric() || c == '#' || c == '\'' || c == '’';
        if is_word && !inside {
            if seen == count {
                let what = text.get(at..).unwrap_or_default().trim().trim_end_matches(['.', '!']);
                return Some(what.to_owned()).filter(|what| !what.is_empty());
            }
            seen += 1;
        }
        inside = is_word;
    }
    None
}

fn take(words: &[&str]) -> Option<Command> {
    match words {
        ["i", "have" | "got", who @ ..]
        | ["on" | "got" | "taking" | "take" | "tengo" | "tomo" | "agarro" | "ack", who @ ..] => {
            target(who).map(Command::Take)
        }
        [who @ .., "is", "mine"] | [who @ .., "mine" | "taken"] | [who @ .., "got", "it"] => {
            target(who).map(Command::Take)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> Target {
        Target::Jersey(text.to_owned())
    }

    #[test]
    fn fixes_are_read_as_people_type_them() {
        let strap = Some("new strap".to_owned());
        assert_eq!(parse("12 done new strap"), Some(Command::Done(number("12"), strap.clone())));
        assert_eq!(parse("#12 DONE, new strap."), Some(Command::Done(number("12"), strap.clone())));
        assert_eq!(parse("done 12 new strap"), Some(Command::Done(number("12"), strap)));
        assert_eq!(parse("12 done"), Some(Command::Done(number("12"), None)));
        assert_eq!(parse("Jonah is done"), Some(Command::Done(Target::Name("jonah".into()), None)));
        assert_eq!(parse("12 needs new helmet"), Some(Command::Needs(number("12"), "new helmet".into())));
        assert_eq!(parse("12 necesita casco"), Some(Command::Needs(number("12"), "casco".into())));
        assert_eq!(parse("got 12"), Some(Command::Take(number("12"))));
        assert_eq!(parse("12 got it"), Some(Command::Take(number("12"))));
        assert_eq!(parse("12 mine"), Some(Command::Take(number("12"))));
        assert_eq!(parse("12 can go"), Some(Command::MayGo(number("12"))));
    }

    #[test]
    fn questions_and_calls_are_read() {
        assert_eq!(parse("Who's out?"), Some(Command::Out));
        assert_eq!(parse("list"), Some(Command::List));
        assert_eq!(parse("got it"), Some(Command::Acknowledge));
        assert_eq!(parse("No practice today"), Some(Command::CallOff(None)));
        assert_eq!(parse("no practice today varsity"), Some(Command::CallOff(Some("varsity".into()))));
        assert_eq!(parse("no hay práctica hoy"), Some(Command::CallOff(None)));
    }

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
        ] {
            assert_eq!(parse(text), None, "{text}");
        }
    }
}
