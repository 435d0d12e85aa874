//! Kubelka and Munk's film: two diffuse streams of light, one down, one up, in a layer on a ground.
//!
//! All lengths are optical ones: `kx` is absorption times amount, `sx` scattering times amount, without unit, each ≥ 0. `ground` is the
//! reflectance of what lies below as light within the coating meets it, 0–1.
//!
//! # Source
//! P. Kubelka, F. Munk, *Z. techn. Phys.* 12 (1931) 593–601; P. Kubelka, *J. Opt. Soc. Am.* 38 (1948) 448–457.

/// K/S of a film that hides, from its internal reflectance, 0 < `r` ≤ 1: (1 − r)²/2r.
#[must_use]
pub fn k_over_s(r: f64) -> f64 {
    (1.0 - r).powi(2) / (2.0 * r)
}

/// Internal reflectance of a film that hides, from K/S ≥ 0.
#[must_use]
pub fn hiding(k_over_s: f64) -> f64 {
    // 1/(a + b) instead of a − b: nothing cancels.
    1.0 / (1.0 + k_over_s + (k_over_s * (k_over_s + 2.0)).sqrt())
}

/// Internal reflectance of a film on a ground, 0–1. Exact to a few last bits from no film at all to one that hides, and for a film that
/// scatters nothing or absorbs nothing.
#[must_use]
pub fn reflectance(kx: f64, sx: f64, ground: f64) -> f64 {
    let streams = Streams::of(kx, sx);
    streams.up(sx, ground) / streams.down(sx, ground)
}

/// The same with how it changes with `kx` and with `sx`.
#[must_use]
pub fn reflectance_with_slopes(kx: f64, sx: f64, ground: f64) -> (f64, [f64; 2]) {
    let streams = Streams::of(kx, sx);
    let down = streams.down(sx, ground);
    let r = streams.up(sx, ground) / down;
    let slope = streams.slope();
    let along = |dk: f64, ds: f64| {
        let sum = dk + ds;
        let bent = slope * 2.0 * ((kx + sx) * dk + kx * ds);
        let up = ds - ground * (sum - bent);
        (up - r * (sum + bent - ground * ds)) / down
    };
    (r, [along(1.0, 0.0), along(0.0, 1.0)])
}

/// y coth y with y² = kx (kx + 2 sx), in parts from which nothing cancels.
struct Streams {
    y: f64,
    /// kx + sx + y.
    whole: f64,
    /// y coth y − y: 1 for no film, 0 for one that hides.
    through: f64,
}

/// Below this y² the series is exact.
const THIN: f64 = 1e-6;

impl Streams {
    fn of(kx: f64, sx: f64) -> Self {
        let y = (kx * (kx + 2.0 * sx)).sqrt();
        let through = if y * y < THIN {
            1.0 - y + y * y / 3.0
        } else {
            2.0 * y / (2.0 * y).exp_m1()
        };
        Self {
            y,
            whole: kx + sx + y,
            through,
        }
    }

    fn up(&self, sx: f64, ground: f64) -> f64 {
        // kx + sx − y is sx²/(kx + sx + y).
        let scattered = if self.whole > 0.0 {
            sx * (sx / self.whole)
        } else {
            0.0
        };
        sx - ground * (scattered - self.through)
    }

    fn down(&self, sx: f64, ground: f64) -> f64 {
        self.whole + self.through - ground * sx
    }

    /// Of y coth y, by y².
    fn slope(&self) -> f64 {
        let y = self.y;
        if y * y < THIN {
            return 1.0 / 3.0 - 2.0 * y * y / 45.0;
        }
        // coth y − y/sinh² y, over 2y; with e^(−2y) nothing overflows.
        let e = (-2.0 * y).exp();
        ((1.0 + e) / (1.0 - e) - 4.0 * y * e / (1.0 - e).powi(2)) / (2.0 * y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Kubelka and Munk's differential equation integrated by another method (scipy's DOP853, and mpmath with 40 digits): K, S, X, ground, R.
    const INTEGRATED: [[f64; 5]; 12] = [
        [1.0, 1.0, 1.0, 0.0, 0.260_146_717_028_03],
        [1.0, 1.0, 1.0, 0.8, 0.287_513_849_848_99],
        [1.0, 1.0, 1.0, 1.0, 0.296_761_336_293_54],
        [0.5, 2.0, 0.5, 0.85, 0.595_386_172_110_67],
        [0.5, 2.0, 0.5, 0.05, 0.418_569_660_398_73],
        [0.2, 0.05, 1.0, 0.6, 0.412_891_222_841_25],
        [0.2, 0.0, 1.0, 0.6, 0.402_192_027_621_38],
        [0.2, 1e-9, 1.0, 0.6, 0.402_192_027_840_09],
        [0.0, 0.7, 2.0, 0.3, 0.646_464_646_464_65],
        [3.0, 0.4, 0.2, 0.45, 0.162_096_275_573_08],
        [0.05, 5.0, 10.0, 0.1, 0.868_225_386_998_43],
        [2.0, 2.0, 50.0, 0.9, 0.267_949_192_431_12],
    ];

    #[test]
    fn agrees_with_the_equation_integrated() {
        for [k, s, x, ground, printed] in INTEGRATED {
            let ours = reflectance(k * x, s * x, ground);
            assert!((ours - printed).abs() < 2e-14, "{k} {s} {x}: {ours}");
        }
        let thin = reflectance(1e-9, 1e-9, 0.37);
        assert!((thin - 0.369_999_999_656_9).abs() < 1e-12, "{thin}");
    }

    #[test]
    fn slopes_are_those_of_small_steps() {
        for [k, s, x, ground, _] in INTEGRATED {
            let (kx, sx) = (k * x, s * x);
            let (r, [by_k, by_s]) = reflectance_with_slopes(kx, sx, ground);
            assert!((r - reflectance(kx, sx, ground)).abs() < 1e-15);
            let step = 1e-5;
            // Forward where there is nothing to step back to.
            let quotient = |it: &dyn Fn(f64) -> f64, at: f64| {
                if at > step {
                    (it(at + step) - it(at - step)) / (2.0 * step)
                } else {
                    (4.0 * it(at + step) - it(at + 2.0 * step) - 3.0 * it(at)) / (2.0 * step)
                }
            };
            let k_step = quotient(&|kx| reflectance(kx, sx, ground), kx);
            let s_step = quotient(&|sx| reflectance(kx, sx, ground), sx);
            assert!((by_k - k_step).abs() < 1e-6, "{k} {s} {x}: {by_k} {k_step}");
            assert!((by_s - s_step).abs() < 1e-6, "{k} {s} {x}: {by_s} {s_step}");
        }
    }

    #[test]
    fn what_hides_has_the_reflectance_of_its_ratio() {
        for (ratio, printed) in [
            (0.001, 0.956_267_461_507),
            (0.1, 0.641_742_430_504),
            (0.25, 0.5),
            (1.0, 2.0 - 3.0_f64.sqrt()),
            (10.0, 0.045_548_849_896_7),
            (100.0, 0.004_950_616_379_22),
        ] {
            let r = hiding(ratio);
            assert!((r - printed).abs() < 1e-12, "{ratio}: {r}");
            assert!((k_over_s(r) / ratio - 1.0).abs() < 1e-9);
            assert!((reflectance(1e4 * ratio, 1e4, 0.9) - r).abs() < 1e-9);
        }
    }

    /// Worked by another program: a clear base with ever more of a pigment, and two pigments that hide together.
    #[test]
    fn letdowns_and_mixtures_are_as_worked_elsewhere() {
        for (load, printed) in [
            (0.05, 0.357_316_668_947),
            (0.1, 0.281_769_101_865),
            (0.2, 0.186_881_561_709),
            (0.5, 0.093_423_319_828_5),
            (1.0, 0.071_750_841_230_3),
        ] {
            let r = reflectance(0.02 + 3.0 * load, 0.1 + 0.4 * load, 0.45);
            assert!((r - printed).abs() < 1e-12, "{load}: {r}");
        }
        for (share, printed) in [
            (0.25, 0.505_338_349_701),
            (0.5, 0.351_000_400_32),
            (0.75, 0.222_801_004_439),
        ] {
            let (k, s) = (
                2.0 * share + 0.1 * (1.0 - share),
                0.5 * share + 3.0 * (1.0 - share),
            );
            assert!((hiding(k / s) - printed).abs() < 1e-11, "{share}");
        }
    }

    #[test]
    fn nothing_overflows() {
        for (kx, sx) in [
            (0.0, 0.0),
            (1e6, 1e-6),
            (1e-300, 1e300),
            (0.0, 1e9),
            (800.0, 0.0),
        ] {
            let (r, slopes) = reflectance_with_slopes(kx, sx, 0.5);
            assert!((0.0..=1.0).contains(&r), "{kx} {sx}: {r}");
            assert!(slopes.iter().all(|it| it.is_finite()), "{kx} {sx}");
        }
    }
}
