//! Behaviour through the public interface, on both engines from one body.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

mod carrier;
mod conversation;
mod morning;
mod staff;
mod store;
mod support;
mod web;
