//! `masstone mix`: colours that were not measured, and recipes for wanted ones.

mod ladder;
mod matching;
mod next;
mod options;
mod predict;
mod target;
mod words;

use super::failure::{Exit, Failure};
use super::library;
use std::path::PathBuf;

/// Predict colours of loads and mixtures, and find recipes for a wanted colour.
///
/// Everything is worked out from the library's swatches of one coating as made: each substrate needs a control (coating without
/// pigment), each pigment a swatch, better two loads or more. Loads are grams of pigment per 100 g of mixed coating.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The library's file.
    #[arg(long, global = true, value_name = "FILE")]
    library: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

/// One variant a command, one file a command below `cli/mix/`.
#[derive(Debug, clap::Subcommand)]
enum Command {
    Predict(predict::Args),
    Match(Box<matching::Args>),
    Ladder(ladder::Args),
    Next(next::Args),
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let place = library::place(args.library.as_deref());
    match &args.command {
        Command::Predict(it) => predict::run(it, &place),
        Command::Match(it) => matching::run(it, &place),
        Command::Ladder(it) => ladder::run(it, &place),
        Command::Next(it) => next::run(it, &place),
    }
}
