//! `runwright packet` and `runwright template`.

use super::message::{Failure, note, print, warn};
use super::plan::{refused, thickness};
use super::read;
use crate::export::{DEFAULT_TEMPLATE, Packet, PacketError, PaperSize, write_all};
use crate::job::Problem;
use crate::plan::{MAX_PLAN_BYTES, read_plan};
use crate::units::Length;
use clap::{Args, ValueEnum};
use std::path::{Path, PathBuf};

/// Write the shop packet of a plan: packet.pdf, the paper that goes to the saw.
///
/// Cover, pieces, saw sheet and stick layout, wrap patterns at true size, clock tape,
/// cradle, tack-up sheet, quote, cautions. 'runwright plan' writes it too; this makes it
/// again from a plan.json alone, on other paper or by a template of your own.
///
/// Example: runwright packet results/plan.json -o paper --page a4
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub(super) struct PacketArguments {
    /// The plan.json that 'runwright plan' or 'runwright close' wrote.
    plan: PathBuf,
    /// Folder for packet.pdf; made if it is not there.
    #[arg(short, long = "out", value_name = "DIR")]
    out: PathBuf,
    /// Replace a packet that is there already.
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    paper: PaperArguments,
}

/// What a packet is printed on.
#[derive(Clone, Debug, Args)]
pub(super) struct PaperArguments {
    /// Size of the paper. Default: letter for jobs in inches or feet, a4 for others.
    #[arg(long, value_enum)]
    page: Option<PageArgument>,
    /// Thickness of the paper that patterns are printed on; mm unless said.
    #[arg(long, value_name = "LENGTH", default_value = "0.1 mm", value_parser = thickness)]
    paper: Length,
    /// Thickness of the card or sheet that patterns and cradles are cut from; mm unless
    /// said.
    #[arg(long, value_name = "LENGTH", default_value = "0 mm", value_parser = thickness)]
    card: Length,
    /// A template of your own for the packet; 'runwright template' prints the usual one.
    #[arg(long, value_name = "FILE")]
    template: Option<PathBuf>,
}

/// [`PaperSize`], as it is written on the command line.
#[derive(Clone, Copy, Debug, ValueEnum)]
enum PageArgument {
    /// 8 1/2 by 11 inches.
    Letter,
    /// 210 by 297 mm.
    A4,
}

/// Print the template of the shop packet, to be changed and given with --template.
///
/// Example: runwright template > mine.typ
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub(super) struct TemplateArguments {}

/// Largest template that is read, in bytes.
const MAX_TEMPLATE_BYTES: u64 = 4 * 1024 * 1024;

impl PaperArguments {
    /// The packet as it is asked for, its template read.
    pub(super) fn packet(&self) -> Result<Packet, Failure> {
        let template = self.template.as_deref().map(template).transpose()?;
        Ok(Packet {
            page: self.page.map(|page| match page {
                PageArgument::Letter => PaperSize::Letter,
                PageArgument::A4 => PaperSize::A4,
            }),
            paper: self.paper,
            card: self.card,
            template,
        })
    }

    /// The template's file, which nothing may write over.
    pub(super) fn source(&self) -> Option<&Path> {
        self.template.as_deref()
    }

    /// Why there is no packet, in the words of whoever wrote the template.
    pub(super) fn failure(&self, error: PacketError) -> Failure {
        match (error, &self.template) {
            (PacketError::Template(errors), Some(path)) => {
                let help =
                    "see what 'runwright template' prints, and what it reads from packet.json";
                let problems = errors
                    .into_iter()
                    .map(|error| Problem::of_file(error.to_string(), help));
                Failure::of(read::shown(path), problems.collect())
            }
            (error @ PacketError::TooManyPieces { .. }, _) => Failure::one(
                "packet.pdf",
                error,
                "plan fewer runs at a time, or without the packet: runwright plan --no-packet",
            ),
            (error, _) => Failure::unexpected(error, "please report this with the plan"),
        }
    }
}

fn template(path: &Path) -> Result<String, Failure> {
    let file = read::shown(path);
    let bytes = read::bytes(path, MAX_TEMPLATE_BYTES)?;
    if bytes.len() as u64 > MAX_TEMPLATE_BYTES {
        let message = format!("has more than {MAX_TEMPLATE_BYTES} bytes: too large for a template");
        return Err(Failure::one(
            file,
            message,
            "is this a template? 'runwright template' prints the usual one",
        ));
    }
    String::from_utf8(bytes).map_err(|error| Failure::one(file, error, "save it as UTF-8 text"))
}

pub(super) fn run(arguments: &PacketArguments) -> Result<(), Failure> {
    let file = arguments.plan.display().to_string();
    let bytes = read::bytes(&arguments.plan, MAX_PLAN_BYTES)?;
    let plan = read_plan(&bytes).map_err(|problems| Failure::of(&file, problems))?;
    warn(&file, &plan.warnings);
    let packet = arguments.paper.packet()?;
    let pdf = packet
        .of(&plan)
        .map_err(|error| arguments.paper.failure(error))?;
    let sources = std::iter::once(arguments.plan.as_path()).chain(arguments.paper.source());
    write_all(&arguments.out, &[pdf], sources, arguments.force).map_err(|error| refused(&error))?;
    note(&format!("wrote packet.pdf to {}", arguments.out.display()));
    Ok(())
}

pub(super) fn show_template(_: &TemplateArguments) -> Result<(), Failure> {
    print(DEFAULT_TEMPLATE)
}
