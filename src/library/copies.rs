//! The same shot in other bytes: sent by a messenger, saved again, turned.
//!
//! Two files show one shot if the camera wrote the same time, it is the same camera, every outline lies in the same place of the
//! picture, and the colours are nearly equal. Their errors are the same errors: counting both would make a mean look surer than it is.

use super::{LibraryError, store};
use crate::record::PhotoRecord;
use rusqlite::{Connection, params};

/// Mean ΔE*ab between the readings of two files of one shot, at most: what saving again as JPEG changes, with room.
const COLOUR: f64 = 0.6;
/// Mean distance of corners, as a share of the picture's width, at most. No hand takes a second shot so alike.
const PLACE: f64 = 0.002;

/// The photo (its row) of which this one, new to the library, is a copy.
pub(super) fn original(
    connection: &Connection,
    id: i64,
    record: &PhotoRecord,
) -> Result<Option<(i64, String)>, LibraryError> {
    let shot = &record.photo.metadata;
    let Some(taken) = &shot.taken else {
        return Ok(None);
    };
    let mut statement = connection.prepare_cached(
        "SELECT coalesce(photo.copy_of, photo.id), measurement.id FROM photo
         JOIN measurement ON measurement.photo = photo.id
         WHERE photo.taken = ?1 AND photo.camera IS ?2 AND photo.id <> ?3 AND measurement.panel_name = ?4
         ORDER BY measurement.id",
    )?;
    let rows = statement
        .query_map(
            params![taken, shot.camera, id, record.photo.panel.id],
            |row| Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?)),
        )?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    for (root, measurement) in rows {
        let other = store::record(connection, measurement)?;
        if alike(record, &other) {
            return Ok(Some((root, other.photo.path)));
        }
    }
    Ok(None)
}

fn alike(one: &PhotoRecord, other: &PhotoRecord) -> bool {
    let (mut count, mut colour, mut place) = (0.0, 0.0, 0.0);
    for a in &one.readings {
        let same = other
            .readings
            .iter()
            .find(|b| b.patch == a.patch && b.half == a.half);
        let Some(b) = same else { continue };
        let (Some(here), Some(there)) = (a.lab(), b.lab()) else {
            continue;
        };
        count += 1.0;
        colour += crate::colour::difference::delta_e_76(here, there);
        place += apart(one, a.outline, other, b.outline);
    }
    count > 0.0 && colour / count <= COLOUR && place / count <= PLACE
}

/// Mean distance of the corners, in shares of the picture; the files may be of different size, but not turned.
fn apart(one: &PhotoRecord, a: [[f64; 2]; 4], other: &PhotoRecord, b: [[f64; 2]; 4]) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "sizes of pictures")]
    let share = |record: &PhotoRecord, it: [f64; 2]| {
        let [width, height] = record.photo.size;
        [it[0] / width.max(1) as f64, it[1] / height.max(1) as f64]
    };
    let corners = a.into_iter().zip(b).map(|(a, b)| {
        let (a, b) = (share(one, a), share(other, b));
        (a[0] - b[0]).hypot(a[1] - b[1])
    });
    corners.sum::<f64>() / 4.0
}
