//! In a real browser.
