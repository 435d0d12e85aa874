//! Other ways to the nearest recipe, to hold the search against: a grid, and Nelder and Mead's simplex (*Comput. J.* 7 (1965) 308–313).

use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;
use masstone::mix::search::Candidate;
use masstone::mix::{Coat, Load, Model};

/// Wet coating of every test, g/m².
pub(crate) const G_PER_M2: f64 = 200.0;

/// What is to be lessened.
pub(crate) struct Aim<'a> {
    pub(crate) model: &'a Model,
    pub(crate) pigments: &'a [Candidate],
    pub(crate) least: f64,
    pub(crate) wanted: Lab,
}

impl Aim<'_> {
    /// A limit; all of these have one.
    fn limit(&self, it: usize) -> f64 {
        self.pigments[it].limit.unwrap_or(f64::NAN)
    }

    pub(crate) fn colour(&self, loads: &[f64]) -> Lab {
        let parts = self.pigments.iter().zip(loads);
        let coat = Coat {
            pigments: parts
                .map(|(it, load)| Load {
                    pigment: it.id.clone(),
                    load: *load,
                })
                .collect(),
            g_per_m2: G_PER_M2,
            ground: "larch".to_owned(),
        };
        self.model.colour(&coat).expect("the model has them")
    }

    /// ΔE00, or far more where loads may not be.
    pub(crate) fn off(&self, loads: &[f64]) -> f64 {
        let sum: f64 = loads
            .iter()
            .enumerate()
            .map(|(it, load)| load / self.limit(it))
            .sum();
        let lacking: f64 = loads.iter().map(|load| (self.least - load).max(0.0)).sum();
        if sum > 1.0 + 1e-12 || lacking > 0.0 {
            return 1e3 + sum + lacking;
        }
        delta_e_2000(self.colour(loads), self.wanted)
    }

    /// The points of a grid with so many loads of each pigment that may be, evenly spaced or (`ratio`) each so many times the one before.
    pub(crate) fn grid(&self, steps: usize, ratio: bool) -> Vec<(f64, Vec<f64>)> {
        let level = |it: usize, step: usize| {
            let (low, high) = (self.least, self.limit(it) * (1.0 - 1e-9));
            let part = step as f64 / (steps - 1) as f64;
            if ratio {
                low * (high / low).powf(part)
            } else {
                low + (high - low) * part
            }
        };
        let count = self.pigments.len();
        (0..steps.pow(u32::try_from(count).expect("few")))
            .map(|index| {
                let mut rest = index;
                let mut loads = Vec::with_capacity(count);
                for it in 0..count {
                    loads.push(level(it, rest % steps));
                    rest /= steps;
                }
                loads
            })
            .filter(|loads| {
                loads
                    .iter()
                    .enumerate()
                    .map(|(it, load)| load / self.limit(it))
                    .sum::<f64>()
                    <= 1.0
            })
            .map(|loads| (self.off(&loads), loads))
            .collect()
    }

    /// The best of a grid, then simplexes from several of its points, each begun twice.
    pub(crate) fn simplex(&self) -> (f64, Vec<f64>) {
        let mut grid = self.grid(12, true);
        grid.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut best = grid[0].clone();
        for start in [0, 1, 3, 8, 20] {
            let Some(start) = grid.get(start) else { break };
            let once = self.descend(&start.1);
            let twice = self.descend(&once.1);
            if twice.0 < best.0 {
                best = twice;
            }
        }
        best
    }

    fn descend(&self, start: &[f64]) -> (f64, Vec<f64>) {
        let n = start.len();
        let mut corners = vec![(self.off(start), start.to_vec())];
        for it in 0..n {
            let mut loads = start.to_vec();
            let less = (loads[it] * 0.8).max(self.least);
            loads[it] = if less < loads[it] {
                less
            } else {
                loads[it] * 1.2
            };
            corners.push((self.off(&loads), loads));
        }
        for _ in 0..250 {
            corners.sort_by(|a, b| a.0.total_cmp(&b.0));
            let middle: Vec<f64> = (0..n)
                .map(|it| corners[..n].iter().map(|one| one.1[it]).sum::<f64>() / n as f64)
                .collect();
            let worst = corners[n].clone();
            let along = |times: f64| {
                let loads: Vec<f64> = (0..n)
                    .map(|it| middle[it] + times * (worst.1[it] - middle[it]))
                    .collect();
                (self.off(&loads), loads)
            };
            let reflected = along(-1.0);
            if reflected.0 < corners[0].0 {
                let farther = along(-2.0);
                corners[n] = if farther.0 < reflected.0 {
                    farther
                } else {
                    reflected
                };
            } else if reflected.0 < corners[n - 1].0 {
                corners[n] = reflected;
            } else {
                let nearer = along(if reflected.0 < worst.0 { -0.5 } else { 0.5 });
                if nearer.0 < worst.0.min(reflected.0) {
                    corners[n] = nearer;
                } else {
                    let best = corners[0].1.clone();
                    for one in &mut corners[1..] {
                        for (load, best) in one.1.iter_mut().zip(&best) {
                            *load = f64::midpoint(*load, *best);
                        }
                        one.0 = self.off(&one.1);
                    }
                }
            }
        }
        corners.sort_by(|a, b| a.0.total_cmp(&b.0));
        corners.swap_remove(0)
    }
}
