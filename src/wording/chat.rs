//! Words of posts and answers on the chat platform, in each language. Posts cost nothing by length, so that these need no
//! budget; what holds for texts of staff holds here: no medical words.

use crate::trade::morning::CheckState;
use crate::trade::roster::Language;

use Language::{En, Es};

/// A word or sentence without anything to fill in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is its own words")]
pub enum Say {
    // Controls.
    Take,
    Hold,
    Reached,
    FixedPrompt,
    HandPrompt,
    HandOpen,
    TrainerPage,
    CallOff,
    LeaveOn,
    AllGood,
    NotRight,
    // Items.
    LookAtIt,
    DoNotWear,
    OutOfUse,
    Open,
    Closed,
    HasReply,
    BodyWaits,
    BodyTaken,
    BodyClosed,
    SomebodyWaits,
    NobodyKnown,
    NoJersey,
    // Answers.
    NotStaff,
    NotAllowed,
    ItemGone,
    NotRead,
    ItemClosed,
    MedicalHold,
    Nothing,
    NothingOff,
    StillOn,
    NoEvent,
    WhichEvent,
    NoSuchAthlete,
    WhichAthlete,
    CodeWrong,
    CodesTooMany,
    Unlinked,
    NotLinked,
    UseTexts,
    OldCheck,
    NotYours,
    Later,
    NotSetUp,
    NoHelmet,
    MayTakePart,
    SeeTrainer,
}

/// A word or sentence.
#[must_use]
pub const fn say(what: Say, language: Language) -> &'static str {
    let (en, es) = both(what);
    match language {
        En => en,
        Es => es,
    }
}

const fn both(what: Say) -> (&'static str, &'static str) {
    match what {
        Say::Take => ("I take it", "Lo tomo"),
        Say::Hold => ("Hold: out of use", "Fuera de uso"),
        Say::Reached => ("Done", "Listo"),
        Say::FixedPrompt => ("Fixed: what was done?", "Arreglado: ¿qué se hizo?"),
        Say::HandPrompt => ("Hand on to...", "Pasar a..."),
        Say::HandOpen => ("whoever takes it", "quien lo tome"),
        Say::TrainerPage => ("Trainer's page", "Página de medicina deportiva"),
        Say::CallOff => ("Call off", "Cancelar"),
        Say::LeaveOn => ("Leave it on", "Dejar como está"),
        Say::AllGood => ("All good", "Todo bien"),
        Say::NotRight => ("7 not right", "7 no me siento bien"),
        Say::LookAtIt => ("look at it", "revisar"),
        Say::DoNotWear => ("not to be worn until staff have checked it", "no se usa hasta que el personal lo revise"),
        Say::OutOfUse => ("out of use", "fuera de uso"),
        Say::Open => ("open", "pendiente"),
        Say::Closed => ("done", "listo"),
        Say::HasReply => {
            ("an answer was not understood: ask and look", "no se entendió una respuesta: preguntar y mirar")
        }
        Say::BodyWaits => ("A body report is waiting.", "Hay un reporte de salud pendiente."),
        Say::BodyTaken => {
            ("A body report is with the athletic trainer.", "Medicina deportiva ya tiene el reporte de salud.")
        }
        Say::BodyClosed => ("A body report is closed.", "Un reporte de salud está cerrado."),
        Say::SomebodyWaits => ("Somebody has to be reached", "Hay que comunicarse con alguien"),
        Say::NobodyKnown => ("an unknown number", "un número desconocido"),
        Say::NoJersey => ("an athlete without a number", "un atleta sin número"),
        Say::NotStaff => (
            "That is for staff. If you are staff, link your staff number with /link.",
            "Eso es para el personal. Si eres del personal, enlaza tu número con /link.",
        ),
        Say::NotAllowed => {
            ("Your role cannot do that here. Nothing was changed.", "Tu función no puede hacer eso aquí. Nada cambió.")
        }
        Say::ItemGone => ("That is not on the list any more.", "Eso ya no está en la lista."),
        Say::NotRead => ("That could not be read. Nothing was noted.", "Eso no se entendió. Nada se anotó."),
        Say::ItemClosed => ("That is done already.", "Eso ya está listo."),
        Say::MedicalHold => (
            "Held: see the athletic trainer. That cannot be ended here.",
            "En pausa: ver a medicina deportiva. Eso no se termina aquí.",
        ),
        Say::Nothing => ("Nothing is open.", "No hay nada pendiente."),
        Say::NothingOff => ("Nobody is silent.", "Todos respondieron."),
        Say::StillOn => ("Nothing was called off.", "No se canceló nada."),
        Say::NoEvent => ("No practice or game is left today.", "No queda práctica ni partido hoy."),
        Say::WhichEvent => {
            ("Really call it off? Everyone who was asked hears.", "¿Cancelar de verdad? Se avisa a todos.")
        }
        Say::NoSuchAthlete => ("No athlete like that on your teams.", "No hay ningún atleta así en tus equipos."),
        Say::WhichAthlete => ("Which one?", "¿Cuál?"),
        Say::CodeWrong => (
            "That code is not good: each works once, for 10 minutes. Text \"chat\" to the program's number for a new one.",
            "Ese código no sirve: cada uno vale una vez, 10 minutos. Manda \"chat\" al número del programa para otro.",
        ),
        Say::CodesTooMany => (
            "Too many wrong codes. Wait an hour, then text \"chat\" for a new one.",
            "Demasiados códigos malos. Espera una hora y manda \"chat\" para otro.",
        ),
        Say::Unlinked => (
            "This account is no longer linked. Texts come to your phone again.",
            "Esta cuenta ya no está enlazada. Los mensajes vuelven a tu teléfono.",
        ),
        Say::NotLinked => ("This account is not linked.", "Esta cuenta no está enlazada."),
        Say::UseTexts => (
            "Staff use the posts and commands on the server, or texts. Nothing was done with this message.",
            "El personal usa los avisos y comandos del servidor, o mensajes de texto. No se hizo nada con este mensaje.",
        ),
        Say::OldCheck => (
            "That check is over; nothing was noted as good. Answer today's, or tell staff.",
            "Esa revisión ya pasó; no se anotó nada. Responde la de hoy o avisa al personal.",
        ),
        Say::NotYours => ("That check is somebody else's.", "Esa revisión es de otra persona."),
        Say::Later => (
            "That did not work just now. Try again in a minute, or text.",
            "No funcionó en este momento. Intenta en un minuto o manda un mensaje de texto.",
        ),
        Say::NotSetUp => ("This server is not set up for a program.", "Este servidor no está configurado."),
        Say::NoHelmet => ("no helmet on record", "sin casco registrado"),
        Say::SeeTrainer => ("held: see the athletic trainer", "en pausa: ver a medicina deportiva"),
        Say::MayTakePart => ("not held", "sin pausa"),
    }
}

/// What was done, as staff pick it: a key for the menu, and its words.
const FIXES: [(&str, &str, &str); 9] = [
    ("refit", "refitted", "reajustado"),
    ("strap", "new chin strap", "barbijo nuevo"),
    ("strap-set", "chin strap adjusted", "barbijo ajustado"),
    ("mask", "face mask hardware replaced", "tornillos de la careta cambiados"),
    ("mask-set", "face mask tightened", "careta apretada"),
    ("pads", "pads changed", "cojines cambiados"),
    ("air", "air filled", "aire ajustado"),
    ("swap", "other helmet issued", "otro casco entregado"),
    ("checked", "checked hands-on, nothing to fix", "revisado en mano, nada que arreglar"),
];

/// The choices of what was done.
#[must_use]
pub fn fixes(language: Language) -> Vec<(String, String)> {
    FIXES.iter().map(|(key, _, _)| ((*key).to_owned(), fix(key, language).unwrap_or_default().to_owned())).collect()
}

/// What was done, in words.
#[must_use]
pub fn fix(key: &str, language: Language) -> Option<&'static str> {
    let (_, en, es) = FIXES.iter().find(|(known, _, _)| *known == key)?;
    Some(match language {
        En => en,
        Es => es,
    })
}

/// A check point on a button: "5 strap".
#[must_use]
pub fn point(number: u8, language: Language) -> String {
    let name = match (number, language) {
        (1, En) => "brow",
        (1, Es) => "frente",
        (2, En) => "grip",
        (2, Es) => "agarre",
        (3, En) => "crown",
        (3, Es) => "corona",
        (4, En) => "cheeks",
        (4, Es) => "mejillas",
        (5, En) => "strap",
        (5, Es) => "barbijo",
        (6, En) => "mask",
        (6, Es) => "careta",
        _ => return say(Say::NotRight, language).to_owned(),
    };
    format!("{number} {name}")
}

/// Where a check stands, for staff who look after helmets; nothing of the body.
#[must_use]
pub const fn check_state(state: CheckState, language: Language) -> &'static str {
    let (en, es) = match state {
        CheckState::Planned => ("not sent yet", "aún no enviada"),
        CheckState::Sent => ("no answer yet", "sin respuesta todavía"),
        CheckState::Clear => ("nothing off", "nada mal"),
        CheckState::Flagged => ("something is off", "algo está mal"),
        CheckState::Unclear => ("not understood", "no se entendió"),
        CheckState::Later => ("will check later", "revisará después"),
        CheckState::Absent => ("will not be there", "no estará"),
        CheckState::ByHand => ("by hand", "a mano"),
        CheckState::Missed => ("not sent in time: by hand", "no se envió a tiempo: a mano"),
        CheckState::Held => ("not asked: held", "no se preguntó: en pausa"),
        CheckState::CalledOff => ("called off", "cancelada"),
    };
    match language {
        En => en,
        Es => es,
    }
}

macro_rules! filled {
    ($($(#[$doc:meta])* $name:ident($($arg:ident),*) $en:literal $es:literal)+) => {$(
        $(#[$doc])*
        #[must_use]
        pub fn $name($($arg: &str,)* language: Language) -> String {
            match language {
                En => format!($en),
                Es => format!($es),
            }
        }
    )+};
}

filled! {
    /// By when it should be done.
    fix_by(when) "fix by {when}" "arreglar antes de {when}"
    /// Who has it.
    taken_by(who) "taken by {who}" "lo tiene {who}"
    /// Who did it.
    done_by(who) "done by {who}" "hecho por {who}"
    /// Somebody has it already.
    has_it(who) "{who} has it already." "{who} ya lo tiene."
    /// What it needs.
    needs(what) "needs {what}" "necesita {what}"
    /// An event is off; how many hear.
    called_off(event, told) "{event} is off; {told} hear of it." "{event} se cancela; se avisa a {told}."
    /// An event was off already.
    off_already(event) "{event} is off already." "{event} ya estaba cancelado."
    /// Linked.
    linked_staff(first)
        "Thanks, {first}: this account is yours now. Buttons and commands do what your role may do."
        "Gracias, {first}: esta cuenta ya es tuya. Los botones y comandos hacen lo que tu función permite."
    /// Linked.
    linked_athlete(first)
        "Thanks, {first}. Your helmet check comes here as a direct message from now on; when that cannot be, as a text. /unlink ends it."
        "Gracias, {first}. Tu revisión del casco llega aquí como mensaje directo; si no se puede, como mensaje de texto. /unlink lo termina."
    /// To an account that nobody is known by.
    who_are_you(number)
        "I do not know this account yet. Text \"chat\" to {number} from the phone your program has for you, then type /link with the code. If you feel unwell, tell the athletic trainer or an adult now; in an emergency call 911."
        "Todavía no conozco esta cuenta. Manda \"chat\" a {number} desde el teléfono que tiene tu programa y escribe /link con el código. Si te sientes mal, avisa ya a medicina deportiva o a un adulto; en una emergencia llama al 911."
    /// Heading of the fix list.
    fix_list(event) "Fix list, {event}" "Lista de arreglos, {event}"
    /// When to start.
    start_by(when) "start by {when}" "empezar antes de {when}"
    /// Heading of who is held.
    held(count) "Held ({count})" "En pausa ({count})"
    /// Heading of who is silent.
    silent(count, total) "No usable answer ({count} of {total})" "Sin respuesta útil ({count} de {total})"
    /// What does not fit.
    more(count) "and {count} more" "y {count} más"
    /// Heading of a helmet.
    check_is(state) "check: {state}" "revisión: {state}"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_done_has_words_in_both_languages() {
        for language in [En, Es] {
            let choices = fixes(language);
            assert_eq!(choices.len(), FIXES.len());
            assert!(choices.iter().all(|(key, words)| fix(key, language) == Some(words)));
        }
        assert_eq!(fix("strap", Es), Some("barbijo nuevo"));
        assert_eq!(fix("magic", En), None);
        assert_eq!(point(5, En), "5 strap");
        assert_eq!(point(7, Es), "7 no me siento bien");
    }
}
