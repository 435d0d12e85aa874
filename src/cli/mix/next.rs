//! `mix next`.

use super::super::columns::{Columns, Stand, one_line};
use super::super::failure::{Exit, Failure, say};
use super::super::panel::create;
use super::super::stdout;
use super::super::table::Terminal;
use super::options::{Film, Ready, ready};
use super::{target, words};
use masstone::colour::{Lab, srgb};
use masstone::measure::output;
use masstone::mix::answer::in_short;
use masstone::mix::next::{self, Kind, Next, NextError, Proposal, Wish, panel::Board};
use masstone::mix::shelf::Shelf;
use masstone::mix::{Load, Model};
use masstone::panel;
use masstone::plan::Verdict;
use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Say which few trial patches would make predictions surer.
///
/// Looks at each pigment alone, at mixtures of two and, where it isn't known what a pigment hides, at a second ground; takes the patch that would
/// reduce the uncertainty of predictions most, then the next as if that one were measured. Loads stay within the tested limits. With --out a
/// panel file is written that `masstone plan` reads.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    film: Film,

    /// How many patches.
    #[arg(long, value_name = "N", default_value = "6", value_parser = clap::value_parser!(u8).range(1..=48))]
    count: u8,

    /// Near this colour, instead of over the whole library: 'L,a,b' (D50), a CSS colour, swatch:N, or RECORD.json:PATCH.
    #[arg(long, value_name = "COLOUR", allow_hyphen_values = true)]
    target: Option<String>,

    /// Write the patches as a panel file; one that is there is not overwritten.
    #[arg(long, value_name = "PANEL.toml")]
    out: Option<PathBuf>,

    /// Width and height of a patch in the panel file, in millimetres.
    #[arg(long, value_name = "W,H", default_value = "60,60", value_parser = lengths)]
    patch_mm: Lengths,

    /// The card that lies beside the panel.
    #[arg(long, value_name = "CARD", default_value = "grey-18")]
    card: String,
}

/// Two lengths.
#[derive(Clone, Copy, Debug)]
struct Lengths([f64; 2]);

/// Runs the command.
pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    // Whether the file can be made is known before the work.
    let out = args.out.as_deref().map(fresh).transpose()?;
    let Ready {
        library,
        shelf,
        model,
    } = ready(place, args.film.coating.as_deref())?;
    let meant = args.film.meant(&shelf)?;
    let wanted = (args.target.as_ref())
        .map(|it| target::said(std::slice::from_ref(it), &library))
        .transpose()?;
    let found = next::next(&Wish {
        model: &model,
        trials: &shelf.trials,
        most: most(&shelf, &model),
        ground: meant.ground.clone(),
        g_per_m2: meant.g_per_m2,
        target: wanted.as_ref().map(|it| it.lab),
        missing: missing(&shelf),
        count: usize::from(args.count),
    })
    .map_err(of_next)?;
    let board = Board {
        id: (out.as_deref().and_then(Path::file_stem))
            .map_or_else(|| "next".into(), |it| it.to_string_lossy().into_owned()),
        coating: shelf.coating.clone(),
        substrate: meant.ground.clone(),
        per_coat: shelf.per_coat,
        patch_mm: args.patch_mm.0,
        card: args.card.clone(),
    };
    let text = panel::template(&next::panel::start(&found, &board));
    // What can't be a panel is refused before it is written.
    let shown = out.as_deref().unwrap_or(Path::new("next.toml"));
    panel::read_text(&text, shown).map_err(|it| {
        Failure::usage(
            anyhow::Error::new(it).context("no panel can be made of this"),
            "",
        )
    })?;
    let terminal = Terminal::of_stdout();
    stdout::write(|out| write(&found, meant.note.as_deref(), &shelf, terminal, out))?;
    if let Some(path) = out {
        create(&path, &text)?;
        say(&format!(
            "written to {}; weigh it out with: masstone plan {}",
            path.display(),
            path.display()
        ));
    }
    Ok(Exit::Done)
}

/// The highest load of each pigment: up to its tested limit, else the highest that was measured.
fn most(shelf: &Shelf, model: &Model) -> BTreeMap<String, f64> {
    let all = model.pigments.iter().filter_map(|it| {
        let one = Load {
            pigment: it.id.clone(),
            load: 1.0,
        };
        let share = shelf.standing(std::slice::from_ref(&one)).share;
        let limit = share.filter(|it| *it > 0.0).map(|it| 1.0 / it);
        let most = limit.or(it.loads.last().copied())?;
        // At a load that failed nothing is tried, whatever cured.
        let failed = shelf.standing(&[Load { load: most, ..one }]).verdict == Verdict::Beyond;
        Some((it.id.clone(), if failed { 0.9 * most } else { most }))
    });
    all.collect()
}

/// Grounds without a control, with how many swatches wait for one.
fn missing(shelf: &Shelf) -> Vec<(String, usize)> {
    let there = shelf.substrates();
    let mut grounds: BTreeMap<String, usize> = BTreeMap::new();
    for it in &shelf.left_out {
        if let Some(ground) = (it.ground.as_ref()).filter(|it| !there.contains(it)) {
            *grounds.entry(ground.clone()).or_default() += 1;
        }
    }
    grounds.into_iter().collect()
}

fn of_next(error: NextError) -> Failure {
    let hint = error.hint();
    Failure::work(error, hint)
}

/// A file that isn't there yet.
fn fresh(path: &Path) -> Result<PathBuf, Failure> {
    if path.exists() {
        return Err(Failure::work(
            anyhow::anyhow!("{} is there already and was left alone", path.display()),
            "Name another file with --out, or remove that one first.",
        ));
    }
    Ok(output::check(path)?)
}

fn write(
    next: &Next,
    note: Option<&str>,
    shelf: &Shelf,
    terminal: Terminal,
    out: &mut dyn Write,
) -> io::Result<()> {
    writeln!(
        out,
        "U95 of predictions as it is: {:.2} ΔE00, mean over {} colours\n",
        next.mean_u95, next.colours
    )?;
    let mut table = Columns::new(&[
        ("", Stand::Right),
        ("patch", Stand::Gives),
        ("on", Stand::Gives),
        ("expected", Stand::Left),
        ("then U95", Stand::Right),
        ("why", Stand::Gives),
    ]);
    for (index, it) in next.proposals.iter().enumerate() {
        table.row(it.expected, row(index + 1, it));
    }
    table.write(terminal, out)?;
    writeln!(
        out,
        "\nthen U95: the mean of all predictions once this patch and those before it are measured."
    )?;
    let mut notes: Vec<String> = note.into_iter().map(str::to_owned).collect();
    notes.extend(shelf.notes.iter().chain(&next.notes).cloned());
    words::listed("Notes", &notes, out)?;
    let all: Vec<Load> = (next.proposals.iter())
        .flat_map(|it| it.coat.pigments.iter().cloned())
        .collect();
    words::listed("Cautions", &shelf.cautions(&all, false), out)
}

fn row(number: usize, it: &Proposal) -> Vec<String> {
    let loads: Vec<_> = it.coat.pigments.iter().map(Into::into).collect();
    let patch = match it.kind {
        Kind::Control => "clear coating, a control".to_owned(),
        _ => in_short(&loads),
    };
    let u95 = if it.mean_u95.is_finite() {
        format!("{:.2}", it.mean_u95)
    } else {
        String::new()
    };
    vec![
        number.to_string(),
        one_line(&patch),
        one_line(&it.coat.ground),
        it.expected
            .map_or_else(String::new, |it: Lab| srgb::to_hex(it)),
        u95,
        one_line(&it.why),
    ]
}

/// Parses `W,H`.
fn lengths(text: &str) -> Result<Lengths, String> {
    let numbers: Vec<Option<f64>> = text.split(',').map(|it| it.trim().parse().ok()).collect();
    match numbers[..] {
        [Some(w), Some(h)] if w > 0.0 && h > 0.0 && w.is_finite() && h.is_finite() => {
            Ok(Lengths([w, h]))
        }
        _ => Err("two lengths with a comma between them are needed, as 60,60".to_owned()),
    }
}
