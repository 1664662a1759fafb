//! Rules of the trade, pure: no SQL, no HTTP, no clock. Imports nothing else of the crate; flags and controls are what the reader finds, and come
//! from there.

pub mod batches;
pub mod clearance;
pub mod coming;
pub mod coverage;
pub mod drill;
pub mod kit;
pub mod model;
pub mod morning;
pub mod notice;
pub mod parts;
pub mod phone;
pub mod plan;
pub mod queue;
pub mod restock;
pub mod roster;
pub mod service;
pub mod size;
pub mod time;
pub mod times;

pub use browline_reading::flag;
