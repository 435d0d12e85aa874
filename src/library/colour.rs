//! The colours of swatches at their exposures: derived from the readings that count.

use super::statistics::{self, Estimate, Point};
use super::{LibraryError, detail, number};
use crate::colour::Matrix;
use nalgebra::Vector3;
use rusqlite::{Connection, params};
use std::collections::{BTreeMap, BTreeSet};

/// An exposure: under the mask or not, after so many hours.
///
/// At hour 0 there is no difference yet: both halves are fresh. Hours that nobody stated are unknown, not 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exposure {
    /// Under the mask.
    pub masked: bool,
    /// Hours outdoors or in a lamp cabinet; for a masked half, those of the other one.
    pub hours: Option<f64>,
    /// Where the hours are unknown, the number of the photo: nobody knows that two of them are of one age, and each is an exposure of its
    /// own. `None` where they are known.
    pub photo: Option<i64>,
}

impl Exposure {
    /// Of a reading in a photo (its number, or that of the one that it is a copy of).
    #[must_use]
    pub fn of(half: crate::record::Half, hours: Option<f64>, photo: i64) -> Self {
        let fresh = hours.is_some_and(|it| it <= 0.0);
        Self {
            masked: half == crate::record::Half::Masked && !fresh,
            hours,
            photo: Some(photo).filter(|_| hours.is_none()),
        }
    }

    /// As the tables have it.
    pub(super) fn of_row(masked: bool, hours: f64, photo: i64) -> Self {
        Self {
            masked,
            hours: Some(hours).filter(|it| *it > UNKNOWN),
            photo: Some(photo).filter(|_| hours <= UNKNOWN),
        }
    }

    /// Whether it is an age that lists ask for: exposed for so many hours.
    fn is_aged(self) -> bool {
        !self.masked && self.hours.is_some_and(|it| it > 0.0)
    }

    /// For the tables: unknown hours are -1; and their photo, else 0.
    pub(super) fn age(self) -> (f64, i64) {
        (
            self.hours.unwrap_or(UNKNOWN),
            self.photo.unwrap_or_default(),
        )
    }

    fn key(self) -> (bool, u64, i64) {
        let (hours, photo) = self.age();
        (self.masked, hours.to_bits(), photo)
    }

    /// Which of two stands better for the swatch as made: the better is the lesser.
    pub(super) fn as_made(self, other: Self) -> std::cmp::Ordering {
        self.rank()
            .partial_cmp(&other.rank())
            .unwrap_or(std::cmp::Ordering::Equal)
    }

    /// How well it stands for the swatch as made, the best first: fresh; masked; of unknown age, the first photo's; the least aged.
    fn rank(self) -> (u8, f64, i64) {
        let (class, hours) = match (self.masked, self.hours) {
            (_, Some(hours)) if hours <= 0.0 => (0, 0.0),
            (true, hours) => (1, hours.unwrap_or(f64::INFINITY)),
            (false, None) => (2, 0.0),
            (false, Some(hours)) => (3, hours),
        };
        (class, hours, self.photo.unwrap_or_default())
    }
}

/// Unknown hours in the table.
const UNKNOWN: f64 = -1.0;

/// A reading that counts, as the mean sees it, with where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Counted {
    pub(super) point: Point,
    pub(super) exposure: Exposure,
    pub(super) measurement: i64,
    pub(super) half: i64,
}

/// All readings of a swatch that count.
pub(super) fn counted(connection: &Connection, swatch: i64) -> Result<Vec<Counted>, LibraryError> {
    let mut statement = connection.prepare_cached(
        "SELECT reading.specimen, reading.half, measurement.id, measurement.hours, measurement.common_group,
                coalesce(photo.copy_of, photo.id), detail
         FROM specimen
         CROSS JOIN reading ON reading.specimen = specimen.id
         CROSS JOIN measurement ON measurement.id = reading.measurement
         CROSS JOIN photo ON photo.id = measurement.photo
         WHERE specimen.swatch = ?1 AND current = 1",
    )?;
    let mut rows = statement.query([swatch])?;
    let mut all = Vec::new();
    while let Some(row) = rows.next()? {
        let half: i64 = row.get(1)?;
        let packed = row.get_ref(6)?.as_blob().unwrap_or_default();
        let Some(colour) = detail::colour(packed)? else {
            continue;
        };
        let matrix = |m: [[f64; 3]; 3]| Matrix::from_fn(|row, column| m[row][column]);
        all.push(Counted {
            point: Point {
                specimen: row.get(0)?,
                photo: row.get(5)?,
                group: row.get::<_, i64>(4)?.cast_unsigned(),
                lab: Vector3::from(colour.lab),
                own: matrix(colour.own),
                common: matrix(colour.common),
            },
            exposure: Exposure::of(super::store::half_of(half)?, row.get(3)?, row.get(5)?),
            measurement: row.get(2)?,
            half,
        });
    }
    Ok(all)
}

/// The readings by exposure, in a fixed order.
pub(super) fn by_exposure(all: Vec<Counted>) -> Vec<(Exposure, Vec<Counted>)> {
    let mut groups: BTreeMap<(bool, u64, i64), (Exposure, Vec<Counted>)> = BTreeMap::new();
    for it in all {
        let group = groups.entry(it.exposure.key());
        group
            .or_insert_with(|| (it.exposure, Vec::new()))
            .1
            .push(it);
    }
    let mut groups: Vec<_> = groups.into_values().collect();
    groups.sort_by(|a, b| {
        (a.0.masked, a.0.age())
            .partial_cmp(&(b.0.masked, b.0.age()))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    groups
}

/// The mean of readings of one exposure.
pub(super) fn mean(counted: &[Counted]) -> Option<Estimate> {
    let points: Vec<Point> = counted.iter().map(|it| it.point).collect();
    statistics::estimate(&points)
}

/// A row of the table of colours.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    pub(super) exposure: Exposure,
    pub(super) lab: [f64; 3],
    pub(super) covariance: Vec<u8>,
    pub(super) u95: Option<f64>,
    pub(super) specimens: i64,
    pub(super) readings: i64,
    pub(super) disagree: i64,
    pub(super) standard: bool,
}

impl Row {
    /// Whether it is the same up to the last bits, in which machines differ.
    pub(super) fn is(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * (1.0 + a.abs());
        let covariances = (
            unpack_covariance(&self.covariance),
            unpack_covariance(&other.covariance),
        );
        let (Ok(one), Ok(two)) = covariances else {
            return false;
        };
        self.exposure == other.exposure
            && self.lab.iter().zip(other.lab).all(|(a, b)| near(*a, b))
            && self.u95.is_some() == other.u95.is_some()
            // The percentile of draws: a bit of the covariance may choose another draw.
            && (self.u95.unwrap_or(0.0) - other.u95.unwrap_or(0.0)).abs() <= 1e-3 * (1.0 + self.u95.unwrap_or(0.0))
            && (one - two).amax() <= 1e-6 * (1.0 + one.amax())
            && (self.specimens, self.readings, self.disagree, self.standard)
                == (
                    other.specimens,
                    other.readings,
                    other.disagree,
                    other.standard,
                )
    }
}

/// What the table of colours should hold for a swatch.
pub(super) fn rows(connection: &Connection, swatch: i64) -> Result<Vec<Row>, LibraryError> {
    let groups = by_exposure(counted(connection, swatch)?);
    let standard = groups.iter().map(|it| it.0).min_by(|a, b| a.as_made(*b));
    Ok(groups
        .iter()
        .filter_map(|(exposure, counted)| {
            let mean = mean(counted)?;
            let standard = standard.is_some_and(|it| it.key() == exposure.key());
            Some(Row {
                exposure: *exposure,
                lab: [mean.lab.l, mean.lab.a, mean.lab.b],
                covariance: pack_covariance(&mean.parts.total()),
                specimens: number(mean.specimens),
                readings: number(counted.len()),
                disagree: number(mean.disagreeing.len()),
                u95: if standard || exposure.is_aged() {
                    mean.u95()
                } else {
                    None
                },
                standard,
            })
        })
        .collect())
}

/// Makes the colours of a swatch anew.
pub(super) fn derive(connection: &Connection, swatch: i64) -> Result<(), LibraryError> {
    connection
        .prepare_cached("DELETE FROM colour WHERE swatch = ?1")?
        .execute([swatch])?;
    let mut insert = connection.prepare_cached(
        "INSERT INTO colour (swatch, masked, hours, photo, l, a, b, covariance, u95, specimens, readings, disagree, standard)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
    )?;
    for it in rows(connection, swatch)? {
        let (hours, photo) = it.exposure.age();
        insert.execute(params![
            swatch,
            it.exposure.masked,
            hours,
            photo,
            it.lab[0],
            it.lab[1],
            it.lab[2],
            it.covariance,
            it.u95,
            it.specimens,
            it.readings,
            it.disagree,
            it.standard,
        ])?;
    }
    Ok(())
}

/// Six entries, row by row from the diagonal on, 32 bits each: more than any covariance is known to.
pub(super) fn pack_covariance(m: &Matrix) -> Vec<u8> {
    #[expect(clippy::cast_possible_truncation, reason = "32 bits are meant")]
    let entries = (0..3).flat_map(|row| (row..3).map(move |column| m[(row, column)] as f32));
    entries.flat_map(f32::to_le_bytes).collect()
}

pub(super) fn unpack_covariance(packed: &[u8]) -> Result<Matrix, LibraryError> {
    if packed.len() != 24 {
        return Err(LibraryError::damaged(
            "a colour",
            "its covariance has not six entries",
        ));
    }
    let entry = |index: usize| {
        let mut bytes = [0; 4];
        bytes.copy_from_slice(&packed[4 * index..4 * index + 4]);
        f64::from(f32::from_le_bytes(bytes))
    };
    let at = [[0, 1, 2], [1, 3, 4], [2, 4, 5]];
    Ok(Matrix::from_fn(|row, column| entry(at[row][column])))
}

/// A reading of which it was wrong whether it counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Miscounted {
    measurement: i64,
    specimen: i64,
    half: i64,
    swatch: i64,
    counts: bool,
}

/// Lets the best readings of a photo count, and no others.
pub(super) fn count_best(
    connection: &Connection,
    photo: i64,
    panel: &str,
    touched: &mut BTreeSet<i64>,
) -> Result<(), LibraryError> {
    let mut update = connection.prepare_cached(
        "UPDATE reading SET current = ?1 WHERE specimen = ?2 AND half = ?3 AND measurement = ?4",
    )?;
    for it in miscounted(connection, photo, panel)? {
        update.execute(params![it.counts, it.specimen, it.half, it.measurement])?;
        touched.insert(it.swatch);
    }
    Ok(())
}

/// Of several readings of one half of one patch in one photo, or in copies of it, the one with the smallest U95 counts; of equals the
/// first. What of that isn't so.
pub(super) fn miscounted(
    connection: &Connection,
    photo: i64,
    panel: &str,
) -> Result<Vec<Miscounted>, LibraryError> {
    let root: i64 = connection
        .prepare_cached("SELECT coalesce(copy_of, id) FROM photo WHERE id = ?1")?
        .query_row([photo], |row| row.get(0))?;
    let mut statement = connection.prepare_cached(
        "SELECT measurement.id FROM photo
         JOIN measurement ON measurement.photo = photo.id AND measurement.panel_name = ?2
         WHERE photo.id = ?1 OR photo.copy_of = ?1
         ORDER BY measurement.id",
    )?;
    let measurements = statement
        .query_map(params![root, panel], |row| row.get::<_, i64>(0))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    let mut statement = connection.prepare_cached(
        "SELECT specimen.patch, half, specimen.id, swatch, u95, current FROM reading
         JOIN specimen ON specimen.id = reading.specimen
         WHERE measurement = ?1 AND u95 IS NOT NULL",
    )?;
    // By patch and half: U95, and which measurement and specimen have it.
    let mut best: BTreeMap<(String, i64), (f64, i64, i64)> = BTreeMap::new();
    let mut all = Vec::new();
    for measurement in measurements {
        let mut rows = statement.query([measurement])?;
        while let Some(row) = rows.next()? {
            let key: (String, i64) = (row.get(0)?, row.get(1)?);
            let specimen: i64 = row.get(2)?;
            let u95: f64 = row.get(4)?;
            let current: bool = row.get(5)?;
            all.push((
                key.clone(),
                current,
                Miscounted {
                    measurement,
                    specimen,
                    half: key.1,
                    swatch: row.get(3)?,
                    counts: !current,
                },
            ));
            if best.get(&key).is_none_or(|it| u95 < it.0) {
                best.insert(key, (u95, measurement, specimen));
            }
        }
    }
    Ok(all
        .into_iter()
        .filter(|(key, current, it)| {
            let counts = best
                .get(key)
                .is_some_and(|best| (best.1, best.2) == (it.measurement, it.specimen));
            counts != *current
        })
        .map(|it| it.2)
        .collect())
}
