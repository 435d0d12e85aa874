//! `masstone panel new`: a starting panel file.

use super::super::failure::{Exit, Failure};
use super::super::stdout;
use masstone::measure::output;
use masstone::panel::{self, Place, Side, Start};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Write a starting panel file with comments to fill in.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Rows of patches (A, B, C … downwards).
    #[arg(long, value_name = "N", required_unless_present = "csv")]
    rows: Option<usize>,

    /// Columns of patches (1, 2, 3 … rightwards).
    #[arg(long, value_name = "N", required_unless_present = "csv")]
    columns: Option<usize>,

    /// Width and height of a patch in millimetres.
    #[arg(long, value_name = "W,H", value_parser = pair)]
    patch_mm: Pair,

    /// From the edge of a patch to the same edge of the next, across and down, in millimetres. Not given: patches touch.
    #[arg(long, value_name = "W,H", value_parser = pair)]
    pitch_mm: Option<Pair>,

    /// Width and height of the board in millimetres.
    #[arg(long, value_name = "W,H", value_parser = pair)]
    board_mm: Option<Pair>,

    /// From the board's top left corner to that of patch A1, in millimetres. Not given: the grid in the middle.
    #[arg(long, value_name = "X,Y", value_parser = pair, requires = "board_mm")]
    first_mm: Option<Pair>,

    /// The half of each patch under a mask.
    #[arg(long, value_name = "SIDE")]
    masked: Option<SideArg>,

    /// A card that lies beside the panel: one that is built in, or a file of yours. May be repeated.
    ///
    /// With its place after a colon: left, right (unless given), above, below or anywhere; as in grey-18:above.
    #[arg(long, value_name = "CARD[:PLACE]", default_value = "grey-18", value_parser = card)]
    card: Vec<(String, Place)>,

    /// A spreadsheet of the patches, saved as CSV, which the panel file will refer to.
    ///
    /// Its first line names the columns, of: at, id, name, lot, pigment1, load1, pigment2, load2, pigment3, load3, L, a, b,
    /// control, empty. `at` is the position, as A1.
    #[arg(long, value_name = "PATCHES.csv")]
    csv: Option<PathBuf>,

    /// A short name for the panel. Not given: the name of the file.
    #[arg(long, value_name = "ID")]
    id: Option<String>,

    /// A title for people.
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,

    /// The file to write; one that is there is not overwritten. Not given: standard output.
    #[arg(long, value_name = "PANEL.toml")]
    out: Option<PathBuf>,
}

/// Two lengths.
#[derive(Clone, Copy, Debug)]
struct Pair([f64; 2]);

/// Values of `--masked`.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum SideArg {
    Left,
    Right,
    Top,
    Bottom,
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let out = args.out.as_deref().filter(|it| *it != Path::new("-"));
    let start = start(args, out)?;
    let text = panel::template(&start);
    // What can't be a panel is refused before it is written.
    let place = out.unwrap_or(Path::new("panel.toml"));
    panel::read_text(&text, place).map_err(|it| {
        Failure::usage(
            anyhow::Error::new(it).context("no panel can be made of this"),
            "",
        )
    })?;
    match out {
        None => stdout::write(|it| it.write_all(text.as_bytes()))?,
        Some(path) => create(path, &text)?,
    }
    Ok(Exit::Done)
}

fn start(args: &Args, out: Option<&Path>) -> Result<Start, Failure> {
    let csv = args.csv.as_deref();
    let needed = csv.map_or(Ok((1, 1)), panel::size_of_spreadsheet);
    // The message of a spreadsheet holds its hints, each beside its place.
    let (rows, columns) = needed.map_err(|it| Failure::usage(it, ""))?;
    let stem = out
        .and_then(Path::file_stem)
        .map(|it| it.to_string_lossy().into_owned());
    Ok(Start {
        id: args
            .id
            .clone()
            .or(stem)
            .unwrap_or_else(|| "panel".to_owned()),
        title: args.title.clone(),
        spreadsheet: csv.map(|it| seen_from(it, out)).transpose()?,
        rows: args.rows.unwrap_or(rows),
        columns: args.columns.unwrap_or(columns),
        patch_mm: args.patch_mm.0,
        pitch_mm: args.pitch_mm.map(|it| it.0),
        board_mm: args.board_mm.map(|it| it.0),
        first_mm: args.first_mm.map(|it| it.0),
        masked: args.masked.map(|it| match it {
            SideArg::Left => Side::Left,
            SideArg::Right => Side::Right,
            SideArg::Top => Side::Top,
            SideArg::Bottom => Side::Bottom,
        }),
        cards: args.card.clone(),
        substrate: None,
        coating: None,
        coats: None,
        patches: Vec::new(),
    })
}

/// The spreadsheet's path from the folder of the panel file.
fn seen_from(csv: &Path, out: Option<&Path>) -> Result<String, Failure> {
    let folder = out
        .and_then(Path::parent)
        .filter(|it| !it.as_os_str().is_empty());
    let whole = |path: &Path| {
        path.canonicalize().map_err(|it| {
            let error = anyhow::Error::new(it).context(format!("can't find {}", path.display()));
            Failure::work(error, "Make the folder first, or name one that exists.")
        })
    };
    let (csv, folder) = (whole(csv)?, whole(folder.unwrap_or(Path::new(".")))?);
    let path = csv.strip_prefix(&folder).unwrap_or(&csv);
    path.to_str().map(str::to_owned).ok_or_else(|| {
        let message = format!(
            "the path {} is not Unicode, so it can't be written",
            path.display()
        );
        Failure::usage(anyhow::Error::msg(message), "Rename the spreadsheet.")
    })
}

/// Writes a file that was not there before.
pub(in super::super) fn create(path: &Path, text: &str) -> Result<(), Failure> {
    let file = std::fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path);
    let written = file.and_then(|mut file| {
        let done = file
            .write_all(text.as_bytes())
            .and_then(|()| file.sync_all());
        if done.is_err() {
            // Half a file is worse than none.
            let _ = std::fs::remove_file(path);
        }
        done
    });
    written.map_err(|source| match source.kind() {
        io::ErrorKind::AlreadyExists => Failure::work(
            anyhow::Error::msg(format!(
                "{} is there already and was left alone",
                path.display()
            )),
            "Name another file with --out, or remove that one first.",
        ),
        _ => output::OutputError {
            path: path.to_owned(),
            source,
        }
        .into(),
    })
}

/// Parses `W,H`.
fn pair(text: &str) -> Result<Pair, String> {
    let numbers: Vec<Option<f64>> = text.split(',').map(|it| it.trim().parse().ok()).collect();
    match numbers[..] {
        [Some(w), Some(h)] if w.is_finite() && h.is_finite() => Ok(Pair([w, h])),
        _ => {
            Err("two numbers with a comma between them are needed, as 60,40 or 62.5,40".to_owned())
        }
    }
}

/// Parses `CARD` or `CARD:PLACE`.
fn card(text: &str) -> Result<(String, Place), String> {
    let (name, place) = text.rsplit_once(':').unwrap_or((text, "right"));
    let place = match place {
        "left" => Place::Beside(Side::Left),
        "right" => Place::Beside(Side::Right),
        "above" => Place::Beside(Side::Top),
        "below" => Place::Beside(Side::Bottom),
        "anywhere" => Place::Anywhere,
        _ => {
            return Err(format!(
                "\"{place}\" is no place: left, right, above, below or anywhere"
            ));
        }
    };
    Ok((name.to_owned(), place))
}
