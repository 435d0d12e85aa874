//! Every patch in its place: the cells of the grid, then the patches off it.

use super::error::{PanelError, Problem, Problems, Spot};
use super::facts::{At, Facts};
use super::file::{GridTable, MOST_PATCHES};
use super::{Panel, Patch, overlap, position};
use std::collections::HashMap;

/// Rounding of millimetres that is no contradiction.
const SLACK_MM: f64 = 0.01;

/// The patches and where each was described.
pub(super) struct Layout {
    pub patches: Vec<Patch>,
    pub spots: Vec<Spot>,
}

/// Puts every patch in its place.
///
/// # Errors
/// Positions outside the grid or described twice, ids used twice, patches that overlap, facts that contradict each other.
pub(super) fn patches(
    grid: Option<&GridTable>,
    grid_spot: &Spot,
    rows: Vec<Facts>,
    tables: Vec<Facts>,
) -> Result<Layout, PanelError> {
    let mut problems = Problems::default();
    let (mut cells, mut free) = (HashMap::new(), Vec::new());
    // Within one file a position stands once; a spreadsheet's row and a [[patch]] add up.
    let mut first_of = HashMap::new();
    for (file, facts) in [rows, tables].into_iter().enumerate() {
        for facts in facts {
            let At::Cell(row, column) = facts.place else {
                free.push(facts);
                continue;
            };
            if let Some(problem) = outside(grid, &facts.spot, row, column) {
                problems.add(problem);
                continue;
            }
            let spot = facts.spot.clone();
            let first = first_of.entry((file, row, column)).or_insert(spot.clone());
            if *first != spot {
                let name = position(row, column);
                let message = format!("{name} is described twice, first in {first}");
                problems.add(Problem::new(spot, message));
                continue;
            }
            let merged = match cells.remove(&(row, column)) {
                Some(earlier) => problems.keep(Facts::merged(earlier, facts)),
                None => Some(facts),
            };
            if let Some(facts) = merged {
                cells.insert((row, column), facts);
            }
        }
    }
    problems.check()?;

    let (n_rows, n_columns) = grid.map_or((0, 0), |it| (it.grid.rows, it.grid.columns));
    let in_order = (0..n_rows).flat_map(|row| (0..n_columns).map(move |column| (row, column)));
    let mut all: Vec<Facts> = in_order
        .map(|(row, column)| {
            let blank = || Facts::new(grid_spot.clone(), At::Cell(row, column));
            cells.remove(&(row, column)).unwrap_or_else(blank)
        })
        .collect();
    all.append(&mut free);
    for facts in &all {
        problems.keep(facts.check());
    }
    let spots: Vec<Spot> = all.iter().map(|it| it.spot.clone()).collect();
    let patches: Vec<Patch> = all.into_iter().map(|it| patch(it, grid)).collect();
    check_ids(&patches, &spots, &mut problems);
    if patches.len() > MOST_PATCHES {
        let message = format!("{} patches; a panel can have {MOST_PATCHES}", patches.len());
        problems.add(Problem::new(grid_spot.clone(), message));
    } else {
        check_overlap(&patches, &spots, &mut problems);
    }
    if patches.iter().all(|it| it.empty) {
        let message = if patches.is_empty() {
            "no patches: add a [grid], or a [[patch]] with `at_mm` and `size_mm`"
        } else {
            "every patch is empty"
        };
        problems.add(Problem::new(grid_spot.clone(), message));
    }
    problems.check()?;
    Ok(Layout { patches, spots })
}

fn outside(grid: Option<&GridTable>, spot: &Spot, row: usize, column: usize) -> Option<Problem> {
    let name = position(row, column);
    let Some(grid) = grid.map(|it| it.grid) else {
        let message = format!("{name} is a position in a grid, but there is no [grid]");
        return Some(Problem::new(spot.clone(), message));
    };
    (row >= grid.rows || column >= grid.columns).then(|| {
        let last = position(grid.rows - 1, grid.columns - 1);
        Problem::new(
            spot.clone(),
            format!("{name} lies outside the grid, which ends at {last}"),
        )
    })
}

fn patch(facts: Facts, grid: Option<&GridTable>) -> Patch {
    let (cell, rect) = match facts.place {
        At::Free(rect) => (None, rect),
        At::Cell(row, column) => {
            let grid = &grid.expect("cells without a grid are refused before").grid;
            (Some((row, column)), grid.cell(row, column))
        }
    };
    let name_of_cell = || cell.map_or_else(String::new, |(row, column)| position(row, column));
    let empty = facts.empty.unwrap_or(false);
    Patch {
        id: facts.id.unwrap_or_else(name_of_cell),
        cell,
        rect,
        name: facts.name,
        lot: facts.lot,
        pigments: facts.pigments.unwrap_or_default(),
        wet_g_per_m2: facts.wet_g_per_m2,
        known: facts.known,
        control: facts.control,
        empty,
        masked: facts.masked.or(grid.and_then(|it| it.masked)),
        substrate: facts.substrate,
        coating: facts.coating,
        coats: facts.coats,
        before: None,
    }
}

fn check_ids(patches: &[Patch], spots: &[Spot], problems: &mut Problems) {
    let mut first_of: HashMap<&str, usize> = HashMap::new();
    for (i, patch) in patches.iter().enumerate() {
        let first = *first_of.entry(&patch.id).or_insert(i);
        if first != i {
            let message = format!(
                "the id \"{}\" is used twice: by {} and by {}",
                patch.id,
                described(&patches[first], &spots[first]),
                described(patch, &spots[i])
            );
            problems.add(
                Problem::new(spots[i].clone(), message)
                    .with_hint("Without an `id`, a patch has its position for one."),
            );
        }
    }
}

/// A patch by its position and line.
fn described(patch: &Patch, spot: &Spot) -> String {
    let line = spot
        .line
        .map_or_else(String::new, |it| format!(" (line {it})"));
    match patch.cell {
        Some((row, column)) => format!("{}{line}", position(row, column)),
        None => format!("the patch off the grid{line}"),
    }
}

/// Cells can't overlap each other, since pitch is at least patch; whatever is off the grid can.
fn check_overlap(patches: &[Patch], spots: &[Spot], problems: &mut Problems) {
    for (i, patch) in patches.iter().enumerate() {
        if patch.cell.is_some() || patch.empty {
            continue;
        }
        let other = patches[..i]
            .iter()
            .find(|it| !it.empty && overlap(&it.rect, &patch.rect));
        if let Some(other) = other {
            let message = format!("patch {} overlaps patch {}", patch.id, other.id);
            problems.add(Problem::new(spots[i].clone(), message).with_hint(
                "`at_mm` is from A1's top left corner to the patch's, positive to the right and down.",
            ));
        }
    }
}

/// Every patch must lie on the board, if its outline is stated.
pub(super) fn check_board(
    panel: &Panel,
    spots: &[Spot],
    board_spot: &Spot,
    problems: &mut Problems,
) {
    let Some(board) = panel.board else { return };
    let edge = board.inset(-SLACK_MM);
    let off =
        |patch: &&Patch| !patch.empty && !patch.rect.corners().iter().all(|it| edge.contains(it));
    let in_grid = panel
        .patches
        .iter()
        .filter(|it| it.cell.is_some())
        .find(off);
    if let Some(patch) = in_grid {
        let (right, bottom) = (
            patch.rect.x + patch.rect.width,
            patch.rect.y + patch.rect.height,
        );
        let message = format!(
            "patch {} does not fit on the board: it spans {} to {} mm across and {} to {} mm down, the board is {} × {} mm",
            patch.id,
            patch.rect.x - board.x,
            right - board.x,
            patch.rect.y - board.y,
            bottom - board.y,
            board.width,
            board.height
        );
        problems.add(
            Problem::new(board_spot.clone(), message)
                .with_hint("Check `size_mm` and `first_patch_mm` against the grid."),
        );
    }
    for (patch, spot) in panel.patches.iter().zip(spots) {
        if patch.cell.is_none() && off(&patch) {
            let message = format!("patch {} does not lie on the board", patch.id);
            problems.add(Problem::new(spot.clone(), message));
        }
    }
}
