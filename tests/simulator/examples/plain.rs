//! How far off the plain method is over a mixture, and a perfect pipeline: `plain ordinary|hard|flawless COUNT`.
//!
//! The plain method knows the true corners: inverse sRGB transfer, one gain a channel from the card's grey, XYZ to Lab, median.
//! A check that the mixture is neither tame nor absurd; nothing is tuned with it.

use masstone_simulator::{
    LightKind, Mixture, Pixels, Quad, Rendered, SceneSpec, Split, ToneStrength, ciede2000,
    d50_white, decode, lab,
};
use nalgebra::{Matrix3, Vector3};
use std::collections::BTreeMap;
use std::io::Write;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [mixture, count] = args.as_slice() else {
        return Err("plain ordinary|hard|flawless COUNT".into());
    };
    let mixture = match mixture.as_str() {
        "hard" => Mixture::Hard,
        "flawless" => Mixture::Flawless,
        _ => Mixture::Ordinary,
    };
    let mut by_tone: BTreeMap<ToneStrength, Vec<f64>> = BTreeMap::new();
    let mut by_light: BTreeMap<LightKind, Vec<f64>> = BTreeMap::new();
    let (mut plain, mut perfect, mut clipped) = (Vec::new(), Vec::new(), 0);
    for seed in 0..count.parse()? {
        let spec = SceneSpec::draw(mixture, Split::Study, seed);
        let scene = spec.build();
        let [w, h] = scene.stored_size(1200);
        let picture = scene.render(w, h);
        let Some(card) = picture.truth.cards.first() else {
            continue;
        };
        let neutral = card
            .zones
            .iter()
            .filter(|it| it.lab[1].hypot(it.lab[2]) < 2.0);
        let Some(zone) =
            neutral.min_by(|a, b| (a.lab[0] - 49.5).abs().total_cmp(&(b.lab[0] - 49.5).abs()))
        else {
            continue;
        };
        let grey = median(&picture, &zone.quad);
        let grey_y = ((zone.lab[0] + 16.0) / 116.0).powi(3);
        for patch in &picture.truth.patches {
            if patch.clipped > 0.05 {
                clipped += 1;
                continue;
            }
            let rgb = median(&picture, &patch.quad).component_div(&grey) * grey_y;
            let off = ciede2000(lab(&(srgb_d50() * rgb)), patch.lab);
            plain.push(off);
            by_tone.entry(spec.tone_strength).or_default().push(off);
            by_light.entry(spec.light_kind).or_default().push(off);
            perfect.push(ciede2000(patch.camera_lab, patch.lab));
        }
    }
    let mut out = std::io::stdout();
    writeln!(out, "{} regions, {clipped} more clipped", plain.len())?;
    writeln!(
        out,
        "plain {}, perfect pipeline {}",
        summary(&mut plain),
        summary(&mut perfect)
    )?;
    for (tone, mut values) in by_tone {
        writeln!(out, "  tone {tone:?}: {}", summary(&mut values))?;
    }
    for (light, mut values) in by_light {
        writeln!(out, "  light {light:?}: {}", summary(&mut values))?;
    }
    Ok(())
}

/// Linear sRGB to XYZ under the white of the truth, neutral to neutral.
fn srgb_d50() -> Matrix3<f64> {
    let rows = Matrix3::new(
        0.4360747, 0.3850649, 0.1430804, 0.2225045, 0.7168786, 0.0606169, 0.0139322, 0.0971045,
        0.7141733,
    );
    let white = rows * Vector3::repeat(1.0);
    Matrix3::from_diagonal(&d50_white().component_div(&white)) * rows
}

/// Median of linear values over the inner 70 %.
fn median(picture: &Rendered, quad: &Quad) -> Vector3<f64> {
    let mut values: [Vec<f64>; 3] = [Vec::new(), Vec::new(), Vec::new()];
    let Pixels::U8(codes) = &picture.pixels else {
        return Vector3::zeros();
    };
    for i in 0..24 * 24 {
        let inner = |k: i32| 0.15 + 0.7 * (f64::from(k) + 0.5) / 24.0;
        let (u, v) = (inner(i % 24), inner(i / 24));
        let [x, y] = [0, 1].map(|k| {
            let top = quad[0][k] * (1.0 - u) + quad[1][k] * u;
            let low = quad[3][k] * (1.0 - u) + quad[2][k] * u;
            whole(top * (1.0 - v) + low * v)
        });
        let index = (y * picture.width as usize + x) * 3;
        for (c, list) in values.iter_mut().enumerate() {
            list.push(decode(f64::from(codes[index + c]) / 255.0));
        }
    }
    Vector3::from(values.map(|mut it| {
        it.sort_by(f64::total_cmp);
        it[it.len() / 2]
    }))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "within the picture"
)]
fn whole(coordinate: f64) -> usize {
    coordinate as usize
}

#[expect(clippy::cast_precision_loss, reason = "some thousand regions")]
fn summary(values: &mut [f64]) -> String {
    values.sort_by(f64::total_cmp);
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    format!(
        "mean {mean:.2}, 95th percentile {:.2}",
        values[values.len() * 95 / 100]
    )
}
