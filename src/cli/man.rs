//! `runwright man`.

use super::message::{Failure, note, print};
use super::plan::refused;
use super::{EXIT_CODES, LENGTHS, examples};
use crate::export::{OutFile, write_all};
use crate::units::counted;
use clap::{Args, Command};
use clap_mangen::Man;
use clap_mangen::roff::{Roff, roman};
use std::io;
use std::path::PathBuf;

/// Print the program's manual page, or write one for each command.
///
/// With -o, writes runwright.1 and a page such as runwright-plan.1 for each command.
///
/// Example: runwright man -o ~/.local/share/man/man1
/// Example: runwright man | man -l -
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub(super) struct ManArguments {
    /// Folder for one page a command; made if it is not there.
    #[arg(short, long = "out", value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace pages that are there already.
    #[arg(long, requires = "out")]
    force: bool,
}

/// `command` is the whole program's.
pub(super) fn run(arguments: &ManArguments, command: Command) -> Result<(), Failure> {
    let mut command = command.disable_help_subcommand(true);
    command.build();
    let unexpected = |error: io::Error| Failure::unexpected(error, "please report this");
    let whole = page(
        &command,
        &[("LENGTHS", LENGTHS), ("EXIT STATUS", EXIT_CODES)],
    );
    let whole = whole.map_err(unexpected)?;
    let Some(out) = &arguments.out else {
        return print(&String::from_utf8_lossy(&whole.bytes));
    };
    let exit_codes = [("EXIT STATUS", EXIT_CODES)];
    let mut files = vec![whole];
    for command in command.get_subcommands() {
        files.push(page(command, &exit_codes).map_err(unexpected)?);
    }
    write_all(out, &files, None, arguments.force).map_err(|error| refused(&error))?;
    note(&format!(
        "wrote {} to {}",
        counted(files.len(), "page"),
        out.display()
    ));
    Ok(())
}

/// One command's page, with texts under headings of their own.
fn page(command: &Command, more: &[(&str, &str)]) -> io::Result<OutFile> {
    let about = command.get_long_about().or_else(|| command.get_about());
    let after = command.get_after_help();
    let help: Vec<String> = about
        .into_iter()
        .chain(after)
        .map(ToString::to_string)
        .collect();
    let (_, lines) = examples::split(&help.join("\n\n"));
    let about = about.map(ToString::to_string).unwrap_or_default();
    let shown = command.clone().long_about(examples::split(&about).0);
    let man = Man::new(shown).source(concat!("runwright ", env!("CARGO_PKG_VERSION")));
    let mut bytes = Vec::new();
    man.render_title(&mut bytes)?;
    man.render_name_section(&mut bytes)?;
    man.render_synopsis_section(&mut bytes)?;
    man.render_description_section(&mut bytes)?;
    man.render_options_section(&mut bytes)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut bytes)?;
    }
    let mut roff = Roff::new();
    roff.control("SH", ["EXAMPLES"]);
    // As they are: each on a line of its own.
    roff.control("nf", []);
    for line in lines {
        roff.text([roman(line)]);
    }
    roff.control("fi", []);
    for (heading, text) in more {
        roff.control("SH", [*heading]);
        roff.text([roman(*text)]);
    }
    roff.to_writer(&mut bytes)?;
    Ok(OutFile::new(man.get_filename(), bytes))
}
