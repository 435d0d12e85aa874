//! A panel or card file from top to bottom.

use super::error::{PanelError, Problem, Problems};
use super::facts::{self, Facts};
use super::source::Source;
use super::table::{FAR_MM, Table, Value};
use super::{Grid, KnownColour, Panel, cards, known, layout, spreadsheet};
use crate::geometry::Rect;
use std::path::Path;

/// Keys at the top of a file.
const TOP: [&str; 13] = [
    "id",
    "title",
    "edition",
    "source",
    "substrate",
    "coating",
    "coats",
    "upright",
    "patches",
    "board",
    "grid",
    "card",
    "patch",
];
/// The keys of `TOP` that are not tables.
const PLAIN: usize = 9;
/// Most rows, columns and patches of a panel.
pub(super) const MOST_PATCHES: usize = 10_000;

/// Most cards of a panel: more than anyone owns.
const MOST_CARDS: usize = 50;

/// Where a text comes from.
#[derive(Clone, Copy, Debug)]
pub(super) struct Origin<'a> {
    /// The file; none for a card that is part of the program.
    pub path: Option<&'a Path>,
    /// Whether a panel names it as its card.
    pub is_card: bool,
}

/// The panel of a file, with everything it names.
pub(super) fn read(path: &Path) -> Result<Panel, PanelError> {
    let source = Source::read(path)?;
    let origin = Origin {
        path: Some(path),
        is_card: false,
    };
    of_source(&source, &origin)
}

/// The panel of a text, from which colours can be measured.
pub(super) fn of_source(source: &Source, origin: &Origin<'_>) -> Result<Panel, PanelError> {
    let panel = parse(source, origin)?;
    let known = panel.board_colour.is_some() || panel.patches.iter().any(|it| it.known.is_some());
    if panel.cards.is_empty() && !known {
        let message = "neither a card nor a known colour, so no colour can be measured";
        return Err(Problem::new(source.whole(), message)
            .with_hint("Add a [[card]], as `card = \"grey-18\"`, or the `lab` of a patch.")
            .into());
    }
    Ok(panel)
}

/// The panel of a text.
pub(super) fn parse(source: &Source, origin: &Origin<'_>) -> Result<Panel, PanelError> {
    let document = source.parse()?;
    let what = if origin.is_card {
        "the card"
    } else {
        "the panel"
    };
    let top = Table::new(source, what, 0..0, document.get_ref(), &TOP, &[])?;
    let folder = origin.path.map(|it| it.parent().unwrap_or(Path::new("")));

    let mut problems = Problems::default();
    let text = |key: &str| top.get(key).map(|it| it.text()).transpose();
    let id = problems.keep(
        top.need("id", "a short name for this panel")
            .and_then(|it| it.identifier()),
    );
    let title = problems.keep(text("title")).flatten();
    let edition = problems.keep(text("edition")).flatten();
    let source_of_colours = problems.keep(text("source")).flatten();
    let substrate = problems.keep(text("substrate")).flatten();
    let coating = problems.keep(text("coating")).flatten();
    let coats = top
        .get("coats")
        .and_then(|it| problems.keep(it.positive(facts::MOST_COATS)));
    let upright = top.get("upright").and_then(|it| problems.keep(it.flag()));
    let grid = top.get("grid").and_then(|it| problems.keep(read_grid(&it)));
    let board = top
        .get("board")
        .and_then(|it| problems.keep(read_board(&it)));
    let rows = top
        .get("patches")
        .map_or(Ok(Vec::new()), |it| read_rows(&it, folder));
    let rows = rows.map_err(|it| problems.add_all(it)).unwrap_or_default();
    let tables: Vec<Facts> = top
        .items("patch", &mut problems)
        .iter()
        .filter_map(|it| problems.keep(facts::of_patch(it, &TOP[..PLAIN])))
        .collect();
    let mut placed = Vec::new();
    let mut card_spots = Vec::new();
    for (i, value) in top.items("card", &mut problems).iter().enumerate() {
        if i == MOST_CARDS {
            problems.add(value.wrong(format!(
                "more than the {MOST_CARDS} cards that a panel can have"
            )));
            break;
        }
        if origin.is_card {
            problems.add(cards::refuse_nested(value));
            break;
        }
        match cards::placed(value, &TOP[..PLAIN], folder) {
            Ok(card) => {
                placed.push(card);
                card_spots.push(value.spot());
            }
            Err(error) => problems.add_all(error),
        }
    }
    problems.check()?;

    let grid_spot = top
        .get("grid")
        .map_or_else(|| source.whole(), |it| it.spot());
    let layout = layout::patches(grid.as_ref(), &grid_spot, rows, tables)?;
    let board = board.unwrap_or_default();
    let panel = Panel {
        id: id.unwrap_or_default(),
        path: origin.path.map(Path::to_owned),
        title,
        edition,
        source: source_of_colours,
        substrate,
        coating,
        coats,
        upright: upright.unwrap_or(false),
        board: board.outline,
        board_colour: board.colour,
        grid: grid.map(|it| it.grid),
        masked: grid.and_then(|it| it.masked),
        patches: layout.patches,
        cards: placed,
    };
    let board_spot = top
        .get("board")
        .map_or_else(|| source.whole(), |it| it.spot());
    layout::check_board(&panel, &layout.spots, &board_spot, &mut problems);
    cards::check_places(&panel, &card_spots, &mut problems);
    problems.check()?;
    Ok(panel)
}

/// `[grid]`.
#[derive(Clone, Copy, Debug)]
pub(super) struct GridTable {
    pub grid: Grid,
    pub masked: Option<super::Side>,
}

fn read_grid(value: &Value<'_>) -> Result<GridTable, Problem> {
    let known = ["rows", "columns", "patch_mm", "pitch_mm", "masked"];
    let table = value.table("[grid]", &known, &TOP[..PLAIN])?;
    let count = |key: &str| table.get(key).map_or(Ok(1), |it| it.count(MOST_PATCHES));
    let (rows, columns) = (count("rows")?, count("columns")?);
    if rows.saturating_mul(columns) > MOST_PATCHES {
        return Err(table.wrong(format!(
            "{rows} rows of {columns} are more than the {MOST_PATCHES} patches that a panel can have"
        )));
    }
    let patch_mm = table
        .need("patch_mm", "[width, height] of a patch")?
        .lengths()?;
    let pitch = table.get("pitch_mm");
    let pitch_mm = pitch.map_or(Ok(patch_mm), |it| it.lengths())?;
    for (axis, name) in ["width", "height"].into_iter().enumerate() {
        if pitch_mm[axis] < patch_mm[axis] {
            let message = format!(
                "`pitch_mm` goes from patch to patch, so it can't be less than `patch_mm`: {name} {} < {}",
                pitch_mm[axis], patch_mm[axis]
            );
            return Err(pitch.map_or_else(|| table.wrong(&*message), |it| it.wrong(&*message)));
        }
    }
    let grid = Grid {
        rows,
        columns,
        patch_mm,
        pitch_mm,
    };
    if let Some(size) = grid.size_mm().into_iter().find(|it| *it > FAR_MM) {
        let message = format!("the grid is {size} mm long; the limit is {FAR_MM}");
        return Err(table.wrong(message));
    }
    let masked = table
        .get("masked")
        .map(|it| it.one_of(&facts::SIDES))
        .transpose()?;
    Ok(GridTable { grid, masked })
}

/// `[board]`.
#[derive(Clone, Debug, Default)]
struct Board {
    outline: Option<Rect>,
    colour: Option<KnownColour>,
}

fn read_board(value: &Value<'_>) -> Result<Board, Problem> {
    let mut known_keys = vec!["size_mm", "first_patch_mm"];
    known_keys.extend(known::KEYS);
    let table = value.table("[board]", &known_keys, &TOP[..PLAIN])?;
    let outline = match (table.get("size_mm"), table.get("first_patch_mm")) {
        (None, None) => None,
        (Some(size), Some(first)) => {
            let ([width, height], [x, y]) = (size.lengths()?, first.point()?);
            Some(Rect {
                x: -x,
                y: -y,
                width,
                height,
            })
        }
        (Some(_), None) => {
            return Err(table.wrong(
                "`first_patch_mm` is missing in [board]: where A1's top left corner lies from the board's",
            ));
        }
        (None, Some(_)) => {
            return Err(table.wrong("`size_mm` is missing in [board]: the board's [width, height]"));
        }
    };
    Ok(Board {
        outline,
        colour: known::of_table(&table)?,
    })
}

/// The rows of the spreadsheet that the panel file names.
fn read_rows(value: &Value<'_>, folder: Option<&Path>) -> Result<Vec<Facts>, PanelError> {
    let name = value.string()?;
    let Some(folder) = folder else {
        return Err(value
            .wrong("a card that is part of the program has no other files")
            .into());
    };
    let source = Source::read(&folder.join(name)).map_err(|it| {
        value
            .wrong(format!("the table of patches can't be used: {it}"))
            .with_hint("The path is relative to the panel file.")
    })?;
    spreadsheet::read(&source)
}
