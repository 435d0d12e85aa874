//! Photos that must be refused, each with the file's name, the reason and the way out; nothing panics.

#![expect(
    clippy::print_stdout,
    reason = "measured figures, and why a test was skipped"
)]
#![expect(clippy::unwrap_used, reason = "helpers of tests")]

use image::{DynamicImage, ImageFormat, Rgb, Rgb32FImage, RgbImage, RgbaImage};
use masstone::photo::{Options, Photo, PhotoError, Problem};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use std::io::Cursor;
use std::path::{Path, PathBuf};
use tiff::encoder::colortype::RGB8;
use tiff::encoder::{Compression, DeflateLevel, TiffEncoder};
use tiff::tags::Tag;

fn data(name: &str) -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photo");
    std::fs::read(folder.join(name)).unwrap()
}

fn take(bytes: Vec<u8>) -> Result<Photo, PhotoError> {
    Photo::from_bytes(Path::new("board.jpg"), bytes, &Options::default())
}

/// The refusal, which must name the file and say what to do.
fn refused(bytes: Vec<u8>, what: &str) -> PhotoError {
    match take(bytes) {
        Ok(_) => panic!("{what} was taken as a photo"),
        Err(it) => {
            assert!(it.to_string().starts_with("board.jpg: "), "{it}");
            assert!(
                it.hint().len() > 20 && it.hint().ends_with('.'),
                "{}",
                it.hint()
            );
            it
        }
    }
}

fn cut_short(bytes: Vec<u8>, what: &str) {
    let it = refused(bytes, what);
    assert!(matches!(it.problem, Problem::Truncated(_)), "{what}: {it}");
}

/// A picture that no codec can shorten: seeded noise.
fn noise(width: u32, height: u32) -> RgbImage {
    let mut draws = ChaCha8Rng::seed_from_u64(11);
    RgbImage::from_fn(width, height, |_, _| {
        let [r, g, b, _] = draws.next_u32().to_le_bytes();
        Rgb([r, g, b])
    })
}

fn encoded(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

fn at_share(bytes: &[u8], percent: usize) -> usize {
    bytes.len() * percent / 100
}

/// All whole files of the kinds that are read.
fn whole_files() -> Vec<(&'static str, Vec<u8>)> {
    let eight = DynamicImage::from(noise(60, 40));
    let sixteen = DynamicImage::from(eight.to_rgb16());
    let files = vec![
        ("a baseline JPEG", data("large-baseline.jpg")),
        ("a JPEG with restart markers", data("large-restarts.jpg")),
        ("a progressive JPEG", data("large-progressive.jpg")),
        ("a PNG", encoded(&eight, ImageFormat::Png)),
        ("a 16-bit PNG", encoded(&sixteen, ImageFormat::Png)),
        ("a TIFF", encoded(&eight, ImageFormat::Tiff)),
        ("a 16-bit TIFF", encoded(&sixteen, ImageFormat::Tiff)),
        ("a HEIC", data("heic/exif-turned-only.heic")),
        ("a HEIC of tiles", data("heic/tiles-turned-icc.heic")),
        ("a 10-bit HEIC", data("heic/ten-bit-icc.heic")),
    ];
    for (what, bytes) in &files {
        assert!(take(bytes.clone()).is_ok(), "{what} does not open whole");
    }
    files
}

#[test]
fn files_cut_anywhere_are_refused() {
    for (what, bytes) in whole_files() {
        for percent in [3, 10, 25, 50, 75, 90, 99] {
            let cut = bytes[..at_share(&bytes, percent)].to_vec();
            let it = refused(cut, &format!("{what} cut at {percent} %"));
            // A TIFF keeps its directory at the end: without it nothing can be said but that it is damaged.
            let tiff = what.contains("TIFF");
            assert!(
                tiff || matches!(it.problem, Problem::Truncated(_)),
                "{what} at {percent} %: {it}"
            );
        }
    }
    cut_short(
        data("large-baseline.jpg")[..15_000].to_vec(),
        "a JPEG without its end",
    );
}

/// What a transfer program or a repair tool leaves: the half that came, closed with an end marker.
///
/// With restart markers it is their number that tells, so the cut is before the last interval.
#[test]
fn jpegs_cut_and_closed_are_refused() {
    for (name, last) in [
        ("large-baseline.jpg", 98),
        ("large-restarts.jpg", 90),
        ("large-progressive.jpg", 98),
    ] {
        let bytes = data(name);
        for percent in [20, 35, 50, 65, 80, 90, 95, 98]
            .into_iter()
            .filter(|it| *it <= last)
        {
            let mut cut = bytes[..at_share(&bytes, percent)].to_vec();
            // Half of an escaped 0xff would make another marker.
            if cut.last() == Some(&0xff) {
                cut.pop();
            }
            cut.extend_from_slice(b"\xff\xd9");
            refused(cut, &format!("{name} cut at {percent} % and closed"));
        }
    }
}

#[test]
fn what_follows_the_end_of_a_jpeg_is_no_harm() {
    for name in [
        "large-baseline.jpg",
        "large-progressive.jpg",
        "eight-pixels.jpg",
    ] {
        let plain = take(data(name)).unwrap();
        let mut longer = data(name);
        longer.extend_from_slice(&data("one-pixel.jpg"));
        longer.extend_from_slice(&[0xff; 7]);
        let photo = take(longer).unwrap();
        assert_eq!(photo.code(3, 5), plain.code(3, 5));
        assert_eq!((photo.width, photo.height), (plain.width, plain.height));
    }
}

/// A TIFF with further tags.
fn tiff_with(compression: Compression, tags: &[(u16, u32)]) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut bytes)
        .unwrap()
        .with_compression(compression);
    let mut picture = encoder.new_image::<RGB8>(60, 40).unwrap();
    for (tag, value) in tags {
        picture
            .encoder()
            .write_tag(Tag::Unknown(*tag), *value)
            .unwrap();
    }
    picture.write_data(noise(60, 40).as_raw()).unwrap();
    bytes.into_inner()
}

/// TIFF directories may stand first: then only the data are missing.
#[test]
fn a_tiff_whose_data_end_early_is_cut_short() {
    let kinds = [
        ("uncompressed", Compression::Uncompressed),
        ("LZW", Compression::Lzw),
        ("Deflate", Compression::Deflate(DeflateLevel::Balanced)),
        ("PackBits", Compression::Packbits),
    ];
    for (name, kind) in kinds {
        let mut bytes = tiff_with(kind, &[]);
        assert!(take(bytes.clone()).is_ok(), "{name} does not open whole");
        // The last strip's offset is moved to where half of its data would lie beyond the end.
        let at = tiff_last_value(&bytes, 273);
        let count = read_u32(&bytes, tiff_last_value(&bytes, 279));
        let offset = u32::try_from(bytes.len()).unwrap() - count / 2;
        bytes[at..at + 4].copy_from_slice(&offset.to_le_bytes());
        cut_short(bytes, &format!("a TIFF cut short, {name}"));
    }
}

fn read_u32(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
}

/// Where the last of an entry's four-byte values stands.
fn tiff_last_value(bytes: &[u8], tag: u16) -> usize {
    let entry = tiff_entry(bytes, tag);
    let count = read_u32(bytes, entry + 4);
    if count == 1 {
        return entry + 8;
    }
    usize::try_from(read_u32(bytes, entry + 8) + 4 * (count - 1)).unwrap()
}

fn tiff_entry(bytes: &[u8], tag: u16) -> usize {
    let directory = usize::try_from(u32::from_le_bytes(bytes[4..8].try_into().unwrap())).unwrap();
    (directory + 2..)
        .step_by(12)
        .find(|at| bytes[*at..at + 2] == tag.to_le_bytes())
        .unwrap()
}

#[test]
fn raw_files_in_tiff_clothes_say_what_to_set_on_the_camera() {
    let (subfile_type, sub_pictures) = (254, 330);
    let tags = &[(subfile_type, 1), (sub_pictures, 8)];
    let it = refused(tiff_with(Compression::Uncompressed, tags), "a raw file");
    assert!(
        it.to_string().contains("raw") && it.hint().contains("DNG"),
        "{it}"
    );
    assert!(take(tiff_with(Compression::Uncompressed, &[(sub_pictures, 8)])).is_ok());
}

/// The checksums and the structure are right, but the pixels' data stop halfway.
#[test]
fn a_png_whose_data_end_early_is_refused() {
    let whole = encoded(&DynamicImage::from(noise(60, 40)), ImageFormat::Png);
    let length = usize::try_from(u32::from_be_bytes(whole[33..37].try_into().unwrap())).unwrap();
    assert_eq!(&whole[37..41], b"IDAT");
    for keep in [length / 2, length - 8, 0] {
        let mut bytes = whole[..33].to_vec();
        bytes.extend(png_chunk(*b"IDAT", &whole[41..41 + keep]));
        bytes.extend(png_chunk(*b"IEND", b""));
        refused(bytes, &format!("a PNG with {keep} bytes of data"));
    }
}

/// The format has no checksums, so damage that leaves the number of blocks as it is passes. Most does not, unless
/// restart markers set the count right again.
#[test]
fn most_damaged_jpegs_are_refused() {
    for name in ["large-baseline.jpg", "large-progressive.jpg"] {
        let bytes = data(name);
        let mut draws = ChaCha8Rng::seed_from_u64(3);
        let mut passed = 0;
        for _ in 0..100 {
            let mut damaged = bytes.clone();
            // A run of 64 bytes in the picture's data, as a lost block of a transfer would be.
            let at =
                bytes.len() / 5 + usize::try_from(draws.next_u32()).unwrap() % (bytes.len() / 2);
            draws.fill_bytes(&mut damaged[at..at + 64]);
            passed += usize::from(take(damaged).is_ok());
        }
        println!("{name}: {passed} of 100 passed");
        assert!(
            passed <= 10,
            "{name}: {passed} of 100 damaged files were taken"
        );
    }
}

/// No assertion on the result: a flipped byte may make another valid picture. Nothing may panic, though.
#[test]
fn flipped_bytes_never_panic() {
    let mut draws = ChaCha8Rng::seed_from_u64(5);
    let mut files = whole_files();
    for name in ["icc-mixed-8.png", "baseline-420.jpg", "progressive-420.jpg"] {
        files.push((name, data(name)));
    }
    files.push(("a JPEG with metadata", with_exif(&exif_block())));
    files.push((
        "a JPEG with a profile",
        with_icc(&[(1, 1, &data("p3.icc"))]),
    ));
    let mut refusals = 0;
    for (what, bytes) in files {
        let headers = bytes.len().min(700);
        for round in 0..400 {
            let mut damaged = bytes.clone();
            // Headers are where the traps are; every fourth hit goes anywhere.
            let reach = if round % 4 == 0 {
                damaged.len()
            } else {
                headers
            };
            for _ in 0..=round % 3 {
                let at = usize::try_from(draws.next_u32()).unwrap() % reach;
                damaged[at] = draws.next_u32().to_le_bytes()[0];
            }
            if let Err(it) = take(damaged) {
                assert!(
                    !it.to_string().contains("unexpectedly"),
                    "{what}, round {round}: {it}"
                );
                refusals += 1;
            }
        }
    }
    println!("{refusals} refused");
    assert!(
        refusals > 500,
        "only {refusals} were refused: is the damage done at all?"
    );
}

fn png_chunk(name: [u8; 4], body: &[u8]) -> Vec<u8> {
    let mut chunk = u32::try_from(body.len()).unwrap().to_be_bytes().to_vec();
    chunk.extend_from_slice(&name);
    chunk.extend_from_slice(body);
    let sum = chunk[4..].iter().fold(u32::MAX, |sum, byte| {
        (0..8).fold(sum ^ u32::from(*byte), |it, _| {
            (it >> 1) ^ (0xedb8_8320 * (it & 1))
        })
    });
    chunk.extend_from_slice(&(!sum).to_be_bytes());
    chunk
}

/// A PNG of one pixel's data whose header claims what it likes.
fn png_claiming(width: u32, height: u32, chunks: &[([u8; 4], &[u8])]) -> Vec<u8> {
    let whole = encoded(&DynamicImage::from(noise(2, 2)), ImageFormat::Png);
    let mut header = width.to_be_bytes().to_vec();
    header.extend_from_slice(&height.to_be_bytes());
    header.extend_from_slice(&[8, 2, 0, 0, 0]);
    let mut bytes = whole[..8].to_vec();
    bytes.extend(png_chunk(*b"IHDR", &header));
    for (name, body) in chunks {
        bytes.extend(png_chunk(*name, body));
    }
    bytes.extend_from_slice(&whole[33..]);
    bytes
}

#[test]
fn headers_that_claim_too_much_are_refused_before_memory_is_taken() {
    let bomb = refused(
        png_claiming(100_000, 100_000, &[]),
        "a PNG of 100,000 × 100,000",
    );
    assert!(
        bomb.to_string().contains("100000 × 100000") && bomb.to_string().contains("250"),
        "{bomb}"
    );

    let mut jpeg = data("eight-pixels.jpg");
    let frame = jpeg
        .windows(4)
        .position(|it| it == b"\xff\xc0\x00\x11")
        .unwrap();
    jpeg[frame + 5..frame + 9].copy_from_slice(&[0xff, 0xff, 0xff, 0xff]);
    let bomb = refused(jpeg.clone(), "a JPEG of 65,535 × 65,535");
    assert!(matches!(bomb.problem, Problem::TooLarge { .. }), "{bomb}");
    // Within the limit, but far beyond what the data can hold.
    jpeg[frame + 5..frame + 9].copy_from_slice(&[0x30, 0x00, 0x40, 0x00]);
    cut_short(jpeg, "a JPEG of 16,384 × 12,288 in 600 bytes");

    let mut tiff = encoded(&DynamicImage::from(noise(2, 2)), ImageFormat::Tiff);
    for tag in [256_u16, 257] {
        let entry = tiff_entry(&tiff, tag);
        tiff[entry + 2..entry + 12].copy_from_slice(&[4, 0, 1, 0, 0, 0, 0xa0, 0x86, 1, 0]);
    }
    let bomb = refused(tiff, "a TIFF of 100,000 × 100,000");
    assert!(matches!(bomb.problem, Problem::TooLarge { .. }), "{bomb}");
}

#[test]
fn what_is_no_photo_is_named() {
    let cases: [(&[u8], &str); 6] = [
        (b"", "empty"),
        (b"a,b\n1,2\n", "text"),
        (&[0; 5000], "zeros"),
        (b"\0\0\0\x1cftypmif1\0\0\0\0mif1avif", "AVIF"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"GIF89a......", "GIF"),
    ];
    for (bytes, word) in cases {
        let it = refused(bytes.to_vec(), word);
        assert!(it.to_string().contains(word), "{it} lacks {word}");
    }
}

#[test]
fn pictures_that_hold_no_camera_colours_are_refused() {
    let grey = DynamicImage::from(noise(9, 9)).to_luma8();
    for bytes in [
        data("grey.jpg"),
        encoded(&DynamicImage::from(grey.clone()), ImageFormat::Png),
        encoded(&DynamicImage::from(grey), ImageFormat::Tiff),
    ] {
        assert!(matches!(refused(bytes, "grey").problem, Problem::Grey));
    }
    assert!(matches!(
        refused(data("cmyk.jpg"), "inks").problem,
        Problem::Inks
    ));
    let float = DynamicImage::from(Rgb32FImage::from_pixel(4, 4, Rgb([0.5, 0.5, 0.5])));
    let it = refused(encoded(&float, ImageFormat::Tiff), "a TIFF of floats");
    assert!(it.to_string().contains("floating-point"), "{it}");
}

#[test]
fn transparency_is_refused_and_an_opaque_alpha_channel_is_not() {
    let opaque: RgbaImage = DynamicImage::from(noise(7, 5)).to_rgba8();
    let mut clear = opaque.clone();
    clear.get_pixel_mut(4, 3)[3] = 254;
    for format in [ImageFormat::Png, ImageFormat::Tiff] {
        let photo = take(encoded(&DynamicImage::from(opaque.clone()), format)).unwrap();
        let [r, g, b, _] = opaque.get_pixel(6, 4).0;
        assert_eq!(photo.code(6, 4), [r, g, b].map(u16::from));
        let it = refused(
            encoded(&DynamicImage::from(clear.clone()), format),
            "a clear pixel",
        );
        assert!(it.to_string().contains("x 4, y 3"), "{it}");
    }
}

/// `eight-pixels.jpg` with segments put in after its start.
fn with_segments(segments: &[(u8, Vec<u8>)]) -> Vec<u8> {
    let whole = data("eight-pixels.jpg");
    let mut bytes = whole[..2].to_vec();
    for (marker, body) in segments {
        bytes.extend_from_slice(&[0xff, *marker]);
        bytes.extend_from_slice(&u16::try_from(body.len() + 2).unwrap().to_be_bytes());
        bytes.extend_from_slice(body);
    }
    bytes.extend_from_slice(&whole[2..]);
    bytes
}

/// Parts of a profile: number, of how many, data.
fn with_icc(parts: &[(u8, u8, &[u8])]) -> Vec<u8> {
    let segments: Vec<_> = parts
        .iter()
        .map(|(number, of, data)| (0xe2, [b"ICC_PROFILE\0", &[*number, *of][..], data].concat()))
        .collect();
    with_segments(&segments)
}

#[test]
fn a_profile_in_parts_is_put_together_and_a_broken_one_is_refused() {
    let icc = data("p3.icc");
    let (first, second) = icc.split_at(200);
    let photo = take(with_icc(&[(2, 2, second), (1, 2, first)])).unwrap();
    assert_eq!(photo.encoding.name, "P3, function type 3");

    let mut no_curve = icc.clone();
    let tag = no_curve.windows(4).position(|it| it == b"gTRC").unwrap();
    no_curve[tag] = b'x';
    let mut flat = icc.clone();
    let tag = flat.windows(4).position(|it| it == b"gXYZ").unwrap();
    flat.copy_within(tag - 8..tag - 4, tag + 4);
    // Blue's Z raised by what the sum of colorants relative to D65 has beyond D50's: 1.089 instead of 0.825.
    let mut unadapted = icc.clone();
    let tag = unadapted.windows(4).position(|it| it == b"bXYZ").unwrap();
    let at = usize::from(unadapted[tag + 6]) * 256 + usize::from(unadapted[tag + 7]) + 16;
    let z = i32::from_be_bytes(unadapted[at..at + 4].try_into().unwrap());
    unadapted[at..at + 4].copy_from_slice(&(z + 17_302).to_be_bytes());
    let it = refused(with_icc(&[(1, 1, &unadapted)]), "colorants relative to D65");
    assert!(it.to_string().contains("Z 1.089"), "{it}");
    let broken: [(&str, Vec<u8>); 6] = [
        ("colorants relative to D65", with_icc(&[(1, 1, &unadapted)])),
        ("a missing part", with_icc(&[(1, 2, first)])),
        ("half a profile", with_icc(&[(1, 1, &icc[..icc.len() / 2])])),
        ("noise", with_icc(&[(1, 1, &[7; 300])])),
        ("no green curve", with_icc(&[(1, 1, &no_curve)])),
        ("green on the place of red", with_icc(&[(1, 1, &flat)])),
    ];
    for (what, bytes) in broken {
        let it = refused(bytes, what);
        assert!(
            matches!(it.problem, Problem::BrokenProfile(_)),
            "{what}: {it}"
        );
        assert!(it.hint().contains("sRGB or Display P3"), "{}", it.hint());
    }
}

#[test]
fn profiles_of_other_kinds_are_refused() {
    let with = |at: usize, value: &[u8]| {
        let mut icc = data("p3.icc");
        icc[at..at + value.len()].copy_from_slice(value);
        with_icc(&[(1, 1, &icc)])
    };
    let cases = [
        ("CMYK", with(16, b"CMYK")),
        ("grey", with(16, b"GRAY")),
        ("class", with(12, b"link")),
        ("tables", data("icc-with-tables.png")),
    ];
    for (word, bytes) in cases {
        let it = refused(bytes, word);
        assert!(matches!(it.problem, Problem::ProfileKind(_)), "{it}");
        assert!(it.to_string().contains(word), "{it} lacks {word}");
    }
}

#[test]
fn a_png_says_its_colours_in_chunks() {
    use masstone::photo::EncodingSource::{AssumedSrgb, Stated, StatedSrgb};
    let source =
        |chunks: &[([u8; 4], &[u8])]| take(png_claiming(2, 2, chunks)).map(|it| it.encoding.source);
    assert_eq!(source(&[]).unwrap(), AssumedSrgb);
    assert_eq!(source(&[(*b"sRGB", &[0])]).unwrap(), StatedSrgb);
    assert_eq!(
        source(&[(*b"gAMA", &45_455_u32.to_be_bytes())]).unwrap(),
        AssumedSrgb
    );
    assert_eq!(source(&[(*b"cICP", &[12, 13, 0, 1])]).unwrap(), Stated);
    assert_eq!(source(&[(*b"cICP", &[1, 13, 0, 1])]).unwrap(), StatedSrgb);
    for chunk in [
        (*b"cICP", &[9, 16, 0, 1][..]),
        (*b"gAMA", &100_000_u32.to_be_bytes()),
        (*b"cHRM", &[[0, 0, 0x7a, 0x26]; 8].concat()),
    ] {
        let it = refused(png_claiming(2, 2, &[chunk]), "another colour statement");
        assert!(matches!(it.problem, Problem::ColourStatement(_)), "{it}");
    }
    let broken = refused(
        png_claiming(2, 2, &[(*b"iCCP", b"name\0\0not deflate")]),
        "a broken iCCP",
    );
    assert!(
        matches!(broken.problem, Problem::BrokenProfile(_)),
        "{broken}"
    );
}

/// Orientation 6 and a camera, little-endian, by the layout of TIFF 6.0.
fn exif_block() -> Vec<u8> {
    let mut block = b"II*\0\x08\0\0\0\x02\0".to_vec();
    block.extend_from_slice(b"\x10\x01\x02\0\x06\0\0\0\x26\0\0\0");
    block.extend_from_slice(b"\x12\x01\x03\0\x01\0\0\0\x06\0\0\0");
    block.extend_from_slice(b"\0\0\0\0Box 1\0");
    block
}

fn with_exif(block: &[u8]) -> Vec<u8> {
    with_segments(&[(0xe1, [b"Exif\0\0", block].concat())])
}

#[test]
fn broken_metadata_is_missing_metadata() {
    let sound = take(with_exif(&exif_block())).unwrap();
    assert_eq!(sound.metadata.camera.as_deref(), Some("Box 1"));
    assert_eq!((sound.orientation.0, sound.display_size()), (6, (8, 8)));

    let photo = take(with_exif(b"II*\0\xff\xff\xff\xffgarbage")).unwrap();
    assert_eq!((photo.metadata.camera, photo.orientation.0), (None, 1));
    // The entries point outside of the block: the one that doesn't is kept.
    let half = take(with_exif(&exif_block()[..36])).unwrap();
    assert_eq!((half.metadata.camera, half.orientation.0), (None, 6));
    assert!(take(with_exif(b"")).is_ok());
}

#[test]
fn paths_that_are_no_files_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let cases: [(PathBuf, &str); 2] = [
        (folder.path().to_owned(), "not a file"),
        (folder.path().join("gone.jpg"), "can't be read"),
    ];
    for (path, words) in cases {
        let it = Photo::open(&path, &Options::default()).unwrap_err();
        assert!(
            it.to_string().contains(words) && it.to_string().contains(&path.display().to_string()),
            "{it}"
        );
    }
    let text = folder.path().join("größe.jpg");
    std::fs::write(&text, "not a photo").unwrap();
    let it = Photo::open(&text, &Options::default()).unwrap_err();
    assert!(
        it.to_string().contains("größe.jpg") && it.to_string().contains("text"),
        "{it}"
    );
}
