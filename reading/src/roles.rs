//! What single words do beyond their tag, for each language, as its data file says in `[roles]`.
//!
//! A tag says what a word means, a role what the grammar may do with this very word: "no" opens an answer where "not"
//! does not. The reader asks for roles and never for words.

use serde::Deserialize;

/// What the grammar may do with a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Role {
    /// An entry with this word in it denies something by itself ("dont have it"), so that no other word denies it.
    Denies,
    /// Answers before the sentence begins: "no sir ...".
    Opens,
    /// In a row of answers, one to a point: it is well.
    Yes,
    /// In a row of answers: it is not.
    No,
    /// Denies once more what was denied: "aint got no".
    DeniesAgain,
    /// Of a thing named right after it: it is not there ("no strap").
    Lacks,
    /// Grants that it was so before: "no longer".
    NoLonger,
    /// Denies trouble of whatever kind: "no issues".
    DeniesAll,
    /// Denies what somebody does, which says nothing of a helmet: "cant move on".
    DeniesAct,
    /// Makes a question of what follows when it begins the sentence: "is it".
    Inverts,
    /// May follow such a word besides a subject: "is the", "are you".
    Inverted,
    /// Often ends a sentence with nothing after it: "all good tho".
    Trails,
    /// An exception that begins with this word takes from everything: "everything but".
    Everything,
    /// An entry for everything with this word in it counts the check points: "all six".
    CountsSix,
    /// After a name: it talks of somebody ("cole says ...").
    Talks,
    /// Mine, so that a new matter begins: "my helmet".
    My,
    /// Names something that is there, so that "nothing" before it denies nothing of it: "the".
    Definite,
    /// Between two numbers: so many out of so many.
    OutOf,
    /// Between two numbers: the score of a game.
    ScoreTo,
    /// Between two numbers: all from the one to the other.
    UpTo,
    /// Before a number: it is somebody's or something's ("el 12").
    Article,
    /// "My number is 5": the verb, and the noun before it.
    Is,
    /// See [`Role::Is`].
    OwnNumber,
    /// Before a number: a lesson, an hour.
    Lesson,
    /// "Me and number 6".
    AndMe,
    /// After an ordinal: the point of that number ("the 4th one").
    Counted,
    /// After a number that begins a reply: whoever wears it writes ("24 here").
    Here,
    /// After a number: so many of several.
    OfThem,
    /// After a number: a measure.
    Finger,
    /// Says something to somebody: "id tell u", "les aviso".
    Tells,
    /// Says who by its ending, so that a denial before it is no answer: "no estoy mareado".
    Inflected,
    /// How much: what is denied to that degree only is there ("not that dizzy", "no estoy tan mareado").
    Degree,
    /// Too much: a fit may well be not too tight; a sign that is denied to that degree only is there ("not too dizzy").
    Excess,
    /// The same, after the sign ("doesn't hurt much").
    Amount,
    /// Supposes something, where it is said what would follow: "if".
    Supposes,
    /// What follows is what somebody took for so: "i thought it was loose".
    Supposed,
    /// What follows is what somebody else said: "he says its crooked".
    Reported,
    /// It is so now: "if it still hurts" supposes nothing.
    Persists,
    /// Good news of everything, whatever was named before: "good to go".
    General,
    /// Says how large something is, which tells of the fit only where nothing else follows: "a big scratch".
    Large,
    /// Is good news of some things and bad of others, so that good news of everything tells which: "snapped".
    Either,
    /// Before a number: not quite so many ("like 80").
    About,
    /// Says that somebody answers for an athlete: "my son".
    Speaks,
    /// Who is spoken for: "he".
    SpokenFor,
    /// Says that something stayed behind: "forgot".
    Leaves,
    /// Long enough ago that a cold is over: "last week".
    LongAgo,
    /// Of a thing that was put in: what is said of it next is said of the new one ("new strap ripped").
    Fresh,
    /// Of a repair: what is named next was taken out ("swapped out the bad pad").
    TakesOut,
    /// Of a repair: it puts air in, which mends no strap, screw or shell ("pumped it up").
    Airs,
    /// Says what something is like: "is", "looks", "esta".
    Be,
    /// May be trouble or none ("blew", "noise"): what it says is left to the second reader.
    Odd,
    /// Of the helmet, after trouble of something else: "not my helmet".
    Contrasts,
    /// Says that something was so before: "was", "faltaba".
    Past,
    /// Grants that it was so before, where it was denied of now: "yesterday yes".
    WasSo,
    /// Praises what was said or done ("nice"): by itself no answer.
    Applauds,
    /// Before a number: so many minutes from now ("in 5").
    Within,
    /// The same, of an hour ("until 4").
    Until,
    /// After a 4 that is "for": whom or what it is for ("good 4 me").
    Whom,
    /// Keeps a doubt whatever good news stands beside it: "didnt check", "not everything".
    Stays,
    /// Likens: what follows is named only to say how something is ("wobbly as a shopping cart").
    Likens,
    /// Is in the dictionary and in no other list.
    Rare,
    /// Between two numbers: the second is meant ("5, digo 6").
    Corrects,
    /// A time, which puts nothing off by itself: "al rato".
    When,
}

/// The roles of one word.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Roles(u64);

impl Roles {
    /// Adds a role.
    pub(super) const fn add(&mut self, role: Role) {
        self.0 |= 1 << role as u64;
    }

    /// Whether the word has it.
    pub(super) const fn has(self, role: Role) -> bool {
        self.0 & 1 << role as u64 != 0
    }

    /// The roles of either.
    pub(super) const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// The roles an entry takes from any of its words.
    const fn of_any(self) -> u64 {
        let any = [Role::Denies, Role::CountsSix, Role::Degree, Role::Excess, Role::Amount, Role::TakesOut, Role::Airs];
        let mut mask = 0;
        let mut at = 0;
        while at < any.len() {
            mask |= 1 << any[at] as u64;
            at += 1;
        }
        self.0 & mask
    }

    /// The roles of an entry of several words, from its own and those of its words in order.
    pub(super) fn of_entry(own: Self, words: impl Iterator<Item = Self>) -> Self {
        let mut roles = own;
        for (at, word) in words.enumerate() {
            roles.0 |= word.of_any();
            if at == 0 {
                roles.0 |= word.0 & 1 << Role::Everything as u64;
            }
        }
        roles
    }
}

/// How words bend: endings that may be taken off to find the entry.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Endings {
    /// Endings of several: "straps".
    pub(super) plural: Vec<String>,
    /// Endings with a letter dropped, and the letter: "loosenin" g.
    pub(super) dropped: Vec<(String, String)>,
    /// Endings that leave a worrying word worrying: "scraped".
    pub(super) bending: Vec<String>,
    /// First letters as they are written by ear, and what is meant: "vien" for "bien".
    pub(super) sound_alike: Vec<(String, String)>,
}

impl Endings {
    /// Takes over those of another data file.
    pub(super) fn join(&mut self, other: Self) {
        self.plural.extend(other.plural);
        self.dropped.extend(other.dropped);
        self.bending.extend(other.bending);
        self.sound_alike.extend(other.sound_alike);
    }

    /// Whether the word has the look of several things.
    pub(super) fn is_plural(&self, word: &str) -> bool {
        self.plural.iter().any(|ending| word.ends_with(ending.as_str()))
    }
}
