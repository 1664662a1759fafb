//! Retags what the rules recognise.
//!
//! Rules are tried in their order, each from the left. Most rules name a word that most replies do not have, so each is
//! filed under its rarest element, its anchor, and tried only around items that the anchor fits.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashMap;

use super::lex::Item;
use super::lexicon::{Atom, Element, Lexicon, Rule, Tag};

/// The rules, compiled, and where to look for which.
#[derive(Debug, Default)]
pub(super) struct Index {
    rules: Vec<Compiled>,
    /// By the number of a word.
    by_word: Vec<Vec<u32>>,
    /// By tag.
    by_tag: Vec<Vec<u32>>,
}

/// A rule in numbers.
#[derive(Debug)]
struct Compiled {
    tag: Tag,
    steps: Vec<Step>,
    /// How many items may lie between the start and the anchor: least and most.
    reach: (usize, usize),
}

/// One item of a rule.
#[derive(Debug)]
struct Step {
    /// The most items skipped before it.
    gap: usize,
    tags: Tags,
    words: Vec<u32>,
}

/// A set of tags.
#[derive(Debug, Default, Clone, Copy)]
struct Tags([u64; 4]);

impl Tags {
    const fn add(&mut self, tag: Tag) {
        self.0[tag as usize / 64] |= 1 << (tag as usize % 64);
    }

    const fn has(self, tag: Tag) -> bool {
        self.0[tag as usize / 64] >> (tag as usize % 64) & 1 == 1
    }
}

impl Step {
    fn fits(&self, item: &Item) -> bool {
        self.tags.has(item.tag) || self.words.contains(&item.number)
    }
}

impl Index {
    /// Compiles the rules, which are in the order that they are to be tried in. `number` is the number of a word.
    pub(super) fn of(rules: &[Rule], number: impl Fn(&str) -> u32) -> Self {
        let mut named: FxHashMap<&str, usize> = FxHashMap::default();
        for atom in rules.iter().flat_map(|rule| &rule.elements).flat_map(atoms) {
            if let Atom::Word(word) = atom {
                *named.entry(word).or_default() += 1;
            }
        }
        let mut index = Self::default();
        for rule in rules {
            index.file(rule, &named, &number);
        }
        index
    }

    fn file(&mut self, rule: &Rule, named: &FxHashMap<&str, usize>, number: impl Fn(&str) -> u32) {
        let at = u32::try_from(self.rules.len()).unwrap_or(u32::MAX);
        let commonness = |element: &Element| atoms(element).iter().map(|atom| commonness(atom, named)).sum::<usize>();
        let solid = rule.elements.iter().filter(|element| !atoms(element).is_empty());
        let place = solid.enumerate().min_by_key(|(_, element)| commonness(element)).map_or(0, |(place, _)| place);
        let steps = steps(rule, number);
        let Some(anchor) = steps.get(place) else { return };
        for word in &anchor.words {
            file_under(&mut self.by_word, *word as usize, at);
        }
        for tag in (0..256).filter(|tag| anchor.tags.0[tag / 64] >> (tag % 64) & 1 == 1) {
            file_under(&mut self.by_tag, tag, at);
        }
        let skipped: usize = steps[..=place].iter().map(|step| step.gap).sum();
        self.rules.push(Compiled { tag: rule.tag, steps, reach: (place, place + skipped) });
    }

    /// The rules whose anchor the item fits.
    fn anchored(&self, item: &Item) -> impl Iterator<Item = u32> {
        let by_word = self.by_word.get(item.number as usize);
        by_word.into_iter().flatten().chain(self.waiting(item.tag)).copied()
    }

    fn waiting(&self, tag: Tag) -> &[u32] {
        self.by_tag.get(tag as usize).map_or(&[], Vec::as_slice)
    }
}

fn file_under(shelves: &mut Vec<Vec<u32>>, at: usize, rule: u32) {
    if shelves.len() <= at {
        shelves.resize_with(at + 1, Vec::new);
    }
    if shelves[at].last() != Some(&rule) {
        shelves[at].push(rule);
    }
}

fn steps(rule: &Rule, number: impl Fn(&str) -> u32) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut gap = 0;
    for element in &rule.elements {
        let atoms = match element {
            Element::Gap(most) => {
                gap = *most;
                continue;
            }
            Element::Choice(atoms) => atoms,
        };
        let mut step = Step { gap, tags: Tags::default(), words: Vec::new() };
        for atom in atoms {
            match atom {
                Atom::Word(word) => step.words.push(number(word)),
                Atom::Tag(tag) => step.tags.add(*tag),
            }
        }
        steps.push(step);
        gap = 0;
    }
    steps
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
        let Some(rule) = index.rules.get(number as usize) else { continue };
        let (least, most) = rule.reach;
        let Some(last) = anchor.checked_sub(least) else { continue };
        from = from.max(anchor.saturating_sub(most));
        while from <= last {
            if !matched(items, from, rule, &mut hits) {
                from += 1;
                continue;
            }
            from = retag(items, &hits, rule.tag);
            let waiting = index.waiting(rule.tag).iter().filter(|other| **other > number);
            due.late.extend(waiting.map(|other| Reverse((*other, hits[0]))));
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

/// Whether the rule fits from `at` on; `hits` are the items that its steps fall on.
fn matched(items: &[Item], at: usize, rule: &Compiled, hits: &mut Vec<usize>) -> bool {
    hits.clear();
    let mut next = at;
    for step in &rule.steps {
        let mut left = step.gap;
        loop {
            let Some(item) = items.get(next) else { return false };
            if item.tag != Tag::Used && step.fits(item) {
                break;
            }
            if left == 0
                || matches!(
                    item.tag,
                    Tag::Period | Tag::Question | Tag::Comma | Tag::But | Tag::Sub | Tag::Neg | Tag::None
                )
            {
                return false;
            }
            left -= 1;
            next += 1;
        }
        hits.push(next);
        next += 1;
    }
    true
}
