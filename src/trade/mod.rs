//! Rules of the trade, pure: no SQL, no HTTP, no clock. Imports nothing else of the crate.

pub mod flag;
pub mod phone;
pub mod roster;
pub mod time;
