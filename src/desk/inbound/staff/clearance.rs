//! Ways back by text: "12 step 3", "12 worse 4 90" (points of ten, minutes), "12 way" (how it stands). What a stolen phone
//! may not do is not done by text: a determination, a clearance, a step out of its turn.

use super::answer;
use crate::desk::clearance::record::{self, Act};
use crate::desk::clearance::{held, load_all, say};
use crate::desk::inbound::who::fold;
use crate::desk::scene::Scene;
use crate::store::rows::InMessage;
use crate::store::{Result, Tx};
use crate::trade::clearance::Worsening;
use crate::trade::roster::{AthleteId, Language, StaffMember};
use crate::wording::Message;

/// What such a text asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asked {
    Step(usize),
    Worse(Worsening),
    Way,
    Clear,
}

/// Without a number, worsening is taken for more than mild and brief: the safe side.
const WORSE: Worsening = Worsening { points: 10, minutes: 60 };

/// Who is meant, and what is asked for. Every word has to belong to it.
fn read(text: &str) -> Option<(String, Asked)> {
    let words: Vec<String> =
        text.split_whitespace().map(|word| fold(word).trim_matches(['#', ':', ',', '.', '!']).to_owned()).collect();
    let (who, rest) = words.split_first()?;
    let rest: Vec<&str> = rest.iter().map(String::as_str).collect();
    let asked = match rest.as_slice() {
        ["step" | "paso" | "stage", number] => Asked::Step(number.parse().ok()?),
        ["worse" | "peor"] => Asked::Worse(WORSE),
        ["worse" | "peor", points, minutes] => {
            let minutes = minutes.trim_end_matches(|c: char| c.is_alphabetic());
            Asked::Worse(Worsening {
                points: points.parse().ok().filter(|points| *points <= 10)?,
                minutes: minutes.parse().ok()?,
            })
        }
        ["way" | "regreso" | "plan"] => Asked::Way,
        ["clear" | "cleared" | "alta" | "autorizado"] | ["is", "cleared"] => Asked::Clear,
        _ => return None,
    };
    Some((who.clone(), asked))
}

/// Whether a text may be about a way back: so that they are loaded.
#[must_use]
pub fn is_about(text: &str) -> bool {
    read(text).is_some()
}

/// Loads the ways back when a text may be about them.
pub async fn load_for(tx: &mut Tx, scene: &mut Scene<'_>, texts: &[&str]) -> Result<()> {
    if texts.iter().any(|text| is_about(text)) {
        load_all(tx, scene).await?;
    }
    Ok(())
}

/// Acts on a text of medical staff about somebody who is held; false when it is about nobody such.
pub fn obey(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, text: &str) -> bool {
    let Some((who, asked)) = read(text).filter(|_| record::may(member) && scene.ways.is_some()) else { return false };
    let is = |athlete: &&AthleteId| {
        scene.athletes.get(*athlete).is_some_and(|person| {
            member.serves(&person.team)
                && (person.jersey.as_deref() == Some(who.as_str())
                    || fold(&person.first) == who
                    || fold(&person.last) == who)
        })
    };
    let all = held(scene);
    let fits: Vec<AthleteId> = all.keys().filter(is).cloned().collect();
    let [athlete] = fits.as_slice() else {
        if fits.is_empty() {
            return false;
        }
        let names: Vec<String> = fits
            .iter()
            .filter_map(|id| scene.athletes.get(id))
            .map(|person| format!("{} {} ({})", person.first, person.last, person.team))
            .collect();
        let names = names.join(", ");
        let why = match member.language {
            Language::En => format!("which one? Write the last name in its place: {names}"),
            Language::Es => format!("¿cuál? Escriba el apellido en su lugar: {names}"),
        };
        answer(scene, message, member, &Message::NotRecorded { who: &who, why: &why });
        return true;
    };
    let label = scene.who(athlete);
    let act = match asked {
        Asked::Step(to) => Act::Step(to, None),
        Asked::Worse(how) => Act::Worse(how),
        Asked::Clear => {
            answer(scene, message, member, &Message::MedicalNotByText { who: &label });
            return true;
        }
        Asked::Way => {
            let what = scene.course(athlete).map_or_else(
                || say::why_not(&record::Not::NoCourse, scene, member.language),
                |course| say::standing(course, member.language),
            );
            tell(scene, message, member, athlete, &label, &what);
            return true;
        }
    };
    match record::act(scene, member, athlete, &act, &message.id) {
        Ok(what) => {
            tell(scene, message, member, athlete, &label, &what);
            scene.tell(format!("{}: way back of {label} noted", member.first));
        }
        Err(not) => {
            let why = say::why_not(&not, scene, member.language);
            answer(scene, message, member, &Message::NotRecorded { who: &label, why: &why });
        }
    }
    true
}

fn tell(scene: &mut Scene<'_>, message: &InMessage, member: &StaffMember, athlete: &AthleteId, who: &str, what: &str) {
    let next = scene.course(athlete).cloned().and_then(|course| say::next(scene, &course, member.language));
    answer(scene, message, member, &Message::CourseNoted { who, what, next: next.as_deref() });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_has_to_belong_to_it() {
        let step = read;
        assert_eq!(step("12 step 3"), Some(("12".into(), Asked::Step(3))));
        assert_eq!(step("#12 paso 3."), Some(("12".into(), Asked::Step(3))));
        assert_eq!(step("12 worse 2 30min"), Some(("12".into(), Asked::Worse(Worsening { points: 2, minutes: 30 }))));
        assert_eq!(step("ivan worse"), Some(("ivan".into(), Asked::Worse(WORSE))));
        assert_eq!(step("12 cleared"), Some(("12".into(), Asked::Clear)));
        for other in [
            "12 step",
            "12 step three",
            "12 back",
            "12 worse 11 30",
            "12 step 3 and fine",
            "12",
            "step 3",
            "12 done new strap",
        ] {
            assert_eq!(step(other), None, "{other}");
        }
    }
}
