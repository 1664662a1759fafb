//! The board: through the router on both engines, and in a real browser (the ignored ones, run by tests/pages.sh).

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

#[allow(dead_code, reason = "shared with tests/it")]
#[path = "../it/support.rs"]
mod support;

mod acts;
mod browser;
mod clearance;
mod coming;
mod drills;
mod kits;
mod live;
mod roles;
mod seen;
mod session;
mod visitor;
