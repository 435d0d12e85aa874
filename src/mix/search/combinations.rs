//! Every combination of pigments, each to the nearest colour that it can make.
//!
//! Singles first, then pairs from where their singles stand, then triples from where their pairs stand: a third pigment begins where two have got.
//! That is done in few bands. What comes near in them is gone over in all.

use super::MOST_PIGMENTS;
use super::allowed::Choice;
use super::descend::{Care, Point, Room, descend};
use super::forbidden::Forbidden;
use super::layer::Layer;
use crate::colour::Lab;
use crate::mix::bands::BANDS;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Bands of the first pass: one every 40 nm.
pub(super) const COARSE: usize = 11;

/// Pigments, and the shares of their limits that come nearest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spot {
    /// Places among the allowed, ascending; the first `count` count.
    pub(super) pigments: [usize; MOST_PIGMENTS],
    /// How many.
    pub(super) count: usize,
    /// Where they may lie.
    pub(super) room: Room,
    /// Where they are best.
    pub(super) best: Point,
}

impl Spot {
    /// Places among the allowed, ascending.
    pub(super) fn pigments(&self) -> &[usize] {
        &self.pigments[..self.count]
    }

    /// Loads, grams to 100 g.
    pub(super) fn loads(&self) -> Vector3<f64> {
        self.room.loads(&self.best.shares)
    }
}

/// In few bands: far enough to see which are worth going over again.
const FIRST: Care = Care {
    looks: 14,
    good: 0.03,
    gain: 0.01,
    exact: false,
};
/// In all bands.
const CLOSE: Care = Care {
    looks: 60,
    good: 1e-5,
    gain: 1e-10,
    exact: true,
};
/// ΔE00 by which few bands may be off, both ways together.
const MARGIN: f64 = 1.5;

/// What is searched through.
#[derive(Debug)]
pub(super) struct Searched<'a> {
    pub(super) choice: &'a Choice<'a>,
    pub(super) forbidden: &'a Forbidden,
    pub(super) coarse: Layer<COARSE>,
    pub(super) fine: Layer<BANDS>,
    pub(super) wanted: Lab,
    pub(super) most_pigments: usize,
}

impl Searched<'_> {
    /// How many combinations there are, and those worth listing, each at its best.
    pub(super) fn spots(&self) -> (usize, Vec<Spot>) {
        let all = self.screened();
        let nearest = all.iter().map(|it| it.best.off).fold(f64::INFINITY, f64::min);
        let count = all.len();
        let near: Vec<Spot> = (all.into_par_iter())
            .filter(|it| it.best.off <= nearest + MARGIN)
            .map(|it| self.gone_over(it))
            .collect();
        (count, near)
    }

    fn gone_over(&self, spot: Spot) -> Spot {
        let best = descend(&self.fine, spot.pigments(), &spot.room, &spot.best.shares, self.wanted, &CLOSE);
        Spot { best, ..spot }
    }

    fn screened(&self) -> Vec<Spot> {
        let usable: Vec<usize> = (0..self.choice.pigments.len())
            .filter(|it| self.choice.pigments[*it].most.is_some())
            .collect();
        let has_base = |pigments: &[usize]| self.choice.base.is_none_or(|it| pigments.contains(&it));
        let n = self.choice.pigments.len();
        let singles: Vec<Option<Spot>> = (0..n)
            .map(|it| usable.contains(&it).then(|| self.first(&[it], &spread())).flatten())
            .collect();
        let share = |it: usize| singles[it].map_or(1.0, |spot| spot.best.shares[0]);
        let mut pairs: Vec<Option<Spot>> = vec![None; n * n];
        if self.most_pigments > 1 {
            let of_two: Vec<[usize; 2]> = (usable.iter())
                .flat_map(|a| usable.iter().filter(move |b| a < b).map(move |b| [*a, *b]))
                .collect();
            let found: Vec<Option<Spot>> = (of_two.par_iter())
                .map(|[a, b]| {
                    let (x, y) = (share(*a), share(*b));
                    let starts = [[x, 0.0], [0.0, y], [x / 2.0, y / 2.0]];
                    self.first(&[*a, *b], &starts.map(|[x, y]| Vector3::new(x, y, 0.0)))
                })
                .collect();
            for (it, spot) in of_two.iter().zip(found) {
                pairs[it[0] * n + it[1]] = spot;
            }
        }
        let mut triples: Vec<Spot> = Vec::new();
        if self.most_pigments > 2 {
            let of_three: Vec<[usize; 3]> = (usable.iter())
                .flat_map(|a| usable.iter().filter(move |b| a < b).map(move |b| [*a, *b]))
                .flat_map(|[a, b]| usable.iter().filter(move |c| b < **c).map(move |c| [a, b, *c]))
                .filter(|it| has_base(it))
                .collect();
            triples = (of_three.par_iter())
                .filter_map(|it| self.first(it, &self.from_pairs(it, &pairs, n)))
                .collect();
        }
        (singles.into_iter().chain(pairs).flatten())
            .filter(|it| has_base(it.pigments()))
            .chain(triples)
            .collect()
    }

    /// Where the pairs of three stand, the nearest first.
    fn from_pairs(&self, it: &[usize; 3], pairs: &[Option<Spot>], n: usize) -> Vec<Vector3<f64>> {
        let mut starts: Vec<(f64, Vector3<f64>)> = Vec::new();
        for (one, other) in [(0, 1), (0, 2), (1, 2)] {
            if let Some(pair) = pairs[it[one] * n + it[other]] {
                let mut start = Vector3::zeros();
                start[one] = pair.best.shares[0];
                start[other] = pair.best.shares[1];
                starts.push((pair.best.off, start));
            }
        }
        starts.sort_by(|a, b| a.0.total_cmp(&b.0));
        starts.into_iter().map(|it| it.1).collect()
    }

    /// The nearest from these starts, in few bands.
    fn first(&self, pigments: &[usize], starts: &[Vector3<f64>]) -> Option<Spot> {
        let mut places = [0; MOST_PIGMENTS];
        places[..pigments.len()].copy_from_slice(pigments);
        let mut nearest: Option<Spot> = None;
        for room in self.forbidden.rooms(self.choice, pigments) {
            for start in starts {
                let best = descend(&self.coarse, pigments, &room, start, self.wanted, &FIRST);
                if nearest.is_none_or(|it| best.off < it.best.off) {
                    nearest = Some(Spot {
                        pigments: places,
                        count: pigments.len(),
                        room,
                        best,
                    });
                }
                if best.off <= FIRST.good {
                    return nearest;
                }
            }
        }
        nearest
    }
}

/// Starts of one pigment alone: four shares, each a few times the one before, as colour goes with the ratio of loads.
fn spread() -> [Vector3<f64>; 4] {
    [0.02, 0.08, 0.3, 1.0].map(|it| Vector3::new(it, 0.0, 0.0))
}
