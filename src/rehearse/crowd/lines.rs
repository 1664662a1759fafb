//! What simulated athletes type, by what they mean. Data alone; the tests of [`super`] hold the reader to it.

use crate::trade::roster::Language;

/// Ways to say one thing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lines {
    pub(super) en: &'static [&'static str],
    pub(super) es: &'static [&'static str],
    /// As people with two languages text.
    pub(super) mix: &'static [&'static str],
}

impl Lines {
    /// The ways of somebody who is written to in this language: `mixed` when they mix today.
    pub(super) const fn of(&self, language: Language, mixed: bool) -> &'static [&'static str] {
        match (language, mixed) {
            (Language::En, _) => self.en,
            (Language::Es, true) => self.mix,
            (Language::Es, false) => self.es,
        }
    }
}

pub(super) const OK: Lines = Lines {
    en: &[
        "ok",
        "OK",
        "Ok",
        "k",
        "all good",
        "All good!",
        "all good coach",
        "good",
        "gud",
        "good to go",
        "all set",
        "6 for 6",
        "6/6",
        "all 6 good",
        "yep all good 👍",
        "we good",
        "no problems",
        "no issues",
        "okayyy",
        "goood",
        "👍",
        "yessir all good",
        "checked it, all good",
        "everything good",
        "fits perfect no cap",
        "solid on all 6",
        "nothing wrong here",
        "good morning, checked it, all good",
        "nah we good",
        "all six good",
        "sorry just woke up. all good",
        "doesnt slide doesnt wobble. ok",
    ],
    es: &[
        "ok",
        "todo bien",
        "Todo bien",
        "todo bien profe",
        "ta bn",
        "sin problemas",
        "los 6 bien",
        "todo bien 👍",
        "bien",
        "todo en orden",
        "listo todo bien",
        "buenos dias, todo bien",
        "ya lo revisé, todo bien",
    ],
    mix: &["todo good", "all good todo bien", "simon todo chido", "casco good", "todo bien we good"],
};

/// As thumbs leave it: some of it cannot be read, and is asked again.
pub(super) const OK_SLOPPY: Lines = Lines {
    en: &["all godo", "evrything fine", "al good", "okm", "goof", "alll gpod", "its ll good"],
    es: &["tood bien", "todo bine", "to bien"],
    mix: &["todo goood", "al godo todo"],
};

pub(super) const NUMBERS: Lines = Lines {
    en: &["5", "2 5", "2n5", "#4", "2, 3", "6", "1 and 4", "just 2"],
    es: &["5", "2 y 5", "el 3", "6", "1 y 4"],
    mix: &["2 y 6", "solo el 5", "4"],
};

pub(super) const WORDS: Lines = Lines {
    en: &[
        "strap busted",
        "chin strap wont snap on the left",
        "mask is loose",
        "screw missing on my mask",
        "slides when i shake my head",
        "cheek pad fell out",
        "sits too low in front",
        "needs air",
        "theres a crack in the back",
        "its too tight",
        "everything good except the strap",
        "all good but 4",
        "facemask rattles",
    ],
    es: &[
        "se rompio la correa",
        "me queda grande",
        "todo bien menos el 4",
        "la careta esta floja",
        "le falta aire",
        "me aprieta",
        "le falta un tornillo a la careta",
    ],
    mix: &["strap ta roto", "la mask se mueve", "todo good menos la correa"],
};

pub(super) const SYMPTOM: Lines = Lines {
    en: &[
        "helmets good but my head hurts since yesterday",
        "my head hurts",
        "kinda dizzy ngl, helmet is fine",
        "7 headache",
        "ok but got a headache",
        "feel foggy since practice yesterday",
    ],
    es: &["todo bien pero me duele la cabeza", "ando mareado desde ayer", "7 me duele la cabeza"],
    mix: &["helmet bien pero head hurts", "todo good solo q me duele la cabeza"],
};

pub(super) const UNWELL: Lines = Lines {
    en: &["7", "helmets good but i have a fever", "7 stomach bug", "threw up this morning, helmet fine"],
    es: &["7", "el casco bien, tengo fiebre", "7 gripa"],
    mix: &["7", "helmet bien, tengo fiebre"],
};

pub(super) const MISSING: Lines = Lines {
    en: &["forgot my helmet at home", "left my helmet on the bus", "i dont have my helmet its at my dads"],
    es: &["deje el casco en la casa", "no tengo mi casco"],
    mix: &["forgot el casco en casa"],
};

pub(super) const PHOTO: Lines = Lines {
    en: &["this screw is loose", "strap looks like this", "crack right here"],
    es: &["este tornillo esta flojo", "asi esta la correa"],
    mix: &["mask asi", "este screw ta flojo"],
};

pub(super) const STRAP_OFF: Lines =
    Lines { en: &["chin strap is loose", "strap popped off"], es: &["la correa floja"], mix: &["strap floja"] };

pub(super) const FIXED: Lines = Lines {
    en: &["fixed it all good", "i fixed it, all good now"],
    es: &["ya la arreglé todo bien"],
    mix: &["ya fixed, todo good"],
};

pub(super) const PUZZLING: Lines = Lines {
    en: &["what is grip", "fine i guess", "💀", "huh", "which one is crown again", "are we in full pads today", "😴"],
    es: &["cuál es el 3?", "creo que si", "eh?"],
    mix: &["creo q its fine", "should be bien"],
};

pub(super) const LATER: Lines = Lines {
    en: &["at the dentist, will check at 3", "just woke up ill check it after i eat", "ok ill check when i get there"],
    es: &["al rato lo checo", "lo reviso en el lonche"],
    mix: &["al rato lo checo, en clase rn"],
};

pub(super) const ABSENT: Lines = Lines {
    en: &["not coming today, doctors appointment", "wont be at practice today"],
    es: &["hoy no voy", "hoy no voy, cita con el doctor"],
    mix: &["hoy no voy to practice"],
};

pub(super) const WRONG_NUMBER: Lines = Lines {
    en: &["wrong number", "you have the wrong number"],
    es: &["número equivocado"],
    mix: &["wrong number amigo"],
};

pub(super) const STOP: Lines = Lines { en: &["STOP", "Stop"], es: &["ALTO", "STOP"], mix: &["STOP"] };
