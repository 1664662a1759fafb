//! Behaviour through the public interface, on both engines from one body.

mod morning;
mod store;
mod support;
