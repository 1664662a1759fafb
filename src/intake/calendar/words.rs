//! What a calendar entry says about itself: practice or game, with helmets or without, for which team.
//!
//! Categories are taken at their word; the summary is searched for words. Where a summary speaks of both a film
//! session and a practice, helmets are taken to be worn: a check too many costs a text, a check too few a head.

use super::super::Frame;
use super::super::cell::{find_team, key, words};
use crate::trade::roster::{EventKind, TeamId};

/// What was made of an entry, and by which word.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Told {
    pub(super) kind: EventKind,
    pub(super) game_by: Option<String>,
    pub(super) helmets: bool,
    pub(super) bare_by: Option<String>,
}

const GAMES: [&str; 12] = [
    "game",
    "games",
    "scrimmage",
    "scrimmages",
    "vs",
    "versus",
    "jamboree",
    "playoff",
    "playoffs",
    "partido",
    "juego",
    "match",
];
const BARE: [&str; 15] = [
    "film",
    "films",
    "meeting",
    "meetings",
    "weights",
    "lift",
    "lifting",
    "lifts",
    "video",
    "videos",
    "pesas",
    "reunion",
    "banquet",
    "walkthrough",
    "walkthru",
];
const WORN: [&str; 14] = [
    "practice",
    "practices",
    "pads",
    "helmets",
    "helmet",
    "contact",
    "scrimmage",
    "scrimmages",
    "vs",
    "versus",
    "practica",
    "entrenamiento",
    "cascos",
    "drills",
];

/// Reads an entry's categories and summary.
pub(super) fn tell(categories: &[String], summary: &str) -> Told {
    let game_by = game(categories, summary);
    let bare_by = bare(categories, summary, game_by.is_some());
    Told {
        kind: if game_by.is_some() { EventKind::Game } else { EventKind::Practice },
        helmets: bare_by.is_none(),
        game_by,
        bare_by,
    }
}

fn game(categories: &[String], summary: &str) -> Option<String> {
    for category in categories {
        match key(category).as_str() {
            "practice" | "practices" | "practica" => return None,
            "game" | "games" | "scrimmage" | "partido" => {
                return Some(format!("category {category}"));
            }
            _ => {}
        }
    }
    if summary.split_whitespace().any(|word| word == "@") || summary.starts_with('@') {
        return Some("`@`".to_owned());
    }
    let words = words(summary);
    let film = words.iter().any(|word| BARE.contains(&word.as_str()));
    let found = words.iter().find(|word| GAMES.contains(&word.as_str()))?;
    // "Game film" and "pregame meeting" are about a game and are none; "Meeting, then scrimmage" holds one.
    let about = film && matches!(found.as_str(), "game" | "games" | "match" | "partido" | "juego");
    (!about).then(|| format!("`{found}`"))
}

fn bare(categories: &[String], summary: &str, game: bool) -> Option<String> {
    let none = ["nohelmets", "nohelmet", "withouthelmets", "sincascos", "sincasco", "helmetsoff"];
    if let Some(category) = categories.iter().find(|category| none.contains(&key(category).as_str())) {
        return Some(format!("category {category}"));
    }
    let words = words(summary);
    for pair in words.windows(2) {
        if none.contains(&pair.concat().as_str()) {
            return Some(format!("`{}`", pair.join(" ")));
        }
    }
    let walk = words.windows(2).any(|pair| pair[0] == "walk" && matches!(pair[1].as_str(), "through" | "thru"));
    let found =
        words.iter().find(|word| BARE.contains(&word.as_str())).cloned().or(walk.then(|| "walk-through".to_owned()))?;
    let worn = game || words.iter().any(|word| WORN.contains(&word.as_str()));
    (!worn).then(|| format!("`{found}`"))
}

/// The teams that categories name.
pub(super) fn teams(categories: &[String], frame: &Frame<'_>) -> Vec<TeamId> {
    let mut teams: Vec<_> = categories.iter().filter_map(|category| find_team(category, frame)).collect();
    teams.sort();
    teams.dedup();
    teams
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(categories: &[&str], summary: &str) -> (bool, bool) {
        let categories: Vec<_> = categories.iter().map(|text| (*text).to_owned()).collect();
        let told = tell(&categories, summary);
        (told.kind == EventKind::Game, told.helmets)
    }

    #[test]
    fn games_and_helmets_by_word() {
        for (summary, game, helmets) in [
            ("Varsity practice", false, true),
            ("Kestrels vs. Herons", true, true),
            ("@ Alder Creek", true, true),
            ("Scrimmage", true, true),
            ("Film", false, false),
            ("Game film", false, false),
            ("Weights", false, false),
            ("Walk-through", false, false),
            ("Lift and film", false, false),
            ("Practice (no helmets)", false, false),
            ("Práctica sin cascos", false, false),
            ("Film, then full-pads practice", false, true),
            ("Team meeting, then scrimmage", true, true),
            ("Weights + helmets", false, true),
            ("", false, true),
            ("Gamers' practice", false, true),
        ] {
            assert_eq!(told(&[], summary), (game, helmets), "{summary}");
        }
        assert_eq!(told(&["GAME"], "Homecoming"), (true, true));
        assert_eq!(told(&["PRACTICE"], "vs the scout team"), (false, true));
        assert_eq!(told(&["No-Helmets"], "Practice"), (false, false));
    }
}
