//! How the stored picture is turned and cut for display: the container's own words. EXIF's orientation says the same once more
//! and doesn't count (ISO/IEC 23008-12).

use crate::photo::error::Problem;
use crate::photo::orientation::Orientation;
use heic_rs::Transform;
use heic_rs::props::simple::{Clap, Mirror, Rotation};

/// What to do with the stored picture, in this order.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turn {
    pub(super) cut: Option<Clap>,
    pub(super) orientation: Orientation,
}

/// From the properties in the order in which they apply.
///
/// # Errors
///
/// If the picture is cut after it was turned, or cut twice: no camera does.
pub(super) fn read(transforms: &[Transform]) -> Result<Turn, Problem> {
    let mut turn = Turn {
        cut: None,
        orientation: Orientation(1),
    };
    for (index, it) in transforms.iter().enumerate() {
        let next = match *it {
            Transform::Crop(cut) if index == 0 => {
                turn.cut = Some(cut);
                continue;
            }
            Transform::Crop(_) => {
                return Err(Problem::Variant {
                    what: "a HEIC picture that is cut after it was turned".to_owned(),
                });
            }
            Transform::Rotate(Rotation::None) => 1,
            Transform::Rotate(Rotation::Ccw90) => 8,
            Transform::Rotate(Rotation::Ccw180) => 3,
            Transform::Rotate(Rotation::Ccw270) => 6,
            // The decoder's names are those of the standard's first edition, where the axis was the mirror's. From
            // ISO/IEC 23008-12:2022, 6.5.12, on 0 exchanges top and bottom (as EXIF's 4), 1 left and right, and so
            // do libheif and libavif.
            Transform::Mirror(Mirror::LeftRight) => 4,
            Transform::Mirror(Mirror::TopBottom) => 2,
        };
        turn.orientation = turn.orientation.then(Orientation(next));
    }
    Ok(turn)
}
