//! A film in light that is directed until something scatters it.
//!
//! Kubelka and Munk's streams are diffuse all the way: on the average light goes twice as far through a film as the film is thick. What
//! enters through a surface is bent towards the normal, and what is seen along the normal left that way; where nothing scatters, the way in
//! and out is little longer than the film is thick, and the same pigment absorbs about half. With white in the film it absorbs all that
//! the streams say. Without this a pigment that hardly scatters, measured alone, is too weak in every mixture with one that does.
//!
//! Arguments as in [`film`], absorption in units of the diffuse streams.
//!
//! # Source
//! That the way doubles: Kubelka 1948 (see [`film`]). How it grows with scattering: no source; the constants are fitted to mixtures that a
//! simulation by radiative transfer made (its study seeds).

use super::film;

/// Share of the diffuse way's absorption that is left where nothing scatters.
const CLEAR: f64 = 0.45;
/// Scattering times amount at which half of the rest is back, in a film that absorbs little.
const HALF: f64 = 0.1;
/// By how much that grows with absorption times amount: what is absorbed early is not scattered first.
const EARLY: f64 = 0.1;

/// Internal reflectance of a film on a ground, 0–1.
#[must_use]
pub fn reflectance(kx: f64, sx: f64, ground: f64) -> f64 {
    film::reflectance(share(kx, sx, CLEAR).0 * kx, sx, ground)
}

/// The same with how it changes with `kx` and with `sx`.
#[must_use]
pub fn reflectance_with_slopes(kx: f64, sx: f64, ground: f64) -> (f64, [f64; 2]) {
    let (r, slopes, _) = reflectance_with_law(kx, sx, ground, 0.0);
    (r, slopes)
}

/// The same with how it changes with [`CLEAR`]. Of `kx` the part `coating` is known from films that scatter nothing: it becomes less as there is
/// more left of it.
#[must_use]
pub(super) fn reflectance_with_law(
    kx: f64,
    sx: f64,
    ground: f64,
    coating: f64,
) -> (f64, [f64; 2], f64) {
    let (share, [share_by_k, share_by_s]) = share(kx, sx, CLEAR);
    let (r, [by_k, by_s]) = film::reflectance_with_slopes(share * kx, sx, ground);
    let along_k = by_k * (share + kx * share_by_k);
    let not_scattered = (1.0 - share) / (1.0 - CLEAR);
    // What becomes less of the coating is absorption of the film, and that changes what share of it is left, too.
    let by_clear = by_k * kx * not_scattered - along_k * coating / CLEAR;
    (r, [along_k, by_s + by_k * kx * share_by_s], by_clear)
}

/// What a film that scatters nothing leaves of the ground's reflectance, 0–1.
#[must_use]
pub fn clear(kx: f64) -> f64 {
    (-2.0 * CLEAR * kx).exp()
}

/// What part of the diffuse streams' absorption there is, `clear` to 1, and its slopes.
fn share(kx: f64, sx: f64, clear: f64) -> (f64, [f64; 2]) {
    let whole = sx + HALF + EARLY * kx;
    let scattered = sx / whole;
    let rest = (1.0 - clear) / whole;
    (
        clear + (1.0 - clear) * scattered,
        [-rest * scattered * EARLY, rest * (1.0 - scattered)],
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn is_the_diffuse_film_where_much_scatters_and_half_of_it_where_nothing_does() {
        let diffuse = film::reflectance(1.0, 400.0, 0.3);
        assert!((reflectance(1.0, 400.0, 0.3) - diffuse).abs() < 1e-4);
        let clear = reflectance(0.7, 0.0, 0.6);
        assert!((clear - 0.6 * (-2.0_f64 * 0.45 * 0.7).exp()).abs() < 1e-12);
        assert!((clear - 0.6 * super::clear(0.7)).abs() < 1e-12);
    }

    #[test]
    fn slopes_are_those_of_small_steps() {
        let step = 1e-5;
        for (kx, sx) in [(0.3, 0.02), (1.0, 1.0), (5.0, 0.3), (0.05, 4.0)] {
            let (r, [by_k, by_s]) = reflectance_with_slopes(kx, sx, 0.4);
            assert!((r - reflectance(kx, sx, 0.4)).abs() < 1e-15);
            let along = |dk: f64, ds: f64| {
                let up = reflectance(kx + dk, sx + ds, 0.4);
                (up - reflectance(kx - dk, sx - ds, 0.4)) / (2.0 * step)
            };
            assert!((by_k - along(step, 0.0)).abs() < 1e-8, "{kx} {sx}");
            assert!((by_s - along(0.0, step)).abs() < 1e-8, "{kx} {sx}");
        }
    }

    /// Under another law the coating's part of the absorption is another: controls have told how much of it is left where nothing scatters.
    #[test]
    fn slopes_by_the_law_are_those_of_small_steps() {
        const STEP: f64 = 1e-5;
        for (pigment, coating, sx) in [
            (0.3, 0.0, 0.02),
            (0.5, 0.5, 0.1),
            (0.1, 1.0, 0.3),
            (2.0, 0.4, 0.05),
            (0.05, 0.05, 4.0),
        ] {
            let seen = |clear: f64| {
                let kx = pigment + coating * CLEAR / clear;
                film::reflectance(share(kx, sx, clear).0 * kx, sx, 0.4)
            };
            let stepped = (seen(CLEAR + STEP) - seen(CLEAR - STEP)) / (2.0 * STEP);
            let (_, _, by_clear) = reflectance_with_law(pigment + coating, sx, 0.4, coating);
            assert!(
                (by_clear - stepped).abs() < 1e-8,
                "{pigment} {coating} {sx}: {by_clear} {stepped}"
            );
        }
    }

    #[test]
    fn nothing_overflows() {
        for (kx, sx) in [(0.0, 0.0), (1e6, 1e-6), (1e-300, 1e300), (0.0, 1e9)] {
            let (r, slopes) = reflectance_with_slopes(kx, sx, 0.5);
            assert!((0.0..=1.0).contains(&r), "{kx} {sx}: {r}");
            assert!(slopes.iter().all(|it| it.is_finite()), "{kx} {sx}");
        }
    }
}
