//! The intake from outside: files in, datasets, problems and changes out.
#![allow(clippy::unwrap_used, reason = "a test that cannot set itself up has failed")]

#[path = "intake/calendars.rs"]
mod calendars;
#[path = "intake/changes.rs"]
mod changes;
#[path = "intake/peers.rs"]
mod peers;
#[path = "intake/properties.rs"]
mod properties;
#[path = "intake/sheets.rs"]
mod sheets;
#[path = "intake/support.rs"]
mod support;

/// NANP: an exchange does not begin with 1.
#[test]
fn an_exchange_that_the_plan_does_not_allow_is_refused() {
    assert!(browline::trade::phone::Phone::parse("+12121110123").is_err());
}
