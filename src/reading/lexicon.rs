//! The lexicons: concepts and the words that mean them, a data file a language, compiled once.
//!
//! Adding a language is adding a file with the same tables; nothing else changes.

use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

use super::tokens::fold;
use crate::trade::flag::Flag;

macro_rules! concepts {
    ($($name:ident $key:literal),+ $(,)?) => {
        /// What a word or phrase can mean.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Concept { $($name),+ }

        impl Concept {
            const TABLES: &'static [(Self, &'static str)] = &[$((Self::$name, $key)),+];
        }
    };
}

concepts! {
    Good "good", AllGood "all_good",
    SubjectBrow "subject_brow", SubjectGrip "subject_grip", SubjectCrown "subject_crown",
    SubjectCheeks "subject_cheeks", SubjectStrap "subject_strap", SubjectHardware "subject_hardware",
    SubjectShell "subject_shell", SubjectAir "subject_air", SubjectPads "subject_pads",
    SubjectHelmet "subject_helmet", SubjectHead "subject_head", Other "other",
    Broken "broken", Bad "bad", Gone "gone", Loose "loose", Tight "tight", DoesNotFit "does_not_fit",
    Brow "flag_brow", Grip "flag_grip", Crown "flag_crown", Cheeks "flag_cheeks", Strap "flag_strap",
    Hardware "flag_hardware", Shell "flag_shell", Air "flag_air", Pain "flag_pain", Missing "flag_missing",
    WrongHelmet "flag_wrong_helmet", Symptom "symptom", RedFlag "red_flag", Illness "illness", Injury "injury",
    Unwell "unwell", Hurts "hurts",
    Negation "negation", Resolved "resolved", Fixed "fixed", Past "past", But "but", Only "only", Except "except",
    Hedge "hedge", Question "question", Later "later", Absent "absent", Stop "stop_words", Start "start_words",
    Help "help_words", WrongNumber "wrong_number", Greeting "greeting", Benign "benign",
    Point1 "point_1", Point2 "point_2", Point3 "point_3", Point4 "point_4", Point5 "point_5", Point6 "point_6",
    Point7 "point_7", Break "break",
}

/// A set of concepts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Concepts(u64);

impl Concepts {
    /// The set of one.
    pub const fn of(concept: Concept) -> Self {
        Self(1 << concept as u64)
    }

    /// Whether the concept is in it.
    pub const fn has(self, concept: Concept) -> bool {
        self.0 & (1 << concept as u64) != 0
    }

    /// Both together.
    pub const fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether it is empty.
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Whether it holds anything that may mean trouble.
    pub fn worries(self) -> bool {
        const WORRIES: &[Concept] = &[
            Concept::Broken,
            Concept::Bad,
            Concept::Gone,
            Concept::Loose,
            Concept::Tight,
            Concept::DoesNotFit,
            Concept::Shell,
            Concept::Air,
            Concept::Pain,
            Concept::Missing,
            Concept::WrongHelmet,
            Concept::Symptom,
            Concept::Illness,
            Concept::Injury,
            Concept::Unwell,
            Concept::Hurts,
            Concept::Grip,
            Concept::Brow,
        ];
        WORRIES.iter().any(|concept| self.has(*concept))
    }

    /// The part of the helmet or the athlete that it names.
    pub fn subject(self) -> Option<Subject> {
        const SUBJECTS: &[(Concept, Subject)] = &[
            (Concept::SubjectStrap, Subject::Part(Flag::Strap)),
            (Concept::SubjectHardware, Subject::Part(Flag::Hardware)),
            (Concept::SubjectCheeks, Subject::Part(Flag::Cheeks)),
            (Concept::SubjectCrown, Subject::Part(Flag::Crown)),
            (Concept::SubjectGrip, Subject::Part(Flag::Grip)),
            (Concept::SubjectBrow, Subject::Part(Flag::Brow)),
            (Concept::SubjectShell, Subject::Part(Flag::Shell)),
            (Concept::SubjectAir, Subject::Part(Flag::Air)),
            (Concept::SubjectPads, Subject::Pads),
            (Concept::SubjectHead, Subject::Head),
            (Concept::SubjectHelmet, Subject::Helmet),
            (Concept::Other, Subject::Other),
        ];
        SUBJECTS.iter().find(|(concept, _)| self.has(*concept)).map(|(_, subject)| *subject)
    }
}

/// What something is said of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// A part of the helmet, with the flag that it raises.
    Part(Flag),
    /// A pad, which one is not said.
    Pads,
    /// The helmet.
    Helmet,
    /// The athlete's head.
    Head,
    /// Something that is no helmet.
    Other,
}

/// Which languages know a phrase.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Known {
    /// English knows it.
    pub english: bool,
    /// Another language knows it.
    pub other: bool,
}

/// A phrase's meaning.
#[derive(Debug, Clone, Copy, Default)]
pub struct Entry {
    /// What it can mean.
    pub concepts: Concepts,
    /// Who knows it.
    pub known: Known,
}

/// The compiled lexicons.
#[derive(Debug)]
pub struct Lexicon {
    phrases: HashMap<String, Entry>,
    /// For each first word, how many words its longest phrase has.
    longest: HashMap<String, usize>,
    /// Worrying single words with one letter left out, for spelling repair.
    near: HashMap<String, Entry>,
}

const FILES: &[(&str, bool)] = &[
    (include_str!("lexicon/en.toml"), true),
    (include_str!("lexicon/es.toml"), false),
    (include_str!("lexicon/pt.toml"), false),
    (include_str!("lexicon/emoji.toml"), true),
];

/// The lexicons, compiled at first use.
pub fn lexicon() -> &'static Lexicon {
    static LEXICON: OnceLock<Lexicon> = OnceLock::new();
    LEXICON.get_or_init(|| Lexicon::compile(FILES))
}

impl Lexicon {
    #[expect(clippy::panic, reason = "the files are embedded and tested; one that does not parse is a mistake of ours")]
    fn compile(files: &[(&str, bool)]) -> Self {
        let mut lexicon = Self { phrases: HashMap::new(), longest: HashMap::new(), near: HashMap::new() };
        for (text, english) in files {
            let tables: BTreeMap<String, String> =
                toml::from_str(text).unwrap_or_else(|error| panic!("a lexicon does not parse: {error}"));
            for (concept, table) in Concept::TABLES {
                for phrase in tables.get(*table).into_iter().flat_map(|list| list.split(['|', '\n'])) {
                    lexicon.add(phrase, *concept, *english);
                }
            }
        }
        lexicon.make_near();
        lexicon
    }

    fn add(&mut self, phrase: &str, concept: Concept, english: bool) {
        let words: Vec<String> = super::tokens::words(phrase).into_iter().map(|word| fold(word.raw)).collect();
        let Some(first) = words.first().cloned() else { return };
        let longest = self.longest.entry(first).or_default();
        *longest = (*longest).max(words.len());
        let entry = self.phrases.entry(words.join(" ")).or_default();
        entry.concepts = entry.concepts.union(Concepts::of(concept));
        entry.known.english |= english;
        entry.known.other |= !english;
    }

    fn make_near(&mut self) {
        let worries: Vec<(String, Entry)> = self
            .phrases
            .iter()
            .filter(|(phrase, entry)| entry.concepts.worries() && !phrase.contains(' ') && phrase.is_ascii())
            .filter(|(phrase, _)| phrase.len() >= 5)
            .map(|(phrase, entry)| (phrase.clone(), *entry))
            .collect();
        for (word, entry) in worries {
            for skip in 0..word.len() {
                let mut near = word.clone();
                near.remove(skip);
                self.near.entry(near).or_insert(entry);
            }
        }
    }

    /// How many words the longest phrase that begins with this word has; 0 when there is none.
    pub fn longest(&self, first: &str) -> usize {
        self.longest.get(first).copied().unwrap_or(0)
    }

    /// What a phrase means.
    pub fn phrase(&self, phrase: &str) -> Option<Entry> {
        self.phrases.get(phrase).copied()
    }

    /// A worrying word that is one letter away: left out, added or changed. Never a reassuring one.
    pub fn worry_near(&self, word: &str) -> Option<Entry> {
        if word.len() < 5 || !word.is_ascii() {
            return None;
        }
        if let Some(entry) = self.near.get(word) {
            return Some(*entry);
        }
        (0..word.len()).find_map(|skip| {
            let mut less = word.to_owned();
            less.remove(skip);
            let whole = self.phrases.get(&less).filter(|entry| entry.concepts.worries() && less.len() >= 5);
            whole.or_else(|| self.near.get(&less).filter(|_| word.len() >= 5)).copied()
        })
    }
}
