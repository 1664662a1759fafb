//! Commands that stand alone: the lists, help, "got it", and a practice called off.

use super::Command;

pub(super) fn whole(text: &str) -> Option<Command> {
    Some(match text {
        "list" | "lst" | "lits" | "lsit" | "lis" | "fix list" | "the list" | "todo list" | "whats left"
        | "what is left" | "fixlist" | "show list" | "lista" | "la lista" | "que falta" | "que queda"
        | "lista por favor" => Command::List,
        "silent"
        | "slient"
        | "silnt"
        | "silent list"
        | "whos silent"
        | "who is silent"
        | "who hasnt answered"
        | "no answer"
        | "no answers"
        | "whos missing"
        | "who is missing"
        | "who didnt answer"
        | "quien falta"
        | "quienes faltan"
        | "silencio"
        | "quien no contesto"
        | "quien no ha contestado" => Command::Silent,
        "whos out"
        | "who is out"
        | "who out"
        | "whos ot"
        | "out"
        | "whos out today"
        | "who is out today"
        | "held"
        | "who cant play"
        | "whos held"
        | "who is held"
        | "availability"
        | "quien no juega"
        | "quienes no juegan"
        | "quienes estan fuera"
        | "quien esta fuera" => Command::Out,
        "help" | "hlep" | "ayuda" | "commands" | "what can i text" | "" => Command::Help,
        "got all" | "got them all" | "got em all" | "got everything" | "taking all" | "all mine" | "got the list"
        | "i got all" | "got all of them" | "tengo todos" | "tengo todo" | "los tengo todos" => Command::TakeAll,
        "got it" | "on it" | "ack" | "ok" | "okay" | "copy" | "roger" | "received" | "on my way" | "omw"
        | "enterado" | "enterada" | "voy" | "ya voy" | "recibido" | "k" | "got" => Command::Acknowledge,
        _ => return None,
    })
}

const SAID: &[&str] = &[
    "no practice",
    "practice is off",
    "practice off",
    "practice cancelled",
    "practice canceled",
    "practice is cancelled",
    "practice is canceled",
    "practice called off",
    "practice is called off",
    "cancel practice",
    "call off practice",
    "calling off practice",
    "no game",
    "game is off",
    "game cancelled",
    "game canceled",
    "game is cancelled",
    "game is canceled",
    "game called off",
    "cancel game",
    "cancel the game",
    "call off the game",
    "no hay practica",
    "sin practica",
    "practica cancelada",
    "se cancela la practica",
    "se cancelo la practica",
    "se suspende la practica",
    "cancelen la practica",
    "cancela la practica",
    "no hay partido",
    "partido cancelado",
    "se cancela el partido",
];

/// Longest first, so that "practice is cancelled" is not "practice" with a rest.
pub(super) fn call_off(text: &str) -> Option<Command> {
    const FILLER: &[&str] = &[
        "today",
        "hoy",
        "guys",
        "everyone",
        "por",
        "lluvia",
        "for",
        "the",
        "rain",
        "due",
        "to",
        "weather",
        "is",
        "el",
        "la",
        "de",
        "all",
        "lightning",
        "heat",
        "calor",
        "rayos",
        "clima",
        "porque",
        "llueve",
        "todos",
        "index",
        "advisory",
        "storm",
        "storms",
        "thunder",
        "snow",
        "air",
        "quality",
        "field",
        "wet",
        "closed",
        "school",
        "tormenta",
    ];
    // "cancel jv practice": the team stands in the middle.
    if let ["cancel" | "no", team, "practice" | "game"] | ["call", "off", team, "practice" | "game"] =
        text.split(' ').collect::<Vec<_>>().as_slice()
        && !FILLER.contains(team)
    {
        return Some(Command::CallOff(Some((*team).to_owned())));
    }
    let padded = format!(" {text} ");
    let phrase =
        SAID.iter().filter(|phrase| padded.contains(&format!(" {phrase} "))).max_by_key(|phrase| phrase.len())?;
    let rest = text.replacen(phrase, " ", 1);
    let rest: Vec<&str> = rest.split_whitespace().filter(|word| !FILLER.contains(word)).collect();
    match rest.as_slice() {
        [] => Some(Command::CallOff(None)),
        team if team.len() <= 2 => Some(Command::CallOff(Some(team.join(" ")))),
        _ => None,
    }
}
