//! The `browline` program: commands over the library.
fn main() {}
