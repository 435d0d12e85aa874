//! A highlight too broad to be told pixel by pixel: light of the lamp's own colour that lies over a part of the board like a veil.
//!
//! Within a half a veil adds the same to all three channels, in proportion to the light, while a thicker coat or more light multiplies what the
//! half's own colour has of each. A spot with soft edges is sought whose share on each half explains how its blocks differ among themselves; what it
//! adds to the half's mean follows from its shape, which no single half could show.
//!
//! It is taken off what is read. References keep it: the fits' robust weights leave out those that it spoils.

use crate::reference::patch_of;
use crate::sample::{Region, float};

/// Side of the areas that blocks are brought together in, mm.
const AREA_MM: f64 = 4.0;
/// Standard deviations of the spots that are tried, mm: smaller ones are told pixel by pixel, wider ones are light.
const SIZES_MM: [f64; 2] = [10.0, 20.0];
/// Steps between the middles that are tried, in standard deviations: what is found is moved to where it fits best.
const STEP: f64 = 1.4;
/// Bounds of a spot's standard deviations, mm.
const BOUNDS_MM: (f64, f64) = (4.0, 45.0);
/// Largest ratio of the two.
const LONGEST: f64 = 4.0;
/// How far outside the patches a spot may have its middle, mm.
const OUTSIDE_MM: f64 = 15.0;
/// On a board wider than this no spot is sought: it would take long.
const WIDEST_MM: f64 = 3000.0;
/// Enough steps for that.
const MOST_STEPS: usize = 250;
/// Relative standard deviation of how thickness and light vary over a half.
const THICKNESS: f64 = 0.04;
/// Standard deviation of a block beside what its half shows, of white.
const LEAST_NOISE: f64 = 0.0015;
/// χ² from which a spot is one, and the share that others than the patch which speaks for it most must have of it: on one patch alone it may be the coat.
/// Set on 60 scenes of the study split. `cargo bench --bench allowances -- 300 1200 highlights`, still of that split: on 300 scenes without highlights none is
/// told; where highlights move what the plain method reads by 3 to 10 ΔE00 (196 patches or halves), they move these readings by 1.6, and 85 % are flagged.
const TOLD: (f64, f64) = (300.0, 0.1);
/// A highlight brighter than this, of white, is clipped and left out.
const BRIGHTEST: f64 = 1.5;
/// Standard deviations beyond which a spot is nothing.
const FARTHEST: f64 = 3.5;
/// Most spots that are sought.
const MOST: usize = 3;

/// A soft-edged spot of light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spot {
    outline: Outline,
    /// From millimetres about its middle to standard deviations along its axes.
    rows: [[f64; 2]; 2],
    /// What it adds in its middle, of what a perfect white has.
    peak: f64,
}

/// Where a spot lies.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Outline {
    middle: [f64; 2],
    /// Logs of its standard deviations, mm.
    logs: [f64; 2],
    /// Turn of its axes, radians.
    angle: f64,
}

impl Spot {
    fn new(outline: Outline) -> Self {
        let (sin, cos) = outline.angle.sin_cos();
        let [u, v] = outline.logs.map(|it| (-it).exp());
        Self {
            outline,
            rows: [[cos * u, sin * u], [-sin * v, cos * v]],
            peak: 0.0,
        }
    }

    /// 1 in its middle.
    fn shape(&self, mm: [f64; 2]) -> f64 {
        let d = [
            mm[0] - self.outline.middle[0],
            mm[1] - self.outline.middle[1],
        ];
        let [u, v] = self.rows.map(|it| it[0] * d[0] + it[1] * d[1]);
        let square = u * u + v * v;
        if square > FARTHEST * FARTHEST {
            0.0
        } else {
            (-0.5 * square).exp()
        }
    }

    /// What speaks for it on a side: the sum of what it explains, and its weight.
    fn on(&self, side: &Side) -> (f64, f64) {
        let widest = self.outline.logs[0].max(self.outline.logs[1]).exp();
        if apart(self.outline.middle, side.middle) > side.reach + FARTHEST * widest {
            return (0.0, 0.0);
        }
        let (mut sum, mut square, mut explained) = (0.0, 0.0, 0.0);
        for it in &side.areas {
            let t = self.shape(it.mm);
            sum += it.blocks * t;
            square += it.blocks * t * t;
            explained += it.lighter * t;
        }
        let weight = (square - sum * sum / side.blocks).max(0.0) * side.weight;
        (explained, weight)
    }
}

/// All spots of a photo.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Veil {
    spots: Vec<Spot>,
    /// Evened linear RGB of a perfect white.
    white: [f64; 3],
}

impl Veil {
    /// Evened linear RGB without the veil at a place of the board.
    pub(super) fn lifted(&self, mm: [f64; 2], rgb: [f64; 3]) -> [f64; 3] {
        if self.spots.is_empty() {
            return rgb;
        }
        let over: f64 = self.spots.iter().map(|it| it.peak * it.shape(mm)).sum();
        // No veil is thicker than this against the surface under it: what is left would be noise.
        [0, 1, 2].map(|c| (rgb[c] - over * self.white[c]).max(rgb[c] / 20.0))
    }
}

/// Blocks close together.
struct Area {
    mm: [f64; 2],
    blocks: f64,
    /// Sum of how much lighter than the half's mean they are, in all channels alike, weighted.
    lighter: f64,
}

/// One half, or a patch without a mask.
struct Side {
    patch: usize,
    areas: Vec<Area>,
    /// Its middle, and how far its areas lie from it, mm.
    middle: [f64; 2],
    reach: f64,
    blocks: f64,
    /// Of one block that is lighter by 1 of white.
    weight: f64,
}

/// The veil over a photo's patches; `evened` is the linear RGB of each one's blocks without tone curve and fall-off of light, `white` that of a perfect
/// white.
pub(super) fn of(patches: &[Region], evened: &[Vec<[f64; 3]>], white: [f64; 3]) -> Veil {
    let mut veil = Veil {
        spots: Vec::new(),
        white,
    };
    if white.iter().any(|it| !(it.is_finite() && *it > 0.0)) {
        return veil;
    }
    let mut sides: Vec<Side> = (patches.iter().zip(evened))
        .filter_map(|(it, evened)| side(it, evened, white))
        .collect();
    while veil.spots.len() < MOST {
        let Some(spot) = brightest(&sides).filter(|it| is_told(it, &sides)) else {
            break;
        };
        for side in &mut sides {
            take_off(&spot, side);
        }
        veil.spots.push(spot);
    }
    veil
}

fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
    // Millimetres: `hypot` guards against numbers that overflow, and takes several times as long.
    let [x, y] = [a[0] - b[0], a[1] - b[1]];
    (x * x + y * y).sqrt()
}

/// None with too few blocks to show a shape.
fn side(region: &Region, evened: &[[f64; 3]], white: [f64; 3]) -> Option<Side> {
    const FEWEST: usize = 8;
    let patch = patch_of(region.kind)?;
    if region.blocks.len() < FEWEST {
        return None;
    }
    let of_white = |it: &[f64; 3]| [0, 1, 2].map(|c| it[c] / white[c]);
    let rgb: Vec<[f64; 3]> = evened.iter().map(of_white).collect();
    let n = float(rgb.len());
    let mean = [0, 1, 2].map(|c| rgb.iter().map(|it| it[c]).sum::<f64>() / n);
    if mean.iter().any(|it| !it.is_finite()) {
        return None;
    }
    let noise = scatter(region, &rgb) + LEAST_NOISE.powi(2);
    // (noise · 1 + thickness² · mean meanᵀ)⁻¹ (1, 1, 1), by Sherman and Morrison.
    let along = THICKNESS.powi(2) * mean.iter().sum::<f64>()
        / (noise + THICKNESS.powi(2) * mean.iter().map(|it| it * it).sum::<f64>());
    let weights = mean.map(|it| (1.0 - it * along) / noise);
    let areas = region.squares(AREA_MM).into_iter().map(|square| {
        let blocks = float(square.len());
        let mean_of = |axis: usize| {
            let all = square.iter().map(|i| region.blocks[*i].mm[axis]);
            all.sum::<f64>() / blocks
        };
        let lighter = |i: usize| {
            (0..3)
                .map(|c| weights[c] * (rgb[i][c] - mean[c]))
                .sum::<f64>()
        };
        Area {
            mm: [mean_of(0), mean_of(1)],
            blocks,
            lighter: square.iter().map(|i| lighter(*i)).sum(),
        }
    });
    let areas: Vec<Area> = areas.collect();
    let is_sound = |it: &Area| it.lighter.is_finite() && it.mm.iter().all(|it| it.is_finite());
    if !areas.iter().all(is_sound) {
        return None;
    }
    let middle = [0, 1].map(|k| areas.iter().map(|it| it.mm[k]).sum::<f64>() / float(areas.len()));
    let reach = (areas.iter().map(|it| apart(it.mm, middle))).fold(0.0, f64::max);
    Some(Side {
        patch,
        areas,
        middle,
        reach,
        blocks: n,
        weight: weights.iter().sum(),
    })
}

/// Mean variance of a channel about a plane: what the coat's grain and the camera's noise leave.
fn scatter(region: &Region, rgb: &[[f64; 3]]) -> f64 {
    let n = float(rgb.len());
    let middle = [0, 1].map(|k| region.blocks.iter().map(|it| it.mm[k]).sum::<f64>() / n);
    let place = |i: usize| [0, 1].map(|k| region.blocks[i].mm[k] - middle[k]);
    let (mut xx, mut xy, mut yy) = (1e-9, 0.0, 1e-9);
    for i in 0..rgb.len() {
        let [x, y] = place(i);
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    let determinant = (xx * yy - xy * xy).max(1e-18);
    let mut sum = 0.0;
    for c in 0..3 {
        let mean = rgb.iter().map(|it| it[c]).sum::<f64>() / n;
        let (mut xv, mut yv, mut vv) = (0.0, 0.0, 0.0);
        for (i, it) in rgb.iter().enumerate() {
            let ([x, y], v) = (place(i), it[c] - mean);
            xv += x * v;
            yv += y * v;
            vv += v * v;
        }
        let by_plane = (xv * (yy * xv - xy * yv) + yv * (xx * yv - xy * xv)) / determinant;
        sum += (vv - by_plane).max(0.0);
    }
    // A mean and a plane are taken off.
    sum / (3.0 * (n - 3.0))
}

/// How well a shape explains how blocks differ.
#[derive(Clone, Copy, Debug, Default)]
struct Fit {
    /// χ² that it explains.
    explained: f64,
    /// The part of it that others than the patch which speaks for it most have.
    by_others: f64,
    /// Its height.
    peak: f64,
}

impl Fit {
    /// Whether others than one patch have enough of it.
    fn is_shared(&self) -> bool {
        self.by_others > TOLD.1 * self.explained
    }
}

fn fit(spot: &Spot, sides: &[Side]) -> Fit {
    // Halves of one patch follow each other.
    let mut by_patch: Vec<(usize, f64, f64)> = Vec::new();
    let (mut explained, mut weight) = (0.0, 0.0);
    for side in sides {
        let (e, w) = spot.on(side);
        if w <= 0.0 {
            continue;
        }
        explained += e;
        weight += w;
        match by_patch.last_mut().filter(|it| it.0 == side.patch) {
            Some(it) => {
                it.1 += e;
                it.2 += w;
            }
            None => by_patch.push((side.patch, e, w)),
        }
    }
    if explained <= 0.0 || weight <= 0.0 {
        return Fit::default();
    }
    let peak = explained / weight;
    let gains = by_patch
        .iter()
        .map(|(_, e, w)| 2.0 * peak * e - peak * peak * w);
    let most = gains.fold(0.0, f64::max);
    Fit {
        explained: explained * peak,
        by_others: explained * peak - most,
        peak,
    }
}

/// The spot that explains most of more patches than one: what is on one alone, as a stain, must not hide it.
fn brightest(sides: &[Side]) -> Option<Spot> {
    let places = || sides.iter().flat_map(|it| &it.areas).map(|it| it.mm);
    let range = |axis: usize| {
        let all = places().map(|it| it[axis]);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), it| {
            (low.min(it), high.max(it))
        });
        (low - OUTSIDE_MM, high + OUTSIDE_MM)
    };
    let (x, y) = (range(0), range(1));
    if ![x, y].iter().all(|(low, high)| high - low < WIDEST_MM) {
        return None;
    }
    let mut best: Option<(Fit, Spot)> = None;
    for size in SIZES_MM {
        let steps = |(low, high): (f64, f64)| {
            (0..MOST_STEPS)
                .map(move |i| low + STEP * size * float(i))
                .take_while(move |it| *it < high)
        };
        for middle in steps(y).flat_map(|y| steps(x).map(move |x| [x, y])) {
            let spot = Spot::new(Outline {
                middle,
                logs: [size.ln(); 2],
                angle: 0.3,
            });
            let found = fit(&spot, sides);
            if found.by_others > best.map_or(0.0, |it| it.0.by_others) {
                best = Some((found, spot));
            }
        }
    }
    best.map(|it| settled(it, sides))
}

/// A spot moved, stretched and turned to where it explains most.
fn settled((mut best, mut spot): (Fit, Spot), sides: &[Side]) -> Spot {
    const ROUNDS: usize = 40;
    const FINEST_MM: f64 = 0.3;
    let size = spot.outline.logs[0].exp();
    let mut steps = [size / 2.0, size / 2.0, 0.4, 0.4, 0.6];
    for _ in 0..ROUNDS {
        let mut better = false;
        for (k, step) in steps.iter().enumerate() {
            for step in [*step, -step] {
                let mut next = spot.outline;
                match k {
                    0 | 1 => next.middle[k] += step,
                    2 | 3 => next.logs[k - 2] += step,
                    _ => next.angle += step,
                }
                let bounds = BOUNDS_MM.0.ln()..=BOUNDS_MM.1.ln();
                if !next.logs.iter().all(|it| bounds.contains(it)) {
                    continue;
                }
                let next = Spot::new(next);
                let found = fit(&next, sides);
                // Nor may it walk onto a stain.
                let shared = found.is_shared() || !best.is_shared();
                if shared && found.explained > best.explained {
                    (best, spot) = (found, next);
                    better = true;
                }
            }
        }
        if !better {
            steps = steps.map(|it| it / 2.0);
            if steps[0] < FINEST_MM {
                break;
            }
        }
    }
    Spot {
        peak: best.peak,
        ..spot
    }
}

/// Whether a spot is beyond chance, and on more than one patch.
fn is_told(spot: &Spot, sides: &[Side]) -> bool {
    let found = fit(spot, sides);
    let longer = (spot.outline.logs[0] - spot.outline.logs[1]).abs().exp();
    found.explained >= TOLD.0 && found.is_shared() && found.peak <= BRIGHTEST && longer <= LONGEST
}

/// Takes a spot off a side, so that the next one can be seen.
fn take_off(spot: &Spot, side: &mut Side) {
    let sum: f64 = side
        .areas
        .iter()
        .map(|it| it.blocks * spot.shape(it.mm))
        .sum();
    let mean = sum / side.blocks;
    for it in &mut side.areas {
        it.lighter -= spot.peak * (spot.shape(it.mm) - mean) * it.blocks * side.weight;
    }
}

#[cfg(test)]
mod tests;
