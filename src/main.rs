//! The `runwright` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    runwright::cli::main()
}
