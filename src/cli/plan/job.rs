//! `masstone plan job`.

use super::super::failure::{Exit, Failure};
use super::super::stdout;
use super::options::{Format, Options, named, no_library, of_facts, of_plan};
use super::table;
use masstone::library::Library;
use masstone::measure::output;
use masstone::panel;
use masstone::plan::facts;
use masstone::plan::job::{self, Order};
use masstone::plan::like::{Asked, Like};
use masstone::plan::page;
use masstone::plan::schema::Plan;
use masstone::plan::steps::standing_text;
use masstone::plan::{PlanError, Verdict};
use std::path::{Path, PathBuf};

/// Plan a job: one swatch on so many square metres, in batches that are alike.
#[derive(Debug, clap::Args)]
pub(super) struct JobArgs {
    /// A swatch of the library: its number, PANEL/PATCH or name. With --panel: the id of a patch.
    swatch: String,

    /// The area to be coated, m².
    #[arg(long, value_name = "M2")]
    area: f64,

    /// Take the recipe from a patch of this panel file instead of the library.
    #[arg(long, value_name = "PANEL.toml")]
    panel: Option<PathBuf>,

    /// In how many coats, each as thick as the swatch's. Not given: as the swatch.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100))]
    coats: Option<u32>,

    /// What is to be coated, where it is another substrate than the swatch's.
    #[arg(long, value_name = "TEXT")]
    substrate: Option<String>,

    /// Take a pigment from this lot. May be repeated. Not given: the swatch's lot while there is some, else the only one there.
    #[arg(long, value_name = "PIGMENT=LOT", value_parser = lot)]
    lot: Vec<(String, String)>,

    /// Take another load of a pigment than the swatch has, as for another lot. May be repeated.
    #[arg(long, value_name = "PIGMENT=LOAD", value_parser = named)]
    load: Vec<(String, f64)>,

    /// Plan it although the loads are beyond the tested limits.
    #[arg(long)]
    beyond_limit: bool,

    /// How fast the coating is put on, m²/h.
    #[arg(
        long,
        value_name = "M2_PER_HOUR",
        default_value = "5",
        help_heading = "Workshop"
    )]
    pace: f64,

    /// The most that is mixed at once, g, as its maker or your vessel sets it.
    #[arg(long, value_name = "G", help_heading = "Workshop")]
    largest_batch: Option<f64>,

    /// Tint the whole of this part (1 for the first) beforehand, if its maker allows that. Not given: pigment goes into each batch.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(1..), help_heading = "Workshop")]
    tint_part: Option<u8>,

    #[command(flatten)]
    options: Options,
}

/// Runs the command.
pub(super) fn run(args: &JobArgs) -> Result<Exit, Failure> {
    let settings = args.options.settings().map_err(of_plan)?;
    let library = args.options.library()?;
    let mut inputs: Vec<&Path> = args.panel.as_deref().into_iter().collect();
    inputs.extend(library.as_ref().map(Library::path));
    let sheet = args.options.sheet(&inputs)?;
    let like = like(args, library.as_ref())?;
    let lots = like.with_lots(&args.lot, &args.load).map_err(of_plan)?;
    let recipes = [lots.recipe.clone()];
    let facts =
        facts::facts(&recipes, library.as_ref(), &args.options.given()).map_err(of_facts)?;
    let [coating] = &facts.coatings[..] else {
        return Err(of_plan(PlanError::Nothing));
    };
    let asked = Asked {
        area_m2: args.area,
        coats: args.coats,
        states_coats: args.options.states_coats(),
        substrate: args.substrate.clone(),
    };
    let job = like.job(&asked, &lots.recipe, coating).map_err(of_amount)?;
    let surface = job.surface;
    let taken = [job.taken, lots.taken, facts.taken].concat();
    let notes = [lots.notes, job.notes].concat();
    let plan = job::plan(&Order {
        surface: &surface,
        coating,
        pigments: &facts.pigments,
        limits: &facts.limits,
        settings: &settings,
        currency: args.options.currency.as_deref(),
        pace_m2_per_h: args.pace,
        largest_batch_g: args.largest_batch,
        tint_part: args.tint_part.map(|it| usize::from(it) - 1),
        like: Some(&like),
        taken: &taken,
        notes: &notes,
    })
    .map_err(of_plan)?;
    let standing = facts.limits.standing(&surface.recipe);
    if standing.verdict == Verdict::Beyond && !args.beyond_limit {
        let message = format!(
            "{}: {} is {}",
            args.swatch,
            surface.recipe,
            standing_text(&standing)
        );
        return Err(Failure::work(
            anyhow::Error::msg(message),
            "Lower the loads, or test that very mixture and note how it cured; --beyond-limit plans it all the same.",
        ));
    }
    if let Some(path) = sheet {
        let page = page::of_job(&plan, args.options.paper());
        output::replace_and_keep(&path, |out| out.write_all(page.as_bytes()))?;
    }
    stdout::write(move |out| match args.options.format {
        Format::Table => out.write_all(table::of_job(&plan).as_bytes()),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, &Plan::Job(Box::new(plan)))?;
            out.write_all(b"\n")
        }
    })?;
    Ok(Exit::Done)
}

/// What the job is to look like.
fn like(args: &JobArgs, library: Option<&Library>) -> Result<Like, Failure> {
    let Some(path) = &args.panel else {
        return facts::of_swatch(library.ok_or_else(no_library)?, &args.swatch).map_err(of_facts);
    };
    let panel = panel::read(path).map_err(|it| Failure::usage(it, ""))?;
    facts::of_patch(&panel, &args.swatch, library).map_err(of_facts)
}

/// How to say how much is put on, for a job.
fn of_amount(error: PlanError) -> Failure {
    match error {
        PlanError::NoAmount { .. } => Failure::usage(
            error,
            "State the wet coating of one coat in g/m² with --per-coat, and how many coats with --coats.",
        ),
        other => of_plan(other),
    }
}

/// Parses `PIGMENT=LOT`.
fn lot(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((pigment, lot)) if !lot.is_empty() => Ok((pigment.to_owned(), lot.to_owned())),
        _ => Err("a pigment, =, and its lot are needed, as PR101=0312".to_owned()),
    }
}
