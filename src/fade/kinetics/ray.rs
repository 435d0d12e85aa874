//! ΔE00 along a straight change: worked out at a few places and read between them, since thousands of draws are each asked at many doses.

use crate::colour::{Lab, difference};
use nalgebra::Vector3;

/// Places along the change, the n-th at n² steps: draws that rise steeply beyond the last exposure go far, and are asked near their start, too.
const PLACES: usize = 16;
/// Where the first stands for the start itself, as a share of the first step: there ΔE00 over the way is that of the local metric.
const AT_START: f64 = 0.02;

/// Every fourth place is asked first; and the others only where one of these is farther off a straight line between those beside it, as a share. Of the
/// tests' changes all places are then within 1 %.
const FOURTH: usize = 4;
const STRAIGHT: f64 = 0.003;

/// Whether each of every fourth place's ratios is on the line between the two beside it.
fn is_straight(few: &[f64]) -> bool {
    (1..few.len() - 1).all(|i| {
        let line = straight(few, FOURTH * i, [i - 1, i + 1]);
        (few[i] - line).abs() <= STRAIGHT * few[i].abs()
    })
}

/// The ratio at a place on the line between two of every fourth, whose numbers are given.
fn straight(few: &[f64], place: usize, [before, after]: [usize; 2]) -> f64 {
    let at = |i: usize| ((FOURTH * i) as f64).powi(2);
    let share = ((place as f64).powi(2) - at(before)) / (at(after) - at(before));
    few[before] + (few[after] - few[before]) * share
}

/// ΔE00 from a start along a change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ray {
    /// Part of the change to the first place.
    step: f64,
    /// ΔE00 over the part of the change, at each place: it hardly bends, where ΔE00 itself does.
    ratios: [f64; PLACES + 1],
}

impl Ray {
    /// From none of `change` to `most` times of it.
    pub(super) fn of(start: Lab, change: &Vector3<f64>, most: f64) -> Self {
        let step = most / (PLACES * PLACES) as f64;
        let ratios = |places: &[usize]| -> Vec<f64> {
            let along = |i: &usize| step * ((i * i) as f64).max(AT_START);
            let there: Vec<_> = places.iter().map(|i| change * along(i)).collect();
            let all = difference::delta_e_2000_to_each(start, &there);
            (all.iter().zip(places))
                .map(|(it, i)| it / along(i))
                .collect()
        };
        let fourth: [usize; PLACES / FOURTH + 1] = std::array::from_fn(|i| FOURTH * i);
        let few = ratios(&fourth);
        let mut all = [0.0; PLACES + 1];
        if is_straight(&few) {
            for (i, it) in all.iter_mut().enumerate() {
                let after = i.div_ceil(FOURTH).max(1);
                *it = straight(&few, i, [after - 1, after]);
            }
        } else {
            let places: [usize; PLACES + 1] = std::array::from_fn(|i| i);
            for (to, it) in all.iter_mut().zip(ratios(&places)) {
                *to = it;
            }
        }
        let ratios = all;
        Self { step, ratios }
    }

    /// The part of the change at a place.
    fn place(&self, i: usize) -> f64 {
        self.step * (i * i) as f64
    }

    /// ΔE00 after a part of the change, no more than `most`: within 4 % up to 8, within 10 % beyond, where the way leads through grey; hardly off elsewhere.
    pub(super) fn at(&self, along: f64) -> f64 {
        let after = (1..PLACES).find(|i| self.place(*i) >= along);
        let after = after.unwrap_or(PLACES);
        let (from, to) = (self.place(after - 1), self.place(after));
        let share = ((along - from) / (to - from)).clamp(0.0, 1.0);
        let (one, other) = (self.ratios[after - 1], self.ratios[after]);
        along * (one + (other - one) * share)
    }

    /// The part of the change after which ΔE00 first is `threshold`; none where it stays below at all places.
    pub(super) fn reaches(&self, threshold: f64) -> Option<f64> {
        let after = (1..=PLACES).find(|i| self.ratios[*i] * self.place(*i) >= threshold)?;
        let (from, wide) = (
            self.place(after - 1),
            self.place(after) - self.place(after - 1),
        );
        // Between two places (r + s (r′ − r)) (from + s · wide) is the threshold: a square in s, which rises.
        let ratio = self.ratios[after - 1];
        let more = self.ratios[after] - ratio;
        let b = ratio * wide + more * from;
        let c = ratio * from - threshold;
        let root = (b * b - 4.0 * more * wide * c).max(0.0).sqrt();
        let share = -2.0 * c / (b + root);
        Some(from + wide * share.clamp(0.0, 1.0))
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
        fn between_the_places_it_is_the_formula(
            start in start(), change in change(), most in 1.0..7.6_f64, share in 0.0..1.0_f64,
        ) {
            // A change of more than 20 in CIELAB is none that anyone asks about.
            let along = share * most.min(20.0 / change.norm().max(0.1));
            let told = Ray::of(start, &change, most).at(along);
            let truth = de_00(start, &(change * along));
            let share = if truth < 8.0 { 0.04 } else { 0.1 };
            prop_assert!((told - truth).abs() < share * truth + 0.01, "{told} {truth}");
        }

        /// By all places of their own.
        #[test]
        fn where_few_places_are_asked_the_others_lie_between(
            start in start(), change in change(), most in 1.0..7.6_f64,
        ) {
            let ray = Ray::of(start, &change, most);
            for i in 1..=PLACES {
                let along = ray.place(i);
                let own = de_00(start, &(change * along)) / along;
                prop_assert!((ray.ratios[i] - own).abs() <= 0.01 * own, "{i}: {} {own}", ray.ratios[i]);
            }
        }

        #[test]
        fn what_is_reached_is_there(
            start in start(), change in change(), most in 1.0..7.6_f64, threshold in 0.5..6.0_f64,
        ) {
            let ray = Ray::of(start, &change, most);
            match ray.reaches(threshold) {
                Some(along) => {
                    prop_assert!((0.0..=most * (1.0 + 1e-12)).contains(&along));
                    prop_assert!((ray.at(along) - threshold).abs() < 1e-9 * threshold, "{along}");
                }
                None => prop_assert!(ray.at(most) < threshold),
            }
        }
    }
}
