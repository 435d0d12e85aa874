//! CIE colorimetry of the truth: XYZ, Lab, chromatic adaptation, ΔE00. Independent of the measuring code.

use crate::spectrum::{Spectrum, illuminant, observer};
use nalgebra::{Matrix3, Vector3};
use std::sync::LazyLock;

/// CIELAB D50/2°: L*, a*, b*.
pub type Lab = [f64; 3];

/// XYZ of the perfect white under D50, Y = 1, by the same sums as every truth here.
#[must_use]
pub fn d50_white() -> Vector3<f64> {
    D50.1
}

static D50: LazyLock<([Spectrum; 3], Vector3<f64>)> = LazyLock::new(|| {
    let light = illuminant("D50").expect("in the table");
    let weights = weights(&light);
    let white = Vector3::from(weights.map(|it| it.0.iter().sum::<f64>()));
    (weights, white)
});

/// Observer times light, scaled to Y = 1 for the perfect white (CIE 15, sums at 5 nm over 380–730 nm).
pub(crate) fn weights(light: &Spectrum) -> [Spectrum; 3] {
    let [x, y, z] = observer();
    let scale = 1.0 / y.dot(light);
    [x, y, z].map(|it| it.times(light).map(|value| value * scale))
}

/// XYZ of a surface under a light, Y = 1 for the perfect white.
#[must_use]
pub fn xyz_under(reflectance: &Spectrum, light: &Spectrum) -> Vector3<f64> {
    Vector3::from(weights(light).map(|it| it.dot(reflectance)))
}

/// XYZ under D50, Y = 1 for the perfect white.
#[must_use]
pub fn xyz_d50(reflectance: &Spectrum) -> Vector3<f64> {
    Vector3::from(D50.0.map(|it| it.dot(reflectance)))
}

/// CIELAB of XYZ against the D50 white of [`d50_white`] (CIE 15).
#[must_use]
pub fn lab(xyz: &Vector3<f64>) -> Lab {
    let white = d50_white();
    let f = |i: usize| {
        let t: f64 = xyz[i] / white[i];
        if t > 216.0 / 24389.0 {
            t.cbrt()
        } else {
            (24389.0 / 27.0 * t + 16.0) / 116.0
        }
    };
    [
        116.0 * f(1) - 16.0,
        500.0 * (f(0) - f(1)),
        200.0 * (f(1) - f(2)),
    ]
}

/// CIELAB D50/2° of a reflectance.
#[must_use]
pub fn lab_of(reflectance: &Spectrum) -> Lab {
    lab(&xyz_d50(reflectance))
}

/// The Bradford cone matrix.
pub(crate) const BRADFORD: [[f64; 3]; 3] = [
    [0.8951, 0.2664, -0.1614],
    [-0.7502, 1.7135, 0.0367],
    [0.0389, -0.0685, 1.0296],
];

/// A matrix from rows.
pub(crate) fn matrix(rows: [[f64; 3]; 3]) -> Matrix3<f64> {
    Matrix3::from_fn(|r, c| rows[r][c])
}

/// Linear Bradford adaptation that carries one XYZ to another, and every colour with it.
///
/// # Panics
///
/// Never: the cone matrix is constant and has an inverse.
#[must_use]
pub fn adapt(from: &Vector3<f64>, to: &Vector3<f64>) -> Matrix3<f64> {
    let cones = matrix(BRADFORD);
    let gains = (cones * to).component_div(&(cones * from));
    cones.try_inverse().expect("Bradford has an inverse") * Matrix3::from_diagonal(&gains) * cones
}

/// CIEDE2000 (Sharma, Wu, Dalal 2005).
#[must_use]
pub fn ciede2000(one: Lab, two: Lab) -> f64 {
    let chroma = |it: Lab| it[1].hypot(it[2]);
    let pow7 = |c: f64| (c.powi(7) / (c.powi(7) + 25f64.powi(7))).sqrt();
    let g = 0.5 * (1.0 - pow7(f64::midpoint(chroma(one), chroma(two))));
    let polar = |it: Lab| {
        let a = it[1] * (1.0 + g);
        let hue = if a == 0.0 && it[2] == 0.0 {
            0.0
        } else {
            it[2].atan2(a).to_degrees().rem_euclid(360.0)
        };
        (a.hypot(it[2]), hue)
    };
    let ((c1, h1), (c2, h2)) = (polar(one), polar(two));
    let grey = c1 * c2 == 0.0;
    let dh = match h2 - h1 {
        _ if grey => 0.0,
        d if d > 180.0 => d - 360.0,
        d if d < -180.0 => d + 360.0,
        d => d,
    };
    let h = match h1 + h2 {
        s if grey => s,
        s if (h1 - h2).abs() <= 180.0 => s / 2.0,
        s if s < 360.0 => (s + 360.0) / 2.0,
        s => (s - 360.0) / 2.0,
    };
    let (l, c) = (f64::midpoint(one[0], two[0]), f64::midpoint(c1, c2));
    let cos = |degrees: f64| degrees.to_radians().cos();
    let t = 1.0 - 0.17 * cos(h - 30.0) + 0.24 * cos(2.0 * h) + 0.32 * cos(3.0 * h + 6.0)
        - 0.20 * cos(4.0 * h - 63.0);
    let l50 = (l - 50.0).powi(2);
    let (sl, sc, sh) = (
        1.0 + 0.015 * l50 / (20.0 + l50).sqrt(),
        1.0 + 0.045 * c,
        1.0 + 0.015 * c * t,
    );
    let turn = 30.0 * (-((h - 275.0) / 25.0).powi(2)).exp();
    let rt = -(2.0 * turn).to_radians().sin() * 2.0 * pow7(c);
    let dl = (two[0] - one[0]) / sl;
    let dc = (c2 - c1) / sc;
    let dhh = 2.0 * (c1 * c2).sqrt() * (dh / 2.0).to_radians().sin() / sh;
    (dl * dl + dc * dc + dhh * dhh + rt * dc * dhh)
        .max(0.0)
        .sqrt()
}
