//! Student's t, χ² and F: pure numbers.

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

/// The x that χ² of so many degrees of freedom exceeds with the chance `beyond`, 0 < `beyond` < 1.
#[must_use]
pub fn chi_square_at(beyond: f64, degrees: usize) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    while chi_square_beyond(high, degrees) > beyond && high < 1e9 {
        high *= 2.0;
    }
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if chi_square_beyond(middle, degrees) > beyond {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// The chance that F of so many degrees of freedom, above and below, is at least `x`.
///
/// # Source
/// The regularised incomplete beta function, 26.6.2 and its continued fraction 26.5.8 of Abramowitz & Stegun, *Handbook of Mathematical
/// Functions* (1964).
#[must_use]
pub fn f_beyond(x: f64, above: usize, below: usize) -> f64 {
    if x.is_nan() || above == 0 || below == 0 {
        return f64::NAN;
    }
    if x <= 0.0 {
        return 1.0;
    }
    let at = float(below) / (float(below) + float(above) * x);
    // The fraction converges fast on this side of the mean only; the other side by symmetry.
    if at < (float(below) + 2.0) / float(below + above + 4) {
        incomplete_beta(at, below, above)
    } else {
        1.0 - incomplete_beta(1.0 - at, above, below)
    }
}

/// I at `x` of (`a`/2, `b`/2).
fn incomplete_beta(x: f64, a: usize, b: usize) -> f64 {
    let scale = log_gamma_of_halves(a + b) - log_gamma_of_halves(a) - log_gamma_of_halves(b);
    let (p, q) = (float(a) / 2.0, float(b) / 2.0);
    let front = (scale + p * x.ln() + q * (-x).ln_1p()).exp() / p;
    // Lentz's way, as for χ².
    let tiny = f64::MIN_POSITIVE / f64::EPSILON;
    let away = |it: f64| if it.abs() < tiny { tiny } else { it };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (p + q) * x / (p + 1.0));
    let mut h = d;
    for m in 1..500 {
        let m = float(m);
        let even = m * (q - m) * x / ((p + 2.0 * m - 1.0) * (p + 2.0 * m));
        let odd = -(p + m) * (p + q + m) * x / ((p + 2.0 * m) * (p + 2.0 * m + 1.0));
        let mut last = 1.0;
        for term in [even, odd] {
            d = 1.0 / away(1.0 + term * d);
            c = away(1.0 + term / c);
            last = c * d;
            h *= last;
        }
        if (last - 1.0).abs() < 1e-14 {
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

#[cfg(test)]
mod tests {
    use super::*;

    /// The 5 % points printed in tables of F: 3 above, 1 to 60 below (two decimals).
    #[test]
    fn f_at_its_printed_five_per_cent_points() {
        let printed = [
            (1, 215.71),
            (2, 19.164),
            (3, 9.277),
            (4, 6.591),
            (5, 5.409),
            (10, 3.708),
            (20, 3.098),
            (60, 2.758),
        ];
        for (below, x) in printed {
            let ours = f_beyond(x, 3, below);
            assert!((ours - 0.05).abs() < 1e-4, "{below} {ours}");
        }
    }

    /// F(2, n) has a closed form: (1 + 2x/n)^(−n/2); F(1, 1) is arctan's.
    #[test]
    fn f_where_it_is_elementary() {
        for x in [1e-6, 0.1, 1.0, 3.0, 50.0, 1e6] {
            for n in [1, 2, 3, 8, 31] {
                let exact = (1.0 + 2.0 * x / float(n)).powf(-float(n) / 2.0);
                assert!((f_beyond(x, 2, n) / exact - 1.0).abs() < 1e-9, "{x} {n}");
            }
            let exact = 1.0 - 2.0 / std::f64::consts::PI * x.sqrt().atan();
            assert!((f_beyond(x, 1, 1) - exact).abs() < 1e-12, "{x}");
        }
    }

    #[test]
    fn f_of_many_below_is_chi_square() {
        for x in [0.5, 2.0, 7.814_73] {
            let ours = f_beyond(x / 3.0, 3, 1_000_000);
            assert!((ours - chi_square_beyond(x, 3)).abs() < 1e-5, "{x} {ours}");
        }
    }

    /// 7.8147 is the printed 5 % point for three degrees of freedom.
    #[test]
    fn chi_square_there_and_back() {
        assert!((chi_square_at(0.05, 3) - 7.8147).abs() < 5e-5);
        for degrees in [1, 2, 5, 40] {
            for beyond in [0.999, 0.5, 0.01] {
                let there = chi_square_at(beyond, degrees);
                assert!((chi_square_beyond(there, degrees) - beyond).abs() < 1e-10);
            }
        }
    }
}
