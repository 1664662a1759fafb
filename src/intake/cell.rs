//! What a cell can say: yes and no, languages, teams, numbers, addresses. Dates and times are in [`super::when`].
//!
//! Every reader takes cleaned text and returns a value or what is wrong with it. Where a writing has two meanings
//! it is a fault and not a guess.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::{Fault, Frame};
use crate::trade::phone::{Phone, PhoneError};
use crate::trade::roster::{EventKind, Language, TeamId};

/// A cell without what spreadsheets leave around it: outer and doubled spaces, no-break spaces, line breaks,
/// zero-width marks, a leading apostrophe or `="..."` that forced text; in composed form (NFC).
pub(super) fn clean(raw: &str) -> String {
    let forced = raw.trim().strip_prefix("=\"").and_then(|rest| rest.strip_suffix('"'));
    let raw = forced.unwrap_or(raw).trim();
    // In front of a number or formula an apostrophe is the spreadsheet's; in front of a letter it may be a name's.
    let numeric = |rest: &&str| rest.starts_with(|c: char| c.is_ascii_digit() || "+=-(".contains(c));
    let raw = raw.strip_prefix('\'').filter(numeric).unwrap_or(raw);
    let visible: String = raw
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .filter(|c| !matches!(c, '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}' | '\u{2060}' | '\u{FEFF}'))
        .nfc()
        .collect();
    visible.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Letters and digits alone, small, without accents: how headers and words are compared.
pub(super) fn key(text: &str) -> String {
    text.nfkd()
        .filter(|c| !is_combining_mark(*c))
        .flat_map(char::to_lowercase)
        .filter(|c| c.is_alphanumeric())
        .collect()
}

/// The words of a text, each as [`key`] writes it.
pub(super) fn words(text: &str) -> Vec<String> {
    let plain: String = text.nfkd().filter(|c| !is_combining_mark(*c)).collect();
    plain.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).map(key).collect()
}

/// Words joined by dashes: identifiers made from names.
pub(super) fn slug(text: &str) -> String {
    words(text).join("-")
}

/// Whether a cell says in words that there is nothing.
pub(super) fn says_none(text: &str) -> bool {
    matches!(key(text).as_str(), "" | "na" | "none" | "no" | "ninguno" | "tbd" | "unknown")
}

/// An identifier as given.
pub(super) fn id(text: &str) -> Result<String, Fault> {
    let fits = text.chars().count() <= 64 && !text.contains([';', '|', ',', '/']);
    if fits {
        return Ok(text.to_owned());
    }
    Err(Fault::new(format!("`{text}` cannot be an id"), "use at most 64 letters, digits, dashes and dots"))
}

/// A telephone number; "none" and its like are no number.
pub(super) fn phone(text: &str) -> Result<Option<Phone>, Fault> {
    if says_none(text) {
        return Ok(None);
    }
    Phone::parse(text).map(Some).map_err(|error| {
        let mend = match &error {
            _ if scientific(text) => "the spreadsheet made a number of it: format the column as text and type it again",
            PhoneError::Extension(_) => "give a number that receives texts itself, or leave the cell blank",
            _ => "write it as 312 555 0100, with + and the country code when it is not a US number, or leave the cell blank",
        };
        Fault::new(error.to_string(), mend)
    })
}

fn scientific(text: &str) -> bool {
    text.parse::<f64>().is_ok() && text.contains(['e', 'E'])
}

/// An e-mail address, by shape alone.
pub(super) fn email(text: &str) -> Result<String, Fault> {
    let shaped = text.split_once('@').is_some_and(|(user, host)| {
        !user.is_empty()
            && host.contains('.')
            && !host.contains('@')
            && !text.contains([' ', ',', ';', '<', '>'])
            && !host.starts_with('.')
            && !host.ends_with('.')
    });
    if shaped {
        return Ok(text.to_owned());
    }
    Err(Fault::new(
        format!("`{text}` is not an e-mail address"),
        "write one address such as name@school.example, or leave the cell blank",
    ))
}

/// A language.
pub(super) fn language(text: &str) -> Result<Language, Fault> {
    match key(text).as_str() {
        "en" | "eng" | "english" | "ingles" | "enus" | "engb" => Ok(Language::En),
        "es" | "esp" | "spa" | "sp" | "spanish" | "espanol" | "castellano" | "esus" | "esmx" => Ok(Language::Es),
        _ => Err(Fault::new(format!("`{text}` is not a language that texts are written in"), "write en or es")),
    }
}

/// Yes or no.
pub(super) fn yes(text: &str) -> Result<bool, Fault> {
    match key(text).as_str() {
        "yes" | "y" | "true" | "t" | "1" | "x" | "si" | "s" | "active" => Ok(true),
        "no" | "n" | "false" | "f" | "0" | "inactive" => Ok(false),
        _ => Err(Fault::new(format!("`{text}` is neither yes nor no"), "write yes or no")),
    }
}

/// A jersey number: as worn, without the `#`.
pub(super) fn jersey(text: &str) -> Result<Option<String>, Fault> {
    if says_none(text) {
        return Ok(None);
    }
    let bare = text.trim_start_matches('#').trim();
    let bare = bare.strip_suffix(".0").unwrap_or(bare);
    if (1..=3).contains(&bare.len()) && bare.bytes().all(|byte| byte.is_ascii_digit()) {
        return Ok(Some(bare.to_owned()));
    }
    Err(Fault::new(
        format!("`{text}` is not a jersey number"),
        "write up to three digits as worn, or leave the cell blank",
    ))
}

/// A team, by key or display name.
pub(super) fn team(text: &str, frame: &Frame<'_>) -> Result<TeamId, Fault> {
    find_team(text, frame).ok_or_else(|| {
        Fault::new(
            format!("there is no team `{text}`"),
            format!("write one of {}, or add it to the configuration", team_names(frame)),
        )
    })
}

/// A team by key or display name, spelling aside.
pub(super) fn find_team(text: &str, frame: &Frame<'_>) -> Option<TeamId> {
    let wanted = key(text);
    let mut teams = frame.teams.iter();
    if wanted.is_empty() {
        return None;
    }
    teams.find(|(id, name)| key(id.as_str()) == wanted || key(name) == wanted).map(|(id, _)| id.clone())
}

/// The team keys, for hints.
pub(super) fn team_names(frame: &Frame<'_>) -> String {
    let names: Vec<_> = frame.teams.iter().map(|(id, _)| format!("`{id}`")).collect();
    names.join(", ")
}

/// Practice or game.
pub(super) fn kind(text: &str) -> Result<EventKind, Fault> {
    match key(text).as_str() {
        "practice" | "practica" | "entrenamiento" | "training" => Ok(EventKind::Practice),
        "game" | "scrimmage" | "match" | "partido" | "juego" => Ok(EventKind::Game),
        _ => Err(Fault::new(format!("`{text}` is neither a practice nor a game"), "write practice or game")),
    }
}

/// Whether an event is cancelled.
pub(super) fn cancelled(text: &str) -> Result<bool, Fault> {
    match key(text).as_str() {
        "on" | "confirmed" | "scheduled" => Ok(false),
        "cancelled" | "canceled" | "cancel" | "off" | "cancelado" | "cancelada" | "calledoff" => Ok(true),
        _ => Err(Fault::new(format!("`{text}` is not a status"), "write on or cancelled")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_spreadsheets_leave_around_a_cell_is_taken_off() {
        assert_eq!(clean(" \u{a0}Ana\u{a0} Mar\u{ed}a\n Vega\u{200b} "), "Ana María Vega");
        assert_eq!(clean("Jose\u{301}"), "José");
        assert_eq!(clean("=\"0012\""), "0012");
        assert_eq!(clean("'+13125550100"), "+13125550100");
        assert_eq!(clean("'Iolani"), "'Iolani");
        assert_eq!(key("Número de Teléfono"), "numerodetelefono");
        assert_eq!(slug("O'Neill  Peña"), "o-neill-pena");
    }
}
