//! `masstone plan job`.

use super::super::failure::{Exit, Failure};
use super::super::stdout;
use super::options::{Format, Options, no_library, of_facts, of_plan};
use super::table;
use masstone::library::Library;
use masstone::measure::output;
use masstone::panel;
use masstone::plan::board::recipe_of;
use masstone::plan::facts;
use masstone::plan::job::{self, Order};
use masstone::plan::page;
use masstone::plan::steps::standing_text;
use masstone::plan::{Coating, Load, PigmentName, PlanError, PutOn, Recipe, Surface, Verdict};
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

    /// In how many coats. Not given: as the swatch.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100))]
    coats: Option<u32>,

    /// Take a pigment from this lot. May be repeated.
    #[arg(long, value_name = "PIGMENT=LOT", value_parser = lot)]
    lot: Vec<(String, String)>,

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
    let mut wanted = match &args.panel {
        Some(path) => Wanted::of_panel(path, &args.swatch)?,
        None => Wanted::of_library(library.as_ref().ok_or_else(no_library)?, &args.swatch)?,
    };
    for (pigment, lot) in &args.lot {
        let load = wanted
            .recipe
            .loads
            .iter_mut()
            .find(|it| it.pigment.pigment == *pigment);
        let load = load.ok_or_else(|| {
            let message = format!("--lot names {pigment:?}, which is not in {}", args.swatch);
            Failure::usage(
                anyhow::Error::msg(message),
                "Write the pigment as the swatch has it.",
            )
        })?;
        load.pigment.lot = Some(lot.clone());
    }
    let recipes = [wanted.recipe.clone()];
    let facts =
        facts::facts(&recipes, library.as_ref(), &args.options.given()).map_err(of_facts)?;
    let [coating] = &facts.coatings[..] else {
        return Err(of_plan(PlanError::Nothing));
    };
    let surface = wanted.surface(args, coating)?;
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
    stdout::write(|out| match args.options.format {
        Format::Table => out.write_all(table::of_job(&plan).as_bytes()),
        Format::Json => {
            serde_json::to_writer_pretty(&mut *out, &plan)?;
            out.write_all(b"\n")
        }
    })?;
    Ok(Exit::Done)
}

/// What is to be coated with what, before it is known how much of it a coat takes.
struct Wanted {
    name: Option<String>,
    recipe: Recipe,
    coats: Option<f64>,
    wet_g_per_m2: Option<f64>,
}

impl Wanted {
    fn of_panel(path: &Path, id: &str) -> Result<Self, Failure> {
        let panel = panel::read(path).map_err(|it| Failure::usage(it, ""))?;
        let patch = panel.patch(id).filter(|it| !it.empty);
        let patch = patch.ok_or_else(|| {
            let message = format!("{} has no patch {id:?}", path.display());
            Failure::usage(
                anyhow::Error::msg(message),
                "`masstone panel show` lists the ids of its patches.",
            )
        })?;
        if patch.pigments.is_empty() && patch.control.is_none() {
            let message = format!(
                "patch {id:?} of {} has neither pigments nor `control`",
                path.display()
            );
            return Err(Failure::usage(
                anyhow::Error::msg(message),
                "Write into the panel file what it is coated with.",
            ));
        }
        Ok(Self {
            name: patch.name.clone(),
            recipe: recipe_of(&panel, patch),
            coats: panel.coats_of(patch),
            wet_g_per_m2: patch.wet_g_per_m2,
        })
    }

    fn of_library(library: &Library, word: &str) -> Result<Self, Failure> {
        let swatch = library
            .find_swatch(word)
            .map_err(super::super::library::failure(library.path()))?;
        let recipe = swatch.recipe;
        if recipe.pigments.is_empty() && recipe.control.is_none() {
            let message = format!("of the swatch {word} nobody said what is in it");
            return Err(Failure::usage(
                anyhow::Error::msg(message),
                "Give its recipe with --panel PANEL.toml.",
            ));
        }
        let coating = recipe.coating.ok_or_else(|| {
            let message = format!("of the swatch {word} nobody said in which coating it is");
            Failure::usage(
                anyhow::Error::msg(message),
                "Give its recipe with --panel PANEL.toml.",
            )
        })?;
        let loads = recipe.pigments.into_iter().map(|it| Load {
            pigment: PigmentName {
                pigment: it.pigment,
                lot: None,
            },
            load: it.load,
        });
        Ok(Self {
            name: swatch.name,
            recipe: Recipe {
                coating,
                loads: loads.collect(),
            },
            coats: recipe.coats,
            wet_g_per_m2: recipe.g_per_m2,
        })
    }

    /// What is put on, and where. What a coat takes, when it is stated here, goes before what the swatch had.
    fn surface(&self, args: &JobArgs, coating: &Coating) -> Result<Surface, Failure> {
        let stated = args.options.states_coats();
        let put_on = PutOn {
            wet_g_per_m2: self.wet_g_per_m2.filter(|_| !stated),
            coats: self.coats,
            coat_g_per_m2: coating.coat_g_per_m2,
        };
        let put_on = args.coats.map_or(put_on, |it| put_on.in_coats(it));
        let (wet_g_per_m2, coats) = put_on.in_all().ok_or_else(|| {
            let of = args.swatch.clone();
            Failure::usage(
                PlanError::NoAmount { of },
                "State the wet coating of one coat in g/m² with --per-coat, and how many coats with --coats.",
            )
        })?;
        Ok(Surface {
            id: args.swatch.clone(),
            name: self.name.clone(),
            recipe: self.recipe.clone(),
            area_m2: args.area,
            wet_g_per_m2,
            coats,
        })
    }
}

/// Parses `PIGMENT=LOT`.
fn lot(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((pigment, lot)) if !lot.is_empty() => Ok((pigment.to_owned(), lot.to_owned())),
        _ => Err("a pigment, =, and its lot are needed, as PR101=0312".to_owned()),
    }
}
