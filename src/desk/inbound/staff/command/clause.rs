//! The grammar of what is done to items: who and what, in either order, one after the other.

use super::token::Word;
use super::vocabulary::{AFTER_TAKE, COUNTED, DOUBTS, Verb, is_filler, is_joiner, jersey, verb_of};
use super::{Command, Hand, Holding, Known, Target, meant};
use crate::desk::act::Meant;

/// A target at a place, and where it ends.
fn target(words: &[Word], at: usize, known: &Known) -> Option<(Target, usize)> {
    let word = words.get(at)?;
    if let Some(number) = jersey(word) {
        return Some((Target::Jersey(number.to_owned()), at + 1));
    }
    if let Some(next) = words.get(at + 1) {
        let whole = format!("{} {}", word.folded, next.folded);
        if known.athletes.contains(&whole) {
            return Some((Target::Name(whole), at + 2));
        }
    }
    known.athletes.contains(&word.folded).then(|| (Target::Name(word.folded.clone()), at + 1))
}

/// The targets at a place, joined or one after the other. `Err` when a number may be a jersey or a count.
fn targets(words: &[Word], mut at: usize, known: &Known) -> Result<(Vec<Target>, usize), ()> {
    let mut found = Vec::new();
    let mut end = at;
    loop {
        let from = at;
        while words.get(at).is_some_and(|word| is_filler(word) || (!found.is_empty() && is_joiner(word))) {
            at += 1;
        }
        let Some((next, after)) = target(words, at, known) else { break };
        if let (Target::Jersey(number), false) = (&next, found.is_empty()) {
            let small = number.parse::<u32>().is_ok_and(|count| count <= 12);
            if small && words.get(after).is_some_and(|word| COUNTED.contains(&word.folded.as_str())) {
                if known.open.contains(number) {
                    return Err(());
                }
                at = from;
                break;
            }
        }
        found.push(next);
        at = after;
        end = after;
    }
    let _ = at;
    Ok((found, end))
}

/// The head of a command: who and what, and where it ends.
struct Head {
    verb: Verb,
    targets: Vec<Target>,
    end: usize,
    /// The verb stood before the targets.
    verb_first: bool,
}

fn head(words: &[Word], at: usize, known: &Known) -> Result<Option<Head>, ()> {
    // "got 12", "i got 12", "im on 12"
    let mut from = at;
    while words.get(from).is_some_and(|word| {
        matches!(word.folded.as_str(), "i" | "im" | "ill" | "ive" | "we" | "ya" | "all" | "working")
    }) {
        from += 1;
    }
    if let Some(verb) = words.get(from).and_then(|word| verb_of(word, known)) {
        let (targets, end) = targets(words, from + 1, known)?;
        if !targets.is_empty() {
            return Ok(Some(Head { verb, targets, end, verb_first: true }));
        }
    }
    // "12 done", "jonah is done"
    let (targets, mut end) = targets(words, at, known)?;
    if targets.is_empty() {
        return Ok(None);
    }
    while words.get(end).is_some_and(is_filler) {
        end += 1;
    }
    // "12 mine", but not "12 take", which asks somebody else to.
    let own = |word: &Word| matches!(word.folded.as_str(), "mine" | "taken" | "ack");
    Ok(words
        .get(end)
        .and_then(|word| verb_of(word, known).filter(|verb| *verb != Verb::Take || own(word)))
        .map(|verb| Head { verb, targets, end: end + 1, verb_first: false }))
}

/// Every command of a text; `None` when any part of it is none.
pub(super) fn commands(text: &str, words: &[Word], known: &Known) -> Option<Vec<Command>> {
    let mut commands = Vec::new();
    let mut at = 0;
    while at < words.len() {
        while words.get(at).is_some_and(is_joiner) {
            at += 1;
        }
        if at == words.len() {
            break;
        }
        let (command, next) = clause(text, words, at, known)?;
        commands.push(command);
        at = next;
    }
    (!commands.is_empty()).then_some(commands)
}

/// Where the next command begins, after `from`.
fn next_head(words: &[Word], from: usize, known: &Known) -> Result<usize, ()> {
    for at in from..words.len() {
        let opens = words[at].after_break || (at > from && is_joiner(&words[at - 1]));
        let starts_with_target = target(words, at, known).is_some();
        let next = if opens || starts_with_target { head(words, at, known)? } else { None };
        if next.is_some_and(|next| opens || !next.verb_first) {
            return Ok(at);
        }
    }
    Ok(words.len())
}

fn clause(text: &str, words: &[Word], at: usize, known: &Known) -> Option<(Command, usize)> {
    if let Some(command) = whole_clause(words, at, known) {
        return Some((command, words.len()));
    }
    let Some(head) = head(words, at, known).ok()? else {
        return verb_last(text, words, at, known).or_else(|| says(text, words, at, known));
    };
    let next = next_head(words, head.end, known).ok()?;
    let mut end = next;
    while end > head.end && is_joiner(&words[end - 1]) {
        end -= 1;
    }
    let rest = words.get(head.end..end)?;
    let command = finish(text, head, rest, known)?;
    Some((command, next))
}

fn finish(text: &str, head: Head, rest: &[Word], known: &Known) -> Option<Command> {
    let Head { verb, targets, verb_first, .. } = head;
    match verb {
        Verb::Take => {
            let plain = rest.iter().all(|word| AFTER_TAKE.contains(&word.folded.as_str()));
            plain.then_some(Command::Take(targets))
        }
        Verb::Praise if targets.len() > 1 || verb_first => None,
        // "12 good to go": the helmet, or the athlete?
        Verb::Praise if rest.first().is_some_and(|word| word.folded == "to") => None,
        Verb::Done | Verb::Praise => Some(Command::Done(targets, what(text, rest, known)?)),
        Verb::Needs if verb_first => None,
        // "12 needs it done" asks somebody else to.
        Verb::Needs if rest.iter().any(|word| verb_of(word, known) == Some(Verb::Done)) => None,
        Verb::Needs => Some(Command::Needs(targets, slice(text, rest)?)),
        Verb::Hold => Some(Command::Hold(targets, holding(text, rest)?)),
        Verb::Give => hand(rest, known).map(|hand| Command::HandOn(targets, hand)),
    }
}

/// What was done, as it was typed; `None` when it holds a doubt.
#[expect(clippy::option_option, reason = "nothing said, and nothing that can be taken")]
fn what(text: &str, rest: &[Word], known: &Known) -> Option<Option<String>> {
    let doubtful = |word: &Word| {
        DOUBTS.contains(&word.folded.as_str())
            || jersey(word).is_some_and(|number| known.open.contains(number) && rest.len() == 1)
            || matches!(verb_of(word, known), Some(Verb::Needs | Verb::Hold | Verb::Give))
    };
    // A number alone after "done" may be another jersey.
    let lone = rest.iter().all(|word| jersey(word).is_some() || is_joiner(word)) && !rest.is_empty();
    if lone || rest.iter().any(doubtful) {
        return None;
    }
    Some(slice(text, rest))
}

/// The words as they were typed.
fn slice(text: &str, rest: &[Word]) -> Option<String> {
    let (first, last) = (rest.first()?, rest.last()?);
    let what = text.get(first.start..last.end)?.trim();
    (!what.is_empty()).then(|| what.to_owned())
}

/// "12 new strap done"
fn verb_last(text: &str, words: &[Word], at: usize, known: &Known) -> Option<(Command, usize)> {
    let (targets, end) = targets(words, at, known).ok()?;
    let stop = (end + 1..words.len()).find(|index| words[*index].after_break).unwrap_or(words.len());
    let between = words.get(end..stop.checked_sub(1)?)?;
    let is_done = verb_of(words.get(stop - 1)?, known) == Some(Verb::Done);
    if targets.is_empty() || !is_done || between.is_empty() || between.len() > 6 {
        return None;
    }
    // "12 got it done", "12 needs it done": not this.
    if between.iter().any(|word| verb_of(word, known).is_some()) {
        return None;
    }
    Some((Command::Done(targets, what(text, between, known)?), stop))
}

/// "12 fine", "12 is 2 5", "12 head": the whole text.
fn says(text: &str, words: &[Word], at: usize, known: &Known) -> Option<(Command, usize)> {
    let (target, end) = target(words, at, known)?;
    let rest = slice(text, words.get(end..)?)?;
    Some((Command::Says(target, meant(&rest)?), words.len()))
}

/// Commands that take the rest of the text: "12 can go", "12 to ben", "12 open", "ben has 12".
fn whole_clause(words: &[Word], at: usize, known: &Known) -> Option<Command> {
    let rest = words.get(at..)?;
    let folded: Vec<&str> = rest.iter().map(|word| word.folded.as_str()).collect();
    if let [.., "can" | "may" | "puede" | "pueden", "go" | "play" | "practice" | "jugar" | "entrenar"] =
        folded.as_slice()
    {
        return exactly(rest, 2, known).map(Command::MayGo);
    }
    if let [.., "ok" | "okay", "to", "go" | "play" | "practice"] = folded.as_slice() {
        return exactly(rest, 3, known).map(Command::MayGo);
    }
    if let [.., "dont", "wear"] | [.., "not", "wear"] = folded.as_slice() {
        let count = if folded.iter().rev().nth(2) == Some(&"do") { 3 } else { 2 };
        return exactly(rest, count, known).map(|targets| Command::Hold(targets, Some(Holding::Helmet)));
    }
    if let [.., "got", "it"] | [.., "is", "mine"] = folded.as_slice() {
        return exactly(rest, 2, known).map(Command::Take);
    }
    handed(rest, &folded, known)
}

/// "12 to ben", "12 open", "ben has 12"
fn handed(rest: &[Word], folded: &[&str], known: &Known) -> Option<Command> {
    if let Some(name) = folded.first().filter(|name| known.staff.contains(**name) && !known.athletes.contains(**name))
        && matches!(folded.get(1), Some(&("has" | "takes" | "got" | "tiene" | "toma")))
    {
        let (targets, end) = targets(rest, 2, known).ok()?;
        let complete = !targets.is_empty() && end == rest.len();
        return complete.then(|| Command::HandOn(targets, Hand::To((*name).to_owned())));
    }
    let (targets, end) = targets(rest, 0, known).ok()?;
    if targets.is_empty() {
        return None;
    }
    hand(rest.get(end..)?, known).map(|hand| Command::HandOn(targets, hand))
}

/// Who gets it: "to ben", "back".
fn hand(rest: &[Word], known: &Known) -> Option<Hand> {
    let folded: Vec<&str> = rest.iter().map(|word| word.folded.as_str()).collect();
    match folded.as_slice() {
        ["off", rest @ ..] if matches!(rest, ["to", ..]) => named_hand(rest.get(1..)?, known),
        ["back" | "open" | "free" | "libre" | "libres"]
        | ["to", "open" | "anyone" | "anybody" | "list"]
        | ["back", "on", "list"]
        | ["a", "la", "lista"] => Some(Hand::Open),
        ["to" | "a" | "para" | "for", "me" | "mi"] | ["back", "to", "me"] => Some(Hand::Me),
        ["to" | "a" | "para" | "for" | "con", name @ ..] | ["back", "to", name @ ..] => named_hand(name, known),
        _ => None,
    }
}

fn named_hand(name: &[&str], known: &Known) -> Option<Hand> {
    let name = name.join(" ");
    known.staff.contains(&name).then_some(Hand::To(name))
}

/// The words but the last few, when they are targets and nothing else.
fn exactly(rest: &[Word], but: usize, known: &Known) -> Option<Vec<Target>> {
    let who = rest.get(..rest.len().checked_sub(but)?)?;
    let (targets, mut end) = targets(who, 0, known).ok()?;
    while who.get(end).is_some_and(is_filler) {
        end += 1;
    }
    (!targets.is_empty() && end == who.len()).then_some(targets)
}

/// Why somebody is held; `Some(None)` when nothing is said, `None` when it is not understood.
#[expect(clippy::option_option, reason = "nothing said, and nothing that can be taken")]
fn holding(text: &str, rest: &[Word]) -> Option<Option<Holding>> {
    let Some(why) = slice(text, rest) else { return Some(None) };
    let folded = super::fold(&why);
    let word = folded.trim_start_matches("for ").trim_start_matches("por ").trim_start_matches("el ");
    Some(Some(match word {
        "helmet" | "equipment" | "gear" | "casco" | "equipo" => Holding::Helmet,
        "trainer" | "body" | "out" | "cuerpo" => Holding::Trainer,
        "medical" | "medico" => Holding::Medical,
        _ => match meant(word)? {
            Meant::Flags(flags) if flags.contains(crate::trade::flag::Flag::Symptom) => Holding::Medical,
            Meant::Flags(flags) if !flags.body().is_empty() => Holding::Trainer,
            Meant::Flags(_) => Holding::Helmet,
            Meant::AllClear => return None,
        },
    }))
}

/// "12 done?", "who has 12?": whom a question is about, when it is about items and nothing else.
pub(super) fn question(words: &[Word], known: &Known) -> Option<Vec<Target>> {
    const ASKING: &[&str] = &[
        "who", "whos", "has", "hows", "how", "quien", "tiene", "como", "va", "what", "about", "status", "whats", "on",
        "yet", "que", "paso", "con", "anyone", "any", "word",
    ];
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(word) = words.get(at) {
        if let Some((target, next)) = target(words, at, known) {
            found.push(target);
            at = next;
            continue;
        }
        let plain = is_filler(word) || is_joiner(word) || ASKING.contains(&word.folded.as_str());
        if !plain && verb_of(word, known).is_none() {
            return None;
        }
        at += 1;
    }
    (!found.is_empty()).then_some(found)
}

/// Everybody whom a text names.
pub(super) fn all_targets(words: &[Word], known: &Known) -> Vec<Target> {
    let mut found = Vec::new();
    let mut at = 0;
    while at < words.len() {
        match target(words, at, known) {
            Some((target, next)) => {
                found.push(target);
                at = next;
            }
            None => at += 1,
        }
    }
    found
}
