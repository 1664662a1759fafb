//! Retags what the rules recognise.
//!
//! Rules are tried in their order, each from the left. Most rules name a word that most replies do not have, so each is
//! filed under its rarest element, its anchor, and tried only around items that the anchor fits, and only where words for
//! its other elements are near.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::ops::Range;

use rustc_hash::FxHashMap;

use super::lex::Item;
use super::lexicon::{Atom, Element, Lexicon, Rule, Tag, Tags};
use super::resolve::{is_trouble, outright};

/// The rules, compiled, and where to look for which.
#[derive(Debug, Default)]
pub(super) struct Index {
    rules: Vec<Compiled>,
    /// Those of all rules.
    steps: Vec<Step>,
    /// Those of all steps.
    words: Vec<u32>,
    /// By the number of a word.
    by_word: Shelves,
    /// By tag.
    by_tag: Shelves,
}

/// A rule in numbers.
#[derive(Debug)]
struct Compiled {
    tag: Tag,
    steps: Range<usize>,
    /// Whether its gaps skip whatever lies there: what makes trouble may, what does not must not swallow any.
    skips_all: bool,
    /// How many items may lie between the start and the anchor: least and most.
    reach: (usize, usize),
}

/// One item of a rule.
#[derive(Debug)]
struct Step {
    /// The most items skipped before it.
    gap: usize,
    tags: Tags,
    words: Range<usize>,
    /// What its words leave in a trace.
    trace: Trace,
}

/// A trace of tags and words: tells of some that they are not among them.
#[derive(Debug, Default, Clone, Copy)]
struct Trace {
    tags: u128,
    words: u128,
}

impl Trace {
    const ANYTHING: Self = Self { tags: u128::MAX, words: u128::MAX };

    const fn of_word(number: u32) -> Self {
        Self { tags: 0, words: 1 << (number % 128) }
    }

    const fn of_tags(tags: Tags) -> Self {
        Self { tags: tags.bits(), words: 0 }
    }

    const fn and(self, other: Self) -> Self {
        Self { tags: self.tags | other.tags, words: self.words | other.words }
    }

    const fn meets(self, other: Self) -> bool {
        (self.tags & other.tags) | (self.words & other.words) != 0
    }

    const fn count(self) -> u32 {
        self.tags.count_ones() + self.words.count_ones()
    }

    fn of_item(item: &Item) -> Self {
        Self { tags: 1 << item.tag as usize, ..Self::of_word(item.number) }
    }

    /// What is there.
    fn of(items: &[Item]) -> Self {
        items.iter().fold(Self::default(), |all, item| all.and(Self::of_item(item)))
    }
}

/// Rules by what fits their anchors.
#[derive(Debug, Default)]
struct Shelves {
    shelves: Vec<Shelf>,
    /// The rules of all shelves, one after the other.
    filed: Vec<Filed>,
}

/// The rules that fit one word or tag.
#[derive(Debug)]
struct Shelf {
    filed: Range<u32>,
    /// What has to be near for any of them; nothing is enough for an empty shelf.
    needs: Trace,
}

static EMPTY: Shelf = Shelf { filed: 0..0, needs: Trace { tags: 0, words: 0 } };

/// A rule on a shelf.
#[derive(Debug, Clone, Copy)]
struct Filed {
    rule: u32,
    /// How many items there must be at least before and after the anchor.
    room: (u8, u8),
    /// What has to be around the anchor, and where: something of each.
    sides: [Side; 2],
    needs: [Trace; 2],
}

/// Where something has to be. What stands right beside the anchor tells most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Side {
    Before,
    After,
    Near,
}

impl Filed {
    /// Whether the rule may fit where there is so much.
    fn may_fit(&self, around: &Around) -> bool {
        let is_there = |need: usize| self.needs[need].meets(around.traces[self.sides[need] as usize]);
        let has_room = around.before >= usize::from(self.room.0) && around.after >= usize::from(self.room.1);
        has_room & is_there(0) & is_there(1)
    }
}

/// What is around an item: how many others before and after it, and what they leave in a trace on each side.
struct Around {
    before: usize,
    after: usize,
    traces: [Trace; 3],
}

impl Around {
    fn of(at: usize, items: &[Item], near: Trace) -> Self {
        let trace = |at: usize| items.get(at).map_or(Trace::default(), Trace::of_item);
        let mut traces = [near; 3];
        traces[Side::Before as usize] = trace(at.wrapping_sub(1));
        traces[Side::After as usize] = trace(at + 1);
        Self { before: at, after: items.len() - at - 1, traces }
    }
}

impl Shelves {
    /// The shelves of rules that are in order.
    fn of(mut filed: Vec<(usize, Filed)>) -> Self {
        filed.sort_by_key(|(shelf, rule)| (*shelf, rule.rule));
        filed.dedup_by_key(|(shelf, rule)| (*shelf, rule.rule));
        let last = filed.last().map_or(0, |(shelf, _)| shelf + 1);
        let start = |shelf: usize| filed.partition_point(|(its, _)| *its < shelf);
        let shelves = (0..last).map(|shelf| Shelf::of(&filed, start(shelf)..start(shelf + 1))).collect();
        Self { shelves, filed: filed.into_iter().map(|(_, rule)| rule).collect() }
    }

    fn shelf(&self, at: usize) -> &Shelf {
        self.shelves.get(at).unwrap_or(&EMPTY)
    }

    fn on(&self, shelf: &Shelf) -> &[Filed] {
        &self.filed[shelf.filed.start as usize..shelf.filed.end as usize]
    }
}

impl Shelf {
    fn of(filed: &[(usize, Filed)], range: Range<usize>) -> Self {
        let needs = filed[range.clone()].iter().fold(Trace::default(), |all, (_, rule)| all.and(rule.needs[0]));
        Self { filed: count(range.start)..count(range.end), needs }
    }
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

/// How far from an anchor traces are looked for. A rule that reaches farther is tried wherever its anchor fits.
const NEAR: usize = 32;

impl Index {
    /// Compiles the rules, which are in the order that they are to be tried in. `written` are the words of all phrases,
    /// each as often as it is in one; `number` is the number of a word.
    pub(super) fn of<'a>(
        rules: &'a [Rule],
        written: impl Iterator<Item = &'a str>,
        number: impl Fn(&str) -> u32,
    ) -> Self {
        let mut named: FxHashMap<&str, usize> = FxHashMap::default();
        let in_rules = rules.iter().flat_map(|rule| &rule.elements).flat_map(atoms).filter_map(|atom| match atom {
            Atom::Word(word) => Some(word.as_str()),
            Atom::Tag(_) => None,
        });
        for word in in_rules.chain(written) {
            *named.entry(word).or_default() += 1;
        }
        let mut index = Self::default();
        let (mut by_word, mut by_tag) = (Vec::new(), Vec::new());
        for (rule, at) in rules.iter().zip(0..) {
            let place = anchor(rule, &named);
            index.compile(rule, place, &number);
            let filed = index.filed(at, place);
            for atom in solid(rule).nth(place).into_iter().flatten() {
                match atom {
                    Atom::Word(word) => by_word.push((number(word) as usize, filed)),
                    Atom::Tag(tag) => by_tag.push((*tag as usize, filed)),
                }
            }
        }
        (index.by_word, index.by_tag) = (Shelves::of(by_word), Shelves::of(by_tag));
        index
    }

    fn compile(&mut self, rule: &Rule, place: usize, number: impl Fn(&str) -> u32) {
        let from = self.steps.len();
        let mut gap = 0;
        for element in &rule.elements {
            match element {
                Element::Gap(most) => gap = *most,
                Element::Choice(atoms) => self.add_step(std::mem::take(&mut gap), atoms, &number),
            }
        }
        let steps = from..self.steps.len();
        let skipped: usize = self.steps[from..=from + place].iter().map(|step| step.gap).sum();
        let skips_all = is_trouble(rule.tag) || outright(rule.tag).is_some();
        self.rules.push(Compiled { tag: rule.tag, steps, skips_all, reach: (place, place + skipped) });
    }

    fn add_step(&mut self, gap: usize, atoms: &[Atom], number: impl Fn(&str) -> u32) {
        let from = self.words.len();
        let mut step = Step { gap, tags: Tags::default(), words: from..from, trace: Trace::default() };
        for atom in atoms {
            match atom {
                Atom::Word(word) => self.words.push(number(word)),
                Atom::Tag(tag) => step.tags.add(*tag),
            }
        }
        step.words.end = self.words.len();
        step.trace = self.words[from..].iter().fold(step.trace, |all, word| all.and(Trace::of_word(*word)));
        self.steps.push(step);
    }

    /// What is filed of a rule.
    fn filed(&self, at: u32, place: usize) -> Filed {
        let steps = &self.steps[self.rules[at as usize].steps.clone()];
        let reach = steps.len() + steps.iter().map(|step| step.gap).sum::<usize>();
        let trace = |step: &Step| step.trace.and(Trace::of_tags(step.tags));
        let side = |other: usize| match other {
            _ if other + 1 == place && steps[place].gap == 0 => Side::Before,
            _ if other == place + 1 && steps[other].gap == 0 => Side::After,
            _ => Side::Near,
        };
        let others = steps.iter().enumerate().filter(|(other, _)| *other != place);
        let mut needs: Vec<(Side, Trace)> = others
            .map(|(other, step)| (side(other), trace(step)))
            .filter(|(side, _)| *side != Side::Near || reach <= NEAR)
            .collect();
        needs.sort_by_key(|(side, trace)| (*side == Side::Near, trace.count()));
        needs.resize(2, (Side::Near, Trace::ANYTHING));
        let room = (place as u8, (steps.len() - 1 - place) as u8);
        Filed { rule: at, room, sides: [needs[0].0, needs[1].0], needs: [needs[0].1, needs[1].1] }
    }

    /// The rules whose anchor the item fits, by its word and by its tag.
    fn shelves(&self, item: &Item) -> (&Shelf, &Shelf) {
        (self.by_word.shelf(item.number as usize), self.by_tag.shelf(item.tag as usize))
    }

    /// The rules that may fit with these items as anchors, where `near` is what is near them.
    fn tries(&self, items: &[Item], anchors: Range<usize>, near: Trace, mut due: impl FnMut(Try)) {
        for at in anchors {
            let (by_word, by_tag) = self.shelves(&items[at]);
            // One look for both: most items have nothing due.
            if !by_word.needs.and(by_tag.needs).meets(near) {
                continue;
            }
            let filed = self.by_word.on(by_word).iter().chain(self.by_tag.on(by_tag));
            let around = Around::of(at, items, near);
            filed.filter(|rule| rule.may_fit(&around)).for_each(|filed| due(Try::of(filed.rule, at)));
        }
    }

    /// Whether any item that the rule fits may have the tag.
    fn names(&self, rule: u32, tag: Tag) -> bool {
        self.rules
            .get(rule as usize)
            .is_some_and(|rule| self.steps[rule.steps.clone()].iter().any(|step| step.tags.has(tag)))
    }

    fn fits(&self, step: &Step, item: &Item) -> bool {
        let word = || self.words[step.words.clone()].contains(&item.number);
        step.tags.has(item.tag) || (step.trace.meets(Trace::of_word(item.number)) && word())
    }
}

/// The elements that stand for an item.
fn solid(rule: &Rule) -> impl Iterator<Item = &[Atom]> {
    rule.elements.iter().map(atoms).filter(|atoms| !atoms.is_empty())
}

/// The place of the element that the fewest items are likely to fit.
fn anchor(rule: &Rule, named: &FxHashMap<&str, usize>) -> usize {
    let commonness = |atoms: &[Atom]| atoms.iter().map(|atom| commonness(atom, named)).sum::<usize>();
    solid(rule).enumerate().min_by_key(|(_, atoms)| commonness(atoms)).map_or(0, |(place, _)| place)
}

fn atoms(element: &Element) -> &[Atom] {
    match element {
        Element::Choice(atoms) => atoms,
        Element::Gap(_) => &[],
    }
}

/// How often items are likely to fit: a word that many rules and phrases have is a common one, a tag has many words.
fn commonness(atom: &Atom, named: &FxHashMap<&str, usize>) -> usize {
    match atom {
        Atom::Word(word) => named.get(word.as_str()).copied().unwrap_or(0),
        Atom::Tag(Tag::Glue | Tag::Fill | Tag::It | Tag::Me | Tag::Good | Tag::Story | Tag::Comma | Tag::Period) => {
            1_000
        }
        Atom::Tag(_) => 200,
    }
}

/// A rule and a place that fits its anchor; in one number, which sorts faster: by rule, then by place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Try(u64);

impl Try {
    const fn of(rule: u32, at: usize) -> Self {
        Self((rule as u64) << 32 | at as u64)
    }

    const fn rule(self) -> u32 {
        (self.0 >> 32) as u32
    }

    const fn at(self) -> usize {
        self.0 as u32 as usize
    }
}

/// What is still to be tried, smallest first.
struct Due {
    /// Known from the start, sorted.
    early: Vec<Try>,
    next: usize,
    /// Come up since, by rules that made a tag which others name.
    late: BinaryHeap<Reverse<Try>>,
}

impl Due {
    fn new(items: &[Item], index: &Index) -> Self {
        let mut early: Vec<Try> = Vec::new();
        let mut traces = items.chunks(NEAR).map(Trace::of);
        let (mut before, mut here) = (Trace::default(), traces.next().unwrap_or_default());
        for from in (0..items.len()).step_by(NEAR) {
            let after = traces.next().unwrap_or_default();
            let anchors = from..items.len().min(from + NEAR);
            index.tries(items, anchors, before.and(here).and(after), |due| early.push(due));
            (before, here) = (here, after);
        }
        early.sort_unstable();
        Self { early, next: 0, late: BinaryHeap::new() }
    }

    /// Adds later rules that name the tag which a rule has made there.
    fn add_made(&mut self, made: usize, rule: u32, items: &[Item], index: &Index) {
        let around = |far: usize| made.saturating_sub(far)..items.len().min(made + far + 1);
        let near = Trace::of(&items[around(2 * NEAR)]);
        index.tries(items, around(NEAR), near, |due| {
            if due.rule() > rule && index.names(due.rule(), items[made].tag) {
                self.late.push(Reverse(due));
            }
        });
    }

    fn pop(&mut self) -> Option<Try> {
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
    while let Some(next) = due.pop() {
        let (number, anchor) = (next.rule(), next.at());
        if number != current {
            (current, from) = (number, 0);
        }
        let Some(rule) = index.rules.get(number as usize) else { continue };
        let (least, most) = rule.reach;
        let Some(last) = anchor.checked_sub(least) else { continue };
        from = from.max(anchor.saturating_sub(most));
        while from <= last {
            if !index.matches(items, from, rule, |_| {}) {
                from += 1;
                continue;
            }
            hits.clear();
            index.matches(items, from, rule, |hit| hits.push(hit));
            from = retag(items, &hits, rule.tag);
            due.add_made(hits[0], number, items, index);
        }
    }
}

/// Uses up the items of a match and returns where to go on.
fn retag(items: &mut [Item], hits: &[usize], tag: Tag) -> usize {
    let (first, last) = (hits[0], hits[hits.len() - 1]);
    let guessed = hits.iter().any(|hit| items[*hit].guessed);
    items[first].was.get_or_insert(items[first].tag);
    for hit in hits {
        let tag = std::mem::replace(&mut items[*hit].tag, Tag::Used);
        items[*hit].used.get_or_insert(tag);
    }
    items[first].guessed |= guessed;
    items[first].tag = tag;
    items[first].reach_to(items[last].span);
    last + 1
}

impl Index {
    /// Whether the rule fits from `at` on; `hit` takes the items that its steps fall on.
    fn matches(&self, items: &[Item], at: usize, rule: &Compiled, mut hit: impl FnMut(usize)) -> bool {
        let mut next = at;
        for step in &self.steps[rule.steps.clone()] {
            let mut left = step.gap;
            loop {
                let Some(item) = items.get(next) else { return false };
                // What a rule took for trouble, another that makes none does not take for something else by its word.
                let told = !rule.skips_all && item.was.is_some() && tells(item.tag) && !step.tags.has(item.tag);
                if item.tag != Tag::Used && !told && self.fits(step, item) {
                    break;
                }
                if left == 0 || parts(item.tag) || (!rule.skips_all && tells(item.tag)) {
                    return false;
                }
                left -= 1;
                next += 1;
            }
            hit(next);
            next += 1;
        }
        true
    }
}

/// What no gap skips.
const fn parts(tag: Tag) -> bool {
    matches!(tag, Tag::Period | Tag::Question | Tag::Comma | Tag::But | Tag::Sub | Tag::Neg | Tag::None)
}

/// What may be trouble: it must not be lost.
const fn tells(tag: Tag) -> bool {
    is_trouble(tag) || outright(tag).is_some() || matches!(tag, Tag::Unknown | Tag::Hit | Tag::Vomit)
}
