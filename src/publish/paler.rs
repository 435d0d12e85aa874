//! Lighter loads of each swatch as the mixing model predicts them.

use super::range::{Lighter, Swatch, Tone};
use super::swatch::{covariance, rounded};
use crate::colour::Lab;
use crate::library::Library;
use crate::mix::shelf::Shelf;
use crate::mix::{Coat, Load, Model, Reach, fit};
use std::collections::BTreeMap;

/// Shares of a swatch's load, each half of the next: steps that look alike.
const SHARES: [f64; 4] = [0.0625, 0.125, 0.25, 0.5];
/// A load that was measured within this share takes the place of a predicted one.
const MEASURED_NEAR: f64 = 0.25;
/// A prediction less sure than this, U95 in ΔE00, helps nobody to choose.
const MOST_U95: f64 = 10.0;
/// The most swatches of a coating of which a model is made here: its cost grows with their square, to seconds by then.
const MOST_TRIALS: usize = 400;

/// Sets what lighter loads would look like, for swatches whose coating, substrate and coats are known. Where the library's swatches of a
/// coating make no model (no control of it, say, or more than 400 of them) there is none.
pub(super) fn set(library: &Library, swatches: &mut [Swatch]) {
    let mut coatings: BTreeMap<String, Option<(Shelf, Model)>> = BTreeMap::new();
    for it in swatches.iter().filter_map(|it| it.recipe.coating.as_ref()) {
        if !coatings.contains_key(it) {
            let shelf = Shelf::of(library, Some(it))
                .ok()
                .filter(|it| it.trials.len() <= MOST_TRIALS);
            let model = shelf.and_then(|it| Some((fit(&it.trials).ok()?, it)));
            coatings.insert(it.clone(), model.map(|(model, shelf)| (shelf, model)));
        }
    }
    for it in swatches {
        let measured: Vec<f64> = it.loads.iter().map(|it| it.load).collect();
        let ready = it
            .recipe
            .coating
            .as_ref()
            .and_then(|it| coatings.get(it)?.as_ref());
        let Some((shelf, model)) = ready.filter(|_| it.only_panel.is_none()) else {
            continue;
        };
        let lighter = SHARES.iter().filter_map(|share| {
            let load = share * it.load();
            let near = |other: &f64| (other / load).ln().abs() < (1.0 + MEASURED_NEAR).ln();
            if measured.iter().any(near) {
                return None;
            }
            predicted(shelf, model, it, *share)
        });
        it.lighter = lighter.collect();
    }
}

fn predicted(shelf: &Shelf, model: &Model, of: &Swatch, share: f64) -> Option<Lighter> {
    let pigments: Vec<Load> = (of.recipe.pigments.iter())
        .map(|it| Load {
            pigment: it.pigment.clone(),
            load: it.load * share,
        })
        .collect();
    if pigments.is_empty() {
        return None;
    }
    let coats = of.recipe.coats.map(|it| it * shelf.per_coat.g_per_m2);
    let coat = Coat {
        pigments,
        g_per_m2: of.recipe.g_per_m2.or(coats)?,
        ground: of.recipe.substrate.clone()?,
    };
    expected(model, &coat, of.load() * share)
}

/// A coat of this load, as far as the model is sure of it.
fn expected(model: &Model, coat: &Coat, load: f64) -> Option<Lighter> {
    let prediction = model.predict(coat).ok()?;
    let sure = prediction.u95 <= MOST_U95 && !matches!(prediction.reach, Reach::Beyond(_));
    sure.then(|| Lighter {
        load,
        tone: Tone {
            lab: Lab::new(
                rounded(prediction.lab.l),
                rounded(prediction.lab.a),
                rounded(prediction.lab.b),
            ),
            covariance: covariance(&prediction.covariance),
            u95: Some(rounded(prediction.u95)),
            u95_of_another: None,
            specimens: 0,
            photos: 0,
            disagree: 0,
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Matrix;
    use crate::mix::Trial;

    fn coat(load: f64) -> Coat {
        Coat {
            pigments: vec![Load {
                pigment: "ochre".to_owned(),
                load,
            }],
            g_per_m2: 200.0,
            ground: "larch".to_owned(),
        }
    }

    /// A control and three loads, by eye; of their variance 9 this share is all trials' together.
    fn model(shared: f64) -> Model {
        let seen = [
            (0.0, Lab::new(74.0, 8.0, 24.0)),
            (2.0, Lab::new(68.0, 11.0, 34.0)),
            (4.0, Lab::new(64.0, 12.5, 39.0)),
            (8.0, Lab::new(59.0, 14.0, 43.0)),
        ];
        let trials: Vec<Trial> = (seen.into_iter())
            .map(|(load, lab)| Trial {
                swatch: None,
                name: format!("{load}"),
                pigments: coat(load).pigments,
                ground: "larch".to_owned(),
                g_per_m2: 200.0,
                lab,
                covariance: Matrix::identity() * 9.0,
                common: Matrix::identity() * 9.0 * shared,
            })
            .collect();
        fit(&trials).expect("sound trials")
    }

    #[test]
    fn what_all_photos_are_off_by_is_in_the_expected_loads() {
        let u95 = |shared: f64| {
            let it = expected(&model(shared), &coat(3.0), 3.0).expect("sure enough");
            assert!((it.load - 3.0).abs() < 1e-12);
            it.tone.u95.expect("a covariance")
        };
        let (apart, together) = (u95(0.0), u95(1.0));
        assert!(together > 1.1 * apart, "{apart} {together}");
        // What is shared whole is whole in it.
        let whole = crate::colour::uncertainty::u95(
            Lab::new(66.0, 12.0, 37.0),
            &(Matrix::identity() * 9.0),
        );
        assert!(together >= 0.9 * whole.expect("a covariance"), "{together}");
    }

    #[test]
    fn beyond_what_was_measured_nothing_is_expected() {
        assert!(expected(&model(0.0), &coat(9.0), 9.0).is_none());
    }
}
