//! From what an athlete typed to what it means.
//!
//! Pure and infallible: text in, [`Reading`] out. What a flag leads to is triage's business, what is answered is the
//! wording's.
//!
//! Invariant: a reply is all clear only when every token of it is accounted for and together they say so. Whatever
//! cannot be placed makes the reading unclear; spelling repair may only turn an unknown word into a worrying one.
//!
//! The way through: `fold` cuts the text into tokens, `languages` says in which language it is read, `lex` gives each its
//! tag from the lexicons (`lexicon`, data in `words/*.toml`; `repair` mends spelling), `answers` takes up the questions that
//! a reply answers itself, `rules` retags patterns, `numbers` settles what each numeral stands for, `asides` sets aside what
//! is told besides, `scan` walks the tags and notes findings, `verdict` weighs the findings and the controls; `second` looks
//! at words and tags without grammar and may object.

mod answers;
mod asides;
pub mod flag;
mod fold;
mod languages;
mod lex;
mod lexicon;
mod numbers;
mod phrases;
mod repair;
mod resolve;
mod roles;
mod rules;
mod scan;
pub mod score;
pub mod second;
mod support;
mod verdict;

#[cfg(test)]
mod tests;

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

pub use languages::Lang;
use lexicon::Tag;
use roles::Role;

use crate::flag::{Control, Flags};

/// What kind of reply it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Every token understood, nothing wrong.
    AllClear,
    /// At least one thing is off.
    Flagged,
    /// Ask again.
    Unclear,
    /// About the conversation, not the helmet.
    Control,
}

impl Kind {
    /// All kinds.
    pub const ALL: [Self; 4] = [Self::AllClear, Self::Flagged, Self::Unclear, Self::Control];

    /// The name used in the machine contract.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::AllClear => "all_clear",
            Self::Flagged => "flagged",
            Self::Unclear => "unclear",
            Self::Control => "control",
        }
    }
}

/// Why a reading says what it says.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Evidence {
    /// Byte offsets into the text, end excluded.
    pub span: (usize, usize),
    /// What this stretch was taken for: a flag's or control's name, `good`, `doubt`, `unknown`.
    pub says: Cow<'static, str>,
}

/// What the program made of a reply.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// The language it was typed in.
    pub lang: Lang,
    /// The kind of reply.
    #[serde(rename = "reading")]
    pub kind: Kind,
    /// What is off; empty unless the reply is flagged.
    pub flags: Flags,
    /// Which control, when the reply is one.
    pub control: Option<Control>,
    /// The stretches of text the reading rests on, in the order of the text.
    pub evidence: Vec<Evidence>,
    /// A sign that calls for emergency care at once (CRT6, Echemendia et al., BJSM 2023;57:692-694, red flags).
    pub red_flag: bool,
}

/// What the first reader makes of a reply.
#[derive(Debug, Clone)]
struct First {
    reading: Reading,
    /// Of an all clear, and of trouble that may be none.
    standing: Option<Standing>,
    /// Whether it denies a sign of concussion.
    denies_a_sign: bool,
    /// Flags that were named by number.
    numbered: Flags,
}

/// How surely good news is about the helmet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Standing {
    /// All six points are named and said to be well, and nothing else is said.
    Counted,
    Surely,
    /// It denies trouble, and whoever sees its words alone sees trouble.
    Denying,
    /// Something else is told beside it.
    Loosely,
    /// Something else is told, and the good news names neither the helmet nor everything.
    Barely,
    /// Every word is known and nothing is wrong, but what some of them do there is not clear: the second reader has to be
    /// nearly certain.
    Hardly,
    /// The same, and nobody said it in so many words.
    Unsaid,
    /// Nor is the helmet named, or everything.
    Unnamed,
    /// Trouble is named, and a denial before it; or a number, and something else beside it.
    AtOdds,
    /// Trouble was found, which may be denied, mended or something else's.
    Excused,
    /// Trouble was found, or a doubt that stays, and the grammar has nothing to say against it but the good news beside it.
    Outweighed,
    /// A longer reply, in which the grammar does not see what became of the trouble that is told, or whose it is.
    Rambling,
    /// The same of a story, in which the grammar sees still less.
    Straying,
    /// Nothing was found to be off and good news is said, but the grammar cannot place some known word.
    Doubted,
}

/// Reads one reply. Never fails; time grows with the length of the text.
#[must_use]
pub fn read(text: &str) -> Reading {
    let folded = fold::fold(text);
    let taken = Taken::of(text, &folded);
    second::look(text, &taken, taken.weigh())
}

/// Reads what is no answer to the check, such as what staff text: by lexicon and grammar alone, since the second reader has
/// learned from answers.
#[must_use]
pub fn read_words(text: &str) -> Reading {
    Taken::of(text, &fold::fold(text)).weigh().reading
}

/// What the lexicon and the rules take each piece of a reply for.
struct Taken<'a> {
    lang: Lang,
    /// The tokens.
    seen: Vec<lex::Seen<'a>>,
    items: Vec<lex::Item<'a>>,
    present: lex::Present,
    lexicon: &'a lexicon::Lexicon,
}

impl<'a> Taken<'a> {
    fn of(text: &str, folded: &'a fold::Folded) -> Self {
        let (lexicon, mut seen) = languages::languages().look_up(folded);
        let mut items = lex::items(&mut seen, text, lexicon);
        let lang = lex::language(&items, lexicon);
        let lex::Present { tags, roles } = lex::Present::among(&items);
        if folded.has_quotes() {
            numbers::set_aside_the_question(&mut items, lexicon);
        }
        if tags.has(Tag::Question) {
            answers::answer_questions(&mut items);
        }
        if tags.meets(answers::DENIED) || roles.has(Role::Opens) {
            answers::deny_what_is_asked(&mut items);
        }
        if tags.has(Tag::Good) {
            lex::settle_denials(&mut items, lexicon);
        }
        rules::apply(&mut items, lexicon);
        let lex::Present { tags, roles } = lex::Present::among(&items);
        if tags.has(Tag::Name) || roles.has(Role::Speaks) {
            lex::settle_names(&mut items);
        }
        numbers::settle(&mut items, lexicon, tags);
        if tags.meets(asides::TOLD) {
            asides::set_aside(&mut items);
        }
        let present = lex::Present::among(&items);
        Self { lang, seen, items, present, lexicon }
    }

    /// The reading by lexicon and grammar alone.
    fn weigh(&self) -> First {
        verdict::weigh(self.lang, &self.items, scan::scan(&self.items, self.present, self.lexicon))
    }
}
