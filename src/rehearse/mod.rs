//! Practice: the invented school, a crowd that answers as people do, and a page of phones to play with.
//!
//! [`scenario`] holds the school, [`crowd`] and [`staff`] its people (pure and seeded), [`stage`] runs the whole program
//! among them on a practice clock and tells the [`story`], [`phones`] is the page. The simulated season with its faults
//! moves in here.

pub mod crowd;
pub mod phones;
pub mod scenario;
pub mod staff;
pub mod stage;
pub mod story;
pub mod tour;
