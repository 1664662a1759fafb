//! The grammar: what is said of what, clause by clause.
//!
//! A clause ends at a sentence mark or where the reply turns ("but", "pero"). Within one, what is said (good, bad,
//! broken, loose, a complaint by name) goes to the parts named before it, or after it when none was. A negation takes
//! back what follows it closely; what is taken back of the helmet says that it is fine.

use super::lexicon::{Concept, Subject};
use super::tokens::Item;
use super::{Findings, is};
use crate::trade::flag::{Flag, Flags};

/// A negation reaches this many items.
const REACH: usize = 4;

/// What is said of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Said {
    Good,
    AllGood,
    Bad,
    /// Raised as a flag already; `true` when it holds for every part named before it.
    Flagged(bool),
}

/// Reads all clauses.
pub fn read(items: &[Item], found: &mut Findings) {
    let fixed = items.iter().any(|item| is(item, Concept::Fixed));
    let verdict = items.iter().any(|item| is(item, Concept::AllGood) || is(item, Concept::Good));
    let mut clauses: Vec<Vec<&Item>> = vec![Vec::new()];
    let mut turns = vec![false];
    for item in items {
        let turn = is(item, Concept::But);
        let hard = is(item, Concept::Break)
            && matches!(item.folded.as_str(), "." | "!" | ";" | "\n" | "period" | "(" | ")" | "…" | "-" | "–" | "—");
        let soft = is(item, Concept::Break) && matches!(item.folded.as_str(), "," | ":" | "comma");
        if turn || hard || soft {
            clauses.push(Vec::new());
            turns.push(turn);
        } else if let Some(clause) = clauses.last_mut() {
            clause.push(item);
        }
    }
    let mut reader = Reader { found, fixed: fixed && verdict, subject: None, except: false };
    for (clause, turn) in clauses.iter().zip(turns) {
        reader.clause(clause, turn);
    }
    if reader.except {
        reader.found.doubt = true;
    }
    let labels = items.iter().filter(|item| matches!(item.concepts.subject(), Some(Subject::Part(_)))).count();
    if labels >= 5 && !verdict && !found.bad && found.flags.len() >= 5 {
        // The labels of the question, and nothing said of them.
        found.flags = Flags::NONE;
        found.doubt = true;
    }
}

struct Reader<'f> {
    found: &'f mut Findings,
    /// Something was put right, and the reply says all is well: troubles of the helmet named with it are past.
    fixed: bool,
    /// The part that "it" means.
    subject: Option<Subject>,
    /// "everything except": what follows is named as off.
    except: bool,
}

impl Reader<'_> {
    fn clause(&mut self, items: &[&Item], turn: bool) {
        if items.is_empty() {
            return;
        }
        let mut only = false;
        let mut group: Vec<(Flag, &Item)> = Vec::new();
        let mut said_any = false;
        let mut leading: Option<Said> = None;
        let mut excepted = self.except;
        for (at, item) in items.iter().enumerate() {
            self.doubts(item);
            if is(item, Concept::Only) {
                only = group.is_empty();
            }
            if is(item, Concept::Except) && !(is(item, Concept::Benign)) {
                excepted = true;
                self.except = true;
                continue;
            }
            if let Some(flags) = named(item) {
                if is(item, Concept::Good) || item.concepts.worries() {
                    // A word that is both a part and something said of it is taken by what is said.
                } else {
                    let negated_alone = !item.points.is_empty()
                        && at > 0
                        && is(items[at - 1], Concept::Negation)
                        && !said_next(items, at);
                    if negated_alone {
                        self.found.good = true;
                        continue;
                    }
                    group.extend(flags.iter().map(|flag| (*flag, *item)));
                    continue;
                }
            }
            if let Some(subject) = item.concepts.subject()
                && !item.concepts.worries()
                && !is(item, Concept::Good)
            {
                self.subject = Some(subject);
                continue;
            }
            let Some(said) = self.said(items, at, excepted) else { continue };
            said_any = true;
            if let Said::Flagged(shared) = said {
                for (flag, item) in group.drain(..).filter(|_| shared) {
                    self.found.flag(flag, item);
                }
                self.except = false;
                only = false;
            } else if group.is_empty() {
                leading = Some(said);
                self.alone(said, item, items);
            } else {
                self.settle(&mut group, said, only, excepted, item);
                only = false;
                excepted = false;
            }
        }
        self.rest(&group, leading, said_any, turn, excepted, items);
    }

    /// Words that leave a reply open.
    fn doubts(&mut self, item: &Item) {
        if is(item, Concept::Hedge) && !is(item, Concept::Benign) && !is(item, Concept::Good) {
            self.found.doubt = true;
            self.found.say(item, "not sure");
        } else if is(item, Concept::Question) && !is(item, Concept::Benign) {
            self.found.doubt |= !self.found.all_good || item.folded == "?";
        } else if item.concepts.is_empty() {
            self.found.unknown = true;
            self.found.say(item, "not understood");
        } else if item.is_number && is(item, Concept::Hedge) {
            self.found.doubt = true;
        }
    }

    /// Whether what stands at `at` is taken back.
    fn negated(&self, items: &[&Item], at: usize) -> bool {
        let from = at.saturating_sub(REACH);
        let mut count = 0;
        for index in (from..at).rev() {
            let item = items[index];
            if is(item, Concept::Negation) {
                // "no, im good": an answer, not a negation.
                let answer = index == 0
                    && matches!(item.folded.as_str(), "no" | "nope")
                    && items.get(1).is_some_and(|next| is(next, Concept::AllGood));
                count += usize::from(!answer);
            } else if is(item, Concept::Good) && !is(item, Concept::Benign)
                || is(item, Concept::Only)
                || is(item, Concept::AllGood)
            {
                break;
            }
        }
        // Dialect: "aint nothing wrong" denies once.
        count > 0
    }

    /// What the item at `at` says, and the flags that it raises by itself.
    fn said(&mut self, items: &[&Item], at: usize, excepted: bool) -> Option<Said> {
        let item = items[at];
        let negated = self.negated(items, at);
        let resolved = items.iter().any(|other| is(other, Concept::Resolved));
        if let Some(flag) = body(item, self.subject_near(items, at)) {
            // A sign that was there and went away is still one to be seen.
            if negated
                && !items.iter().any(|other| {
                    is(other, Concept::Resolved) && !is(other, Concept::Negation) || other.folded == "anymore"
                })
            {
                self.found.say(item, format!("{}: denied", flag.name()));
                return Some(Said::Good);
            }
            self.found.flag(flag, item);
            self.found.red_flag |= is(item, Concept::RedFlag);
            return Some(Said::Flagged(false));
        }
        let helmet = helmet(item, self.subject_near(items, at));
        let hypothetical = items[at.saturating_sub(REACH)..at]
            .iter()
            .any(|other| matches!(other.folded.as_str(), "if" | "if anything" | "si algo" | "if it" | "unless"));
        match helmet {
            Helmet::Nothing => {}
            Helmet::Flag(_) | Helmet::Unnamed if hypothetical => return None,
            Helmet::Elsewhere => return None,
            Helmet::Flag(_) | Helmet::Unnamed if negated || resolved && !is(item, Concept::Good) => {
                self.found.say(item, "denied");
                return Some(Said::Good);
            }
            Helmet::Flag(flag) => {
                if self.fixed && !is_makeshift(item) {
                    self.found.say(item, format!("{}: put right", flag.name()));
                    return Some(Said::Good);
                }
                let shared = [Concept::Broken, Concept::Bad, Concept::Gone, Concept::Loose];
                let shared = shared.iter().any(|concept| is(item, *concept));
                if shared && excepted && !self.found.all_good && !self.found.good {
                    return Some(Said::Bad);
                }
                self.found.flag(flag, item);
                return Some(Said::Flagged(shared));
            }
            Helmet::Unnamed => {
                if self.fixed {
                    return None;
                }
                return Some(Said::Bad);
            }
        }
        if is(item, Concept::AllGood) {
            // "nothing wrong", "sin problemas": a denial already.
            let denial = [
                "no ", "nothing", "nothin", "zero", "0 ", "aint", "nun", "not ", "sin ", "nada", "ni ", "ningun",
                "cero",
            ];
            let denies = denial.iter().any(|word| item.folded.starts_with(word));
            return Some(if negated && !denies { Said::Bad } else { Said::AllGood });
        }
        if is(item, Concept::Good) && !is(item, Concept::Greeting) {
            return Some(if negated { Said::Bad } else { Said::Good });
        }
        // "the mask no": a negation at the end says that what was named is off.
        if is(item, Concept::Negation) && at + 1 == items.len() && at > 0 {
            return Some(Said::Bad);
        }
        None
    }

    fn subject_near(&self, items: &[&Item], at: usize) -> Option<Subject> {
        let subject = |item: &&Item| {
            named(item).and_then(|flags| flags.first().copied()).map(Subject::Part).or_else(|| item.concepts.subject())
        };
        let before = items[..at].iter().rev().filter_map(subject).next();
        let after = items[at + 1..].iter().filter_map(subject).next();
        match (before, after) {
            (Some(Subject::Helmet), Some(part @ Subject::Part(_))) => Some(part),
            (Some(before), _) => Some(before),
            (None, after) => after.or(self.subject),
        }
    }

    /// Something said with no part before it.
    fn alone(&mut self, said: Said, item: &Item, items: &[&Item]) {
        match said {
            Said::AllGood => {
                self.found.all_good = true;
                self.found.say(item, "all good");
            }
            Said::Good => {
                let elsewhere = items.iter().any(|other| is(other, Concept::Other));
                let about_helmet = items.iter().any(|other| is(other, Concept::SubjectHelmet));
                if !elsewhere || about_helmet {
                    self.found.good = true;
                    self.found.say(item, "good");
                }
            }
            Said::Bad | Said::Flagged(_) => {
                self.found.bad = true;
                self.found.say(item, "something is off");
            }
        }
    }

    /// Something said of the parts named before it.
    fn settle(&mut self, group: &mut Vec<(Flag, &Item)>, said: Said, only: bool, excepted: bool, item: &Item) {
        let named: Vec<(Flag, &Item)> = std::mem::take(group);
        let good = said != Said::Bad;
        let inverted = (excepted && !good && !self.found.all_good && !self.found.good) || (only && good);
        if inverted {
            self.complement(&named, item);
        } else if excepted || !good {
            for (flag, item) in named {
                self.found.flag(flag, item);
            }
        } else {
            self.found.good = true;
            self.found.all_good |= said == Said::AllGood;
            self.found.say(item, "good");
        }
        self.except = false;
    }

    /// "only 4 is good": the other five are off.
    fn complement(&mut self, named: &[(Flag, &Item)], item: &Item) {
        for point in 1..=6 {
            let flag = Flag::from_check_point(point).filter(|flag| named.iter().all(|(own, _)| own != flag));
            if let Some(flag) = flag {
                self.found.flag(flag, item);
            }
        }
    }

    /// Parts named at the end of a clause, with nothing said after them.
    fn rest(
        &mut self,
        group: &[(Flag, &Item)],
        leading: Option<Said>,
        said_any: bool,
        turn: bool,
        excepted: bool,
        items: &[&Item],
    ) {
        if group.is_empty() {
            return;
        }
        let all_points = (1..=6)
            .all(|point| Flag::from_check_point(point).is_some_and(|flag| group.iter().any(|(own, _)| *own == flag)));
        let with_numbers = group.iter().any(|(_, item)| !item.points.is_empty());
        self.except = false;
        if items.iter().any(|item| is(item, Concept::Question) || is(item, Concept::Hedge)) {
            self.found.doubt = true;
        } else if excepted {
            for (flag, item) in group {
                self.found.flag(*flag, item);
            }
        } else if leading == Some(Said::Bad) {
            self.found.bad = false;
            for (flag, item) in group {
                self.found.flag(*flag, item);
            }
        } else if matches!(leading, Some(Said::Good | Said::AllGood)) && (all_points || !with_numbers) && !turn {
            // "good grip", "all good 1-6".
        } else if said_any && !with_numbers && !turn {
            // Something is said, and the part only mentioned.
        } else if self.fixed {
            self.found.say(group[0].1, "put right");
        } else if !with_numbers && items.len() > group.len() + 3 {
            // A part within a longer sentence that says nothing of it that is understood.
            self.found.doubt = true;
        } else {
            for (flag, item) in group {
                self.found.flag(*flag, item);
            }
        }
    }
}

/// The flags that an item names without saying anything of them: parts and check points.
fn named(item: &Item) -> Option<Vec<Flag>> {
    if !item.points.is_empty() {
        return Some(item.points.iter().filter_map(|point| Flag::from_check_point(*point)).collect());
    }
    match item.concepts.subject() {
        Some(Subject::Part(flag)) => Some(vec![flag]),
        _ => None,
    }
}

fn said_next(items: &[&Item], at: usize) -> bool {
    items
        .get(at + 1)
        .is_some_and(|item| item.concepts.worries() || is(item, Concept::Good) || is(item, Concept::AllGood))
}

/// Tape and glue hold for a photo, not for a hit.
fn is_makeshift(item: &Item) -> bool {
    ["tape", "taped", "duct tape", "glued", "gum", "zip tied", "con cinta", "con tape", "chicle"]
        .contains(&item.folded.as_str())
}

/// The complaint of the body that an item is.
fn body(item: &Item, subject: Option<Subject>) -> Option<Flag> {
    if is(item, Concept::Symptom) || is(item, Concept::RedFlag) {
        return Some(Flag::Symptom);
    }
    let troubled = [Concept::Hurts, Concept::Bad, Concept::Broken];
    if troubled.iter().any(|concept| is(item, *concept)) && subject == Some(Subject::Head) {
        return Some(Flag::Symptom);
    }
    if is(item, Concept::Illness) {
        return Some(Flag::Illness);
    }
    if is(item, Concept::Injury) {
        return Some(Flag::Injury);
    }
    is(item, Concept::Unwell).then_some(Flag::Unwell)
}

enum Helmet {
    Nothing,
    /// Said of something that is no helmet.
    Elsewhere,
    Flag(Flag),
    /// Something is off, and nothing says what.
    Unnamed,
}

/// The complaint of the helmet that an item is.
fn helmet(item: &Item, subject: Option<Subject>) -> Helmet {
    let direct = [
        (Concept::WrongHelmet, Flag::WrongHelmet),
        (Concept::Missing, Flag::Missing),
        (Concept::Air, Flag::Air),
        (Concept::Crown, Flag::Crown),
        (Concept::Cheeks, Flag::Cheeks),
        (Concept::Hardware, Flag::Hardware),
        (Concept::Pain, Flag::Pain),
    ];
    if let Some((_, flag)) = direct.iter().find(|(concept, _)| is(item, *concept)) {
        return if subject == Some(Subject::Other) && *flag != Flag::WrongHelmet && *flag != Flag::Missing {
            Helmet::Elsewhere
        } else {
            Helmet::Flag(*flag)
        };
    }
    let part = match subject {
        Some(Subject::Part(flag)) => Some(flag),
        Some(Subject::Pads) => Some(Flag::Cheeks),
        _ => None,
    };
    let troubles = [
        Concept::Broken,
        Concept::Bad,
        Concept::Gone,
        Concept::Loose,
        Concept::Tight,
        Concept::Shell,
        Concept::Brow,
        Concept::Grip,
        Concept::Hurts,
        Concept::DoesNotFit,
        Concept::Strap,
    ];
    if !troubles.iter().any(|concept| is(item, *concept)) {
        return Helmet::Nothing;
    }
    if subject == Some(Subject::Other) {
        return Helmet::Elsewhere;
    }
    let own_part = part.filter(|flag| *flag != Flag::Unwell);
    if is(item, Concept::Shell) {
        return Helmet::Flag(match own_part {
            Some(Flag::Hardware) => Flag::Hardware,
            Some(Flag::Strap) => Flag::Strap,
            _ => Flag::Shell,
        });
    }
    if is(item, Concept::Strap) && own_part.is_none() {
        return Helmet::Flag(Flag::Strap);
    }
    if is(item, Concept::Hurts) {
        return Helmet::Flag(Flag::Pain);
    }
    if is(item, Concept::Loose) {
        return Helmet::Flag(own_part.unwrap_or(Flag::Loose));
    }
    if is(item, Concept::Tight) {
        return match own_part {
            Some(Flag::Strap | Flag::Hardware | Flag::Cheeks) => Helmet::Nothing,
            _ => Helmet::Flag(Flag::Tight),
        };
    }
    if is(item, Concept::Grip) {
        return Helmet::Flag(match own_part {
            Some(flag @ (Flag::Strap | Flag::Hardware | Flag::Cheeks)) => flag,
            _ => Flag::Grip,
        });
    }
    if is(item, Concept::Brow) {
        return Helmet::Flag(Flag::Brow);
    }
    if is(item, Concept::DoesNotFit) {
        return own_part.map_or(Helmet::Unnamed, Helmet::Flag);
    }
    if is(item, Concept::Gone) {
        return match (own_part, subject) {
            (Some(flag), _) => Helmet::Flag(flag),
            (None, Some(Subject::Helmet)) => Helmet::Flag(Flag::Missing),
            _ => Helmet::Unnamed,
        };
    }
    own_part.map_or(Helmet::Unnamed, Helmet::Flag)
}
