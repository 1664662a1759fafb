//! The words the reader knows, compiled once from the data files beside this one.
//!
//! A data file has two tables of words. `[words]`: a tag and the words or phrases that carry it. `[rules]`: a tag and patterns
//! over words and tags; `a|b` is a choice, `<tag>` any item with that tag, `.` up to two and `..` up to five, `...` up to nine items of one sentence.
//! Three more are for grammar: `[roles]`, `[numbers]` and `[endings]`, see `roles`.
//! What tags do in a sentence is `scan`'s business.

use std::collections::HashMap;
use std::sync::OnceLock;

use rustc_hash::{FxHashMap, FxHashSet};
use serde::Deserialize;

use super::repair::Nearby;
use super::roles::{Endings, Role, Roles};
use super::{fold, rules};

/// What a word or phrase does in a sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub(super) enum Tag {
    // What is talked about: check points and parts.
    Brow,
    Forehead,
    Crown,
    Cheeks,
    Strap,
    Hardware,
    Shell,
    Air,
    Pad,
    Grip,
    Helmet,
    // The body.
    Head,
    Neck,
    Eyes,
    Ears,
    Limb,
    Belly,
    // Other things, whose trouble is not the helmet's.
    Other,
    // Who.
    Me,
    Person,
    Name,
    // How much.
    All,
    Rest,
    // What is said of them.
    Good,
    Praise,
    Ok,
    Bad,
    Broken,
    Crack,
    Loose,
    Tight,
    TooTight,
    Move,
    Wobble,
    High,
    Press,
    Hurt,
    Gone,
    Flat,
    Rattle,
    Click,
    Hold,
    Fit,
    GoOn,
    Feel,
    // Flags said outright.
    Symptom,
    RedFlag,
    Illness,
    Vomit,
    Repeat,
    Hit,
    Injury,
    Unwell,
    WrongHelmet,
    Missing,
    BrowOff,
    GripOff,
    CrownOff,
    CheeksOff,
    StrapOff,
    HardwareOff,
    ShellOff,
    AirOff,
    LooseOff,
    TightOff,
    Pain,
    // What holds the sentence together.
    Neg,
    Nah,
    None,
    But,
    Sub,
    Except,
    Only,
    And,
    Or,
    Thru,
    Also,
    Correct,
    Retract,
    Hedge,
    Soft,
    Anymore,
    Admit,
    Too,
    Ask,
    If,
    Would,
    Need,
    Fix,
    Patch,
    Doubt,
    It,
    Glue,
    Fill,
    Plan,
    Affirm,
    Checked,
    Story,
    You,
    Unit,
    AtTime,
    Label,
    First,
    Last,
    Numeral,
    // Controls.
    Later,
    Absent,
    WrongNumber,
    StopWord,
    StopAny,
    StartWord,
    StartAny,
    HelpWord,
    HelpAny,
    // Made by the reader, never by a data file.
    Number,
    Points,
    Comma,
    Period,
    Question,
    Joiner,
    Yes,
    Cross,
    Unknown,
    Used,
}

/// Which data file an entry came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    En,
    Es,
    Both,
}

/// One entry under its first word.
#[derive(Debug)]
pub(super) struct Phrase {
    pub(super) words: Vec<String>,
    pub(super) tag: Tag,
    pub(super) source: Source,
    pub(super) roles: Roles,
}

/// One element of a rule.
#[derive(Debug)]
pub(super) enum Element {
    /// The most items it skips.
    Gap(usize),
    Choice(Vec<Atom>),
}

/// One alternative of an element.
#[derive(Debug, PartialEq)]
pub(super) enum Atom {
    Word(String),
    Tag(Tag),
}

/// One rule.
#[derive(Debug)]
pub(super) struct Rule {
    pub(super) elements: Vec<Element>,
    pub(super) tag: Tag,
}

/// All the words and rules.
#[derive(Debug, Default)]
pub(super) struct Lexicon {
    phrases: FxHashMap<String, Vec<Phrase>>,
    pub(super) rules: Vec<Rule>,
    pub(super) rule_index: rules::Index,
    /// Words that spelling repair may arrive at.
    worrying: Vec<(String, Tag)>,
    /// Words that only rules name.
    in_rules: FxHashSet<String>,
    nearby: Nearby,
    /// What the grammar may do with single words.
    roles: FxHashMap<String, Roles>,
    /// Numbers in letters.
    numbers: FxHashMap<String, u32>,
    pub(super) endings: Endings,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DataFile {
    #[serde(default)]
    words: HashMap<Tag, Vec<String>>,
    #[serde(default)]
    rules: HashMap<Tag, Vec<String>>,
    #[serde(default)]
    roles: HashMap<Role, Vec<String>>,
    #[serde(default)]
    numbers: HashMap<String, u32>,
    #[serde(default)]
    endings: Endings,
}

const FILES: [(&str, Source, &str); 8] = [
    ("en.toml", Source::En, include_str!("words/en.toml")),
    ("everyday.en.toml", Source::En, include_str!("words/everyday.en.toml")),
    ("grammar.en.toml", Source::En, include_str!("words/grammar.en.toml")),
    ("es.toml", Source::Es, include_str!("words/es.toml")),
    ("everyday.es.toml", Source::Es, include_str!("words/everyday.es.toml")),
    ("grammar.es.toml", Source::Es, include_str!("words/grammar.es.toml")),
    ("names.toml", Source::Both, include_str!("words/names.toml")),
    ("emoji.toml", Source::Both, include_str!("words/emoji.toml")),
];

/// The lexicon, built on first use.
pub(super) fn lexicon() -> &'static Lexicon {
    static LEXICON: OnceLock<Lexicon> = OnceLock::new();
    LEXICON.get_or_init(|| match build() {
        Ok(lexicon) => lexicon,
        // The data files are part of the binary; a unit test builds them.
        Err(problem) => unreachable!("{problem}"),
    })
}

/// Builds the lexicon, or says which entry is wrong.
pub(super) fn build() -> Result<Lexicon, String> {
    let mut lexicon = Lexicon::default();
    for (name, source, text) in FILES {
        let file: DataFile = toml::from_str(text).map_err(|error| format!("{name}: {error}"))?;
        for (tag, phrases) in &file.words {
            for phrase in phrases {
                lexicon.add(phrase, *tag, source).map_err(|problem| format!("{name}: {problem}"))?;
            }
        }
        for (tag, patterns) in &file.rules {
            for pattern in patterns {
                let elements = elements(pattern).map_err(|problem| format!("{name}: {pattern}: {problem}"))?;
                lexicon.rules.push(Rule { elements, tag: *tag });
            }
        }
        lexicon.take_grammar(file);
    }
    lexicon.finish();
    Ok(lexicon)
}

impl Lexicon {
    fn add(&mut self, phrase: &str, tag: Tag, source: Source) -> Result<(), String> {
        let words = folded(phrase);
        let Some(first) = words.first().cloned() else { return Err(format!("empty entry {phrase:?}")) };
        let bucket = self.phrases.entry(first).or_default();
        if let Some(same) = bucket.iter_mut().find(|entry| entry.words == words) {
            if same.tag != tag {
                return Err(format!("{phrase:?} is both {:?} and {tag:?}", same.tag));
            }
            if same.source != source {
                same.source = Source::Both;
            }
            return Ok(());
        }
        bucket.push(Phrase { words, tag, source, roles: Roles::default() });
        Ok(())
    }

    /// Takes over roles, numbers and endings of a data file.
    fn take_grammar(&mut self, file: DataFile) {
        for (role, words) in &file.roles {
            for word in words {
                self.roles.entry(folded(word).join(" ")).or_default().add(*role);
            }
        }
        self.numbers.extend(file.numbers);
        self.endings.join(file.endings);
    }

    fn finish(&mut self) {
        for phrase in self.phrases.values_mut().flatten() {
            let role = |word: &str| self.roles.get(word).copied().unwrap_or_default();
            let words = phrase.words.iter().map(|word| role(word));
            phrase.roles = Roles::of_entry(role(&phrase.words.join(" ")), words);
        }
        for bucket in self.phrases.values_mut() {
            bucket.sort_by_key(|phrase| std::cmp::Reverse(phrase.words.len()));
        }
        // Signs of concussion first, then longer rules; the tables keep no order, so the text decides among equals.
        self.rules.sort_by_cached_key(|rule| {
            let solid = rule.elements.iter().filter(|element| !matches!(element, Element::Gap(_))).count();
            let sign = matches!(rule.tag, Tag::Symptom | Tag::RedFlag);
            (!sign, rule.tag != Tag::RedFlag, std::cmp::Reverse(solid), format!("{:?}", rule.elements))
        });
        self.rule_index = rules::Index::of(&self.rules);
        let mut worrying: Vec<(String, Tag)> = self
            .phrases
            .values()
            .flatten()
            .filter(|phrase| phrase.words.len() == 1 && phrase.tag.is_worrying())
            .map(|phrase| (phrase.words[0].clone(), phrase.tag))
            .filter(|(word, tag)| word.chars().count() >= if tag.is_part() { 4 } else { 5 })
            .collect();
        worrying.sort_by_key(|(word, tag)| (!tag.is_part(), word.clone()));
        self.nearby = Nearby::of(worrying.iter().map(|(word, _)| word.as_str()));
        self.worrying = worrying;
        let atoms = self.rules.iter().flat_map(|rule| &rule.elements).filter_map(|element| match element {
            Element::Choice(atoms) => Some(atoms),
            Element::Gap(_) => None,
        });
        self.in_rules = atoms
            .flatten()
            .filter_map(|atom| match atom {
                Atom::Word(word) => Some(word.clone()),
                Atom::Tag(_) => None,
            })
            .collect();
    }

    /// What the grammar may do with a word.
    pub(super) fn roles(&self, word: &str) -> Roles {
        self.roles.get(word).copied().unwrap_or_default()
    }

    /// The number a word stands for.
    pub(super) fn number(&self, word: &str) -> Option<u32> {
        self.numbers.get(word).copied()
    }

    /// Whether this is an entry by itself.
    pub(super) fn knows(&self, word: &str) -> bool {
        self.single(word).is_some()
    }

    /// The entry of a word by itself.
    pub(super) fn single(&self, word: &str) -> Option<&Phrase> {
        self.phrases.get(word)?.iter().find(|phrase| phrase.words.len() == 1)
    }

    /// Whether a rule names this word.
    pub(super) fn is_in_rules(&self, word: &str) -> bool {
        self.in_rules.contains(word)
    }

    /// The entries that begin with this word, longest first.
    pub(super) fn starting(&self, word: &str) -> &[Phrase] {
        self.phrases.get(word).map_or(&[], Vec::as_slice)
    }

    /// The word that spelling repair arrives at, parts first.
    pub(super) fn worrying_near(&self, word: &str) -> Option<&(String, Tag)> {
        self.worrying.get(self.nearby.of_word(word)?)
    }
}

impl Tag {
    /// Whether spelling repair may turn an unknown word into one with this tag.
    pub(super) const fn is_worrying(self) -> bool {
        self.is_part()
            || matches!(
                self,
                Self::Bad
                    | Self::Broken
                    | Self::Crack
                    | Self::Loose
                    | Self::TooTight
                    | Self::Move
                    | Self::Wobble
                    | Self::Press
                    | Self::Hurt
                    | Self::Flat
                    | Self::Rattle
                    | Self::Symptom
                    | Self::RedFlag
                    | Self::Illness
                    | Self::Injury
            )
    }

    /// A check point or a part of the helmet.
    pub(super) const fn is_part(self) -> bool {
        matches!(
            self,
            Self::Brow
                | Self::Forehead
                | Self::Crown
                | Self::Cheeks
                | Self::Strap
                | Self::Hardware
                | Self::Shell
                | Self::Air
                | Self::Pad
                | Self::Grip
        )
    }

    /// A part of the athlete.
    pub(super) const fn is_body(self) -> bool {
        matches!(self, Self::Head | Self::Neck | Self::Eyes | Self::Ears | Self::Limb | Self::Belly)
    }
}

/// The words of an entry as they are compared.
fn folded(entry: &str) -> Vec<String> {
    fold::whole_tokens(entry).into_iter().map(|token| token.text).collect()
}

fn elements(pattern: &str) -> Result<Vec<Element>, String> {
    let elements: Vec<Element> = pattern.split_whitespace().map(element).collect::<Result<_, _>>()?;
    match (elements.first(), elements.last()) {
        (Some(Element::Choice(_)), Some(Element::Choice(_))) => Ok(elements),
        _ => Err("a rule begins and ends with a word or a tag".into()),
    }
}

fn element(text: &str) -> Result<Element, String> {
    match text {
        "." => return Ok(Element::Gap(2)),
        ".." => return Ok(Element::Gap(5)),
        "..." => return Ok(Element::Gap(9)),
        _ => {}
    }
    text.split('|').map(atom).collect::<Result<Vec<_>, _>>().map(Element::Choice)
}

fn atom(text: &str) -> Result<Atom, String> {
    let Some(name) = text.strip_prefix('<').and_then(|rest| rest.strip_suffix('>')) else {
        return Ok(Atom::Word(text.replace('_', " ")));
    };
    let value = serde::de::value::StrDeserializer::<serde::de::value::Error>::new(name);
    Tag::deserialize(value).map(Atom::Tag).map_err(|error| error.to_string())
}
