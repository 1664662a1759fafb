//! Kits: what they hold, what they have to hold for the helmets worn, and what becomes of it.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::model::{Model, find};
use super::roster::{EventKind, ProgramId, StaffId, TeamId};
use super::time::Moment;

/// The back-up of every kit, whatever the helmets: the cutting tool is at hand when hardware fails (Swartz et al., J Athl
/// Train 2009;44(3):306-331; in a study of used helmets the back-up was needed for 19 of 100, Copeland et al. 2007).
pub const CUTTER: &str = "cutter";

/// Where a kit goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Goes {
    /// To practices.
    Practice,
    /// To games at home.
    Home,
    /// To games away.
    Away,
    /// Nowhere: what fixes are made from.
    Room,
}

impl Goes {
    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Practice => "practice",
            Self::Home => "home",
            Self::Away => "away",
            Self::Room => "room",
        }
    }
}

/// A kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Kit {
    /// The program.
    pub program: ProgramId,
    /// Short name as staff text it: "2", "game".
    pub id: String,
    /// Name.
    pub name: String,
    /// Where it is kept.
    pub place: Option<String>,
    /// Who keeps it.
    pub keeper: Option<StaffId>,
    /// Where it goes.
    pub goes: Vec<Goes>,
    /// Teams that it goes with; empty means all.
    pub teams: Vec<TeamId>,
    /// When it was last counted as a whole.
    pub counted_at: Option<Moment>,
}

impl Kit {
    /// Whether it goes to an event of a team.
    #[must_use]
    pub fn goes_to(&self, team: &TeamId, kind: EventKind, at_home: bool) -> bool {
        let there = match (kind, at_home) {
            (EventKind::Practice, _) => Goes::Practice,
            (EventKind::Game, true) => Goes::Home,
            (EventKind::Game, false) => Goes::Away,
        };
        self.goes.contains(&there) && (self.teams.is_empty() || self.teams.contains(team))
    }
}

/// One thing in a kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stock {
    /// The program.
    pub program: ProgramId,
    /// The kit.
    pub kit: String,
    /// What: "needle: long", "chin strap: high".
    pub item: String,
    /// How many it should hold.
    pub par: i64,
    /// How many it holds. Never below 0.
    pub count: i64,
    /// Ordered and not here yet.
    pub on_order: i64,
    /// The first of them expires.
    pub expires: Option<NaiveDate>,
    /// Days from ordering to having it; without, the program's.
    pub lead_days: Option<i64>,
}

/// Why a count changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Move {
    /// Used, for a fix or on the field.
    Used,
    /// Came in.
    Received,
    /// A count found more or fewer than the book said: what was lost, or put in without a word.
    Counted,
}

/// A change of a count. A count is truth; its moves explain it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockMove {
    /// The program.
    pub program: ProgramId,
    /// Natural key: the happening, and what moved.
    pub id: String,
    /// The kit.
    pub kit: String,
    /// What moved.
    pub item: String,
    /// Why.
    pub kind: Move,
    /// By how many: below 0 when fewer are left.
    pub change: i64,
    /// When.
    pub at: Moment,
    /// Who said so.
    pub by: String,
}

impl Stock {
    /// Changes the count, never below nothing. What really changed.
    pub fn change(&mut self, by: i64) -> i64 {
        let before = self.count;
        self.count = before.saturating_add(by).max(0);
        self.count - before
    }

    /// Whether it is there to be used on a day.
    #[must_use]
    pub fn is_there(&self, on: NaiveDate) -> bool {
        self.count > 0 && self.expires.is_none_or(|expires| expires >= on)
    }
}

/// Something that a kit has to hold for the helmets that will be worn.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Need {
    /// What.
    pub item: String,
    /// For which models, each with how many helmets; empty: for every kit.
    pub models: Vec<(String, usize)>,
}

/// What a kit has to hold, from the helmets worn: each model's tools and spares, and a cutter always.
#[must_use]
pub fn needs(worn: &BTreeMap<String, usize>, models: &[Model]) -> Vec<Need> {
    let mut needs: BTreeMap<String, Need> = BTreeMap::new();
    needs.insert(key(CUTTER), Need { item: CUTTER.to_owned(), models: Vec::new() });
    for (name, helmets) in worn {
        let Some(model) = find(models, name) else { continue };
        for item in model.tools.iter().chain(&model.spares) {
            let need = needs.entry(key(item)).or_insert_with(|| Need { item: item.clone(), models: Vec::new() });
            if key(item) != key(CUTTER) {
                need.models.push((name.clone(), *helmets));
            }
        }
    }
    needs.into_values().collect()
}

/// The needs that a kit does not meet on a day. `stock` is that kit's alone.
#[must_use]
pub fn unmet<'s>(needs: &[Need], stock: impl Iterator<Item = &'s Stock> + Clone, on: NaiveDate) -> Vec<Need> {
    let met = |need: &&Need| stock.clone().any(|held| key(&held.item) == key(&need.item) && held.is_there(on));
    needs.iter().filter(|need| !met(need)).cloned().collect()
}

/// What is compared: letters and digits, small, without the plural.
#[must_use]
pub fn key(item: &str) -> String {
    words(item).join(" ")
}

/// The words of an item's name, small and singular.
#[must_use]
pub fn words(item: &str) -> Vec<String> {
    let plain: String = item.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
    plain.split_whitespace().map(singular).collect()
}

fn singular(word: &str) -> String {
    let keep = word.len() <= 3 || word.ends_with("ss") || !word.ends_with('s');
    if keep { word.to_owned() } else { word[..word.len() - 1].to_owned() }
}

/// The items that a few words mean, best first: those with all of the words; where several have them, those with the fewest
/// others. "strap" means "chin strap: high" and "chin strap: low" alike: then both come back.
#[must_use]
pub fn meant<'s>(said: &str, items: impl Iterator<Item = &'s str>) -> Vec<&'s str> {
    let wanted = words(said);
    if wanted.is_empty() {
        return Vec::new();
    }
    let mut fits: Vec<(usize, &str)> = items
        .filter_map(|item| {
            let own = words(item);
            let has = |word: &String| {
                own.iter().any(|own| own == word || (word.len() >= 4 && own.starts_with(word.as_str())))
            };
            let also = wanted.iter().all(|word| has(word) || is_same_thing(word, &own));
            also.then(|| (own.len().saturating_sub(wanted.len()), item))
        })
        .collect();
    fits.sort();
    fits.dedup();
    let fewest = fits.first().map(|(others, _)| *others);
    fits.into_iter().filter(|(others, _)| Some(*others) == fewest).map(|(_, item)| item).collect()
}

/// Words of the trade for the same thing.
fn is_same_thing(word: &str, item: &[String]) -> bool {
    const SAME: &[(&str, &str)] = &[
        ("glycerine", "lubricant"),
        ("glycerin", "lubricant"),
        ("lube", "lubricant"),
        ("needle", "needle"),
        ("cutters", "cutter"),
        ("driver", "screwdriver"),
        ("correa", "strap"),
        ("aguja", "needle"),
        ("bomba", "pump"),
        ("tornillo", "screw"),
    ];
    SAME.iter().any(|(said, means)| *said == word && item.iter().any(|own| own == means))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stock(item: &str, count: i64) -> Stock {
        Stock {
            program: ProgramId::from("p"),
            kit: "2".to_owned(),
            item: item.to_owned(),
            par: 2,
            count,
            on_order: 0,
            expires: None,
            lead_days: None,
        }
    }

    fn halyard() -> Model {
        Model {
            program: ProgramId::from("p"),
            name: "Halyard".to_owned(),
            hardware: None,
            tools: vec!["pump".into(), "needle: long".into()],
            spares: vec!["chin strap: high".into()],
            recertify_months: None,
            retire_years: None,
            notes: None,
        }
    }

    fn day() -> NaiveDate {
        "2026-09-18".parse().unwrap()
    }

    #[test]
    fn a_kit_holds_what_the_helmets_worn_need_and_a_cutter_always() {
        let needs = needs(&BTreeMap::from([("Halyard".to_owned(), 9)]), &[halyard()]);
        let items: Vec<&str> = needs.iter().map(|need| need.item.as_str()).collect();
        assert_eq!(items, ["chin strap: high", "cutter", "needle: long", "pump"]);
        let held = [stock("Pump", 1), stock("Needles, long", 0), stock("chin straps (high)", 3)];
        let missing = unmet(&needs, held.iter(), day());
        let missing: Vec<_> = missing.iter().map(|need| (need.item.as_str(), need.models.as_slice())).collect();
        let nine = [("Halyard".to_owned(), 9)];
        assert_eq!(missing, [("cutter", &[][..]), ("needle: long", &nine[..])]);
    }

    #[test]
    fn what_has_expired_is_not_there() {
        let mut held = stock("needle lubricant", 2);
        held.expires = Some(day());
        assert!(held.is_there(day()));
        assert!(!held.is_there(day().succ_opt().unwrap()));
    }

    #[test]
    fn a_count_never_falls_below_nothing() {
        let mut held = stock("pump", 2);
        assert_eq!((held.change(-5), held.count), (-2, 0));
        assert_eq!((held.change(3), held.count), (3, 3));
    }

    #[test]
    fn few_words_find_the_item() {
        let items = ["chin strap: high", "chin strap: low", "needle lubricant", "needle: long", "pump", "T-nut screw"];
        let meant = |said: &str| meant(said, items.into_iter());
        assert_eq!(meant("glycerine"), ["needle lubricant"]);
        assert_eq!(meant("high straps"), ["chin strap: high"]);
        assert_eq!(meant("straps"), ["chin strap: high", "chin strap: low"], "two are asked about");
        assert_eq!(meant("needle"), ["needle lubricant", "needle: long"]);
        assert_eq!(meant("long needles"), ["needle: long"]);
        assert_eq!(meant("tape"), Vec::<&str>::new());
    }
}
