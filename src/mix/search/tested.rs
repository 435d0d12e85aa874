//! Mixtures that cured, as recipes.

use super::combinations::{Searched, Spot};
use super::descend::{Point, Room};
use super::task::{MOST_PIGMENTS, Task, Tested};
use crate::colour::difference::delta_e_2000;
use nalgebra::Vector3;

impl Searched<'_> {
    /// Mixtures that cured though the limits of their pigments don't say so: each as it is.
    pub(super) fn tested(&self, task: &Task<'_>) -> Vec<Spot> {
        let spot = |tested: &Tested| {
            let mut parts: Vec<(usize, f64)> = (tested.pigments.iter())
                .map(|it| Some((self.choice.place(&it.pigment)?, it.load)))
                .collect::<Option<_>>()?;
            parts.sort_by_key(|it| it.0);
            let twice = parts.windows(2).any(|it| it[0].0 == it[1].0);
            let fits = !twice
                && (1..=self.most_pigments).contains(&parts.len())
                && (self.choice.base).is_none_or(|base| parts.iter().any(|it| it.0 == base))
                && parts.iter().all(|it| it.1 >= self.choice.least);
            if !tested.cured || !fits {
                return None;
            }
            let mut pigments = [0; MOST_PIGMENTS];
            let mut loads = Vector3::zeros();
            for (it, (place, load)) in parts.iter().enumerate() {
                pigments[it] = *place;
                loads[it] = *load;
            }
            let share = |it: &(usize, f64)| it.1 / self.choice.pigments[it.0].most.unwrap_or(0.0);
            let by_sum = parts.iter().map(share).sum::<f64>() <= 1.0;
            let places = &pigments[..parts.len()];
            if by_sum || self.forbidden.has(places, &loads) {
                return None;
            }
            let seen = self.fine.seen(places, &loads);
            Some(Spot {
                pigments,
                count: parts.len(),
                room: Room {
                    count: parts.len(),
                    limit: Vector3::repeat(1.0),
                    least: loads,
                    most: loads,
                },
                best: Point {
                    shares: loads,
                    seen,
                    off: delta_e_2000(seen.lab, self.wanted),
                },
                tested: true,
                shift: Vector3::zeros(),
            })
        };
        task.mixtures.iter().filter_map(spot).collect()
    }
}
