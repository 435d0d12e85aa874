//! Pictures with an alpha channel: it goes if it says nothing, and the picture is refused if it does.

use super::error::Problem;

/// A code value.
pub(super) trait Sample: Copy + PartialEq {
    /// The largest code, which is full opacity.
    const MAX: Self;
}

impl Sample for u8 {
    const MAX: Self = Self::MAX;
}

impl Sample for u16 {
    const MAX: Self = Self::MAX;
}

/// Takes the alpha channel off RGBA samples, in place.
///
/// # Errors
///
/// If any pixel is not fully opaque: what lies behind it is unknown, and so is its colour.
pub(super) fn drop_alpha<T: Sample>(mut samples: Vec<T>, width: usize) -> Result<Vec<T>, Problem> {
    let transparent = |it: &&[T]| it[3] != T::MAX;
    let count = samples.chunks_exact(4).filter(transparent).count();
    if let Some(first) = samples.chunks_exact(4).position(|it| it[3] != T::MAX) {
        return Err(Problem::Transparent {
            count,
            x: first % width,
            y: first / width,
        });
    }
    let pixels = samples.len() / 4;
    for pixel in 0..pixels {
        samples.copy_within(4 * pixel..4 * pixel + 3, 3 * pixel);
    }
    samples.truncate(3 * pixels);
    samples.shrink_to_fit();
    Ok(samples)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_opaque_channel_goes() {
        assert_eq!(
            drop_alpha(vec![1_u8, 2, 3, 255, 4, 5, 6, 255], 2).unwrap(),
            [1, 2, 3, 4, 5, 6]
        );
        assert_eq!(drop_alpha(vec![1_u16, 2, 3, 65_535], 1).unwrap(), [1, 2, 3]);
    }

    #[test]
    fn a_transparent_pixel_is_named() {
        let problem =
            drop_alpha(vec![0_u16, 0, 0, 65_535, 0, 0, 0, 65_535, 0, 0, 0, 255], 2).unwrap_err();
        assert!(
            matches!(
                problem,
                Problem::Transparent {
                    count: 1,
                    x: 0,
                    y: 1
                }
            ),
            "{problem:?}"
        );
    }
}
