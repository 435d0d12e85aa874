//! Whether a shadow's edge crosses the known colours: those beyond a line get less light than the rest, as no other chart would show.

use super::error::CorrectError;
use super::map::{Sighting, gains};
use super::scene::Scene;
use crate::sample::float;

/// Directions that are tried over half a turn.
const DIRECTIONS: u8 = 36;
/// Fewest colours on either side.
const LEAST: usize = 4;
/// Share of the variance of the log light that a line must leave at most. Of 2,000 charts whose 24 lightnesses were in another order none left
/// less than 0.46; half a chart in two thirds of the light, its hues off by a sixth at most, leaves about 0.2.
const LEFT: f64 = 0.25;
/// Least step in log light: a quarter less.
const STEP: f64 = 0.29;

/// Mean leave-one-out ΔE00 from which a shadow is looked for: half of what is taken for other colours than stated, a choice. A shadow on few
/// colours, or a faint one, leaves less; nothing says so then but what the fit leaves of each.
const SUSPICIOUS: f64 = 4.5;

/// That no shadow's edge parts the known colours, where they fit as badly as `left_out` says: readings would be relative to the light on one
/// side of it, and nothing says which side the board is on.
pub(super) fn check(
    left_out: f64,
    scene: &Scene<'_>,
    sightings: &[Sighting],
) -> Result<(), CorrectError> {
    if left_out <= SUSPICIOUS {
        return Ok(());
    }
    let lit = log_light(scene, sightings);
    let Some(dark) = beyond_line(&lit) else {
        return Ok(());
    };
    let level = |shaded: bool| {
        let of_side = lit.iter().zip(&dark).filter(|it| *it.1 == shaded);
        let values: Vec<f64> = of_side.map(|it| it.0.1).collect();
        values.iter().sum::<f64>() / float(values.len().max(1))
    };
    let less = 1.0 - (level(true) - level(false)).exp();
    let names = (scene.references().iter().zip(&dark)).filter(|it| *it.1);
    let shaded: Vec<String> = names.map(|it| it.0.reference.name.clone()).collect();
    Err(CorrectError::Shadowed {
        shaded,
        of: lit.len(),
        less,
    })
}

/// Places of the references, panel millimetres, and the log of the light that each seems to get, up to a constant.
fn log_light(scene: &Scene<'_>, sightings: &[Sighting]) -> Vec<([f64; 2], f64)> {
    let gains = gains(sightings.iter()).unwrap_or([1.0; 3]);
    let luminance: [f64; 3] = scene.to_xyz.row(1).transpose().into();
    let of = |sighting: &Sighting| {
        let sum = |value: &dyn Fn(usize) -> f64| {
            let y: f64 = (0..3).map(|c| luminance[c] * value(c)).sum();
            y.max(1e-4)
        };
        let seen = sum(&|c| sighting.rgb[c] * gains[c]);
        let stated = sum(&|c| sighting.stated[c]);
        (seen / stated).ln()
    };
    let light = sightings.iter().map(of);
    scene.places().into_iter().zip(light).collect()
}

/// Which of them lie on the darker side of the line that parts them best; none where no line parts light from dark.
fn beyond_line(lit: &[([f64; 2], f64)]) -> Option<Vec<bool>> {
    let n = lit.len();
    let within = |side: &[usize]| {
        let mean = side.iter().map(|i| lit[*i].1).sum::<f64>() / float(side.len());
        let squares: f64 = side.iter().map(|i| (lit[*i].1 - mean).powi(2)).sum();
        (mean, squares)
    };
    let all: Vec<usize> = (0..n).collect();
    let (_, total) = within(&all);
    let mut best: Option<(f64, Vec<usize>)> = None;
    for k in 0..DIRECTIONS {
        let (sin, cos) = (std::f64::consts::PI * f64::from(k) / f64::from(DIRECTIONS)).sin_cos();
        let along = |i: &usize| cos * lit[*i].0[0] + sin * lit[*i].0[1];
        let mut order = all.clone();
        order.sort_by(|a, b| along(a).total_cmp(&along(b)));
        for at in LEAST..=n.saturating_sub(LEAST) {
            let (before, after) = order.split_at(at);
            let ((a, below), (b, above)) = (within(before), within(after));
            let left = below + above;
            let dark = if a < b { before } else { after };
            if (a - b).abs() > STEP
                && left < LEFT * total
                && best.as_ref().is_none_or(|it| left < it.0)
            {
                best = Some((left, dark.to_vec()));
            }
        }
    }
    let (_, dark) = best?;
    Some((0..n).map(|i| dark.contains(&i)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::{RngCore, SeedableRng};

    /// Six by four colours 40 mm apart, each off by up to a sixth by its own hue.
    fn chart(light: impl Fn([f64; 2]) -> f64) -> Vec<([f64; 2], f64)> {
        let places = (0..24_u8).map(|i| [40.0 * f64::from(i % 6), 40.0 * f64::from(i / 6)]);
        let hue = |i: usize| f64::from(u8::try_from(i * 37 % 11).unwrap()) / 33.0 - 0.15;
        (places.enumerate())
            .map(|(i, mm)| (mm, light(mm) + hue(i)))
            .collect()
    }

    #[test]
    fn a_shadow_over_a_corner_is_told_from_other_colours() {
        let shade = |mm: [f64; 2]| {
            if mm[0] + 0.4 * mm[1] > 130.0 {
                -0.7
            } else {
                0.0
            }
        };
        let lit = chart(shade);
        let dark = beyond_line(&lit).unwrap();
        for (it, dark) in lit.iter().zip(&dark) {
            assert_eq!(*dark, shade(it.0) < 0.0, "{:?}", it.0);
        }
        // Even light, and light that is a tenth off beyond the line.
        assert!(beyond_line(&chart(|_| 0.0)).is_none());
        assert!(beyond_line(&chart(|mm| 0.15 * shade(mm))).is_none());
    }

    #[test]
    fn colours_in_another_order_are_no_shadow() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        // Log luminances of lightness 20 to 96, over those that are stated.
        let stated: Vec<f64> = (0..24_u8)
            .map(|i| 3.0 * ((f64::from(i) * 3.3 + 36.0) / 116.0).ln())
            .collect();
        for _ in 0..200 {
            let mut seen = stated.clone();
            for i in (1..seen.len()).rev() {
                let other = rng.next_u32() as usize % (i + 1);
                seen.swap(i, other);
            }
            let mut off = seen.iter().zip(&stated).map(|it| it.0 - it.1);
            let lit: Vec<_> = (chart(|_| 0.0).into_iter())
                .map(|(mm, hue)| (mm, hue + off.next().unwrap()))
                .collect();
            assert!(beyond_line(&lit).is_none(), "{lit:?}");
        }
    }
}
