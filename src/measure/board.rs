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
/// Least share of the differences among the colours that the known ones must explain. All 166 photos of 12 boards of the simulator's study split
/// have more; boards with other colours in the same places that were tried had less than none (`cargo bench --bench fade -- 12 91000000 study`).
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::srgb::RgbSpace;
    use crate::colour::{Lab, Matrix};
    use crate::panel::{Before, Grid, Side};
    use crate::photo::EncodingSource;
    use crate::sample::tests_support::{panel_2x2, patch};
    use crate::sample::{Block, LeftOut, Overview, Region};

    const ROWS: usize = 3;
    const COLUMNS: usize = 4;

    /// All patches alike in nothing.
    fn colour(i: usize) -> Lab {
        let step = |by: usize| float(i * by % 13) - 6.0;
        Lab::new(55.0 + 4.0 * step(5), 4.0 * step(7), 5.0 * step(11))
    }

    fn panel(before: impl Fn(usize) -> Lab) -> Panel {
        let mut panel = panel_2x2();
        let grid = Grid {
            rows: ROWS,
            columns: COLUMNS,
            patch_mm: [40.0, 40.0],
            pitch_mm: [60.0, 60.0],
        };
        panel.grid = Some(grid);
        panel.patches = (0..ROWS * COLUMNS)
            .map(|i| {
                let (row, column) = (i / COLUMNS, i % COLUMNS);
                let mut it = patch(&format!("p{i}"), (row, column), grid.cell(row, column));
                it.masked = Some(Side::Left);
                it.before = Some(Before {
                    lab: before(i),
                    own: Matrix::zeros(),
                    common: Matrix::zeros(),
                });
                it
            })
            .collect();
        panel
    }

    /// A photo whose masked halves show these colours, by a camera out of balance, underexposed and with half as much contrast again.
    fn photo(shown: impl Fn(usize) -> Lab) -> Samples {
        let to_xyz = *RgbSpace::Srgb.linear_to_xyz_d50();
        let from_xyz = to_xyz.try_inverse().unwrap();
        let region = |i: usize| {
            let xyz = crate::colour::lab::to_xyz(shown(i));
            let rgb = from_xyz * Vector3::new(xyz.x, xyz.y, xyz.z);
            let gains = [0.5, 0.6, 0.35];
            let rgb = [0, 1, 2].map(|c| gains[c] * rgb[c].max(1e-3).powf(1.3));
            Region {
                kind: RegionKind::Masked { patch: i },
                rect: panel_2x2().extent(),
                outline: [[0.0; 2]; 4],
                blocks: vec![Block {
                    mm: [0.0; 2],
                    px: [0.0; 2],
                    rgb,
                    variance: [0.0; 3],
                    n: 9,
                }],
                pixels: 9,
                left_out: LeftOut::default(),
                at_top: 0,
                at_bottom: 0,
            }
        };
        Samples {
            to_xyz,
            encoding: EncodingSource::StatedSrgb,
            camera: None,
            size: [100, 100],
            bits: 8,
            code_step: 0.001,
            patches: (0..ROWS * COLUMNS).map(region).collect(),
            cards: Vec::new(),
            substrate: Vec::new(),
            overview: Overview::default(),
        }
    }

    const LAST: usize = ROWS * COLUMNS - 1;

    #[test]
    fn the_board_is_known_by_any_camera_and_another_is_refused() {
        let panel = panel(colour);
        assert_eq!(check(&panel, &photo(colour)), Ok(()));
        let other = check(&panel, &photo(|i| colour((5 * i + 3) % 12))).unwrap_err();
        assert!(matches!(other, WrongBoard::Other { .. }), "{other}");
        let text = other.to_string();
        assert!(
            !text.contains('-') && text.contains("at least 50 %"),
            "{text}"
        );
        assert!(
            other
                .hint()
                .contains("Check that the photo is of this panel")
        );
    }

    #[test]
    fn a_board_that_lies_turned_is_told_so() {
        let turned = check(&panel(colour), &photo(|i| colour(LAST - i))).unwrap_err();
        let WrongBoard::Turned {
            agreement,
            turned: by_turning,
        } = turned
        else {
            panic!("{turned}");
        };
        assert!(by_turning > 0.9 && agreement < 0.5);
        assert!(turned.hint().contains("Lay the board"));
        // Off a grid nothing says what lies opposite.
        let mut free = panel(colour);
        free.grid = None;
        let other = check(&free, &photo(|i| colour(LAST - i))).unwrap_err();
        assert!(matches!(other, WrongBoard::Other { .. }));
    }

    #[test]
    fn a_board_that_looks_the_same_turned_is_not_refused() {
        let symmetric = |i: usize| colour(i.min(LAST - i));
        assert_eq!(check(&panel(symmetric), &photo(symmetric)), Ok(()));
        // One pair that differs a little, each way round: the colours don't decide it.
        let nearly = |i: usize| {
            let it = symmetric(i);
            if i == LAST {
                Lab::new(it.l + 0.5, it.a, it.b)
            } else {
                it
            }
        };
        let noisy = |i: usize| {
            let it = symmetric(i);
            Lab::new(it.l + 3.0 * (float(i * 7 % 5) - 2.0), it.a, it.b)
        };
        assert_eq!(check(&panel(nearly), &photo(noisy)), Ok(()));
    }

    #[test]
    fn colours_that_are_too_alike_or_too_few_decide_nothing() {
        let alike = |i: usize| Lab::new(50.0 + 0.2 * float(i % 3), 5.0, 10.0);
        assert_eq!(check(&panel(alike), &photo(colour)), Ok(()));
        let mut few = panel(colour);
        for it in few.patches.iter_mut().skip(LEAST_HALVES - 1) {
            it.before = None;
        }
        assert_eq!(check(&few, &photo(|i| colour(LAST - i))), Ok(()));
        let mut unknown = panel(colour);
        for it in &mut unknown.patches {
            it.before = None;
        }
        assert_eq!(check(&unknown, &photo(colour)), Ok(()));
    }
}
