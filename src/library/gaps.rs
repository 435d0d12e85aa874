//! What regions of colour a range of swatches lacks.
//!
//! Colours that a screen can show, on a lattice in Lab, each held against its nearest swatch. Those farther than a limit from every
//! swatch are grouped by lightness, chroma and hue, under names that a painter uses.

use super::find::Filter;
use super::{Library, LibraryError};
use crate::colour::difference::delta_e_2000;
use crate::colour::srgb::{RgbSpace, is_in_gamut};
use crate::colour::{Lab, lab};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// A region of colour that no swatch is near.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gap {
    /// Its name: `dark muted blue`.
    pub name: String,
    /// The share of the region that is farther than the limit from every swatch, 0–1.
    pub share: f64,
    /// L*, a*, b* of the colour in it that is farthest from every swatch.
    pub lab: [f64; 3],
    /// ΔE00 of that colour to its nearest swatch; null without any swatch.
    pub nearest: Option<f64>,
    /// That swatch.
    pub swatch: Option<i64>,
}

/// Step of the lattice in L*, a* and b*.
const STEP: i32 = 5;

/// Hues by their angle in Lab: the last angle of each, degrees. By eye: common practice, no source.
const HUES: [(&str, f64); 10] = [
    ("pink", 15.0),
    ("red", 45.0),
    ("orange", 75.0),
    ("yellow", 105.0),
    ("yellow-green", 130.0),
    ("green", 165.0),
    ("blue-green", 225.0),
    ("blue", 290.0),
    ("violet", 325.0),
    ("purple", 360.0),
];

/// Chroma below which a colour is a grey. By eye: common practice, no source.
const GREY: f64 = 8.0;

/// The name of a colour's region.
#[must_use]
pub fn region(colour: Lab) -> String {
    let lightness = lightness(colour);
    let chroma = lab::chroma(colour);
    if chroma < GREY {
        return format!("{lightness} grey");
    }
    let strength = match chroma {
        it if it < 25.0 => "muted",
        it if it < 50.0 => "clear",
        _ => "strong",
    };
    format!("{lightness} {strength} {}", hue(colour))
}

/// The names that [`hue`] gives, around the circle.
pub fn hues() -> impl Iterator<Item = &'static str> {
    HUES.iter().map(|it| it.0).chain(["grey"])
}

/// The name of a colour's hue; `grey` where it has next to none.
#[must_use]
pub fn hue(colour: Lab) -> &'static str {
    if lab::chroma(colour) < GREY {
        return "grey";
    }
    let angle = lab::hue_degrees(colour);
    HUES.iter()
        .find(|it| angle < it.1)
        .map_or("purple", |it| it.0)
}

/// The name of a colour's lightness.
#[must_use]
pub fn lightness(colour: Lab) -> &'static str {
    match colour.l {
        it if it < 35.0 => "dark",
        it if it < 65.0 => "middle",
        _ => "light",
    }
}

impl Library {
    /// Regions with colours farther than `limit` ΔE00 from every swatch that is meant, up to a chroma; the emptiest first.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn gaps(
        &self,
        filter: &Filter,
        limit: f64,
        most_chroma: f64,
    ) -> Result<Vec<Gap>, LibraryError> {
        let spots = self.spots(filter)?;
        let lattice: Vec<Lab> = (1..100 / STEP)
            .flat_map(|l| (-24..=24).flat_map(move |a| (-24..=24).map(move |b| [l, a, b])))
            .map(|it| it.map(|it| f64::from(it * STEP)))
            .map(|[l, a, b]| Lab::new(l, a, b))
            .filter(|it| lab::chroma(*it) <= most_chroma && is_in_gamut(RgbSpace::Srgb.linear(*it)))
            .collect();
        let nearest: Vec<(f64, Option<i64>)> = lattice
            .par_iter()
            .map(|it| {
                let near = spots
                    .iter()
                    .map(|spot| (delta_e_2000(*it, spot.lab), Some(spot.swatch)));
                near.min_by(|a, b| a.0.total_cmp(&b.0))
                    .unwrap_or((f64::INFINITY, None))
            })
            .collect();
        // By region: how many points, how many far, and the farthest.
        let mut regions: BTreeMap<String, (u32, u32, usize)> = BTreeMap::new();
        for (index, (colour, (distance, _))) in lattice.iter().zip(&nearest).enumerate() {
            let it = regions.entry(region(*colour)).or_insert((0, 0, index));
            it.0 += 1;
            it.1 += u32::from(*distance > limit);
            if *distance > nearest[it.2].0 {
                it.2 = index;
            }
        }
        let mut gaps: Vec<Gap> = regions
            .into_iter()
            .filter(|(_, it)| it.1 > 0)
            .map(|(name, (all, far, farthest))| {
                let colour = lattice[farthest];
                let (distance, swatch) = nearest[farthest];
                Gap {
                    name,
                    share: f64::from(far) / f64::from(all),
                    lab: [colour.l, colour.a, colour.b],
                    nearest: Some(distance).filter(|it| it.is_finite()),
                    swatch,
                }
            })
            .collect();
        gaps.sort_by(|a, b| {
            let distance = |it: &Gap| it.nearest.unwrap_or(f64::INFINITY);
            b.share
                .total_cmp(&a.share)
                .then(distance(b).total_cmp(&distance(a)))
                .then(a.name.cmp(&b.name))
        });
        Ok(gaps)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regions_have_a_painters_names() {
        assert_eq!(region(Lab::new(20.0, 1.0, 1.0)), "dark grey");
        assert_eq!(region(Lab::new(55.0, 20.0, 40.0)), "middle clear orange");
        assert_eq!(region(Lab::new(30.0, 5.0, -45.0)), "dark clear blue");
        assert_eq!(region(Lab::new(80.0, 60.0, -1.0)), "light strong purple");
    }
}
