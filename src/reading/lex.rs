//! Gives every token its tag: longest phrase first, then what a thumb does to a word, then spelling repair.
//!
//! Invariant: repair by guessing (edit distance) reaches worrying words alone.

use std::borrow::Cow;

use super::Lang;
use super::fold::{Shape, Token};
use super::lexicon::{Lexicon, Phrase, Tag};
use super::resolve::{is_trouble, outright};
use super::roles::{Role, Roles};

/// A stretch of text with its tag.
#[derive(Debug, Clone)]
pub(super) struct Item {
    pub(super) tag: Tag,
    /// Folded words, joined by a space.
    pub(super) word: String,
    /// What the grammar may do with it.
    pub(super) roles: Roles,
    pub(super) span: (usize, usize),
    /// The one language it is a word of.
    pub(super) lang: Option<Lang>,
    /// Whether the word was guessed from a misspelling.
    pub(super) guessed: bool,
    /// Bits 0 to 6: the check points 1 to 7 a numeral names.
    pub(super) points: u8,
}

/// The items of the tokens, in order.
pub(super) fn items(tokens: &[Token], lexicon: &Lexicon) -> Vec<Item> {
    let mut items = Vec::with_capacity(tokens.len());
    let forms: Vec<Cow<'_, str>> = tokens.iter().map(|token| known_form(token, lexicon)).collect();
    let mut at = 0;
    while at < tokens.len() {
        if let Some((length, item)) = phrase_at(tokens, &forms, at, lexicon) {
            items.push(item);
            at += length;
            continue;
        }
        match unglued(&tokens[at], lexicon) {
            Some(pair) => items.extend(pair),
            None => items.push(lone(&tokens[at], &forms[at], lexicon)),
        }
        at += 1;
    }
    items
}

fn phrase_at(tokens: &[Token], forms: &[Cow<'_, str>], at: usize, lexicon: &Lexicon) -> Option<(usize, Item)> {
    let fits = |phrase: &&Phrase| {
        phrase.words.len() <= tokens.len() - at
            && phrase.words[1..].iter().zip(at + 1..).all(|(word, next)| {
                let token = &tokens[next];
                *word == token.text || (token.text.len() > 3 && *word == forms[next])
            })
    };
    let as_typed = lexicon.starting(&tokens[at].text).iter().find(fits);
    let phrase = as_typed.or_else(|| lexicon.starting(&forms[at]).iter().find(fits))?;
    let length = phrase.words.len();
    let span = (tokens[at].span.0, tokens[at + length - 1].span.1);
    let word = phrase.words.join(" ");
    Some((length, Item { tag: phrase.tag, word, roles: phrase.roles, span, lang: phrase.lang, guessed: false, points: 0 }))
}

/// The form of a token that the lexicon has, by undoing stretched letters, a dropped g and an ending; else the token
/// itself.
fn known_form<'a>(token: &'a Token, lexicon: &Lexicon) -> Cow<'a, str> {
    let text = &token.text;
    let has = |form: &str| lexicon.knows(form) || lexicon.is_in_rules(form);
    if token.shape != Shape::Word || has(text) {
        return Cow::Borrowed(text);
    }
    let mut forms = vec![squeeze(text, 2), squeeze(text, 1)];
    for form in [squeeze(text, 2), squeeze(text, 1)] {
        let endings = &lexicon.endings;
        for (_, letter) in endings.dropped.iter().filter(|(ending, _)| form.ends_with(ending.as_str()) && form.len() > 4) {
            forms.push(format!("{form}{letter}"));
        }
        let stems = endings.plural.iter().filter_map(|ending| form.strip_suffix(ending.as_str()));
        forms.extend(stems.filter(|stem| stem.len() > 3).map(str::to_owned));
    }
    forms
        .into_iter()
        .find(|form| has(form))
        .or_else(|| stems(text, lexicon).into_iter().find(|stem| lexicon.single(stem).is_some_and(|entry| bends(entry.tag))))
        .map_or(Cow::Borrowed(text), Cow::Owned)
}

/// Whether another ending leaves the meaning of an entry alone: worrying words and those that say nothing. A reassuring
/// word never comes of this.
const fn bends(tag: Tag) -> bool {
    (tag.is_worrying() && !tag.is_part()) || matches!(tag, Tag::Story)
}

/// What may be left when an ending is taken off: "swinging" swing, "splitted" split, "scraped" scrape.
fn stems(word: &str, lexicon: &Lexicon) -> Vec<String> {
    let mut stems = Vec::new();
    for ending in &lexicon.endings.bending {
        let Some(stem) = word.strip_suffix(ending.as_str()).filter(|stem| stem.len() > 2 && stem.is_ascii()) else { continue };
        stems.push(stem.to_owned());
        stems.push(format!("{stem}e"));
        let last = &stem[stem.len() - 1..];
        if let Some(single) = stem.strip_suffix(last).filter(|single| single.ends_with(last)) {
            stems.push(single.to_owned());
        }
    }
    stems
}

/// Cuts runs of one letter down to `most`, where a run is three or more or `most` is two.
fn squeeze(word: &str, most: usize) -> String {
    let mut out = String::with_capacity(word.len());
    let mut run = 0;
    for c in word.chars() {
        run = if out.ends_with(c) { run + 1 } else { 1 };
        if run <= most {
            out.push(c);
        }
    }
    out
}

/// The word without letters drawn out, if there are any.
pub(super) fn unstretched(word: &str) -> Option<String> {
    let letters = word.as_bytes();
    letters.windows(3).any(|three| three[0] == three[1] && three[1] == three[2]).then(|| squeeze(word, 1))
}

/// "strapbroke", "headhurts": two known words run together, the second of them trouble. Others stay unknown, so that
/// nothing reassuring comes of a guess.
fn unglued(token: &Token, lexicon: &Lexicon) -> Option<[Item; 2]> {
    let text = &token.text;
    if token.shape != Shape::Word || text.len() < 6 || text.len() > 24 || !text.is_ascii() {
        return None;
    }
    let trouble = |tag: Tag| is_trouble(tag) || outright(tag).is_some();
    (2..=text.len() - 4).find_map(|cut| {
        let (first, second) = (lexicon.single(&text[..cut])?, lexicon.single(&text[cut..])?);
        let subject = first.tag.is_part() || first.tag.is_body() || matches!(first.tag, Tag::Helmet | Tag::Me | Tag::Too);
        if !trouble(second.tag) || !subject
        {
            return None;
        }
        let exact = token.span.1 - token.span.0 == text.len();
        let seam = if exact { token.span.0 + cut } else { token.span.1 };
        let item = |phrase: &Phrase, span| Item {
            tag: phrase.tag,
            word: phrase.words.join(" "),
            roles: phrase.roles,
            span,
            lang: phrase.lang,
            guessed: false,
            points: 0,
        };
        Some([item(first, (token.span.0, seam)), item(second, (if exact { seam } else { token.span.0 }, token.span.1))])
    })
}

fn lone(token: &Token, form: &str, lexicon: &Lexicon) -> Item {
    let mut guessed = false;
    let mut lang = None;
    let tag = match token.shape {
        Shape::Number => Tag::Number,
        Shape::Mark => mark(&token.text),
        Shape::Symbol => Tag::Unknown,
        Shape::Word => match repaired(&token.text, lexicon) {
            Some((tag, from)) => {
                guessed = true;
                lang = from;
                tag
            }
            None => Tag::Unknown,
        },
    };
    Item { tag, word: form.to_owned(), roles: lexicon.roles(form), span: token.span, lang, guessed, points: 0 }
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
fn repaired(word: &str, lexicon: &Lexicon) -> Option<(Tag, Option<Lang>)> {
    let (target, tag) = lexicon.worrying_near(word)?;
    Some((*tag, lexicon.single(target).and_then(|phrase| phrase.lang)))
}

/// The language, by which files the words are in.
pub(super) fn language(items: &[Item], lexicon: &Lexicon) -> Lang {
    let mut known = items.iter().filter_map(|item| item.lang);
    let first = known.next().unwrap_or(lexicon.lang());
    if known.all(|other| other == first) { first } else { Lang::MIX }
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
}
