//! The colours that a surface can have at all: those of reflectances between 0 and 1.
//!
//! Bands of 5 nm, each reflected by 0 to 1 of it, make a solid in XYZ: a sum of segments, one a band. Its faces are spanned by two of them,
//! so that a colour lies in it if it lies between both supports along each normal of two bands. (Which reflectances lie on its surface:
//! D. L. MacAdam, *J. Opt. Soc. Am.* 25 (1935) 361–367.)

use super::table::ROWS;
use crate::colour::{Lab, lab};
use nalgebra::Vector3;
use std::sync::OnceLock;

/// A pair of parallel faces: their normal, and how far along it they lie.
struct Faces {
    normal: Vector3<f64>,
    from: f64,
    to: f64,
}

/// The largest chroma C*ab that a surface can have under D50 at this lightness L* (0–100) and hue angle (degrees), for the 2° observer,
/// when one goes outwards from grey. (A line of one hue is bent in XYZ and may touch the solid again farther out, as with the palest yellows:
/// that is not counted.)
#[must_use]
pub fn most_chroma(lightness: f64, hue_degrees: f64) -> f64 {
    let (sin, cos) = hue_degrees.to_radians().sin_cos();
    let has = |chroma: f64| is_surface(Lab::new(lightness, chroma * cos, chroma * sin));
    let mut beyond = STEP;
    while has(beyond) && beyond < FARTHEST {
        beyond += STEP;
    }
    let mut within = beyond - STEP;
    for _ in 0..30 {
        let chroma = f64::midpoint(within, beyond);
        if has(chroma) {
            within = chroma;
        } else {
            beyond = chroma;
        }
    }
    within
}

/// Why no surface has a colour.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoSurface {
    /// L* is not from black to white.
    #[error("L* {}, a* {}, b* {}: L* is 0 (black) to 100 (white)", wanted.l, wanted.a, wanted.b)]
    Lightness {
        /// The colour.
        wanted: Lab,
    },
    /// More chroma than any surface has.
    #[error("L* {}, a* {}, b* {}: that is a chroma C* of {:.1}, and at this lightness and hue ({:.0}°) a surface has 0 to {most:.1}", wanted.l, wanted.a, wanted.b, lab::chroma(*wanted), lab::hue_degrees(*wanted))]
    Chroma {
        /// The colour.
        wanted: Lab,
        /// Most chroma C* there.
        most: f64,
    },
}

/// Whether a surface can have this colour.
///
/// # Errors
///
/// If it can't, with the range that there is.
pub fn is_of_a_surface(wanted: Lab) -> Result<(), NoSurface> {
    // What rounding and bands of 5 nm do to a chroma on the brink.
    const SLACK: f64 = 0.5;
    // White of a screen is 100 up to the last bits.
    if !(-1e-6..=100.0 + 1e-6).contains(&wanted.l) {
        return Err(NoSurface::Lightness { wanted });
    }
    let chroma = lab::chroma(wanted);
    let most = most_chroma(wanted.l.clamp(0.0, 100.0), lab::hue_degrees(wanted));
    // Written so that what is no number is refused.
    if chroma <= most + SLACK {
        Ok(())
    } else {
        Err(NoSurface::Chroma { wanted, most })
    }
}

const STEP: f64 = 1.0;
/// Beyond the chroma of any surface: the darkest violets go to 178 (by these tables).
const FARTHEST: f64 = 300.0;

fn is_surface(colour: Lab) -> bool {
    // Of white and black, which lie on the surface, the last bits.
    const SLACK: f64 = 1e-9;
    let xyz = lab::to_xyz(colour);
    let white = lab::to_xyz(Lab::new(100.0, 0.0, 0.0));
    let at = Vector3::new(xyz.x / white.x, xyz.y / white.y, xyz.z / white.z);
    solid().iter().all(|it| {
        let along = it.normal.dot(&at);
        it.from - SLACK <= along && along <= it.to + SLACK
    })
}

fn solid() -> &'static [Faces] {
    static SOLID: OnceLock<Vec<Faces>> = OnceLock::new();
    SOLID.get_or_init(|| {
        let bands = ROWS.map(|[x, y, z, d50, ..]| Vector3::new(x, y, z) * d50);
        let white: Vector3<f64> = bands.iter().sum();
        let bands = bands.map(|it| it.component_div(&white));
        let mut all = Vec::with_capacity(bands.len() * bands.len() / 2);
        for (index, one) in bands.iter().enumerate() {
            for other in &bands[..index] {
                // Two bands of one chromaticity, as at the red end, span no face.
                let Some(normal) = one.cross(other).try_normalize(1e-15) else {
                    continue;
                };
                let along = bands.iter().map(|it| normal.dot(it));
                all.push(Faces {
                    normal,
                    from: along.clone().map(|it| it.min(0.0)).sum(),
                    to: along.map(|it| it.max(0.0)).sum(),
                });
            }
        }
        all
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::spectrum::reflectance_to_xyz_d50;
    use crate::colour::srgb;

    /// Every colour of a screen is that of some reflectance (W. Jakob, J. Hanika, *Computer Graphics Forum* 38 (2019) 147–155), and no pure
    /// colour of a pigment lies beyond; the ends of the solid are black and white.
    #[test]
    fn screens_lie_within_and_ends_are_black_and_white() {
        for rgb in [
            [255, 0, 0],
            [0, 255, 0],
            [0, 0, 255],
            [255, 255, 0],
            [0, 255, 255],
            [255, 0, 255],
        ] {
            let it = srgb::from_rgb8(rgb);
            let most = most_chroma(it.l, lab::hue_degrees(it));
            assert!(lab::chroma(it) < most && most < 200.0, "{rgb:?}: {most}");
        }
        for hue in [0.0, 90.0, 200.0] {
            assert!(most_chroma(100.0, hue) < 0.5 && most_chroma(0.0, hue) < 0.5);
        }
    }

    /// A reflectance of 1 between two wavelengths and 0 elsewhere (or the reverse) is an optimal colour: it lies on the surface.
    #[test]
    fn what_reflects_all_or_nothing_lies_on_the_surface() {
        for (from, to, inside) in [
            (0, 20, 1.0),
            (20, 44, 1.0),
            (20, 44, 0.0),
            (40, 81, 1.0),
            (40, 81, 0.0),
            (30, 33, 1.0),
            (30, 33, 0.0),
        ] {
            let values: Vec<f64> = (0..ROWS.len())
                .map(|band| {
                    if (from..to).contains(&band) {
                        inside
                    } else {
                        1.0 - inside
                    }
                })
                .collect();
            let xyz = reflectance_to_xyz_d50(380.0, 5.0, &values).unwrap();
            let it = lab::from_xyz(xyz);
            let most = most_chroma(it.l, lab::hue_degrees(it));
            let chroma = lab::chroma(it);
            assert!(
                (chroma - most).abs() < 1e-3 * most,
                "bands {from} to {to}: {chroma}, {most}"
            );
        }
    }
}
