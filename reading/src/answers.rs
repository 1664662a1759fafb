//! Questions that a reply asks and answers itself: "strap? snug. cracks? none".

use super::lex::Item;
use super::lexicon::{Tag, Tags};
use super::resolve::{is_predicate, is_trouble, outright};
use super::roles::{Role, Roles};
use crate::flag::Flag;

/// "Strap? snug. screws? tight": what is asked is answered, so that the mark only parts the two.
pub(super) fn answer_questions(items: &mut [Item]) {
    let names = |item: &Item| {
        item.tag.is_part() || matches!(item.tag, Tag::Helmet | Tag::Pad | Tag::Rest | Tag::All | Tag::Number | Tag::Me)
    };
    let opens = |before: &[Item]| before.iter().rev().find(|item| item.tag != Tag::Glue).is_none_or(parts);
    for at in 1..items.len().saturating_sub(1) {
        let asked = items[at].tag == Tag::Question && names(&items[at - 1]) && opens(&items[..at - 1]);
        if asked && is_predicate(items[at + 1].tag) {
            items[at].tag = Tag::Glue;
            items[at].clear_word();
        }
    }
}

/// Without any of these, or a word that opens an answer, nothing is denied.
pub(super) const DENIED: Tags = Tags::of(&[Tag::Neg, Tag::Nah, Tag::None]);
/// The most that is asked about in such a question.
const ASKED: usize = 8;

/// "Headache? nah", "anything loose? nope", "problems - none": trouble that is asked after and denied. The denial goes before it, where
/// one stands that is not asked for.
pub(super) fn deny_what_is_asked(items: &mut [Item]) {
    for no in 2..items.len() {
        if !denies(&items[no]) || !items.get(no + 1).is_none_or(ends_an_answer) {
            continue;
        }
        let mark = no - 1;
        let length = items[..mark].iter().rev().take(ASKED).take_while(|item| is_asked_after(item)).count();
        let from = mark - length;
        let asked = &items[from..mark];
        let opens = from.checked_sub(1).is_none_or(|before| parts(&items[before]));
        let named = |item: &Item| item.tag.is_part() || item.tag == Tag::Helmet;
        // "Strap loose - no": there it takes back what was said.
        let listed = is_listing(&items[mark]) && length <= 3 && !asked.iter().any(named);
        let asks = items[mark].tag == Tag::Question || listed;
        // "Concussed? nah. cant add 8+5 tho".
        let signs = asked.iter().any(|item| outright(item.tag) == Some(Flag::Symptom) || item.tag.is_body());
        let granted = signs && items[no + 1..].iter().any(grants);
        if opens && asks && !granted && asked.iter().any(is_trouble_itself) {
            items[no].tag = Tag::None;
            items[no].roles = Roles::default();
            items[mark].tag = Tag::Glue;
            items[mark].clear_word();
            items[from..mark].iter_mut().filter(|item| item.tag == Tag::Ask).for_each(|item| item.tag = Tag::Glue);
            items[from..=no].rotate_right(1);
        }
    }
}

fn is_trouble_itself(item: &Item) -> bool {
    is_trouble(item.tag) || outright(item.tag).is_some()
}

/// What may take a denial back.
fn grants(item: &Item) -> bool {
    let tells = matches!(
        item.tag,
        Tag::But | Tag::Only | Tag::Soft | Tag::Hedge | Tag::Admit | Tag::Unknown | Tag::Number | Tag::Numeral
    );
    tells || (item.tag == Tag::Neg && !item.roles.has(Role::Opens))
}

/// "No", "nah", "none", "not one".
fn denies(item: &Item) -> bool {
    matches!(item.tag, Tag::Nah | Tag::None) || item.roles.has(Role::Opens)
}

/// Between what is listed and how it is: "off: none", "problems - none".
fn is_listing(item: &Item) -> bool {
    matches!(item.word.as_str(), ":" | "-" | "=")
}

fn is_asked_after(item: &Item) -> bool {
    let quiet = matches!(
        item.tag,
        Tag::Glue | Tag::Used | Tag::It | Tag::All | Tag::Helmet | Tag::Me | Tag::Feel | Tag::Ask | Tag::Or | Tag::Pad
    );
    quiet || item.tag.is_part() || item.tag.is_body() || is_trouble_itself(item)
}

/// What may stand before a question of its own.
fn parts(item: &Item) -> bool {
    matches!(item.tag, Tag::Period | Tag::Comma | Tag::Question | Tag::Fill | Tag::Affirm | Tag::And | Tag::Joiner)
}

/// "Nope, ..." and not "no idea".
fn ends_an_answer(item: &Item) -> bool {
    matches!(item.tag, Tag::Period | Tag::Comma | Tag::But | Tag::So | Tag::Fill | Tag::Affirm | Tag::Good | Tag::And)
}

#[cfg(test)]
mod tests {
    use super::super::{Kind, read};
    use crate::flag::Flag;

    #[test]
    fn what_is_asked_after_and_denied_is_denied() {
        for text in [
            "headache? naw. dizzy? naw. helmet? good",
            "any problems? no",
            "anything wrong? nope. did i look? yep, every spot",
            "off: none",
            "problems - nil",
            "¿chueco? para nada. todo bien",
            "neck pain? no",
        ] {
            assert_eq!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
        }
    }

    #[test]
    fn what_is_granted_after_a_question_is_not_denied() {
        for text in [
            "is it loose? not really",
            "does it slide? no idea",
            "problems? no just one",
            "any cracks? none, any loose screws? one",
            "my head hurts? no but kinda",
            "no? loose",
        ] {
            assert_ne!(read(text).kind, Kind::AllClear, "{text}: {:?}", read(text));
        }
        for (text, flag) in [
            ("strap loose - no", Flag::Strap),
            ("loose? no. cracked? yes", Flag::Shell),
            ("concussed? nah. cant add 8+5 tho", Flag::Symptom),
            ("headache? nope but my strap is loose", Flag::Strap),
        ] {
            assert!(read(text).flags.contains(flag), "{text}: {:?}", read(text));
        }
    }
}
