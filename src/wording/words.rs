//! Words that go into the messages: flags, clock times, days, events, lists, in each language.
//!
//! Pure: the caller says which local time and which day is today. What is said around the words is in `templates/`.

use chrono::{Datelike, NaiveDate, NaiveTime, Timelike};

use crate::trade::drill::{Position, Skill};
use crate::trade::flag::{Flag, Flags};
use crate::trade::parts::{Kit, Part, Tool};
use crate::trade::roster::{EventKind, Language};

use Language::{En, Es};

/// A helmet flag as said to an athlete: what is off, as a noun. Body flags have their words too, for medical staff.
#[must_use]
pub const fn flag_words(flag: Flag, language: Language) -> &'static str {
    match (flag, language) {
        (Flag::Brow, En) => "front edge height",
        (Flag::Brow, Es) => "altura sobre las cejas",
        (Flag::Grip, En) => "front pad grip",
        (Flag::Grip, Es) => "agarre de la frente",
        (Flag::Crown, En) => "crown fit",
        (Flag::Crown, Es) => "ajuste de la corona",
        (Flag::Cheeks, En) => "cheek pads",
        (Flag::Cheeks, Es) => "cojines de las mejillas",
        (Flag::Strap, En) => "chin strap",
        (Flag::Strap, Es) => "correa del barbijo",
        (Flag::Hardware, En) => "face mask hardware",
        (Flag::Hardware, Es) => "tornillos de la careta",
        (Flag::Shell, En) => "shell damage",
        (Flag::Shell, Es) => "daño en el casco",
        (Flag::Air, En) => "air liner",
        (Flag::Air, Es) => "forro de aire",
        (Flag::Loose, En) => "loose fit",
        (Flag::Loose, Es) => "ajuste flojo",
        (Flag::Tight, En) => "tight fit",
        (Flag::Tight, Es) => "ajuste apretado",
        (Flag::Pain, En) => "pressure spot",
        (Flag::Pain, Es) => "punto de presión",
        (Flag::Missing, En) => "no helmet with you",
        (Flag::Missing, Es) => "no tienes el casco",
        (Flag::WrongHelmet, En) => "someone else's helmet",
        (Flag::WrongHelmet, Es) => "casco de otra persona",
        (Flag::Symptom, En) => "possible concussion sign",
        (Flag::Symptom, Es) => "posible señal de conmoción",
        (Flag::Illness, En) => "ill",
        (Flag::Illness, Es) => "enfermedad",
        (Flag::Injury, En) => "hurt",
        (Flag::Injury, Es) => "lesión",
        (Flag::Unwell, En) => "doesn't feel right",
        (Flag::Unwell, Es) => "no se siente bien",
    }
}

/// A flag in a staff list: as short as it can be and still be understood.
#[must_use]
pub const fn flag_short(flag: Flag, language: Language) -> &'static str {
    match (flag, language) {
        (Flag::Brow, En) => "brow",
        (Flag::Brow, Es) => "frente",
        (Flag::Grip, En) => "grip",
        (Flag::Grip, Es) => "agarre",
        (Flag::Crown, En) => "crown",
        (Flag::Crown, Es) => "corona",
        (Flag::Cheeks, En) => "cheeks",
        (Flag::Cheeks, Es) => "mejillas",
        (Flag::Strap, En) => "strap",
        (Flag::Strap, Es) => "barbijo",
        (Flag::Hardware, En) => "mask",
        (Flag::Hardware, Es) => "careta",
        (Flag::Shell, En) => "shell",
        (Flag::Shell, Es) => "casco dañado",
        (Flag::Air, En) => "air",
        (Flag::Air, Es) => "aire",
        (Flag::Loose, En) => "loose",
        (Flag::Loose, Es) => "flojo",
        (Flag::Tight, En) => "tight",
        (Flag::Tight, Es) => "apretado",
        (Flag::Pain, En) => "pressure spot",
        (Flag::Pain, Es) => "punto de presión",
        (Flag::Missing, En) => "no helmet",
        (Flag::Missing, Es) => "sin casco",
        (Flag::WrongHelmet, En) => "wrong helmet",
        (Flag::WrongHelmet, Es) => "casco ajeno",
        (Flag::Symptom | Flag::Illness | Flag::Injury | Flag::Unwell, En | Es) => flag_words(flag, language),
    }
}

/// The helmet flags of a set in words, joined naturally: "front edge height, cheek pads and chin strap". More than
/// three are named as shortly as in the check itself.
///
/// Body flags are left out: what this returns may go to anyone who looks after helmets.
#[must_use]
pub fn helmet_words(flags: Flags, language: Language) -> String {
    let helmet = flags.helmet();
    let name = if helmet.len() > 3 { flag_short } else { flag_words };
    let words: Vec<&str> = helmet.iter().map(|flag| name(flag, language)).collect();
    joined(&words, language)
}

/// The helmet flags of a set for a staff list: "brow, strap". Body flags are left out.
#[must_use]
pub fn helmet_short(flags: Flags, language: Language) -> String {
    let words: Vec<&str> = flags.helmet().iter().map(|flag| flag_short(flag, language)).collect();
    words.join(", ")
}

/// The body flags of a set in words, for medical staff alone.
#[must_use]
pub fn body_words(flags: Flags, language: Language) -> String {
    let words: Vec<&str> = flags.body().iter().map(|flag| flag_words(flag, language)).collect();
    words.join(", ")
}

/// Parts and tools in words, counted: "3 chin straps", "1 face-mask clip (Tern)", "needle and glycerine".
#[must_use]
pub fn kit_words(kit: &Kit, language: Language) -> Vec<String> {
    let parts = kit.parts.iter().map(|row| {
        let name = part_words(row.part, row.count == 1, language);
        let model = row.model.as_ref().map(|model| format!(" ({model})")).unwrap_or_default();
        format!("{} {name}{model}", row.count)
    });
    parts.chain(kit.tools.iter().map(|tool| tool_words(*tool, language).to_owned())).collect()
}

const fn part_words(part: Part, one: bool, language: Language) -> &'static str {
    match (part, one, language) {
        (Part::Helmet, true, En) => "helmet to issue",
        (Part::Helmet, false, En) => "helmets to issue",
        (Part::Helmet, true, Es) => "casco para entregar",
        (Part::Helmet, false, Es) => "cascos para entregar",
        (Part::ChinStrap, true, En) => "chin strap",
        (Part::ChinStrap, false, En) => "chin straps",
        (Part::ChinStrap, true, Es) => "barbijo",
        (Part::ChinStrap, false, Es) => "barbijos",
        (Part::MaskClip, true, En) => "face-mask clip",
        (Part::MaskClip, false, En) => "face-mask clips",
        (Part::MaskClip, true, Es) => "broche de careta",
        (Part::MaskClip, false, Es) => "broches de careta",
        (Part::JawPads, true, En) => "pair of jaw pads",
        (Part::JawPads, false, En) => "pairs of jaw pads",
        (Part::JawPads, true, Es) => "par de cojines",
        (Part::JawPads, false, Es) => "pares de cojines",
        (Part::FrontPad, true, En) => "front pad",
        (Part::FrontPad, false, En) => "front pads",
        (Part::FrontPad, true, Es) => "cojín frontal",
        (Part::FrontPad, false, Es) => "cojines frontales",
    }
}

const fn tool_words(tool: Tool, language: Language) -> &'static str {
    match (tool, language) {
        (Tool::Screwdriver, En) => "screwdriver",
        (Tool::Screwdriver, Es) => "destornillador",
        (Tool::Needle, En) => "needle and glycerine",
        (Tool::Needle, Es) => "aguja y glicerina",
    }
}

/// Signs that mean calling 911 at once, in plain words: the red flags of the Concussion Recognition Tool 6
/// (Echemendia et al., Br J Sports Med 2023;57:692-694).
#[must_use]
pub const fn signs_911(language: Language) -> &'static str {
    match language {
        En => {
            "neck pain, a seizure, passing out, seeing double, losing sight, weak, numb or tingling arms or legs, more \
             and more confused, sleepy, restless or angry, throwing up again and again, a bad or worsening headache, a \
             skull out of shape"
        }
        Es => {
            "dolor de cuello, convulsiones, desmayo, ver doble, perder la vista, brazos o piernas débiles, dormidos o \
             con hormigueo, cada vez más confusión, sueño, inquietud o enojo, vómitos repetidos, dolor de cabeza \
             fuerte o que empeora, cráneo deformado"
        }
    }
}

/// Where helmets are seen to when the program has not said: with its article, as `place` wants it.
#[must_use]
pub const fn equipment_room(language: Language) -> &'static str {
    match language {
        En => "the equipment room",
        Es => "el cuarto de equipo",
    }
}

/// Joined as people say it: "a", "a and b", "a, b and c"; in Spanish "y", and "e" before an i sound.
#[must_use]
pub fn joined(words: &[&str], language: Language) -> String {
    match words {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [first @ .., last] => {
            let and = match language {
                En => "and",
                Es if begins_with_i(last) => "e",
                Es => "y",
            };
            format!("{} {and} {last}", first.join(", "))
        }
    }
}

/// Whether a Spanish word begins with the sound that turns "y" into "e": i or hi, but not the glide of "hierro".
fn begins_with_i(word: &str) -> bool {
    let lower = word.to_lowercase();
    let bare = lower.strip_prefix('h').unwrap_or(&lower);
    let mut letters = bare.chars();
    match (letters.next(), letters.next()) {
        (Some('í'), _) => true,
        (Some('i'), next) => !matches!(next, Some('a' | 'á' | 'e' | 'é' | 'o' | 'ó')),
        _ => false,
    }
}

/// A skill as it is said.
#[must_use]
pub const fn skill_words(skill: Skill, language: Language) -> &'static str {
    match (language, skill) {
        (En, _) => skill.words(),
        (Es, Skill::LogRoll) => "giro en bloque",
        (Es, Skill::MaskTool) => "careta con la herramienta",
        (Es, Skill::MaskCutter) => "careta con el cortador",
        (Es, Skill::HelmetRemoval) => "retiro del casco",
        (Es, Skill::PadRemoval) => "retiro de hombreras",
        (Es, Skill::LiftTeam) => "levantamiento en equipo",
        (Es, Skill::WholePlan) => "plan de emergencia completo",
    }
}

/// What a drill of it needs, with its article.
#[must_use]
pub const fn skill_brings(skill: Skill, language: Language) -> &'static str {
    match (language, skill) {
        (En, Skill::MaskTool) => "the charged screwdriver",
        (En, Skill::MaskCutter) => "the cutter with a mask to cut",
        (En, Skill::LogRoll | Skill::LiftTeam) => "the board",
        (En, Skill::HelmetRemoval) => "a helmet",
        (En, Skill::PadRemoval) => "shoulder pads",
        (En, Skill::WholePlan) => "the plan with kit and AED",
        (Es, Skill::MaskTool) => "el destornillador cargado",
        (Es, Skill::MaskCutter) => "el cortador con una careta para cortar",
        (Es, Skill::LogRoll | Skill::LiftTeam) => "la tabla",
        (Es, Skill::HelmetRemoval) => "un casco",
        (Es, Skill::PadRemoval) => "hombreras",
        (Es, Skill::WholePlan) => "el plan con botiquín y DEA",
    }
}

/// A position of the response as it is said.
#[must_use]
pub const fn position_words(position: Position, language: Language) -> &'static str {
    match (language, position) {
        (En, Position::Head) => "head and neck",
        (En, Position::Mask) => "mask with the tool",
        (En, Position::Cutter) => "cutter",
        (En, Position::Chest) => "chest",
        (En, Position::Hips) => "hips",
        (En, Position::Legs) => "legs",
        (En, Position::Board) => "board",
        (En, Position::Call) => "calling 911",
        (Es, Position::Head) => "cabeza y cuello",
        (Es, Position::Mask) => "careta con herramienta",
        (Es, Position::Cutter) => "cortador",
        (Es, Position::Chest) => "pecho",
        (Es, Position::Hips) => "cadera",
        (Es, Position::Legs) => "piernas",
        (Es, Position::Board) => "tabla",
        (Es, Position::Call) => "llamar al 911",
    }
}

/// Choices as a short question shows them: "1 Jonah 2 Eli".
#[must_use]
pub fn options(names: &[&str]) -> String {
    let numbered: Vec<String> = names.iter().enumerate().map(|(index, name)| format!("{} {name}", index + 1)).collect();
    numbered.join(" ")
}

/// A local time as people say it: "3:00 pm", in Spanish "3:00 p. m."
#[must_use]
pub fn clock_words(time: NaiveTime, language: Language) -> String {
    let (afternoon, hour) = time.hour12();
    let half = match (afternoon, language) {
        (false, En) => "am",
        (true, En) => "pm",
        (false, Es) => "a. m.",
        (true, Es) => "p. m.",
    };
    format!("{hour}:{:02} {half}", time.minute())
}

/// A local time as it stands after "by" or "antes de": "3:00 pm", in Spanish "las 3:00 p. m." or "la 1:00 p. m."
#[must_use]
pub fn by_words(time: NaiveTime, language: Language) -> String {
    let clock = clock_words(time, language);
    match (language, time.hour12().1) {
        (En, _) => clock,
        (Es, 1) => format!("la {clock}"),
        (Es, _) => format!("las {clock}"),
    }
}

/// A day as people say it: "today", "tomorrow", "yesterday", "Thu Sep 3"; "hoy", "mañana", "ayer", "el jue 3 sep".
#[must_use]
pub fn day_words(date: NaiveDate, today: NaiveDate, language: Language) -> String {
    match (date.signed_duration_since(today).num_days(), language) {
        (0, En) => "today".to_owned(),
        (0, Es) => "hoy".to_owned(),
        (1, En) => "tomorrow".to_owned(),
        (1, Es) => "mañana".to_owned(),
        (-1, En) => "yesterday".to_owned(),
        (-1, Es) => "ayer".to_owned(),
        (_, En) => date.format("%a %b %-d").to_string(),
        (_, Es) => {
            let weekday = DAYS_ES[date.weekday().num_days_from_monday() as usize];
            let month = MONTHS_ES[date.month0() as usize];
            format!("el {weekday} {} {month}", date.day())
        }
    }
}

const DAYS_ES: [&str; 7] = ["lun", "mar", "mié", "jue", "vie", "sáb", "dom"];
const MONTHS_ES: [&str; 12] = ["ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"];

/// A day and a time together: "today at 3:30 pm", "mañana a la 1:00 p. m."
#[must_use]
pub fn when_words(date: NaiveDate, time: NaiveTime, today: NaiveDate, language: Language) -> String {
    let day = day_words(date, today, language);
    let time = by_words(time, language);
    match language {
        En => format!("{day} at {time}"),
        Es => format!("{day} a {time}"),
    }
}

/// A practice or game as it stands in a sentence, with its article: "the practice today at 3:30 pm",
/// "la práctica de hoy a las 3:30 p. m.", "el partido del jue 3 sep a las 7:00 p. m."
#[must_use]
pub fn event_words(kind: EventKind, date: NaiveDate, time: NaiveTime, today: NaiveDate, language: Language) -> String {
    let when = when_words(date, time, today, language);
    match (language, kind) {
        (En, EventKind::Practice) => format!("the practice {when}"),
        (En, EventKind::Game) => format!("the game {when}"),
        (Es, EventKind::Practice) => format!("la práctica {}", of_es(&when)),
        (Es, EventKind::Game) => format!("el partido {}", of_es(&when)),
    }
}

/// A practice or game as the head of a staff list: "practice 3:30 pm", "partido 7:00 p. m."
#[must_use]
pub fn event_short(kind: EventKind, time: NaiveTime, language: Language) -> String {
    let name = match (language, kind) {
        (En, EventKind::Practice) => "practice",
        (En, EventKind::Game) => "game",
        (Es, EventKind::Practice) => "práctica",
        (Es, EventKind::Game) => "partido",
    };
    format!("{name} {}", clock_words(time, language))
}

/// "de hoy", and "del jue 3 sep" where the day brings its article.
fn of_es(when: &str) -> String {
    when.strip_prefix("el ").map_or_else(|| format!("de {when}"), |rest| format!("del {rest}"))
}

/// What a family was told, in a few words.
#[must_use]
pub const fn news_words(news: crate::trade::notice::News, language: Language) -> &'static str {
    use crate::trade::notice::News;
    match (news, language) {
        (News::Held, Language::En) => "held, no practice or games for now",
        (News::Held, Language::Es) => "en pausa, sin prácticas ni partidos por ahora",
        (News::StepReached, Language::En) => "took the next step back to practice",
        (News::StepReached, Language::Es) => "dio el siguiente paso para volver",
        (News::Cleared, Language::En) => "may take part again",
        (News::Cleared, Language::Es) => "puede volver a participar",
        (News::HelmetOut, Language::En) => "helmet out of use",
        (News::HelmetOut, Language::Es) => "casco fuera de uso",
        (News::HelmetBack, Language::En) => "helmet in use again",
        (News::HelmetBack, Language::Es) => "casco en uso de nuevo",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn time(text: &str) -> NaiveTime {
        NaiveTime::parse_from_str(text, "%H:%M").unwrap()
    }

    fn date(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn clock_times_are_said_as_people_say_them() {
        for (at, en, es) in [
            ("00:05", "12:05 am", "12:05 a. m."),
            ("06:45", "6:45 am", "6:45 a. m."),
            ("12:00", "12:00 pm", "12:00 p. m."),
            ("15:00", "3:00 pm", "3:00 p. m."),
        ] {
            assert_eq!(clock_words(time(at), En), en);
            assert_eq!(clock_words(time(at), Es), es);
        }
        assert_eq!(by_words(time("13:15"), Es), "la 1:15 p. m.");
        assert_eq!(by_words(time("14:15"), Es), "las 2:15 p. m.");
        assert_eq!(by_words(time("14:15"), En), "2:15 pm");
    }

    #[test]
    fn days_near_today_have_names_and_the_rest_have_dates() {
        let today = date("2026-09-01");
        for (day, en, es) in [
            ("2026-08-31", "yesterday", "ayer"),
            ("2026-09-01", "today", "hoy"),
            ("2026-09-02", "tomorrow", "mañana"),
            ("2026-09-03", "Thu Sep 3", "el jue 3 sep"),
            ("2027-01-02", "Sat Jan 2", "el sáb 2 ene"),
        ] {
            assert_eq!(day_words(date(day), today, En), en);
            assert_eq!(day_words(date(day), today, Es), es);
        }
    }

    #[test]
    fn an_event_fits_into_a_sentence() {
        let (today, later) = (date("2026-09-01"), date("2026-09-04"));
        let practice = |language| event_words(EventKind::Practice, today, time("15:30"), today, language);
        let game = |language| event_words(EventKind::Game, later, time("19:00"), today, language);
        assert_eq!(practice(En), "the practice today at 3:30 pm");
        assert_eq!(practice(Es), "la práctica de hoy a las 3:30 p. m.");
        assert_eq!(game(En), "the game Fri Sep 4 at 7:00 pm");
        assert_eq!(game(Es), "el partido del vie 4 sep a las 7:00 p. m.");
        assert_eq!(event_short(EventKind::Game, time("19:00"), Es), "partido 7:00 p. m.");
    }

    #[test]
    fn lists_are_joined_as_people_say_them() {
        assert_eq!(joined(&[], En), "");
        assert_eq!(joined(&["brow"], En), "brow");
        assert_eq!(joined(&["brow", "chin strap"], En), "brow and chin strap");
        assert_eq!(joined(&["brow", "grip", "mask"], En), "brow, grip and mask");
        assert_eq!(joined(&["Jonah", "Eli"], Es), "Jonah y Eli");
        assert_eq!(joined(&["Jonah", "Iván"], Es), "Jonah e Iván");
        assert_eq!(joined(&["Eva", "Hilario"], Es), "Eva e Hilario");
        assert_eq!(joined(&["tela", "hierro"], Es), "tela y hierro");
        assert_eq!(options(&["Jonah", "Eli"]), "1 Jonah 2 Eli");
    }

    #[test]
    fn parts_and_tools_are_counted_in_words() {
        use crate::trade::parts::kit;
        let strap: Flags = [Flag::Strap].into_iter().collect();
        let items = [(strap, Some("Tern")), (strap, None), (strap, None)];
        let more: Flags = [Flag::Hardware, Flag::Air].into_iter().collect();
        let kit = kit(items.into_iter().chain([(more, Some("Tern"))]));
        assert_eq!(
            kit_words(&kit, En),
            ["3 chin straps", "1 face-mask clip (Tern)", "screwdriver", "needle and glycerine"]
        );
        assert_eq!(kit_words(&kit, Es)[0], "3 barbijos");
    }

    #[test]
    fn every_flag_has_words_and_body_words_stay_out_of_helmet_lists() {
        let all: Flags = Flag::ALL.into_iter().collect();
        for language in [En, Es] {
            for flag in Flag::ALL {
                assert!(!flag_words(flag, language).is_empty());
                let own: Flags = [flag].into_iter().collect();
                assert_eq!(helmet_words(own, language).is_empty(), flag.is_body());
                assert_eq!(helmet_short(own, language).is_empty(), flag.is_body());
                assert_eq!(body_words(own, language).is_empty(), !flag.is_body());
            }
            assert_eq!(helmet_words(all, language), helmet_words(all.helmet(), language));
        }
        let flags: Flags = [Flag::Symptom, Flag::Strap, Flag::Brow].into_iter().collect();
        assert_eq!(helmet_words(flags, En), "front edge height and chin strap");
        let six: Flags = (1..=6).filter_map(Flag::from_check_point).collect();
        assert_eq!(helmet_words(six, En), "brow, grip, crown, cheeks, strap and mask");
        assert_eq!(helmet_short(flags, Es), "frente, barbijo");
    }
}
