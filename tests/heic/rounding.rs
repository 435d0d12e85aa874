//! What it costs to store an 8-bit file's colours in 8 bits a channel, beside what its own codes have lost already.

use masstone::colour::srgb::{RgbSpace, decode};
use masstone::colour::{Lab, Xyz, difference};
use nalgebra::Vector3;
use palette::FromColor;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

fn lab(rgb: [f64; 3]) -> Lab {
    let linear = Vector3::from(rgb.map(|it| decode(it / 255.0)));
    let xyz = *RgbSpace::Srgb.linear_to_xyz_d50() * linear;
    Lab::from_color(Xyz::new(xyz.x, xyz.y, xyz.z))
}

/// BT.601 in full range (ITU-R BT.601-7, 2.5), codes to codes.
fn rgb([y, cb, cr]: [f64; 3]) -> [f64; 3] {
    let (cb, cr) = (cb - 128.0, cr - 128.0);
    let (red, blue) = (y + 1.402 * cr, y + 1.772 * cb);
    [red, (y - 0.299 * red - 0.114 * blue) / 0.587, blue]
}

#[test]
fn rounding_to_eight_bits_costs_less_than_the_codes_themselves() {
    let mut draws = ChaCha8Rng::seed_from_u64(14);
    let mut between = |low: f64, high: f64| {
        low + (high - low) * f64::from(draws.next_u32()) / f64::from(u32::MAX)
    };
    let (mut rounding, mut codes, mut both, mut count) = (0.0, 0.0, 0.0, 0.0);
    while count < 20_000.0 {
        let scene = [
            between(10.0, 245.0),
            between(96.0, 160.0),
            between(96.0, 160.0),
        ];
        let exact = rgb(scene.map(f64::round));
        let stored = exact.map(f64::round);
        if exact.iter().any(|it| !(2.0..253.0).contains(it)) {
            continue;
        }
        let [scene, exact, stored] = [rgb(scene), exact, stored].map(lab);
        rounding += difference::delta_e_2000(exact, stored);
        codes += difference::delta_e_2000(scene, exact);
        both += difference::delta_e_2000(scene, stored);
        count += 1.0;
    }
    let [rounding, codes, both] = [rounding, codes, both].map(|it| it / count);
    println!("mean ΔE00: by rounding {rounding:.2}, by the codes {codes:.2}, by both {both:.2}");
    assert!(rounding < 0.75 * codes && both < 1.25 * codes);
}
