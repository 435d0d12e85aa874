//! `masstone plan`: what to weigh out for a panel, or for a job.

mod board;
mod job;
mod options;
mod table;

use super::failure::{Exit, Failure};

/// Plan what to weigh out: for a panel of test patches, or with `plan job` for a job.
///
/// Says how many grams of each part and pigment go into which cup, in the order in which they are weighed, what rounding to the
/// balance does to the loads, how they stand to the tested limits, what everything costs, and for a test of fading what to mask,
/// what to coat besides and when to photograph. Facts come from the library; options go before it.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Args {
    #[command(subcommand)]
    command: Option<Command>,

    #[command(flatten)]
    board: board::BoardArgs,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    Job(job::JobArgs),
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    match &args.command {
        Some(Command::Job(job)) => job::run(job),
        None => board::run(&args.board),
    }
}
