//! Retags what the rules recognise.
//!
//! Rules are tried in their order, each from the left. Most rules name a word that most replies do not have, so each is
//! filed under its rarest element, its anchor, and tried only around items that the anchor fits.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashMap;

use super::lex::Item;
use super::lexicon::{Atom, Element, Lexicon, Rule, Tag};

/// Where to look for which rule.
#[derive(Debug, Default)]
pub(super) struct Index {
    by_word: FxHashMap<String, Vec<u32>>,
    by_tag: FxHashMap<Tag, Vec<u32>>,
    /// For each rule, how many items may lie between its start and its anchor: least and most.
    reach: Vec<(usize, usize)>,
}

impl Index {
    /// Files the rules, which are in the order that they are to be tried in.
    pub(super) fn of(rules: &[Rule]) -> Self {
        let mut named: FxHashMap<&str, usize> = FxHashMap::default();
        for atom in rules.iter().flat_map(|rule| &rule.elements).flat_map(atoms) {
            if let Atom::Word(word) = atom {
                *named.entry(word).or_default() += 1;
            }
        }
        let mut index = Self::default();
        for (rule, number) in rules.iter().zip(0..) {
            index.file(rule, number, &named);
        }
        index
    }

    fn file(&mut self, rule: &Rule, number: u32, named: &FxHashMap<&str, usize>) {
        let commonness = |element: &Element| atoms(element).iter().map(|atom| commonness(atom, named)).sum::<usize>();
        let solid = rule.elements.iter().enumerate().filter(|(_, element)| !atoms(element).is_empty());
        let Some((place, anchor)) = solid.min_by_key(|(_, element)| commonness(element)) else { return };
        for atom in atoms(anchor) {
            let filed = match atom {
                Atom::Word(word) => self.by_word.entry(word.clone()).or_default(),
                Atom::Tag(tag) => self.by_tag.entry(*tag).or_default(),
            };
            if filed.last() != Some(&number) {
                filed.push(number);
            }
        }
        let before = &rule.elements[..place];
        let least = before.iter().filter(|element| !atoms(element).is_empty()).count();
        let skipped: usize =
            before.iter().map(|element| if let Element::Gap(most) = element { *most } else { 0 }).sum();
        self.reach.push((least, least + skipped));
    }

    /// The rules whose anchor the item fits.
    fn anchored<'a>(&'a self, item: &Item) -> impl Iterator<Item = u32> + use<'a> {
        let by_word = self.by_word.get(item.word.as_str()).into_iter().flatten();
        by_word.chain(self.by_tag.get(&item.tag).into_iter().flatten()).copied()
    }
}

fn atoms(element: &Element) -> &[Atom] {
    match element {
        Element::Choice(atoms) => atoms,
        Element::Gap(_) => &[],
    }
}

/// How often items are likely to fit: a word that many rules name is a common one, a tag has many words.
fn commonness(atom: &Atom, named: &FxHashMap<&str, usize>) -> usize {
    match atom {
        Atom::Word(word) => named.get(word.as_str()).copied().unwrap_or(0),
        Atom::Tag(Tag::Glue | Tag::Fill | Tag::It | Tag::Me | Tag::Good | Tag::Story | Tag::Comma | Tag::Period) => {
            1_000
        }
        Atom::Tag(_) => 50,
    }
}

/// The pairs of a rule and a place that fits its anchor which are still to be tried, smallest first.
struct Due {
    /// Known from the start, sorted.
    early: Vec<(u32, usize)>,
    next: usize,
    /// Come up since, by rules that made a tag which others wait for.
    late: BinaryHeap<Reverse<(u32, usize)>>,
}

impl Due {
    fn new(items: &[Item], index: &Index) -> Self {
        let mut early: Vec<(u32, usize)> = Vec::new();
        for (at, item) in items.iter().enumerate() {
            early.extend(index.anchored(item).map(|rule| (rule, at)));
        }
        early.sort_unstable();
        Self { early, next: 0, late: BinaryHeap::new() }
    }

    fn pop(&mut self) -> Option<(u32, usize)> {
        let early = self.early.get(self.next).copied();
        let late = self.late.peek().map(|late| late.0);
        if late.is_some_and(|late| early.is_none_or(|early| late < early)) {
            return self.late.pop().map(|late| late.0);
        }
        self.next += 1;
        early
    }
}

/// Retags what the rules recognise. The first item of a match carries the rule's tag, the others are used up.
pub(super) fn apply(items: &mut [Item], lexicon: &Lexicon) {
    let index = &lexicon.rule_index;
    let mut due = Due::new(items, index);
    let mut hits = Vec::new();
    let (mut current, mut from) = (0, 0);
    while let Some((number, anchor)) = due.pop() {
        if number != current {
            (current, from) = (number, 0);
        }
        let (Some(rule), Some((least, most))) = (lexicon.rules.get(number as usize), index.reach.get(number as usize))
        else {
            continue;
        };
        let Some(last) = anchor.checked_sub(*least) else { continue };
        from = from.max(anchor.saturating_sub(*most));
        while from <= last {
            if !matched(items, from, rule, &mut hits) {
                from += 1;
                continue;
            }
            from = retag(items, &hits, rule.tag);
            let waiting = index.by_tag.get(&rule.tag).into_iter().flatten();
            due.late.extend(waiting.filter(|other| **other > number).map(|other| Reverse((*other, hits[0]))));
        }
    }
}

/// Uses up the items of a match and returns where to go on.
fn retag(items: &mut [Item], hits: &[usize], tag: Tag) -> usize {
    let (first, last) = (hits[0], hits[hits.len() - 1]);
    let guessed = hits.iter().any(|hit| items[*hit].guessed);
    items[first].was.get_or_insert(items[first].tag);
    for hit in hits {
        items[*hit].tag = Tag::Used;
    }
    items[first].guessed |= guessed;
    items[first].tag = tag;
    items[first].span.1 = items[last].span.1;
    last + 1
}

/// Whether the rule fits from `at` on; `hits` are the items that its elements fall on.
fn matched(items: &[Item], at: usize, rule: &Rule, hits: &mut Vec<usize>) -> bool {
    hits.clear();
    let mut next = at;
    let mut left = 0;
    for element in &rule.elements {
        let atoms = match element {
            Element::Gap(most) => {
                left = *most;
                continue;
            }
            Element::Choice(atoms) => atoms,
        };
        loop {
            let Some(item) = items.get(next) else { return false };
            if item.tag != Tag::Used && atoms.iter().any(|atom| fits(atom, item)) {
                break;
            }
            if left == 0 || matches!(item.tag, Tag::Period | Tag::Question | Tag::But | Tag::Sub | Tag::Neg | Tag::None)
            {
                return false;
            }
            left -= 1;
            next += 1;
        }
        hits.push(next);
        next += 1;
        left = 0;
    }
    true
}

fn fits(atom: &Atom, item: &Item) -> bool {
    match atom {
        Atom::Tag(tag) => item.tag == *tag,
        Atom::Word(word) => item.word == *word,
    }
}
