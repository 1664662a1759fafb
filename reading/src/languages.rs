//! Which languages are read, and which of them a reply is read in.
//!
//! Languages that get along are read side by side, since people mix them within a message. A language that shares too
//! many spellings with these for that ("no" is "in the" in Portuguese) is read apart: its file says `apart = true`, and a
//! reply is read in it when more of its words are that language's alone than the others' alone. Nothing changes for the
//! others: without a word of its own no reply is read in it, and in doubt none is.
//!
//! A language read apart still knows what is worrying in the others, so that "tudo bem mas dizzy" is not missed.

#[cfg(test)]
mod tests;

use std::sync::OnceLock;

use rustc_hash::FxHashSet;
use serde::{Deserialize, Deserializer, Serialize};

use super::fold::{Folded, Shape};
use super::lex::{self, Seen};
use super::lexicon::{self, File, Lexicon};

/// The language of a reply: the code in the list of data files, or `mix`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Lang(&'static str);

impl Lang {
    /// English, or nothing that tells.
    pub const EN: Self = Self("en");
    /// Spanish.
    pub const ES: Self = Self("es");
    /// More than one in one message.
    pub const MIX: Self = Self("mix");

    /// The language of a data file.
    pub(super) const fn of(code: &'static str) -> Self {
        Self(code)
    }

    /// The name used in the machine contract.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.0
    }

    /// The language of this name, if it is read.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let read = lexicon::FILES.iter().filter_map(|file| file.lang);
        read.chain([Self::MIX]).find(|lang| lang.0 == name)
    }
}

/// The one language that a word belongs to, if it is one, in a byte.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Origin(u8);

impl Origin {
    /// None, or several.
    pub(super) const NONE: Self = Self(0);

    pub(super) fn of(lang: Option<Lang>) -> Self {
        let first = lang.and_then(|_| lexicon::FILES.iter().position(|file| file.lang == lang));
        first.map_or(Self::NONE, |at| Self(at as u8 + 1))
    }

    pub(super) fn lang(self) -> Option<Lang> {
        lexicon::FILES[usize::from(self.0.checked_sub(1)?)].lang
    }
}

impl<'de> Deserialize<'de> for Lang {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let name = String::deserialize(from)?;
        Self::named(&name).ok_or_else(|| serde::de::Error::custom(format!("no language {name:?}")))
    }
}

/// A language that is read by itself.
#[derive(Debug)]
struct Apart {
    lexicon: Lexicon,
    vocabulary: FxHashSet<String>,
    /// The words that no language read side by side has, or has in phrases alone. Single letters tell nothing.
    own: FxHashSet<String>,
}

/// All that is read.
#[derive(Debug)]
pub(super) struct Languages {
    together: Lexicon,
    /// The words of these.
    vocabulary: FxHashSet<String>,
    apart: Vec<Apart>,
}

/// The languages, built on first use.
pub(super) fn languages() -> &'static Languages {
    static LANGUAGES: OnceLock<Languages> = OnceLock::new();
    LANGUAGES.get_or_init(|| match Languages::build() {
        Ok(languages) => languages,
        // The data files are part of the binary; a unit test builds them.
        Err(problem) => unreachable!("{problem}"),
    })
}

impl Languages {
    /// Builds the lexicons, or says which entry is wrong.
    pub(super) fn build() -> Result<Self, String> {
        let files = &lexicon::FILES;
        let mut aside: Vec<Lang> = Vec::new();
        for lang in files.iter().filter(|file| file.is_apart()).filter_map(|file| file.lang) {
            if !aside.contains(&lang) {
                aside.push(lang);
            }
        }
        let of = |file: &&File, lang: Lang| file.lang.is_none_or(|its| its == lang);
        let side_by_side = files.iter().filter(|file| file.lang.is_none_or(|its| !aside.contains(&its)));
        let together = Lexicon::of(side_by_side)?;
        let vocabulary = together.vocabulary();
        let mut apart = Vec::new();
        for lang in aside {
            let mut lexicon = Lexicon::of(files.iter().filter(|file| of(file, lang)))?;
            let its = lexicon.vocabulary();
            let stands = |word: &str| together.entry(word).is_some_and(|(_, entry)| entry.stands());
            let alone = |word: &str| lexicon.knows(word) && !stands(word);
            let is_own = |word: &&String| word.chars().count() > 1 && (alone(word) || !vocabulary.contains(*word));
            let own = its.iter().filter(is_own).cloned().collect();
            lexicon.borrow(&together, &its);
            apart.push(Apart { lexicon, vocabulary: its, own });
        }
        Ok(Self { together, vocabulary, apart })
    }

    /// The lexicon to read a reply with, and what it has of the reply's tokens.
    pub(super) fn look_up<'a>(&'a self, reply: &'a Folded) -> (&'a Lexicon, Vec<Seen<'a>>) {
        let seen = lex::look_up(reply, &self.together);
        let claims = self.apart.iter().map(|apart| (self.lead_of(apart, reply, &seen), apart));
        let best = claims.filter(|(lead, _)| *lead > 0).max_by_key(|(lead, _)| *lead);
        match best {
            Some((_, apart)) => (&apart.lexicon, lex::look_up(reply, &apart.lexicon)),
            None => (&self.together, seen),
        }
    }

    /// How many more words are this language's alone than the others' alone. `seen` is what these have of the reply.
    fn lead_of(&self, apart: &Apart, reply: &Folded, seen: &[Seen<'_>]) -> isize {
        let stretched = lex::is_stretched(reply.text());
        let words = || seen.iter().filter(|seen| seen.token.shape == Shape::Word);
        let drawn_out = |seen: &Seen<'_>, has: &dyn Fn(&str) -> bool| {
            stretched && lex::unstretched(seen.token.text).is_some_and(|word| has(&word))
        };
        // What stands in the others is not this one's own.
        let own = |word: &str| apart.own.contains(word);
        let own = words().filter(|seen| (!seen.stands() && own(seen.token.text)) || drawn_out(seen, &own)).count();
        if own == 0 {
            return 0;
        }
        let others = |word: &str| self.vocabulary.contains(word) && !apart.vocabulary.contains(word);
        let others = words().filter(|seen| others(seen.token.text) || drawn_out(seen, &others)).count();
        own.cast_signed() - others.cast_signed()
    }

    /// The lexicon of a language with what it is read beside.
    #[cfg(test)]
    pub(super) fn lexicon_of(&self, lang: Lang) -> &Lexicon {
        self.apart.iter().find(|apart| apart.lexicon.lang() == lang).map_or(&self.together, |apart| &apart.lexicon)
    }
}
