//! The transfer against laws, exact solutions and printed values.

use super::angles::Angles;
use super::layer::{Directions, Scatterers};
use super::*;
use crate::paint::layer as kubelka_munk;

fn scatterers(all: &[(f64, f64)]) -> Scatterers {
    let mut out = Scatterers::default();
    for (s, g) in all {
        out.add(*s, *g);
    }
    out
}

const NORMAL: usize = Angles::<DIRECTIONS>::NORMAL;

#[test]
fn nothing_is_lost_where_nothing_absorbs() {
    let directions = Directions::<DIRECTIONS>::of(1.5);
    for (s, g) in [(0.01, 0.0), (1.0, 0.5), (30.0, 0.8), (400.0, 0.3)] {
        let layer = directions.layer(0.0, &scatterers(&[(s, g)]));
        for (back, through) in layer.back.row_sum().iter().zip(&layer.through.row_sum()) {
            assert!(
                (back + through - 1.0).abs() < 1e-7,
                "{s} {g}: {}",
                back + through
            );
        }
        let over = layer.over(&directions.angles, 1.0);
        assert!(over.row_sum().iter().all(|it| (it - 1.0).abs() < 1e-6));
    }
}

/// Through the surface, too: what enters leaves.
#[test]
fn a_white_ground_returns_all_that_enters() {
    for diffuse in [0.0, 1.0] {
        let viewing = Viewing::<DIRECTIONS>::new(1.5, diffuse);
        let angles = &viewing.directions.angles;
        let layer = viewing.directions.layer(0.0, &scatterers(&[(3.0, 0.6)]));
        let up = viewing.upwards(&layer.over(angles, 1.0));
        let out: f64 = (up.iter().zip(&angles.thrown_back))
            .map(|(flux, r)| flux * (1.0 - r))
            .sum();
        let beam = Angles::<DIRECTIONS>::BEAM;
        let entered: f64 = (angles.share.iter().zip(&angles.thrown_back))
            .map(|(share, r)| diffuse * share * 1.5f64.powi(2) * (1.0 - r))
            .sum::<f64>()
            + (1.0 - diffuse) * (1.0 - angles.thrown_back[beam]);
        assert!((out - entered).abs() < 1e-6, "{out} of {entered}");
    }
}

/// Beer's law along each direction.
#[test]
fn without_scattering_light_goes_straight() {
    let directions = Directions::<DIRECTIONS>::of(1.5);
    for thickness in [0.003, 0.2, 1.7] {
        let layer = directions.layer(thickness, &Scatterers::default());
        for (i, mu) in directions.angles.mu.iter().enumerate() {
            let exact = (-thickness / mu).exp();
            let found = layer.through[(i, i)];
            // The flattest direction is the worst: the thin layer's step is a tenth of its way.
            assert!((found - exact).abs() < 4e-4, "{mu}: {found} {exact}");
            assert!(layer.back.column(i).iter().all(|it| it.abs() < 1e-15));
        }
    }
}

/// Half spaces that scatter alike to all sides, without a surface: 1 − H(µ) √(1 − ω), with H from its own integral equation.
///
/// # Source
/// S. Chandrasekhar, *Radiative Transfer*, Dover 1960, chapters III and V.
#[test]
fn a_half_space_is_chandrasekhars() {
    let directions = Directions::<DIRECTIONS>::of(1.5);
    for albedo in [0.5, 0.9, 0.99] {
        let thick = 300.0;
        let layer = directions.layer(
            (1.0 - albedo) * thick,
            &scatterers(&[(albedo * thick, 0.0)]),
        );
        let found = layer.back.column(NORMAL).sum();
        let exact = 1.0 - (1.0f64 - albedo).sqrt() * h_function(albedo);
        assert!((found - exact).abs() < 3e-4, "{albedo}: {found} {exact}");
    }
}

/// H(1), by the form of the equation that converges for every albedo below 1.
fn h_function(albedo: f64) -> f64 {
    const CELLS: u32 = 2000;
    let step = 1.0 / f64::from(CELLS);
    let mu: Vec<f64> = (0..CELLS).map(|i| (f64::from(i) + 0.5) * step).collect();
    let root = (1.0 - albedo).sqrt();
    let mut h = vec![1.0; mu.len()];
    let sum = |h: &[f64], at: f64| -> f64 {
        let parts = mu.iter().zip(h).map(|(mu, h)| mu * h / (at + mu));
        0.5 * albedo * step * parts.sum::<f64>()
    };
    for _ in 0..60 {
        h = mu.iter().map(|at| 1.0 / (root + sum(&h, *at))).collect();
    }
    1.0 / (root + sum(&h, 1.0))
}

/// Light along the normal on a slab without a surface, albedo 0.9, asymmetry 0.75, thickness 2: 0.09739 comes back, 0.66096 goes through.
/// From memory, of van de Hulst's tables as those who test transfer programs print them.
#[test]
fn a_slab_is_van_de_hulsts() {
    let slab = scatterers(&[(1.8, 0.75)]);
    let few = Directions::<DIRECTIONS>::of(1.5).layer(0.2, &slab);
    let many = Directions::<25>::of(1.5).layer(0.2, &slab);
    let along = Angles::<25>::NORMAL;
    let sums = |it: &[f64]| it.iter().sum::<f64>();
    for (back, through, good_to) in [
        (
            few.back.column(NORMAL).as_slice(),
            few.through.column(NORMAL).as_slice(),
            2e-4,
        ),
        (
            many.back.column(along).as_slice(),
            many.through.column(along).as_slice(),
            1e-5,
        ),
    ] {
        let (back, through) = (sums(back), sums(through));
        assert!((back - 0.097_39).abs() < good_to, "{back}");
        assert!((through - 0.660_96).abs() < good_to, "{through}");
    }
}

/// More directions change little: truths are good to a small part of what anyone can measure.
#[test]
fn eleven_directions_are_enough() {
    for (index, diffuse) in [(1.45, 0.3), (1.55, 1.0)] {
        let few = Viewing::<DIRECTIONS>::new(index, diffuse);
        let many = Viewing::<25>::new(index, diffuse);
        for (k, s, g, ground) in [
            (0.05, 0.1, 0.8, 0.5),
            (0.5, 5.0, 0.6, 0.3),
            (5.0, 20.0, 0.8, 0.3),
            (0.02, 60.0, 0.4, 0.1),
            (2.0, 0.3, 0.7, 0.7),
            (20.0, 5.0, 0.3, 0.5),
        ] {
            let scatters = scatterers(&[(s, g)]);
            let one = few.reflectance(k, &scatters, ground);
            let two = many.reflectance(k, &scatters, ground);
            let off = (one - two).abs();
            assert!(off < 0.0014 + 0.003 * two, "{k} {s} {g}: {one} {two}");
        }
    }
}

/// Isotropic, hiding, far from black: Kubelka and Munk with Saunderson's surface, K twice the absorption and S three quarters of the scattering.
#[test]
fn a_film_that_hides_is_roughly_kubelkas() {
    let viewing = Viewing::<DIRECTIONS>::new(1.5, 1.0);
    for absorbs in [0.3, 1.0, 5.0] {
        let found = viewing.reflectance(absorbs, &scatterers(&[(100.0, 0.0)]), 0.2);
        let within = kubelka_munk(2.0 * absorbs, 75.0, 0.2);
        let theirs = 0.96 * 0.4037 * within / (1.0 - 0.5963 * within);
        assert!(
            (found / theirs - 1.0).abs() < 0.1,
            "{absorbs}: {found} {theirs}"
        );
    }
}
