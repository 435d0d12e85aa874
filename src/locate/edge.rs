//! The evidence of one straight outline: a mean profile across it.
//!
//! The colour is averaged along the outline at every distance from it, and only then differentiated. What runs along
//! the outline adds up; grain, noise and what crosses it average out.

use super::view::{Graded, Light, distance};
use crate::geometry::Point;
use nalgebra::Vector2;

/// Pixels next to an outline in which both sides mix.
pub(super) const BLURRED: f64 = 1.0;

/// Mean colours along a line, shifted step by step along its normal.
#[derive(Debug)]
pub(super) struct Profile {
    /// Offset of the first colour, pixels.
    first: f64,
    /// Pixels from colour to colour.
    step: f64,
    /// Mean colours.
    colours: Vec<Graded>,
    /// Their variances, all channels together …
    variances: Vec<f64>,
    /// … as shares of those of a single colour along the line.
    shares: f64,
}

/// The steepest place of a profile.
#[derive(Clone, Copy, Debug)]
pub(super) struct Peak {
    /// Where, pixels from the line along its normal.
    pub offset: f64,
    /// Slope there, grading a pixel.
    pub slope: f64,
    /// Median slope elsewhere.
    pub background: f64,
    /// Standard error of a slope, from how colours scatter along the line.
    pub error: f64,
}

/// By how much a line's slope must stand out from the slopes elsewhere, as a factor; its standard errors besides; and the slope of the faintest
/// line, grading a pixel.
const ABOVE: f64 = 2.5;
const SURE: f64 = 3.0;
const FAINTEST: f64 = 0.12;

impl Peak {
    /// Whether a line stands out from what lies beside it, though noise may have made it.
    pub(super) fn stands_out(&self) -> bool {
        self.slope >= self.least()
    }

    /// Whether one does that noise hardly made.
    pub(super) fn is_sure(&self) -> bool {
        self.slope >= self.least() + SURE * self.error
    }

    fn least(&self) -> f64 {
        ABOVE * self.background + FAINTEST
    }
}

/// Takes the profile across `a`–`b`, its ends spared, from `range.0` to `range.1` along `normal`.
///
/// None if the line leaves the picture.
pub(super) fn profile(
    light: &impl Light,
    a: Point,
    b: Point,
    normal: Vector2<f64>,
    range: (f64, f64),
    step: f64,
) -> Option<Profile> {
    let length = (b - a).norm();
    let samples = if length < 12.0 {
        6
    } else if length < 40.0 {
        8
    } else {
        12
    };
    // Corners are rounded, and belong to the other side as well.
    let spare = 0.14;
    let along = (b - a) * ((1.0 - 2.0 * spare) / f64::from(samples));
    let first = a + (b - a) * spare + along / 2.0;
    let (mut colours, mut variances) = (Vec::with_capacity(32), Vec::with_capacity(32));
    let mut offset = range.0 - step;
    while offset <= range.1 + step + 1e-9 {
        let (sum, squares) = light.along(first + normal * offset, along, samples)?;
        #[expect(clippy::cast_precision_loss, reason = "12 at most")]
        let n = samples as f32;
        let mean = sum.map(|it| it / n);
        let scatter = squares / n - mean.iter().map(|it| it * it).sum::<f32>();
        // Colours that lie close along the line are alike: a pair counts as one.
        variances.push(f64::from(scatter.max(0.0) / (0.5 * n)));
        colours.push(mean);
        offset += step;
    }
    (colours.len() >= 3).then_some(Profile {
        first: range.0 - step,
        step,
        colours,
        variances,
        shares: 2.0 / f64::from(samples),
    })
}

impl Profile {
    /// How far the colours inside of the line are from those outside, and the standard error of that.
    pub(super) fn contrast(&self) -> (f64, f64) {
        let ((inside, a), (outside, b)) = self.sides();
        (distance(inside, outside), (a + b).sqrt())
    }

    /// The mean colour inside of the line, less that outside.
    pub(super) fn difference(&self) -> Graded {
        let ((inside, _), (outside, _)) = self.sides();
        [0, 1, 2].map(|k| inside[k] - outside[k])
    }

    /// The offset within `reach` that parts the profile into two levels of lightness best, the higher outside: the least squares of two
    /// means. A texture's own slopes may be steeper than the step between them.
    pub(super) fn parting(&self, reach: f64) -> f64 {
        let lightness: Vec<f64> = self.colours.iter().map(|it| f64::from(it[0])).collect();
        let n = lightness.len();
        let total: f64 = lightness.iter().sum();
        let (mut sum, mut best, mut found) = (0.0, 0.0, f64::MIN);
        for k in 1..n {
            sum += lightness[k - 1];
            let offset = self.first + (k as f64 - 0.5) * self.step;
            let (inside, outside) = (k as f64, (n - k) as f64);
            let rise = (total - sum) / outside - sum / inside;
            let parted = rise * rise.abs() * inside * outside;
            if offset.abs() <= reach + 1e-9 && parted > found {
                (best, found) = (offset, parted);
            }
        }
        best
    }

    /// Mean lightness inside of an offset and outside, and the standard error of their difference.
    pub(super) fn lightness_beside(&self, offset: f64) -> (f64, f64, f64) {
        let ((inside, a), (outside, b)) = self.beside(offset);
        (f64::from(inside[0]), f64::from(outside[0]), (a + b).sqrt())
    }

    /// The colours outside of an offset, but for those in which both sides mix.
    pub(super) fn beyond(&self, offset: f64) -> impl Iterator<Item = Graded> {
        let outside = move |i: usize| self.first + i as f64 * self.step - offset > BLURRED;
        let all = self.colours.iter().copied().enumerate();
        all.filter(move |it| outside(it.0)).map(|it| it.1)
    }

    /// Mean colours inside of the line and outside, each with its variance.
    fn sides(&self) -> ((Graded, f64), (Graded, f64)) {
        self.beside(0.0)
    }

    /// Mean colours inside of an offset from the line and outside, each with its variance.
    fn beside(&self, offset: f64) -> ((Graded, f64), (Graded, f64)) {
        let side = |sign: f64| {
            let (mut sum, mut variance, mut n) = ([0.0_f32; 3], 0.0, 0.0_f32);
            for (i, (colour, own)) in self.colours.iter().zip(&self.variances).enumerate() {
                if sign * (self.first + i as f64 * self.step - offset) > BLURRED {
                    for (s, c) in sum.iter_mut().zip(colour) {
                        *s += c;
                    }
                    variance += own;
                    n += 1.0;
                }
            }
            // Colours a pixel apart are alike: a pair counts as one.
            let mean = sum.map(|it| it / n.max(1.0));
            (mean, 2.0 * variance / f64::from(n * n).max(1.0))
        };
        (side(-1.0), side(1.0))
    }

    /// How much colours scatter along the line inside of it and outside, standard deviations.
    pub(super) fn scatter(&self) -> (f64, f64) {
        let side = |sign: f64| {
            let beyond = |i: usize| sign * (self.first + i as f64 * self.step) > BLURRED;
            let there = self.variances.iter().enumerate().filter(|it| beyond(it.0));
            let (sum, n) = there.fold((0.0, 0.0), |(sum, n), it| (sum + it.1, n + 1.0));
            (sum / f64::max(n, 1.0) / self.shares).sqrt()
        };
        (side(-1.0), side(1.0))
    }

    /// The steepest place, to a fraction of a step.
    pub(super) fn steepest(&self) -> Peak {
        self.steepest_within(f64::MAX)
    }

    /// The steepest place no farther than `reach` from the line.
    pub(super) fn steepest_within(&self, reach: f64) -> Peak {
        self.peak(reach, false)
    }

    /// The innermost place that is about as steep as the steepest, no farther than `reach` from the line: where a sheet lies close beside
    /// a board, the sheet ends at the first edge from its middle outwards, however much harder the board's own is.
    pub(super) fn innermost_within(&self, reach: f64) -> Peak {
        self.peak(reach, true)
    }

    /// Whether the steepest place is a line that lies farther inwards than `reach`.
    pub(super) fn ends_before(&self, reach: f64) -> bool {
        let peak = self.steepest();
        peak.offset < -reach && peak.is_sure()
    }

    /// The steepest place within `reach`, or the innermost of those about as steep.
    fn peak(&self, reach: f64, innermost: bool) -> Peak {
        let slopes: Vec<f64> = self
            .colours
            .windows(3)
            .map(|it| distance(it[2], it[0]) / (2.0 * self.step))
            .collect();
        let offset = |i: f64| self.first + (i + 1.0) * self.step;
        let mut best = 0;
        let mut found = -1.0;
        for (i, slope) in slopes.iter().enumerate() {
            if offset(i as f64).abs() <= reach + 1e-9 && *slope > found {
                (best, found) = (i, *slope);
            }
        }
        if innermost {
            best = first_edge(&slopes, best, |i| offset(i as f64).abs() <= reach + 1e-9);
            found = slopes.get(best).copied().unwrap_or(found);
        }
        let mut fraction = 0.0;
        if best > 0 && best + 1 < slopes.len() {
            let (l, m, r) = (slopes[best - 1], slopes[best], slopes[best + 1]);
            let bend = l - 2.0 * m + r;
            if bend < -1e-12 {
                fraction = (0.5 * (l - r) / bend).clamp(-0.5, 0.5);
            }
        }
        let spared = (2.0 / self.step).max(2.0);
        let mut rest: Vec<f64> = slopes
            .iter()
            .enumerate()
            .filter(|(i, _)| (*i as f64 - best as f64).abs() > spared)
            .map(|(_, it)| *it)
            .collect();
        let middle = rest.len() / 2;
        let background = if rest.is_empty() {
            0.0
        } else {
            *rest.select_nth_unstable_by(middle, f64::total_cmp).1
        };
        // A hand-laid edge wavers, and colours scatter where it lies: what counts is how they scatter on either side.
        let away = (self.variances.iter().enumerate())
            .filter(|(i, _)| (*i as f64 - best as f64 - 1.0).abs() > spared)
            .fold((0.0, 0.0), |(sum, n), (_, it)| (sum + it, n + 1.0));
        let error = (2.0 * away.0 / f64::max(away.1, 1.0)).sqrt() / (2.0 * self.step);
        Peak {
            error,
            offset: offset(best as f64 + fraction),
            slope: found.max(0.0),
            background,
        }
    }
}

/// Slope of an edge of its own, as a share of the steepest: a black zone's on dark grass showed a quarter of that of the board beside it in two simulated photos …
const OWN: f64 = 0.2;
/// … and of the flat between both, as a share of its slope.
const FLAT: f64 = 0.4;

/// The first of the slopes within reach that is an edge of its own, parted from the steepest by something flat; else the steepest.
fn first_edge(slopes: &[f64], steepest: usize, within: impl Fn(usize) -> bool) -> usize {
    let mut first = steepest;
    let mut flat = f64::MAX;
    // From the steepest inwards.
    for i in (1..steepest).rev() {
        flat = flat.min(slopes[i]);
        let top = slopes[i] >= slopes[i - 1] && slopes[i] >= slopes[i + 1];
        if within(i) && top && slopes[i] > OWN * slopes[steepest] && flat < FLAT * slopes[i] {
            first = i;
        }
    }
    first
}

#[cfg(test)]
mod tests {
    use super::super::view::Light;
    use super::*;

    /// Even to the left of x = 50, and a checked cloth of the same mean to the right.
    struct Cloth;

    impl Light for Cloth {
        fn at(&self, p: Point) -> Option<Graded> {
            let thread = if (p.y / 2.0).floor().rem_euclid(2.0) < 1.0 {
                6.0
            } else {
                -6.0
            };
            Some([50.0 + if p.x > 50.0 { thread } else { 0.0 }, 0.0, 0.0])
        }
    }

    #[test]
    fn a_sheet_ends_at_the_first_edge_though_a_board_beside_it_has_a_harder_one() {
        // Noise, the sheet's edge, a strip of table, the board's edge.
        let slopes = [0.1, 0.3, 0.2, 2.0, 4.0, 2.0, 0.5, 0.4, 4.0, 9.0, 4.0, 0.3];
        assert_eq!(first_edge(&slopes, 9, |_| true), 4);
        // A black zone on dark grass beside a light board.
        let faint = [0.1, 0.3, 0.2, 1.0, 2.0, 1.0, 0.3, 0.2, 4.0, 9.0, 4.0, 0.3];
        assert_eq!(first_edge(&faint, 9, |_| true), 4);
        // Out of reach it is not asked; without a flat between, it is the same edge.
        assert_eq!(first_edge(&slopes, 9, |i| i > 5), 9);
        assert_eq!(first_edge(&[0.1, 4.0, 3.5, 9.0, 0.1], 3, |_| true), 3);
    }

    /// A sheet to the left of x = 50, and a darker table.
    struct Edge;

    impl Light for Edge {
        fn at(&self, p: Point) -> Option<Graded> {
            Some([if p.x > 50.0 { 30.0 } else { 50.0 }, 0.0, 0.0])
        }
    }

    #[test]
    fn a_sheet_that_ends_farther_in_than_a_line_may_lie_ends_before_it() {
        let before = |x: f64| {
            let (a, b) = (Point::new(x, 10.0), Point::new(x, 58.0));
            let across = profile(&Edge, a, b, Vector2::new(1.0, 0.0), (-6.0, 6.0), 1.0).unwrap();
            across.ends_before(2.0)
        };
        assert!(before(54.0));
        // Where it should be, or farther out.
        assert!(!before(51.0));
        assert!(!before(46.0));
    }

    #[test]
    fn a_coarse_cloth_of_a_cards_own_lightness_scatters_outside_alone() {
        let (a, b) = (Point::new(50.0, 10.0), Point::new(50.0, 58.0));
        let profile = profile(&Cloth, a, b, Vector2::new(1.0, 0.0), (-6.0, 6.0), 1.0).unwrap();
        let (inside, outside) = profile.scatter();
        assert!(inside < 1e-3, "{inside}");
        // Half up, half down by 6, in as many of the twelve readings as the threads allow.
        assert!((4.0..6.1).contains(&outside), "{outside}");
    }
}
