//! `masstone panel`: panel files, to begin one and to show one.

mod columns;
mod new;
mod show;

pub(super) use new::create;

use super::failure::{Exit, Failure};

/// Begin a panel file, or show one.
///
/// A panel file says what is on the board: where its patches are, what is in them, and which cards lie beside them.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    New(new::Args),
    Show(show::Args),
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    match &args.command {
        Command::New(args) => new::run(args),
        Command::Show(args) => show::run(args),
    }
}
