//! Every text the program sends, in each language: templates with checked variables, and what a text costs.
//!
//! The templates of `templates/en` and `templates/es` are built in; a program may replace any of them, and
//! [`Wording::with_overrides`] says what is wrong with a replacement before it is used. Pure: the caller reads override
//! files, knows the time, and decides who gets which [`Message`].
//! Invariant: a [`Wording`] that exists can say every message in every language.

pub mod chat;
mod check;
mod family_samples;
mod message;
mod samples;
pub mod segments;
pub mod words;

use minijinja::{AutoEscape, Environment, Error, UndefinedBehavior, Value};
use unicode_normalization::UnicodeNormalization;

pub use check::WordingProblem;
pub use message::{Attempt, Audience, Body, FixLine, Helmet, Kind, Message, OutLine, Typed, Why};

use crate::trade::roster::Language;
use message::Context;
use segments::Segments;

/// The languages that have templates.
pub const LANGUAGES: [Language; 2] = [Language::En, Language::Es];

/// Whether accents that cost money are kept.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub enum Accents {
    /// `á í ó ú` and typographers' marks become plain, so that a text stays in GSM-7: see [`segments::fold`].
    #[default]
    Fold,
    /// As written, at up to three times the segments.
    Keep,
}

/// One message as it would go out, with what it costs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// The language.
    pub language: Language,
    /// Which message.
    pub kind: Kind,
    /// The text.
    pub text: String,
    /// What it costs.
    pub cost: Segments,
}

/// All texts, ready to be said.
#[derive(Debug, Clone)]
pub struct Wording {
    environment: Environment<'static>,
    /// Stands in should a replacement fail on values that no sample foresaw.
    built_in: Environment<'static>,
}

impl Default for Wording {
    fn default() -> Self {
        Self::embedded()
    }
}

impl Wording {
    /// The texts that come with the program.
    #[must_use]
    pub fn embedded() -> Self {
        let built_in = built_in();
        Self { environment: built_in.clone(), built_in }
    }

    /// The texts that come with the program, with some replaced: each by its language, its file name without the `.txt`,
    /// and what is in it.
    ///
    /// # Errors
    /// Every problem of every replacement: it does not compile, uses a variable that its message does not have, fails
    /// on a sample, costs more segments than its message may, lacks something that the law, the carriers or the
    /// athlete's safety ask for, or holds words that have no place there.
    pub fn with_overrides(overrides: Vec<(Language, String, String)>) -> Result<Self, Vec<WordingProblem>> {
        let mut wording = Self::embedded();
        let mut problems = Vec::new();
        let mut replaced = Vec::new();
        for (language, stem, text) in overrides {
            let Some(kind) = Kind::from_name(&stem) else {
                problems.push(check::unknown_stem(language, &stem));
                continue;
            };
            match wording.environment.add_template_owned(file(language, kind), text) {
                Ok(()) => replaced.push((language, kind)),
                Err(error) => problems.push(check::does_not_compile(language, kind, &error)),
            }
        }
        for (language, kind) in replaced {
            problems.extend(check::check(&wording.environment, language, kind));
        }
        if problems.is_empty() { Ok(wording) } else { Err(problems) }
    }

    /// Checks every template, the built-in ones too, as [`Wording::with_overrides`] checks a replacement.
    #[must_use]
    pub fn problems(&self) -> Vec<WordingProblem> {
        everything().flat_map(|(language, kind)| check::check(&self.environment, language, kind)).collect()
    }

    /// A message in words. A list is shortened by whole lines, a quoted reply by whole characters, until the text fits
    /// the message's budget in the encoding that it needs.
    #[must_use]
    pub fn say(&self, language: Language, message: &Message<'_>, accents: Accents) -> String {
        #[expect(clippy::expect_used, reason = "a test says every built-in message, every branch")]
        render(&self.environment, language, message, accents)
            .or_else(|_| render(&self.built_in, language, message, accents))
            .expect("a built-in template renders whatever its fields hold")
            .text
    }

    /// Every message with its worst cases and what they cost, for a look before the season.
    #[must_use]
    pub fn catalogue(&self, accents: Accents) -> Vec<Entry> {
        let entry = |language, kind, message: &Message<'_>| {
            let text = self.say(language, message, accents);
            Entry { language, kind, cost: segments::count(&text), text }
        };
        everything()
            .flat_map(|(language, kind)| {
                let samples = kind.samples(language);
                samples.into_iter().map(move |message| entry(language, kind, &message))
            })
            .collect()
    }
}

fn everything() -> impl Iterator<Item = (Language, Kind)> {
    Kind::ALL.iter().flat_map(|kind| LANGUAGES.map(|language| (language, *kind)))
}

/// The folder of a language's templates.
#[must_use]
pub const fn folder(language: Language) -> &'static str {
    match language {
        Language::En => "en",
        Language::Es => "es",
    }
}

/// A template's name: its file, from the templates' folder.
fn file(language: Language, kind: Kind) -> String {
    format!("{}/{}.txt", folder(language), kind.name())
}

#[expect(clippy::expect_used, reason = "a test compiles every built-in template")]
fn built_in() -> Environment<'static> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_auto_escape_callback(|_| AutoEscape::None);
    for (language, kind) in everything() {
        environment
            .add_template_owned(file(language, kind), kind.embedded(language))
            .expect("a built-in template compiles");
    }
    environment
}

/// A rendered message.
struct Said {
    text: String,
    /// Lines of its list that are in it, and lines that are not.
    lines: Vec<String>,
    hidden: usize,
}

fn render(
    environment: &Environment<'_>,
    language: Language,
    message: &Message<'_>,
    accents: Accents,
) -> Result<Said, Error> {
    let template = environment.get_template(&file(language, message.kind()))?;
    let Context { mut fixed, trim } = message.context(language);
    let say = |values| Ok::<_, Error>(finish(&template.render(Value::from_object(values))?, language, accents));
    let Some(trim) = trim else {
        return Ok(Said { text: say(fixed)?, lines: Vec::new(), hidden: 0 });
    };
    let mut shown = trim.most();
    loop {
        trim.put(shown, &mut fixed);
        let text = say(fixed.clone())?;
        if shown == 0 || segments::count(&text).segments <= message.budget() {
            return Ok(Said { text, lines: trim.lines(shown).to_vec(), hidden: trim.len() - shown });
        }
        shown -= 1;
    }
}

/// The last touch: no space at the ends, one full stop after "p. m." at the end of a Spanish sentence, accents as asked.
fn finish(text: &str, language: Language, accents: Accents) -> String {
    let text = text.trim();
    let text = match language {
        Language::Es => text.replace("p. m..", "p. m.").replace("a. m..", "a. m."),
        Language::En => text.to_owned(),
    };
    match accents {
        Accents::Fold => segments::fold(&text),
        Accents::Keep => text.nfc().collect(),
    }
}
