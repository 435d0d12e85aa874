//! `masstone plan PANEL.toml`.

use super::super::failure::{Exit, Failure};
use super::super::stdout;
use super::options::{Format, Options, of_facts, of_plan};
use super::table;
use masstone::library::Library;
use masstone::measure::output;
use masstone::panel;
use masstone::plan::board::{self, FadeOrder, Order};
use masstone::plan::facts;
use masstone::plan::page;
use masstone::plan::schema::Plan;
use std::path::PathBuf;

/// Plan a panel.
#[derive(Debug, clap::Args)]
pub(super) struct BoardArgs {
    /// The panel file.
    #[arg(value_name = "PANEL.toml")]
    panel: Option<PathBuf>,

    /// The least tinted coating that can be stirred well in a cup, g.
    #[arg(long, value_name = "G", default_value = "5", help_heading = "Workshop")]
    least_cup: f64,

    /// From a cup being filled to its patches being coated, minutes a cup.
    #[arg(
        long,
        value_name = "MINUTES",
        default_value = "4",
        help_heading = "Workshop"
    )]
    minutes_per_cup: f64,

    /// It is a test of fading, though nothing is masked.
    #[arg(long, conflicts_with = "no_fade", help_heading = "Fading")]
    fade: bool,

    /// It is no test of fading, though patches are masked.
    #[arg(long, help_heading = "Fading")]
    no_fade: bool,

    /// The patch of which a witness is coated. May be repeated. Not given: the palest tint.
    #[arg(
        long,
        value_name = "ID",
        conflicts_with = "no_fade",
        help_heading = "Fading"
    )]
    witness: Vec<String>,

    /// Hours of exposure at which to photograph, beside 0. Not given: 100, 200, 400, 800, 1600.
    #[arg(
        long,
        value_name = "H,H…",
        value_delimiter = ',',
        conflicts_with = "no_fade",
        help_heading = "Fading"
    )]
    hours: Vec<f64>,

    #[command(flatten)]
    options: Options,
}

/// Runs the command.
pub(super) fn run(args: &BoardArgs) -> Result<Exit, Failure> {
    let panel = args.panel.as_deref().ok_or_else(|| {
        Failure::usage(
            anyhow::Error::msg("there is nothing to plan"),
            "Name a panel file, or a job: masstone plan job SWATCH --area M2.",
        )
    })?;
    let library = args.options.library()?;
    let mut inputs = vec![panel];
    inputs.extend(library.as_ref().map(Library::path));
    let sheet = args.options.sheet(&inputs)?;
    // The message of a panel holds its hints, each beside its place.
    let panel = panel::read(panel).map_err(|it| Failure::usage(it, ""))?;
    let mut settings = args.options.settings().map_err(of_plan)?;
    settings.least_cup_g = args.least_cup;
    settings.minutes_per_cup = args.minutes_per_cup;
    let recipes = facts::recipes_of(&panel);
    let facts =
        facts::facts(&recipes, library.as_ref(), &args.options.given()).map_err(of_facts)?;
    let fade = FadeOrder {
        meant: (args.fade || args.no_fade).then_some(args.fade),
        hours: args.hours.clone(),
        witnesses: args.witness.clone(),
    };
    let plan = board::plan(&Order {
        panel: &panel,
        coatings: &facts.coatings,
        pigments: &facts.pigments,
        limits: &facts.limits,
        settings: &settings,
        currency: args.options.currency.as_deref(),
        fade: &fade,
        taken: &facts.taken,
    })
    .map_err(of_plan)?;
    if let Some(path) = sheet {
        let page = page::of_panel(&plan, &panel, args.options.paper());
        output::replace_and_keep(&path, |out| out.write_all(page.as_bytes()))?;
    }
    stdout::write(move |out| match args.options.format {
        Format::Table => out.write_all(table::of_panel(&plan).as_bytes()),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, &Plan::Panel(Box::new(plan)))?;
            out.write_all(b"\n")
        }
    })?;
    Ok(Exit::Done)
}
