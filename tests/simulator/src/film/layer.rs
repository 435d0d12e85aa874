//! What a layer does to light from each direction, by adding and doubling.
//!
//! # Sources
//! H. C. van de Hulst, *Multiple Light Scattering*, Academic Press 1980, chapter 4; S. A. Prahl, M. J. C. van Gemert, A. J. Welch, *Appl.
//! Opt.* 32 (1993) 559–568. The start: W. J. Wiscombe, *J. Quant. Spectrosc. Radiat. Transfer* 16 (1976) 637–658 (the diamond); the peak of
//! the phase function: *J. Atmos. Sci.* 34 (1977) 1408–1422 (δ-M).

use super::angles::{Angles, legendre};
use nalgebra::{SMatrix, SVector};

type Square<const N: usize> = SMatrix<f64, N, N>;

/// What scatters in a layer: how much, and how far forward, as sums over its pigments.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Scatterers(Vec<(f64, f64)>);

impl Scatterers {
    /// Adds an optical thickness ≥ 0 of Henyey and Greenstein's function with this asymmetry, −1…1.
    pub(crate) fn add(&mut self, thickness: f64, asymmetry: f64) {
        self.0.push((thickness, asymmetry));
    }

    /// Thickness times the l-th moment of the phase function.
    fn moment(&self, l: usize) -> f64 {
        let power = i32::try_from(l).expect("a few terms");
        self.0.iter().map(|(s, g)| s * g.powi(power)).sum()
    }
}

/// Fluxes out by direction for fluxes in by direction: a column is where light of one direction goes. Alike from both sides.
#[derive(Clone, Debug)]
pub(crate) struct Layer<const N: usize> {
    /// Back to the side that it came from.
    pub(crate) back: Square<N>,
    /// Through.
    pub(crate) through: Square<N>,
}

/// Directions with the parts of a phase function between them that depend on nothing else.
#[derive(Clone, Debug)]
pub(crate) struct Directions<const N: usize> {
    pub(crate) angles: Angles<N>,
    /// By term: (2l + 1) Pₗ(µᵢ) Pₗ(µⱼ).
    terms: Vec<Square<N>>,
}

/// The first thin layer's thickness along the flattest direction.
const THIN: f64 = 0.1;

impl<const N: usize> Directions<N> {
    pub(crate) fn of(index: f64) -> Self {
        let angles = Angles::of(index);
        let top = Angles::<N>::TERMS - 1;
        let all = angles.mu.map(|mu| legendre(top, mu));
        let terms = (0..=top)
            .map(|l| {
                let weight = 2.0 * crate::spectrum::as_f64(l) + 1.0;
                Square::from_fn(|i, j| weight * all[i][l] * all[j][l])
            })
            .collect();
        Self { angles, terms }
    }

    /// A layer that absorbs (optical thickness ≥ 0) and scatters.
    pub(crate) fn layer(&self, absorbs: f64, scatters: &Scatterers) -> Layer<N> {
        // What a function of so many terms can't show is taken as not scattered at all.
        let peak = scatters.moment(self.terms.len());
        let left = scatters.moment(0) - peak;
        let flattest = self.angles.mu.iter().copied().fold(1.0, f64::min);
        let thickness = absorbs + left;
        let mut doublings = 0;
        let mut part = 1.0;
        while thickness * part > THIN * flattest {
            part *= 0.5;
            doublings += 1;
        }
        let (mut ahead, mut behind) = (Square::zeros(), Square::zeros());
        for (l, term) in self.terms.iter().enumerate() {
            let moment = scatters.moment(l) - peak;
            ahead += term * moment;
            behind += term * if l % 2 == 0 { moment } else { -moment };
        }
        let Angles { mu, share, .. } = &self.angles;
        // Half of what the thin layer does, by flux: the rule's weight is share/2µ.
        let scaled =
            |it: f64, i: usize, j: usize| 0.5 * part * it * 0.5 * share[i] / (2.0 * mu[i]) / mu[j];
        let lost = Square::from_fn(|i, j| {
            let straight = if i == j {
                0.5 * part * thickness / mu[j]
            } else {
                0.0
            };
            straight - scaled(ahead[(i, j)], i, j)
        });
        let turned = Square::from_fn(|i, j| scaled(behind[(i, j)], i, j));
        let mut layer = thin(&lost, &turned);
        for _ in 0..doublings {
            layer = layer.doubled();
        }
        layer
    }
}

/// A thin layer from halves of its losses ahead and of what it turns back: what is in it is the mean of what enters and what leaves.
fn thin<const N: usize>(lost: &Square<N>, turned: &Square<N>) -> Layer<N> {
    let one = Square::identity();
    let kept = inverse(one + lost);
    let once = kept * turned;
    let both = inverse(one - once * once) * kept * 2.0;
    Layer {
        back: once * both,
        through: both - one,
    }
}

/// Light between layers dies away, so there is an inverse.
fn inverse<const N: usize>(of: Square<N>) -> Square<N> {
    of.try_inverse()
        .expect("light between two layers dies away")
}

impl<const N: usize> Layer<N> {
    /// Two of them, one upon the other.
    fn doubled(&self) -> Self {
        let between = inverse(Square::identity() - self.back * self.back) * self.through;
        Self {
            back: self.back + self.through * (self.back * between),
            through: self.through * between,
        }
    }

    /// What comes back of each direction if below lies a diffuse ground of this reflectance, 0–1.
    pub(crate) fn over(&self, angles: &Angles<N>, ground: f64) -> Square<N> {
        let diffuse = SVector::<f64, N>::from(angles.share);
        let again = (self.back * diffuse).sum();
        let reached = self.through.row_sum() * (ground / (1.0 - ground * again));
        self.back + self.through * diffuse * reached
    }
}
