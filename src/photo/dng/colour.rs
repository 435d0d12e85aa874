//! What a file says of its sensor's colours.

use super::directory::Directory;
use super::tags;
use crate::colour::Matrix;
use crate::colour::camera::{CameraColour, StatedLight};
use crate::colour::white::D50;
use crate::photo::error::Problem;

/// Reads matrices, gains and the white that the camera judged by; what had to be supposed goes to `remarks`.
///
/// # Errors
///
/// If no matrix is stated, or one of them makes no sense.
pub(super) fn read(
    directory: &Directory<'_>,
    remarks: &mut Vec<String>,
) -> Result<CameraColour, Problem> {
    let first = light(directory, 0)?;
    let second = light(directory, 1)?;
    let (light, other) = match (first, second) {
        (Some(one), other) => (one, other),
        (None, Some(other)) => (other, None),
        (None, None) => {
            return Err(Problem::SensorValues(
                "no matrix says what their colours are".to_owned(),
            ));
        }
    };
    // Of several lights those of unknown warmth can't be mixed.
    let (light, other) = match (light, other) {
        (Stated { light, known: true }, Some(Stated { known: false, .. })) => (light, None),
        (Stated { known: false, .. }, Some(other)) => (other.light, None),
        (one, other) => (one.light, other.map(|it| it.light)),
    };
    if directory.has(tags::THIRD_MATRIX) {
        remarks.push("the raw file's matrices for a third light were left aside".to_owned());
    }
    let balance = directory.numbers(tags::ANALOG_BALANCE)?;
    let analog_balance = three(balance, tags::ANALOG_BALANCE)?.unwrap_or([1.0; 3]);
    let mut colour = CameraColour {
        light,
        other,
        analog_balance,
        as_shot: [1.0; 3],
    };
    colour.as_shot = as_shot(directory, &colour, remarks)?;
    if colour.balanced_to_xyz([1.0; 3]).is_none() {
        return Err(Problem::Damaged(
            "its colour matrices make no white of what it says is white".to_owned(),
        ));
    }
    Ok(colour)
}

fn as_shot(
    directory: &Directory<'_>,
    colour: &CameraColour,
    remarks: &mut Vec<String>,
) -> Result<[f64; 3], Problem> {
    if let Some(neutral) = three(
        directory.numbers(tags::AS_SHOT_NEUTRAL)?,
        tags::AS_SHOT_NEUTRAL,
    )? {
        return Ok(neutral.map(|it| it / neutral[1]));
    }
    let stated = directory.numbers(tags::AS_SHOT_WHITE)?;
    let stated: Option<[f64; 2]> = stated.and_then(|it| it.try_into().ok());
    let white = stated.unwrap_or_else(|| {
        remarks.push("the raw file says nothing of the light: D50 was the start".to_owned());
        let sum: f64 = D50.iter().sum();
        [D50[0] / sum, D50[1] / sum]
    });
    colour.neutral_of(white).ok_or_else(|| {
        Problem::Damaged("its colour matrices make nothing of the light that it states".to_owned())
    })
}

struct Stated {
    light: StatedLight,
    /// Whether its temperature is.
    known: bool,
}

/// What is stated for the first or second light.
fn light(directory: &Directory<'_>, index: usize) -> Result<Option<Stated>, Problem> {
    let matrix = |tag: u16| -> Result<Option<Matrix>, Problem> {
        let Some(numbers) = directory.numbers(tag)? else {
            return Ok(None);
        };
        if numbers.len() != 9 {
            return Err(Problem::SensorValues(format!(
                "a matrix of their colours has {} numbers, not 9",
                numbers.len()
            )));
        }
        let matrix = Matrix::from_row_slice(&numbers);
        match matrix.try_inverse() {
            Some(_) => Ok(Some(matrix)),
            None => Err(Problem::Damaged(
                "a matrix of its sensor's colours can't be inverted".to_owned(),
            )),
        }
    };
    let Some(xyz_to_camera) = matrix(tags::COLOUR_MATRIX[index])? else {
        return Ok(None);
    };
    // A calibration that was made for other matrices says nothing of these.
    let text = |tag| {
        let bytes = directory.bytes(tag).unwrap_or_default();
        bytes.split(|byte| *byte == 0).next().unwrap_or_default()
    };
    let its_own = text(tags::CALIBRATED_BY) == text(tags::CALIBRATED_FOR);
    let calibration = matrix(tags::CALIBRATION[index])?.filter(|_| its_own);
    let illuminant = directory.whole(tags::ILLUMINANT[index]).unwrap_or(0);
    let temperature = temperature(illuminant);
    Ok(Some(Stated {
        light: StatedLight {
            temperature: temperature.unwrap_or(5000.0),
            xyz_to_camera,
            calibration: calibration.unwrap_or_else(Matrix::identity),
            balanced_to_xyz: matrix(tags::FORWARD_MATRIX[index])?,
        },
        known: temperature.is_some(),
    }))
}

/// Correlated colour temperature, K, of EXIF's light sources (CIPA DC-008, `LightSource`): of lamps in a range, its middle; of the others,
/// common practice (A and D65 as colour-hdri 0.2.6 has them).
fn temperature(source: usize) -> Option<f64> {
    Some(match source {
        1 | 4 | 9 | 18 | 20 => 5500.0,
        2 | 14 => 4150.0,
        3 | 17 => 2850.0,
        10 | 19 | 21 => 6500.0,
        11 | 22 => 7500.0,
        12 => 6400.0,
        13 => 5050.0,
        15 => 3525.0,
        16 => 2925.0,
        23 => 5000.0,
        24 => 3200.0,
        _ => return None,
    })
}

fn three(numbers: Option<Vec<f64>>, tag: u16) -> Result<Option<[f64; 3]>, Problem> {
    let Some(numbers) = numbers else {
        return Ok(None);
    };
    let three: Option<[f64; 3]> = numbers.try_into().ok();
    let three = three.filter(|it| it.iter().all(|it| *it > 0.0));
    let broken = || Problem::Damaged(format!("its entry {tag} does not hold three gains"));
    three.map(Some).ok_or_else(broken)
}
