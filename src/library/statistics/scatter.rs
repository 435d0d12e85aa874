//! How much values scatter beyond what their known errors explain.

use super::super::distribution::float;

/// A value whose variance is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Known {
    /// The value.
    pub value: f64,
    /// Its variance, > 0.
    pub variance: f64,
}

/// What groups of values of known variance say of a further variance that all of them share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// Σ (x − mean of its group)² ÷ variance.
    pub sum: f64,
    /// How many values could differ from their group's mean.
    pub degrees: usize,
    /// The variance beyond the known ones: what would make `sum` as large as it is on average; 0 where it is no larger.
    pub beyond: f64,
}

impl Scatter {
    /// `sum ÷ degrees`: 1 on average where the known variances are all there is. With means of equal groups, F of a one-way analysis of
    /// variance. `None` without degrees of freedom.
    #[must_use]
    pub fn ratio(&self) -> Option<f64> {
        (self.degrees > 0).then(|| self.sum / float(self.degrees))
    }
}

/// The scatter of values within groups, pooled over the groups.
///
/// # Source
/// Moments: with weights w = 1/variance, `E[sum] = degrees + beyond · Σ_groups (Σw − Σw²/Σw)`; R. DerSimonian & N. Laird, *Control. Clin.
/// Trials* 7 (1986) 177–188. With equal groups it is JCGM 100:2008, H.5.2.5: `s_B² = (s_a² − s_b²)/K`.
#[must_use]
pub fn scatter(groups: &[Vec<Known>]) -> Scatter {
    let (mut sum, mut degrees, mut slope) = (0.0, 0, 0.0);
    for group in groups.iter().filter(|it| it.len() > 1) {
        let weights: f64 = group.iter().map(|it| 1.0 / it.variance).sum();
        let squares: f64 = group.iter().map(|it| it.variance.powi(-2)).sum();
        let mean = group.iter().map(|it| it.value / it.variance).sum::<f64>() / weights;
        sum += group
            .iter()
            .map(|it| (it.value - mean).powi(2) / it.variance)
            .sum::<f64>();
        degrees += group.len() - 1;
        slope += weights - squares / weights;
    }
    let beyond = if degrees > 0 && slope > 0.0 {
        ((sum - float(degrees)) / slope).max(0.0)
    } else {
        0.0
    };
    Scatter {
        sum,
        degrees,
        beyond,
    }
}

/// A variance of nothing would weigh without bound.
pub(super) const LEAST: f64 = 1e-12;

/// A value that shares errors with others.
#[derive(Clone, Debug, PartialEq)]
pub struct Sharing {
    /// The value.
    pub value: f64,
    /// Variance of the error that it shares with none, > 0.
    pub own: f64,
    /// How much of which shared error is in it, 0–1: any number, the same for the same error.
    pub shares: Vec<(i64, f64)>,
}

/// The variance of values beyond what their errors explain; 0 where that is all of it. `shared` is the variance of each shared error.
///
/// What is equal in all values makes them differ by nothing, and nothing is taken off for it.
///
/// # Source
/// The moments of any weighted sum of squares about the weighted mean: `E[yᵀMy] = tr(M·cov y) + …` with `M = A − A11ᵀA/Σa`, for errors
/// that are correlated. Without shared errors it is R. DerSimonian & R. Kacker, *Contemp. Clin. Trials* 28 (2007) 105–114 (cited from memory), and
/// as [`scatter`]; with all of them in every value, the variance of rows of a two-way layout, (row mean square − residual) ÷ columns.
#[must_use]
pub fn beyond_shared(values: &[Sharing], shared: f64) -> f64 {
    let squares = |it: &Sharing| it.shares.iter().map(|it| it.1.powi(2)).sum::<f64>();
    let weight = |it: &Sharing| 1.0 / (it.own + shared * squares(it)).max(LEAST);
    let weights: Vec<f64> = values.iter().map(weight).collect();
    let all: f64 = weights.iter().sum();
    let of = |each: &dyn Fn(&Sharing) -> f64| -> f64 {
        values
            .iter()
            .zip(&weights)
            .map(|(it, w)| w * each(it))
            .sum()
    };
    let mean = of(&|it| it.value) / all;
    let sum = of(&|it| (it.value - mean).powi(2));
    // What the errors alone would make of the sum, on average.
    let own = (values.iter().zip(&weights))
        .map(|(it, w)| w * it.own.max(LEAST) * (1.0 - w / all))
        .sum::<f64>();
    let mut errors: Vec<(i64, f64)> = Vec::new();
    for (it, w) in values.iter().zip(&weights) {
        for (error, share) in &it.shares {
            match errors.iter_mut().find(|it| it.0 == *error) {
                Some(it) => it.1 += w * share,
                None => errors.push((*error, w * share)),
            }
        }
    }
    let common: f64 = errors.iter().map(|it| it.1.powi(2)).sum::<f64>() / all;
    let explained = own + shared * (of(&squares) - common);
    let slope = all - weights.iter().map(|it| it.powi(2)).sum::<f64>() / all;
    if slope > 0.0 {
        ((sum - explained) / slope).max(0.0)
    } else {
        0.0
    }
}

/// The mean of values of known variance, each weighted by its inverse, and its variance; `beyond` adds to each of them.
/// `None` without values.
#[must_use]
pub fn weighted_mean(values: &[Known], beyond: f64) -> Option<Known> {
    let weights: f64 = values.iter().map(|it| 1.0 / (it.variance + beyond)).sum();
    (weights > 0.0).then(|| Known {
        value: values
            .iter()
            .map(|it| it.value / (it.variance + beyond))
            .sum::<f64>()
            / weights,
        variance: 1.0 / weights,
    })
}
