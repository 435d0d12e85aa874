//! Drawing scenes: what is likely in each mixture.
//!
//! Each group of factors has its own stream of draws, so a change in one does not move the others.

mod camera;
mod light;
mod panel;

use crate::light::Split;
use crate::paint::Substrate;
use crate::random::{between, chance, log_between, normal, pick, stream, weighted};
use crate::scene::Scene;
use crate::spec::{Field, Mixture, SceneSpec, ToneStrength, Trouble};
use camera::{camera, exif, pose};
use light::{highlights, lights, shadow};
use panel::layout;
pub(crate) use panel::{clutter, table};
use rand::Rng;

impl Scene {
    /// A scene of the ordinary mixture, test cameras and lights.
    #[must_use]
    pub fn ordinary(seed: u64) -> Self {
        SceneSpec::draw(Mixture::Ordinary, Split::Test, seed).build()
    }

    /// A scene of the hard mixture, test cameras and lights.
    #[must_use]
    pub fn hard(seed: u64) -> Self {
        SceneSpec::draw(Mixture::Hard, Split::Test, seed).build()
    }

    /// A scene without flaws, test cameras and lights.
    #[must_use]
    pub fn flawless(seed: u64) -> Self {
        SceneSpec::draw(Mixture::Flawless, Split::Test, seed).build()
    }
}

impl SceneSpec {
    /// Draws every factor. The same arguments always give the same scene.
    #[must_use]
    pub fn draw(mixture: Mixture, split: Split, seed: u64) -> Self {
        Self::draw_with(mixture, split, seed, Trouble::None)
    }

    /// Draws a scene that has something wrong on purpose.
    #[must_use]
    pub fn troubled(trouble: Trouble, split: Split, seed: u64) -> Self {
        Self::draw_with(Mixture::Ordinary, split, seed, trouble)
    }

    fn draw_with(mixture: Mixture, split: Split, seed: u64, trouble: Trouble) -> Self {
        let hard = mixture == Mixture::Hard;
        let flawless = mixture == Mixture::Flawless;
        let mut rng = stream(seed, 1);
        let substrate = if hard {
            pick(&mut rng, &Substrate::ALL)
        } else {
            Substrate::ALL[weighted(&mut rng, &[0.35, 0.2, 0.12, 0.18, 0.1, 0.05])]
        };
        let (layout, turn) = layout(seed, hard, trouble, substrate);
        let thickness = if flawless {
            0.0
        } else {
            between(&mut rng, 0.0, 18.0)
        };
        let mut layout = layout;
        for card in &mut layout.cards {
            card.height = if flawless || chance(&mut rng, 0.5) {
                0.0
            } else {
                1.5 - thickness
            };
        }
        let (light_kind, light, second) = lights(seed, mixture, split);
        let extent = layout.extent();
        let half = f64::max(extent[0], extent[1]) / 2.0;
        let mut rng = stream(seed, 2);
        let field = if flawless {
            Field::default()
        } else {
            light::field(&mut rng, hard, half, extent)
        };
        let second =
            second.map(|(light, share)| (light, share, light::field(&mut rng, true, half, extent)));
        let shadows = if hard && chance(&mut rng, 0.35) {
            vec![shadow(&mut rng, extent)]
        } else {
            Vec::new()
        };
        let highlights = highlights(&mut rng, mixture, extent);
        let mut rng = stream(seed, 3);
        let tone_strength = match mixture {
            Mixture::Flawless => ToneStrength::None,
            _ => [ToneStrength::None, ToneStrength::Mild, ToneStrength::Strong]
                [weighted(&mut rng, &[0.2, 0.5, 0.3])],
        };
        let camera = camera(&mut rng, mixture, split, tone_strength);
        let mut rng = stream(seed, 4);
        let stored_as = if chance(&mut rng, 0.8) {
            pick(&mut rng, &[1, 6, 3, 8])
        } else {
            pick(&mut rng, &[2, 4, 5, 7])
        };
        // A wrong tag on mirrored pixels would leave the picture mirrored, which has to be refused.
        let plain = matches!(stored_as, 1 | 3 | 6 | 8);
        let wrong = plain && !layout.upright && chance(&mut rng, if hard { 0.3 } else { 0.1 });
        let tag = if wrong {
            Some(pick(&mut rng, &[1, 3, 6, 8]))
        } else {
            Some(stored_as)
        };
        let (table, table_seed) = table(seed, mixture, &layout, substrate);
        let pose = pose(&mut rng, mixture, turn);
        Self {
            mixture,
            split,
            panel_seed: seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x51,
            shot_seed: seed ^ 0x5eed_0000,
            clutter: clutter(seed, mixture, &layout),
            exposure: if layout.masked.is_some() {
                log_between(&mut rng, 0.05, 1.0)
            } else {
                0.0
            },
            ageing: None,
            layout,
            trouble,
            substrate,
            thickness,
            grain: if hard {
                between(&mut rng, 0.5, 1.2)
            } else {
                between(&mut rng, 0.3, 0.8)
            },
            grain_angle: pick(&mut rng, &[0.0, 90.0]) + normal(&mut rng, 2.0),
            mottle: log_between(&mut rng, 0.003, if hard { 0.04 } else { 0.02 }),
            wobble: if flawless {
                0.0
            } else {
                between(&mut rng, 0.0, 0.6)
            },
            half_difference: if flawless { 0.0 } else { 0.05 },
            card_deviation: 0.0,
            table,
            table_seed,
            light_kind,
            light,
            field,
            second,
            shadows,
            highlights,
            pose,
            stored_as,
            tag,
            portrait: chance(&mut rng, 0.4),
            camera,
            tone_strength,
            exif: exif(&mut rng, light_kind),
        }
    }

    /// The same panel in the same set-up, shot once more by hand: new noise, and a pose that differs a little.
    #[must_use]
    pub fn reshoot(&self, shot: u64) -> Self {
        let mut rng = stream(
            self.shot_seed ^ shot.wrapping_mul(0x2545_f491_4f6c_dd1d),
            21,
        );
        let mut next = self.clone();
        next.shot_seed = rng.random();
        next.pose.turn += normal(&mut rng, 0.7);
        next.pose.tilt = (next.pose.tilt + normal(&mut rng, 0.6)).clamp(0.0, 30.0);
        next.pose.fill = (next.pose.fill * (1.0 + normal(&mut rng, 0.015))).clamp(0.25, 0.93);
        next.pose.shift = next
            .pose
            .shift
            .map(|it| (it + normal(&mut rng, 0.08)).clamp(-0.8, 0.8));
        next
    }

    /// The same panel with the same cards at another time: another light, phone, pose and place of the cards' jitter.
    #[must_use]
    pub fn elsewhere(&self, seed: u64) -> Self {
        let other = Self::draw(self.mixture, self.split, seed);
        let mut rng = stream(seed, 22);
        let turn = if self.layout.upright {
            0.0
        } else {
            pick(&mut rng, &[0.0, 90.0, 180.0, 270.0])
        };
        let jitter = other.pose.turn - (other.pose.turn / 90.0).round() * 90.0;
        let mut next = Self {
            panel_seed: self.panel_seed,
            layout: self.layout.clone(),
            substrate: self.substrate,
            thickness: self.thickness,
            grain: self.grain,
            grain_angle: self.grain_angle,
            mottle: self.mottle,
            wobble: self.wobble,
            half_difference: self.half_difference,
            exposure: self.exposure,
            ageing: self.ageing.clone(),
            card_deviation: self.card_deviation,
            trouble: self.trouble,
            ..other
        };
        next.pose.turn = turn + jitter;
        if self.layout.upright {
            next.tag = Some(next.stored_as);
        }
        for card in &mut next.layout.cards {
            card.centre = card.centre.map(|it| it + normal(&mut rng, 1.5));
            card.angle += normal(&mut rng, 1.0);
        }
        (next.table, next.table_seed) = table(seed, next.mixture, &next.layout, next.substrate);
        next.clutter = clutter(seed, next.mixture, &next.layout);
        next
    }
}
