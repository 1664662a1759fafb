//! Rules of the trade, pure: no SQL, no HTTP, no clock. Imports nothing else of the crate.

pub mod flag;
