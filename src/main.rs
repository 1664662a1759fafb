//! The `browline` program: commands over the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    browline::cli::run()
}
