//! Whether a change is told from none, and how large it is at least and at most.
//!
//! Takes a change in L*, a*, b* with its covariance; gives the three-dimensional test, ΔE00 with an interval, and the limit of
//! detection. A difference is never negative, so noise alone makes one: ΔE00 of a change that isn't there lies around 1.6 standard
//! deviations, not around 0. So nothing here takes the observed ΔE00 for the middle of where the true one may be: each true one is asked
//! whether it could have shown what was observed.

use crate::colour::difference::{delta_e_2000, delta_e_2000_to_each, local_metric};
use crate::colour::uncertainty::{NORMALS, largest_third, quantile_95, radical_inverse};
use crate::colour::{Lab, Matrix};
use crate::library::distribution::{chi_square_at, chi_square_beyond, f_beyond};
use nalgebra::{SymmetricEigen, Vector3};

/// A change is called significant when noise alone would show one as large in fewer than this share of cases.
pub const LEVEL: f64 = 0.05;

/// Standard deviation in Lab units below which nothing is known of a photo: a hundredth is beyond bench instruments. It keeps the test
/// meaningful where a covariance has no width in some direction.
const FINEST: f64 = 0.01;

/// Degrees of freedom beyond which a covariance counts as known: its 95 % limits differ by less than one in a hundred.
const MANY: usize = 200;

/// What noise leaves of a change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    /// ΔE00 of the change as it was observed, the upward bias of noise in it.
    pub de_00: f64,
    /// ΔE00 with that bias taken out: √(ΔE00² − the mean square of noise alone), 0 where noise alone shows more.
    pub unbiased: f64,
    /// Squared distance from no change, in the covariance: χ², or Hotelling's T² where the covariance is itself estimated from few.
    pub statistic: f64,
    /// Probability of a distance as large by noise alone.
    pub p: f64,
    /// Whether the change is told from none: `p` < [`LEVEL`].
    pub significant: bool,
    /// Where the true ΔE00 lies, 95 %: it could have shown what was observed. From 0 up where no change could.
    pub interval: [f64; 2],
    /// |ΔE00 − its true value| is at most this in 95 % of cases (or more): the farther end of the interval.
    pub u95: f64,
    /// ΔE00 that noise alone stays below in 95 % of cases.
    pub detection_limit: f64,
}

/// Judges a change of `start` with its covariance. `None` for what is no number, a covariance too large to compute with, or fewer than
/// three degrees of freedom: they can't span three dimensions.
///
/// `freedom`: the degrees of freedom of the covariance, if it is estimated from so few that this matters (photos − 1, or the effective number,
/// rounded down as JCGM 100 G.4.1 has it); none where it is known. Same input, same output: the draws are always the same ones.
///
/// The interval and U95 hold for a true change in the direction of the observed one.
///
/// # Source
/// H. Hotelling, *Ann. Math. Statist.* 2 (1931) 360–378 (the test; χ² with three degrees of freedom for a known covariance).
/// JCGM 102:2011, 5.3.2 (the multivariate t that few observations leave) and JCGM 101:2008 (propagation by draws). The interval
/// inverts a test: J. Neyman, *Phil. Trans. R. Soc. A* 236 (1937) 333–380.
#[must_use]
pub fn told(
    start: Lab,
    change: Vector3<f64>,
    covariance: &Matrix,
    freedom: Option<usize>,
) -> Option<Told> {
    let freedom = freedom.filter(|n| *n <= MANY);
    let as_known = Noise::new(start, covariance, None)?;
    let numbers = [start.l, start.a, start.b, change.x, change.y, change.z];
    if !numbers.iter().all(|it| it.is_finite()) {
        return None;
    }
    let de_00 = delta_e_2000(start, moved(start, change));
    // An estimated covariance is right on average, so the mean square is that of normal noise.
    let mut by_noise = as_known.differences(Vector3::zeros());
    let mean_square = by_noise.iter().map(|it| it.powi(2)).sum::<f64>() / by_noise.len() as f64;
    let noise = match freedom {
        None => as_known,
        Some(_) => {
            let noise = Noise::new(start, covariance, freedom)?;
            by_noise = noise.differences(Vector3::zeros());
            noise
        }
    };
    let detection_limit = quantile_95(&mut by_noise, 0);
    let statistic = noise.distance(change);
    let p = beyond(statistic, freedom);
    let interval = noise.interval(change, de_00, detection_limit);
    let told = Told {
        de_00,
        unbiased: (de_00.powi(2) - mean_square).max(0.0).sqrt(),
        statistic,
        p,
        significant: p < LEVEL,
        interval,
        u95: f64::max(de_00 - interval[0], interval[1] - de_00),
        detection_limit,
    };
    let figures = [told.statistic, told.u95, told.detection_limit];
    figures.iter().all(|it| it.is_finite()).then_some(told)
}

/// What noise alone says of a change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ByNoise {
    /// Probability of a distance from none as large.
    pub p: f64,
    /// `p` < [`LEVEL`].
    pub significant: bool,
    /// ΔE00 that noise alone stays below in 95 % of cases.
    pub detection_limit: f64,
}

/// Tests a change against none, with the known covariance that a colour has which didn't change: [`told`] without the interval, for where a
/// change has uncertainty of its own that none would not have. `None` as there.
#[must_use]
pub fn by_noise(start: Lab, change: Vector3<f64>, covariance: &Matrix) -> Option<ByNoise> {
    let noise = Noise::new(start, covariance, None)?;
    let p = beyond(noise.distance(change), None);
    let detection_limit = quantile_95(&mut noise.differences(Vector3::zeros()), 0);
    (p.is_finite() && detection_limit.is_finite()).then_some(ByNoise {
        p,
        significant: p < LEVEL,
        detection_limit,
    })
}

/// The probability of a squared distance of at least this by noise alone.
fn beyond(statistic: f64, freedom: Option<usize>) -> f64 {
    match freedom {
        None => chi_square_beyond(statistic, 3),
        Some(n) => {
            let below = n - 2;
            let ratio = below as f64 / (3.0 * n as f64);
            f_beyond(statistic * ratio, 3, below)
        }
    }
}

fn moved(colour: Lab, by: Vector3<f64>) -> Lab {
    Lab::new(colour.l + by.x, colour.a + by.y, colour.b + by.z)
}

/// The noise of a change of one colour.
struct Noise {
    start: Lab,
    /// Eigenvectors of the covariance, and the standard deviations along them.
    axes: Matrix,
    sd: Vector3<f64>,
    /// Draws of it.
    draws: Vec<Vector3<f64>>,
}

impl Noise {
    fn new(start: Lab, covariance: &Matrix, freedom: Option<usize>) -> Option<Self> {
        if !covariance.iter().all(|it| it.is_finite()) || freedom.is_some_and(|n| n < 3) {
            return None;
        }
        let symmetric = (covariance + covariance.transpose()) / 2.0;
        let eigen = SymmetricEigen::try_new(symmetric, f64::EPSILON, 1000)?;
        let sd = eigen.eigenvalues.map(|it| it.max(FINEST.powi(2)).sqrt());
        // The symmetric root: two covariances that are nearly alike get the same draws, though their axes may differ wholly.
        let root = eigen.eigenvectors * Matrix::from_diagonal(&sd) * eigen.eigenvectors.transpose();
        let draws = NORMALS.iter().map(|normal| root * normal);
        let draws = match freedom {
            None => draws.collect(),
            Some(n) => draws
                .zip(tails(n))
                .map(|(draw, tail)| draw * tail)
                .collect(),
        };
        Some(Self {
            start,
            axes: eigen.eigenvectors,
            sd,
            draws,
        })
    }

    /// Squared distance of a change from none, in the covariance.
    fn distance(&self, change: Vector3<f64>) -> f64 {
        let along = self.axes.transpose() * change;
        along.component_div(&self.sd).norm_squared()
    }

    /// ΔE00 of what would be observed of a true change, draw by draw.
    fn differences(&self, truth: Vector3<f64>) -> Vec<f64> {
        let observed: Vec<_> = self.draws.iter().map(|draw| truth + draw).collect();
        delta_e_2000_to_each(self.start, &observed)
    }

    /// How far the observed ΔE00 lies from the true one, in 95 % of cases.
    fn reach(&self, truth: Vector3<f64>, de_00: f64) -> f64 {
        let far = self.farthest(truth);
        let mut off = delta_e_2000_to_each(self.start, &far);
        for it in &mut off {
            *it = (*it - de_00).abs();
        }
        quantile_95(&mut off, self.draws.len() - far.len())
    }

    /// What would be observed of a true change by the draws that lengthen or shorten it most, by the metric of ΔE00 half-way: hardly any of the others
    /// lies beyond the percentile that is sought. The reach is that of all draws to 0.5 %, at a third of the cost.
    fn farthest(&self, truth: Vector3<f64>) -> Vec<Vector3<f64>> {
        let metric = local_metric(moved(self.start, truth / 2.0));
        let length = |it: &Vector3<f64>| it.dot(&(metric * it)).max(0.0).sqrt();
        let middle = length(&truth);
        let observed = self.draws.iter().map(|draw| truth + draw);
        let by_length = observed.map(|it| ((length(&it) - middle).abs(), it));
        largest_third(by_length.collect())
    }

    /// All true ΔE00 within whose reach the observed one lies: the least and the largest.
    fn interval(&self, change: Vector3<f64>, de_00: f64, reach_of_none: f64) -> [f64; 2] {
        let length = change.norm();
        let direction = if length > 1e-9 {
            change / length
        } else {
            self.loudest()
        };
        let true_at = |along: f64| delta_e_2000(self.start, moved(self.start, direction * along));
        let reach_at = |along: f64| self.reach(direction * along, true_at(along));
        let reach_here = reach_at(length);
        // Finer than the draws know the reach.
        let close = 0.004 * reach_here;
        let low = if de_00 <= reach_of_none {
            0.0
        } else {
            // Above 0 where a true one is too small to have shown this.
            let too_small = |along: f64| de_00 - true_at(along) - reach_at(along);
            let ends = [(0.0, de_00 - reach_of_none), (length, -reach_here)];
            true_at(crossing(ends, close, too_small)).min(de_00)
        };
        let too_large = |along: f64| true_at(along) - de_00 - reach_at(along);
        let mut inside = (length, -reach_here);
        // Lab units for a unit of ΔE00 here: steps outwards until no longer in reach.
        let metric = local_metric(moved(self.start, change));
        let unit = direction.dot(&(metric * direction)).sqrt().recip();
        let mut step = 1.2 * reach_here * unit;
        for _ in 0..40 {
            let along = inside.0 + step;
            let outside = (along, too_large(along));
            if outside.1 >= 0.0 {
                let high = true_at(crossing([inside, outside], close, too_large));
                return [low, high.max(de_00)];
            }
            inside = outside;
            step *= 1.5;
        }
        [low, f64::INFINITY]
    }

    /// The direction in which this noise makes the most of ΔE00.
    fn loudest(&self) -> Vector3<f64> {
        let metric = local_metric(self.start);
        let loud = |i: usize| {
            let axis = self.axes.column(i) * self.sd[i];
            axis.dot(&(metric * axis))
        };
        let most = (0..3).fold(0, |most, i| if loud(i) > loud(most) { i } else { most });
        self.axes.column(most).into()
    }
}

/// Where a function changes sign between two places, nearly: where it is less than `close`. Regula falsi, with the Illinois weighting.
fn crossing(known: [(f64, f64); 2], close: f64, function: impl Fn(f64) -> f64) -> f64 {
    let [mut one, mut other] = known;
    for _ in 0..12 {
        let between = one.0 + (other.0 - one.0) * one.1 / (one.1 - other.1);
        if !between.is_finite() {
            break;
        }
        let there = function(between);
        if there.abs() <= close {
            return between;
        }
        if (there > 0.0) == (other.1 > 0.0) {
            one.1 /= 2.0;
        } else {
            one = other;
        }
        other = (between, there);
    }
    other.0
}

/// Strata of the draws' tails.
const STRATA: u32 = 128;

/// Factors that make the normal draws those of the multivariate t of a covariance with n degrees of freedom: √(n/χ²), χ² with n − 2.
fn tails(n: usize) -> impl Iterator<Item = f64> {
    let strata: Vec<f64> = (0..STRATA)
        .map(|it| {
            let share = (f64::from(it) + 0.5) / f64::from(STRATA);
            (n as f64 / chi_square_at(share, n - 2)).sqrt()
        })
        .collect();
    (1..).map(move |index| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "0 to below the number of strata"
        )]
        let stratum = (radical_inverse(index, 11) * f64::from(STRATA)) as usize;
        strata[stratum]
    })
}

#[cfg(test)]
mod tests;
