//! A starting panel file, with comments that say what to fill in.

use super::error::PanelError;
use super::facts::{At, CONTROLS};
use super::file::{self, Origin};
use super::source::Source;
use super::{Control, Grid, Panel, PigmentLoad, Place, Side, position, spreadsheet};
use std::fmt::Write as _;
use std::path::Path;

/// What is known of a panel before it is painted.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// Identifier.
    pub id: String,
    /// For people.
    pub title: Option<String>,
    /// A spreadsheet of patches, as a path from the panel file's folder.
    pub spreadsheet: Option<String>,
    /// Rows, ≥ 1.
    pub rows: usize,
    /// Columns, ≥ 1.
    pub columns: usize,
    /// Width and height of a patch, mm.
    pub patch_mm: [f64; 2],
    /// From patch to patch, mm; none if patches touch.
    pub pitch_mm: Option<[f64; 2]>,
    /// Width and height of the board, mm.
    pub board_mm: Option<[f64; 2]>,
    /// From the board's top left corner to A1's, mm; none to have the grid in the middle of the board.
    pub first_mm: Option<[f64; 2]>,
    /// The half under the mask.
    pub masked: Option<Side>,
    /// The cards and where they lie.
    pub cards: Vec<(String, Place)>,
    /// What is coated, where that is known.
    pub substrate: Option<String>,
    /// The coating, where that is known.
    pub coating: Option<String>,
    /// In how many coats, where that is known.
    pub coats: Option<f64>,
    /// What the patches are to be, row by row, where that is known; cells beyond them are empty. None: left to fill in.
    pub patches: Vec<Meant>,
}

/// A patch that is to be painted.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Meant {
    /// What to say of it, a comment.
    pub note: String,
    /// What tints it.
    pub pigments: Vec<PigmentLoad>,
    /// A control.
    pub control: Option<Control>,
    /// What it lies on, where it isn't the panel's substrate.
    pub substrate: Option<String>,
    /// Wet coating, all coats together, pigment included, grams per square metre.
    pub wet_g_per_m2: Option<f64>,
}

/// Writes the panel file.
#[must_use]
pub fn template(start: &Start) -> String {
    let mut out = String::new();
    // Writing to a string can't fail.
    let _ = write_all(start, &mut out);
    out
}

/// Reads a panel from a text as if it were the file at `path`.
///
/// # Errors
/// As [`super::read`].
pub fn read_text(text: &str, path: &Path) -> Result<Panel, PanelError> {
    let source = Source::new(path.display().to_string(), text);
    let origin = Origin {
        path: Some(path),
        is_card: false,
    };
    file::of_source(&source, &origin)
}

/// How many rows and columns a spreadsheet of patches needs.
///
/// # Errors
/// Everything that is wrong with it, each with its line.
pub fn size_of_spreadsheet(path: &Path) -> Result<(usize, usize), PanelError> {
    let rows = spreadsheet::read(&Source::read(path)?)?;
    let cells = rows.iter().filter_map(|it| match it.place {
        At::Cell(row, column) => Some((row + 1, column + 1)),
        At::Free(_) => None,
    });
    Ok(cells.fold((1, 1), |all, it| (all.0.max(it.0), all.1.max(it.1))))
}

impl Start {
    /// From the board's top left corner to A1's: as stated, else with the grid in the middle of the board.
    fn first(&self, board: [f64; 2]) -> [f64; 2] {
        let grid = Grid {
            rows: self.rows,
            columns: self.columns,
            patch_mm: self.patch_mm,
            pitch_mm: self.pitch_mm.unwrap_or(self.patch_mm),
        };
        self.first_mm.unwrap_or_else(|| {
            // Nobody marks a board finer than a tenth of a millimetre.
            [0, 1].map(|axis| (10.0 * (board[axis] - grid.size_mm()[axis]) / 2.0).round() / 10.0)
        })
    }
}

fn write_all(start: &Start, out: &mut String) -> std::fmt::Result {
    let text = |it: &str| toml::Value::from(it).to_string();
    let pair = |it: [f64; 2]| format!("[{}, {}]", it[0], it[1]);
    writeln!(
        out,
        "# What is on the board. A line that starts with # is not read: take the # away to use it."
    )?;
    writeln!(
        out,
        "# Show it as a table and a drawing with `masstone panel show`.\n"
    )?;
    writeln!(out, "id = {}", text(&start.id))?;
    match &start.title {
        Some(title) => writeln!(out, "title = {}", text(title))?,
        None => writeln!(out, "# title = \"Mineral pigments on larch\"")?,
    }
    let stated = |key: &str, value: Option<String>, example: &str| {
        value.map_or_else(
            || format!("# {key} = {example}\n"),
            |it| format!("{key} = {it}\n"),
        )
    };
    let words = |it: &Option<String>| it.as_deref().map(text);
    out.push_str("# For all patches; a [[patch]] may have its own:\n");
    out.push_str(&stated(
        "substrate",
        words(&start.substrate),
        "\"planed larch\"",
    ));
    out.push_str(&stated(
        "coating",
        words(&start.coating),
        "\"clear exterior coating, two-part\"",
    ));
    out.push_str(&stated("coats", start.coats.map(|it| it.to_string()), "3"));
    out.push_str(
        "# If photos of this panel are always upright as displayed:\n\
         # upright = true\n",
    );
    if let Some(path) = &start.spreadsheet {
        writeln!(
            out,
            "\n# What is known of the patches; a [[patch]] below may add what it has no column for."
        )?;
        writeln!(out, "patches = {}", text(path))?;
    }
    match start.board_mm {
        Some(board) => {
            let middle = if start.first_mm.is_none() { " (here: grid in the middle of the board)" } else { "" };
            writeln!(out, "\n[board]\nsize_mm = {}   # width, height", pair(board))?;
            writeln!(
                out,
                "first_patch_mm = {}   # from the board's top left corner to that of patch A1{middle}",
                pair(start.first(board))
            )?;
        }
        None => out.push_str(
            "\n# The board's outline helps to find it and to tell which way is up:\n\
             # [board]\n\
             # size_mm = [520, 370]   # width, height\n\
             # first_patch_mm = [40, 40]   # from the board's top left corner to that of patch A1\n",
        ),
    }
    writeln!(
        out,
        "\n[grid]\nrows = {}   # A, B, C … downwards",
        start.rows
    )?;
    writeln!(out, "columns = {}   # 1, 2, 3 … rightwards", start.columns)?;
    writeln!(out, "patch_mm = {}   # width, height", pair(start.patch_mm))?;
    match start.pitch_mm {
        Some(pitch) => writeln!(
            out,
            "pitch_mm = {}   # from the edge of a patch to the same edge of the next",
            pair(pitch)
        )?,
        None => writeln!(
            out,
            "# pitch_mm = {}   # from the edge of a patch to the same edge of the next",
            pair(start.patch_mm.map(|it| it * 1.25))
        )?,
    }
    match start.masked {
        Some(side) => writeln!(
            out,
            "masked = \"{}\"   # the half under the mask",
            side.name()
        )?,
        None => writeln!(
            out,
            "# masked = \"left\"   # if half of each patch is under a mask: left, right, top or bottom"
        )?,
    }
    for (card, place) in &start.cards {
        writeln!(out, "\n[[card]]\ncard = {}", text(card))?;
        match place {
            Place::Anywhere => writeln!(
                out,
                "place = \"anywhere\"   # better: left, right, above or below the grid"
            )?,
            Place::Beside(side) => {
                let word = match side {
                    Side::Left => "left",
                    Side::Right => "right",
                    Side::Top => "above",
                    Side::Bottom => "below",
                };
                writeln!(out, "place = \"{word}\"   # of the grid")?;
            }
            Place::AtMm(at) => writeln!(
                out,
                "at_mm = {}   # from A1's top left corner to the card's",
                pair(*at)
            )?,
        }
    }
    if start.spreadsheet.is_some() {
        return Ok(());
    }
    out.push_str(
        "\n# The patches. Loads are grams of pigment per 100 g of mixed coating (both parts, before pigment).\n\
         # More that can be said of a patch:\n\
         # id = \"PR101-12\"   # instead of its position\n\
         # lot = \"0312\"   # of the pigment\n\
         # wet_g_per_m2 = 240   # wet coating put on in all coats, pigment included, if weighed\n\
         # lab = [38.2, 41.0, 26.5]   # if its colour is known (D50, 2°): then it is a reference too\n\
         # uncertainty = 0.5   # of that colour, in ΔE00\n\
         # control = \"clear\"   # coating without pigment; on an inert white: \"clear-on-white\"\n\
         # empty = true   # nothing is there\n",
    );
    for row in 0..start.rows {
        for column in 0..start.columns {
            if !start.patches.is_empty() {
                let meant = start.patches.get(row * start.columns + column);
                write_patch(&position(row, column), meant, out)?;
                continue;
            }
            writeln!(
                out,
                "\n[[patch]]\nat = \"{}\"\n# name = \"\"\n# pigments = [{{ pigment = \"PY42\", load = 12.0 }}]",
                position(row, column)
            )?;
        }
    }
    Ok(())
}

/// A patch that is to be painted, or an empty cell.
fn write_patch(at: &str, meant: Option<&Meant>, out: &mut String) -> std::fmt::Result {
    let text = |it: &str| toml::Value::from(it).to_string();
    writeln!(out)?;
    for line in meant.iter().flat_map(|it| it.note.lines()) {
        // What can't stand in a comment is left out.
        let line: String = line.chars().filter(|it| !it.is_control()).collect();
        writeln!(out, "# {line}")?;
    }
    writeln!(out, "[[patch]]\nat = \"{at}\"")?;
    let Some(meant) = meant else {
        return writeln!(out, "empty = true");
    };
    if !meant.pigments.is_empty() {
        let loads = meant.pigments.iter().map(|it| {
            let name = text(&it.pigment);
            format!("{{ pigment = {name}, load = {} }}", it.load)
        });
        writeln!(out, "pigments = [{}]", loads.collect::<Vec<_>>().join(", "))?;
    }
    if let Some((word, _)) = CONTROLS.iter().find(|it| Some(it.1) == meant.control) {
        writeln!(out, "control = \"{word}\"")?;
    }
    if let Some(it) = &meant.substrate {
        writeln!(out, "substrate = {}", text(it))?;
    }
    if let Some(it) = meant.wet_g_per_m2 {
        writeln!(out, "wet_g_per_m2 = {it}")?;
    }
    Ok(())
}

impl Side {
    /// The word for it in a panel file.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Top => "top",
            Self::Bottom => "bottom",
        }
    }
}
