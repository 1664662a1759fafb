//! Rows of signing in. A token is kept as its SHA-256, lower-case hexadecimal, and never as itself.

use serde::{Deserialize, Serialize};

use crate::trade::roster::{ProgramId, StaffId};
use crate::trade::time::Moment;

/// A link that was texted to a staff member: signs in once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SignIn {
    /// The program.
    pub program: ProgramId,
    /// SHA-256 of the token in the link.
    pub hash: String,
    /// Whom it signs in.
    pub staff: StaffId,
    /// When it was asked for.
    pub made_at: Moment,
    /// Of no use from then on.
    pub ends_at: Moment,
    /// When it was used.
    pub used_at: Option<Moment>,
}

/// A browser that is signed in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Session {
    /// The program.
    pub program: ProgramId,
    /// SHA-256 of the token in the cookie.
    pub hash: String,
    /// Who is signed in.
    pub staff: StaffId,
    /// Since when.
    pub made_at: Moment,
    /// When a page was last asked for, to the minute.
    pub seen_at: Moment,
    /// Over from then on, whatever is done meanwhile.
    pub ends_at: Moment,
    /// When it was signed out.
    pub ended_at: Option<Moment>,
}

/// A staff member's calendar feed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Feed {
    /// The program.
    pub program: ProgramId,
    /// SHA-256 of the token in the address.
    pub hash: String,
    /// Whose it is.
    pub staff: StaffId,
    /// When it was made.
    pub made_at: Moment,
    /// When a calendar last read it, to the hour.
    pub read_at: Option<Moment>,
    /// When it was ended, by a newer one or by its owner.
    pub ended_at: Option<Moment>,
}
