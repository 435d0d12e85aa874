//! What the table around a board looks like, so that a place that shows it is not taken for bare board.
//!
//! Light makes much of a board: a grey table beside dark wood is the wood with a highlight on it, a mottled cloth beside pale wood the
//! wood in less light. But what looks as the table does just beyond the layout, or is as coarse, is the table.

use super::evidence::{COARSER, outline};
use super::place::{self, Placement};
use super::rim::{self, BEYOND, apart_but_for_light, apart_but_for_shadow};
use super::shade;
use super::view::{Graded, Light, View};
use crate::geometry::{PlaneMap, Rect};
use crate::panel::{Panel, Patch};

/// Patches around which the board is read, at most.
const MOST_READ: usize = 8;
/// Grading by which a reading must differ from the board's colour, in whatever light, to be one of the table, beside the board's grain …
const NOT_BOARD: f64 = 2.0;
/// … and by how much less from the table's.
const NEARER: f64 = 0.5;
/// Share of a place's readings from which it shows the table: at its edge a label may lie, or the map be a little off.
const SHARE: f64 = 0.25;
/// Log likelihood of a patch that is not seen where the table is: a sheet may cover it, which is a guess.
const OFF_BOARD: f64 = -3.0;
/// Belief below which a patch is not seen.
const UNSEEN: f64 = 0.5;

/// The table around one way of laying the layout.
pub(super) struct Ground {
    /// Colours beyond the layout's four sides that are not the board's, each with its grain.
    table: Vec<(Graded, f64)>,
    /// The board's colour, and its grain.
    board: (Graded, f64),
}

impl Ground {
    /// Reads it; none where nothing beyond the layout is in view but board, or the layout has no grid.
    pub(super) fn read(view: &View, panel: &Panel, map: &PlaneMap) -> Option<Self> {
        let grid = panel.grid.as_ref()?;
        let gap = [0, 1].map(|k| grid.pitch_mm[k] - grid.patch_mm[k]);
        let patches: Vec<&Patch> = panel.patches.iter().filter(|it| !it.empty).collect();
        let (colours, grains): (Vec<Graded>, Vec<f64>) = patches
            .iter()
            .step_by(patches.len().div_ceil(MOST_READ).max(1))
            .map(|it| shade::ring(view, map, &it.rect, gap))
            .filter(|it| !it.is_empty())
            .map(|it| (shade::median(&it), shade::grain(&it)))
            .unzip();
        if colours.is_empty() {
            return None;
        }
        let board = (shade::median(&colours), super::fit::median(&grains));
        let pitch = grid.pitch_mm[0].min(grid.pitch_mm[1]);
        let rect = match &panel.board {
            Some(it) => it.inset(-0.5 * pitch),
            None => panel.extent().inset(-BEYOND * pitch),
        };
        let corners = rect.corners();
        let table: Vec<(Graded, f64)> = (0..4)
            .filter_map(|i| rim::along(view, map, corners[i], corners[(i + 1) % 4]))
            .map(|it| (shade::median(&it), shade::grain(&it)))
            .filter(|(colour, grain)| {
                apart_but_for_shadow(*colour, board.0) > NOT_BOARD + board.1
                    || *grain > coarse(board.1)
            })
            .collect();
        (!table.is_empty()).then_some(Self { table, board })
    }

    /// Sides of the layout beyond which the table lies, 1–4.
    pub(super) fn sides(&self) -> usize {
        self.table.len()
    }

    /// Whether a place shows the table, where the board near it has a colour.
    pub(super) fn shows(&self, view: &View, map: &PlaneMap, rect: &Rect, board: Graded) -> bool {
        let Some(all) = shade::readings(view, map, rect) else {
            return false;
        };
        let tables = all.iter().filter(|it| self.is_table(**it, board)).count();
        if tables as f64 > SHARE * all.len() as f64 {
            return true;
        }
        let limit = coarse(self.board.1);
        self.table.iter().any(|it| it.1 > limit) && shade::grain(&all) > limit
    }

    /// Whether one colour is the table's rather than what any shadow makes of the board's.
    fn is_table(&self, seen: Graded, board: Graded) -> bool {
        let away = apart_but_for_shadow(seen, board);
        let mut table = self.table.iter();
        away > NOT_BOARD + self.board.1
            && table.any(|it| apart_but_for_light(seen, it.0) < NEARER * away)
    }

    /// Log likelihood that patches which are not seen lie on the board: what looks like bare board hides a patch like it, the table none.
    ///
    /// What lies between two patches of a line that are seen lies on the board, whatever it looks like: boards have no holes.
    pub(super) fn under_unseen(&self, view: &View, panel: &Panel, way: &Placement) -> f64 {
        let (map, extent) = (&way.map, panel.extent());
        let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
        let at_rim = |it: &Rect| {
            near(it.x, extent.x)
                || near(it.y, extent.y)
                || near(it.x + it.width, extent.x + extent.width)
                || near(it.y + it.height, extent.y + extent.height)
        };
        let all = panel.patches.iter().zip(&way.believed);
        let seen = all.filter(|(it, believed)| !it.empty && believed.visible >= UNSEEN);
        let seen: Vec<&Rect> = seen.map(|it| &it.0.rect).collect();
        let between = |it: &Rect| within_a_line(it, &seen);
        let off_board = |it: &&Patch| {
            // Most places show none of the table, which a few readings tell.
            let inner = it.rect.inset(0.2 * it.rect.width.min(it.rect.height));
            let mut few = inner.corners().into_iter().chain([inner.centre()]);
            few.any(|p| {
                view.at(map.map(p))
                    .is_some_and(|it| self.is_table(it, self.board.0))
            }) && self.shows(view, map, &it.rect, self.board.0)
                && {
                    let look = place::free_look(panel, map, &it.rect, 2);
                    outline(view, map, &it.rect, &look).visible() < UNSEEN
                }
        };
        let patches = panel.patches.iter().filter(|it| !it.empty);
        let off = patches
            .filter(|it| at_rim(&it.rect) && !between(&it.rect))
            .filter(off_board);
        OFF_BOARD * off.count() as f64
    }
}

/// Whether others lie on either side of a rectangle in its row, or in its column.
fn within_a_line(it: &Rect, others: &[&Rect]) -> bool {
    let at = |rect: &Rect, k: usize| [rect.x, rect.y][k];
    (0..2).any(|along| {
        let in_line = |other: &&&Rect| (at(other, 1 - along) - at(it, 1 - along)).abs() < 1e-6;
        let beyond = |sign: f64| {
            let mut line = others.iter().filter(in_line);
            line.any(|other| sign * (at(other, along) - at(it, along)) > 1e-6)
        };
        beyond(-1.0) && beyond(1.0)
    })
}

/// Grain beyond which something is coarser than a board of a grain.
fn coarse(board: f64) -> f64 {
    COARSER.0 * board + COARSER.1
}

#[cfg(test)]
mod tests {
    use super::super::view::grade;
    use super::*;

    #[test]
    fn what_lies_between_two_patches_of_a_line_lies_on_the_board() {
        let at = |x: f64, y: f64| Rect {
            x,
            y,
            width: 20.0,
            height: 20.0,
        };
        let (left, right, below) = (at(0.0, 0.0), at(60.0, 0.0), at(60.0, 30.0));
        let within = |it: Rect, others: &[&Rect]| within_a_line(&it, others);
        assert!(within(at(30.0, 0.0), &[&left, &right]));
        assert!(within(at(30.0, 30.0), &[&at(30.0, 0.0), &at(30.0, 60.0)]));
        // At an end of its line, or with the others in two lines.
        assert!(!within(at(90.0, 0.0), &[&left, &right]));
        assert!(!within(at(30.0, 0.0), &[&left, &below]));
        assert!(!within(at(30.0, 0.0), &[&at(30.0, 0.0), &right]));
    }

    #[test]
    fn a_shadow_makes_no_table_of_a_board() {
        let wood = [0.20, 0.12, 0.06];
        let times = |it: [f32; 3], by: f32| grade(it.map(|it| by * it));
        let grey = [0.30, 0.30, 0.28];
        let ground = Ground {
            table: vec![(grade(grey), 1.0)],
            board: (grade(wood), 1.0),
        };
        let is_table = |it| ground.is_table(it, grade(wood));
        assert!(is_table(grade(grey)) && is_table(times(grey, 0.8)));
        for by in [0.2, 0.5, 1.0, 2.0] {
            assert!(!is_table(times(wood, by)), "{by}");
        }
        // A blue label is neither.
        assert!(!is_table(grade([0.05, 0.10, 0.40])));
    }
}
