//! Files are read back by other libraries than those that wrote them.

use masstone_simulator::{
    Encoding, FileKind, Mixture, Place, ProfileVersion, Rendered, SceneSpec, Space, Split, Trouble,
    icc_profile,
};
use std::io::Cursor;

fn small() -> Rendered {
    let mut spec = SceneSpec::draw(Mixture::Ordinary, Split::Test, 6);
    (spec.stored_as, spec.tag) = (6, Some(6));
    spec.camera.embed_profile = true;
    spec.exif.zoom = Some(2.5);
    spec.build().render_small(320)
}

/// `moxcms` reads the profiles; its colorants are those of the published primaries (ICC's own sRGB and Display P3 profiles
/// have red at .4361 .2225 .0139 and .5151 .2412 −.0011 under D50).
#[test]
fn profiles_are_read_by_another_library() {
    for (space, red) in [
        (Space::Srgb, [0.4361, 0.2225, 0.0139]),
        (Space::DisplayP3, [0.5151, 0.2412, -0.0011]),
    ] {
        for version in [ProfileVersion::V2, ProfileVersion::V4] {
            for encoding in [Encoding::Display, Encoding::Linear] {
                let bytes = icc_profile(space, encoding, version);
                let profile = moxcms::ColorProfile::new_from_slice(&bytes).unwrap();
                assert!(profile.is_matrix_shaper(), "{space:?} {version:?}");
                let own = profile.red_colorant;
                for (a, b) in [own.x, own.y, own.z].iter().zip(red) {
                    assert!((a - b).abs() < 2e-4, "{space:?}: {own:?}");
                }
                assert!(
                    profile.red_trc.is_some()
                        && profile.green_trc.is_some()
                        && profile.blue_trc.is_some()
                );
            }
        }
    }
}

#[test]
fn metadata_is_read_back() {
    let picture = small();
    for kind in [FileKind::Jpeg, FileKind::Png8] {
        let bytes = picture.encode(kind).unwrap();
        let data = exif::Reader::new()
            .read_from_container(&mut Cursor::new(&bytes))
            .unwrap();
        let text = |tag| {
            data.get_field(tag, exif::In::PRIMARY)
                .unwrap()
                .display_value()
                .to_string()
        };
        assert_eq!(
            text(exif::Tag::Orientation),
            "row 0 at right and column 0 at top"
        );
        assert_eq!(text(exif::Tag::Make), "\"Workshop\"");
        assert_eq!(text(exif::Tag::DigitalZoomRatio), "2.5");
        assert_eq!(text(exif::Tag::OffsetTimeOriginal), "\"+01:00\"");
        assert_eq!(
            text(exif::Tag::DateTimeOriginal).replace('-', ":"),
            picture.truth.spec.exif.taken
        );
    }
}

/// Lossless kinds give back the pixels, JPEG nearly; all carry the profile.
#[test]
fn pixels_are_read_back() {
    let picture = small();
    for kind in [
        FileKind::Jpeg,
        FileKind::Png8,
        FileKind::Png16,
        FileKind::Tiff8,
        FileKind::Tiff16,
    ] {
        let bytes = picture.encode(kind).unwrap();
        let reader = image::ImageReader::new(Cursor::new(&bytes))
            .with_guessed_format()
            .unwrap();
        let mut decoder = reader.into_decoder().unwrap();
        use image::ImageDecoder;
        let icc = decoder.icc_profile().unwrap().expect("a profile");
        assert!(moxcms::ColorProfile::new_from_slice(&icc).is_ok());
        assert_eq!(decoder.orientation().unwrap().to_exif(), 6);
        let image = image::DynamicImage::from_decoder(decoder).unwrap();
        assert_eq!(
            (image.width(), image.height()),
            (picture.width, picture.height)
        );
        let read = image.into_rgb16().into_raw();
        let mean = read
            .iter()
            .zip(picture.words())
            .map(|(a, b)| f64::from(a.abs_diff(b)) / 257.0)
            .sum::<f64>()
            / read.len() as f64;
        assert!(
            mean < if kind == FileKind::Jpeg { 6.0 } else { 1e-9 },
            "{kind:?}: {mean}"
        );
    }
}

/// Every panel file is TOML with the keys that the grammar has.
#[test]
fn panel_files_are_toml() {
    for seed in 0..60 {
        let scene = SceneSpec::draw(Mixture::Hard, Split::Test, seed).build();
        let table: toml::Table = scene.panel_toml().parse().unwrap();
        let known = [
            "id",
            "title",
            "substrate",
            "coating",
            "coats",
            "upright",
            "board",
            "grid",
            "card",
            "patch",
        ];
        assert!(
            table.keys().all(|it| known.contains(&it.as_str())),
            "{table}"
        );
        assert_eq!(
            table["patch"].as_array().unwrap().len(),
            scene.spec.layout.recipes.len() + scene.spec.layout.off.len()
        );
        for card in &scene.spec.layout.cards {
            let _: toml::Table = card.kind.toml().parse().unwrap();
        }
    }
}

/// Ordinary scenes can be decided: a card's side, the word `upright`, empty cells or unequal margins; those without a witness
/// have none of them.
#[test]
fn ordinary_scenes_can_be_decided() {
    let witnesses = |spec: &SceneSpec| {
        let layout = &spec.layout;
        let margins = [
            layout.board[0] - layout.first[0],
            layout.board[1] - layout.first[1],
        ];
        let extent = layout.extent();
        [
            layout.cards.iter().any(|it| it.place != Place::Anywhere),
            layout.upright,
            layout.recipes.iter().any(Option::is_none),
            layout.board_stated
                && (0..2).any(|i| (margins[i] - extent[i] - layout.first[i]).abs() > 20.0),
        ]
    };
    for seed in 0..300 {
        let ordinary = SceneSpec::draw(Mixture::Ordinary, Split::Test, seed);
        assert!(
            witnesses(&ordinary).contains(&true),
            "scene {seed} cannot be decided"
        );
        let none = SceneSpec::troubled(Trouble::NoWitness, Split::Test, seed);
        assert!(
            !witnesses(&none).contains(&true),
            "scene {seed} can be decided"
        );
    }
}

/// The truth is JSON and comes back the same.
#[test]
fn truth_is_json() {
    let truth = small().truth;
    let text = serde_json::to_string(&truth).unwrap();
    let back: masstone_simulator::Truth = serde_json::from_str(&text).unwrap();
    assert_eq!(back.patches.len(), truth.patches.len());
    assert_eq!(back.cards, truth.cards);
}
