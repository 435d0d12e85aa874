//! Whether a photo shows the board that it is said to show, the right way round, by the colours that its masked halves had before any sun.
//!
//! Known colours would calibrate a wrong board away: so the photo is held against them while nothing is corrected yet. A camera may be off in
//! balance, exposure and contrast; what is compared is how the colours differ among each other.

use crate::panel::Panel;
use crate::sample::{RegionKind, Samples, float};
use nalgebra::Vector3;

/// Why a photo is not taken for one of the board.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub(super) enum WrongBoard {
    /// Nothing lies where it lay.
    #[error(
        "the board is not the one that was photographed before any sun: its masked halves agree with that one by {:.0} % (at least {:.0} % wanted)",
        100.0 * agreement.max(0.0), 100.0 * LEAST_AGREEMENT
    )]
    Other {
        /// Share of the differences among the colours that the known ones explain, at most 1; below 0 where they are worse than none.
        agreement: f64,
    },
    /// It fits better another way round.
    #[error(
        "the board seems to lie turned by 180°: turned, its colours agree with those before any sun by {:.0} %, as it was found by {:.0} %",
        100.0 * turned, 100.0 * agreement.max(0.0)
    )]
    Turned {
        /// As it was found, 0–1.
        agreement: f64,
        /// If it were turned.
        turned: f64,
    },
}

impl WrongBoard {
    /// What to do next, as a full sentence.
    pub(super) fn hint(&self) -> &'static str {
        match self {
            Self::Other { .. } => {
                "Check that the photo is of this panel, and that the panel file is the one of the first photos; masked and exposed halves must not be swapped."
            }
            Self::Turned { .. } => {
                "Lay the board and its card as in the first photos, or give the corners by hand (--corners)."
            }
        }
    }
}

/// Fewest masked halves that tell one board from another.
const LEAST_HALVES: usize = 4;
/// Spread of the logarithms of colours below which they are too alike to tell: 15 %.
const LEAST_SPREAD: f64 = 0.15;
/// Least share of the differences among the colours that the known ones must explain. Photos of the right board in the simulator's study
/// split have 0.9 and more; boards with other colours in the same places hardly any.
const LEAST_AGREEMENT: f64 = 0.5;
/// By what factor less must be left unexplained of a turned board before it is taken for turned: where opposite patches are alike, colours
/// say nothing, and the witnesses that the location went by stand.
const CLEARLY: f64 = 0.8;

/// Holds the photo's masked halves against what they were; right where nothing was measured before, or too little to tell.
pub(super) fn check(panel: &Panel, samples: &Samples) -> Result<(), WrongBoard> {
    let pairs = pairs(panel, samples, &|patch| Some(patch));
    let Some(agreement) = agreement(&pairs) else {
        return Ok(());
    };
    if agreement < LEAST_AGREEMENT {
        return Err(match self::agreement(&turned(panel, samples)) {
            Some(turned) if turned >= LEAST_AGREEMENT => WrongBoard::Turned { agreement, turned },
            _ => WrongBoard::Other { agreement },
        });
    }
    match self::agreement(&turned(panel, samples)) {
        Some(turned) if 1.0 - turned < CLEARLY * (1.0 - agreement) => {
            Err(WrongBoard::Turned { agreement, turned })
        }
        _ => Ok(()),
    }
}

/// Logarithms of what is seen and of what was known, in linear RGB.
type Pair = (Vector3<f64>, Vector3<f64>);

/// What is seen as each patch's masked half, with what was known of the patch that `other` says.
fn pairs(panel: &Panel, samples: &Samples, other: &dyn Fn(usize) -> Option<usize>) -> Vec<Pair> {
    let Some(from_xyz) = samples.to_xyz.try_inverse() else {
        return Vec::new();
    };
    let logs = |rgb: Vector3<f64>| rgb.map(|it| it.max(2e-3).ln());
    let regions = samples.patches.iter();
    let pair = |region: &crate::sample::Region| {
        let RegionKind::Masked { patch } = region.kind else {
            return None;
        };
        let before = panel.patches.get(other(patch)?)?.before?;
        let xyz = crate::colour::lab::to_xyz(before.lab);
        let seen = Vector3::from(region.mean_rgb()?);
        Some((
            logs(seen),
            logs(from_xyz * Vector3::new(xyz.x, xyz.y, xyz.z)),
        ))
    };
    regions.filter_map(pair).collect()
}

/// As if the board lay turned by 180°.
fn turned(panel: &Panel, samples: &Samples) -> Vec<Pair> {
    let Some(grid) = panel.grid else {
        return Vec::new();
    };
    let opposite = |patch: usize| {
        let (row, column) = panel.patches.get(patch)?.cell?;
        let cell = (
            grid.rows.checked_sub(row + 1)?,
            grid.columns.checked_sub(column + 1)?,
        );
        (panel.patches.iter()).position(|it| it.cell == Some(cell))
    };
    pairs(panel, samples, &opposite)
}

/// Share of the differences among the seen colours that the known ones explain, each of lightness and two ratios of channels with a contrast
/// of its own; none where too few are known, or all are alike.
fn agreement(pairs: &[Pair]) -> Option<f64> {
    if pairs.len() < LEAST_HALVES {
        return None;
    }
    let parts = |it: &Vector3<f64>| [it.mean(), it.x - it.y, it.z - it.y];
    let n = float(pairs.len());
    let (mut all, mut left, mut known) = (0.0, 0.0, 0.0);
    for k in 0..3 {
        let values: Vec<(f64, f64)> = (pairs.iter())
            .map(|(seen, before)| (parts(seen)[k], parts(before)[k]))
            .collect();
        let mean_seen = values.iter().map(|it| it.0).sum::<f64>() / n;
        let mean_known = values.iter().map(|it| it.1).sum::<f64>() / n;
        let (mut ss, mut kk, mut sk) = (0.0, 0.0, 0.0);
        for (seen, before) in &values {
            ss += (seen - mean_seen).powi(2);
            kk += (before - mean_known).powi(2);
            sk += (seen - mean_seen) * (before - mean_known);
        }
        // A camera may flatten or deepen contrasts, but not turn them round.
        let contrast = if kk > 0.0 {
            (sk / kk).clamp(0.5, 2.0)
        } else {
            1.0
        };
        all += ss;
        known += kk;
        left += ss - 2.0 * contrast * sk + contrast * contrast * kk;
    }
    let spread = (known / n).sqrt();
    (spread >= LEAST_SPREAD && all > 0.0).then(|| 1.0 - left / all)
}
