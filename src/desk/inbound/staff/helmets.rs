//! Helmets by text: "shipped h12 h14 h20-h31 back by 7/20", "back h12", "h14 failed crack", "h14 not failed", "h12 recertified", "h12 mark
//! scuffed crown", "h24 to 12", "h24 spare", "helmets".

use chrono::{Datelike as _, NaiveDate};

use super::answer;
use crate::desk::helmets::record::{self, Said, may, why_not};
use crate::desk::helmets::say::{MOST, tags, tags_of};
use crate::desk::helmets::{Rack, load};
use crate::desk::inbound::who::fold;
use crate::desk::scene::Scene;
use crate::store::rows::InMessage;
use crate::store::{Result, Tx};
use crate::trade::roster::{Athlete, Helmet, Language, StaffMember};
use crate::wording::Message;
use crate::wording::words::day_words;

/// Words that a text about helmets begins with.
pub const WORDS: &[&str] = &[
    "shipped",
    "sent",
    "enviado",
    "enviados",
    "enviamos",
    "mandado",
    "mandados",
    "back",
    "returned",
    "regresaron",
    "regreso",
    "regresó",
    "devueltos",
    "devuelto",
    "helmets",
    "cascos",
];

/// Whether a text may be about helmets: so that they are loaded.
#[must_use]
pub fn is_about(text: &str) -> bool {
    WORDS.contains(&super::upkeep::first_word(text).as_str()) || looks_like_a_tag(&first(text))
}

fn first(text: &str) -> String {
    fold(text.split_whitespace().next().unwrap_or_default()).trim_matches(['#', ':', ',', '.']).to_owned()
}

/// "h12", "lv-012": letters, then digits. A bare number is a jersey.
fn looks_like_a_tag(word: &str) -> bool {
    let head: String = word.chars().take_while(|c| !c.is_ascii_digit()).collect();
    let tail = &word[head.len()..];
    !head.is_empty()
        && head.len() <= 5
        && head.chars().all(|c| c.is_ascii_alphabetic() || c == '-')
        && (1..=5).contains(&tail.len())
        && tail.chars().all(|c| c.is_ascii_digit())
}

/// Acts on a text that begins with one of [`WORDS`]; false when the program has no helmets, or the text names none.
pub fn obey(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    let Some(rack) = &scene.rack else { return false };
    let words: Vec<String> = text.split_whitespace().map(fold).collect();
    let Some((verb, rest)) = words.split_first() else { return false };
    let verb = verb.trim_matches([':', ',', '.']);
    if matches!(verb, "helmets" | "cascos") {
        if !rest.is_empty() {
            return false;
        }
        if allowed(scene, message, member) {
            status(scene, message, member);
        }
        return true;
    }
    let back = matches!(verb, "back" | "returned" | "regresaron" | "regreso" | "devueltos" | "devuelto");
    let read = read_list(rest, rack, scene, back);
    let Some(read) = read else { return false };
    if !allowed(scene, message, member) {
        return true;
    }
    match read {
        Ok((tags, promised)) if back => {
            let said = if promised.is_some() { None } else { Some(Said::Back) };
            came_back(scene, message, member, &tags, said);
        }
        Ok((tags, promised)) => shipped(scene, message, member, &tags, promised),
        Err(word) => {
            let what = no_tag(&word, member.language);
            answer(scene, message, member, &Message::HelmetAsk { what: &what, example: "shipped h12 h14 h20-h31" });
        }
    }
    true
}

fn allowed(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) -> bool {
    if may(member) {
        return true;
    }
    let what = match member.language {
        Language::En => "note helmets",
        Language::Es => "anotar cascos",
    };
    answer(scene, message, member, &Message::StaffNotAllowed { what });
    false
}

fn no_tag(word: &str, language: Language) -> String {
    match language {
        Language::En => format!("which helmet is \"{word}\"?"),
        Language::Es => format!("¿qué casco es \"{word}\"?"),
    }
}

type List = std::result::Result<(Vec<String>, Option<NaiveDate>), String>;

/// Tags, ranges of tags, "all", and a day behind "by" or "promised". None when no word is a tag at all.
fn read_list(words: &[String], rack: &Rack, scene: &Scene<'_>, back: bool) -> Option<List> {
    let mut found: Vec<String> = Vec::new();
    let (mut promised, mut unknown) = (None, None);
    let mut rest = words.iter().map(|word| word.trim_matches([',', ';', '.', ':', '#'])).peekable();
    while let Some(word) = rest.next() {
        if word.is_empty()
            || matches!(
                word,
                "and" | "y" | "the" | "los" | "to" | "shop" | "on" | "today" | "hoy" | "from" | "helmet" | "helmets"
            )
        {
            continue;
        }
        if matches!(word, "all" | "todos" | "everything") {
            let settings = &scene.program.reconditioning;
            let all: Vec<&Helmet> = if back {
                rack.helmets.values().filter(|helmet| helmet.shipped.is_some()).collect()
            } else {
                rack.to_go(settings)
            };
            found.extend(all.into_iter().map(|helmet| helmet.tag.0.clone()));
        } else if matches!(word, "by" | "promised" | "back" | "expected" | "prometido" | "prometidos" | "para") {
            while rest.peek().is_some_and(|next| matches!(*next, "by" | "on" | "el" | "promised")) {
                rest.next();
            }
            match rest.next().and_then(|day| a_day(day, scene.today)) {
                Some(day) => promised = Some(day),
                None => unknown = Some(word.to_owned()),
            }
        } else if let Some(range) = range(word, rack) {
            found.extend(range);
        } else if let Some(helmet) = rack.tagged(word) {
            found.push(helmet.tag.0.clone());
        } else {
            unknown.get_or_insert(word.to_owned());
        }
    }
    found.sort();
    found.dedup();
    match (found.is_empty(), unknown) {
        (true, _) => None,
        (false, Some(word)) => Some(Err(word)),
        (false, None) => Some(Ok((found, promised))),
    }
}

/// "h20-h31", "h20-31", "lv-020-lv-031": every helmet from one tag to another of the same beginning.
fn range(word: &str, rack: &Rack) -> Option<Vec<String>> {
    word.match_indices('-').find_map(|(at, _)| {
        let (from, to) = (rack.tagged(&word[..at])?, &word[at + 1..]);
        let head = from.tag.as_str().trim_end_matches(|c: char| c.is_ascii_digit());
        let to = rack.tagged(to).or_else(|| rack.tagged(&format!("{head}{to}")))?;
        let is_in =
            |helmet: &&Helmet| helmet.tag >= from.tag && helmet.tag <= to.tag && helmet.tag.as_str().starts_with(head);
        let all: Vec<String> = rack.helmets.values().filter(is_in).map(|helmet| helmet.tag.0.clone()).collect();
        (from.tag < to.tag && !all.is_empty()).then_some(all)
    })
}

/// "7/20", "2027-07-20": a day ahead.
fn a_day(word: &str, today: NaiveDate) -> Option<NaiveDate> {
    if let Ok(day) = word.parse() {
        return Some(day);
    }
    let (month, day) = word.split_once('/')?;
    let this = NaiveDate::from_ymd_opt(today.year(), month.parse().ok()?, day.parse().ok()?)?;
    if this >= today { Some(this) } else { this.with_year(today.year() + 1) }
}

fn shipped(
    scene: &mut Scene<'_>,
    message: &InMessage,
    member: &StaffMember,
    list: &[String],
    promised: Option<NaiveDate>,
) {
    record::note(scene, member, list, &Said::Shipped(promised), &message.id);
    let language = member.language;
    let Some(rack) = &scene.rack else { return };
    let settings = &scene.program.reconditioning;
    let left = rack.to_go(settings).len();
    let by = rack.way(settings, scene.today).map(|way| day_words(way.ship_by, scene.today, language));
    let all: Vec<&str> = list.iter().map(String::as_str).collect();
    let expected = rack.helmets.get(&list[0]).and_then(|helmet| rack.expected(helmet, settings));
    let expected = expected.map(|day| day_words(day, scene.today, language)).unwrap_or_default();
    let text = Message::HelmetsShipped {
        count: list.len(),
        tags: &tags(&all, MOST, language),
        expected: &expected,
        left,
        by: by.as_deref(),
    };
    answer(scene, message, member, &text);
}

fn came_back(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, list: &[String], said: Option<Said>) {
    let language = member.language;
    let was_away: Vec<String> = {
        let Some(rack) = &scene.rack else { return };
        let away = |tag: &&String| rack.helmets.get(*tag).is_some_and(|helmet| helmet.shipped.is_some());
        list.iter().filter(away).cloned().collect()
    };
    let (Some(said), false) = (said, was_away.is_empty()) else {
        let what = match language {
            Language::En => "none of these is away.",
            Language::Es => "ninguno de estos está fuera.",
        };
        return answer(scene, message, member, &Message::HelmetAsk { what, example: "back h12 h14" });
    };
    record::note(scene, member, &was_away, &said, &message.id);
    let Some(rack) = &scene.rack else { return };
    let still: Vec<&Helmet> = rack.helmets.values().filter(|helmet| helmet.shipped.is_some()).collect();
    let still_said = tags_of(&still, MOST, language);
    let all: Vec<&str> = was_away.iter().map(String::as_str).collect();
    let text = Message::HelmetsBack {
        count: was_away.len(),
        tags: &tags(&all, MOST, language),
        still: (!still.is_empty()).then_some(still_said.as_str()),
        example: all[0],
    };
    answer(scene, message, member, &text);
}

fn status(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let language = member.language;
    let Some(rack) = &scene.rack else { return };
    let settings = &scene.program.reconditioning;
    let of = |keep: &dyn Fn(&&Helmet) -> bool| {
        let some: Vec<&Helmet> = rack.helmets.values().filter(keep).collect();
        (!some.is_empty()).then(|| tags_of(&some, MOST, language))
    };
    let bad = of(&|helmet| {
        let standing = rack.standing(helmet, settings, scene.today);
        helmet.athlete.is_some() && !standing.may_be_worn() && helmet.shipped.is_none()
    });
    let away = of(&|helmet| helmet.shipped.is_some());
    let to_go = rack.to_go(settings);
    let by = rack.way(settings, scene.today).map(|way| day_words(way.ship_by, scene.today, language));
    let list = tags_of(&to_go, MOST, language);
    let text = Message::HelmetsStatus {
        count: rack.helmets.values().count(),
        worn_out: bad.as_deref(),
        away: away.as_deref(),
        to_go: Some(list.as_str()).filter(|_| !to_go.is_empty()),
        by: by.as_deref(),
    };
    answer(scene, message, member, &text);
}

/// "h14 failed crack", "h12 recertified", "h12 mark scuffed", "h24 to 12", "h24 spare": whether the text was one.
pub fn of_one(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    let Some(rack) = &scene.rack else { return false };
    let tag = first(text);
    if !looks_like_a_tag(&tag) {
        return false;
    }
    let Some(helmet) = rack.tagged(&tag).cloned() else { return false };
    let rest: Vec<&str> = text.split_whitespace().skip(1).collect();
    let Some((verb, rest)) = rest.split_first() else { return false };
    let verb = fold(verb.trim_matches([':', ',', '.']));
    let words = rest.join(" ");
    let said = match verb.as_str() {
        "failed" | "fail" | "rejected" | "cracked" | "rechazado" | "fallo" | "rajado" => {
            let why = if words.is_empty() { verb.clone() } else { words };
            Said::Failed(why)
        }
        "not" | "no" if matches!(fold(&words).as_str(), "failed" | "rejected" | "rechazado" | "fallo") => {
            Said::NotFailed
        }
        "recertified" | "recertificado" => {
            let day = rest.first().map_or(Some(scene.today), |word| word.parse().ok());
            match day.filter(|day| *day <= scene.today) {
                Some(day) => Said::Recertified(day),
                None => {
                    let what = match member.language {
                        Language::En => "the day could not be read, or lies ahead.",
                        Language::Es => "la fecha no se entiende, o es futura.",
                    };
                    answer(scene, message, member, &Message::HelmetAsk { what, example: "h12 recertified 2027-07-20" });
                    return true;
                }
            }
        }
        "mark" | "marks" | "marked" | "marca" if !words.is_empty() => Said::Marked(words),
        "shipped" | "sent" | "enviado" => Said::Shipped(None),
        "back" | "returned" | "regreso" => Said::Back,
        "spare" | "in" | "repuesto" => Said::Issued(None),
        "to" | "for" | "a" | "para" if !words.is_empty() => {
            if !allowed(scene, message, member) {
                return true;
            }
            return issue(scene, message, member, &helmet, &words);
        }
        _ => return false,
    };
    if !allowed(scene, message, member) {
        return true;
    }
    let list = [helmet.tag.0.clone()];
    match said {
        Said::Shipped(_) => shipped(scene, message, member, &list, None),
        Said::Back => came_back(scene, message, member, &list, Some(Said::Back)),
        said => {
            record::note(scene, member, &list, &said, &message.id);
            one_noted(scene, message, member, &helmet, &said);
        }
    }
    true
}

fn one_noted(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, helmet: &Helmet, said: &Said) {
    let wearer = helmet.athlete.as_ref().map(|athlete| scene.who(athlete)).filter(|who| !who.is_empty());
    let until = scene.rack.as_ref().and_then(|rack| {
        let limits = rack.limits(rack.helmets.get(&helmet.tag.0)?, &scene.program.reconditioning);
        [limits.certified, limits.serves].into_iter().flatten().min()
    });
    let until = until.map(|day| day.format("%Y-%m-%d").to_string());
    let tag = helmet.tag.as_str();
    let text = match said {
        Said::Failed(why) => Message::HelmetFailed { tag, why, who: wearer.as_deref() },
        Said::NotFailed => Message::HelmetMarked {
            tag,
            mark: match member.language {
                Language::En => "it did not fail",
                Language::Es => "no falló",
            },
        },
        Said::Recertified(_) => Message::HelmetRecertified { tag, until: until.as_deref() },
        Said::Marked(mark) => Message::HelmetMarked { tag, mark },
        _ => Message::HelmetSpare { tag, who: wearer.as_deref() },
    };
    answer(scene, message, member, &text);
}

/// Gives a helmet to the one athlete whom a number or name means.
fn issue(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, helmet: &Helmet, to: &str) -> bool {
    let language = member.language;
    if let Some(why) = why_not(scene, helmet, scene.today) {
        let what = match language {
            Language::En => format!("{} is {why} and may not be worn.", helmet.tag),
            Language::Es => format!("{} no se puede usar: {why}.", helmet.tag),
        };
        answer(scene, message, member, &Message::HelmetAsk { what: &what, example: "h24 to 12" });
        return true;
    }
    let wanted = fold(to.trim_matches(['#', '.', '!', ' ']));
    let Some(rack) = &scene.rack else { return false };
    let is = |athlete: &&Athlete| {
        member.serves(&athlete.team)
            && (athlete.jersey.as_deref() == Some(wanted.as_str())
                || fold(&athlete.first) == wanted
                || fold(&athlete.last) == wanted
                || fold(&format!("{} {}", athlete.first, athlete.last)) == wanted)
    };
    let fits: Vec<Athlete> = rack.athletes.values().filter(is).cloned().collect();
    let [athlete] = fits.as_slice() else {
        let names: Vec<String> =
            fits.iter().map(|athlete| format!("{} {} ({})", athlete.first, athlete.last, athlete.team)).collect();
        let what = match (fits.is_empty(), language) {
            (true, Language::En) => format!("who is \"{to}\"?"),
            (true, Language::Es) => format!("¿quién es \"{to}\"?"),
            (false, Language::En) => format!("which {to}? {}.", names.join(", ")),
            (false, Language::Es) => format!("¿cuál {to}? {}.", names.join(", ")),
        };
        answer(scene, message, member, &Message::HelmetAsk { what: &what, example: "h24 to jonah vega" });
        return true;
    };
    let wrong_size = rack
        .size_asked(athlete, helmet)
        .map(ToOwned::to_owned)
        .zip(helmet.size.clone())
        .filter(|(needed, has)| needed != has);
    record::note(
        scene,
        member,
        std::slice::from_ref(&helmet.tag.0),
        &Said::Issued(Some(athlete.id.clone())),
        &message.id,
    );
    let who = athlete.short();
    let text = Message::HelmetIssued {
        tag: helmet.tag.as_str(),
        who: &who,
        needs: wrong_size.as_ref().map(|(needed, _)| needed.as_str()),
        size: wrong_size.as_ref().map(|(_, has)| has.as_str()),
    };
    answer(scene, message, member, &text);
    true
}

/// Loads the helmets when a text may be about them, with the wearers of those that it names.
pub async fn load_for(tx: &mut Tx, scene: &mut Scene<'_>, texts: &[&str]) -> Result<()> {
    if !texts.iter().any(|text| is_about(text)) {
        return Ok(());
    }
    let Some(rack) = load(tx, scene).await? else { return Ok(()) };
    let named = texts.iter().flat_map(|text| text.split_whitespace()).filter_map(|word| rack.tagged(word));
    let wearers = named.filter_map(|helmet| helmet.athlete.clone()).collect();
    scene.rack = Some(rack);
    crate::desk::load::about(tx, scene, &[], wearers).await
}
