//! Ways back in words.

use crate::config::Program;
use crate::desk::scene::Scene;
use crate::trade::clearance::{Course, Lack, Next, Refused};
use crate::trade::roster::Language;
use crate::trade::time::Moment;
use crate::wording::words::when_words;

use super::record::Not;

/// "3:30 pm tomorrow".
#[must_use]
pub fn moment(at: Moment, scene: &Scene<'_>, language: Language) -> String {
    let local = at.local(scene.program.zone);
    when_words(local.date(), local.time(), scene.today, language)
}

/// What is next, in a sentence.
#[must_use]
pub fn next(scene: &Scene<'_>, course: &Course, language: Language) -> Option<String> {
    let progression = scene.progression(course)?;
    let Next { step, at, lacks_determination } = course.next(progression)?;
    let when = if at <= scene.now { None } else { Some(moment(at, scene, language)) };
    let text = match (language, when) {
        (Language::En, Some(when)) => format!("Step {step} at the soonest {when}"),
        (Language::En, None) => format!("Step {step} may begin when there are no symptoms"),
        (Language::Es, Some(when)) => format!("Paso {step} lo más pronto {when}"),
        (Language::Es, None) => format!("El paso {step} puede empezar si no hay síntomas"),
    };
    let is_last = step == progression.last();
    let lacks = match language {
        Language::En if is_last => ", by a licensed clinician's clearance",
        Language::Es if is_last => ", con el alta de un profesional con licencia",
        _ if !lacks_determination => "",
        Language::En => ", after a licensed clinician's determination",
        Language::Es => ", con la decisión de un profesional con licencia",
    };
    Some(format!("{text}{lacks}."))
}

fn refused(refused: Refused, scene: &Scene<'_>, language: Language) -> String {
    match (refused, language) {
        (Refused::Early(step, at), Language::En) => {
            format!("it is too early for step {step}: at the soonest {}", moment(at, scene, language))
        }
        (Refused::Early(step, at), Language::Es) => {
            format!("es muy pronto para el paso {step}: lo más pronto {}", moment(at, scene, language))
        }
        (Refused::Skips(step), Language::Es) => format!("el paso siguiente es el {step}"),
        (Refused::Determination(step), Language::Es) => {
            format!("el paso {step} necesita la decisión de un profesional con licencia")
        }
        (Refused::Reached(step), Language::Es) => format!("ya está en el paso {step}"),
        (Refused::NoSuchStep(step), Language::Es) => format!("no hay paso {step}"),
        (Refused::Over, Language::Es) => "ya terminó".to_owned(),
        (refused, Language::En) => refused.to_string(),
    }
}

/// Why nothing was recorded, in words.
#[must_use]
pub fn why_not(not: &Not, scene: &Scene<'_>, language: Language) -> String {
    let (en, es) = match not {
        Not::Allowed => ("your role does not record ways back", "su función no anota regresos"),
        Not::Found => ("there is no such athlete here", "no hay tal atleta"),
        Not::Held => ("nobody holds this athlete for a body reason", "este atleta no está en pausa médica"),
        Not::Open => ("a way back is on file already", "ya hay un plan de regreso"),
        Not::NoCourse => (
            "no way back is on file yet; open it on the board first",
            "aún no hay plan de regreso; ábralo en el tablero",
        ),
        Not::NoSteps => ("this way back has no steps", "este plan no tiene pasos"),
        Not::NoProgression => ("there is no such way back", "no hay tal plan"),
        Not::SamePerson => (
            "a second person has to confirm, not the one who recorded it",
            "debe confirmar otra persona, no quien lo anotó",
        ),
        Not::NothingToConfirm => ("no clearance waits to be confirmed", "ninguna alta espera confirmación"),
        Not::Reason => (
            "an early or skipped step needs the clinician's reason",
            "un paso antes de tiempo necesita el motivo del profesional",
        ),
        Not::LastStep => (
            "the last step begins with a licensed clinician's clearance, recorded on the board",
            "el último paso empieza con el alta de un profesional con licencia, anotada en el tablero",
        ),
        Not::Step(why) => return refused(*why, scene, language),
        Not::Lacks(lacks) => {
            let each: Vec<String> = lacks
                .iter()
                .map(|lack| match lack {
                    Lack::TooSoon(at) => {
                        format!("more time: nobody is cleared before {}", moment(*at, scene, Language::En))
                    }
                    other => other.to_string(),
                })
                .collect();
            return format!("it lacks {}", each.join("; "));
        }
    };
    match language {
        Language::En => en.to_owned(),
        Language::Es => es.to_owned(),
    }
}

/// The address of the page, for texts.
#[must_use]
pub fn page(program: &Program) -> Option<&str> {
    program.clearance.page.as_ref().map(url::Url::as_str)
}

/// Where a course stands: "in step 2".
#[must_use]
pub fn standing(course: &Course, language: Language) -> String {
    match (course.step, language) {
        (0, Language::En) => "rest, no step yet".to_owned(),
        (0, Language::Es) => "reposo, aún sin pasos".to_owned(),
        (step, Language::En) => format!("in step {step}"),
        (step, Language::Es) => format!("en el paso {step}"),
    }
}
