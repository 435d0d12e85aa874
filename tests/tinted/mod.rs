//! A coating with pigments whose optics are made by hand: edges and bands of absorption, scattering that falls with the wavelength. Strengths are
//! those of pigments as workshops know them: 10 g on a square metre hide wood, or nearly.

pub(crate) mod other;

use masstone::colour::{Lab, Matrix};
use masstone::mix::bands::Spectrum;
use masstone::mix::search::{Candidate, Change, Order, Task};
use masstone::mix::{Coat, Ground, Known, Load, Model, Optics, Pigment, Trial};
use masstone::plan::Balance;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

/// Numbers that look random and are the same each time.
pub(crate) struct Numbers(ChaCha8Rng);

impl Numbers {
    pub(crate) fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// From `low` to `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (f64::from(self.0.next_u32()) + 0.5) / 2.0_f64.powi(32)
    }

    /// The same, as likely between 1 and 2 as between 2 and 4.
    pub(crate) fn ratio(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// A place in a list of so many.
    pub(crate) fn place(&mut self, count: usize) -> usize {
        (0..count)
            .rev()
            .find(|it| self.between(0.0, 1.0) < 1.0 / (*it as f64 + 1.0))
            .unwrap_or(0)
    }
}

/// What every wavelength has, nm.
pub(crate) fn spectrum(at: impl Fn(f64) -> f64) -> Spectrum {
    std::array::from_fn(|band| at(380.0 + 10.0 * band as f64))
}

/// Absorbs below an edge, as yellows and reds do.
pub(crate) fn edge(nm: f64, width: f64, strength: f64, scatter: f64) -> Optics {
    Optics {
        k: spectrum(|it| strength * (0.004 + 1.0 / (1.0 + ((it - nm) / width).exp()))),
        s: spectrum(|it| scatter * (550.0 / it)),
    }
}

/// Absorbs about a wavelength, as blues and greens do.
pub(crate) fn band(nm: f64, width: f64, strength: f64, scatter: f64) -> Optics {
    Optics {
        k: spectrum(|it| strength * (0.01 + (-((it - nm) / width).powi(2)).exp())),
        s: spectrum(|it| scatter * (550.0 / it).powf(1.5)),
    }
}

/// Absorbs everything alike, more or less: blacks; a white if it hardly does.
pub(crate) fn flat(strength: f64, scatter: f64) -> Optics {
    Optics {
        k: spectrum(|it| strength * (450.0 / it).powf(0.3)),
        s: spectrum(|it| scatter * (550.0 / it).powf(1.2)),
    }
}

pub(crate) fn pigment(id: &str, optics: Optics, loads: &[f64]) -> Pigment {
    Pigment {
        id: id.to_owned(),
        optics,
        known: Known::Both,
        loads: loads.to_vec(),
    }
}

/// A clear coating, a little yellow, on larch as it wets it.
pub(crate) fn model(pigments: Vec<Pigment>) -> Model {
    Model::of_optics(
        Optics {
            k: spectrum(|it| 2e-4 + 1.5e-3 * (-(it - 380.0) / 40.0).exp()),
            s: spectrum(|_| 2e-4),
        },
        pigments,
        vec![Ground {
            name: "larch".to_owned(),
            reflectance: spectrum(|it| 0.2 + 0.5 / (1.0 + (-(it - 560.0) / 50.0).exp())),
        }],
    )
}

/// What is known of a pigment that cured to this load.
pub(crate) fn candidate(id: &str, limit: f64) -> Candidate {
    Candidate {
        id: id.to_owned(),
        limit: Some(limit),
        lowest_failed: None,
        per_kg: Some(20.0),
        in_stock: true,
        fastness: Some(Change {
            delta_e: 1.0,
            hours: 1500.0,
        }),
    }
}

/// A library of so many pigments, drawn.
pub(crate) fn library(count: usize, seed: u64) -> (Model, Vec<Candidate>) {
    let mut numbers = Numbers::new(seed);
    let mut pigments = Vec::with_capacity(count);
    let mut candidates = Vec::with_capacity(count);
    for index in 0..count {
        let strength = numbers.ratio(0.15, 2.0);
        let scatter = numbers.ratio(0.01, 0.5);
        let optics = match index % 10 {
            0 => flat(strength, 0.1 * scatter),
            1 => flat(0.002 * strength, 0.5 * scatter + 0.1),
            2..=6 => edge(
                numbers.between(440.0, 620.0),
                numbers.between(8.0, 35.0),
                strength,
                scatter,
            ),
            _ => band(
                numbers.between(520.0, 700.0),
                numbers.between(40.0, 110.0),
                strength,
                scatter,
            ),
        };
        let id = format!("P{index:02}");
        let limit = numbers.ratio(2.0, 20.0);
        let mut known = candidate(&id, limit);
        known.per_kg = Some(numbers.ratio(4.0, 200.0));
        known.fastness = Some(Change {
            delta_e: numbers.ratio(0.1, 10.0),
            hours: 1500.0,
        });
        pigments.push(pigment(&id, optics, &[limit / 4.0, limit / 2.0, limit]));
        candidates.push(known);
    }
    (model(pigments), candidates)
}

/// Trials of these pigments at their loads as the model has them, each off a little, with a control.
pub(crate) fn trials(model: &Model, g_per_m2: f64, sd: f64, seed: u64) -> Vec<Trial> {
    let mut numbers = Numbers::new(seed);
    let mut coats = vec![Vec::new()];
    for it in &model.pigments {
        coats.extend(it.loads.iter().map(|load| {
            vec![Load {
                pigment: it.id.clone(),
                load: *load,
            }]
        }));
    }
    (coats.into_iter().enumerate())
        .map(|(place, pigments)| {
            let coat = Coat {
                pigments,
                g_per_m2,
                ground: "larch".to_owned(),
            };
            let lab = model.colour(&coat).expect("the model has them");
            let mut off = || sd * 1.7 * numbers.between(-1.0, 1.0);
            Trial {
                swatch: None,
                name: format!("trial {place}"),
                pigments: coat.pigments,
                ground: coat.ground,
                g_per_m2,
                lab: Lab::new(lab.l + off(), lab.a + off(), lab.b + off()),
                covariance: Matrix::identity() * sd * sd,
                common: Matrix::zeros(),
            }
        })
        .collect()
}

/// A kilogram, a balance of 0.01 g, up to three pigments, the nearest first.
pub(crate) fn task<'a>(model: &'a Model, candidates: &'a [Candidate], wanted: Lab) -> Task<'a> {
    Task {
        model,
        aged: None,
        wanted,
        covariance: Matrix::zeros(),
        ground: "larch",
        g_per_m2: other::G_PER_M2,
        candidates,
        mixtures: &[],
        coating_per_kg: Some(20.0),
        batch_g: 1000.0,
        balance: Balance::new(0.01, None).expect("a balance"),
        most_pigments: 3,
        base: None,
        in_stock: false,
        allow_untested: false,
        allow_beyond: false,
        order: Order::Nearest,
        count: 20,
    }
}
