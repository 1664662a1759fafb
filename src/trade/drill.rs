//! Drills: what was rehearsed by whom on which helmets, and for whom it still counts.
//!
//! A drill records performance and not attendance alone: technique did not improve with the training given in one study
//! (Del Rossi et al., J Athl Train 2003;38(3):204-208), so times are kept, and a face mask that took longer than three
//! minutes makes nobody current.

use std::collections::BTreeMap;
use std::fmt;

use chrono::{NaiveDate, TimeDelta};
use serde::{Deserialize, Serialize};

use super::model::{Model, find};
use super::roster::{ProgramId, Role, StaffId, StaffMember};
use super::time::Moment;

pub mod times;

/// What is rehearsed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Skill {
    /// Log roll from face down.
    LogRoll,
    /// Face-mask removal with the release tool or screwdriver.
    MaskTool,
    /// Face-mask removal with the cutter, when hardware fails.
    MaskCutter,
    /// Helmet removal.
    HelmetRemoval,
    /// Shoulder-pad removal.
    PadRemoval,
    /// Lift by a team.
    LiftTeam,
    /// The whole emergency action plan, at a venue.
    WholePlan,
}

impl Skill {
    /// Every skill.
    pub const ALL: [Self; 7] = [
        Self::LogRoll,
        Self::MaskTool,
        Self::MaskCutter,
        Self::HelmetRemoval,
        Self::PadRemoval,
        Self::LiftTeam,
        Self::WholePlan,
    ];

    /// The word for it in files and keys.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LogRoll => "log-roll",
            Self::MaskTool => "mask-tool",
            Self::MaskCutter => "mask-cutter",
            Self::HelmetRemoval => "helmet-removal",
            Self::PadRemoval => "pad-removal",
            Self::LiftTeam => "lift-team",
            Self::WholePlan => "whole-plan",
        }
    }

    /// As people say it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::LogRoll => "log roll",
            Self::MaskTool => "face mask with the release tool",
            Self::MaskCutter => "face mask with the cutter",
            Self::HelmetRemoval => "helmet removal",
            Self::PadRemoval => "shoulder-pad removal",
            Self::LiftTeam => "lift team",
            Self::WholePlan => "whole emergency action plan",
        }
    }

    /// Whether it counts for helmets with the same kind of face-mask hardware alone.
    #[must_use]
    pub const fn is_by_hardware(self) -> bool {
        matches!(self, Self::MaskTool | Self::MaskCutter)
    }

    /// Time to aim for and time from which it counts as failed, in seconds: for face masks, 60 and 180. Medians of used
    /// helmets were 27 to 51 s (Decoster et al. 2005; Copeland et al. 2007); three minutes was the limit of Swartz et al.
    /// 2010 (J Athl Train 45(6):560-569).
    #[must_use]
    pub const fn limits(self) -> Option<(u32, u32)> {
        match self {
            Self::MaskTool | Self::MaskCutter => Some((60, 180)),
            _ => None,
        }
    }

    /// The skill that a name or a few words mean; none when they mean none or several.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let text: String = text.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
        let words: Vec<&str> = text.split_whitespace().collect();
        let has = |any: &[&str]| words.iter().any(|word| any.contains(word));
        let cutter = has(&["cutter", "cutters", "cut", "cutting", "cizalla"]);
        let mask = has(&["mask", "facemask", "fm", "tool", "screwdriver", "release", "careta"]);
        let helmet = has(&["helmet", "lid", "casco"]);
        let pads = has(&["pads", "pad", "shoulder", "hombreras"]);
        let roll = has(&["roll", "logroll", "log"]);
        let lift = has(&["lift", "lifts"]);
        let plan = has(&["plan", "eap", "walkthrough", "whole"]);
        let found: Vec<Self> = [
            (roll, Self::LogRoll),
            (cutter, Self::MaskCutter),
            (mask && !cutter, Self::MaskTool),
            // "helmet mask removal" is about the mask.
            (helmet && !mask && !cutter && !pads, Self::HelmetRemoval),
            (pads && !mask && !cutter, Self::PadRemoval),
            (lift, Self::LiftTeam),
            (plan, Self::WholePlan),
        ]
        .into_iter()
        .filter_map(|(is, skill)| is.then_some(skill))
        .collect();
        match found.as_slice() {
            [only] => Some(*only),
            _ => None,
        }
    }
}

impl fmt::Display for Skill {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.words())
    }
}

/// A place in the response to a neck injury.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Position {
    /// Holds head and neck, and leads.
    Head,
    /// Takes the face mask off with the release tool.
    Mask,
    /// Stands by with the cutter.
    Cutter,
    /// Rolls at the chest.
    Chest,
    /// Rolls at the hips.
    Hips,
    /// Rolls at the legs.
    Legs,
    /// Slides the board, lifts.
    Board,
    /// Calls for the ambulance and meets it.
    Call,
}

impl Position {
    /// Every position.
    pub const ALL: [Self; 8] =
        [Self::Head, Self::Mask, Self::Cutter, Self::Chest, Self::Hips, Self::Legs, Self::Board, Self::Call];

    /// Those that are looked for unless the program says otherwise: five pairs of hands for the roll (World Rugby asks for
    /// at least five), two of which take the mask off, and one who calls. Equipment comes off by at least three trained
    /// people (inter-association summary, 2015). Which of the eight a program fills is its plan's to say.
    pub const DEFAULT: [Self; 6] = [Self::Head, Self::Mask, Self::Cutter, Self::Chest, Self::Hips, Self::Call];

    /// The word for it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Head => "head",
            Self::Mask => "mask",
            Self::Cutter => "cutter",
            Self::Chest => "chest",
            Self::Hips => "hips",
            Self::Legs => "legs",
            Self::Board => "board",
            Self::Call => "call",
        }
    }

    /// The position with this name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|position| position.name().eq_ignore_ascii_case(name.trim()))
    }

    /// What it takes to be current for it.
    #[must_use]
    pub const fn needs(self) -> &'static [Skill] {
        match self {
            Self::Head => &[Skill::LogRoll, Skill::HelmetRemoval],
            Self::Mask => &[Skill::MaskTool],
            Self::Cutter => &[Skill::MaskCutter],
            Self::Chest | Self::Hips | Self::Legs => &[Skill::LogRoll],
            Self::Board => &[Skill::LiftTeam],
            Self::Call => &[Skill::WholePlan],
        }
    }

    /// Whether a role may have it at all: head and neck are for those trained to answer an emergency.
    #[must_use]
    pub fn is_open_to(self, member: &StaffMember) -> bool {
        match self {
            Self::Head => member.has(Role::Trainer) || member.has(Role::Responder),
            Self::Call => true,
            _ => {
                [Role::Trainer, Role::Responder, Role::Equipment, Role::Coach].into_iter().any(|role| member.has(role))
            }
        }
    }
}

/// Who took part, and where.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Part {
    /// Who.
    pub staff: StaffId,
    /// In which position, when it was said.
    pub position: Option<Position>,
}

/// A drill that was held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Drill {
    /// The program.
    pub program: ProgramId,
    /// Natural key: day, skill and where it came from.
    pub id: String,
    /// The day.
    pub date: NaiveDate,
    /// What was rehearsed.
    pub skill: Skill,
    /// Where.
    pub place: Option<String>,
    /// Who took part.
    pub people: Vec<Part>,
    /// Helmet models used.
    pub models: Vec<String>,
    /// From the start until the airway was open, in seconds.
    pub seconds: Option<u32>,
    /// Anything else.
    pub notes: Option<String>,
    /// Who recorded it.
    pub recorded_by: String,
    /// When it was recorded.
    pub recorded_at: Moment,
    /// Taken back by who recorded it: kept, and counts for nothing.
    pub undone: bool,
}

impl Drill {
    /// Whether it makes those who took part current: not taken back, and not slower than the limit.
    #[must_use]
    pub fn counts(&self) -> bool {
        let failed = self.skill.limits().zip(self.seconds).is_some_and(|((_, most), seconds)| seconds > most);
        !self.undone && !failed
    }
}

/// How long a drill counts, in days. Default: a year for every skill, since plans are to be rehearsed at least annually
/// (NATA position statement on emergency planning, J Athl Train 2002;37(1):99-104).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Currency {
    /// Days for skills that have no time of their own.
    pub days: i64,
    /// Days of single skills.
    pub by_skill: BTreeMap<Skill, i64>,
}

impl Default for Currency {
    fn default() -> Self {
        Self { days: 365, by_skill: BTreeMap::new() }
    }
}

impl Currency {
    /// Days for which a drill of this skill counts.
    #[must_use]
    pub fn of(&self, skill: Skill) -> i64 {
        self.by_skill.get(&skill).copied().unwrap_or(self.days)
    }
}

/// One thing that somebody can be current in: a skill, for masks with one kind of hardware.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Competence {
    /// The skill.
    pub skill: Skill,
    /// The kind of hardware, for skills that count by it.
    pub hardware: Option<String>,
}

impl Competence {
    /// The competence in a skill on a model. A model whose hardware is not known stands for a kind of its own.
    #[must_use]
    pub fn on(skill: Skill, model: &str, models: &[Model]) -> Self {
        let hardware = skill.is_by_hardware().then(|| hardware_of(model, models));
        Self { skill, hardware }
    }

    /// "face mask with the cutter on quarter-turn clips".
    #[must_use]
    pub fn words(&self) -> String {
        match &self.hardware {
            Some(hardware) => format!("{} on {hardware}", self.skill.words()),
            None => self.skill.words().to_owned(),
        }
    }
}

/// The kind of face-mask hardware of a model; its own name where that is not known.
#[must_use]
pub fn hardware_of(model: &str, models: &[Model]) -> String {
    find(models, model).and_then(|model| model.hardware.clone()).unwrap_or_else(|| model.to_owned())
}

/// What each person last drilled, and when.
#[derive(Debug, Clone, Default)]
pub struct Practised(BTreeMap<(StaffId, Competence), NaiveDate>);

impl Practised {
    /// From the drills that count.
    #[must_use]
    pub fn new(drills: &[Drill], models: &[Model]) -> Self {
        let mut last: BTreeMap<(StaffId, Competence), NaiveDate> = BTreeMap::new();
        for drill in drills.iter().filter(|drill| drill.counts()) {
            for competence in competences(drill, models) {
                for part in &drill.people {
                    let date = last.entry((part.staff.clone(), competence.clone())).or_insert(drill.date);
                    *date = (*date).max(drill.date);
                }
            }
        }
        Self(last)
    }

    /// When somebody last drilled this.
    #[must_use]
    pub fn last(&self, staff: &StaffId, competence: &Competence) -> Option<NaiveDate> {
        self.0.get(&(staff.clone(), competence.clone())).copied()
    }

    /// Whether somebody is current in it on a day: drilled on or before it, and not longer ago than it counts.
    #[must_use]
    pub fn is_current(&self, staff: &StaffId, competence: &Competence, on: NaiveDate, currency: &Currency) -> bool {
        let counts = TimeDelta::days(currency.of(competence.skill));
        self.last(staff, competence).is_some_and(|last| last <= on && on - last <= counts)
    }

    /// How many things somebody drilled since a day: whom to spare a repeat.
    #[must_use]
    pub fn since(&self, staff: &StaffId, day: NaiveDate) -> usize {
        self.0.iter().filter(|((who, _), last)| who == staff && **last >= day).count()
    }

    /// As if these had drilled on a day.
    #[cfg(test)]
    pub(in crate::trade) fn with(&self, drilled: &[(StaffId, Competence)], on: NaiveDate) -> Self {
        let mut after = self.clone();
        for (staff, competence) in drilled {
            after.0.insert((staff.clone(), competence.clone()), on);
        }
        after
    }
}

/// What a drill makes current: for masks each kind of hardware of its models; without a model, nothing.
#[must_use]
pub fn competences(drill: &Drill, models: &[Model]) -> Vec<Competence> {
    if !drill.skill.is_by_hardware() {
        return vec![Competence { skill: drill.skill, hardware: None }];
    }
    let mut found: Vec<Competence> =
        drill.models.iter().map(|model| Competence::on(drill.skill, model, models)).collect();
    found.sort();
    found.dedup();
    found
}

/// Somebody of staff who is away.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Absence {
    /// The program.
    pub program: ProgramId,
    /// Who.
    pub staff: StaffId,
    /// First day away.
    pub first: NaiveDate,
    /// Last day away.
    pub last: NaiveDate,
    /// Taken back.
    pub cancelled: bool,
}

/// Whether somebody is away on a day.
#[must_use]
pub fn is_away(absences: &[Absence], staff: &StaffId, on: NaiveDate) -> bool {
    absences.iter().any(|away| !away.cancelled && away.staff == *staff && away.first <= on && on <= away.last)
}

/// A venue, as the emergency action plan describes it: plans are venue-specific (NATA 2002; NATA 2024, J Athl Train
/// 59(6):570-583).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Venue {
    /// The program.
    pub program: ProgramId,
    /// Its name, as events' places say it.
    pub name: String,
    /// Street address, for the call.
    pub address: Option<String>,
    /// Where the ambulance comes in.
    pub entrance: Option<String>,
    /// Where the AED is.
    pub aed: Option<String>,
    /// Where the kit is.
    pub kit: Option<String>,
    /// The hospital that receives.
    pub hospital: Option<String>,
    /// Anything else: hazards, keys.
    pub notes: Option<String>,
}

/// The venue of a place: the same name, or a name that the place begins or ends with.
#[must_use]
pub fn venue_of<'v>(venues: &'v [Venue], place: &str) -> Option<&'v Venue> {
    let place = place.trim().to_lowercase();
    let same = venues.iter().find(|venue| venue.name.to_lowercase() == place);
    let inside = |venue: &&Venue| {
        let name = venue.name.to_lowercase();
        place.starts_with(&name) || place.ends_with(&name)
    };
    same.or_else(|| venues.iter().filter(inside).max_by_key(|venue| venue.name.len()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn model(name: &str, hardware: &str) -> Model {
        Model::sample(name, Some(hardware))
    }

    fn drill(skill: Skill, date: &str, who: &str, model: Option<&str>, seconds: Option<u32>) -> Drill {
        Drill {
            program: ProgramId::from("p"),
            id: format!("{date}/{}", skill.name()),
            date: day(date),
            skill,
            place: None,
            people: vec![Part { staff: StaffId::from(who), position: None }],
            models: model.into_iter().map(ToOwned::to_owned).collect(),
            seconds,
            notes: None,
            recorded_by: "staff ana".to_owned(),
            recorded_at: Moment::from_millis(0),
            undone: false,
        }
    }

    #[test]
    fn skills_are_read_from_the_words_of_the_trade() {
        for (text, skill) in [
            ("log roll", Skill::LogRoll),
            ("Face-mask removal, cutter", Skill::MaskCutter),
            ("mask", Skill::MaskTool),
            ("release tool", Skill::MaskTool),
            ("helmet removal", Skill::HelmetRemoval),
            ("shoulder pads", Skill::PadRemoval),
            ("lift team", Skill::LiftTeam),
            ("EAP", Skill::WholePlan),
        ] {
            assert_eq!(Skill::read(text), Some(skill), "{text}");
        }
        for skill in Skill::ALL {
            assert_eq!(Skill::read(skill.name()), Some(skill), "{}", skill.name());
            assert_eq!(Skill::read(skill.words()), Some(skill), "{}", skill.words());
        }
        assert_eq!(Skill::read("log roll and cutter"), None, "two things are asked about");
        assert_eq!(Skill::read("tuesday"), None);
    }

    /// NATA 2002: at least annually.
    #[test]
    fn a_drill_counts_for_a_year_and_masks_for_their_hardware() {
        let models = [model("Tern", "clips"), model("Petrel", "screws"), model("Halyard", "screws")];
        let drills = [
            drill(Skill::LogRoll, "2026-08-01", "ana", None, None),
            drill(Skill::MaskCutter, "2026-08-01", "ana", Some("Petrel"), Some(52)),
        ];
        let practised = Practised::new(&drills, &models);
        let (ana, currency) = (StaffId::from("ana"), Currency::default());
        let roll = Competence::on(Skill::LogRoll, "Tern", &models);
        let current = |what: &Competence, on: &str| practised.is_current(&ana, what, day(on), &currency);
        assert!(current(&roll, "2027-08-01"));
        assert!(!current(&roll, "2027-08-02"));
        assert!(!current(&roll, "2026-07-31"), "not before it was held");
        let cutter = |model| Competence::on(Skill::MaskCutter, model, &models);
        assert!(current(&cutter("Halyard"), "2026-09-18"), "the same hardware");
        assert!(!current(&cutter("Tern"), "2026-09-18"));
        assert!(!current(&cutter("Unknown"), "2026-09-18"));
    }

    #[test]
    fn what_was_too_slow_or_taken_back_makes_nobody_current() {
        assert!(drill(Skill::MaskTool, "2026-08-01", "ana", Some("Tern"), Some(180)).counts());
        assert!(!drill(Skill::MaskTool, "2026-08-01", "ana", Some("Tern"), Some(181)).counts());
        assert!(drill(Skill::LogRoll, "2026-08-01", "ana", None, Some(400)).counts());
        let undone = Drill { undone: true, ..drill(Skill::LogRoll, "2026-08-01", "ana", None, None) };
        assert!(!undone.counts());
        let no_model = drill(Skill::MaskTool, "2026-08-01", "ana", None, Some(40));
        assert_eq!(competences(&no_model, &[]), Vec::new(), "a mask drill without a model shows nothing");
    }

    #[test]
    fn a_place_finds_its_venue() {
        let venue = |name: &str| Venue {
            program: ProgramId::from("p"),
            name: name.to_owned(),
            address: None,
            entrance: None,
            aed: None,
            kit: None,
            hospital: None,
            notes: None,
        };
        let venues = [venue("Field 1"), venue("Larkspur Stadium")];
        assert_eq!(venue_of(&venues, "larkspur stadium").map(|venue| venue.name.as_str()), Some("Larkspur Stadium"));
        assert_eq!(
            venue_of(&venues, "Larkspur Stadium, north gate").map(|venue| venue.name.as_str()),
            Some("Larkspur Stadium")
        );
        assert!(venue_of(&venues, "Elsewhere").is_none());
    }
}
