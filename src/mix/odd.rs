//! Films that go their own way: by how much, and what is farther off than even such films are.
//!
//! A trial that is off from what the others say of it is wrong, or the film does what the model doesn't know. Films do that smoothly: coats that are alike do it
//! alike. So a trial is wrong only where a smooth error of films as large as [`ODD`] wouldn't explain it; what the others are off by tells how large that
//! error is with their pigment, and predictions near them take it over.

use super::doubt::{ANY, Place, alike};
use super::residual::{Off, left_out};
use super::solve::Solved;
use nalgebra::{DMatrix, DVector, Matrix3};

/// The largest error of films in L*, a* and b* each, one standard deviation. Of measured watercolours and oil paints (`benches/mix/open`) all that was taken
/// for wrong without it were films that go their own way; study shelves have no wrong trials, and loads are a little nearer with any (1.24 and 1.25 ΔE00
/// in place of 1.24 and 1.31, `cargo bench --profile dev --bench mix -- 12 94000000 study`, and 94500000).
const ODD: f64 = 5.0;
/// How many sizes are tried, from [`ANY`] to [`ODD`], by equal ratios.
const SIZES: u32 = 9;

/// Errors of a pigment's films, over its trials.
pub(super) struct Field {
    /// Covariance of what trials are off by, with films' errors of [`ANY`].
    whole: DMatrix<f64>,
    /// What they are off by.
    off: DVector<f64>,
    /// How alike trials are, block by block; as much more of mixtures as they are off by more than one pigment.
    alike: DMatrix<f64>,
}

impl Field {
    /// Of trials as they were explained with errors of [`ANY`]; `None` only if their covariance is none.
    pub(super) fn of(
        solved: &Solved,
        places: &[Place],
        most: &dyn Fn(&str) -> f64,
    ) -> Option<Self> {
        let whole = solved.inverse.clone().cholesky()?.inverse();
        let mut alike_by = DMatrix::zeros(whole.nrows(), whole.ncols());
        for (i, one) in places.iter().enumerate() {
            for (j, other) in places.iter().enumerate() {
                let times = one.any * other.any / ANY.powi(2);
                let block = Matrix3::identity() * (alike(one, other, most) * times);
                (alike_by.fixed_view_mut::<3, 3>(3 * i, 3 * j)).copy_from(&block);
            }
        }
        Some(Self {
            off: &whole * &solved.pull,
            alike: alike_by,
            whole,
        })
    }

    /// With errors of another size.
    fn with(&self, any: f64) -> DMatrix<f64> {
        &self.whole + &self.alike * (any.powi(2) - ANY.powi(2))
    }

    /// What each trial is off from what the others say of it if films err as much as they can.
    pub(super) fn left_out(&self) -> Option<Vec<Off>> {
        let inverse = self.with(ODD).cholesky()?.inverse();
        left_out(&inverse, &(&inverse * &self.off))
    }

    /// The likeliest size of films' errors, between [`ANY`] and [`ODD`].
    ///
    /// # Source
    /// Marginal likelihood of a Gaussian process: C. E. Rasmussen, C. K. I. Williams, *Gaussian Processes for Machine Learning*, MIT Press 2006, eq. 5.8;
    /// what is thought of a scale beforehand, 1/scale: H. Jeffreys, *Theory of Probability*, Oxford 1961, 3.1, from memory.
    pub(super) fn amplitude(&self) -> Option<f64> {
        let mut best = (f64::NEG_INFINITY, ANY);
        for step in 0..SIZES {
            let any = ANY * (ODD / ANY).powf(f64::from(step) / f64::from(SIZES - 1));
            let whole = self.with(any).cholesky()?;
            let far = self.off.dot(&whole.solve(&self.off));
            let likely = -(far + whole.ln_determinant()) / 2.0 - any.ln();
            if likely > best.0 {
                best = (likely, any);
            }
        }
        Some(best.1)
    }
}

#[cfg(test)]
mod tests {
    use super::super::made::{coat, materials, shelf};
    use super::super::model::Model;
    use super::super::{Trial, fit};
    use super::*;

    /// Red and blue, with red's highest load lighter by so much than it is to be.
    fn with_odd_red(lighter: f64) -> Model {
        let mut trials: Vec<Trial> = shelf(&materials(), &[1.0, 2.0, 4.0, 8.0]);
        let is_highest = |it: &&mut Trial| match &it.pigments[..] {
            [only] => only.pigment == "red" && only.load > 7.0,
            _ => false,
        };
        let highest = trials.iter_mut().find(is_highest);
        highest.expect("red was tried at 8").lab.l += lighter;
        fit(&trials).expect("sound trials")
    }

    #[test]
    fn a_film_that_goes_its_own_way_is_followed_and_makes_its_mixtures_less_sure() {
        let (sound, odd) = (with_odd_red(0.0), with_odd_red(6.0));
        for id in ["red", "blue"] {
            assert!((sound.evidence.any(id) - ANY).abs() < 1e-12, "{id}");
        }
        assert!(odd.evidence.any("red") > 2.0 * ANY);
        assert!((odd.evidence.any("blue") - ANY).abs() < 1e-12);
        let wrong = |it: &String| it.contains("contradicts");
        assert!(!odd.notes().iter().any(wrong), "{:?}", odd.notes());
        let both = |loads: &[(&str, f64)]| {
            [&sound, &odd].map(|it| it.predict(&coat(loads)).expect("all of it was tried"))
        };
        let [before, after] = both(&[("red", 7.0)]);
        let lighter = after.lab.l - before.lab.l;
        assert!((3.0..7.0).contains(&lighter), "{lighter}");
        let [before, after] = both(&[("red", 3.0), ("blue", 3.0)]);
        assert!(after.u95 > 1.2 * before.u95, "{} {}", after.u95, before.u95);
        // The other goes no other way for that; it is less sure by what the same hands and photos may do there, too, and no more.
        let [before, after] = both(&[("blue", 3.0)]);
        assert!((after.lab.l - before.lab.l).abs() < 1e-6);
        let factor = |model: &Model| {
            let mut groups = model.evidence.groups.iter();
            let own = groups.find(|it| it.pigments == ["blue"]);
            own.expect("blue was tried").factor
        };
        let wider = factor(&odd) / factor(&sound);
        assert!((1.0..2.0).contains(&wider), "{wider}");
        let (wider, is) = (wider.sqrt(), after.u95 / before.u95);
        assert!((1.0 - 1e-6..=wider + 1e-6).contains(&is), "{is} {wider}");
    }

    #[test]
    fn a_film_that_goes_far_its_own_way_is_told_with_the_trial_that_does() {
        let told = |lighter: f64| -> Vec<String> {
            let notes = with_odd_red(lighter).notes();
            notes
                .into_iter()
                .filter(|it| it.starts_with("Films of "))
                .collect()
        };
        assert_eq!(told(0.0), [""; 0]);
        let told = told(10.0);
        assert!(
            matches!(&told[..], [it] if it.contains("Films of red ") && it.contains("8")),
            "{told:?}"
        );
    }

    /// Farther off than films go: nothing near it follows.
    #[test]
    fn a_trial_that_is_wrong_is_not_followed() {
        let (sound, wrong) = (with_odd_red(0.0), with_odd_red(40.0));
        let named = |it: &String| it.contains("contradicts");
        assert!(wrong.notes().iter().any(named), "{:?}", wrong.notes());
        let asked = coat(&[("red", 3.0)]);
        let [before, after] = [&sound, &wrong].map(|it| it.predict(&asked).expect("tried").lab);
        assert!((after.l - before.l).abs() < 1.5, "{} {}", after.l, before.l);
    }
}
