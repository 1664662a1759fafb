//! Gives every token its tag: longest phrase first, then what a thumb does to a word, then spelling repair.
//!
//! Invariant: repair by guessing (edit distance) reaches worrying words alone.

use std::ops::Deref;

use super::fold::{self, Folded, Shape, Token};
use super::languages::{Lang, Origin};
use super::lexicon::{Entry, Lexicon, Meaning, Numbers, Tag, Tags};
use super::repair::{is_made_of_words, is_plainly_trouble};
use super::resolve::{is_trouble, outright};
use super::roles::{Role, Roles};
use super::second::Spelling;

/// Folded words, joined by a space: they lie in the folded reply or in the lexicon.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Word<'a>(&'a str);

impl<'a> Word<'a> {
    pub(super) const fn as_str(self) -> &'a str {
        self.0
    }
}

impl Deref for Word<'_> {
    type Target = str;

    fn deref(&self) -> &str {
        self.0
    }
}

impl<T: AsRef<str> + ?Sized> PartialEq<T> for Word<'_> {
    fn eq(&self, other: &T) -> bool {
        self.0 == other.as_ref()
    }
}

/// A stretch of text with its tag.
#[derive(Debug, Clone)]
pub(super) struct Item<'a> {
    pub(super) tag: Tag,
    /// What was written, as the lexicon has it.
    pub(super) word: Word<'a>,
    /// What the grammar may do with it.
    pub(super) roles: Roles,
    /// The number that the lexicon has for the word; 0 when it has none.
    pub(super) number: u32,
    pub(super) span: (usize, usize),
    /// The one language it is a word of.
    lang: Origin,
    /// Whether the word was guessed from a misspelling, and may be another.
    pub(super) guessed: bool,
    /// Bits 0 to 6: the check points 1 to 7 a numeral names.
    pub(super) points: u8,
    /// The tag it had before a rule made it the head of a match.
    pub(super) was: Option<Tag>,
    /// The tag it had before a rule used it up beside the head.
    pub(super) used: Option<Tag>,
    /// Of an entry: what the first of its words means by itself.
    pub(super) opens: Option<Tag>,
    /// Whether it is an entry of several words, and whether any of them names the helmet or a part.
    pub(super) several: bool,
    pub(super) names_gear: bool,
    /// Of what was written.
    pub(super) spelling: Spelling,
}

impl<'a> Item<'a> {
    fn of(word: &'a str, meaning: &Meaning, span: (usize, usize)) -> Self {
        let Meaning { roles, number, tag, lang, opens, several, names_gear, spelling } = *meaning;
        let (word, guessed, points, was, used) = (Word(word), false, 0, None, None);
        Item { tag, word, roles, number, span, lang, guessed, points, was, used, opens, several, names_gear, spelling }
    }

    /// Covers another stretch as well, whichever of the two comes first: a denial stands before what it denies, wherever it was typed.
    pub(super) fn reach_to(&mut self, other: (usize, usize)) {
        self.span = (self.span.0.min(other.0), self.span.1.max(other.1));
    }

    /// Whether it begins or ends what is quoted.
    pub(super) fn is_quote(&self) -> bool {
        self.word.starts_with(fold::is_quote)
    }

    /// Forgets the word.
    pub(super) const fn clear_word(&mut self) {
        self.word = Word("");
        (self.opens, self.several, self.names_gear) = (None, false, false);
    }
}

/// A token and what the lexicon has of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen<'a> {
    pub(super) token: Token<'a>,
    /// As typed.
    typed: Option<&'a Entry>,
    /// Its known form, or as typed.
    form: &'a str,
    formed: Option<&'a Entry>,
    /// Those it has as a word that goes on a phrase.
    numbers: Numbers,
    pub(super) spelling: Spelling,
}

impl<'a> Seen<'a> {
    fn of(token: Token<'a>, lexicon: &'a Lexicon) -> Self {
        let typed = lexicon.entry(token.text).map(|(_, entry)| entry);
        let number = typed.map_or(0, |entry| entry.number);
        let form = typed.map_or(0, |entry| entry.long);
        let numbers = Numbers { typed: number, form: if form == 0 { number } else { form } };
        let spelling = typed.map_or_else(|| Spelling::of(token.text), |entry| entry.spelling);
        Seen { token, typed, form: token.text, formed: None, numbers, spelling }
    }

    /// Whether it means something by itself as it is typed.
    pub(super) fn stands(&self) -> bool {
        self.typed.is_some_and(Entry::stands)
    }

    /// Looks for the form that the lexicon has, by undoing stretched letters, a dropped g and an ending.
    fn find_form(&mut self, lexicon: &'a Lexicon, scratch: &mut Scratch) {
        if self.token.shape != Shape::Word || self.stands() {
            return;
        }
        if let Some((form, entry)) = known_form(self.token.text, lexicon, scratch) {
            (self.form, self.formed) = (form, Some(entry));
            // Short words are too like each other to go on a phrase in another form.
            if self.token.text.len() > 3 {
                self.numbers.form = entry.number;
            }
        }
    }

    /// The number of the form, or 0.
    fn number(&self) -> u32 {
        self.formed.or(self.typed).map_or(0, |entry| entry.number)
    }
}

/// Looks the tokens up as they are typed.
pub(super) fn look_up<'a>(folded: &'a Folded, lexicon: &'a Lexicon) -> Vec<Seen<'a>> {
    folded.whole_tokens().map(|token| Seen::of(token, lexicon)).collect()
}

/// The items of the tokens, in order; `text` is what was folded.
pub(super) fn items<'a>(seen: &mut [Seen<'a>], text: &str, lexicon: &'a Lexicon) -> Vec<Item<'a>> {
    let mut parted = without_glued_numerals(seen, text, lexicon);
    let seen = parted.as_deref_mut().unwrap_or(seen);
    let mut scratch = Scratch::default();
    for token in &mut *seen {
        token.find_form(lexicon, &mut scratch);
    }
    let mut items = Vec::with_capacity(seen.len());
    let mut at = 0;
    while at < seen.len() {
        if let Some((length, item)) = phrase_at(&seen[at..]) {
            items.push(item);
            at += length;
            continue;
        }
        match unglued(&seen[at].token, lexicon) {
            Some(pair) => items.extend(pair),
            None => items.push(lone(&seen[at], lexicon)),
        }
        at += 1;
    }
    items
}

/// Cuts numerals off the words they are glued to, unless the lexicon has the whole. None: there are no such words.
fn without_glued_numerals<'a>(seen: &[Seen<'a>], text: &str, lexicon: &'a Lexicon) -> Option<Vec<Seen<'a>>> {
    let glued = |seen: &Seen<'_>| seen.token.is_mixed() && seen.typed.and_then(Entry::single).is_none();
    if !seen.iter().any(glued) {
        return None;
    }
    let mut all = Vec::with_capacity(seen.len() + 4);
    for token in seen {
        if glued(token) {
            token.token.unglue(text, |part| all.push(Seen::of(part, lexicon)));
        } else {
            all.push(*token);
        }
    }
    Some(all)
}

/// The longest entry that the tokens begin with.
fn phrase_at<'a>(seen: &[Seen<'a>]) -> Option<(usize, Item<'a>)> {
    let (first, following) = seen.split_first()?;
    let longest = |entry: &'a Entry, word: &'a str| match entry.longer(following.iter().map(|next| next.numbers)) {
        Some(phrase) => Some((phrase.length(), &*phrase.joined, &phrase.meaning)),
        None => entry.single().map(|meaning| (1, word, meaning)),
    };
    let typed = first.typed.and_then(|entry| longest(entry, first.token.text));
    let (length, word, meaning) = typed.or_else(|| first.formed.and_then(|entry| longest(entry, first.form)))?;
    let span = (first.token.span.0, seen[length - 1].token.span.1);
    Some((length, Item::of(word, meaning, span)))
}

/// Room for words that are tried.
#[derive(Debug, Default)]
struct Scratch {
    twice: String,
    once: String,
    tried: String,
}

/// The form of an unknown word that the lexicon has.
fn known_form<'a>(text: &str, lexicon: &'a Lexicon, scratch: &mut Scratch) -> Option<(&'a str, &'a Entry)> {
    let Scratch { twice, once, tried } = scratch;
    if let Some(found) = lexicon.spelt_out(text) {
        return Some(found);
    }
    let held = held_runs(text);
    for keep in (0..1 << held).rev().filter(|_| held > 0) {
        hold_down(text, keep, tried);
        if let Some(found) = lexicon.entry(tried) {
            return Some(found);
        }
    }
    squeeze(text, 2, twice);
    squeeze(text, 1, once);
    let stands = |form: &str| lexicon.entry(form).filter(|(_, entry)| entry.stands());
    let squeezed = [twice.as_str(), once.as_str()];
    if let Some(found) = squeezed.into_iter().filter(|form| *form != text).find_map(stands) {
        return Some(found);
    }
    for form in squeezed {
        let endings = &lexicon.endings;
        for (_, letter) in
            endings.dropped.iter().filter(|(ending, _)| form.ends_with(ending.as_str()) && form.len() > 4)
        {
            join(tried, form, letter);
            if let Some(found) = stands(tried) {
                return Some(found);
            }
        }
        let mut stems = endings.plural.iter().filter_map(|ending| form.strip_suffix(ending.as_str()));
        if let Some(found) = stems.find_map(|stem| Some(stem).filter(|stem| stem.len() > 3).and_then(stands)) {
            return Some(found);
        }
    }
    stem(text, lexicon, tried)
}

fn join(out: &mut String, word: &str, ending: &str) {
    out.clear();
    out.push_str(word);
    out.push_str(ending);
}

/// Whether another ending leaves the meaning of an entry alone: worrying words, and long ones that say nothing. What
/// reassures never comes of this.
fn bends(tag: Tag, stem: &str, ending: &str) -> bool {
    let quiet = matches!(tag, Tag::Story | Tag::Other) && stem.len() > 3 && matches!(ending, "ing" | "ed");
    (tag.is_worrying() && !tag.is_part()) || quiet
}

/// What is left when an ending is taken off: "swinging" swing, "splitted" split, "scraped" scrape.
fn stem<'a>(word: &str, lexicon: &'a Lexicon, tried: &mut String) -> Option<(&'a str, &'a Entry)> {
    let bent = |stem: &str, ending: &str| {
        let may = |entry: &Entry| entry.single().is_some_and(|phrase| bends(phrase.tag, stem, ending));
        lexicon.entry(stem).filter(|(_, entry)| may(entry))
    };
    lexicon.endings.bending.iter().find_map(|ending| {
        let stem = word.strip_suffix(ending.as_str()).filter(|stem| stem.len() > 2 && stem.is_ascii())?;
        join(tried, stem, "e");
        let single = stem[..stem.len() - 1].ends_with(&stem[stem.len() - 1..]).then(|| &stem[..stem.len() - 1]);
        bent(stem, ending).or_else(|| bent(tried, ending)).or_else(|| single.and_then(|single| bent(single, ending)))
    })
}

/// How many letters are held down: runs of three or more, which no word has. More than three count as three.
fn held_runs(word: &str) -> u32 {
    let (mut held, mut run, mut last) = (0, 0, None);
    for c in word.chars() {
        run = if last == Some(c) { run + 1 } else { 1 };
        last = Some(c);
        held += u32::from(run == 3);
    }
    held.min(3)
}

/// Cuts each run of three or more down to two letters, where `keep` has the run's bit, or to one.
fn hold_down(word: &str, keep: u32, out: &mut String) {
    out.clear();
    let mut letters = word.chars().peekable();
    let mut bit = 0;
    while let Some(letter) = letters.next() {
        let mut run = 1;
        while letters.next_if_eq(&letter).is_some() {
            run += 1;
        }
        if run > 2 {
            run = if keep >> bit & 1 == 1 { 2 } else { 1 };
            bit = (bit + 1).min(31);
        }
        out.extend(std::iter::repeat_n(letter, run));
    }
}

/// Cuts runs of one letter down to `most`.
fn squeeze(word: &str, most: usize, out: &mut String) {
    out.clear();
    let (mut run, mut last) = (0, None);
    for c in word.chars() {
        run = if last == Some(c) { run + 1 } else { 1 };
        last = Some(c);
        if run <= most {
            out.push(c);
        }
    }
}

/// Whether any letter is drawn out.
pub(super) fn is_stretched(text: &str) -> bool {
    let letters = text.as_bytes();
    let threes = letters.iter().zip(letters.iter().skip(1)).zip(letters.iter().skip(2));
    // To the end, without a look at each: that is many at a time.
    threes.fold(false, |any, ((a, b), c)| any | (a == b && b == c))
}

/// The word without letters drawn out, if there are any.
pub(super) fn unstretched(word: &str) -> Option<String> {
    is_stretched(word).then(|| {
        let mut once = String::new();
        squeeze(word, 1, &mut once);
        once
    })
}

/// "strapbroke", "headhurts": two known words run together, the second of them trouble. Others stay unknown, so that
/// nothing reassuring comes of a guess.
fn unglued<'a>(token: &Token<'a>, lexicon: &'a Lexicon) -> Option<[Item<'a>; 2]> {
    let text = token.text;
    if token.shape != Shape::Word || text.len() < 6 || text.len() > 24 || !text.is_ascii() {
        return None;
    }
    let trouble = |tag: Tag| is_trouble(tag) || outright(tag).is_some();
    (2..=text.len() - 3).filter(|cut| lexicon.leads(text, *cut)).find_map(|cut| {
        let words = text.split_at(cut);
        let (first, second) = (lexicon.single(words.0)?, lexicon.single(words.1)?);
        let short = text.len() - cut < 4 && first.tag != Tag::Too;
        if short || !trouble(second.tag) || !may_lead(first.tag) {
            return None;
        }
        let exact = token.span.1 - token.span.0 == text.len();
        let seam = if exact { token.span.0 + cut } else { token.span.1 };
        let rest = if exact { seam } else { token.span.0 };
        Some([Item::of(words.0, first, (token.span.0, seam)), Item::of(words.1, second, (rest, token.span.1))])
    })
}

/// Whether trouble may be glued to such a word.
pub(super) const fn may_lead(tag: Tag) -> bool {
    tag.is_part() || tag.is_body() || matches!(tag, Tag::Helmet | Tag::Me | Tag::Too)
}

fn lone<'a>(seen: &Seen<'a>, lexicon: &Lexicon) -> Item<'a> {
    let token = seen.token;
    let repair = match token.shape {
        Shape::Word => repaired(token.text, lexicon).or_else(|| {
            let mut plain = String::new();
            (held_runs(token.text) > 0).then(|| hold_down(token.text, 0, &mut plain));
            repaired(&plain, lexicon)
        }),
        _ => None,
    };
    let tag = match token.shape {
        Shape::Number => Tag::Number,
        Shape::Mark => mark(token.text),
        Shape::Symbol => Tag::Unknown,
        Shape::Word => repair.map_or(Tag::Unknown, |(tag, _)| tag),
    };
    let mut roles = lexicon.roles(seen.form);
    if tag == Tag::Unknown && token.shape == Shape::Word && is_made_of_words(token.text, lexicon) {
        roles.add(Role::Rare);
    }
    let meaning = Meaning {
        roles,
        number: seen.number(),
        lang: repair.map_or(Origin::NONE, |(_, lang)| lang),
        spelling: if seen.formed.is_some() { Spelling::of(seen.form) } else { seen.spelling },
        ..Meaning::of(tag)
    };
    let guessed = repair.is_some_and(|(tag, _)| !is_trouble(tag) || !is_plainly_trouble(token.text, lexicon));
    Item { guessed, ..Item::of(seen.form, &meaning, token.span) }
}

fn mark(text: &str) -> Tag {
    match text.chars().next() {
        Some('?') => Tag::Question,
        Some('¿') => Tag::Ask,
        Some(',') => Tag::Comma,
        Some('.' | '!' | ';' | ':' | '\n' | '(' | ')' | '[' | ']' | '|') => Tag::Period,
        Some('-') => Tag::Joiner,
        Some('/') => Tag::Joiner,
        Some('&' | '+') => Tag::And,
        Some('#') => Tag::Label,
        _ => Tag::Glue,
    }
}

/// The worrying word one slip away, if there is one.
fn repaired(word: &str, lexicon: &Lexicon) -> Option<(Tag, Origin)> {
    let (target, tag) = lexicon.worrying_near(word)?;
    Some((*tag, lexicon.single(target).map_or(Origin::NONE, |meaning| meaning.lang)))
}

/// The tags and roles that any of the items has: what none has needs no looking for.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Present {
    pub(super) tags: Tags,
    pub(super) roles: Roles,
}

impl Present {
    pub(super) fn among(items: &[Item]) -> Self {
        let mut present = Self::default();
        for item in items {
            present.tags.add(item.tag);
            present.roles = present.roles.and(item.roles);
        }
        present
    }
}

/// The language, by which files the words are in.
pub(super) fn language(items: &[Item], lexicon: &Lexicon) -> Lang {
    let mut known = items.iter().map(|item| item.lang).filter(|lang| *lang != Origin::NONE);
    let Some(first) = known.next() else { return lexicon.lang() };
    if known.all(|other| other == first) { first.lang().unwrap_or(lexicon.lang()) } else { Lang::MIX }
}

/// Settles what a given name does: it talks of somebody ("cole says ...") or only says who writes ("cole here").
pub(super) fn settle_names(items: &mut [Item]) {
    for at in 0..items.len() {
        if items[at].tag != Tag::Name {
            continue;
        }
        let talks = items.get(at + 1).is_some_and(|next| next.roles.has(Role::Talks));
        items[at].tag = if talks { Tag::Person } else { Tag::Fill };
    }
    // "This is his mom, he says it fits": whom it is said of is who was asked.
    if items.iter().any(|item| item.roles.has(Role::Speaks)) {
        for item in items.iter_mut().filter(|item| item.roles.has(Role::SpokenFor)) {
            item.tag = Tag::Me;
        }
    }
}

/// "No tiene nada flojo": "no tiene nada" says that all is well, unless what it has nothing of is named.
pub(super) fn settle_denials(items: &mut [Item], lexicon: &Lexicon) {
    for at in 1..items.len() {
        let denies = |word: Option<&str>| {
            let known = word.and_then(|word| lexicon.single(word));
            known.is_some_and(|entry| matches!(entry.tag, Tag::Neg | Tag::None))
        };
        let named = super::resolve::is_trouble(items[at].tag);
        let word = &items[at - 1].word;
        if named && items[at - 1].tag == Tag::Good && items[at - 1].several && denies(word.rsplit(' ').next()) {
            items[at - 1].tag = Tag::None;
        }
    }
}
