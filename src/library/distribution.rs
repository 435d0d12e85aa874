//! Student's t and χ²: pure numbers.

/// The two-sided 95 % point of the normal distribution, in standard deviations.
pub const NORMAL_95: f64 = 1.959_964;

/// t for 95 % two-sided, table G.2 of JCGM 100:2008 (to 20; then the normal value and its first correction).
#[must_use]
pub fn student_95(degrees: usize) -> f64 {
    const TABLE: [f64; 20] = [
        12.71, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23, 2.20, 2.18, 2.16, 2.14, 2.13,
        2.12, 2.11, 2.10, 2.09, 2.09,
    ];
    match degrees {
        0 => f64::INFINITY,
        n => TABLE
            .get(n - 1)
            .copied()
            .unwrap_or_else(|| NORMAL_95 * (1.0 + 1.22 / float(n))),
    }
}

/// The chance that χ² of so many degrees of freedom is at least `x`.
///
/// # Source
/// The regularised incomplete gamma function: series and continued fraction 6.5.29 and 6.5.31 of Abramowitz & Stegun, *Handbook of
/// Mathematical Functions* (1964).
#[must_use]
pub fn chi_square_beyond(x: f64, degrees: usize) -> f64 {
    let (a, x) = (float(degrees) / 2.0, x / 2.0);
    if x.is_nan() || a <= 0.0 {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 1.0;
    }
    let front = (a * x.ln() - x - log_gamma_of_halves(degrees)).exp();
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > sum * f64::EPSILON {
            n += 1.0;
            term *= x / n;
            sum += term;
        }
        return (1.0 - front * sum).clamp(0.0, 1.0);
    }
    // Lentz's way of working out a continued fraction.
    let tiny = f64::MIN_POSITIVE / f64::EPSILON;
    let mut b = x + 1.0 - a;
    let mut c = 1.0 / tiny;
    let mut d = 1.0 / b;
    let mut h = d;
    for n in 1..500 {
        let an = -float(n) * (float(n) - a);
        b += 2.0;
        d = 1.0 / (an * d + b);
        c = b + an / c;
        h *= c * d;
        if (c * d - 1.0).abs() < 1e-14 {
            break;
        }
    }
    (front * h).clamp(0.0, 1.0)
}

/// ln Γ(n/2), exact by recurrence from Γ(1) = 1 and Γ(1/2) = √π.
fn log_gamma_of_halves(n: usize) -> f64 {
    let (mut at, mut sum) = if n.is_multiple_of(2) {
        (1.0, 0.0)
    } else {
        (0.5, std::f64::consts::PI.ln() / 2.0)
    };
    while at < float(n) / 2.0 - 0.25 {
        sum += f64::ln(at);
        at += 1.0;
    }
    sum
}

#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
pub(super) fn float(n: usize) -> f64 {
    n as f64
}
