//! The corners of the patch grid, given by hand: in the command, or in a file beside the photo.

use masstone::measure::Refusal;
use masstone::measure::output::with_suffix;
use masstone::measure::photos::CORNERS_SUFFIX;
use serde::Deserialize;
use std::io;
use std::path::Path;

/// Outer corners of the patch grid in stored pixels: from A1's, clockwise as on the panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::cli) struct Corners(pub(in crate::cli) [[f64; 2]; 4]);

/// The side file: one key.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SideFile {
    corners: [[f64; 2]; 4],
}

/// Reads eight numbers with commas between them.
pub(in crate::cli) fn parse(text: &str) -> Result<Corners, String> {
    let numbers: Vec<f64> = text
        .split(',')
        .map(|it| {
            it.trim()
                .parse()
                .map_err(|_| format!("{it:?} is no number"))
        })
        .collect::<Result<_, _>>()?;
    let [x1, y1, x2, y2, x3, y3, x4, y4] = numbers[..] else {
        return Err(format!(
            "eight numbers with commas between them are wanted (x and y of four corners), not {}",
            numbers.len()
        ));
    };
    checked([[x1, y1], [x2, y2], [x3, y3], [x4, y4]])
}

/// The corners in the side file of a photo; none without such a file.
pub(in crate::cli) fn beside(photo: &Path) -> Result<Option<Corners>, Refusal> {
    let path = with_suffix(photo, CORNERS_SUFFIX);
    let refuse = |reason: String| {
        Refusal {
        path: photo.to_owned(),
        reason: format!("its corners in {}: {reason}", path.display()),
        hint: "Write one line, in pixels of the stored picture: corners = [[x, y], [x, y], [x, y], [x, y]]. Or remove the file."
            .to_owned(),
    }
    };
    match std::fs::read_to_string(&path) {
        Ok(text) => {
            let file: SideFile =
                toml::from_str(&text).map_err(|it| refuse(it.to_string().trim_end().to_owned()))?;
            checked(file.corners).map(Some).map_err(refuse)
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(refuse(error.to_string())),
    }
}

fn checked(corners: [[f64; 2]; 4]) -> Result<Corners, String> {
    if corners.iter().flatten().all(|it| it.is_finite()) {
        Ok(Corners(corners))
    } else {
        Err("a coordinate is not a finite number".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eight_finite_numbers_are_four_corners() {
        let corners = parse("1,2, 3,4 ,-5,6.5,7,8").unwrap();
        assert_eq!(
            format!("{corners:?}"),
            "Corners([[1.0, 2.0], [3.0, 4.0], [-5.0, 6.5], [7.0, 8.0]])"
        );
        for (bad, why) in [
            ("1,2,3", "not 3"),
            ("1,2,3,4,5,6,7,8,9", "not 9"),
            ("1,2,3,4,5,6,7,x", "\"x\" is no number"),
            ("1,2,3,4,5,6,7,NaN", "finite"),
        ] {
            assert!(parse(bad).unwrap_err().contains(why), "{bad}");
        }
    }

    #[test]
    fn a_side_file_is_strict() {
        let folder = tempfile::tempdir().unwrap();
        let photo = folder.path().join("a.jpg");
        assert_eq!(beside(&photo), Ok(None));
        let write =
            |text: &str| std::fs::write(folder.path().join("a.jpg.corners.toml"), text).unwrap();
        write("corners = [[1, 2], [3, 4], [5.5, 6], [7, 8]]");
        assert_eq!(
            beside(&photo).unwrap(),
            Some(Corners([[1.0, 2.0], [3.0, 4.0], [5.5, 6.0], [7.0, 8.0]]))
        );
        for (bad, why) in [
            ("corners = [[1, 2], [3, 4], [5, 6]]", "line 1"),
            ("corner = []", "unknown field `corner`"),
            ("corners = [[1, 2], [3, 4], [5, 6], [7, nan]]", "finite"),
            ("corners", "line 1"),
        ] {
            write(bad);
            let refusal = beside(&photo).unwrap_err();
            assert_eq!(refusal.path, photo);
            assert!(
                refusal.reason.contains("a.jpg.corners.toml"),
                "{}",
                refusal.reason
            );
            assert!(refusal.reason.contains(why), "{bad}: {}", refusal.reason);
        }
    }
}
