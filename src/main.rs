//! The program: reads its arguments, calls the library, and turns the outcome into an exit status.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run()
}
