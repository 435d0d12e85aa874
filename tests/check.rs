//! Each flaw moves its own figure beyond tolerance, by as much as was put in; a good photo passes all.

#![expect(clippy::unwrap_used, reason = "a test may fail")]

mod shot;

use masstone::check::{Finding, Item, Verdict, check};
use masstone::photo::{EncodingSource, Pixels};
use masstone_simulator as sim;
use shot::{Shot, shoot};

/// Even light, the right white balance, no tone curve, little noise; the board fills the frame.
fn good() -> sim::SceneSpec {
    let mut spec = sim::SceneSpec::draw(sim::Mixture::Flawless, sim::Split::Test, 11);
    spec.layout.masked = None;
    spec.exposure = 0.0;
    spec.clutter.clear();
    spec.pose.fill = 0.92;
    spec.pose.tilt = 4.0;
    spec.pose.turn = 0.0;
    spec.stored_as = 1;
    spec.tag = Some(1);
    spec.grain = 0.3;
    spec.camera.space = sim::Space::DisplayP3;
    spec.camera.white_level = 0.8;
    spec
}

const LONG_SIDE: u32 = 3000;

fn figures(shot: &Shot) -> Vec<Finding> {
    check(
        &shot.photo,
        Some(&shot.panel),
        Some(&shot.located),
        Some(&shot.samples()),
    )
}

fn find(findings: &[Finding], item: Item) -> &Finding {
    let found = findings.iter().find(|it| it.item == item);
    found.unwrap_or_else(|| panic!("{item:?} was not looked at"))
}

fn value(findings: &[Finding], item: Item) -> f64 {
    let found = find(findings, item);
    found.measured.unwrap_or_else(|| panic!("{found:?}"))
}

/// The findings on the good scene with a flaw.
fn with(flaw: impl Fn(&mut sim::SceneSpec)) -> Vec<Finding> {
    let mut spec = good();
    flaw(&mut spec);
    figures(&shoot(&spec, LONG_SIDE))
}

#[test]
fn a_good_photo_passes_everything() {
    let findings = with(|_| {});
    let bad: Vec<_> = findings
        .iter()
        .filter(|it| matches!(it.verdict, Verdict::NotGood | Verdict::NotJudged))
        .collect();
    assert!(bad.is_empty(), "{bad:#?}");
}

#[test]
fn fall_off_is_reported_as_it_was_put_in() {
    // exp(−0.36) over the whole width: 30 %.
    let findings = with(|it| it.field.linear = [0.18, 0.0]);
    let put_in = 100.0 * (1.0 - (-0.36_f64).exp());
    let measured = value(&findings, Item::UnevenLight);
    assert!((measured - put_in).abs() < 4.0, "{measured} for {put_in}");
    assert_eq!(find(&findings, Item::UnevenLight).verdict, Verdict::NotGood);
    assert!(
        value(&findings, Item::ShadowEdge) < 4.0,
        "a slope is no edge"
    );
}

#[test]
fn a_shadow_is_reported_as_deep_as_it_is() {
    let extent = good().layout.extent();
    for (left, towards) in [(0.8, 0.0), (0.7, 90.0), (0.85, 30.0)] {
        let findings = with(|it| {
            it.shadows = vec![sim::Shadow {
                through: [extent[0] / 2.0, extent[1] / 2.0],
                towards,
                left,
                soft_mm: 4.0,
            }];
        });
        let measured = value(&findings, Item::ShadowEdge);
        let put_in = 100.0 * (1.0 - left);
        assert!(
            (measured - put_in).abs() < 0.3 * put_in,
            "{measured} for {put_in}"
        );
        assert_eq!(find(&findings, Item::ShadowEdge).verdict, Verdict::NotGood);
    }
}

#[test]
fn a_blur_has_the_width_of_a_gaussian_edge() {
    for sigma in [0.5, 1.0, 1.5, 2.0, 3.0, 4.0] {
        let findings = with(|it| it.camera.blur_px = sigma);
        // From 10 % to 90 % of a Gaussian edge: 2 · 1.28155 σ (normal quantiles). The simulator's σ refers to a photo 4032 pixels
        // long; a small render shrinks it, adds 0.45 px of its own, and averages over each pixel's square (variance 1/12).
        let shrunk = sigma * f64::from(LONG_SIDE) / 4032.0;
        let all = (shrunk.powi(2) + 0.45_f64.powi(2) + 1.0 / 12.0).sqrt();
        let expected = 2.0 * 1.28155 * all;
        let measured = value_px(&findings);
        assert!(
            (measured / expected - 1.0).abs() < 0.08,
            "σ {sigma}: {measured} for {expected}"
        );
    }
    // A blur as wide as the gaps reads low, but never as good.
    for sigma in [10.0, 25.0] {
        let findings = with(|it| it.camera.blur_px = sigma);
        assert_eq!(
            find(&findings, Item::Blur).verdict,
            Verdict::NotGood,
            "σ {sigma}"
        );
    }
}

/// The edge's width in pixels, from the words beside the figure.
fn value_px(findings: &[Finding]) -> f64 {
    let detail = &find(findings, Item::Blur).detail;
    detail.split(' ').next().unwrap().parse().unwrap()
}

#[test]
fn noise_is_reported_as_it_was_put_in() {
    // The card alone is made noisy, in encoded values around its own grey, with a known spread.
    let mut shot = shoot(&good(), LONG_SIDE);
    let quad = shot::points(&shot.truth.cards[0].corners);
    let Pixels::U8(pixels) = &mut shot.photo.pixels else {
        panic!("8 bits")
    };
    let (width, tables) = (shot.photo.width, &shot.photo.encoding.tables);
    let inside = |x: f64, y: f64| {
        quad.iter()
            .zip(quad.iter().cycle().skip(1))
            .all(|(p, q)| (q.x - p.x) * (y - p.y) - (q.y - p.y) * (x - p.x) > 0.0)
    };
    let (mut state, mut lightness) = (1_u64, Vec::new());
    for (index, pixel) in pixels.chunks_exact_mut(3).enumerate() {
        let (x, y) = (index % width, index / width);
        if inside(x as f64, y as f64) {
            // Eight throws of −2…2: a standard deviation of 4, from a fixed sequence.
            let mut sum = 0_i32;
            for _ in 0..8 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                sum += i32::try_from((state >> 33) % 5).unwrap() - 2;
            }
            let code = u8::try_from(118 + sum).unwrap();
            pixel.fill(code);
            let y = f64::from(tables[1][usize::from(code)]);
            lightness.push(116.0 * y.cbrt() - 16.0);
        }
    }
    let n = lightness.len() as f64;
    let mean = lightness.iter().sum::<f64>() / n;
    let sd = (lightness.iter().map(|it| (it - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let findings = figures(&shot);
    let noise = find(&findings, Item::Noise);
    let scale = value(&findings, Item::Scale);
    // Independent pixels: the mean of a 1 mm block spreads by one over the pixels along its side.
    let blocks = sd / scale;
    let measured = noise.measured.unwrap();
    assert!(
        (measured / blocks - 1.0).abs() < 0.25,
        "{measured} for {blocks}: {noise:?}"
    );
    assert!(
        noise
            .detail
            .contains(&format!("{sd:.1} L* for single pixels")),
        "{sd} {noise:?}"
    );
}

#[test]
fn strong_noise_is_not_good() {
    let findings = with(|it| {
        it.camera.shot_noise = 0.25;
        it.camera.read_noise = 0.1;
    });
    assert_ne!(find(&findings, Item::Noise).verdict, Verdict::Good);
}

#[test]
fn a_cast_is_measured_on_the_card() {
    let findings = with(|it| it.camera.balance_error = [1.25, 1.0, 0.7]);
    let cast = find(&findings, Item::WhiteBalance);
    assert_eq!(cast.verdict, Verdict::NotGood, "{cast:?}");
    assert!(cast.detail.contains("yellowish"), "{cast:?}");
}

#[test]
fn exposure_is_given_in_stops() {
    let right = value(&with(|_| {}), Item::Exposure);
    let findings = with(|it| it.camera.white_level /= 4.0);
    let dark = value(&findings, Item::Exposure);
    assert!((right - dark - 2.0).abs() < 0.05, "{right} {dark}");
    assert_eq!(find(&findings, Item::Exposure).verdict, Verdict::NotGood);
}

#[test]
fn clipping_is_found_on_the_card_and_on_patches() {
    let findings = with(|it| it.camera.white_level = 8.0);
    assert_eq!(find(&findings, Item::CardClipped).verdict, Verdict::NotGood);
    assert_eq!(
        find(&findings, Item::PatchClipped).verdict,
        Verdict::NotGood
    );
    assert_eq!(find(&findings, Item::Exposure).verdict, Verdict::NotGood);
}

#[test]
fn a_highlight_is_glare_on_its_patch() {
    let layout = good().layout;
    let centre = [0, 1].map(|k| layout.cell(0)[k] + layout.patch[k] * 0.3);
    let size = layout.patch.map(|it| 0.15 * it);
    let findings = with(|it| {
        it.highlights = vec![sim::Highlight {
            at: centre,
            size,
            angle: 0.0,
            peak: 0.6,
        }];
    });
    let glare = find(&findings, Item::Glare);
    assert_ne!(glare.verdict, Verdict::Good, "{glare:?}");
    assert!(glare.detail.contains("patch A1"), "{glare:?}");
}

#[test]
fn two_kinds_of_light_are_told_from_one() {
    let one = value(&with(|_| {}), Item::MixedLight);
    let lamp = sim::TintedLight::plain(sim::Light::Planck(2800.0));
    let findings = with(|it| {
        it.second = Some((
            lamp,
            0.4,
            sim::Field {
                linear: [1.5, 0.0],
                ..sim::Field::default()
            },
        ));
    });
    let two = find(&findings, Item::MixedLight);
    assert!(one < 2.0, "{one}");
    assert_eq!(two.verdict, Verdict::NotGood, "{two:?}");
}

#[test]
fn tilt_is_the_simulated_angle() {
    for tilt in [5.0, 18.0, 33.0] {
        let findings = with(|it| {
            it.pose.tilt = tilt;
            it.pose.fill = 0.7;
            it.pose.shift = [0.0; 2];
            // 26 mm in terms of 35 mm film, over a long side of 4 : 3.
            it.pose.focal = 26.0 / 43.27 * 1.25;
        });
        let measured = value(&findings, Item::Tilt);
        assert!((measured - tilt).abs() < 1.5, "{measured} for {tilt}");
    }
}

/// Fills a quadrilateral of the photo, corners clockwise as seen.
fn paint(shot: &mut Shot, quad: &sim::Quad, code: [u8; 3]) {
    let quad = shot::points(quad);
    let Pixels::U8(pixels) = &mut shot.photo.pixels else {
        panic!("8 bits")
    };
    for (index, pixel) in pixels.chunks_exact_mut(3).enumerate() {
        let x = (index % shot.photo.width) as f64;
        let y = (index / shot.photo.width) as f64;
        let mut sides = quad.iter().zip(quad.iter().cycle().skip(1));
        if sides.all(|(p, q)| (q.x - p.x) * (y - p.y) - (q.y - p.y) * (x - p.x) > 0.0) {
            pixel.copy_from_slice(&code);
        }
    }
}

#[test]
fn a_colour_outside_the_files_space_is_not_called_dark() {
    let shot = shoot(&good(), 1500);
    let before = figures(&shot);
    let quad = shot.truth.patches[0].quad;
    let with = |code: [u8; 3]| {
        let mut shot = shoot(&good(), 1500);
        paint(&mut shot, &quad, code);
        let findings = figures(&shot);
        [Item::PatchDark, Item::OutsideEncoding].map(|it| value(&findings, it))
    };
    let outside = value(&before, Item::OutsideEncoding);
    // A cyan without any red, and black.
    let [dark, beyond] = with([0, 150, 190]);
    assert!(dark < 1.0 && beyond > outside + 1.0, "{dark} {beyond}");
    let [dark, beyond] = with([1, 1, 1]);
    assert!(dark > 99.0 && beyond <= outside, "{dark} {beyond}");
}

#[test]
fn a_photo_that_was_shaken_sideways_is_blurred() {
    let mut shot = shoot(&good(), LONG_SIDE);
    let sharp = value_px(&figures(&shot));
    // Every pixel the mean of nine beside each other, in encoded values.
    let width = shot.photo.width;
    let Pixels::U8(pixels) = &mut shot.photo.pixels else {
        panic!("8 bits")
    };
    for row in pixels.chunks_exact_mut(3 * width) {
        let before = row.to_vec();
        for x in 4..width - 4 {
            for k in 0..3 {
                let sum: u32 = (x - 4..=x + 4)
                    .map(|it| u32::from(before[3 * it + k]))
                    .sum();
                row[3 * x + k] = u8::try_from(sum / 9).unwrap();
            }
        }
    }
    let shaken = value_px(&figures(&shot));
    // From 10 % to 90 % of a ramp of nine pixels, and less of it in linear light: between 5 and 8.
    assert!(
        sharp < 2.0 && (5.0..8.5).contains(&shaken),
        "{sharp} {shaken}"
    );
}

#[test]
fn the_smallest_patch_is_the_one_farthest_away() {
    let mut spec = good();
    spec.pose.tilt = 25.0;
    spec.pose.fill = 0.7;
    let shot = shoot(&spec, 1500);
    let told = value(&figures(&shot), Item::PatchPixels);
    // Two triangles each.
    let areas: Vec<f64> = shot
        .samples()
        .patches
        .iter()
        .map(|it| {
            let [a, b, c, d] = it.outline.map(nalgebra::Vector2::from);
            ((b - a).perp(&(c - a)) + (c - a).perp(&(d - a))) / 2.0
        })
        .collect();
    let least = areas.iter().copied().fold(f64::INFINITY, f64::min);
    let most = areas.iter().copied().fold(0.0, f64::max);
    assert!((told / least - 1.0).abs() < 1e-6, "{told} {least}");
    assert!(least < 0.9 * most, "{least} {most}");
}

#[test]
fn the_boards_share_of_the_photo_is_told() {
    let shot = shoot(&good(), 1500);
    let findings = figures(&shot);
    let outer = shot.panel.outer();
    // Hardly tilted: the area in pixels is that in millimetres, enlarged as at the middle.
    let enlarged = shot.located.panel.jacobian(outer.centre()).determinant();
    let area = outer.width * outer.height * enlarged;
    let share = 100.0 * area / (shot.photo.width * shot.photo.height) as f64;
    let detail = &find(&findings, Item::Scale).detail;
    let told: f64 = detail.split(' ').rev().nth(4).unwrap().parse().unwrap();
    assert!(
        (told - share).abs() < 1.0 + 0.02 * share,
        "{detail:?}: {share}"
    );
}

#[test]
fn a_small_board_and_a_missing_card_are_not_good() {
    let mut spec = good();
    spec.pose.fill = 0.25;
    let mut shot = shoot(&spec, 1500);
    let findings = figures(&shot);
    assert_eq!(find(&findings, Item::Scale).verdict, Verdict::NotGood);
    shot.located.cards.clear();
    let findings = figures(&shot);
    assert_eq!(find(&findings, Item::CardMissing).verdict, Verdict::NotGood);
}

#[test]
fn what_the_camera_says_is_judged_without_a_panel() {
    let mut shot = shoot(&good(), 1500);
    let alone = check(&shot.photo, None, None, None);
    let sharp = value(&alone, Item::PhotoBlur);
    let smooth = value(&alone, Item::PhotoNoise);
    shot.photo.metadata.flash_fired = Some(true);
    shot.photo.metadata.digital_zoom = Some(2.5);
    shot.photo.metadata.processing = vec!["night mode".into(), "HDR".into()];
    shot.photo.encoding.source = EncodingSource::AssumedSrgb;
    let findings = check(&shot.photo, None, None, None);
    for item in [
        Item::Flash,
        Item::DigitalZoom,
        Item::Processing,
        Item::PhotoSize,
    ] {
        assert_eq!(find(&findings, item).verdict, Verdict::NotGood, "{item:?}");
    }
    assert_eq!(find(&findings, Item::ColourSpace).verdict, Verdict::Usable);

    let mut spec = good();
    spec.camera.blur_px = 4.0;
    spec.camera.shot_noise = 0.1;
    let worse = shoot(&spec, 1500);
    let findings = check(&worse.photo, None, None, None);
    assert!(value(&findings, Item::PhotoNoise) > 2.0 * smooth);
    spec.camera.shot_noise = 0.0;
    let findings = check(&shoot(&spec, 1500).photo, None, None, None);
    assert!(value(&findings, Item::PhotoBlur) > 1.8 * sharp);
}
