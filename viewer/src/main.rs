//! `runwright-bench`: see [`runwright_bench`].

use clap::Parser;
use kiss3d::pollster::block_on;
use runwright_bench::arguments::Arguments;
use runwright_bench::{snapshot, window};
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match (&arguments.snapshot, arguments.frames) {
        (Some(file), _) => {
            let picture = block_on(snapshot::picture(&arguments));
            if let Err(error) = picture.save(file) {
                eprintln!(
                    "{}: {error}\nhelp: name a file that ends in .png",
                    file.display()
                );
                return ExitCode::FAILURE;
            }
        }
        (None, Some(count)) => println!("{}", block_on(snapshot::time(&arguments, count))),
        (None, None) if !has_display() => {
            eprintln!(
                "there is no display to open a window on\nhelp: run it from a desktop, or draw a picture with --snapshot FILE.png"
            );
            return ExitCode::FAILURE;
        }
        (None, None) => block_on(window::run(&arguments)),
    }
    ExitCode::SUCCESS
}

/// Whether there is anything to open a window on; other systems always have it.
fn has_display() -> bool {
    let known = |name| std::env::var_os(name).is_some_and(|value| !value.is_empty());
    !cfg!(target_os = "linux") || known("DISPLAY") || known("WAYLAND_DISPLAY")
}
