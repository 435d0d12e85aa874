//! The commands. Nothing below here computes; nothing outside of it reads arguments, prints or exits.

mod calibrate;
mod check;
mod columns;
mod fade;
mod failure;
mod library;
mod measure;
mod mix;
mod panel;
mod plan;
mod progress;
mod publish;
mod stdout;
mod table;
mod width;

use clap::{Parser, Subcommand};
use failure::Exit;
use std::process::ExitCode;

/// Measure painted colour with a camera.
///
/// A photo of a board of painted patches beside a grey card becomes a CIELAB value for every patch, each with its
/// uncertainty.
#[derive(Debug, Parser)]
#[command(version, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

/// One variant a command, one file a command below `cli/`.
#[derive(Debug, Subcommand)]
enum Command {
    Measure(measure::Args),
    Calibrate(calibrate::Args),
    Check(check::Args),
    Library(library::Args),
    Panel(panel::Args),
    Plan(Box<plan::Args>),
    Fade(fade::Args),
    Mix(mix::Args),
    Publish(publish::Args),
}

/// Reads the arguments, runs the command, and turns what became of it into an exit status.
pub(crate) fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(help_or_usage) => {
            // A reader that closed the pipe has seen enough of the help.
            let _ = help_or_usage.print();
            return Exit::from_clap(&help_or_usage).into();
        }
    };
    let result = match &cli.command {
        Command::Measure(args) => measure::run(args),
        Command::Calibrate(args) => calibrate::run(args),
        Command::Check(args) => check::run(args),
        Command::Library(args) => library::run(args),
        Command::Panel(args) => panel::run(args),
        Command::Plan(args) => plan::run(args),
        Command::Fade(args) => fade::run(args),
        Command::Mix(args) => mix::run(args),
        Command::Publish(args) => publish::run(args),
    };
    result.unwrap_or_else(|failure| failure.report()).into()
}
