//! Kits by text: "kit 2 glycerine 1 straps 4", "kit 2 ok", "kit 2 straps +2", "kit game used 1 needle", "kit 2",
//! "ordered 20 high straps", "received 20 high straps".
//!
//! All or nothing: when one thing of a text is not sure it is asked about and nothing is noted.

use chrono::{Datelike as _, NaiveDate};

use super::answer;
use crate::desk::inbound::by_staff;
use crate::desk::inbound::who::fold;
use crate::desk::kits::Cupboard;
use crate::desk::kits::record::{self, Said};
use crate::desk::kits::remind::{MOST, capital, kit_name, lacking_next};
use crate::desk::kits::say::{self, item_words};
use crate::desk::scene::Scene;
use crate::store::rows::{Asked, InMessage};
use crate::trade::kit::{Goes, Kit, meant, words};
use crate::trade::roster::{Language, StaffMember};
use crate::wording::Message;
use crate::wording::words::options;

/// Words that a text about kits begins with.
pub const WORDS: &[&str] = &[
    "kit",
    "kits",
    "botiquin",
    "botiquín",
    "maletin",
    "maletín",
    "ordered",
    "pedido",
    "pedi",
    "pedí",
    "received",
    "recibido",
    "recibi",
    "recibí",
];

/// What was ordered, or came in; else it is about a kit.
fn is_order(word: &str) -> Option<bool> {
    match word {
        "ordered" | "pedido" | "pedi" => Some(false),
        "received" | "recibido" | "recibi" => Some(true),
        _ => None,
    }
}

/// Acts on a text that begins with one of [`WORDS`]; false when the program has no kits, or the text is none of theirs.
pub fn obey(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    let said: Vec<String> = tokens(text);
    let Some(cupboard) = &scene.kits else { return false };
    let Some((first, rest)) = said.split_first() else { return false };
    let order = is_order(first);
    // "received" alone answers something else.
    if order.is_some() && !rest.iter().any(|word| number(word).is_some()) {
        return false;
    }
    let read = match order {
        Some(came) => read_order(rest, cupboard, member, came),
        None => read(rest, cupboard, member),
    };
    let kit_said = match &read {
        Ok(told) => Some(told.kit.as_str()),
        Err(_) => None,
    };
    if !record::may(cupboard, member, kit_said) {
        let what = match member.language {
            Language::En => "count kits",
            Language::Es => "contar maletines",
        };
        answer(scene, message, member, &Message::StaffNotAllowed { what });
        return true;
    }
    match read {
        Ok(told) if told.asks => status(scene, message, member, &told.kit),
        Ok(told) => noted(scene, message, member, &told, order),
        Err(Ask { which: Some(which), .. }) if ask_which(scene, message, member, &said, &which) => {}
        Err(Ask { what: ask, .. }) => {
            let example = match order {
                Some(false) => "ordered 20 high straps",
                Some(true) => "received 20 high straps",
                None => "kit 2 glycerine 1 straps 4",
            };
            answer(scene, message, member, &Message::KitAsk { what: &ask, example });
        }
    }
    true
}

/// Why nothing is noted, and what is asked.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Ask {
    what: String,
    /// The words that several things answer to, and those things.
    which: Option<(String, Vec<String>)>,
}

impl From<String> for Ask {
    fn from(what: String) -> Self {
        Self { what, which: None }
    }
}

/// Asks by number which of several things is meant; false when the words of the text do not allow it.
fn ask_which(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    said: &[String],
    (name, items): &(String, Vec<String>),
) -> bool {
    let whole = format!(" {} ", said.join(" "));
    let words = format!(" {name} ");
    if whole.matches(&words).count() != 1 {
        return false;
    }
    let says: Vec<String> = items.iter().map(|item| item_words(item, member.language)).collect();
    let commands = items.iter().map(|item| {
        let exact = crate::trade::kit::words(item).join(" ");
        whole.replace(&words, &format!(" {exact} ")).trim().to_owned()
    });
    let asked = Asked::WhichCommand { options: commands.collect(), at: scene.now };
    scene.change_number(&message.phone, |number| number.asked = Some(asked));
    let says: Vec<&str> = says.iter().map(String::as_str).collect();
    answer(scene, message, member, &Message::WhichItem { options: &options(&says) });
    true
}

/// A text about a kit, read.
#[derive(Debug, PartialEq, Eq)]
struct Told {
    kit: String,
    said: Vec<(String, Said)>,
    /// Everything else is as on file.
    all: bool,
    /// It only asks.
    asks: bool,
}

fn status(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, id: &str) {
    let language = member.language;
    let Some(cupboard) = &scene.kits else { return };
    let Some(kit) = cupboard.kits.get(&id.to_owned()) else { return };
    let (name, items) = (capital(&kit_name(kit, language)), say::holds(cupboard, kit, MOST, language));
    let below = say::below(cupboard.below_par(id), MOST, language);
    let found = lacking_next(scene, cupboard, id, language);
    let text = Message::KitStatus {
        kit: &name,
        items: &items,
        below: below.as_deref(),
        event: found.as_ref().map(|(event, _)| event.as_str()),
        lacks: found.as_ref().map(|(_, lacks)| lacks.as_str()),
    };
    answer(scene, message, member, &text);
}

fn noted(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, told: &Told, order: Option<bool>) {
    let language = member.language;
    record::note(scene, &by_staff(member), &told.kit, &told.said, told.all, &message.id);
    let Some(cupboard) = &scene.kits else { return };
    let Some(kit) = cupboard.kits.get(&told.kit) else { return };
    let name = kit_name(kit, language);
    let story =
        format!("{}: {} {}", member.first, kit_name(kit, Language::En), if told.all { "counted" } else { "noted" });
    if let Some(came) = order {
        let items: Vec<String> = told
            .said
            .iter()
            .map(|(item, said)| match said {
                Said::Ordered(count) | Said::Received(count) => format!("{count} {}", item_words(item, language)),
                _ => item_words(item, language),
            })
            .collect();
        let items = items.join(", ");
        answer(scene, message, member, &Message::OrderNoted { items: &items, came, kit: &name });
    } else {
        let rows = told.said.iter().filter_map(|(item, _)| cupboard.stock.get(&(told.kit.clone(), item.clone())));
        let items = (!told.said.is_empty()).then(|| say::counts(rows, usize::MAX, language));
        let below = say::below(cupboard.below_par(&told.kit), MOST, language);
        let found = lacking_next(scene, cupboard, &told.kit, language);
        let text = Message::KitNoted {
            kit: &name,
            items: items.as_deref(),
            all: told.all,
            below: below.as_deref(),
            event: found.as_ref().map(|(event, _)| event.as_str()),
            lacks: found.as_ref().map(|(_, lacks)| lacks.as_str()),
        };
        answer(scene, message, member, &text);
    }
    scene.tell(story);
}

/// The words of a text, folded; "straps=4", "4x" and "straps:4" come apart, dates stay whole.
fn tokens(text: &str) -> Vec<String> {
    let mut out = Vec::new();
    for word in text.split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '=' | ':' | '(' | ')')) {
        let word = fold(word.trim_matches(['.', '!', '?', '"', '\'']));
        let is_date = word.matches(['/', '-']).count() > 0 && word.chars().any(|c| c.is_ascii_digit());
        if word.is_empty() {
            continue;
        }
        let digits = word.trim_start_matches(['+', '-', 'x']).trim_end_matches('x');
        let split = digits.find(|c: char| !c.is_ascii_digit()).unwrap_or(digits.len());
        if split > 0 && split < digits.len() && !is_date {
            out.push(digits[..split].to_owned());
            out.push(digits[split..].to_owned());
        } else if !digits.is_empty() && digits.chars().all(|c| c.is_ascii_digit()) {
            let sign = word.chars().next().filter(|c| matches!(c, '+' | '-'));
            out.push(sign.map(String::from).unwrap_or_default() + digits);
        } else {
            out.push(word);
        }
    }
    out
}

/// A number as it is texted: "4", "+2", "-1", "four".
fn number(word: &str) -> Option<(i64, bool)> {
    const NAMED: &[(&str, i64)] = &[
        ("one", 1),
        ("two", 2),
        ("three", 3),
        ("four", 4),
        ("five", 5),
        ("six", 6),
        ("seven", 7),
        ("eight", 8),
        ("nine", 9),
        ("ten", 10),
        ("twelve", 12),
        ("dozen", 12),
        ("uno", 1),
        ("una", 1),
        ("dos", 2),
        ("tres", 3),
        ("cuatro", 4),
        ("cinco", 5),
        ("seis", 6),
        ("siete", 7),
        ("ocho", 8),
        ("nueve", 9),
        ("diez", 10),
        ("doce", 12),
        ("docena", 12),
    ];
    if let Some((_, number)) = NAMED.iter().find(|(name, _)| *name == word) {
        return Some((*number, false));
    }
    let signed = word.starts_with(['+', '-']);
    word.parse::<i64>().ok().filter(|number| number.abs() <= 9_999).map(|number| (number, signed))
}

fn is_none(word: &str) -> bool {
    matches!(word, "no" | "out" | "zero" | "sin" | "cero" | "none" | "gone")
}

fn is_ok(word: &str) -> bool {
    matches!(
        word,
        "ok" | "okay"
            | "good"
            | "full"
            | "all"
            | "complete"
            | "bien"
            | "completo"
            | "todo"
            | "lleno"
            | "there"
            | "fine"
            | "👍"
    )
}

fn is_filler(word: &str) -> bool {
    matches!(
        word,
        "of" | "the"
            | "and"
            | "y"
            | "de"
            | "el"
            | "la"
            | "los"
            | "las"
            | "have"
            | "has"
            | "left"
            | "with"
            | "still"
            | "are"
            | "is"
            | "now"
            | "only"
            | "just"
            | "hay"
            | "quedan"
            | "queda"
            | "but"
            | "except"
            | "pero"
            | "menos"
            | "excepto"
            | "rest"
            | "count"
            | "a"
            | "an"
            | "for"
            | "we"
            | "i"
            | "got"
            | "&"
            | "n"
            | "in"
            | "en"
    )
}

/// The kit that the first words name, and what comes after.
fn which<'t>(said: &'t [String], cupboard: &Cupboard, member: &StaffMember) -> Result<(String, &'t [String]), String> {
    let spanish = member.language == Language::Es;
    if let Some((first, rest)) = said.split_first() {
        if cupboard.kits.get(first).is_some() {
            return Ok((first.clone(), rest));
        }
        let named: Vec<&Kit> =
            cupboard.kits.values().filter(|kit| words(&kit.name).iter().any(|word| word == first)).collect();
        let is_an_item = cupboard.stock.values().any(|row| words(&row.item).contains(first));
        if let ([only], false) = (named.as_slice(), is_an_item) {
            return Ok((only.id.clone(), rest));
        }
        if number(first).is_some_and(|(_, signed)| !signed) && rest.iter().all(|word| number(word).is_none()) {
            return Err(no_such(first, cupboard, spanish));
        }
    }
    let own = cupboard.kept_by(member);
    let going: Vec<&&Kit> = own.iter().filter(|kit| !kit.goes.contains(&Goes::Room)).collect();
    match (own.as_slice(), going.as_slice()) {
        ([only], _) => Ok((only.id.clone(), said)),
        (_, [only]) => Ok((only.id.clone(), said)),
        _ => Err(no_such("", cupboard, spanish)),
    }
}

fn no_such(said: &str, cupboard: &Cupboard, spanish: bool) -> String {
    let names: Vec<String> = cupboard.kits.values().map(|kit| format!("{} ({})", kit.id, kit.name)).collect();
    let names = names.join(", ");
    match (said.is_empty(), spanish) {
        (true, false) => format!("which kit? {names}."),
        (true, true) => format!("¿qué maletín? {names}."),
        (false, false) => format!("there is no kit {said}. There is {names}."),
        (false, true) => format!("no hay maletín {said}. Hay {names}."),
    }
}

fn read(said: &[String], cupboard: &Cupboard, member: &StaffMember) -> Result<Told, Ask> {
    let (kit, rest) = which(said, cupboard, member)?;
    let used = rest
        .first()
        .is_some_and(|word| matches!(word.as_str(), "used" | "use" | "took" | "usado" | "usamos" | "gaste"));
    let rest = if used { &rest[1..] } else { rest };
    let asks = rest.is_empty() || rest.iter().all(|word| matches!(word.as_str(), "status" | "?" | "what" | "que"));
    if asks && !used {
        return Ok(Told { kit, said: Vec::new(), all: false, asks: true });
    }
    let all = !used && rest.first().is_some_and(|word| is_ok(word));
    let rest: Vec<&String> = rest.iter().skip_while(|word| all && is_ok(word)).collect();
    let items: Vec<&str> = cupboard.of(&kit).map(|row| row.item.as_str()).collect();
    let pairs = pairs(&rest, &items, member.language)?;
    let said: Vec<(String, Said)> = pairs
        .into_iter()
        .map(|(item, said)| match said {
            Said::Count(count) if used => (item, Said::Change(-count)),
            said => (item, said),
        })
        .collect();
    // A prompt shows what is on file and asks for what differs: who says what there is has counted.
    let counts = |(_, said): &(String, Said)| matches!(said, Said::Count(_));
    let all = all || said.iter().any(counts);
    Ok(Told { kit, said, all, asks: false })
}

/// What was ordered or came in goes to the room's stock, or to the kit that is named, or to the only one that has the item.
fn read_order(said: &[String], cupboard: &Cupboard, member: &StaffMember, came: bool) -> Result<Told, Ask> {
    let at = said.iter().position(|word| matches!(word.as_str(), "kit" | "botiquin" | "maletin"));
    let (things, kit) = match at {
        Some(at) => (&said[..at], Some(which(&said[at + 1..], cupboard, member)?.0)),
        None => (said, None),
    };
    let things: Vec<&String> = things.iter().filter(|word| !matches!(word.as_str(), "for" | "para" | "into")).collect();
    let room = cupboard.kits.values().find(|kit| kit.goes.contains(&Goes::Room)).map(|kit| kit.id.clone());
    let candidates: Vec<String> = match (kit, room) {
        (Some(kit), _) => vec![kit],
        (None, Some(room)) => std::iter::once(room.clone())
            .chain(cupboard.kits.values().map(|kit| kit.id.clone()).filter(|id| *id != room))
            .collect(),
        (None, None) => cupboard.kits.values().map(|kit| kit.id.clone()).collect(),
    };
    let mut why = None;
    for kit in candidates {
        let items: Vec<&str> = cupboard.of(&kit).map(|row| row.item.as_str()).collect();
        match pairs(&things, &items, member.language) {
            Ok(pairs) => {
                let said = pairs.into_iter().filter_map(|(item, said)| match said {
                    Said::Count(count) | Said::Change(count) if count > 0 => {
                        Some((item, if came { Said::Received(count) } else { Said::Ordered(count) }))
                    }
                    _ => None,
                });
                return Ok(Told { kit, said: said.collect(), all: false, asks: false });
            }
            Err(what) => _ = why.get_or_insert(what),
        }
    }
    Err(why.unwrap_or_else(|| Ask::from(String::new())))
}

/// "glycerine 1 straps 4", "1 glycerine 4 straps", "no needles", "lubricant expires 6/30/2028": each item by its exact name.
fn pairs(said: &[&String], items: &[&str], language: Language) -> Result<Vec<(String, Said)>, Ask> {
    let spanish = language == Language::Es;
    let mut all: Vec<(String, Said)> = Vec::new();
    let words: Vec<&str> = said.iter().map(|word| word.as_str()).filter(|word| !is_filler(word)).collect();
    let number_first = words.first().is_some_and(|word| number(word).is_some() || is_none(word));
    let mut name: Vec<&str> = Vec::new();
    let mut waiting: Option<Said> = None;
    let mut rest = words.iter().copied().peekable();
    while let Some(word) = rest.next() {
        let said = if is_none(word) { Some(Said::Count(0)) } else { number(word).map(counted) };
        if matches!(word, "expires" | "expire" | "exp" | "vence" | "caduca") {
            let day = rest.next().and_then(expiry).ok_or_else(|| date_words(spanish))?;
            all.push((one(&name, items, language)?, Said::Expires(day)));
            name.clear();
        } else if let Some(said) = said {
            // "no needles straps 4": what has none is named behind it, whatever stands first elsewhere.
            if number_first || is_none(word) {
                if let Some(before) = waiting.take() {
                    all.push((one(&name, items, language)?, before));
                    name.clear();
                } else if !name.is_empty() {
                    // "straps gone".
                    all.push((one(&name, items, language)?, said));
                    name.clear();
                    continue;
                }
                waiting = Some(said);
            } else if let Some(before) = waiting.take() {
                let (first, others) = split(&name, items);
                all.push((one(first, items, language)?, before));
                all.push((one(others, items, language)?, said));
                name.clear();
            } else {
                all.push((one(&name, items, language)?, said));
                name.clear();
            }
        } else {
            name.push(word);
        }
    }
    if let Some(said) = waiting {
        all.push((one(&name, items, language)?, said));
    } else if !name.is_empty() {
        let item = one(&name, items, language)?;
        let item = item_words(&item, language);
        let ask = if spanish { format!("¿cuántos de {item}?") } else { format!("how many of {item}?") };
        return Err(ask.into());
    }
    Ok(all)
}

const fn counted((number, signed): (i64, bool)) -> Said {
    if signed { Said::Change(number) } else { Said::Count(number) }
}

fn date_words(spanish: bool) -> String {
    if spanish { "escriba la fecha así: 6/30/2028.".to_owned() } else { "write the date as 6/30/2028.".to_owned() }
}

/// The longest beginning of some words that names one item, and the rest.
fn split<'w, 's>(name: &'w [&'s str], items: &[&str]) -> (&'w [&'s str], &'w [&'s str]) {
    let names_one = |end: &usize| meant(&name[..*end].join(" "), items.iter().copied()).len() == 1;
    let end = (1..name.len()).rev().find(names_one).unwrap_or(1.min(name.len()));
    name.split_at(end)
}

/// The one item that some words mean.
fn one(name: &[&str], items: &[&str], language: Language) -> Result<String, Ask> {
    let spanish = language == Language::Es;
    let said = name.join(" ");
    let listed = |items: &[&str]| {
        let names: Vec<String> = items.iter().map(|item| item_words(item, language)).collect();
        names.join(", ")
    };
    match meant(&said, items.iter().copied()).as_slice() {
        [only] => Ok((*only).to_owned()),
        [] if said.is_empty() && spanish => Err(format!("¿de qué? Hay {}.", listed(items)).into()),
        [] if said.is_empty() => Err(format!("of what? There is {}.", listed(items)).into()),
        [] if spanish => Err(format!("no hay \"{said}\" en ese maletín. Hay {}.", listed(items)).into()),
        [] => Err(format!("there is no \"{said}\" in that kit. There is {}.", listed(items)).into()),
        several => {
            let which = Some((said.clone(), several.iter().map(|item| (*item).to_owned()).collect()));
            let ask = if spanish { "¿cuál" } else { "which" };
            Err(Ask { what: format!("{ask} \"{said}\"? {}.", listed(several)), which })
        }
    }
}

/// "6/30/2028", "2028-06-30", "6/2028" (the last day of the month).
fn expiry(text: &str) -> Option<NaiveDate> {
    if let Ok(date) = text.parse::<NaiveDate>() {
        return Some(date);
    }
    let parts: Vec<i32> = text.split('/').map(str::parse).collect::<Result<_, _>>().ok()?;
    let positive = |number: i32| u32::try_from(number).ok();
    let whole = |year: i32| if year < 100 { year + 2_000 } else { year };
    match parts.as_slice() {
        [month, day, year] => NaiveDate::from_ymd_opt(whole(*year), positive(*month)?, positive(*day)?),
        [month, year] => {
            let first = NaiveDate::from_ymd_opt(whole(*year), positive(*month)?, 1)?;
            let next = first.checked_add_months(chrono::Months::new(1))?;
            next.pred_opt().filter(|last| last.month() == first.month())
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ITEMS: &[&str] =
        &["chin strap: high", "chin strap: low", "needle lubricant", "needle: long", "pump", "T-nut screw", "cutter"];

    fn pairs_of(text: &str) -> Result<Vec<(String, Said)>, Ask> {
        let said = tokens(text);
        pairs(&said.iter().collect::<Vec<_>>(), ITEMS, Language::En)
    }

    fn counts(text: &str) -> Vec<(String, i64)> {
        let count = |said| match said {
            Said::Count(count) => count,
            other => panic!("{other:?}"),
        };
        pairs_of(text).unwrap().into_iter().map(|(item, said)| (item, count(said))).collect()
    }

    fn own(expected: &[(&str, i64)]) -> Vec<(String, i64)> {
        expected.iter().map(|(item, count)| ((*item).to_owned(), *count)).collect()
    }

    #[test]
    fn numbers_stand_before_or_behind() {
        let expected = own(&[("needle lubricant", 1), ("chin strap: high", 4)]);
        assert_eq!(counts("glycerine 1 high straps 4"), expected);
        assert_eq!(counts("1 glycerine, 4 high straps"), expected);
        assert_eq!(counts("glycerine=1 high straps: 4"), expected);
        assert_eq!(counts("one glycerine and four high straps left"), expected);
        assert_eq!(counts("4x pump"), own(&[("pump", 4)]));
    }

    #[test]
    fn none_of_something() {
        assert_eq!(counts("no pump"), own(&[("pump", 0)]));
        assert_eq!(counts("cutter gone"), own(&[("cutter", 0)]));
        assert_eq!(counts("out of long needles"), own(&[("needle: long", 0)]));
        assert_eq!(counts("glycerine 1 no pump"), own(&[("needle lubricant", 1), ("pump", 0)]));
        assert_eq!(counts("glycerine 1 no pump cutter 2"), own(&[("needle lubricant", 1), ("pump", 0), ("cutter", 2)]));
    }

    #[test]
    fn changes_and_expiries() {
        assert_eq!(pairs_of("pump +2").unwrap(), [("pump".to_owned(), Said::Change(2))]);
        let day = NaiveDate::from_ymd_opt(2028, 6, 30).unwrap();
        for text in ["lubricant expires 6/30/2028", "lubricant exp 2028-06-30", "lubricant exp 6/28"] {
            assert_eq!(pairs_of(text).unwrap(), [("needle lubricant".to_owned(), Said::Expires(day))], "{text}");
        }
    }

    #[test]
    fn what_is_not_sure_is_asked_about() {
        assert!(
            pairs_of("straps 4").unwrap_err().what.starts_with("which \"straps\"? high chin strap, low chin strap")
        );
        assert!(pairs_of("tape 4").unwrap_err().what.starts_with("there is no \"tape\""));
        assert_eq!(pairs_of("pump").unwrap_err().what, "how many of pump?");
        assert!(pairs_of("4").unwrap_err().what.starts_with("of what?"));
    }
}
