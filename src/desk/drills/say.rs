//! What is said of coverage, in a reader's language.

use chrono::NaiveDate;

use super::Look;
use crate::desk::scene::Scene;
use crate::trade::coverage::{Remedy, Short};
use crate::trade::drill::{Competence, Position, Skill};
use crate::trade::roster::{Language, StaffId};
use crate::wording::words::{self, position_words, skill_words};

/// A gap in coverage, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gap {
    /// "nobody current for the cutter on quarter-turn clips (Tern)".
    pub what: String,
    /// Who is away, when that is why.
    pub away: Option<String>,
    /// "Ben and Cole: face mask with the cutter on quarter-turn clips"; none when drills do not help.
    pub drill: Option<String>,
    /// The day for it, in words; none when no practice day before the event has everybody there.
    pub day: Option<String>,
    /// What to bring.
    pub bring: Option<String>,
    /// How many more people are needed whatever is drilled.
    pub people_short: usize,
}

/// The gap that a look has found, if any.
#[must_use]
pub fn gap(scene: &Scene<'_>, look: &Look, language: Language) -> Option<Gap> {
    let suggestion = look.suggestion.as_ref()?;
    // The same shortage with several kinds of hardware is said once, with all their models.
    let mut shortages: Vec<(&Short, Vec<&str>)> = Vec::new();
    for cover in &look.covers {
        let Some(short) = &cover.short else { continue };
        let models = cover.models.iter().map(String::as_str);
        match shortages.iter_mut().find(|(own, _)| *own == short) {
            Some((_, of)) => of.extend(models),
            None => shortages.push((short, models.collect())),
        }
    }
    let what: Vec<String> =
        shortages.into_iter().map(|(short, models)| shortage(scene, short, &models, look, language)).collect();
    let away: Vec<&str> = look.away.iter().map(|member| member.first.as_str()).collect();
    Some(Gap {
        what: what.join("; "),
        away: (look.but_for_absence && !away.is_empty()).then(|| words::joined(&away, language)),
        drill: sessions(scene, &suggestion.remedy, language),
        day: suggestion.day.map(|day| day_of(day, scene.today, language)),
        bring: bring(&suggestion.remedy, language),
        people_short: suggestion.remedy.people_short,
    })
}

fn day_of(day: NaiveDate, today: NaiveDate, language: Language) -> String {
    words::day_words(day, today, language)
}

/// "nobody current with the cutter on quarter-turn clips (Tern)", "2 people for 3 places (head, chest, hips): Ana, Beth".
fn shortage(scene: &Scene<'_>, short: &Short, models: &[&str], look: &Look, language: Language) -> String {
    let positions: Vec<String> =
        short.positions.iter().map(|position| position_words(*position, language).to_owned()).collect();
    let masks = short.positions.iter().any(|position| matches!(position, Position::Mask | Position::Cutter));
    let models = if masks { format!(" ({})", models.join(", ")) } else { String::new() };
    let listed = positions.join(", ");
    let names: Vec<String> = short.people.iter().filter_map(|id| first(scene, look, id)).collect();
    match (language, names.as_slice()) {
        (Language::En, []) => format!("nobody current for {listed}{models}"),
        (Language::Es, []) => format!("nadie al día para {listed}{models}"),
        (Language::En, names) => {
            format!("{} for {} places, {listed}{models}: {}", count_en(names.len()), positions.len(), names.join(", "))
        }
        (Language::Es, names) => {
            let who = if names.len() == 1 { "1 persona".to_owned() } else { format!("{} personas", names.len()) };
            format!("{who} para {} puestos, {listed}{models}: {}", positions.len(), names.join(", "))
        }
    }
}

fn count_en(people: usize) -> String {
    if people == 1 { "1 person".to_owned() } else { format!("{people} people") }
}

fn first(scene: &Scene<'_>, look: &Look, id: &StaffId) -> Option<String> {
    let mut all = look.people.iter().chain(&scene.staff);
    all.find(|member| member.id == *id).map(|member| member.first.clone())
}

fn sessions(scene: &Scene<'_>, remedy: &Remedy, language: Language) -> Option<String> {
    let sessions: Vec<String> = remedy
        .sessions()
        .into_iter()
        .map(|(competence, staff)| {
            let names: Vec<String> = staff
                .iter()
                .filter_map(|id| scene.staff.iter().find(|member| member.id == *id).map(|member| member.first.clone()))
                .collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            format!("{}, {}", words::joined(&names, language), competence_words(&competence, language))
        })
        .collect();
    (!sessions.is_empty()).then(|| sessions.join("; "))
}

/// "face mask with the cutter on quarter-turn clips".
pub(super) fn competence_words(competence: &Competence, language: Language) -> String {
    let skill = skill_words(competence.skill, language);
    match (&competence.hardware, language) {
        (Some(hardware), Language::En) => format!("{skill} on {hardware}"),
        (Some(hardware), Language::Es) => format!("{skill} en {hardware}"),
        (None, _) => skill.to_owned(),
    }
}

fn bring(remedy: &Remedy, language: Language) -> Option<String> {
    let mut skills: Vec<Skill> = remedy.drills.iter().map(|(_, competence)| competence.skill).collect();
    skills.sort_unstable();
    skills.dedup();
    let things: Vec<&str> = skills.into_iter().map(|skill| words::skill_brings(skill, language)).collect();
    (!things.is_empty()).then(|| words::joined(&things, language))
}
