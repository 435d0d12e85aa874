//! Surfaces: what each reflects, and what the camera sees of it.

use crate::camera::balanced;
use crate::coat::{Laid, laid};
use crate::layout::{PlacedCard, Xy};
use crate::paint::{Substrate, any_surface};
use crate::random::{between, normal, pick, stream};
use crate::spec::{Clutter, ClutterKind, SceneSpec, Table};
use crate::spectrum::Spectrum;

/// Reflectance of a surface with its two kinds of unevenness.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Material {
    pub base: Spectrum,
    pub mottle: Spectrum,
    pub grain: Spectrum,
}

impl Material {
    pub(crate) fn plain(base: Spectrum) -> Self {
        Self {
            base,
            mottle: Spectrum::flat(0.0),
            grain: Spectrum::flat(0.0),
        }
    }
}

/// A material as the camera sees it: balanced RGB under each light.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub base: [[f32; 3]; 2],
    pub mottle: [[f32; 3]; 2],
    pub grain: [[f32; 3]; 2],
}

impl Seen {
    /// Under given amounts of the two lights, with its unevenness.
    #[inline]
    pub(crate) fn lit(&self, light: [f32; 2], m: f32, g: f32) -> [f32; 3] {
        let one =
            |l: usize, c: usize| self.base[l][c] + m * self.mottle[l][c] + g * self.grain[l][c];
        let mut out = [0.0; 3];
        for (c, value) in out.iter_mut().enumerate() {
            *value = light[0] * one(0, c);
        }
        if light[1] > 0.0 {
            for (c, value) in out.iter_mut().enumerate() {
                *value += light[1] * one(1, c);
            }
        }
        for value in &mut out {
            *value = value.max(0.0);
        }
        out
    }

    /// Mixed with another at an edge.
    #[inline]
    pub(crate) fn mix(
        &self,
        other: &Self,
        share: f32,
        light: [f32; 2],
        m: f32,
        g: f32,
    ) -> [f32; 3] {
        if share <= 0.0 {
            return self.lit(light, m, g);
        }
        if share >= 1.0 {
            return other.lit(light, m, g);
        }
        let (a, b) = (self.lit(light, m, g), other.lit(light, m, g));
        [
            a[0] + (b[0] - a[0]) * share,
            a[1] + (b[1] - a[1]) * share,
            a[2] + (b[2] - a[2]) * share,
        ]
    }
}

/// One thing on the table.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    pub shape: Clutter,
    pub colours: Vec<Seen>,
}

/// One card as seen.
#[derive(Clone, Debug)]
pub(crate) struct CardSeen {
    pub placed: PlacedCard,
    pub zones: Vec<Seen>,
    pub frame: Seen,
    pub spectra: Vec<Spectrum>,
}

/// One patch: masked or whole, and exposed.
#[derive(Clone, Debug)]
pub(crate) struct PatchSeen {
    pub at: Xy,
    pub size: Xy,
    pub seen: [Seen; 2],
    pub id: String,
    pub materials: [Material; 2],
}

/// Balances light for the camera.
pub(crate) struct Eye {
    pub weights: [[Spectrum; 3]; 2],
}

impl Eye {
    pub(crate) fn see(&self, material: &Material) -> Seen {
        let both = |spectrum: &Spectrum| {
            self.weights.each_ref().map(|weights| {
                let rgb = balanced(spectrum, weights);
                [single(rgb[0]), single(rgb[1]), single(rgb[2])]
            })
        };
        Seen {
            base: both(&material.base),
            mottle: both(&material.mottle),
            grain: both(&material.grain),
        }
    }
}

/// To the pixels' precision.
#[expect(
    clippy::cast_possible_truncation,
    reason = "pixels are single precision"
)]
pub(crate) fn single(value: f64) -> f32 {
    value as f32
}

/// The patches as [`laid`] lists them, as the camera sees them.
pub(crate) fn patches(spec: &SceneSpec, see: &Eye) -> Vec<PatchSeen> {
    let seen = |it: Laid<'_>| {
        let masked = it.material(spec, 0, it.wear[0]);
        let materials = if spec.layout.masked.is_some() {
            [masked, it.material(spec, 1, it.wear[1])]
        } else {
            [masked, masked]
        };
        PatchSeen {
            id: it.id,
            at: it.at,
            size: it.size,
            seen: materials.each_ref().map(|it| see.see(it)),
            materials,
        }
    };
    laid(spec).into_iter().map(seen).collect()
}

/// Mean reflectance of the table, and what its texture adds.
pub(crate) fn table_surface(table: Table, seed: u64) -> [Spectrum; 2] {
    let mut rng = stream(seed, 12);
    match table {
        Table::Wood => {
            let (mean, grain) = pick(
                &mut rng,
                &[
                    Substrate::Larch,
                    Substrate::PaleWood,
                    Substrate::StainedWood,
                ],
            )
            .surface();
            let level = between(&mut rng, 0.6, 1.1);
            [mean.map(|it| it * level), grain]
        }
        Table::Cloth => {
            let level = between(&mut rng, 0.05, 0.6);
            let base = any_surface(&mut rng, level, 0.7);
            [base, base.map(|it| 0.15 * it)]
        }
        Table::Concrete => {
            let level = between(&mut rng, 0.15, 0.4);
            let base = any_surface(&mut rng, level, 0.12);
            [base, base.map(|it| 0.25 * it)]
        }
        Table::Grass => {
            let green = Spectrum::from_nm(|nm| {
                0.04 + 0.09 * (-((nm - 550.0) / 32.0).powi(2)).exp()
                    + 0.35 / (1.0 + ((705.0 - nm) / 12.0).exp())
            });
            [green, green.map(|it| 0.7 * it)]
        }
        Table::Plain => {
            let level = between(&mut rng, 0.03, 0.85);
            let base = any_surface(&mut rng, level, 0.25);
            [base, base.map(|it| 0.03 * it)]
        }
    }
}

pub(crate) fn table(spec: &SceneSpec, see: &Eye) -> Seen {
    let [base, grain] = table_surface(spec.table, spec.table_seed);
    see.see(&Material {
        base,
        mottle: base.map(|it| 0.06 * it),
        grain,
    })
}

pub(crate) fn item(shape: &Clutter, see: &Eye) -> Item {
    let mut rng = stream(shape.seed, 13);
    let mut colour = |low: f64, high: f64, colour: f64| {
        let level = between(&mut rng, low, high);
        see.see(&Material::plain(any_surface(&mut rng, level, colour)))
    };
    let colours = match shape.kind {
        ClutterKind::Paper => vec![colour(0.6, 0.85, 0.08), colour(0.04, 0.2, 0.5)],
        ClutterKind::Swatch => vec![colour(0.08, 0.6, 0.8)],
        ClutterKind::CardLike => vec![colour(0.03, 0.85, 0.05)],
        ClutterKind::Row => (0..6).map(|_| colour(0.08, 0.6, 0.8)).collect(),
        ClutterKind::Stick | ClutterKind::Round => {
            vec![colour(0.05, 0.7, 0.8), colour(0.05, 0.5, 0.3)]
        }
    };
    Item {
        shape: *shape,
        colours,
    }
}

pub(crate) fn card(spec: &SceneSpec, index: usize, placed: &PlacedCard, see: &Eye) -> CardSeen {
    let mut rng = stream(spec.panel_seed ^ 0xca4d, 14 + index as u64);
    let spectra: Vec<Spectrum> = placed
        .kind
        .reflectances()
        .iter()
        .map(|nominal| {
            // 1 % of relative reflectance is about 0.25 ΔE00 in the greys; half the U95 is one standard deviation.
            let (level, slope) = (
                normal(&mut rng, 0.012 * spec.card_deviation),
                normal(&mut rng, 0.008 * spec.card_deviation),
            );
            nominal.zip(
                &Spectrum::from_nm(|nm| 1.0 + level + slope * (nm - 555.0) / 175.0),
                |a, b| (a * b).min(1.0),
            )
        })
        .collect();
    let zones = spectra
        .iter()
        .map(|it| see.see(&Material::plain(*it)))
        .collect();
    CardSeen {
        placed: placed.clone(),
        zones,
        frame: see.see(&Material::plain(Spectrum::flat(0.04))),
        spectra,
    }
}
