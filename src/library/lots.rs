//! A new lot of a pigment held against the old: the same, or how much more or less of it to use.

use super::colour::{self, Counted};
use super::find::Filter;
use super::recipe::Swatch;
use super::statistics;
use super::{Exposure, Library, LibraryError};
use crate::colour::Lab;
use crate::colour::difference::delta_e_2000;

/// Two lots of one pigment at one load.
#[derive(Clone, Debug, PartialEq)]
pub struct LotComparison {
    /// The lot that was there first.
    pub old: String,
    /// The other.
    pub new: String,
    /// When.
    pub exposure: Exposure,
    /// ΔE00 between them.
    pub delta_e: f64,
    /// Whether that is beyond the joint uncertainty (at 95 %); `None` with fewer than two specimens of a lot, since how much coats of
    /// one lot differ is in the difference, too.
    pub told_apart: Option<bool>,
    /// What can be done about it, where they differ.
    pub advice: Option<Advice>,
}

/// How to come nearest to the old lot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Advice {
    /// Use so many times as much of the new lot: 0.9 is a tenth less.
    pub factor: f64,
    /// ΔE00 that no load mends.
    pub left: f64,
}

/// The lots of a swatch's pigment, each new one against the first; empty for mixtures, whose lots can't be told apart.
pub(super) fn compare(
    library: &Library,
    swatch: &Swatch,
) -> Result<Vec<LotComparison>, LibraryError> {
    if swatch.recipe.pigments.len() != 1 {
        return Ok(Vec::new());
    }
    let specimens = library.specimens(swatch.id)?;
    let mut lots: Vec<String> = Vec::new();
    for it in specimens.iter().filter_map(|it| it.lot.as_ref()) {
        if !lots.contains(it) {
            lots.push(it.clone());
        }
    }
    let Some((old, new_ones)) = lots.split_first() else {
        return Ok(Vec::new());
    };
    let Ok(spot) = library.spot_of(swatch.id, &Filter::default()) else {
        return Ok(Vec::new());
    };
    let groups = colour::by_exposure(colour::counted(&library.connection, swatch.id)?);
    let here = groups
        .into_iter()
        .find(|it| it.0 == spot.exposure)
        .map(|it| it.1);
    let here = here.unwrap_or_default();
    let of_lot = |lot: &str| -> Vec<Counted> {
        let of_it = |id: i64| {
            specimens
                .iter()
                .any(|it| it.id == id && it.lot.as_deref() == Some(lot))
        };
        here.iter()
            .filter(|it| of_it(it.point.specimen))
            .cloned()
            .collect()
    };
    let first = of_lot(old);
    let curve = curve(library, swatch, old)?;
    let load = swatch.recipe.pigments[0].load;
    let mut all = Vec::new();
    for new in new_ones {
        let second = of_lot(new);
        let points = |of: &[Counted]| of.iter().map(|it| it.point).collect::<Vec<_>>();
        let Some((apart, joint)) = statistics::contrast(&points(&first), &points(&second)) else {
            continue;
        };
        let (Some(a), Some(b)) = (colour::mean(&first), colour::mean(&second)) else {
            continue;
        };
        let enough = a.specimens >= 2 && b.specimens >= 2;
        let told_apart = enough.then(|| statistics::chance(&apart, &joint) < 0.05);
        all.push(LotComparison {
            old: old.clone(),
            new: new.clone(),
            exposure: spot.exposure,
            delta_e: delta_e_2000(a.lab, b.lab),
            told_apart,
            advice: if told_apart == Some(true) {
                advice(&curve, load, b.lab)
            } else {
                None
            },
        });
    }
    Ok(all)
}

/// The old lot's colours at its loads, in the same coating on the same substrate in the same coats, by load.
fn curve(library: &Library, swatch: &Swatch, lot: &str) -> Result<Vec<(f64, Lab)>, LibraryError> {
    let pigment = &swatch.recipe.pigments[0].pigment;
    let filter = Filter {
        pigments: vec![pigment.clone()],
        coating: swatch.recipe.coating.clone(),
        substrate: swatch.recipe.substrate.clone(),
        ..Filter::default()
    };
    let mut curve = Vec::new();
    for spot in library.spots(&filter)? {
        let other = library.swatch(spot.swatch)?;
        let [only] = &other.recipe.pigments[..] else {
            continue;
        };
        let same = other.recipe.coats == swatch.recipe.coats
            && other.recipe.g_per_m2 == swatch.recipe.g_per_m2
            && other.only_panel == swatch.only_panel;
        if !same {
            continue;
        }
        let of_lot: Vec<i64> = library
            .specimens(spot.swatch)?
            .iter()
            .filter(|it| it.lot.as_deref() == Some(lot))
            .map(|it| it.id)
            .collect();
        let counted: Vec<Counted> = colour::counted(&library.connection, spot.swatch)?
            .into_iter()
            .filter(|it| it.exposure == spot.exposure && of_lot.contains(&it.point.specimen))
            .collect();
        if let Some(mean) = colour::mean(&counted) {
            curve.push((only.load, mean.lab));
        }
    }
    curve.sort_by(|a, b| a.0.total_cmp(&b.0));
    Ok(curve)
}

/// Steps between two loads when looking for the nearest colour.
const STEPS: u32 = 200;

/// Where on the old lot's curve (straight in Lab over the log of the load) the new lot's colour is nearest. If a load `x` of the old looks
/// like `load` of the new, then `load²/x` of the new looks like `load` of the old, as far as strength goes by a factor.
/// `None` where the old lot has one load only: then nobody can say.
fn advice(curve: &[(f64, Lab)], load: f64, new: Lab) -> Option<Advice> {
    let mut best: Option<(f64, f64)> = None;
    for pair in curve.windows(2) {
        let ((from, one), (to, other)) = (pair[0], pair[1]);
        for step in 0..=STEPS {
            let t = f64::from(step) / f64::from(STEPS);
            let between = |a: f64, b: f64| a + t * (b - a);
            let lab = Lab::new(
                between(one.l, other.l),
                between(one.a, other.a),
                between(one.b, other.b),
            );
            let left = delta_e_2000(lab, new);
            if best.is_none_or(|it| left < it.1) {
                best = Some((between(from.ln(), to.ln()).exp(), left));
            }
        }
    }
    best.map(|(alike, left)| Advice {
        factor: load / alike,
        left,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: a curve that is straight over the log of the load; a lot of 1.25 times the strength at load 8 looks like 10 of the old.
    #[test]
    fn a_stronger_lot_is_used_in_less() {
        let at = |load: f64| Lab::new(60.0 - 8.0 * load.ln(), 10.0, 20.0);
        let curve = [(4.0, at(4.0)), (8.0, at(8.0)), (16.0, at(16.0))];
        let advice = advice(&curve, 8.0, at(10.0)).unwrap();
        assert!(
            (advice.factor - 0.8).abs() < 0.005 && advice.left < 0.05,
            "{advice:?}"
        );
        assert_eq!(super::advice(&curve[..1], 8.0, at(10.0)), None);
    }
}
