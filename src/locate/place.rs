//! A way of laying the layout on the photo, with the evidence of all its outlines.

use super::evidence::{Believed, Look, edges, outline};
use super::fit::{self, Start};
use super::lattice::plausible;
use super::view::View;
use crate::geometry::{PlaneMap, Rect};
use crate::panel::{Control, Grid, Panel, Patch};

/// A way of laying the layout on the photo.
#[derive(Clone, Debug)]
pub(super) struct Placement {
    /// Panel millimetres to view pixels.
    pub map: PlaneMap,
    /// Whether the panel would be seen in a mirror.
    pub mirrored: bool,
    /// The lattice that it is laid on: those of one lattice lie in one plane and differ by a rigid motion. None for a plane of its own.
    pub lattice: Option<usize>,
    /// Log likelihood of the patches' outlines, empty cells aside, over finding them where nothing is.
    pub patches: f64,
    /// What it means for that log likelihood that patches of clear coating may look like the bare board.
    pub clear: f64,
    /// Log likelihood that empty cells are empty, over their holding a patch.
    pub empties: f64,
    /// Sum of beliefs in the patches' outlines.
    pub seen: f64,
    /// The same by half sides that are seen each by itself.
    pub plain: f64,
    /// Number of patches that are not empty.
    pub of: f64,
    /// What is believed of each patch's outline, in the panel's order.
    pub believed: Vec<Believed>,
}

impl Placement {
    /// A way of a plane of its own, before any patch is looked at.
    pub(super) fn none(map: PlaneMap, mirrored: bool, panel: &Panel) -> Self {
        Self {
            map,
            mirrored,
            lattice: None,
            patches: 0.0,
            clear: 0.0,
            empties: 0.0,
            seen: 0.0,
            plain: 0.0,
            of: 0.0,
            believed: Vec::with_capacity(panel.patches.len()),
        }
    }

    /// Adds a cell's patch, or empty cell, in which a patch is seen with a belief.
    pub(super) fn count(&mut self, patch: &Patch, believed: Believed) {
        self.believed.push(believed);
        let (visible, share) = (believed.visible, believed.open);
        let worth = worth(patch, believed);
        if patch.empty {
            self.empties += worth;
        } else {
            self.patches += worth;
            if patch.control == Some(Control::Clear) {
                self.clear += share * (favour_clear(visible) - favour(visible));
            }
            // What a highlight hides was not seen, whatever the rest shows.
            self.seen += share * visible;
            self.plain += believed.plain;
            self.of += 1.0;
        }
    }

    /// Log likelihood of all outlines over their being elsewhere.
    pub(super) fn score(&self) -> f64 {
        self.patches + self.empties
    }

    /// Share of the patches that were seen.
    pub(super) fn share(&self) -> f64 {
        self.seen / self.of.max(1.0)
    }
}

/// A patch that is there is seen this often …
const SEEN: f64 = 0.93;
/// … and where none is, this often something looks like one: of 122 places a pitch beyond single and double rows of hard simulated
/// scenes, none did.
const PHANTOM: f64 = 0.01;

/// A patch of clear coating alone is seen this often: it may look like the bare board.
const CLEAR_SEEN: f64 = 0.5;

/// What a belief in an outline adds to the log likelihood of all.
pub(super) fn worth(patch: &Patch, believed: Believed) -> f64 {
    let sign = if patch.empty { -1.0 } else { 1.0 };
    sign * believed.open * favour(believed.visible)
}

/// The most that it can add.
pub(super) fn most(patch: &Patch) -> f64 {
    if patch.empty {
        -favour(0.0)
    } else {
        favour(1.0)
    }
}

/// Log likelihood ratio of "there is a patch of clear coating" over "there is none", for a belief that one is seen.
fn favour_clear(visible: f64) -> f64 {
    visible * (CLEAR_SEEN / PHANTOM).ln()
        + (1.0 - visible) * ((1.0 - CLEAR_SEEN) / (1.0 - PHANTOM)).ln()
}

/// Log likelihood ratio of "there is a patch" over "there is none", for a belief that one is seen.
pub(super) fn favour(visible: f64) -> f64 {
    visible * (SEEN / PHANTOM).ln() + (1.0 - visible) * ((1.0 - SEEN) / (1.0 - PHANTOM)).ln()
}

/// How to look for a patch's outline; later rounds look closer.
pub(super) fn look(map: &PlaneMap, grid: &Grid, rect: &Rect, round: i32) -> Look {
    let scale = map.jacobian(rect.centre()).determinant().abs().sqrt();
    let size = scale * rect.width.min(rect.height);
    let share = match round {
        0 => 0.12,
        _ => 0.06,
    };
    Look {
        reach: (share * size).clamp(1.8, 8.0),
        gap_mm: (grid.pitch_mm[0] - grid.patch_mm[0]).min(grid.pitch_mm[1] - grid.patch_mm[1]),
        clear_mm: f64::INFINITY,
        step: if size < 40.0 { 0.5 } else { 1.0 },
        sides: false,
        inner: false,
    }
}

/// Refines a placement on all its patches.
pub(super) fn settle(view: &View, panel: &Panel, start: &PlaneMap) -> PlaneMap {
    let mut map = *start;
    for round in 0..2 {
        let seen: Vec<_> = panel
            .patches
            .iter()
            .filter(|it| !it.empty)
            .flat_map(|it| {
                let look = free_look(panel, &map, &it.rect, round + 1);
                edges(view, &map, &it.rect, &look)
            })
            .collect();
        if let Some(better) = fit::homography((&map, Start::Rough), panel.extent().corners(), &seen)
            && plausible(&better, panel.extent().centre())
        {
            map = better;
        }
    }
    map
}

/// How to look for a patch's outline in a panel with or without a grid.
pub(super) fn free_look(panel: &Panel, map: &PlaneMap, rect: &Rect, round: i32) -> Look {
    let grid = panel.grid.unwrap_or(Grid {
        rows: 1,
        columns: 1,
        patch_mm: [rect.width, rect.height],
        pitch_mm: [rect.width, rect.height],
    });
    look(map, &grid, rect, round)
}

/// Weighs a map that was not grown on a lattice.
pub(super) fn weigh(view: &View, panel: &Panel, map: &PlaneMap) -> Placement {
    let mirrored = map.jacobian(panel.extent().centre()).determinant() < 0.0;
    let mut out = Placement::none(*map, mirrored, panel);
    for patch in &panel.patches {
        let look = free_look(panel, map, &patch.rect, 2);
        out.count(patch, outline(view, map, &patch.rect, &look).believed());
    }
    out
}
