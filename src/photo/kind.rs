//! What a file is, by its content: names and extensions are not trusted.

use super::error::Problem;

/// A format that is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Heif,
    Jpeg,
    Png,
    Tiff,
}

const PHONE: &str = "Set the camera to save JPEG or HEIC and shoot again. Photos already taken can be exported as JPEG (best \
    quality, original size) on the phone.";
pub(super) const RAW: &str =
    "Of raw files only DNG is read. Set the camera to save DNG or JPEG, or both, and give either.";
const WEB: &str = "Give the camera's own JPEG; files made for the web have lost colour detail.";
const MOVIE: &str = "Take a photo instead; frames of a film are too heavily processed.";

/// Knows a format by its first bytes.
///
/// # Errors
///
/// Names what the file is instead, with what to set on the phone or camera.
pub(super) fn of(bytes: &[u8]) -> Result<Kind, Problem> {
    let other = |format, hint| Err(Problem::OtherFormat { format, hint });
    let starts = |magic: &[u8]| bytes.starts_with(magic);
    let at = |offset: usize, magic: &[u8]| bytes.get(offset..offset + magic.len()) == Some(magic);
    if bytes.is_empty() {
        return Err(Problem::Empty);
    }
    if starts(b"\xff\xd8\xff") {
        return Ok(Kind::Jpeg);
    }
    if starts(b"\x89PNG\r\n\x1a\n") {
        return Ok(Kind::Png);
    }
    if at(4, b"ftyp") {
        return iso_media(bytes);
    }
    if starts(b"IIRO") || starts(b"IIRS") || starts(b"MMOR") || starts(b"IIU\0") {
        return other("a camera's raw file", RAW);
    }
    if at(8, b"CR\x02") && starts(b"II*\0") {
        return other("a camera's raw file", RAW);
    }
    if starts(b"FUJIFILMCCD-RAW") || starts(b"FOVb") || starts(b"\0MRM") || at(6, b"HEAPCCDR") {
        return other("a camera's raw file", RAW);
    }
    if starts(b"II*\0") || starts(b"MM\0*") || starts(b"II+\0") || starts(b"MM\0+") {
        return Ok(Kind::Tiff);
    }
    if starts(b"RIFF") && at(8, b"WEBP") {
        return other("a WebP picture", WEB);
    }
    if starts(b"GIF8") {
        return other("a GIF picture, which has too few colours", WEB);
    }
    if starts(b"%PDF") {
        return other("a PDF document", "Give the photo itself.");
    }
    if starts(b"\xff\x0a") || starts(b"\0\0\0\x0cJXL \r\n\x87\n") {
        return other("a JPEG XL picture", PHONE);
    }
    if starts(b"\0\0\0\x0cjP  \r\n\x87\n") || starts(b"\xff\x4f\xff\x51") {
        return other("a JPEG 2000 picture", EXPORT_JPEG);
    }
    if starts(b"8BPS") {
        return other("an image editor's layered file", EXPORT_JPEG);
    }
    if starts(b"BM") && bytes.len() > 26 {
        return other("a BMP picture", EXPORT_JPEG);
    }
    if starts(b"v/1\x01") || starts(b"#?RADIANCE") {
        return other("a high dynamic range picture", EXPORT_JPEG);
    }
    if starts(b"PK\x03\x04") {
        return other("a ZIP archive", "Unpack it and give the photos.");
    }
    Err(Problem::NotAPicture {
        found: describe(bytes),
    })
}

const EXPORT_JPEG: &str =
    "Give the camera's own JPEG, or save the picture as PNG or TIFF with its colour profile.";

/// An ISO base media file (ISO/IEC 14496-12), by its major and compatible brands.
fn iso_media(bytes: &[u8]) -> Result<Kind, Problem> {
    let length = bytes.first_chunk().map_or(0, |it| u32::from_be_bytes(*it));
    let end = bytes
        .len()
        .min(usize::try_from(length).unwrap_or(usize::MAX))
        .min(256);
    let brands = bytes.get(8..end).unwrap_or_default();
    let has = |names: &[&[u8; 4]]| {
        brands
            .chunks_exact(4)
            .any(|brand| names.iter().any(|it| brand == *it))
    };
    let (format, hint) = if has(&[b"avif", b"avis"]) {
        ("an AVIF picture", PHONE)
    } else if has(&[
        b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"miaf",
    ]) {
        return Ok(Kind::Heif);
    } else if has(&[b"crx "]) {
        ("a camera's raw file", RAW)
    } else {
        ("a film", MOVIE)
    };
    Err(Problem::OtherFormat { format, hint })
}

/// Enough of a description to see which file was meant.
fn describe(bytes: &[u8]) -> &'static str {
    let head = &bytes[..bytes.len().min(512)];
    let markup = |tag: &[u8]| {
        head.to_ascii_lowercase()
            .windows(tag.len())
            .any(|it| it == tag)
    };
    if bytes.iter().take(4096).all(|it| *it == 0) {
        "holds only zeros"
    } else if markup(b"<html") || markup(b"<!doctype") {
        "is a web page, perhaps saved in the photo's place"
    } else if markup(b"<svg") {
        "is a drawing (SVG)"
    } else if head
        .iter()
        .all(|it| *it >= 0x20 || matches!(it, b'\t' | b'\n' | b'\r'))
    {
        "holds text"
    } else {
        "has an unknown beginning"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_known_by_their_first_bytes() {
        assert_eq!(of(b"\xff\xd8\xff\xe1").unwrap(), Kind::Jpeg);
        assert_eq!(of(b"\x89PNG\r\n\x1a\n....").unwrap(), Kind::Png);
        assert_eq!(of(b"MM\0*....").unwrap(), Kind::Tiff);
        assert_eq!(of(b"\0\0\0\x18ftypheic\0\0\0\0").unwrap(), Kind::Heif);
        let refused: [(&[u8], &str); 7] = [
            (b"", "empty"),
            (b"\0\0\0\x18ftypavif\0\0\0\0", "AVIF"),
            (b"\0\0\0\x18ftypisom\0\0\0\0", "film"),
            (b"RIFF\0\0\0\0WEBPVP8 ", "WebP"),
            (b"II*\0\x10\0\0\0CR\x02\0", "raw"),
            (b"patch,L,a,b\nA1,50,0,0\n", "text"),
            (b"<!DOCTYPE html><p>gone", "web page"),
        ];
        for (bytes, word) in refused {
            let problem = of(bytes).unwrap_err();
            assert!(problem.to_string().contains(word), "{problem} lacks {word}");
            assert!(problem.hint().ends_with('.'));
        }
    }

    #[test]
    fn an_avif_file_says_what_to_set_on_the_phone() {
        let problem = of(b"\0\0\0\x1cftypmif1\0\0\0\0mif1avif").unwrap_err();
        assert!(
            problem.hint().contains("JPEG or HEIC"),
            "{}",
            problem.hint()
        );
    }
}
