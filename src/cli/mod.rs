//! The command line: reads, calls, shows. Computes nothing.

mod check;
mod check_port;
mod check_quoting;
mod clear;
mod clear_input;
mod clear_table;
mod close;
mod completions;
mod examples;
mod man;
mod message;
mod new;
mod packet;
mod plan;
mod progress;
mod question;
mod read;
mod ways;

use clap::{Args, CommandFactory, Parser, Subcommand, ValueEnum};
use message::Failure;
use std::process::ExitCode;

/// Plan, cut and close runs of miter-cut round tube between two measured ports.
#[derive(Debug, Parser)]
#[command(version, about, after_help = after_help(), arg_required_else_help = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

const LENGTHS: &str = "\
Lengths take a unit: \"1 3/8 in\", \"35 mm\". In a job, a number alone is in the job's
units.";

const EXIT_CODES: &str = "\
0 done; 1 the input is wrong or the request cannot be met; 2 wrong usage; 3 something
unexpected; 130 stopped by a second Ctrl-C.";

const FIRST_STEPS: &str = "\
Example: runwright check examples/stack.json
Example: runwright plan examples/stack.json -o results";

fn after_help() -> String {
    format!("{LENGTHS}\n\nExit codes: {EXIT_CODES}\n\n{FIRST_STEPS}")
}

#[derive(Debug, Subcommand)]
enum Command {
    Plan(plan::PlanArguments),
    Check(check::CheckArguments),
    Clear(Box<clear::ClearArguments>),
    Close(close::CloseArguments),
    Completions(completions::CompletionsArguments),
    Man(man::ManArguments),
    New(Box<new::NewArguments>),
    Packet(packet::PacketArguments),
    Schema(SchemaArguments),
    Template(packet::TemplateArguments),
}

/// Print a file's JSON Schema: for editors that check as you type, and for programs that
/// read what Runwright writes.
///
/// Example: runwright schema > job.schema.json
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
struct SchemaArguments {
    /// Which file's.
    #[arg(value_enum, default_value_t)]
    of: SchemaOf,
}

/// Files that people write, and files that other programs read.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum SchemaOf {
    /// A job, for plan, check and clear.
    #[default]
    Job,
    /// What was built, for close.
    Built,
    /// The plan.json that plan writes.
    Plan,
    /// The closure.json that close writes.
    Closure,
}

/// Runs the program on the process's arguments.
pub fn main() -> ExitCode {
    // Clap prints usage errors itself and ends with 2.
    let arguments = Arguments::parse();
    let outcome = std::panic::catch_unwind(|| dispatch(arguments.command));
    match outcome {
        Ok(Ok(())) => ExitCode::SUCCESS,
        Ok(Err(failure)) => {
            failure.show();
            ExitCode::from(failure.exit_code())
        }
        // The panic's own message is on stderr already.
        Err(_) => {
            let failure =
                Failure::unexpected("the program failed", "please report this with the job file");
            failure.show();
            ExitCode::from(failure.exit_code())
        }
    }
}

fn dispatch(command: Command) -> Result<(), Failure> {
    match command {
        Command::Plan(arguments) => plan::run(&arguments),
        Command::Check(arguments) => check::run(&arguments),
        Command::Clear(arguments) => clear::run(&arguments),
        Command::Close(arguments) => close::run(&arguments),
        Command::Completions(arguments) => completions::run(&arguments, Arguments::command()),
        Command::Man(arguments) => man::run(&arguments, Arguments::command()),
        Command::New(arguments) => new::run(&arguments),
        Command::Packet(arguments) => packet::run(&arguments),
        Command::Template(arguments) => packet::show_template(&arguments),
        Command::Schema(arguments) => {
            let schema = match arguments.of {
                SchemaOf::Job => crate::job::schema(),
                SchemaOf::Built => crate::job::built_schema(),
                SchemaOf::Plan => crate::export::plan_schema(),
                SchemaOf::Closure => crate::export::closure_schema(),
            };
            let text = serde_json::to_string_pretty(&schema);
            let text = text.map_err(|e| Failure::unexpected(e, "please report this"))?;
            message::print(&format!("{text}\n"))
        }
    }
}
