//! What staff say of kits: counts, use, orders, what came in.

use chrono::NaiveDate;

use super::Cupboard;
use crate::desk::inbound::by_staff;
use crate::desk::inbound::who::fold;
use crate::desk::scene::Scene;
use crate::trade::kit::{Goes, Move, Stock, StockMove, key, meant};
use crate::trade::model::find;
use crate::trade::roster::{AthleteId, Role, StaffMember};
use crate::trade::time::Moment;

/// Something said of one item of a kit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said {
    /// There are so many.
    Count(i64),
    /// So many more, or fewer: used up, or put in.
    Change(i64),
    /// The first of them expires on a day.
    Expires(NaiveDate),
    /// So many are ordered.
    Ordered(i64),
    /// So many came in.
    Received(i64),
}

/// Whether somebody may count and order: who looks after helmets, and who keeps the kit.
#[must_use]
pub fn may(cupboard: &Cupboard, member: &StaffMember, kit: Option<&str>) -> bool {
    let keeps = |kit: &str| cupboard.kept_by(member).iter().any(|own| own.id == kit);
    [Role::Trainer, Role::Equipment].into_iter().any(|role| member.has(role)) || kit.is_some_and(keeps)
}

/// Notes what is said of a kit's items, each by its exact name; `whole` when the kit was counted as a whole. `key` is the
/// natural key of the happening.
pub fn note(scene: &mut Scene<'_>, who: &str, kit: &str, said: &[(String, Said)], whole: bool, key: &str) {
    let (now, program) = (scene.now, scene.program.id.clone());
    let Some(cupboard) = &mut scene.kits else { return };
    // The first count of a kit says what it began with, not what was used or lost.
    let first = cupboard.kits.get(&kit.to_owned()).is_some_and(|kit| kit.counted_at.is_none());
    let mut words = Vec::new();
    for (nth, (item, said)) in said.iter().enumerate() {
        let place = (kit.to_owned(), item.clone());
        let Some(mut row) = cupboard.stock.get(&place).cloned() else { continue };
        let (mut kind, change) = apply(&mut row, *said, now);
        if first && kind == Move::Counted {
            kind = Move::Received;
        } else if kind == Move::Received && matches!(said, Said::Change(_)) && in_the_room(cupboard, kit, item) {
            // What a kit is filled up with from the room is found missing there: over both nothing was used.
            kind = Move::Counted;
        }
        words.push(format!("{item} {}", row.count));
        cupboard.stock.put(place, row);
        if change != 0 {
            let moved = StockMove {
                program: program.clone(),
                id: format!("{key}/{kit}/{nth}"),
                kit: kit.to_owned(),
                item: item.clone(),
                kind,
                change,
                at: now,
                who: who.to_owned(),
            };
            cupboard.new_moves.push(moved);
        }
    }
    if whole {
        cupboard.kits.change(&kit.to_owned(), |kit| kit.counted_at = Some(now));
    }
    let what = if whole { "kit counted" } else { "kit changed" };
    scene.note(who, what, kit, &words.join(", "), Some(key));
}

/// Whether the room has stock of an item for another kit.
fn in_the_room(cupboard: &Cupboard, kit: &str, item: &str) -> bool {
    let room = cupboard.kits.values().find(|kit| kit.goes.contains(&Goes::Room));
    room.is_some_and(|room| {
        room.id != kit && cupboard.of(&room.id).any(|row| super::key(&row.item) == super::key(item))
    })
}

fn apply(row: &mut Stock, said: Said, now: Moment) -> (Move, i64) {
    match said {
        Said::Count(count) => (Move::Counted, row.change(count - row.count)),
        Said::Change(by) => (if by < 0 { Move::Used } else { Move::Received }, row.change(by)),
        Said::Expires(day) => {
            row.expires = Some(day);
            (Move::Counted, 0)
        }
        Said::Ordered(pieces) => {
            row.on_order = row.on_order.saturating_add(pieces);
            row.ordered_at = (row.on_order > 0).then_some(now);
            (Move::Received, 0)
        }
        Said::Received(pieces) => {
            row.on_order = row.on_order.saturating_sub(pieces).max(0);
            if row.on_order == 0 {
                row.ordered_at = None;
            }
            (Move::Received, row.change(pieces))
        }
    }
}

/// What a fix took from the room's stock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// Nothing that the room has.
    None,
    /// One of this.
    Taken(String),
    /// One of these, and nobody said which.
    OneOf(Vec<String>),
}

/// A fix that was closed with a part: one is taken from the room's stock when its words name one thing there, alone or
/// among the spares of the helmet's model.
pub fn part_used(scene: &mut Scene<'_>, member: &StaffMember, athlete: &AthleteId, done: &str, key_of: &str) -> Part {
    let model = scene.helmets.get(athlete).map(|helmet| helmet.model.clone());
    let Some(cupboard) = scene.kits.as_ref() else { return Part::None };
    let Some(room) = cupboard.kits.values().find(|kit| kit.goes.contains(&Goes::Room)).map(|kit| kit.id.clone()) else {
        return Part::None;
    };
    let said = done.split_whitespace().filter(|word| !is_filler(word)).collect::<Vec<_>>().join(" ");
    let held: Vec<&str> = cupboard.of(&room).filter(|row| row.count > 0).map(|row| row.item.as_str()).collect();
    let mut fits = meant(&said, held.into_iter());
    if fits.len() > 1
        && let Some(model) = model.and_then(|name| find(&cupboard.models, &name))
    {
        fits.retain(|item| model.spares.iter().any(|spare| key(spare) == key(item)));
    }
    let item = match fits.as_slice() {
        [] => return Part::None,
        [only] => (*only).to_owned(),
        several => return Part::OneOf(several.iter().map(|item| (*item).to_owned()).collect()),
    };
    note(scene, &by_staff(member), &room, &[(item.clone(), Said::Change(-1))], false, key_of);
    Part::Taken(item)
}

/// Words of a fix that name no part: "new strap", "replaced the left jaw pad".
fn is_filler(word: &str) -> bool {
    const FILLERS: &[&str] = &[
        "new", "a", "an", "the", "his", "her", "replaced", "swapped", "changed", "put", "on", "in", "left", "right",
        "one", "nuevo", "nueva", "la", "el", "cambie", "cambiado", "puse", "un", "una",
    ];
    FILLERS.contains(&fold(word).trim_matches([',', '.', '!']))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::trade::restock::{Policy, order};
    use crate::trade::roster::ProgramId;

    fn said() -> impl Strategy<Value = Said> {
        let pieces = prop_oneof![0..40_i64, Just(i64::MAX), Just(1_000_000)];
        prop_oneof![
            pieces.clone().prop_map(Said::Count),
            (-40..40_i64).prop_map(Said::Change),
            Just(i64::MIN).prop_map(Said::Change),
            (0..40_i64).prop_map(Said::Ordered),
            pieces.prop_map(Said::Received),
            Just(Said::Expires(NaiveDate::from_ymd_opt(2027, 1, 31).unwrap())),
        ]
    }

    proptest! {
        #[test]
        fn a_count_is_never_below_nothing_and_its_moves_explain_it(
            first in 0..40_i64,
            all in proptest::collection::vec(said(), 0..30),
        ) {
            let program = ProgramId::from("p");
            let (kit, item) = ("1".to_owned(), "needle: long".to_owned());
            let mut row = Stock { program, kit, item, par: 4, count: first, on_order: 0, ordered_at: None, expires: None, lead_days: None };
            let mut moved: i128 = 0;
            for said in all {
                let before = row.count;
                let (kind, change) = apply(&mut row, said, Moment::from_millis(0));
                moved += i128::from(change);
                prop_assert!(row.count >= 0 && row.on_order >= 0);
                prop_assert_eq!(i128::from(first) + moved, i128::from(row.count));
                prop_assert_eq!(row.ordered_at.is_some(), row.on_order > 0);
                prop_assert!(kind != Move::Used || row.count <= before);
                prop_assert!(!matches!(said, Said::Count(count) if row.count != count));
            }
        }

        /// What is asked for is ordered once: with it on order nothing more is asked, and when it has come neither.
        #[test]
        fn an_order_ends_the_asking(count in 0..60_i64, at in 0..40_i64, more in 0..40_i64) {
            let policy = Policy { at, up_to: at + more, learned: true };
            let asked = order(count, 0, policy);
            prop_assert!(asked >= 0 && (asked == 0 || (count <= at && count + asked == policy.up_to)));
            if asked > 0 {
                prop_assert_eq!(order(count, asked, policy), 0);
                prop_assert!(more == 0 || order(count + asked, 0, policy) == 0);
            }
        }
    }
}
