//! Practice: the invented school, a crowd that answers as people do, and a page of phones to play with.
//!
//! The simulated season with its faults moves in here.

pub mod crowd;
pub mod phones;
pub mod scenario;
