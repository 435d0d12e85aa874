//! CIEDE2000 without angles.
//!
//! Intervals ask for millions of differences, and sines, arc tangents and powers were most of their cost. Hues are unit vectors here: their mean
//! is the direction of their sum, multiples of an angle are products, and an angle itself is taken near blue only, where the rotation asks for it.

use super::Lab;
use nalgebra::Vector3;
use std::ops::{Add, Mul, Sub};
use wide::f64x4;

/// 25⁷.
const KNEE: f64 = 6_103_515_625.0;
/// cos 130°: beyond that far from 275° the rotation is below 2·10⁻¹².
const FAR_FROM_BLUE: f64 = -0.642_787_609_686_539_4;
/// cos and sin of 275°.
const BLUE: [f64; 2] = [0.087_155_742_747_658_17, -0.996_194_698_091_745_5];
/// cos and sin of 30°, 6° and 63°.
const OF_30: [f64; 2] = [0.866_025_403_784_438_6, 0.5];
const OF_6: [f64; 2] = [0.994_521_895_368_273_3, 0.104_528_463_267_653_47];
const OF_63: [f64; 2] = [0.453_990_499_739_546_8, 0.891_006_524_188_367_9];
/// Sums of two unit vectors shorter than this have no direction: the hues lie opposite each other.
const OPPOSITE: f64 = 1e-9;

/// √(C⁷/(C⁷ + 25⁷)).
fn seventh(chroma: f64) -> f64 {
    let square = chroma * chroma;
    let power = square * square * square * chroma;
    if power.is_finite() {
        (power / (power + KNEE)).sqrt()
    } else {
        1.0
    }
}

/// Chroma and the direction of the hue; no direction for a neutral.
fn polar(a: f64, b: f64) -> (f64, [f64; 2]) {
    let chroma = (a * a + b * b).sqrt();
    if chroma > 0.0 {
        (chroma, [a / chroma, b / chroma])
    } else {
        (0.0, [0.0, 0.0])
    }
}

/// Whether the hue angle lies in 0°..180°.
fn is_first([a, b]: [f64; 2]) -> bool {
    b > 0.0 || (b == 0.0 && a > 0.0)
}

/// Direction of the mean hue, and twice the sine of half the angle from the first to the second.
fn between(one: [f64; 2], other: [f64; 2]) -> ([f64; 2], f64) {
    let sum = [one[0] + other[0], one[1] + other[1]];
    let (length, mean) = polar(sum[0], sum[1]);
    let apart = polar(one[0] - other[0], one[1] - other[1]).0;
    if length > OPPOSITE {
        let turned = one[0] * other[1] - one[1] * other[0];
        (mean, apart.copysign(turned))
    } else if apart > 0.0 {
        // Half-way from the lesser angle to the greater.
        let lesser = if is_first(one) { one } else { other };
        let sign = if is_first(one) { 1.0 } else { -1.0 };
        ([-lesser[1], lesser[0]], sign * apart)
    } else {
        ([1.0, 0.0], 0.0)
    }
}

/// T, by the direction of the mean hue: of one, or of four at once.
fn by_hue<T>(cos: T, sin: T) -> T
where
    T: Copy + Add<Output = T> + Sub<Output = T> + Mul<Output = T>,
    T: Add<f64, Output = T> + Sub<f64, Output = T> + Mul<f64, Output = T>,
{
    let (cos2, sin2) = (cos * cos * 2.0 - 1.0, sin * cos * 2.0);
    let (cos3, sin3) = (cos * cos2 - sin * sin2, sin * cos2 + cos * sin2);
    let (cos4, sin4) = (cos2 * cos2 * 2.0 - 1.0, sin2 * cos2 * 2.0);
    (cos * OF_30[0] + sin * OF_30[1]) * -0.17
        + 1.0
        + cos2 * 0.24
        + (cos3 * OF_6[0] - sin3 * OF_6[1]) * 0.32
        - (cos4 * OF_63[0] + sin4 * OF_63[1]) * 0.20
}

/// ΔE00 with kL = kC = kH = 1.
pub(super) fn delta_e(one: Lab, other: Lab) -> f64 {
    let chroma = |it: Lab| (it.a * it.a + it.b * it.b).sqrt();
    let stretch = 1.5 - 0.5 * seventh((chroma(one) + chroma(other)) / 2.0);
    let (chroma_one, hue_one) = polar(one.a * stretch, one.b);
    let (chroma_other, hue_other) = polar(other.a * stretch, other.b);
    let ([cos, sin], apart) = between(hue_one, hue_other);
    let product = chroma_one * chroma_other;
    let hue = if product > 0.0 {
        product.sqrt() * apart
    } else {
        0.0
    };
    let mean = (chroma_one + chroma_other) / 2.0;

    let t = by_hue(cos, sin);
    let l50 = f64::midpoint(one.l, other.l) - 50.0;
    let l50 = l50 * l50;
    let lightness = (other.l - one.l) / (1.0 + 0.015 * l50 / (20.0 + l50).sqrt());
    let chroma = (chroma_other - chroma_one) / (1.0 + 0.045 * mean);
    let hue = hue / (1.0 + 0.015 * mean * t);
    let turned = rotation(cos, sin) * seventh(mean) * chroma * hue;
    (lightness * lightness + chroma * chroma + hue * hue + turned)
        .max(0.0)
        .sqrt()
}

/// −2 sin 2Δθ, by the direction of the mean hue.
fn rotation(cos: f64, sin: f64) -> f64 {
    if cos * BLUE[0] + sin * BLUE[1] < FAR_FROM_BLUE {
        return 0.0;
    }
    let hue = sin.atan2(cos).to_degrees().rem_euclid(360.0);
    let away = (hue - 275.0) / 25.0;
    -2.0 * (2.0 * 30.0_f64.to_radians() * (-away * away).exp()).sin()
}

/// [`delta_e`] from one colour to each of those that lie so far from it, four at a time.
pub(super) fn delta_e_to_each(one: Lab, away: &[Vector3<f64>]) -> Vec<f64> {
    let mut out = Vec::with_capacity(away.len().next_multiple_of(4));
    for some in away.chunks(4) {
        // Lanes without a colour of their own repeat the last, and are dropped at the end.
        let at = |i: usize| some[i.min(some.len() - 1)];
        let [l, a, b] = [0, 1, 2].map(|k| f64x4::from([at(0)[k], at(1)[k], at(2)[k], at(3)[k]]));
        let [l, a, b] = [one.l + l, one.a + a, one.b + b];
        match four(one, [l, a, b]) {
            Some(all) => out.extend(all.to_array()),
            None => {
                let [l, a, b] = [l, a, b].map(f64x4::to_array);
                out.extend((0..4).map(|i| delta_e(one, Lab::new(l[i], a[i], b[i]))));
            }
        }
    }
    out.truncate(away.len());
    out
}

/// Four at once, by the same steps; none where the mean of two hues has no direction.
fn four(one: Lab, [l, a, b]: [f64x4; 3]) -> Option<f64x4> {
    let length = |a: f64x4, b: f64x4| (a * a + b * b).sqrt();
    let seventh = |chroma: f64x4| {
        let square = chroma * chroma;
        let power = square * square * square * chroma;
        let root = (power / (power + KNEE)).sqrt();
        power
            .simd_lt(f64x4::splat(f64::MAX))
            .bitselect(root, f64x4::ONE)
    };
    let polar = |a: f64x4, b: f64x4| {
        let chroma = length(a, b);
        let any = chroma.simd_gt(f64x4::ZERO);
        let per = any.bitselect(f64x4::ONE / chroma, f64x4::ZERO);
        (chroma, [a * per, b * per])
    };
    let [one_a, one_b] = [one.a, one.b].map(f64x4::splat);
    let stretch = 1.5 - 0.5 * seventh((length(one_a, one_b) + length(a, b)) / 2.0);
    let (chroma_one, hue_one) = polar(one_a * stretch, one_b);
    let (chroma_other, hue_other) = polar(a * stretch, b);
    let (sum, [cos, sin]) = polar(hue_one[0] + hue_other[0], hue_one[1] + hue_other[1]);
    if !sum.simd_gt(f64x4::splat(OPPOSITE)).all() {
        return None;
    }
    let turned = hue_one[0] * hue_other[1] - hue_one[1] * hue_other[0];
    let apart = length(hue_one[0] - hue_other[0], hue_one[1] - hue_other[1]);
    let apart = turned.simd_lt(f64x4::ZERO).bitselect(-apart, apart);
    let hue = (chroma_one * chroma_other).sqrt() * apart;
    let mean = (chroma_one + chroma_other) / 2.0;

    let t = by_hue(cos, sin);
    let l50 = (l + one.l) / 2.0 - 50.0;
    let l50 = l50 * l50;
    let lightness = (l - one.l) / (1.0 + 0.015 * l50 / (20.0 + l50).sqrt());
    let chroma = (chroma_other - chroma_one) / (1.0 + 0.045 * mean);
    let hue = hue / (1.0 + 0.015 * mean * t);
    let squares = lightness * lightness + chroma * chroma + hue * hue;
    let blue = (cos * BLUE[0] + sin * BLUE[1]).simd_lt(f64x4::splat(FAR_FROM_BLUE));
    let turned = if blue.all() {
        f64x4::ZERO
    } else {
        let (cos, sin) = (cos.to_array(), sin.to_array());
        let rotation = f64x4::from([0, 1, 2, 3].map(|i| rotation(cos[i], sin[i])));
        rotation * seventh(mean) * chroma * hue
    };
    Some((squares + turned).max(f64x4::ZERO).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use palette::color_difference::Ciede2000 as _;
    use proptest::prelude::*;

    #[test]
    fn constants_are_those_angles() {
        for ([cos, sin], degrees) in [(BLUE, 275.0), (OF_30, 30.0), (OF_6, 6.0), (OF_63, 63.0_f64)]
        {
            let (s, c) = degrees.to_radians().sin_cos();
            assert!((cos - c).abs() < 1e-15 && (sin - s).abs() < 1e-15);
        }
        assert!((FAR_FROM_BLUE - 130.0_f64.to_radians().cos()).abs() < 1e-15);
        assert!((KNEE - 25.0_f64.powi(7)).abs() < f64::EPSILON);
    }

    /// Whether the mean hue that `palette` takes is a whole turn too high there: its rotation differs then.
    fn is_turned(one: Lab, other: Lab) -> bool {
        let hue = |it: Lab| it.b.atan2(it.a).to_degrees().rem_euclid(360.0);
        (hue(one) - hue(other)).abs() > 178.0 && hue(one) + hue(other) > 358.0
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(3000))]

        // The library's own formula, with its sines and powers.
        #[test]
        fn agrees_with_the_formula_with_angles(
            one in (0.0..100.0_f64, -100.0..100.0_f64, -100.0..100.0_f64),
            by in (-1.0..1.0_f64, -1.0..1.0_f64, -1.0..1.0_f64),
            size in 0..4_i32,
        ) {
            let scale = 10.0_f64.powi(size - 2) * 12.0;
            let first = Lab::new(one.0, one.1, one.2);
            let second = Lab::new(one.0 + by.0 * scale, one.1 + by.1 * scale, one.2 + by.2 * scale);
            prop_assume!(!is_turned(first, second));
            let (ours, theirs) = (delta_e(first, second), first.difference(second));
            prop_assert!((ours - theirs).abs() < 1e-9 * (1.0 + theirs), "{ours} {theirs}");
        }
    }

    proptest! {
        #[test]
        fn four_at_once_are_each_by_itself(
            one in (0.0..100.0_f64, -60.0..60.0_f64, -60.0..60.0_f64),
            neutral in any::<bool>(),
            away in prop::collection::vec(
                prop_oneof![
                    4 => (-40.0..40.0_f64, -90.0..90.0_f64, -90.0..90.0_f64),
                    1 => (-1e-3..1e-3_f64, -1e-3..1e-3_f64, -1e-3..1e-3_f64),
                    1 => Just((0.0, 0.0, 0.0)),
                ],
                0..14,
            ),
        ) {
            let one = if neutral { Lab::new(one.0, 0.0, 0.0) } else { Lab::new(one.0, one.1, one.2) };
            let mut away: Vec<Vector3<f64>> = away.iter().map(|it| Vector3::new(it.0, it.1, it.2)).collect();
            // To the grey axis, and to the opposite hue.
            away.push(Vector3::new(1.0, -one.a, -one.b));
            away.push(Vector3::new(1.0, -2.0 * one.a, -2.0 * one.b));
            let all = delta_e_to_each(one, &away);
            prop_assert_eq!(all.len(), away.len());
            for (it, d) in all.iter().zip(&away) {
                let alone = delta_e(one, Lab::new(one.l + d.x, one.a + d.y, one.b + d.z));
                prop_assert!((it - alone).abs() < 1e-9 * (1.0 + alone), "{it} {alone} {d}");
            }
        }
    }

    #[test]
    fn what_is_not_finite_is_as_by_itself() {
        let (one, far) = (Lab::new(50.0, 1.0, 2.0), Vector3::new(0.0, 1e200, 0.0));
        let away = [
            Vector3::repeat(f64::NAN),
            far,
            Vector3::repeat(f64::INFINITY),
            far / 1e199,
        ];
        for (it, d) in delta_e_to_each(one, &away).iter().zip(&away) {
            let alone = delta_e(one, Lab::new(one.l + d.x, one.a + d.y, one.b + d.z));
            assert_eq!(it.to_bits(), alone.to_bits(), "{it} {alone} {d}");
        }
    }

    #[test]
    fn neutrals_and_opposite_hues_have_the_published_limits() {
        // Zero chroma on one side or both; hues exactly opposite, in both orders.
        for (one, other) in [
            ([50.0, 0.0, 0.0], [50.0, 0.0, 0.0]),
            ([50.0, 0.0, 0.0], [60.0, 0.0, 0.0]),
            ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0]),
            ([50.0, 3.0, 4.0], [50.0, -3.0, -4.0]),
            ([50.0, 0.0, 5.0], [50.0, 0.0, -5.0]),
            ([50.0, 5.0, 0.0], [50.0, -5.0, 0.0]),
        ] {
            let [one, other] = [one, other].map(|[l, a, b]| Lab::new(l, a, b));
            let (ours, theirs) = (delta_e(one, other), one.difference(other));
            assert!(
                (ours - theirs).abs() < 1e-9,
                "{one:?} {other:?}: {ours} {theirs}"
            );
            assert!((ours - delta_e(other, one)).abs() < 1e-12);
        }
    }
}
