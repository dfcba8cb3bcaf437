//! Writes the peat pump of the README: `bay.obj`, the scan of its engine bay, and
//! `pump.json`, the job with what was measured. Both come from the machine as it really is
//! (`tests/support/pump.rs`), with a shop's usual errors; the same bytes every time.
//!
//! `cargo run --example pump_bay -- FOLDER`

#[path = "../tests/support/pump.rs"]
pub(crate) mod pump;
#[path = "../tests/support/mod.rs"]
mod support;

use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder] = &arguments[..] else {
        eprintln!("usage: pump_bay FOLDER");
        return ExitCode::from(2);
    };
    match write(Path::new(folder)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("pump_bay: {folder}: {error}");
            ExitCode::FAILURE
        }
    }
}

pub(crate) fn write(folder: &Path) -> std::io::Result<()> {
    std::fs::create_dir_all(folder)?;
    std::fs::write(folder.join("bay.obj"), pump::scan())?;
    std::fs::write(folder.join("pump.json"), pump::job())
}
