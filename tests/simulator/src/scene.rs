//! A scene ready to be rendered: every surface as the camera sees it and as it is.
//!
//! A surface's reflectance is `base + m·mottle + g·grain` with noise values m and g at each place, so camera RGB and XYZ are
//! linear in m and g as well: spectra are integrated once a surface, pixels only combine three vectors for each light.

use crate::camera::{WEAKNESS, balanced_weights, fit_matrix};
use crate::coat::aged_substrate;
use crate::layout::{Layout, Xy};
use crate::spec::{SceneSpec, Trouble};
use crate::spectrum::Spectrum;
use crate::surface::{CardSeen, Eye, Item, Material, PatchSeen, Seen, card, item, patches, table};
use crate::texture::fold;
use crate::view::View;
use nalgebra::{Matrix3, Vector3};

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

impl SceneSpec {
    /// What the camera balances for: the mean of the lights.
    pub(crate) fn mean_light(&self) -> Spectrum {
        let light = self.light.spectrum();
        self.second.as_ref().map_or(light, |(other, share, _)| {
            light.lerp(&other.spectrum(), *share)
        })
    }

    /// Integrates every surface.
    #[must_use]
    pub fn build(&self) -> Scene {
        let sensitivities = self.camera.id.sensitivities();
        let light = self.light.spectrum();
        let second = self.second.as_ref().map(|it| it.0.spectrum());
        let mean = self.mean_light();
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
        let weathered = self
            .ageing
            .as_ref()
            .map_or([0.0, self.exposure], |it| it.substrate);
        Scene {
            spec: self.clone(),
            patches,
            cells,
            substrate: weathered.map(|it| see.see(&aged_substrate(&wood, self.substrate, it))),
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
            raw_gains: [0, 1, 2].map(|c| (green / white[c]).max(0.2) * WEAKNESS[c]),
            weights,
        }
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
}
