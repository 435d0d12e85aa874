//! ΔE00 along a straight change: worked out at a few places and read between them, since thousands of draws are each asked at many doses.

use crate::colour::{Lab, difference};
use nalgebra::Vector3;

/// Places along the change.
const PLACES: usize = 10;
/// Where the first stands for the start itself, as a share of the first step: there ΔE00 over the way is that of the local metric.
const AT_START: f64 = 0.02;

/// ΔE00 from a start along a change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ray {
    /// Part of the change from place to place.
    step: f64,
    /// ΔE00 over the part of the change, at each place: it hardly bends, where ΔE00 itself does.
    ratios: [f64; PLACES + 1],
}

impl Ray {
    /// From none of `change` to `most` times of it.
    pub(super) fn of(start: Lab, change: &Vector3<f64>, most: f64) -> Self {
        let step = most / PLACES as f64;
        let ratios = std::array::from_fn(|i| {
            let along = step * (i as f64).max(AT_START);
            de_00(start, &(change * along)) / along
        });
        Self { step, ratios }
    }

    /// ΔE00 after a part of the change, no more than `most`.
    pub(super) fn at(&self, along: f64) -> f64 {
        let place = (along / self.step).clamp(0.0, PLACES as f64);
        let (mut before, mut share) = (0, place);
        while before + 1 < PLACES && share >= 1.0 {
            before += 1;
            share -= 1.0;
        }
        let (one, other) = (self.ratios[before], self.ratios[before + 1]);
        along * (one + (other - one) * share)
    }

    /// The part of the change after which ΔE00 first is `threshold`; none where it stays below.
    pub(super) fn reaches(&self, threshold: f64) -> Option<f64> {
        let at = |i: usize| self.ratios[i] * self.step * i as f64;
        let after = (1..=PLACES).find(|i| at(*i) >= threshold)?;
        // Between two places (r + s (r′ − r)) (i + s) · step is the threshold: a square in s, which rises.
        let (from, ratio) = ((after - 1) as f64, self.ratios[after - 1]);
        let more = self.ratios[after] - ratio;
        let b = ratio + more * from;
        let c = ratio * from - threshold / self.step;
        let root = (b * b - 4.0 * more * c).max(0.0).sqrt();
        let share = -2.0 * c / (b + root);
        Some(self.step * (from + share.clamp(0.0, 1.0)))
    }
}

/// ΔE00 of a change.
pub(super) fn de_00(start: Lab, change: &Vector3<f64>) -> f64 {
    let there = Lab::new(start.l + change.x, start.a + change.y, start.b + change.z);
    difference::delta_e_2000(start, there)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn start() -> impl Strategy<Value = Lab> {
        (5.0..95.0_f64, -60.0..60.0_f64, -60.0..60.0_f64).prop_map(|(l, a, b)| Lab::new(l, a, b))
    }

    fn change() -> impl Strategy<Value = Vector3<f64>> {
        (-20.0..20.0_f64, -20.0..20.0_f64, -20.0..20.0_f64)
            .prop_map(|(l, a, b)| Vector3::new(l, a, b))
    }

    proptest! {
        /// The formula itself is tested against published pairs; here against it.
        #[test]
        fn between_the_places_it_is_the_formula(start in start(), change in change(), along in 0.0..1.5_f64) {
            let told = Ray::of(start, &change, 1.5).at(along);
            let truth = de_00(start, &(change * along));
            prop_assert!((told - truth).abs() < 0.02 * truth + 0.01, "{told} {truth}");
        }

        #[test]
        fn what_is_reached_is_there(start in start(), change in change(), threshold in 0.5..6.0_f64) {
            let ray = Ray::of(start, &change, 1.5);
            match ray.reaches(threshold) {
                Some(along) => {
                    prop_assert!((0.0..=1.5 + 1e-12).contains(&along));
                    prop_assert!((ray.at(along) - threshold).abs() < 1e-9 * threshold, "{along}");
                }
                None => prop_assert!(ray.at(1.5) < threshold),
            }
        }
    }
}
