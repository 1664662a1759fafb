//! Browline: helmet checks, fix lists and staff alerts by text message.
//!
//! Imports run one way: `cli` and `web` → `desk` → `schedule`, `reading`, `wording`, `trade`; `store` and `channel` are
//! reached by `desk` alone, and by the edge that opens them.
//!
//! - [`trade`]: rules of the trade, pure
//! - [`reading`]: from text to reading, pure; lexicons as data; a crate of its own, so that it is optimised in tests too
//! - [`wording`]: every text the program sends, and what it costs, pure
//! - [`intake`]: from spreadsheets and calendars to checked values, pure
//! - [`schedule`]: what is due at a moment, pure
//! - [`desk`]: what happens, a transaction each
//! - [`channel`]: SMS carrier, simulated phones: one trait
//! - [`store`]: SQL, both engines
//! - [`web`]: webhooks, the staff's board, the list behind a link, health, metrics
//! - [`rehearse`]: the demo's crowd and phones; the simulated season's room
//! - [`run`]: the loops of a running program
//! - [`clock`], [`config`], [`cli`]: the edge

pub mod channel;
pub mod cli;
pub mod clock;
pub mod config;
pub mod desk;
pub mod intake;
pub mod rehearse;
pub mod run;
pub mod schedule;
pub mod store;
pub mod trade;
pub mod web;
pub mod wording;

pub use browline_reading as reading;
