//! The chat platform: posts, its REST interface, its gateway. Nothing here knows what a post is about.
//!
//! [`Post`] is what may stand in a channel, in the platform's own form; [`rest`] hands posts over and sorts what goes
//! wrong by what to do about it; [`gateway`] listens; [`press`] is what a button says.
//!
//! Invariants: the token is in no debug output, error or log; no post can ping anybody; a post that could be longer than
//! the platform takes is shortened here.

pub mod gateway;
pub mod press;
pub mod rest;

use std::time::Duration;

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

/// Longest text of a message, in characters (the platform's limit for messages of a bot).
const LONGEST: usize = 2_000;
/// Longest label of a button, and of a choice.
const LONGEST_LABEL: usize = 80;
/// Most choices of a menu.
const MOST_CHOICES: usize = 25;
/// Marks an answer that only the one who asked sees.
const EPHEMERAL: u64 = 64;

/// How a button looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Style {
    /// The one to press.
    Primary,
    /// Another.
    Secondary,
}

/// One control under a post.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Control {
    /// A button.
    Button {
        /// What it says when pressed.
        id: String,
        /// What stands on it.
        label: String,
        /// How it looks.
        style: Style,
    },
    /// A button that opens a page.
    Link {
        /// The page.
        url: String,
        /// What stands on it.
        label: String,
    },
    /// A menu of which one is picked.
    Menu {
        /// What it says when one is picked.
        id: String,
        /// What stands on it before.
        prompt: String,
        /// Values and what stands for them.
        choices: Vec<(String, String)>,
    },
}

/// A post: text and rows of controls.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Post {
    /// Text.
    pub text: String,
    /// Rows of controls, five at most.
    pub rows: Vec<Vec<Control>>,
}

impl Post {
    /// A post of words alone.
    #[must_use]
    pub fn of(text: impl Into<String>) -> Self {
        Self { text: text.into(), rows: Vec::new() }
    }

    /// As the platform takes it. Without rows, those that stood there before are taken away.
    #[must_use]
    pub fn wire(&self) -> Value {
        let rows: Vec<Value> = self
            .rows
            .iter()
            .filter(|row| !row.is_empty())
            .map(|row| json!({"type": 1, "components": row.iter().map(Control::wire).collect::<Vec<_>>()}))
            .collect();
        json!({
            "content": shortened(&self.text, LONGEST),
            "components": rows,
            "allowed_mentions": {"parse": []},
        })
    }
}

impl Control {
    fn wire(&self) -> Value {
        match self {
            Self::Button { id, label, style } => {
                let style = match style {
                    Style::Primary => 1,
                    Style::Secondary => 2,
                };
                json!({"type": 2, "style": style, "custom_id": id, "label": shortened(label, LONGEST_LABEL)})
            }
            Self::Link { url, label } => {
                json!({"type": 2, "style": 5, "url": url, "label": shortened(label, LONGEST_LABEL)})
            }
            Self::Menu { id, prompt, choices } => {
                let options: Vec<Value> = choices
                    .iter()
                    .filter(|(value, _)| !value.is_empty() && value.chars().count() <= 100)
                    .take(MOST_CHOICES)
                    .map(|(value, label)| json!({"value": value, "label": shortened(label, LONGEST_LABEL)}))
                    .collect();
                json!({
                    "type": 3, "custom_id": id, "placeholder": shortened(prompt, LONGEST_LABEL),
                    "min_values": 1, "max_values": 1, "options": options,
                })
            }
        }
    }
}

/// At most so many characters; what was longer ends with three dots.
fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(most.saturating_sub(3)).collect();
    short.push_str("...");
    short
}

/// A name or word as it stands in a post: nothing in it is taken for markup, and it pings nobody.
#[must_use]
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().map(|c| if c.is_control() { ' ' } else { c }) {
        if matches!(c, '*' | '_' | '~' | '`' | '|' | '>' | '<' | '@' | '[' | ']' | '\\') {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

/// Something that somebody did with a control or a command.
#[derive(Clone, PartialEq, Eq)]
pub struct Interaction {
    /// Its id: a second delivery is the same.
    pub id: String,
    /// The bot's application.
    pub application: String,
    /// What answers it; good for fifteen minutes.
    pub token: String,
    /// The server it came from; none from a direct message.
    pub guild: Option<String>,
    /// The account.
    pub user: String,
    /// What was done.
    pub what: What,
}

impl std::fmt::Debug for Interaction {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Interaction").field("id", &self.id).field("what", &self.what).finish_non_exhaustive()
    }
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A button pressed, or something picked from a menu.
    Control {
        /// The control's id.
        id: String,
        /// What was picked.
        picked: Option<String>,
    },
    /// A slash command.
    Command {
        /// Its name.
        name: String,
        /// Its options.
        options: Vec<(String, String)>,
    },
}

/// A message written to the bot directly.
#[derive(Clone, PartialEq, Eq)]
pub struct Written {
    /// The platform's id of it.
    pub id: String,
    /// The account.
    pub user: String,
    /// What was written.
    pub text: String,
    /// Links to pictures.
    pub photos: Vec<String>,
}

impl std::fmt::Debug for Written {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Written").field("id", &self.id).finish_non_exhaustive()
    }
}

/// Why the platform did not do what was asked, sorted by what to do about it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChatRefused {
    /// Not done: asked to wait.
    #[error("the platform asks to wait {after:?}")]
    Later {
        /// How long.
        after: Duration,
        /// Whether for everything, and not for this channel alone.
        everywhere: bool,
    },
    /// Never reached the platform.
    #[error("the platform cannot be reached: {why}")]
    Unreached {
        /// What happened.
        why: String,
    },
    /// It may have been done.
    #[error("it may have been done: {why}")]
    InDoubt {
        /// What happened.
        why: String,
    },
    /// The channel is gone, or the bot may not post there.
    #[error("the channel cannot be posted to ({code}): {why}")]
    Place {
        /// The platform's error code.
        code: i64,
        /// Its reason.
        why: String,
    },
    /// This account cannot be written to.
    #[error("this account cannot be written to ({code}): {why}")]
    Person {
        /// The platform's error code.
        code: i64,
        /// Its reason.
        why: String,
    },
    /// The post is gone: somebody deleted it.
    #[error("the post is gone")]
    GonePost,
    /// An interaction can no longer be answered.
    #[error("too late to answer that")]
    TooLate,
    /// Another process of ours has answered that interaction.
    #[error("answered by another process")]
    Answered,
    /// This one request is refused.
    #[error("refused ({code}): {why}")]
    Request {
        /// The platform's error code, or the status.
        code: i64,
        /// Its reason.
        why: String,
    },
    /// Nothing can be done until somebody mends it.
    #[error("the platform takes nothing: {why}")]
    Everything {
        /// Why, and how to mend it.
        why: String,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_post_fits_what_the_platform_takes_and_pings_nobody() {
        let choices = (0..40).map(|n| (format!("v{n}"), "x".repeat(120))).collect();
        let post = Post {
            text: "a".repeat(3_000),
            rows: vec![vec![Control::Menu { id: "m".to_owned(), prompt: "p".repeat(200), choices }], Vec::new()],
        };
        let wire = post.wire();
        assert_eq!(wire["content"].as_str().unwrap().chars().count(), 2_000);
        assert_eq!(wire["components"].as_array().unwrap().len(), 1, "an empty row is none");
        let menu = &wire["components"][0]["components"][0];
        assert_eq!(menu["options"].as_array().unwrap().len(), 25);
        assert_eq!(menu["options"][0]["label"].as_str().unwrap().chars().count(), 80);
        assert_eq!(wire["allowed_mentions"], json!({"parse": []}));
    }

    #[test]
    fn names_are_no_markup() {
        assert_eq!(plain("@everyone **Jo** <@1>"), "\\@everyone \\*\\*Jo\\*\\* \\<\\@1\\>");
        assert_eq!(plain("Iván\nO'Neil"), "Iván O'Neil");
    }

    #[test]
    fn what_answers_an_interaction_is_not_printed() {
        let interaction = Interaction {
            id: "1".to_owned(),
            application: "2".to_owned(),
            token: "sesame".to_owned(),
            guild: None,
            user: "3".to_owned(),
            what: What::Command { name: "today".to_owned(), options: Vec::new() },
        };
        assert!(!format!("{interaction:?}").contains("sesame"));
    }
}
