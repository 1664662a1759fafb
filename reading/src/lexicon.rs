//! The words the reader knows, compiled once from the data files beside this one.
//!
//! A data file has two tables of words. `[words]`: a tag and the words or phrases that carry it; in a phrase, `a|b` is a choice and
//! `_` joins the words of one. `[rules]`: a tag and patterns
//! over words and tags; `a|b` is a choice, `<tag>` any item with that tag, `.` up to two and `..` up to five, `...` up to nine items of one
//! sentence. A rule whose tag is no trouble skips none. Words under `unknown` are in the dictionary and in no other list: the grammar
//! makes nothing of them, spelling repair leaves them alone.
//! Three more are for grammar: `[roles]`, `[numbers]` and `[endings]`, see `roles`; `apart` is explained in `languages`.
//! What tags do in a sentence is `scan`'s business.

use std::collections::HashMap;

use rustc_hash::{FxHashMap, FxHashSet};
use serde::Deserialize;

use super::languages::{Lang, Origin};
use super::lex::may_lead;
use super::phrases::spelled_out;
use super::repair::{self, Nearby};
use super::roles::{Endings, Role, Roles};
use super::second::Spelling;
use super::{fold, resolve, rules};

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
    So,
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
    Mild,
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
    Ordinal,
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
    Aside,
    Comma,
    Period,
    Question,
    Joiner,
    Yes,
    Cross,
    Unknown,
    Used,
}

/// A set of tags.
#[derive(Debug, Default, Clone, Copy)]
pub(super) struct Tags(u128);

const _: () = assert!((Tag::Used as usize) < 128, "a bit for each tag");

impl Tags {
    /// The check points and parts of the helmet.
    pub(super) const PARTS: Self = Self::of(&[
        Tag::Brow,
        Tag::Forehead,
        Tag::Crown,
        Tag::Cheeks,
        Tag::Strap,
        Tag::Hardware,
        Tag::Shell,
        Tag::Air,
        Tag::Pad,
        Tag::Grip,
    ]);

    pub(super) const fn of(tags: &[Tag]) -> Self {
        let mut all = Self(0);
        let mut at = 0;
        while at < tags.len() {
            all.add(tags[at]);
            at += 1;
        }
        all
    }

    pub(super) const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether any tag is in both.
    pub(super) const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether the other has them all.
    pub(super) const fn within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    pub(super) const fn add(&mut self, tag: Tag) {
        self.0 |= 1 << tag as usize;
    }

    pub(super) const fn has(self, tag: Tag) -> bool {
        self.0 >> tag as usize & 1 == 1
    }

    /// A bit for each tag.
    pub(super) const fn bits(self) -> u128 {
        self.0
    }
}

impl FromIterator<Tag> for Tags {
    fn from_iter<I: IntoIterator<Item = Tag>>(tags: I) -> Self {
        let mut all = Self::default();
        tags.into_iter().for_each(|tag| all.add(tag));
        all
    }
}

/// What is kept of a word. What is read of most words lies together.
#[derive(Debug, Default)]
#[repr(C)]
pub(super) struct Entry {
    /// Its number, from 1 on.
    pub(super) number: u32,
    /// The number of the word that it is short for, or 0.
    pub(super) long: u32,
    /// A bit for each second word of the longer phrases: most words have few.
    seconds: u64,
    openings: Option<Box<Openings>>,
    pub(super) spelling: Spelling,
    /// What the word means by itself. None, if it only begins others or goes on them.
    single: Option<Meaning>,
    /// Whether a rule names it.
    in_rules: bool,
    /// The phrases that begin with it, the longest first.
    phrases: Vec<Phrase>,
}

impl Entry {
    /// The longest phrase of the word and of those that follow it, if there is one of several words.
    pub(super) fn longer(&self, following: impl ExactSizeIterator<Item = Numbers> + Clone) -> Option<&Phrase> {
        let mut two = following.clone();
        let next = [two.next()?, two.next().unwrap_or_default()];
        let may_follow = |number: u32| self.seconds >> (number % 64) & 1 == 1;
        if !may_follow(next[0].typed) && !may_follow(next[0].form) {
            return None;
        }
        let openings = self.openings.as_ref().filter(|openings| openings.may_have(next[0]))?;
        let mut phrases = openings.begun(next).filter_map(|at| self.phrases.get(at));
        phrases.find(|phrase| phrase.goes_on_with(following.clone()))
    }

    /// Takes over from the phrases what is read of them.
    fn sum_up(&mut self) {
        self.single = self.phrases.last().filter(|phrase| phrase.words.len() == 1).map(|phrase| phrase.meaning);
        let number = |phrase: &Phrase, at: usize| phrase.rest.get(at).copied().unwrap_or(0);
        let opening = |phrase: &Phrase| [number(phrase, 0), number(phrase, 1), phrase.rest.len() as u32];
        let openings: Vec<[u32; 3]> =
            self.phrases.iter().filter(|phrase| phrase.words.len() > 1).map(opening).collect();
        self.seconds = openings.iter().fold(0, |seconds, [second, ..]| seconds | 1 << (second % 64));
        self.openings = (!openings.is_empty()).then(|| Box::new(Openings::of(openings)));
    }

    /// What the word means by itself.
    pub(super) const fn single(&self) -> Option<&Meaning> {
        self.single.as_ref()
    }

    /// Whether the word means something by itself.
    pub(super) const fn stands(&self) -> bool {
        self.in_rules || self.single.is_some()
    }

    fn push(&mut self, phrase: Phrase) {
        if phrase.words.len() == 1 {
            self.single = Some(phrase.meaning);
        }
        let (Ok(at) | Err(at)) = self.place_of(&phrase.words);
        self.phrases.insert(at, phrase);
    }

    /// Where the phrase of these words is, or would have to be put in.
    fn place_of(&self, words: &[String]) -> Result<usize, usize> {
        let order = |phrase: &Phrase| words.len().cmp(&phrase.words.len()).then_with(|| (*phrase.words).cmp(words));
        self.phrases.binary_search_by(order)
    }
}

/// How an entry's longer phrases go on, in short.
#[derive(Debug)]
struct Openings {
    /// By second word, then in the order of the phrases.
    ways: Vec<Way>,
    /// A bit for each second word: most words that follow another begin no phrase with it.
    seconds: [u64; 4],
}

/// How one phrase goes on: the numbers of its second and third word, 0 for none, its place, and how many words follow.
#[derive(Debug, Clone, Copy)]
struct Way {
    second: u32,
    third: u32,
    at: u32,
    length: u32,
}

impl Openings {
    /// Of the numbers of the second and third words and of how many follow the first, in the order of the phrases.
    fn of(numbers: Vec<[u32; 3]>) -> Self {
        let mut seconds = [0; 4];
        for [second, ..] in &numbers {
            seconds[Self::slot(*second)] |= 1 << (second % 64);
        }
        let mut ways: Vec<Way> = numbers
            .into_iter()
            .zip(0..)
            .map(|([second, third, length], at)| Way { second, third, at, length })
            .collect();
        ways.sort_by_key(|way| (way.second, way.at));
        Self { ways, seconds }
    }

    /// The places of the phrases that the next two words go on, in order.
    fn begun(&self, next: [Numbers; 2]) -> impl Iterator<Item = usize> {
        let of = |number: u32| {
            let from = self.ways.partition_point(|way| way.second < number);
            let length = self.ways[from..].iter().take_while(|way| way.second == number).count();
            &self.ways[from..from + length]
        };
        let [second, third] = next;
        let mut typed = of(second.typed);
        let mut form = if second.form == second.typed { &[][..] } else { of(second.form) };
        let ways = std::iter::from_fn(move || {
            // Of two as long, the one that was typed.
            let later = |one: &[Way], other: &[Way]| matches!((one, other), ([a, ..], [b, ..]) if a.length < b.length);
            let side = if typed.is_empty() || later(typed, form) { &mut form } else { &mut typed };
            let (first, rest) = side.split_first()?;
            *side = rest;
            Some(*first)
        });
        ways.filter(move |way| way.third == 0 || third.is(way.third)).map(|way| way.at as usize)
    }

    const fn slot(number: u32) -> usize {
        number as usize / 64 % 4
    }

    /// Whether the word may be the second of any.
    fn may_have(&self, word: Numbers) -> bool {
        let has = |number: u32| self.seconds[Self::slot(number)] >> (number % 64) & 1 == 1;
        has(word.typed) || has(word.form)
    }
}

/// The numbers of a word of a reply. 0 is that of no word.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Numbers {
    pub(super) typed: u32,
    /// In the form that the lexicon has.
    pub(super) form: u32,
}

impl Numbers {
    const fn is(self, number: u32) -> bool {
        self.typed == number || self.form == number
    }
}

/// What a word or phrase means.
#[derive(Debug, Clone, Copy)]
pub(super) struct Meaning {
    pub(super) roles: Roles,
    /// The number of the joined words, if a rule names them or they are one; else 0.
    pub(super) number: u32,
    pub(super) tag: Tag,
    /// The one language it belongs to.
    pub(super) lang: Origin,
    /// What the first of its words means by itself.
    pub(super) opens: Option<Tag>,
    /// Whether it has several words, and whether any of them names the helmet or a part.
    pub(super) several: bool,
    pub(super) names_gear: bool,
    /// Of the joined words.
    pub(super) spelling: Spelling,
}

impl Meaning {
    /// Of a word of which nothing else is known.
    pub(super) fn of(tag: Tag) -> Self {
        let (number, roles, lang) = (0, Roles::default(), Origin::NONE);
        Self { roles, number, tag, lang, opens: None, several: false, names_gear: false, spelling: Spelling::default() }
    }
}

/// One phrase under its first word.
#[derive(Debug, Clone)]
pub(super) struct Phrase {
    words: Box<[String]>,
    /// The numbers of its words after the first.
    rest: Box<[u32]>,
    /// The words with a space between.
    pub(super) joined: Box<str>,
    pub(super) meaning: Meaning,
}

impl Phrase {
    /// How many words it has.
    pub(super) const fn length(&self) -> usize {
        self.rest.len() + 1
    }

    fn goes_on_with(&self, following: impl ExactSizeIterator<Item = Numbers>) -> bool {
        self.rest.len() <= following.len() && self.rest.iter().zip(following).all(|(number, word)| word.is(*number))
    }
}

/// One element of a rule.
#[derive(Debug, Clone)]
pub(super) enum Element {
    /// The most items it skips.
    Gap(usize),
    Choice(Vec<Atom>),
}

/// One alternative of an element.
#[derive(Debug, Clone, PartialEq)]
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

/// All the words and rules of the languages that are read side by side.
#[derive(Debug, Default)]
pub(super) struct Lexicon {
    /// The language when nothing tells: the first.
    lang: Option<Lang>,
    entries: FxHashMap<String, Entry>,
    pub(super) rules: Vec<Rule>,
    pub(super) rule_index: rules::Index,
    /// Words that spelling repair may arrive at.
    worrying: Vec<(String, Tag)>,
    nearby: Nearby,
    /// By first letter, the lengths of words that trouble may be glued to, a bit each.
    leading: [u32; 26],
    /// What the grammar may do with single words.
    roles: FxHashMap<String, Roles>,
    /// Numbers in letters.
    numbers: FxHashMap<String, u32>,
    pub(super) endings: Endings,
    /// Short spellings, common misspellings, and the words they are for.
    short: FxHashMap<String, String>,
    /// What is left of words without their vowels, and whether it can be no word of weight.
    shorthand: FxHashMap<String, bool>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct DataFile {
    /// Whether the language is read by itself.
    #[serde(default)]
    apart: bool,
    #[serde(default)]
    pub(super) words: HashMap<Tag, Vec<String>>,
    #[serde(default)]
    rules: HashMap<Tag, Vec<String>>,
    #[serde(default)]
    pub(super) roles: HashMap<Role, Vec<String>>,
    #[serde(default)]
    pub(super) numbers: HashMap<String, u32>,
    #[serde(default)]
    endings: Endings,
    /// Short spellings and common misspellings, by themselves or within a phrase: "d" for "de".
    #[serde(default)]
    short: HashMap<String, String>,
}

/// One data file.
pub(super) struct File {
    pub(super) name: &'static str,
    /// The language its words are in, unless every language has them.
    pub(super) lang: Option<Lang>,
    pub(super) text: &'static str,
}

const fn file(name: &'static str, lang: &'static str, text: &'static str) -> File {
    File { name, lang: Some(Lang::of(lang)), text }
}

const fn shared(name: &'static str, text: &'static str) -> File {
    File { name, lang: None, text }
}

/// All data files. A language is a line here.
pub(super) const FILES: [File; 18] = [
    file("en.toml", "en", include_str!("words/en.toml")),
    file("everyday.en.toml", "en", include_str!("words/everyday.en.toml")),
    file("things.en.toml", "en", include_str!("words/things.en.toml")),
    file("common.en.toml", "en", include_str!("words/common.en.toml")),
    file("wider.en.toml", "en", include_str!("words/wider.en.toml")),
    file("rare.en.toml", "en", include_str!("words/rare.en.toml")),
    file("grammar.en.toml", "en", include_str!("words/grammar.en.toml")),
    file("es.toml", "es", include_str!("words/es.toml")),
    file("everyday.es.toml", "es", include_str!("words/everyday.es.toml")),
    file("things.es.toml", "es", include_str!("words/things.es.toml")),
    file("verbs.es.toml", "es", include_str!("words/verbs.es.toml")),
    file("common.es.toml", "es", include_str!("words/common.es.toml")),
    file("wider.es.toml", "es", include_str!("words/wider.es.toml")),
    file("rare.es.toml", "es", include_str!("words/rare.es.toml")),
    file("grammar.es.toml", "es", include_str!("words/grammar.es.toml")),
    file("pt.toml", "pt", include_str!("words/pt.toml")),
    shared("names.toml", include_str!("words/names.toml")),
    shared("emoji.toml", include_str!("words/emoji.toml")),
];

impl File {
    /// What is in it.
    pub(super) fn data(&self) -> Result<DataFile, String> {
        toml::from_str(self.text).map_err(|error| format!("{}: {error}", self.name))
    }

    /// Whether its language is read by itself. A file that does not load fails where it is built.
    pub(super) fn is_apart(&self) -> bool {
        // It says so before its first table.
        let (head, _) = self.text.split_once("\n[").unwrap_or((self.text, ""));
        toml::from_str(head).is_ok_and(|data: DataFile| data.apart)
    }
}

impl Lexicon {
    /// Builds the lexicon of these files, or says which entry is wrong.
    pub(super) fn of<'a>(files: impl Iterator<Item = &'a File>) -> Result<Self, String> {
        let mut lexicon = Self::default();
        for file in files {
            lexicon.lang = lexicon.lang.or(file.lang);
            lexicon.take(file).map_err(|problem| format!("{}: {problem}", file.name))?;
        }
        lexicon.finish();
        Ok(lexicon)
    }

    fn take(&mut self, file: &File) -> Result<(), String> {
        let data = file.data()?;
        for (tag, phrases) in &data.words {
            for phrase in phrases.iter().flat_map(|phrase| spelled_out(phrase)) {
                self.add(&phrase, *tag, file.lang)?;
            }
        }
        for (tag, patterns) in &data.rules {
            for pattern in patterns {
                let elements = elements(pattern).map_err(|problem| format!("{pattern}: {problem}"))?;
                self.rules.push(Rule { elements, tag: *tag });
            }
        }
        self.take_grammar(data);
        Ok(())
    }

    fn add(&mut self, phrase: &str, tag: Tag, lang: Option<Lang>) -> Result<(), String> {
        let words = folded(phrase);
        let Some(first) = words.first().cloned() else { return Err(format!("empty entry {phrase:?}")) };
        for word in &words[1..] {
            self.entries.entry(word.clone()).or_default();
        }
        let entry = self.entries.entry(first.clone()).or_default();
        if let Ok(at) = entry.place_of(&words) {
            let same = &mut entry.phrases[at].meaning;
            if same.tag != tag {
                return Err(format!("{phrase:?} is both {:?} and {tag:?}", same.tag));
            }
            if same.lang != Origin::of(lang) {
                same.lang = Origin::NONE;
            }
            if let (Some(single), 1) = (&mut entry.single, words.len()) {
                single.lang = same.lang;
            }
            return Ok(());
        }
        let (joined, words) = (words.join(" ").into(), words.into());
        entry.push(Phrase {
            joined,
            words,
            rest: Box::default(),
            meaning: Meaning { lang: Origin::of(lang), ..Meaning::of(tag) },
        });
        Ok(())
    }

    /// Takes over roles, numbers and endings of a data file.
    fn take_grammar(&mut self, file: DataFile) {
        for (role, words) in &file.roles {
            for word in words.iter().flat_map(|word| spelled_out(word)) {
                self.roles.entry(folded(&word).join(" ")).or_default().add(*role);
            }
        }
        self.numbers.extend(file.numbers);
        self.endings.join(file.endings);
        self.short.extend(file.short);
    }

    fn finish(&mut self) {
        for phrase in self.entries.values_mut().flat_map(|entry| &mut entry.phrases) {
            let role = |word: &str| self.roles.get(word).copied().unwrap_or_default();
            let words = phrase.words.iter().map(|word| role(word));
            let meaning = &mut phrase.meaning;
            meaning.roles = Roles::of_entry(role(&phrase.joined), words);
            if meaning.tag == Tag::Unknown {
                meaning.roles.add(Role::Rare);
            }
        }
        self.spell_out_rules();
        // Signs of concussion first, then longer rules; the tables keep no order, so the text decides among equals.
        self.rules.sort_by_cached_key(|rule| {
            let solid = rule.elements.iter().filter(|element| !matches!(element, Element::Gap(_))).count();
            let sign = matches!(rule.tag, Tag::Symptom | Tag::RedFlag);
            (!sign, rule.tag != Tag::RedFlag, std::cmp::Reverse(solid), format!("{:?}", rule.elements))
        });
        let mut worrying: Vec<(String, Tag)> = self
            .entries
            .iter()
            .filter_map(|(word, entry)| entry.single().map(|meaning| (word.to_owned(), meaning.tag)))
            .filter(|(_, tag)| tag.is_worrying())
            .filter(|(word, tag)| word.chars().count() >= if tag.is_part() { 4 } else { 5 })
            .collect();
        worrying.sort_by_key(|(word, tag)| (!tag.is_part(), word.clone()));
        self.nearby = Nearby::of(worrying.iter().map(|(word, _)| word.as_str()));
        self.worrying = worrying;
        for (word, entry) in &self.entries {
            if let (Some(meaning), Some(left)) = (entry.single(), repair::shorthand(word)) {
                *self.shorthand.entry(left).or_insert(true) &= repair::is_light(meaning.tag, meaning.roles);
            }
        }
        let atoms = self.rules.iter().flat_map(|rule| &rule.elements).filter_map(|element| match element {
            Element::Choice(atoms) => Some(atoms),
            Element::Gap(_) => None,
        });
        for atom in atoms.flatten() {
            if let Atom::Word(word) = atom {
                self.entries.entry(word.clone()).or_default().in_rules = true;
            }
        }
        self.give_rule_words_their_tags();
        self.index_rules();
        for (word, entry) in self.entries.iter() {
            if let Some(shelf) = letter(word).and_then(|letter| self.leading.get_mut(letter))
                && entry.single().is_some_and(|phrase| may_lead(phrase.tag))
            {
                *shelf |= 1 << word.len().min(31);
            }
        }
    }

    /// A rule that names several words as one ("hard_to") which no list has as a phrase means them one after the other.
    fn spell_out_rules(&mut self) {
        let mut todo = std::mem::take(&mut self.rules);
        while let Some(rule) = todo.pop() {
            let apart = |atom: &Atom| matches!(atom, Atom::Word(word) if word.contains(' ') && !self.has_phrase(word));
            let place = rule.elements.iter().position(|element| match element {
                Element::Choice(atoms) => atoms.iter().any(apart),
                Element::Gap(_) => false,
            });
            let Some((place, Element::Choice(atoms))) = place.map(|place| (place, &rule.elements[place])) else {
                self.rules.push(rule);
                continue;
            };
            let with = |elements: Vec<Element>| {
                let mut all = rule.elements.clone();
                all.splice(place..=place, elements);
                Rule { elements: all, tag: rule.tag }
            };
            let (several, whole): (Vec<&Atom>, Vec<&Atom>) = atoms.iter().partition(|atom| apart(atom));
            if !whole.is_empty() {
                todo.push(with(vec![Element::Choice(whole.into_iter().cloned().collect())]));
            }
            for atom in several {
                let Atom::Word(words) = atom else { continue };
                let word = |word: &str| Element::Choice(vec![Atom::Word(word.to_owned())]);
                todo.push(with(words.split(' ').map(word).collect()));
            }
        }
    }

    /// Whether some list has the words, one after the other, as an entry.
    fn has_phrase(&self, words: &str) -> bool {
        let first = words.split(' ').next().and_then(|first| self.entries.get(first));
        first.is_some_and(|entry| entry.phrases.iter().any(|phrase| *phrase.joined == *words))
    }

    fn index_rules(&mut self) {
        self.number();
        let number = |word: &str| self.entries.get(word).map_or(0, |entry| entry.number);
        let phrases = self.entries.values().flat_map(|entry| &entry.phrases);
        let written = phrases.flat_map(|phrase| &phrase.words).map(String::as_str);
        self.rule_index = rules::Index::of(&self.rules, written, number);
    }

    /// Numbers the words, so that phrases and rules compare numbers.
    fn number(&mut self) {
        let mut next = 0;
        // Those that rules name come first, so that rules are found by number in a short list.
        for in_rules in [true, false] {
            for entry in self.entries.values_mut().filter(|entry| entry.in_rules == in_rules) {
                next += 1;
                entry.number = next;
            }
        }
        let known: FxHashMap<String, (u32, Option<Tag>)> = self
            .entries
            .iter()
            .map(|(word, entry)| (word.to_owned(), (entry.number, entry.single().map(|meaning| meaning.tag))))
            .collect();
        let number = |word: &str| known.get(word).map_or(0, |(number, _)| *number);
        let tag = |word: &str| known.get(word).and_then(|(_, tag)| *tag);
        for (short, long) in &self.short {
            self.entries.entry(short.clone()).or_default().long = number(long);
        }
        for (word, entry) in self.entries.iter_mut() {
            entry.spelling = Spelling::of(word);
            for Phrase { words, rest, joined, meaning } in &mut entry.phrases {
                *rest = words[1..].iter().map(|word| number(word)).collect();
                meaning.number = number(joined);
                meaning.spelling = Spelling::of(joined);
                meaning.opens = tag(&words[0]);
                meaning.several = words.len() > 1;
                let names_gear = |tag: Tag| tag == Tag::Helmet || tag.is_part();
                meaning.names_gear = meaning.several && words.iter().any(|word| tag(word).is_some_and(names_gear));
            }
            entry.sum_up();
        }
    }

    /// A word that rules name and no list has, such as "heads", has the tag of the word it is a form of; it keeps its own
    /// spelling for the rules.
    fn give_rule_words_their_tags(&mut self) {
        let found: Vec<(String, Meaning)> = self
            .entries
            .iter()
            .filter(|(_, entry)| entry.in_rules && entry.single().is_none())
            .filter_map(|(word, _)| {
                let mut stems = self.endings.plural.iter().filter_map(|ending| word.strip_suffix(ending.as_str()));
                let stem = stems.find(|stem| stem.len() > 3).map(ToOwned::to_owned);
                let mut dropped = self.endings.dropped.iter();
                let full = dropped.find(|(ending, _)| word.ends_with(ending.as_str()));
                let of = stem.or(full.map(|(_, letter)| format!("{word}{letter}")))?;
                let meaning = self.single(&of).filter(|meaning| !resolve::is_reassuring(meaning.tag))?;
                Some((word.to_owned(), *meaning))
            })
            .collect();
        for (word, of) in found {
            let meaning = Meaning { roles: self.roles(&word), ..of };
            let (words, joined) = ([word.clone()].into(), word.as_str().into());
            let phrase = Phrase { words, rest: Box::default(), joined, meaning };
            self.entries.entry(word.clone()).or_default().push(phrase);
        }
    }

    /// The language when nothing tells.
    pub(super) fn lang(&self) -> Lang {
        self.lang.unwrap_or(Lang::EN)
    }

    /// Every word of an entry or a rule.
    pub(super) fn vocabulary(&self) -> FxHashSet<String> {
        let phrases = self.entries.values().flat_map(|entry| &entry.phrases).flat_map(|phrase| &phrase.words);
        let first = self.entries.keys().flat_map(|word| word.split(' ')).map(str::to_owned);
        phrases.cloned().chain(first).collect()
    }

    /// Takes over what is worrying in another lexicon, save phrases made of words that this one has itself. Spelling
    /// repair does not arrive at them.
    pub(super) fn borrow(&mut self, other: &Self, vocabulary: &FxHashSet<String>) {
        let worries = |tag: Tag| {
            tag.is_worrying()
                || resolve::is_trouble(tag)
                || resolve::outright(tag).is_some()
                || matches!(tag, Tag::Vomit | Tag::Hit | Tag::Helmet | Tag::Head | Tag::Neck)
        };
        let phrases = other.entries.values().flat_map(|entry| &entry.phrases);
        for phrase in phrases.filter(|phrase| worries(phrase.meaning.tag)) {
            if phrase.words.iter().all(|word| vocabulary.contains(word)) {
                continue;
            }
            for word in &phrase.words[1..] {
                self.entries.entry(word.clone()).or_default();
            }
            let own = self.entries.entry(phrase.words[0].clone()).or_default();
            if own.place_of(&phrase.words).is_err() {
                own.push(phrase.clone());
            }
        }
        self.index_rules();
    }

    /// What the grammar may do with a word.
    pub(super) fn roles(&self, word: &str) -> Roles {
        self.roles.get(word).copied().unwrap_or_default()
    }

    /// The number a word stands for.
    pub(super) fn numeral(&self, word: &str) -> Option<u32> {
        self.numbers.get(word).copied()
    }

    /// Whether this is an entry by itself.
    pub(super) fn knows(&self, word: &str) -> bool {
        self.single(word).is_some()
    }

    /// What a word means by itself.
    pub(super) fn single(&self, word: &str) -> Option<&Meaning> {
        self.entries.get(word)?.single()
    }

    /// What is kept of a word, with the word as it is kept.
    pub(super) fn entry(&self, word: &str) -> Option<(&str, &Entry)> {
        self.entries.get_key_value(word).map(|(word, entry)| (word.as_str(), entry))
    }

    /// Whether a word that trouble may be glued to has the first letter of this one and this length.
    pub(super) fn leads(&self, word: &str, length: usize) -> bool {
        letter(word)
            .and_then(|letter| self.leading.get(letter))
            .is_some_and(|lengths| lengths >> length.min(31) & 1 == 1)
    }

    /// The word that a short spelling or a common misspelling is for ("rihgt", "aora"), where it means something by itself.
    pub(super) fn spelt_out(&self, word: &str) -> Option<(&str, &Entry)> {
        self.entry(self.short.get(word)?).filter(|(_, entry)| entry.stands())
    }

    /// Whether it is what is left of words that say nothing of weight, and of no others.
    pub(super) fn is_shorthand(&self, word: &str) -> bool {
        self.shorthand.get(word).copied().unwrap_or_default()
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
        Tags::PARTS.has(self)
    }

    /// A part of the athlete.
    pub(super) const fn is_body(self) -> bool {
        matches!(self, Self::Head | Self::Neck | Self::Eyes | Self::Ears | Self::Limb | Self::Belly)
    }
}

/// The place of a word's first letter in the alphabet.
fn letter(word: &str) -> Option<usize> {
    word.bytes().next().and_then(|byte| byte.checked_sub(b'a')).map(usize::from)
}

/// The words of an entry as they are compared.
fn folded(entry: &str) -> Vec<String> {
    fold::fold(entry).whole_tokens().map(|token| token.text.to_owned()).collect()
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
