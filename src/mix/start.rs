//! Where the search for pigments starts.

use super::sight::Sight;
use super::solve::{Datum, Guess, Setting, cost, look};
use nalgebra::DMatrix;

/// Levels of ln k that are tried for a start, from the prior's.
const K_STARTS: [f64; 5] = [-4.0, -2.0, 0.0, 1.5, 3.0];
/// Levels of ln s.
const S_STARTS: [f64; 3] = [-1.5, 0.5, 2.5];
/// How many of the starts are followed.
const WAYS: usize = 3;

/// Levels of absorption and scattering that are tried for all pigments alike, and of those the likeliest few; with several pigments each is
/// first put at its own best.
pub(super) fn guesses(
    setting: Setting<'_>,
    data: &[Datum],
    doubt: &dyn Fn(&[Sight]) -> DMatrix<f64>,
) -> Option<Vec<Vec<Guess>>> {
    let mut at = (setting.priors.iter().map(|it| Guess::begin(it))).collect::<Vec<_>>();
    let mut all = Vec::new();
    for slot in 0..at.len() {
        let which: Vec<usize> = (0..data.len())
            .filter(|i| data[*i].parts.iter().any(|it| it.0 == slot))
            .collect();
        let own: Vec<Datum> = which.iter().map(|i| data[*i].clone()).collect();
        let sights = look(setting, data, &at);
        let whole = doubt(&sights);
        let of_own = DMatrix::from_fn(3 * own.len(), 3 * own.len(), |i, j| {
            whole[(3 * which[i / 3] + i % 3, 3 * which[j / 3] + j % 3)]
        });
        let weight = of_own.cholesky()?.inverse();
        let mut tried = Vec::new();
        for k in K_STARTS {
            for s in S_STARTS {
                let mut there = at.clone();
                there[slot].shift(setting.priors[slot], k, s);
                let seen = look(setting, &own, &there);
                tried.push((cost(&own, &there, &seen, &weight), there));
            }
        }
        tried.sort_by(|a, b| a.0.total_cmp(&b.0));
        at.clone_from(&tried[0].1);
        if setting.priors.len() == 1 {
            all.extend(tried.into_iter().take(WAYS).map(|it| it.1));
        }
    }
    if all.is_empty() {
        all.push(at);
    }
    Some(all)
}
