//! The swatches nearest to a colour, and pairs too alike.
//!
//! Every colour is looked at: ΔE00 of a hundred thousand takes less than reading them from the file.

use super::colour::{Counted, by_exposure, counted};
use super::find::{Filter, Listed, Spot};
use super::statistics::{self, Point};
use super::{Exposure, Library, LibraryError};
use crate::colour::difference::delta_e_2000;
use crate::colour::{Lab, Matrix, spectrum};
use nalgebra::Vector3;
use rayon::prelude::*;

/// A colour to look near.
#[derive(Clone, Debug, PartialEq)]
pub enum Target {
    /// A colour, with the covariance of what is known of it: zero for one that is simply wanted.
    Colour(Lab, Matrix),
    /// A swatch of the library.
    Swatch(i64),
}

/// A swatch near a colour.
#[derive(Clone, Debug, PartialEq)]
pub struct Neighbour {
    /// The swatch and its colour.
    pub listed: Listed,
    /// ΔE00 to what was asked for.
    pub delta_e: f64,
    /// Whether the difference is beyond what the joint uncertainty explains (at 95 %).
    pub told_apart: bool,
}

/// Two swatches that look alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// One.
    pub one: Listed,
    /// The other.
    pub other: Listed,
    /// ΔE00 between them.
    pub delta_e: f64,
    /// Whether the difference is beyond what the joint uncertainty explains (at 95 %).
    pub told_apart: bool,
}

/// How sure it must be that two colours differ.
const SURE: f64 = 0.05;

/// Whether a surface can have this colour: what is wanted beyond is a slip, and everything would be far from it.
///
/// # Errors
///
/// If it can't, with the range that there is.
pub fn is_of_a_surface(wanted: Lab) -> Result<(), LibraryError> {
    spectrum::is_of_a_surface(wanted).map_err(|it| {
        LibraryError::Senseless(
            it.to_string(),
            "Give L* a* b* in this order (D50), or a CSS colour.",
        )
    })
}

impl Library {
    /// The swatches nearest to a colour by ΔE00, at most `count` of them; a swatch is not near itself.
    ///
    /// # Errors
    ///
    /// If the library can't be read, or the target is a swatch that isn't there at this age.
    pub fn near(
        &self,
        target: &Target,
        filter: &Filter,
        count: usize,
    ) -> Result<Vec<Neighbour>, LibraryError> {
        let _moment = self.moment()?;
        let mut spots = self.spots(filter)?;
        let (lab, own, here) = match target {
            Target::Colour(lab, covariance) => (*lab, Some(*covariance), Vec::new()),
            Target::Swatch(id) => {
                let spot = self.spot_of(*id, filter)?;
                spots.retain(|it| it.swatch != *id);
                (spot.lab, None, self.counted_at(&spot)?)
            }
        };
        let mut ranked: Vec<(f64, Spot)> = spots
            .par_iter()
            .map(|it| (delta_e_2000(lab, it.lab), *it))
            .collect();
        let by_distance = |a: &(f64, Spot), b: &(f64, Spot)| {
            a.0.total_cmp(&b.0).then(a.1.swatch.cmp(&b.1.swatch))
        };
        if count < ranked.len() && count > 0 {
            ranked.select_nth_unstable_by(count - 1, by_distance);
        }
        ranked.truncate(count);
        ranked.sort_by(by_distance);
        let spots: Vec<Spot> = ranked.iter().map(|it| it.1).collect();
        let listed = self.look_up(&spots)?;
        listed
            .into_iter()
            .zip(ranked)
            .map(|(listed, (delta_e, spot))| {
                let (apart, joint) = match own {
                    Some(own) => (vector(spot.lab) - vector(lab), own + listed.covariance),
                    None => contrast(&here, &self.counted_at(&spot)?),
                };
                Ok(Neighbour {
                    listed,
                    delta_e,
                    told_apart: statistics::chance(&apart, &joint) < SURE,
                })
            })
            .collect()
    }

    /// The colour that a target is, at the age that the filter asks for.
    ///
    /// # Errors
    ///
    /// If the library can't be read, or the target is a swatch that isn't there at this age.
    pub fn colour_of(&self, target: &Target, filter: &Filter) -> Result<Lab, LibraryError> {
        match target {
            Target::Colour(lab, _) => Ok(*lab),
            Target::Swatch(id) => Ok(self.spot_of(*id, filter)?.lab),
        }
    }

    /// Pairs of swatches that differ by at most `within` ΔE00, the most alike first, at most `count` of them. Swatches of the same
    /// pigments are left out unless `all`: a load and the next are alike by design.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn overlaps(
        &self,
        filter: &Filter,
        within: f64,
        all: bool,
        count: usize,
    ) -> Result<Vec<Pair>, LibraryError> {
        let _moment = self.moment()?;
        let mut spots = self.spots(filter)?;
        spots.sort_by(|a, b| a.lab.l.total_cmp(&b.lab.l));
        let pigments = if all {
            Vec::new()
        } else {
            self.pigments_of(&spots)?
        };
        // S_L of CIE 142-2001 is at most 1 + 0.015 · 50² / √(20 + 50²) < 1.75: farther apart in L* than this, ΔE00 is beyond `within`.
        let reach = 1.75 * within;
        let mut pairs: Vec<(f64, usize, usize)> = (0..spots.len())
            .into_par_iter()
            .flat_map_iter(|one| {
                let here = spots[one];
                let (spots, pigments) = (&spots, &pigments);
                (one + 1..spots.len())
                    .take_while(move |other| spots[*other].lab.l - here.lab.l <= reach)
                    .filter(move |other| all || pigments[one] != pigments[*other])
                    .map(move |other| (delta_e_2000(here.lab, spots[other].lab), one, other))
                    .filter(move |it| it.0 <= within)
            })
            .collect();
        pairs.sort_by(|a, b| {
            let numbers = |it: &(f64, usize, usize)| (spots[it.1].swatch, spots[it.2].swatch);
            a.0.total_cmp(&b.0).then(numbers(a).cmp(&numbers(b)))
        });
        pairs.truncate(count);
        pairs
            .into_iter()
            .map(|(delta_e, one, other)| {
                let (one, other) = if spots[one].swatch < spots[other].swatch {
                    (spots[one], spots[other])
                } else {
                    (spots[other], spots[one])
                };
                let (apart, joint) = contrast(&self.counted_at(&one)?, &self.counted_at(&other)?);
                let mut both = self.look_up(&[one, other])?;
                let (Some(second), Some(first)) = (both.pop(), both.pop()) else {
                    return Err(LibraryError::damaged("a colour", "its swatch is not there"));
                };
                Ok(Pair {
                    one: first,
                    other: second,
                    delta_e,
                    told_apart: statistics::chance(&apart, &joint) < SURE,
                })
            })
            .collect()
    }

    /// The pigments of each swatch, without their loads.
    fn pigments_of(&self, spots: &[Spot]) -> Result<Vec<Vec<String>>, LibraryError> {
        let mut statement = self
            .connection
            .prepare_cached("SELECT pigment FROM ingredient WHERE swatch = ?1 ORDER BY pigment")?;
        spots
            .iter()
            .map(|it| {
                let rows = statement.query_map([it.swatch], |row| row.get(0))?;
                Ok(rows.collect::<rusqlite::Result<_>>()?)
            })
            .collect()
    }

    /// The colour of one swatch at the age that a filter asks for.
    pub(super) fn spot_of(&self, swatch: i64, filter: &Filter) -> Result<Spot, LibraryError> {
        self.swatch(swatch)?;
        let age = Filter {
            hours: filter.hours,
            ..Filter::default()
        };
        let spots = self.spots_of_swatch(swatch, &age)?;
        spots.ok_or_else(|| {
            LibraryError::Unknown(
                format!("swatch {swatch} has no colour at that age"),
                "`masstone library show` lists the ages that were measured.",
            )
        })
    }

    fn spots_of_swatch(&self, swatch: i64, age: &Filter) -> Result<Option<Spot>, LibraryError> {
        let groups = by_exposure(counted(&self.connection, swatch)?);
        let spots = groups.iter().filter_map(|(exposure, counted)| {
            let lab = super::colour::mean(counted)?.lab;
            Some(Spot {
                swatch,
                exposure: *exposure,
                lab,
            })
        });
        Ok(match age.hours {
            None => spots.min_by(|a, b| a.exposure.as_made(b.exposure)),
            Some(wanted) => {
                let off = |it: &Spot| (it.exposure.hours.unwrap_or(f64::INFINITY) - wanted).abs();
                spots
                    .filter(|it| !it.exposure.masked && off(it) <= 0.1 * wanted)
                    .min_by(|a, b| off(a).total_cmp(&off(b)))
            }
        })
    }

    /// The readings that a colour is made of.
    fn counted_at(&self, spot: &Spot) -> Result<Vec<Counted>, LibraryError> {
        let groups = by_exposure(counted(&self.connection, spot.swatch)?);
        let same = |it: &&(Exposure, Vec<Counted>)| it.0 == spot.exposure;
        Ok(groups
            .iter()
            .find(same)
            .map(|it| it.1.clone())
            .unwrap_or_default())
    }
}

fn vector(lab: Lab) -> Vector3<f64> {
    Vector3::new(lab.l, lab.a, lab.b)
}

/// The difference of two means and its covariance. What photos have in common cancels where both are in the same photo.
fn contrast(one: &[Counted], other: &[Counted]) -> (Vector3<f64>, Matrix) {
    let points = |of: &[Counted]| -> Vec<Point> { of.iter().map(|it| it.point).collect() };
    statistics::contrast(&points(one), &points(other))
        .unwrap_or((Vector3::zeros(), Matrix::zeros()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_surface_has_is_refused_with_the_range() {
        let said = |l, a, b| is_of_a_surface(Lab::new(l, a, b)).map_err(|it| it.to_string());
        for (l, a, b) in [
            (0.0, 0.0, 0.0),
            (100.0, 0.0, 0.0),
            (40.0, 30.0, 20.0),
            (29.6, 68.3, -112.0),
        ] {
            assert_eq!(said(l, a, b), Ok(()));
        }
        assert!(
            said(500.0, 0.0, 0.0)
                .unwrap_err()
                .contains("0 (black) to 100 (white)")
        );
        assert!(said(-1.0, 0.0, 0.0).is_err() && said(f64::NAN, 0.0, 0.0).is_err());
        let much = said(50.0, 300.0, 0.0).unwrap_err();
        assert!(
            much.contains("C* of 300.0") && much.contains("0 to 97"),
            "{much}"
        );
        assert!(said(99.0, 0.0, 60.0).is_err());
    }
}
