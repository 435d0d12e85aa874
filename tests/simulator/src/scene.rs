//! A scene ready to be rendered: every surface as the camera sees it and as it is.
//!
//! A surface's reflectance is `base + m·mottle + g·grain` with noise values m and g at each place, so camera RGB and XYZ are
//! linear in m and g as well: spectra are integrated once a surface, pixels only combine three vectors for each light.

use crate::camera::{balanced, balanced_weights, fit_matrix};
use crate::colorimetry::{BRADFORD, Lab, d50_white, lab, matrix, xyz_d50};
use crate::layout::{CardKind, Layout, PlacedCard, Side, Xy};
use crate::paint::{Recipe, Substrate, any_surface};
use crate::random::{between, normal, pick, smooth_noise, stream};
use crate::spec::{Clutter, ClutterKind, SceneSpec, Table, Trouble};
use crate::spectrum::{Spectrum, as_f64};
use crate::truth::{CardTruth, Half, PatchTruth, Quad, Truth, ZoneTruth};
use crate::view::View;
use nalgebra::{Matrix3, Vector3};
use rayon::prelude::*;

/// Reflectance of a surface with its two kinds of unevenness.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Material {
    pub base: Spectrum,
    pub mottle: Spectrum,
    pub grain: Spectrum,
}

impl Material {
    fn plain(base: Spectrum) -> Self {
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
    spectra: Vec<Spectrum>,
}

/// One patch: masked or whole, and exposed.
#[derive(Clone, Debug)]
pub(crate) struct PatchSeen {
    pub at: Xy,
    pub size: Xy,
    pub seen: [Seen; 2],
    id: String,
    materials: [Material; 2],
}

/// A scene with everything precomputed.
#[derive(Clone, Debug)]
pub struct Scene {
    /// Its factors.
    pub spec: SceneSpec,
    pub(crate) patches: Vec<PatchSeen>,
    /// Index into `patches` of each grid cell.
    pub(crate) cells: Vec<Option<usize>>,
    pub(crate) substrate: [Seen; 2],
    pub(crate) table: Seen,
    pub(crate) items: Vec<Item>,
    pub(crate) cards: Vec<CardSeen>,
    pub(crate) matrix: Matrix3<f64>,
    pub(crate) specular: [[f32; 3]; 2],
    pub(crate) raw_gains: [f64; 3],
    pub(crate) weights: [[Spectrum; 3]; 2],
}

/// Places in a patch at which its colour is taken.
const SAMPLES: usize = 1024;

impl SceneSpec {
    /// Integrates every surface.
    #[must_use]
    pub fn build(&self) -> Scene {
        let sensitivities = self.camera.id.sensitivities();
        let light = self.light.spectrum();
        let second = self.second.as_ref().map(|it| it.0.spectrum());
        let share = self.second.as_ref().map_or(0.0, |it| it.1);
        // The camera balances for the mean of the lights.
        let mean = second.map_or(light, |other| light.lerp(&other, share));
        let white = Vector3::from(sensitivities.each_ref().map(|it| it.dot(&mean)));
        let weights = |light: &Spectrum| -> [Spectrum; 3] {
            std::array::from_fn(|c| sensitivities[c].times(light).map(|it| it / white[c]))
        };
        let weights = [weights(&light), weights(&second.unwrap_or(light))];
        let fitted_for = self.camera.matrix_light.map_or(mean, |it| it.spectrum());
        let green = white[1];
        let see = Eye { weights };
        let layout = &self.layout;
        let patches = patches(self, &see);
        let cells = (0..layout.rows * layout.columns)
            .scan(0, |next, cell| {
                let here = layout.recipes[cell].is_some().then_some(*next);
                *next += usize::from(here.is_some());
                Some(here)
            })
            .collect();
        let (base, grain) = self.substrate.surface();
        let wood = Material {
            base,
            mottle: base.map(|it| 0.02 * it),
            grain: grain.map(|it| it * self.grain),
        };
        let aged = aged_substrate(&wood, self.substrate, self.exposure);
        Scene {
            spec: self.clone(),
            patches,
            cells,
            substrate: [see.see(&wood), see.see(&aged)],
            table: table(self, &see),
            items: self.clutter.iter().map(|it| item(it, &see)).collect(),
            cards: if self.trouble == Trouble::NoCard {
                Vec::new()
            } else {
                layout
                    .cards
                    .iter()
                    .enumerate()
                    .map(|(i, it)| card(self, i, it, &see))
                    .collect()
            },
            matrix: fit_matrix(&balanced_weights(&sensitivities, &fitted_for)),
            specular: see.see(&Material::plain(Spectrum::flat(1.0))).base,
            raw_gains: [0, 1, 2].map(|c| (green / white[c]).max(0.2) * [1.5, 1.0, 1.4][c]),
            weights,
        }
    }
}

struct Eye {
    weights: [[Spectrum; 3]; 2],
}

impl Eye {
    fn see(&self, material: &Material) -> Seen {
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

/// The patches of the grid in cell order, then those off the grid.
fn patches(spec: &SceneSpec, see: &Eye) -> Vec<PatchSeen> {
    let layout = &spec.layout;
    let mut rng = stream(spec.panel_seed, 11);
    let grid = layout.recipes.iter().enumerate().map(|(i, recipe)| {
        (
            layout.name(i),
            layout.cell(i),
            layout.patch,
            recipe.as_ref(),
        )
    });
    let off = layout
        .off
        .iter()
        .map(|it| (it.id.clone(), it.at, it.size, Some(&it.recipe)));
    let mut out = Vec::new();
    for (id, at, size, recipe) in grid.chain(off) {
        let (film_a, film_b, fade, twist) = (
            normal(&mut rng, spec.half_difference),
            normal(&mut rng, spec.half_difference),
            between(&mut rng, 0.2, 1.0),
            normal(&mut rng, 1.0),
        );
        let Some(recipe) = recipe else { continue };
        let masked = coat(spec, recipe, 1.0 + film_a, 0.0, 0.0);
        let exposed = coat(spec, recipe, 1.0 + film_b, fade * spec.exposure, twist);
        let materials = if layout.masked.is_some() {
            [masked, exposed]
        } else {
            [masked, masked]
        };
        out.push(PatchSeen {
            id,
            at,
            size,
            seen: materials.each_ref().map(|it| see.see(it)),
            materials,
        });
    }
    out
}

/// A coat of a recipe on the panel's substrate, `fade` of the change that a strong exposure makes gone through.
fn coat(spec: &SceneSpec, recipe: &Recipe, film: f64, fade: f64, twist: f64) -> Material {
    let (mean, grain) = spec.substrate.surface();
    let ground = mean.zip(&grain, |m, g| m + spec.grain * g);
    let other = mean.zip(&grain, |m, g| m - spec.grain * g);
    let mut faded = recipe.clone();
    // Colour is lost, and the coating yellows and then bleaches.
    for (pigment, load) in &mut faded.pigments {
        let sensitive = 0.3 + 0.7 * as_f64((*pigment * 7) % 5) / 4.0;
        *load *= 1.0 - 0.85 * fade * sensitive;
    }
    let twist = twist.clamp(-1.5, 1.5);
    let yellowing = Spectrum::from_nm(|nm| {
        let blue = (-((nm - 400.0) / 70.0).powi(2)).exp();
        1.0 - fade * (0.30 + 0.20 * twist) * blue + 0.12 * fade * twist
    });
    let laid = |film: f64, ground: &Spectrum| {
        faded
            .over(ground, film)
            .times(&yellowing)
            .map(|it| it.clamp(0.002, 0.98))
    };
    let (late, early) = (laid(film, &ground), laid(film, &other));
    let base = late.lerp(&early, 0.5);
    let grain = late.zip(&early, |l, e| 0.5 * (l - e));
    let thicker = laid(film * (1.0 + 4.0 * spec.mottle), &mean);
    let thinner = laid(film * (1.0 - 4.0 * spec.mottle).max(0.3), &mean);
    let mottle = thicker
        .zip(&thinner, |a, b| 0.5 * (a - b))
        .zip(&base, |film, level| film + spec.mottle * level);
    Material {
        base,
        mottle,
        grain,
    }
}

/// Wood greys and darkens; boards of other kinds hardly change.
fn aged_substrate(wood: &Material, substrate: Substrate, exposure: f64) -> Material {
    let amount = match substrate {
        Substrate::Larch | Substrate::PaleWood => 0.45,
        Substrate::StainedWood => 0.25,
        _ => 0.06,
    } * exposure;
    let grey = Spectrum::from_nm(|nm| 0.20 + 0.00015 * (nm - 380.0));
    Material {
        base: wood.base.lerp(&grey, amount),
        ..*wood
    }
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

fn table(spec: &SceneSpec, see: &Eye) -> Seen {
    let [base, grain] = table_surface(spec.table, spec.table_seed);
    see.see(&Material {
        base,
        mottle: base.map(|it| 0.06 * it),
        grain,
    })
}

fn item(shape: &Clutter, see: &Eye) -> Item {
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

fn card(spec: &SceneSpec, index: usize, placed: &PlacedCard, see: &Eye) -> CardSeen {
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

/// A seed in half the bits.
pub(crate) fn fold(seed: u64) -> u32 {
    let [a, b, c, d, e, f, g, h] = seed.to_le_bytes();
    u32::from_le_bytes([a ^ e, b ^ f, c ^ g, d ^ h])
}

/// Noise of the coats at a place: mean 0, standard deviation about 1.
#[inline]
pub(crate) fn mottle_at(x: f32, y: f32, seed: u32) -> f32 {
    2.2 * smooth_noise(x / 14.0, y / 14.0, seed)
        + 1.6 * smooth_noise(x / 4.5, y / 4.5, seed ^ 0x51ed)
}

/// The grain at a place along and across it: −1 early, 1 late wood.
#[inline]
pub(crate) fn grain_at(along: f32, across: f32, seed: u32) -> f32 {
    let bend = 6.0 * smooth_noise(along / 260.0, across / 40.0, seed ^ 0x9e1);
    let rings = smooth_noise(along / 170.0, (across + bend) / 5.5, seed);
    let fibres = smooth_noise(along / 30.0, across / 0.9, seed ^ 0x77);
    (1.7 * rings + 0.6 * fibres).clamp(-1.0, 1.0)
}

/// Mottle and grain of the board.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Texture {
    seed: u32,
    sin: f32,
    cos: f32,
}

impl Texture {
    pub(crate) fn new(scene: &Scene) -> Self {
        let (sin, cos) = single(scene.spec.grain_angle.to_radians()).sin_cos();
        Self {
            seed: scene.texture_seed(),
            sin,
            cos,
        }
    }

    /// Both at a place.
    #[inline]
    pub(crate) fn at(&self, x: f32, y: f32) -> (f32, f32) {
        let (s, c) = (self.sin, self.cos);
        (
            mottle_at(x, y, self.seed),
            grain_at(c * x + s * y, c * y - s * x, self.seed ^ 0x6a41),
        )
    }
}

impl Scene {
    /// The seed of textures.
    pub(crate) fn texture_seed(&self) -> u32 {
        fold(self.spec.panel_seed)
    }

    /// The panel file that goes with it. For a wrong panel, another one's.
    #[must_use]
    pub fn panel_toml(&self) -> String {
        let layout = &self.spec.layout;
        let substrate = self.spec.substrate.words();
        if self.spec.trouble != Trouble::WrongPanel {
            return layout.toml(substrate);
        }
        let other = Layout {
            rows: layout.rows + 1,
            columns: layout.columns + 1,
            patch: [layout.patch[0], layout.patch[1] * 0.8],
            recipes: vec![layout.recipes[0].clone(); (layout.rows + 1) * (layout.columns + 1)],
            board_stated: false,
            off: Vec::new(),
            ..layout.clone()
        };
        other.toml(substrate)
    }

    /// Size of the stored picture for a long side, at 4 : 3.
    #[must_use]
    pub fn stored_size(&self, long_side: u32) -> [u32; 2] {
        let short = long_side * 3 / 4;
        let swapped = self.spec.stored_as >= 5;
        if self.spec.portrait == swapped {
            [long_side, short]
        } else {
            [short, long_side]
        }
    }

    /// Where a second, like panel lies: above or below the first, away from the card.
    pub(crate) fn second_board(&self) -> Xy {
        let layout = &self.spec.layout;
        let below = layout
            .cards
            .iter()
            .all(|it| it.centre[1] < layout.extent()[1]);
        let step = layout.board[1] + 35.0;
        [0.03 * layout.board[0], if below { step } else { -step }]
    }

    /// The camera's view at a stored size.
    #[must_use]
    pub fn view(&self, size: [u32; 2]) -> View {
        let stored = size.map(f64::from);
        let [w, h] = self.spec.layout.board;
        let [x, y] = self.spec.layout.first;
        let mut targets: Vec<Xy> = vec![[-x, -y], [w - x, -y], [w - x, h - y], [-x, h - y]];
        for card in &self.spec.layout.cards {
            let [w, h] = card.kind.shape().outer;
            targets.extend([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]].map(|it| card.to_panel(it)));
        }
        if self.spec.trouble == Trouble::TwoPanels {
            let [dx, dy] = self.second_board();
            targets.extend([[dx - x, dy - y], [dx + w - x, dy + h - y]]);
        }
        View::new(&self.spec.pose, stored, self.spec.stored_as, &targets)
    }

    /// The truth at a stored size; clipping is known only once rendered.
    #[must_use]
    pub fn truth(&self, size: [u32; 2]) -> Truth {
        let view = self.view(size);
        let layout = &self.spec.layout;
        let quad = |at: Xy, size: Xy| -> Quad {
            [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
                .map(|[u, v]| view.stored_px([at[0] + u * size[0], at[1] + v * size[1]], 0.0))
        };
        let grey = self.grey();
        let regions: Vec<_> = self
            .patches
            .iter()
            .flat_map(|patch| {
                halves(layout.masked, patch.at, patch.size)
                    .into_iter()
                    .map(move |it| (patch, it))
            })
            .collect();
        let patches = regions
            .par_iter()
            .map(|(patch, (half, which, at, size))| {
                let (lab, camera_lab) =
                    self.colours(&patch.materials[*which], *at, *size, grey.as_ref());
                PatchTruth {
                    id: patch.id.clone(),
                    half: *half,
                    lab,
                    camera_lab,
                    quad: quad(*at, *size),
                    clipped: 0.0,
                }
            })
            .collect();
        let cards = self.cards.iter().map(|it| card_truth(it, &view)).collect();
        Truth {
            size,
            grid: quad([0.0, 0.0], layout.extent()),
            board: quad([-layout.first[0], -layout.first[1]], layout.board),
            patches,
            cards,
            trouble: self.spec.trouble,
            spec: self.spec.clone(),
        }
    }

    /// Adaptation from what the camera makes of the first card's grey to the grey's true XYZ.
    fn grey(&self) -> Option<Matrix3<f64>> {
        let card = self.cards.first()?;
        let zone = match card.placed.kind {
            CardKind::Grey18 => 0,
            CardKind::WhiteGreyBlack => 1,
            CardKind::Chart24 => 21,
        };
        let seen = self.file_xyz(&card.spectra[zone]);
        let cones = matrix(BRADFORD);
        let gains = (cones * xyz_d50(&card.spectra[zone])).component_div(&(cones * seen));
        Some(cones.try_inverse()? * Matrix3::from_diagonal(&gains) * cones)
    }

    /// XYZ (D50) in the file of a flat reflectance in the middle of the grid, before any tone curve.
    fn file_xyz(&self, reflectance: &Spectrum) -> Vector3<f64> {
        let share = self.spec.second.as_ref().map_or(0.0, |it| it.1);
        let rgb = balanced(reflectance, &self.weights[0]) * (1.0 - share)
            + balanced(reflectance, &self.weights[1]) * share;
        self.matrix * rgb.component_mul(&Vector3::from(self.spec.camera.balance_error))
    }

    /// True Lab and the perfect pipeline's, as means over the inner 80 % of a region.
    fn colours(
        &self,
        material: &Material,
        at: Xy,
        size: Xy,
        grey: Option<&Matrix3<f64>>,
    ) -> (Lab, Lab) {
        let parts = [&material.base, &material.mottle, &material.grain];
        let xyz = parts.map(xyz_d50);
        let seen =
            parts.map(|it| grey.map_or_else(|| xyz_d50(it), |grey| grey * self.file_xyz(it)));
        let texture = Texture::new(self);
        let (mut sum, mut sum_seen) = (Vector3::zeros(), Vector3::zeros());
        // Roberts's R2 sequence: every point has its own row and column. On a square grid whole rows would fall on one
        // line of the grain.
        let (mut u, mut v) = (0.5, 0.5);
        for _ in 0..SAMPLES {
            u = (u + 0.754_877_666_246_692_8) % 1.0;
            v = (v + 0.569_840_290_998_053_2) % 1.0;
            let x = at[0] + size[0] * (0.1 + 0.8 * u);
            let y = at[1] + size[1] * (0.1 + 0.8 * v);
            let (m, g) = texture.at(single(x), single(y));
            let (m, g) = (f64::from(m), f64::from(g));
            let join =
                |it: &[Vector3<f64>; 3]| Vector3::from(lab(&(it[0] + it[1] * m + it[2] * g)));
            sum += join(&xyz);
            sum_seen += join(&seen);
        }
        let count = as_f64(SAMPLES);
        ((sum / count).into(), (sum_seen / count).into())
    }

    /// White of the truth's own sums, for those who compare.
    #[must_use]
    pub fn white() -> [f64; 3] {
        d50_white().into()
    }
}

/// The parts of a patch: which material, where.
pub(crate) fn halves(masked: Option<Side>, [x, y]: Xy, [w, h]: Xy) -> Vec<(Half, usize, Xy, Xy)> {
    let (m, e) = (Half::Masked, Half::Exposed);
    match masked {
        None => vec![(Half::Whole, 0, [x, y], [w, h])],
        Some(Side::Left) => vec![
            (m, 0, [x, y], [w / 2.0, h]),
            (e, 1, [x + w / 2.0, y], [w / 2.0, h]),
        ],
        Some(Side::Right) => vec![
            (m, 0, [x + w / 2.0, y], [w / 2.0, h]),
            (e, 1, [x, y], [w / 2.0, h]),
        ],
        Some(Side::Top) => vec![
            (m, 0, [x, y], [w, h / 2.0]),
            (e, 1, [x, y + h / 2.0], [w, h / 2.0]),
        ],
        Some(Side::Bottom) => vec![
            (m, 0, [x, y + h / 2.0], [w, h / 2.0]),
            (e, 1, [x, y], [w, h / 2.0]),
        ],
    }
}

fn card_truth(card: &CardSeen, view: &View) -> CardTruth {
    let shape = card.placed.kind.shape();
    let px = |at: Xy| view.stored_px(card.placed.to_panel(at), card.placed.height);
    let quad = |[x, y]: Xy, [w, h]: Xy| {
        [
            px([x, y]),
            px([x + w, y]),
            px([x + w, y + h]),
            px([x, y + h]),
        ]
    };
    let zones = card
        .spectra
        .iter()
        .enumerate()
        .map(|(i, spectrum)| {
            let (row, column) = (i / shape.columns, i % shape.columns);
            let at = [
                shape.first[0] + shape.pitch[0] * as_f64(column),
                shape.first[1] + shape.pitch[1] * as_f64(row),
            ];
            ZoneTruth {
                at: crate::layout::cell_name(row, column),
                lab: lab(&xyz_d50(spectrum)),
                quad: quad(at, shape.patch),
            }
        })
        .collect();
    CardTruth {
        kind: card.placed.kind,
        corners: quad([0.0, 0.0], shape.outer),
        zones,
    }
}
