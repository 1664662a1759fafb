//! Drills by text: "drill log roll today ana ben cole 42s", "drill undo", "drill", "ana away fri".
//!
//! What is not sure is asked about and nothing is recorded: a drill that counts for the wrong person is worse than one that
//! is told again.

use chrono::{Datelike as _, NaiveDate, TimeDelta, Weekday};

use super::answer;
use crate::desk::drills::record::{self, NewDrill, first_gap, next};
use crate::desk::drills::remind::{event_name, gap_message};
use crate::desk::drills::{Book, gap};
use crate::desk::inbound::who::fold;
use crate::desk::scene::Scene;
use crate::store::rows::InMessage;
use crate::trade::drill::times::seconds;
use crate::trade::drill::{Part, Position, Skill};
use crate::trade::roster::{Language, StaffId, StaffMember};
use crate::wording::Message;
use crate::wording::words::{self, skill_words};

/// Words that a text about drills begins with.
pub const WORDS: &[&str] = &["drill", "drills", "drilled", "ejercicio", "simulacro"];

/// Whether a text is about drills, or about who is away.
#[must_use]
pub fn is_about(text: &str) -> bool {
    WORDS.contains(&super::upkeep::first_word(text).as_str()) || is_away(text)
}

/// Whether every word of a text is of a drill that can be recorded.
#[must_use]
pub fn is_wholly_one(scene: &Scene<'_>, member: &StaffMember, text: &str) -> bool {
    let Some(book) = scene.drills.as_ref().filter(|_| WORDS.contains(&super::upkeep::first_word(text).as_str())) else {
        return false;
    };
    let said: Vec<String> = text.split_whitespace().skip(1).map(ToOwned::to_owned).collect();
    read(&said, &Known { member, staff: &scene.staff, book, today: scene.today }).is_ok()
}

fn is_away(text: &str) -> bool {
    let words: Vec<String> = text.split_whitespace().map(fold).collect();
    words.iter().take(4).any(|word| matches!(word.as_str(), "away" | "fuera"))
}

/// Acts on a text that begins with one of [`WORDS`].
pub fn obey(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    if scene.drills.is_none() {
        return false;
    }
    if !record::may(member) {
        answer(scene, message, member, &Message::StaffNotAllowed { what: not_yours(member.language) });
        return true;
    }
    let rest: Vec<String> = text.split_whitespace().skip(1).map(ToOwned::to_owned).collect();
    match rest.iter().map(|word| fold(word)).collect::<Vec<_>>().as_slice() {
        [] => status(scene, message, member),
        [only] if matches!(only.as_str(), "?" | "status" | "next" | "who") => status(scene, message, member),
        [only] if matches!(only.as_str(), "undo" | "borrar" | "anular") => undo(scene, message, member),
        _ => tell(scene, message, member, &rest),
    }
    true
}

const fn not_yours(language: Language) -> &'static str {
    match language {
        Language::En => "record drills",
        Language::Es => "anotar ejercicios",
    }
}

fn status(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let look = scene
        .drills
        .as_ref()
        .and_then(|book| next(scene, book, member, true).or_else(|| next(scene, book, member, false)));
    let Some(look) = look else {
        return answer(scene, message, member, &Message::ItemNone { who: nothing_ahead(member.language) });
    };
    let event = event_name(scene, &look.event, member.language);
    match gap(scene, &look, member.language) {
        Some(gap) => answer(scene, message, member, &gap_message(&event, &gap)),
        None => answer(scene, message, member, &Message::CoverageFine { event: &event }),
    }
}

const fn nothing_ahead(language: Language) -> &'static str {
    match language {
        Language::En => "a practice or game with helmets this week",
        Language::Es => "una práctica o partido con cascos esta semana",
    }
}

fn undo(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember) {
    let undone = record::undo(scene, member, &message.id).map(|drill| {
        let day = words::day_words(drill.date, scene.today, member.language);
        format!("{}, {day}", skill_words(drill.skill, member.language))
    });
    answer(scene, message, member, &Message::DrillUndone { drill: undone.as_deref() });
}

fn tell(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, said: &[String]) {
    let read = {
        let Some(book) = &scene.drills else { return };
        read(said, &Known { member, staff: &scene.staff, book, today: scene.today })
    };
    let new = match read {
        Ok(new) => new,
        Err(what) => return answer(scene, message, member, &Message::DrillAsk { what: &what }),
    };
    let recorded = record::record(scene, member, new, &message.id);
    let drill = &recorded.drill;
    let names: Vec<String> = drill
        .people
        .iter()
        .filter_map(|part| scene.staff.iter().find(|member| member.id == part.staff).map(|member| member.first.clone()))
        .collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let language = member.language;
    let found = scene.drills.as_ref().and_then(|book| first_gap(scene, book, member, language));
    let fine = scene.drills.as_ref().and_then(|book| next(scene, book, member, false));
    let fine = fine.map(|look| event_name(scene, &look.event, language));
    let (next, gap) = match &found {
        Some((event, gap)) => (Some(event.as_str()), Some(gap.as_str())),
        None => (fine.as_deref(), None),
    };
    let number = |number: Option<u32>| number.map(|number| number.to_string());
    let (time, failed, slower) = (number(drill.seconds), number(recorded.failed), number(recorded.slower));
    let skill = match drill.models.as_slice() {
        [] => skill_words(drill.skill, language).to_owned(),
        models => format!("{} ({})", skill_words(drill.skill, language), models.join(", ")),
    };
    let text = Message::DrillRecorded {
        skill: &skill,
        day: &words::day_words(drill.date, scene.today, language),
        who: &words::joined(&names, language),
        seconds: time.as_deref(),
        failed: failed.as_deref(),
        slower: slower.as_deref(),
        next,
        gap,
    };
    answer(scene, message, member, &text);
}

/// What a text may name.
struct Known<'a> {
    member: &'a StaffMember,
    staff: &'a [StaffMember],
    book: &'a Book,
    today: NaiveDate,
}

/// Reads what was drilled; or says what has to be said.
fn read(said: &[String], known: &Known<'_>) -> Result<NewDrill, String> {
    let spanish = known.member.language == Language::Es;
    let mut skill_said: Vec<String> = Vec::new();
    let (mut people, mut models, mut places): (Vec<Part>, Vec<String>, Vec<String>) =
        (Vec::new(), Vec::new(), Vec::new());
    let (mut date, mut time) = (known.today, None);
    let mut unknown: Vec<String> = Vec::new();
    let mut words = said.iter().map(|word| word.trim_matches([',', ';', '.', ':', '(', ')'])).peekable();
    while let Some(word) = words.next() {
        let folded = fold(word);
        if folded.is_empty()
            || matches!(
                folded.as_str(),
                "and"
                    | "y"
                    | "with"
                    | "con"
                    | "n"
                    | "on"
                    | "at"
                    | "in"
                    | "en"
                    | "the"
                    | "removal"
                    | "face"
                    | "from"
                    | "down"
                    | "by"
                    | "+"
                    | "&"
            )
        {
            continue;
        }
        if let Some(day) = day(&folded, known.today, false) {
            date = day;
        } else if let Some(staff) = named(&folded, words.peek().map(|next| fold(next)).as_deref(), known)? {
            if staff.whole {
                words.next();
            }
            let position = words.peek().and_then(|next| Position::from_name(&fold(next)));
            // "ben mask" gives Ben the mask; "mask ben" names the skill, and stood before him.
            if position.is_some() {
                words.next();
            }
            people.push(Part { staff: staff.id, position });
        } else if let Some(model) = known.book.models.iter().find(|model| fold(&model.name) == folded) {
            models.push(model.name.clone());
        } else if let Some(seconds) = a_time(&folded, words.peek().copied()) {
            time = Some(seconds);
            if words.peek().is_some_and(|next| is_unit(&fold(next))) {
                words.next();
            }
        } else if people.is_empty() && is_of_skill(&folded) {
            skill_said.push(folded);
        } else if let Some(venue) =
            known.book.venues.iter().find(|venue| fold(&venue.name).split(' ').any(|part| part == folded))
        {
            places.push(venue.name.clone());
        } else {
            unknown.push(word.to_owned());
        }
    }
    let say = |en: String, es: String| if spanish { es } else { en };
    if let Some(word) = unknown.first() {
        return Err(say(format!("who or what is \"{word}\"?"), format!("¿quién o qué es \"{word}\"?")));
    }
    let skill = Skill::read(&skill_said.join(" ")).ok_or_else(|| {
        say(
            "which drill? log roll, mask, cutter, helmet, pads, lift or plan".into(),
            "¿qué ejercicio? log roll, mask, cutter, helmet, pads, lift o plan".into(),
        )
    })?;
    if people.is_empty() {
        return Err(say("who took part?".into(), "¿quiénes participaron?".into()));
    }
    if skill.is_by_hardware() && models.is_empty() {
        let names: Vec<&str> = known.book.models.iter().map(|model| model.name.as_str()).collect();
        return Err(say(
            format!("on which helmet? {}", names.join(", ")),
            format!("¿con qué casco? {}", names.join(", ")),
        ));
    }
    people.sort_by(|a, b| a.staff.cmp(&b.staff));
    people.dedup_by(|a, b| a.staff == b.staff);
    models.sort();
    models.dedup();
    Ok(NewDrill { date, skill, people, models, seconds: time, place: places.pop(), notes: None })
}

fn is_of_skill(word: &str) -> bool {
    const WORDS: &[&str] = &[
        "log",
        "roll",
        "logroll",
        "mask",
        "facemask",
        "fm",
        "tool",
        "release",
        "screwdriver",
        "cutter",
        "cutters",
        "cut",
        "helmet",
        "lid",
        "pads",
        "pad",
        "shoulder",
        "lift",
        "team",
        "plan",
        "eap",
        "whole",
        "careta",
        "casco",
        "hombreras",
        "emergency",
    ];
    WORDS.contains(&word)
}

fn is_unit(word: &str) -> bool {
    matches!(word, "s" | "sec" | "secs" | "seconds" | "segundos")
}

/// "42s", "1:05"; a bare number is a time when a unit follows it.
fn a_time(word: &str, next: Option<&str>) -> Option<u32> {
    let has_unit = word.ends_with('s')
        || word.contains(':')
        || word.ends_with("sec")
        || next.is_some_and(|next| is_unit(&fold(next)));
    if !word.starts_with(|c: char| c.is_ascii_digit()) || !has_unit {
        return None;
    }
    seconds(word)
}

struct Named {
    id: StaffId,
    whole: bool,
}

/// The one of staff whom a word names: a first or last name, with the other behind it where that alone tells.
fn named(word: &str, next: Option<&str>, known: &Known<'_>) -> Result<Option<Named>, String> {
    if matches!(word, "me" | "i" | "myself" | "yo") {
        return Ok(Some(Named { id: known.member.id.clone(), whole: false }));
    }
    let fits: Vec<&StaffMember> =
        known.staff.iter().filter(|member| fold(&member.first) == word || fold(&member.last) == word).collect();
    let whole =
        |member: &&&StaffMember| next.is_some_and(|next| fold(&member.last) == next && fold(&member.first) == word);
    if let Some(member) = fits.iter().find(whole) {
        return Ok(Some(Named { id: member.id.clone(), whole: true }));
    }
    match fits.as_slice() {
        [] => Ok(None),
        [only] => Ok(Some(Named { id: only.id.clone(), whole: false })),
        _ if known.member.language == Language::Es => Err(format!("¿cuál {word}? Escriba nombre y apellido")),
        _ => Err(format!("which {word}? Write first and last name")),
    }
}

/// "today", "yesterday", "wed", "9/14": a day, in the past unless `ahead`.
fn day(word: &str, today: NaiveDate, ahead: bool) -> Option<NaiveDate> {
    match word {
        "today" | "hoy" | "tonight" => return Some(today),
        "yesterday" | "ayer" => return today.pred_opt(),
        "tomorrow" | "manana" | "tmrw" => return today.succ_opt(),
        _ => {}
    }
    if let Some(weekday) = weekday(word) {
        let away = i64::from(weekday.num_days_from_monday()) - i64::from(today.weekday().num_days_from_monday());
        let days = if ahead { away.rem_euclid(7) } else { -((-away).rem_euclid(7)) };
        return Some(today + TimeDelta::days(days));
    }
    let (month, day) = word.split_once('/')?;
    let date = NaiveDate::from_ymd_opt(today.year(), month.parse().ok()?, day.parse().ok()?)?;
    // The year that is meant is the nearer one.
    let half = TimeDelta::days(183);
    match date - today {
        far if far > half => NaiveDate::from_ymd_opt(today.year() - 1, date.month(), date.day()),
        far if far < -half => NaiveDate::from_ymd_opt(today.year() + 1, date.month(), date.day()),
        _ => Some(date),
    }
}

fn weekday(word: &str) -> Option<Weekday> {
    Some(match word {
        "mon" | "monday" | "lun" | "lunes" => Weekday::Mon,
        "tue" | "tues" | "tuesday" | "martes" => Weekday::Tue,
        "wed" | "weds" | "wednesday" | "mie" | "miercoles" => Weekday::Wed,
        "thu" | "thur" | "thurs" | "thursday" | "jue" | "jueves" => Weekday::Thu,
        "fri" | "friday" | "vie" | "viernes" => Weekday::Fri,
        "sat" | "saturday" | "sab" | "sabado" => Weekday::Sat,
        "sun" | "sunday" | "dom" | "domingo" => Weekday::Sun,
        _ => return None,
    })
}

/// "ana away fri", "me away 9/14-9/16", "ana not away fri". Whether the text was one.
pub fn away(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    if !is_away(text) {
        return false;
    }
    let said = {
        let Some(book) = &scene.drills else { return false };
        read_away(text, &Known { member, staff: &scene.staff, book, today: scene.today })
    };
    let Some((who, days, back)) = said else { return false };
    // Anybody may say it of themselves; of others those who plan with it.
    if who.id != member.id && !record::may(member) {
        answer(scene, message, member, &Message::StaffNotAllowed { what: not_yours(member.language) });
        return true;
    }
    record::away(scene, member, &who.id, days, back, &message.id);
    let name =
        scene.staff.iter().find(|member| member.id == who.id).map(|member| member.first.clone()).unwrap_or_default();
    let language = member.language;
    let first = words::day_words(days.0, scene.today, language);
    let span =
        if days.0 == days.1 { first } else { format!("{first} - {}", words::day_words(days.1, scene.today, language)) };
    let found = scene.drills.as_ref().and_then(|book| first_gap(scene, book, member, language));
    let (next, gap) = found.map_or((None, None), |(event, gap)| (Some(event), Some(gap)));
    let text = Message::Away { who: &name, days: &span, back, next: next.as_deref(), gap: gap.as_deref() };
    answer(scene, message, member, &text);
    true
}

fn read_away(text: &str, known: &Known<'_>) -> Option<(Named, (NaiveDate, NaiveDate), bool)> {
    let words: Vec<String> = text
        .split_whitespace()
        .map(|word| fold(word.trim_matches([',', '.', ';'])))
        .filter(|word| !word.is_empty())
        .collect();
    let at = words.iter().position(|word| matches!(word.as_str(), "away" | "fuera"))?;
    let back = words[..at].iter().any(|word| matches!(word.as_str(), "not" | "no" | "isnt" | "isn't"));
    let subject: Vec<&String> = words[..at]
        .iter()
        .filter(|word| {
            !matches!(
                word.as_str(),
                "not" | "no" | "is" | "isnt" | "isn't" | "im" | "i'm" | "esta" | "am" | "will" | "be"
            )
        })
        .collect();
    let who = match subject.as_slice() {
        [] => Named { id: known.member.id.clone(), whole: false },
        [first, rest @ ..] => {
            let named = named(first, rest.first().map(|word| word.as_str()), known).ok()??;
            if rest.len() > usize::from(named.whole) {
                return None;
            }
            named
        }
    };
    let days =
        words[at + 1..].join(" ").replace(" to ", "-").replace(" a ", "-").replace(" - ", "-").replace("on ", "");
    let days = if days.is_empty() { "today".to_owned() } else { days };
    let (first, last) = days.split_once('-').map_or((days.as_str(), None), |(first, last)| (first, Some(last)));
    let first = day(first.trim(), known.today, true)?;
    let last = last.map_or(Some(first), |last| day(last.trim(), first, true))?;
    (first <= last && last - first <= TimeDelta::days(120)).then_some((who, (first, last), back))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::roster::{ProgramId, Role};

    fn staff() -> Vec<StaffMember> {
        [("ana", "Ana", "Delgado"), ("ben", "Ben", "Ames"), ("cole", "Cole", "Brennan"), ("cole2", "Cole", "Ward")]
            .map(|(id, first, last)| StaffMember {
                program: ProgramId::from("p"),
                id: StaffId::from(id),
                first: first.to_owned(),
                last: last.to_owned(),
                phone: None,
                email: None,
                language: Language::En,
                roles: vec![Role::Trainer],
                teams: Vec::new(),
                duty: Vec::new(),
                hours: None,
                call_order: 1,
                active: true,
            })
            .to_vec()
    }

    fn book() -> Book {
        let model = |name: &str| crate::trade::model::Model::sample(name, None);
        Book { models: vec![model("Tern"), model("Halyard")], ..Book::default() }
    }

    fn told(text: &str) -> Result<NewDrill, String> {
        let (staff, book) = (staff(), book());
        let said: Vec<String> = text.split_whitespace().map(ToOwned::to_owned).collect();
        // A Wednesday.
        let today = "2026-09-16".parse().unwrap();
        read(&said, &Known { member: &staff[0], staff: &staff, book: &book, today })
    }

    fn who(new: &NewDrill) -> Vec<&str> {
        new.people.iter().map(|part| part.staff.as_str()).collect()
    }

    #[test]
    fn a_drill_is_read_as_people_tell_it() {
        let new = told("log roll today ana ben 42s").unwrap();
        assert_eq!((new.skill, who(&new), new.seconds), (Skill::LogRoll, vec!["ana", "ben"], Some(42)));
        let new = told("cutter on the Tern, mon: me and Cole Ward 58 sec").unwrap();
        assert_eq!((new.skill, who(&new), new.seconds), (Skill::MaskCutter, vec!["ana", "cole2"], Some(58)));
        assert_eq!((new.date.to_string(), new.models), ("2026-09-14".to_owned(), vec!["Tern".to_owned()]));
        let new = told("whole plan 8/20 ana, ben").unwrap();
        assert_eq!((new.skill, new.date.to_string()), (Skill::WholePlan, "2026-08-20".to_owned()));
        let new = told("log roll ana head ben chest").unwrap();
        let positions: Vec<_> = new.people.iter().map(|part| part.position).collect();
        assert_eq!(positions, [Some(Position::Head), Some(Position::Chest)]);
    }

    #[test]
    fn what_is_not_sure_is_asked_about() {
        for (text, asked) in [
            ("log roll today anna ben", "who or what is \"anna\"?"),
            ("cutter ana ben 58s", "on which helmet? Tern, Halyard"),
            ("log roll today", "who took part?"),
            ("ana ben 42s", "which drill?"),
            ("log roll cole", "which cole? Write first and last name"),
            ("log roll ana 42", "who or what is \"42\"?"),
        ] {
            let error = told(text).unwrap_err();
            assert!(error.starts_with(asked), "{text}: {error}");
        }
    }

    #[test]
    fn who_is_away_is_read_with_its_days() {
        let (staff, book) = (staff(), book());
        let today: NaiveDate = "2026-09-16".parse().unwrap();
        let known = Known { member: &staff[1], staff: &staff, book: &book, today };
        let read = |text: &str| {
            read_away(text, &known).map(|(who, days, back)| (who.id.0, days.0.to_string(), days.1.to_string(), back))
        };
        let said =
            |who: &str, first: &str, last: &str, back| Some((who.to_owned(), first.to_owned(), last.to_owned(), back));
        assert_eq!(read("ana away fri"), said("ana", "2026-09-18", "2026-09-18", false));
        assert_eq!(read("im away tomorrow"), said("ben", "2026-09-17", "2026-09-17", false));
        assert_eq!(read("Ana Delgado away 9/18 - 9/20"), said("ana", "2026-09-18", "2026-09-20", false));
        assert_eq!(read("ana not away fri"), said("ana", "2026-09-18", "2026-09-18", true));
        assert_eq!(read("take it away"), None);
        assert_eq!(read("the helmet went away fri"), None);
    }
}
