//! Behaviour through the public interface, on both engines from one body.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

mod carrier;
mod chat;
#[path = "../support/chat_description.rs"]
mod chat_description;
mod clearance;
mod conversation;
mod drills;
#[path = "../support/fake_chat.rs"]
mod fake_chat;
mod helmets;
mod keeping;
mod kits;
mod mail;
mod morning;
mod notices;
mod secrecy;
mod staff;
mod store;
mod support;
mod web;
