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
use crate::colour::difference::delta_e_2000;
use crate::mix::bands::BANDS;
use nalgebra::Vector3;
use rayon::prelude::*;

/// What arithmetic may leave behind, as a share of a limit.
const SLACK: f64 = 1e-9;
/// Of a tested mixture's loads, what a balance may have taken away without its being another mixture (as `plan::limit` has it).
const SAME: f64 = 0.95;

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
    /// A mixture that was tested: its loads are its own.
    pub(super) tested: bool,
    /// What trials nearby add to the film's colour, L*, a*, b*; zero until it is known.
    pub(super) shift: Vector3<f64>,
}

impl Spot {
    /// Places among the allowed, ascending.
    pub(super) fn pigments(&self) -> &[usize] {
        &self.pigments[..self.count]
    }

    /// The film's colour with what trials nearby add to it.
    pub(super) fn shifted(&self, film: Lab) -> Lab {
        Lab::new(
            film.l + self.shift.x,
            film.a + self.shift.y,
            film.b + self.shift.z,
        )
    }

    /// Loads, grams to 100 g.
    pub(super) fn loads(&self) -> Vector3<f64> {
        self.room.loads(&self.best.shares)
    }

    /// Whether loads may be, beside the least: of a tested mixture what a balance may take away, but not more.
    pub(super) fn allows(&self, loads: &Vector3<f64>) -> bool {
        let shares = loads.component_div(&self.room.limit);
        let within = (0..self.count).all(|it| shares[it] <= self.room.most[it] + SLACK);
        if self.tested {
            let kept = |it: usize| loads[it] >= SAME * self.room.most[it];
            return within && (0..self.count).all(kept);
        }
        within && shares.iter().take(self.count).sum::<f64>() <= 1.0 + SLACK
    }
}

/// In few bands: far enough to see which are worth going over again.
const FIRST: Care = Care {
    looks: 14,
    good: 0.03,
    gain: 0.01,
    exact: false,
};
/// The same where there are few, or what came near.
const THOROUGH: Care = Care {
    looks: 30,
    good: 0.003,
    gain: 1e-3,
    exact: false,
};
/// Triples that are looked through thoroughly: with 18 pigments, all of them.
const THOROUGHLY: usize = 1000;
/// Combinations that are looked through in all bands from all over, if there are no more of them: those of 10 pigments.
const FEW: usize = 200;
/// Shares of the limits that the net has, each a few times the one before: colour goes with the ratio of loads.
const NET: [f64; 6] = [0.0, 0.01, 0.04, 0.14, 0.4, 1.0];
/// Starts from it at most.
const HOLLOWS: usize = 6;
/// In all bands: near enough to choose from.
const AGAIN: Care = Care {
    looks: 12,
    good: 0.003,
    gain: 1e-3,
    exact: true,
};
/// In all bands, to the end.
const CLOSE: Care = Care {
    looks: 80,
    good: 1e-6,
    gain: 1e-11,
    exact: true,
};
/// ΔE00 by which few bands may be off, both ways together.
const MARGIN: f64 = 1.5;

/// What is searched through.
#[derive(Clone, Copy, Debug)]
pub(super) struct Searched<'a> {
    pub(super) choice: &'a Choice<'a>,
    pub(super) forbidden: &'a Forbidden,
    pub(super) coarse: &'a Layer<COARSE>,
    pub(super) fine: &'a Layer<BANDS>,
    pub(super) wanted: Lab,
    pub(super) most_pigments: usize,
}

impl Searched<'_> {
    /// The nearest of all, in all bands; none where there is none.
    pub(super) fn nearest(&self, screened: &[Spot]) -> Option<Spot> {
        let first = off(screened)?;
        (screened.par_iter())
            .filter(|it| it.best.off <= first + MARGIN)
            .map(|it| self.again(*it, &AGAIN))
            .collect::<Vec<_>>()
            .into_iter()
            .min_by(|a, b| a.best.off.total_cmp(&b.best.off))
    }

    /// Those that may come within reach of the nearest, and some more, in all bands.
    pub(super) fn within(&self, screened: Vec<Spot>, nearest: &Spot, reach: f64) -> Vec<Spot> {
        if screened.len() <= FEW {
            return screened
                .into_par_iter()
                .map(|it| self.all_over(self.again(it, &AGAIN)))
                .collect();
        }
        let most = f64::max(off(&screened).unwrap_or(0.0), nearest.best.off) + MARGIN + reach;
        (screened.into_par_iter())
            .filter(|it| it.best.off <= most)
            .map(|it| self.again(it, &AGAIN))
            .collect()
    }

    /// To the end; where the wanted colour isn't reached, from all over.
    pub(super) fn closely(&self, spot: Spot) -> Spot {
        let close = self.again(spot, &CLOSE);
        if close.best.off <= THOROUGH.good {
            return close;
        }
        self.all_over(close)
    }

    /// In all bands from all over: what few bands reach from one side, all may reach from another.
    fn all_over(&self, spot: Spot) -> Spot {
        if spot.tested {
            return spot;
        }
        let other = self.thoroughly(self.fine, spot.pigments(), &CLOSE);
        other
            .filter(|it| it.best.off < spot.best.off)
            .unwrap_or(spot)
    }

    fn again(&self, spot: Spot, care: &Care) -> Spot {
        if spot.tested {
            return spot;
        }
        let best = descend(
            self.fine,
            spot.pigments(),
            &spot.room,
            &spot.best.shares,
            self.wanted,
            care,
        );
        Spot { best, ..spot }
    }

    /// Every combination at its best in few bands, and these beside them: singles, pairs, triples, each by the order of the pigments.
    pub(super) fn screened(&self, tested: &[Spot]) -> Vec<Spot> {
        let n = self.choice.pigments.len();
        let usable: Vec<usize> = (0..n)
            .filter(|it| self.choice.pigments[*it].most.is_some())
            .collect();
        let has_base =
            |pigments: &[usize]| self.choice.base.is_none_or(|it| pigments.contains(&it));
        let after = |last: usize| usable.iter().copied().filter(move |it| *it > last);
        let singles = usable.iter().map(|it| vec![*it]);
        let of_two = (usable.iter()).flat_map(|a| after(*a).map(|b| vec![*a, b]));
        let few: Vec<Vec<usize>> = if self.most_pigments > 1 {
            singles.chain(of_two).collect()
        } else {
            singles.collect()
        };
        let few: Vec<Spot> = (few.par_iter())
            .filter_map(|it| self.thoroughly(self.coarse, it, &THOROUGH))
            .collect();
        let mut triples: Vec<Spot> = Vec::new();
        if self.most_pigments > 2 {
            let mut pairs: Vec<Option<&Spot>> = vec![None; n * n];
            for it in few.iter().filter(|it| it.count == 2) {
                pairs[it.pigments[0] * n + it.pigments[1]] = Some(it);
            }
            let of_three: Vec<[usize; 3]> = (usable.iter())
                .flat_map(|a| after(*a).flat_map(move |b| after(b).map(move |c| [*a, b, c])))
                .filter(|it| has_base(it))
                .collect();
            triples = (of_three.par_iter())
                .filter_map(|it| self.first(self.coarse, it, &from_pairs(it, &pairs, n), &FIRST))
                .collect();
            self.look_again(&mut triples);
        }
        (few.into_iter())
            .filter(|it| has_base(it.pigments()))
            .chain(triples)
            .chain(tested.iter().copied())
            .collect()
    }

    /// Thoroughly, those that came nearest and did not get there.
    fn look_again(&self, spots: &mut [Spot]) {
        let mut order: Vec<usize> = (0..spots.len())
            .filter(|it| spots[*it].best.off > FIRST.good)
            .collect();
        order.sort_by(|a, b| spots[*a].best.off.total_cmp(&spots[*b].best.off));
        order.truncate(THOROUGHLY);
        let again: Vec<Option<Spot>> = (order.par_iter())
            .map(|it| self.thoroughly(self.coarse, spots[*it].pigments(), &THOROUGH))
            .collect();
        for (it, again) in order.into_iter().zip(again) {
            if let Some(again) = again
                && again.best.off < spots[it].best.off
            {
                spots[it] = again;
            }
        }
    }

    /// From wherever a net of loads is nearer than its neighbours.
    fn thoroughly<const N: usize>(
        &self,
        layer: &Layer<N>,
        pigments: &[usize],
        care: &Care,
    ) -> Option<Spot> {
        let rooms = self.forbidden.rooms(self.choice, pigments);
        let starts: Vec<Vector3<f64>> = rooms
            .iter()
            .flat_map(|it| self.hollows(layer, pigments, it))
            .collect();
        self.first(layer, pigments, &starts, care)
    }

    /// Points of a net that are no farther from the wanted colour than any next to them, the nearest first.
    fn hollows<const N: usize>(
        &self,
        layer: &Layer<N>,
        pigments: &[usize],
        room: &Room,
    ) -> Vec<Vector3<f64>> {
        let width = NET.len();
        let count = width.pow(u32::try_from(pigments.len()).unwrap_or(0));
        let level =
            |index: usize, it: usize| index / width.pow(u32::try_from(it).unwrap_or(0)) % width;
        let points: Vec<(f64, Vector3<f64>)> = (0..count)
            .map(|index| {
                let shares = Vector3::from_fn(|it, _| {
                    if it < pigments.len() {
                        NET[level(index, it)]
                    } else {
                        0.0
                    }
                });
                let shares = room.bring_in(&shares);
                let seen = layer.seen(pigments, &room.loads(&shares));
                (delta_e_2000(seen.lab, self.wanted), shares)
            })
            .collect();
        let is_hollow = |index: &usize| {
            (0..pigments.len()).all(|it| {
                let next = width.pow(u32::try_from(it).unwrap_or(0));
                let here = points[*index].0;
                (level(*index, it) == 0 || here <= points[index - next].0)
                    && (level(*index, it) == width - 1 || here <= points[index + next].0)
            })
        };
        let mut hollows: Vec<(f64, Vector3<f64>)> =
            (0..count).filter(is_hollow).map(|it| points[it]).collect();
        hollows.sort_by(|a, b| a.0.total_cmp(&b.0));
        hollows.truncate(HOLLOWS);
        hollows.into_iter().map(|it| it.1).collect()
    }

    /// The nearest from these starts.
    fn first<const N: usize>(
        &self,
        layer: &Layer<N>,
        pigments: &[usize],
        starts: &[Vector3<f64>],
        care: &Care,
    ) -> Option<Spot> {
        let mut places = [0; MOST_PIGMENTS];
        places[..pigments.len()].copy_from_slice(pigments);
        let mut nearest: Option<Spot> = None;
        for room in self.forbidden.rooms(self.choice, pigments) {
            for start in starts {
                let best = descend(layer, pigments, &room, start, self.wanted, care);
                if nearest.is_none_or(|it| best.off < it.best.off) {
                    nearest = Some(Spot {
                        pigments: places,
                        count: pigments.len(),
                        room,
                        best,
                        tested: false,
                        shift: Vector3::zeros(),
                    });
                }
                if best.off <= care.good {
                    return nearest;
                }
            }
        }
        nearest
    }
}

/// Where the pairs of three stand, the nearest first.
fn from_pairs(it: &[usize; 3], pairs: &[Option<&Spot>], n: usize) -> Vec<Vector3<f64>> {
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

/// ΔE00 of the nearest.
fn off(spots: &[Spot]) -> Option<f64> {
    spots.iter().map(|it| it.best.off).min_by(f64::total_cmp)
}
