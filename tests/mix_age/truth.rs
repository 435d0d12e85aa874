//! Films by other mathematics than the program's: Kubelka's hyperbolic form every 5 nm, with pigments whose spectra are formulas.

use masstone::colour::spectrum::{BANDS as FINE, bands_to_xyz_d50};
use masstone::colour::{Lab, Matrix, lab};
use masstone::mix::bands::{BANDS, Spectrum};
use masstone::mix::{Coat, Ground, Known, Load, Model, Optics, Pigment, Trial, fit};

/// What a material does at a wavelength.
pub(crate) type Curve = Box<dyn Fn(f64) -> f64>;

pub(crate) struct Dye {
    pub(crate) id: &'static str,
    pub(crate) k: Curve,
    pub(crate) s: f64,
}

fn bump(centre: f64, width: f64, nm: f64) -> f64 {
    (-((nm - centre) / width).powi(2)).exp()
}

fn edge(at: f64, width: f64, nm: f64) -> f64 {
    1.0 / (1.0 + ((nm - at) / width).exp())
}

/// Six colours: two that end at an edge, bands of others, a near-black.
pub(crate) fn dyes() -> Vec<Dye> {
    let dye = |id, s, k: Curve| Dye { id, k, s };
    vec![
        dye(
            "red",
            0.06,
            Box::new(|nm| 0.9 * edge(590.0, 14.0, nm) + 0.02),
        ),
        dye(
            "yellow",
            0.08,
            Box::new(|nm| 0.7 * edge(500.0, 12.0, nm) + 0.01),
        ),
        dye(
            "blue",
            0.05,
            Box::new(|nm| 0.6 * bump(610.0, 60.0, nm) + 0.02),
        ),
        dye(
            "violet",
            0.05,
            Box::new(|nm| 0.7 * bump(560.0, 55.0, nm) + 0.02),
        ),
        dye(
            "green",
            0.05,
            Box::new(|nm| 0.5 * bump(660.0, 50.0, nm) + 0.4 * bump(420.0, 40.0, nm) + 0.02),
        ),
        dye(
            "brown",
            0.07,
            Box::new(|nm| 0.6 * (-(nm - 380.0) / 130.0).exp() + 0.05),
        ),
    ]
}

/// Reflectance of bare wood under clear coating, as light within meets it.
pub(crate) fn larch(nm: f64) -> f64 {
    0.25 + 0.45 * (1.0 - edge(560.0, 50.0, nm))
}

pub(crate) fn white(_: f64) -> f64 {
    0.93
}

/// How the truth stands at one time.
pub(crate) struct State {
    /// Of each pigment's absorption, what is left; 1 for all of it.
    pub(crate) left: f64,
    /// Of its scattering.
    pub(crate) body: f64,
    /// What the coating absorbs by g/m² beside nothing.
    pub(crate) coating: Curve,
    pub(crate) ground: fn(f64) -> f64,
}

/// Colour of so much of a dye in a coat, with the film's equation in hyperbolic functions.
pub(crate) fn seen(state: &State, parts: &[(&Dye, f64)], g_per_m2: f64) -> Lab {
    let total: f64 = parts.iter().map(|it| it.1).sum();
    let mixed = g_per_m2 / (1.0 + total / 100.0);
    let mut values = [0.0; FINE];
    for (index, it) in values.iter_mut().enumerate() {
        let nm = 380.0 + 5.0 * index as f64;
        let ground = (state.ground)(nm);
        let k = mixed * ((state.coating)(nm) + 1e-6)
            + (parts.iter())
                .map(|(dye, load)| mixed * load / 100.0 * (dye.k)(nm) * state.left)
                .sum::<f64>();
        let s = mixed * 1e-6
            + parts
                .iter()
                .map(|(dye, load)| mixed * load / 100.0 * dye.s * state.body)
                .sum::<f64>();
        let a = 1.0 + k / s;
        let b = (a * a - 1.0).sqrt();
        let coth = 1.0 / (b * s).tanh();
        let r = (1.0 - ground * (a - b * coth)) / (a - ground + b * coth);
        *it = 0.96 * (1.0 - 0.596_346) * r / (1.0 - 0.596_346 * r);
    }
    lab::from_xyz(bands_to_xyz_d50(&values))
}

pub(crate) fn at_bands(curve: impl Fn(f64) -> f64) -> Spectrum {
    std::array::from_fn(|band| curve(380.0 + 10.0 * band as f64))
}

/// A model fitted to the fresh truth: controls, and each dye at two loads on larch.
pub(crate) fn fitted(dyes: &[Dye]) -> Model {
    let state = |ground| State {
        left: 1.0,
        body: 1.0,
        coating: Box::new(|_| 0.0),
        ground,
    };
    let trial = |parts: &[(&Dye, f64)], ground: fn(f64) -> f64, name: &str| Trial {
        swatch: None,
        name: format!("{name} {}", parts.len()),
        pigments: coat(
            &parts.iter().map(|it| (it.0.id, it.1)).collect::<Vec<_>>(),
            name,
        )
        .pigments,
        ground: name.to_owned(),
        g_per_m2: 150.0,
        lab: seen(&state(ground), parts, 150.0),
        covariance: Matrix::identity() * 0.04,
        common: Matrix::zeros(),
    };
    let mut trials = vec![trial(&[], larch, "larch"), trial(&[], white, "white")];
    for it in dyes {
        for load in [12.0, 4.0] {
            trials.push(trial(&[(it, load)], larch, "larch"));
        }
    }
    fit(&trials).unwrap()
}

/// A model that knows the fresh truth exactly.
pub(crate) fn model(dyes: &[Dye]) -> Model {
    let pigment = |it: &Dye| Pigment {
        id: it.id.to_owned(),
        optics: Optics {
            k: at_bands(&it.k),
            s: [it.s; BANDS],
        },
        known: Known::Both,
        loads: vec![12.0],
    };
    let ground = |name: &str, curve: fn(f64) -> f64| Ground {
        name: name.to_owned(),
        reflectance: at_bands(curve),
    };
    Model::of_optics(
        Optics {
            k: [1e-6; BANDS],
            s: [1e-6; BANDS],
        },
        dyes.iter().map(pigment).collect(),
        vec![ground("larch", larch), ground("white", white)],
    )
}

pub(crate) fn coat(parts: &[(&str, f64)], ground: &str) -> Coat {
    Coat {
        pigments: (parts.iter())
            .map(|(id, load)| Load {
                pigment: (*id).to_owned(),
                load: *load,
            })
            .collect(),
        g_per_m2: 150.0,
        ground: ground.to_owned(),
    }
}
