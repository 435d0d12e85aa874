//! Shadow edges that cross the board: where the substrate beside a patch is lit otherwise than the field says.
//!
//! A polynomial follows no edge. The robust fit holds on to the light of most of the board; what lies in the shade of something is then
//! read too dark. The substrate around a patch tells, patch by patch.

use super::light::{LightField, Look, Surface};
use super::robust;
use super::tone::ToneCurve;

/// What the substrate shows beyond the field.
pub(super) struct Shadows {
    /// Place in panel millimetres, and log light beyond the field.
    beyond: Vec<([f64; 2], f64)>,
    /// Of it, what the references have: readings are relative to them.
    references: f64,
    /// Spread between stretches, log light.
    grain: f64,
}

/// The second largest of four normal sizes is about one standard deviation; the references' median adds to it.
const USUAL: f64 = 1.2;
/// How many stretches around a place are asked.
const NEIGHBOURS: usize = 4;
/// Least step in log light that is called a shadow's: 15 %.
const LEAST_STEP: f64 = 0.15;
/// The same, as a multiple of the spread between stretches.
const BEYOND_GRAIN: f64 = 3.0;

impl Shadows {
    pub(super) fn of(
        looks: &[Look],
        tone: &ToneCurve,
        light: &LightField,
        references: &[[f64; 2]],
    ) -> Self {
        let of = |surface: Surface| -> Vec<([f64; 2], f64)> {
            let own = looks.iter().filter(|it| it.surface() == surface);
            own.map(|it| (it.mm(), it.beyond(tone, light))).collect()
        };
        let (mut beyond, sheltered) = (of(Surface::Substrate), of(Surface::Sheltered));
        let level = |all: &[([f64; 2], f64)]| {
            robust::median(&mut all.iter().map(|it| it.1).collect::<Vec<f64>>())
        };
        // What the sun did to the rest of the board is no shadow.
        let aged = if beyond.is_empty() {
            0.0
        } else {
            level(&sheltered) - level(&beyond)
        };
        beyond.extend(sheltered.into_iter().map(|(mm, it)| (mm, it - aged)));
        let mut shadows = Self {
            beyond,
            references: 0.0,
            grain: light.residual,
        };
        let mut around: Vec<f64> = references
            .iter()
            .flat_map(|it| shadows.around(*it))
            .collect();
        shadows.references = robust::median(&mut around);
        shadows
    }

    /// What the stretches nearest to a place have, in order.
    fn around(&self, mm: [f64; 2]) -> Vec<f64> {
        let away = |it: &([f64; 2], f64)| (it.0[0] - mm[0]).hypot(it.0[1] - mm[1]);
        let mut near: Vec<(f64, f64)> = self.beyond.iter().map(|it| (away(it), it.1)).collect();
        near.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut steps: Vec<f64> = near.into_iter().take(NEIGHBOURS).map(|it| it.1).collect();
        steps.sort_by(f64::total_cmp);
        steps
    }

    /// Standard deviation of log light by which the field may be off around a place, beyond what grain does, and whether that is as
    /// much as a shadow's edge leaves.
    pub(super) fn doubt(&self, mm: [f64; 2]) -> (f64, bool) {
        if self.beyond.len() < NEIGHBOURS {
            return (0.0, false);
        }
        // The second largest: beside an edge stretches lie on either side, and which side the place itself is on is not known; one
        // stretch alone may be dirt.
        let mut steps: Vec<f64> = self
            .around(mm)
            .into_iter()
            .map(|it| (it - self.references).abs())
            .collect();
        steps.sort_by(f64::total_cmp);
        let step = steps[steps.len() - 2];
        // What grain alone makes of that: the spread, and the references' part of it.
        let usual = USUAL * self.grain;
        let doubt = (step * step - usual * usual).max(0.0).sqrt();
        (doubt, step > LEAST_STEP.max(BEYOND_GRAIN * self.grain))
    }
}
