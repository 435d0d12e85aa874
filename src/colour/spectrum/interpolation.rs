//! Values between those of an evenly sampled curve.

/// Boundary values before the first of six samples; those after the last are their mirror image. Over 209.
///
/// # Source
/// CIE 167:2005, after S. Westland, C. Ripamonti, V. Cheung, *Computational Colour Science Using MATLAB*, 2nd ed., table 4.3.
const BEFORE: [[f64; 6]; 2] = [
    [884.0, -1960.0, 3033.0, -2648.0, 1080.0, -180.0],
    [508.0, -540.0, 488.0, -367.0, 144.0, -24.0],
];

/// The curve at `position`, counted in samples from the first; beyond the ends, the end values. `values` must not be empty.
///
/// Sprague's fifth-order polynomial from six samples on, straight lines below; exact at the samples either way.
pub(super) fn at(position: f64, values: &[f64]) -> f64 {
    let last = values.len() - 1;
    if position <= 0.0 {
        return values[0];
    }
    if position >= last as f64 {
        return values[last];
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "0 < position < last"
    )]
    let index = position as usize;
    let x = position - index as f64;
    if values.len() < 6 {
        return values[index] + x * (values[index + 1] - values[index]);
    }
    let r = [0, 1, 2, 3, 4, 5].map(|offset| extended(index + offset, values));
    sprague(&r, x)
}

/// `values` with two boundary values put before and two after.
fn extended(index: usize, values: &[f64]) -> f64 {
    let n = values.len();
    let boundary = |weights: &[f64; 6], sample: &dyn Fn(usize) -> f64| {
        weights
            .iter()
            .enumerate()
            .map(|(i, w)| w * sample(i))
            .sum::<f64>()
            / 209.0
    };
    match index.checked_sub(2) {
        None => boundary(&BEFORE[index], &|i| values[i]),
        Some(i) if i < n => values[i],
        Some(i) => boundary(&BEFORE[1 - (i - n)], &|i| values[n - 1 - i]),
    }
}

/// Between the third and the fourth of six samples, `0 <= x <= 1`.
///
/// # Source
/// CIE 167:2005; T. B. Sprague, *J. Inst. Actuaries* 22 (1880) 270–285.
fn sprague(r: &[f64; 6], x: f64) -> f64 {
    let dot = |w: [f64; 6]| w.iter().zip(r).map(|(w, r)| w * r).sum::<f64>() / 24.0;
    let a = [
        r[2],
        dot([2.0, -16.0, 0.0, 16.0, -2.0, 0.0]),
        dot([-1.0, 16.0, -30.0, 16.0, -1.0, 0.0]),
        dot([-9.0, 39.0, -70.0, 66.0, -33.0, 7.0]),
        dot([13.0, -64.0, 126.0, -124.0, 61.0, -12.0]),
        dot([-5.0, 25.0, -50.0, 50.0, -25.0, 5.0]),
    ];
    a.iter().rev().fold(0.0, |sum, it| sum * x + it)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_for_quartics_inside_and_for_lines_up_to_the_ends() {
        let quartic =
            |x: f64| 0.3 + 0.1 * x - 0.02 * x.powi(2) + 3e-3 * x.powi(3) - 1e-4 * x.powi(4);
        let line = |x: f64| 0.3 + 0.05 * x;
        let sampled =
            |curve: &dyn Fn(f64) -> f64| (0..9).map(|i| curve(f64::from(i))).collect::<Vec<_>>();
        for i in 0..=80 {
            let x = f64::from(i) / 10.0;
            assert!((at(x, &sampled(&line)) - line(x)).abs() < 1e-12, "{x}");
            // The boundary values of CIE 167 are exact for lines only.
            if (2.0..=6.0).contains(&x) {
                assert!(
                    (at(x, &sampled(&quartic)) - quartic(x)).abs() < 1e-12,
                    "{x}"
                );
            }
        }
    }

    #[test]
    fn ends_repeat_and_few_samples_give_lines() {
        let values = [0.1, 0.3, 0.2];
        assert!((at(-5.0, &values) - 0.1).abs() < f64::EPSILON);
        assert!((at(9.0, &values) - 0.2).abs() < f64::EPSILON);
        assert!((at(0.25, &values) - 0.15).abs() < 1e-15);
        assert!((at(3.0, &[0.7]) - 0.7).abs() < f64::EPSILON);
    }
}
