//! Browline: helmet checks, fix lists and staff alerts by text message.
pub mod channel;
pub mod clock;
pub mod trade;
