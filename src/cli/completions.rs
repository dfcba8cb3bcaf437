//! `runwright completions`.

use super::message::{Failure, print};
use clap::{Args, Command};
use clap_complete::Shell;

/// Print a script that completes commands and options in a shell.
///
/// Example: runwright completions bash > ~/.local/share/bash-completion/completions/runwright
/// Example: runwright completions fish > ~/.config/fish/completions/runwright.fish
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub(super) struct CompletionsArguments {
    /// The shell.
    #[arg(value_enum)]
    shell: Shell,
}

/// `command` is the whole program's.
pub(super) fn run(arguments: &CompletionsArguments, mut command: Command) -> Result<(), Failure> {
    let mut script = Vec::new();
    let name = command.get_name().to_owned();
    clap_complete::generate(arguments.shell, &mut command, name, &mut script);
    print(&String::from_utf8_lossy(&script))
}
