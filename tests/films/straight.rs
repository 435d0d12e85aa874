//! What straight lines in Lab make of the same trials.

use super::measured;
use masstone::colour::Lab;
use masstone_simulator::{Film, FilmGround, FilmPatch};
use std::collections::BTreeMap;

/// Measured colours by ground and pigment, over load; the controls' mean at load 0.
#[derive(Clone, Debug)]
pub(crate) struct Straight(BTreeMap<(FilmGround, usize), Vec<(f64, Lab)>>);

impl Straight {
    /// Of all patches with one pigment.
    pub(crate) fn of(patches: &[FilmPatch]) -> Self {
        let mut clear: BTreeMap<FilmGround, Vec<Lab>> = BTreeMap::new();
        let mut all: BTreeMap<(FilmGround, usize), Vec<(f64, Lab)>> = BTreeMap::new();
        for it in patches {
            match it.film.pigments[..] {
                [] => clear.entry(it.film.ground).or_default().push(measured(it)),
                [(pigment, load)] => {
                    (all.entry((it.film.ground, pigment)).or_default()).push((load, measured(it)))
                }
                _ => {}
            }
        }
        for ((ground, _), points) in &mut all {
            let controls = clear.get(ground).into_iter().flatten();
            let n = controls.clone().count() as f64;
            let mean = controls.fold(Lab::new(0.0, 0.0, 0.0), |sum, it| plus(sum, *it, 1.0 / n));
            points.push((0.0, mean));
            points.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        Self(all)
    }

    /// Without one trial.
    pub(crate) fn without(&self, film: &Film) -> Self {
        let mut out = self.clone();
        if let [(pigment, load)] = film.pigments[..]
            && let Some(points) = out.0.get_mut(&(film.ground, pigment))
        {
            points.retain(|it| (it.0 - load).abs() > 1e-9);
        }
        out
    }

    /// Straight from load to load of each pigment, at the load of all together; between pigments by their parts of the load. The amount laid
    /// is not looked at. Beyond the last load its colour stays.
    pub(crate) fn at(&self, film: &Film) -> Option<Lab> {
        let total: f64 = film.pigments.iter().map(|it| it.1).sum();
        let mut out = Lab::new(0.0, 0.0, 0.0);
        for (pigment, load) in &film.pigments {
            let points = self.0.get(&(film.ground, *pigment))?;
            out = plus(out, along(points, total), load / total);
        }
        (total > 0.0).then_some(out)
    }
}

/// Straight between points, loads ascending; beyond the last its colour stays.
pub(crate) fn along(points: &[(f64, Lab)], load: f64) -> Lab {
    let above = points.iter().position(|it| it.0 >= load);
    let Some(above) = above else {
        return points[points.len() - 1].1;
    };
    let (high, to) = points[above];
    let (low, from) = points[above.saturating_sub(1)];
    let share = if high > low {
        (load - low) / (high - low)
    } else {
        0.0
    };
    plus(plus(Lab::new(0.0, 0.0, 0.0), from, 1.0 - share), to, share)
}

/// `sum` + `part` of another.
pub(crate) fn plus(sum: Lab, other: Lab, part: f64) -> Lab {
    Lab::new(
        sum.l + part * other.l,
        sum.a + part * other.a,
        sum.b + part * other.b,
    )
}
