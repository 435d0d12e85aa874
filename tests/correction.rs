//! Correction against exact answers made by hand, and against simulated photos with the true geometry.

#![expect(clippy::unwrap_used, reason = "helpers of tests")]

#[path = "correction/by_hand.rs"]
mod by_hand;
#[path = "correction/scene.rs"]
mod scene;

use by_hand::{GREY, PATCHES, as_lab, board, chart, errors, solve, worst};
use masstone::colour::{Lab, Matrix, Xyz, difference, lab, srgb};
use masstone::correct::{
    ComponentName, CorrectError, Correction, CorrectionKind, Options, Outcome, Tone, correct,
};
use masstone::flag::Flag;
use masstone::photo::EncodingSource;
use masstone::reference::{Origin, Reference, RegionIndex, covariance};
use masstone::sample::Samples;
use masstone_simulator as sim;
use nalgebra::Vector3;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};
use scene::{Kind, Measured, kind, mean, measure, of_halves, shoot};

#[test]
fn a_perfect_camera_is_read_exactly() {
    let (samples, references) = board(&[GREY], true, &|rgb, _| rgb.map(|it| it * 0.8));
    let outcome = solve(&samples, &references, Tone::None);
    assert_eq!(outcome.correction.kind, CorrectionKind::Neutral);
    for (reading, truth) in outcome.readings.iter().zip(PATCHES) {
        let found = reading.lab.unwrap();
        // A trace of what lenses usually do stays in the light, however even all surfaces are.
        assert!(
            difference::delta_e_76(found, as_lab(truth)) < 1e-3,
            "{found:?} {truth:?}"
        );
    }
}

#[test]
fn a_card_is_taken_at_its_stated_colour_even_if_that_is_not_neutral() {
    let stated = Lab::new(48.0, 1.5, -2.0);
    let (samples, references) = board(&[stated], true, &|rgb, _| {
        [rgb[0] * 0.9, rgb[1] * 0.7, rgb[2] * 0.5]
    });
    assert!(worst(&solve(&samples, &references, Tone::None)) < 1e-3);
}

/// The steps of Adobe RGB's plain power (its specification of 2005: 563/256) are 17 times finer near black than sRGB's: what is expected of
/// the tone curve goes by the file's bits, not by its steps.
#[test]
fn a_phones_file_is_one_in_any_encoding() {
    let (mut samples, references) = board(&[Lab::new(49.5, 0.0, 0.0)], true, &|rgb, _| rgb);
    let curve = |samples: &Samples| {
        let outcome = solve(samples, &references, Tone::Auto);
        let tone = outcome.correction.tone;
        [tone.contrast, tone.shift]
    };
    let srgb = curve(&samples);
    samples.code_step =
        (2.0_f64 / 255.0).powf(563.0 / 256.0) - (1.0_f64 / 255.0).powf(563.0 / 256.0);
    let adobe = curve(&samples);
    samples.bits = 16;
    let developed = curve(&samples);
    for (one, other) in adobe.iter().zip(srgb) {
        assert!((one - other).abs() < 0.01, "{adobe:?} {srgb:?}");
        assert!(one.abs() > 0.05, "a phone's curve is expected: {adobe:?}");
    }
    assert!(developed.iter().all(|it| it.abs() < 0.05), "{developed:?}");
}

#[test]
fn a_gradient_across_board_and_card_is_taken_out() {
    let light = |mm: [f64; 2]| (0.002 * mm[0] - 0.0025 * mm[1] - 4e-6 * mm[0] * mm[0]).exp();
    let (samples, references) = board(&[GREY], true, &|rgb, mm| rgb.map(|it| it * 0.5 * light(mm)));
    let outcome = solve(&samples, &references, Tone::None);
    assert_eq!(outcome.correction.light.order, 2);
    assert!(worst(&outcome) < 0.1, "{:?}", errors(&outcome));
    let unevened = light([10.0, 10.0]) / light([260.0, 10.0]);
    assert!(
        unevened < 0.85,
        "there must be something to take out: {unevened}"
    );
}

/// A lamp's blurred reflection over two coloured patches, and nothing that a single pixel shows. Over a grey one it would look like a coat that thins out.
#[test]
fn a_broad_highlight_is_lifted_flagged_and_doubted() {
    let (mut samples, references) = board(&[GREY], true, &|rgb, _| rgb.map(|it| it * 0.8));
    let clean = solve(&samples, &references, Tone::None);
    assert!(
        clean
            .readings
            .iter()
            .all(|it| !it.flags.contains(&Flag::Glare))
    );
    for block in samples.patches.iter_mut().flat_map(|it| &mut it.blocks) {
        let (x, y) = ((block.mm[0] - 100.0) / 22.0, (block.mm[1] - 10.0) / 18.0);
        let over = 0.1 * (-0.5 * (x * x + y * y)).exp();
        block.rgb = block.rgb.map(|it| it + 0.8 * over);
    }
    let veiled = solve(&samples, &references, Tone::None);
    let off = errors(&veiled);
    for (i, (reading, off)) in veiled.readings.iter().zip(off).enumerate() {
        let glare = |it: &&masstone::correct::Component| it.name == ComponentName::Glare;
        let part = reading.components.iter().find(glare);
        let is_under = i == 1 || i == 2;
        assert_eq!(reading.flags.contains(&Flag::Glare), is_under, "{i}");
        if is_under {
            let lifted = Vector3::from(part.unwrap().sd_lab).norm();
            assert!(lifted > 3.0, "{i}: {lifted}");
            assert!(off < 0.25 * lifted, "{i}: {off} of {lifted}");
            let more = reading.cov_own.trace() - clean.readings[i].cov_own.trace();
            assert!(more > 0.9 * lifted * lifted, "{i}: {more}");
            assert!(reading.u95 > clean.readings[i].u95);
        } else {
            assert!(off < 0.5, "{i}: {off}");
        }
    }
}

#[test]
fn a_shadow_across_the_board_is_said_and_widens_what_is_stated() {
    // The lower row lies in the shade; the card and most of the board don't.
    let (samples, references) = board(&[GREY], true, &|rgb, mm| {
        rgb.map(|it| it * if mm[1] > 55.0 { 0.35 } else { 0.7 })
    });
    let lit = board(&[GREY], true, &|rgb, _| rgb.map(|it| it * 0.7));
    let (shaded, lit) = (
        solve(&samples, &references, Tone::None),
        solve(&lit.0, &lit.1, Tone::None),
    );
    let off = errors(&shaded);
    for (i, (reading, without)) in shaded.readings.iter().zip(&lit.readings).enumerate() {
        assert!(!without.flags.contains(&Flag::ShadowEdge));
        if off[i] > 3.0 {
            assert!(reading.flags.contains(&Flag::ShadowEdge), "{i}: {off:?}");
        }
        assert!(off[i] < reading.u95, "{i}: {off:?} {}", reading.u95);
    }
    assert!(
        off[3..].iter().any(|it| *it > 3.0),
        "the shade must do something: {off:?}"
    );
    assert!(shaded.readings[4].u95 > 2.0 * lit.readings[4].u95);
}

#[test]
fn three_zones_undo_a_tone_curve_of_another_family() {
    // A logistic S in encoded values: not the family that is fitted.
    let s = |v: f64| {
        let f = |v: f64| 1.0 / (1.0 + (-4.0 * (v - 0.5)).exp());
        (f(v) - f(0.0)) / (f(1.0) - f(0.0))
    };
    let camera =
        |rgb: [f64; 3], _: [f64; 2]| rgb.map(|it| srgb::decode(s(srgb::encode(0.85 * it))));
    let zones = [Lab::new(95.2, 0.0, 0.0), GREY, Lab::new(22.0, 0.0, 0.0)];
    let (samples, references) = board(&zones, true, &camera);
    let with = solve(&samples, &references, Tone::Auto);
    assert_eq!(with.correction.kind, CorrectionKind::NeutralTone);
    let without = solve(&samples, &references, Tone::None);
    let lightness = |it: &Outcome| {
        let off = it
            .readings
            .iter()
            .zip(PATCHES)
            .map(|(r, t)| (r.lab.unwrap().l - t[0]).abs());
        mean(off)
    };
    assert!(lightness(&with) < 0.8, "{}", lightness(&with));
    assert!(
        lightness(&with) < 0.25 * lightness(&without),
        "{} {}",
        lightness(&with),
        lightness(&without)
    );
}

#[test]
fn leave_one_out_picks_as_many_parameters_as_the_camera_needs() {
    let exact = board(&chart(), true, &|rgb, _| rgb.map(|it| it * 0.8));
    let plain = solve(&exact.0, &exact.1, Tone::None);
    assert_eq!(plain.correction.kind, CorrectionKind::Neutral);
    let mix = Matrix::new(0.75, 0.2, 0.05, 0.1, 0.8, 0.1, 0.05, 0.2, 0.75);
    let mixed = board(&chart(), true, &|rgb, _| (mix * Vector3::from(rgb)).into());
    let fitted = solve(&mixed.0, &mixed.1, Tone::None);
    assert_eq!(fitted.correction.kind, CorrectionKind::Linear);
    assert!(worst(&fitted) < 0.05, "{:?}", errors(&fitted));
    assert!(fitted.correction.leave_one_out.unwrap() < 0.05);
    assert!(fitted.correction.neutral_alone.unwrap() > 2.0);
}

#[test]
fn a_glare_spot_on_one_chart_patch_is_rejected() {
    let mix = Matrix::new(0.75, 0.2, 0.05, 0.1, 0.8, 0.1, 0.05, 0.2, 0.75);
    let (mut samples, references) =
        board(&chart(), true, &|rgb, _| (mix * Vector3::from(rgb)).into());
    for block in &mut samples.cards[7].blocks {
        block.rgb = block.rgb.map(|it| it + 0.15);
    }
    let outcome = solve(&samples, &references, Tone::None);
    assert!(
        outcome.correction.references[7].weight < 0.01,
        "{:?}",
        outcome.correction.references[7]
    );
    assert!(worst(&outcome) < 0.1, "{:?}", errors(&outcome));
}

#[test]
fn a_patch_of_known_colour_is_predicted_without_itself() {
    let mix = Matrix::new(0.75, 0.2, 0.05, 0.1, 0.8, 0.1, 0.05, 0.2, 0.75);
    let (samples, mut references) =
        board(&chart(), true, &|rgb, _| (mix * Vector3::from(rgb)).into());
    // Stated wrongly on purpose: its own statement must not pull its reading.
    let stated = Lab::new(PATCHES[1][0] + 3.0, PATCHES[1][1], PATCHES[1][2]);
    references.push(Reference {
        name: "patch A2".into(),
        regions: vec![RegionIndex::Patch(1)],
        lab: stated,
        covariance: covariance(stated, 0.5),
        origin: Origin::Stated,
    });
    let outcome = solve(&samples, &references, Tone::None);
    assert!(outcome.readings[1].flags.contains(&Flag::Reference));
    assert!(errors(&outcome)[1] < 0.1, "{:?}", errors(&outcome));
}

#[test]
fn corrections_are_saved_and_read_back_and_colour_any_place() {
    let light = |mm: [f64; 2]| (0.001 * mm[0]).exp();
    let (samples, references) = board(&chart(), true, &|rgb, mm| {
        rgb.map(|it| (it * 0.6 * light(mm)).min(1.0))
    });
    let outcome = solve(&samples, &references, Tone::Auto);
    let text = serde_json::to_string(&outcome.correction).unwrap();
    let back: Correction = serde_json::from_str(&text).unwrap();
    assert_eq!(back, outcome.correction);
    let block = samples.patches[1].blocks[12];
    let seen = lab::from_xyz(back.xyz_at(block.rgb, block.mm));
    assert!(difference::delta_e_2000(seen, outcome.readings[1].lab.unwrap()) < 0.1);
    assert_eq!(
        outcome,
        solve(&samples, &references, Tone::Auto),
        "the same twice"
    );
}

#[test]
fn unusable_references_are_refused_with_a_way_out() {
    let (samples, references) = board(&[GREY], true, &|rgb, _| rgb);
    let refused = |samples: &Samples, references: &[Reference]| {
        correct(samples, references, &Options { tone: Tone::Auto }).unwrap_err()
    };
    assert_eq!(refused(&samples, &[]), CorrectError::NoReference);
    let mut clipped = samples.clone();
    clipped.cards[0].at_top = 2000;
    let error = refused(&clipped, &references);
    assert_eq!(
        error.to_string(),
        "80 % of card test 0 is clipped (limit 5 %)"
    );
    assert!(error.hint().contains("less exposure"));
    let dark = board(&[GREY], true, &|rgb, _| rgb.map(|it| it * 0.01));
    assert!(matches!(
        refused(&dark.0, &dark.1),
        CorrectError::TooDark { .. }
    ));
    let zones = [Lab::new(95.0, 0.0, 0.0), GREY, Lab::new(22.0, 0.0, 0.0)];
    let (turned, mut stated) = board(&zones, true, &|rgb, _| rgb);
    stated.swap(0, 2);
    let labs = [stated[0].lab, stated[2].lab];
    (stated[0].lab, stated[2].lab) = (labs[1], labs[0]);
    assert!(matches!(
        refused(&turned, &stated),
        CorrectError::Contradiction { .. }
    ));
}

/// Photos of one set-up have a little more or less of a white zone clipped: what it says fades out, and has no edge where it falls silent.
#[test]
fn a_white_zone_tells_the_less_the_more_of_it_is_clipped() {
    let zones = [Lab::new(95.0, 0.0, 0.0), GREY, Lab::new(22.0, 0.0, 0.0)];
    let (samples, references) = board(&zones, true, &|rgb, _| rgb.map(|it| 0.8 * it.powf(1.1)));
    let with = |share: f64| {
        let mut samples = samples.clone();
        let white = &mut samples.cards[0];
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a part of a count"
        )]
        let top = (share * white.pixels as f64) as usize;
        white.at_top = top;
        let outcome = solve(&samples, &references, Tone::Auto);
        let used = outcome.correction.references.len();
        (used, outcome.correction.tone)
    };
    let all: Vec<_> = [0.0, 0.3, 0.55, 0.85, 0.95].map(with).into();
    let used: Vec<usize> = all.iter().map(|it| it.0).collect();
    assert_eq!(used, [3, 3, 3, 3, 2]);
    let doubt: Vec<f64> = all.iter().map(|it| it.1.covariance[(1, 1)]).collect();
    assert!(doubt.windows(2).all(|it| it[0] < it[1]), "{doubt:?}");
    // Where the zone falls silent, the curve jumps by no more than it has moved just before.
    let step = |i: usize| (all[i + 1].1.shift - all[i].1.shift).abs();
    assert!(step(3) < step(2), "{all:?}");
}

#[test]
fn another_chart_than_stated_is_refused() {
    let (samples, mut references) = board(&chart(), true, &|rgb, _| rgb.map(|it| it * 0.8));
    // The colours in reverse order but for the greys: as if the chart lay the other way round.
    let labs: Vec<Lab> = references.iter().map(|it| it.lab).collect();
    for (reference, lab) in references
        .iter_mut()
        .take(18)
        .zip(labs.iter().take(18).rev())
    {
        reference.lab = *lab;
    }
    let error = correct(&samples, &references, &Options { tone: Tone::None }).unwrap_err();
    assert!(
        matches!(error, CorrectError::WrongReferences { .. }),
        "{error}"
    );
}

#[test]
fn a_shadow_across_the_chart_is_said() {
    let shadow = |mm: [f64; 2]| if mm[0] > 330.0 { 0.4 } else { 1.0 };
    let (samples, references) = board(&chart(), true, &|rgb, mm| {
        rgb.map(|it| 0.8 * it * shadow(mm))
    });
    let error = correct(&samples, &references, &Options { tone: Tone::None }).unwrap_err();
    let CorrectError::Shadowed { shaded, of, less } = &error else {
        panic!("{error}");
    };
    // The last three of six columns, but for a cyan whose red would be below zero in sRGB.
    let expected: Vec<String> = (0..24)
        .filter(|i| i % 6 > 2 && *i != 17)
        .map(|i| format!("card test {i}"))
        .collect();
    assert_eq!((shaded, *of), (&expected, 23));
    assert!((less - 0.6).abs() < 0.05, "{less}");
}

/// A standard normal draw.
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    let mut uniform = || (f64::from(rng.next_u32()) + 0.5) / 4_294_967_296.0;
    (-2.0 * uniform().ln()).sqrt() * (std::f64::consts::TAU * uniform()).cos()
}

#[test]
fn stated_intervals_hold_the_modelled_errors_in_95_of_100_draws() {
    // What the model says of a grey patch on a linear file: the card's own deviation, and light that may differ between card and board by
    // as much as the reading itself says.
    let (samples, references) = board(&[GREY], false, &|rgb, _| rgb);
    let mut linear_file = samples;
    linear_file.encoding = EncodingSource::Linear;
    let stated = solve(&linear_file, &references, Tone::Auto);
    let of_light = stated.readings[0].components.iter();
    let of_light = of_light
        .filter(|it| it.name == ComponentName::Illumination)
        .map(|it| it.sd_lab[0])
        .sum::<f64>();
    // dL*/d ln Y = (L* + 16) / 3.
    let light_sd = of_light * 3.0 / (GREY.l + 16.0);
    assert!(light_sd > 0.005, "{light_sd}");
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let (mut inside, draws) = (0, 1000);
    for _ in 0..draws {
        let spread = masstone::colour::uncertainty::square_root(&covariance(GREY, 0.5)).unwrap();
        let d = spread * Vector3::from_fn(|_, _| normal(&mut rng));
        let true_card = Lab::new(GREY.l + d.x, GREY.a + d.y, GREY.b + d.z);
        let light = (light_sd * normal(&mut rng)).exp();
        let (mut samples, mut references) = board(&[true_card], false, &|rgb, mm| {
            rgb.map(|it| it * if mm[0] < 200.0 { light } else { 1.0 })
        });
        samples.encoding = EncodingSource::Linear;
        references[0].lab = GREY;
        let outcome = solve(&samples, &references, Tone::Auto);
        let reading = &outcome.readings[0];
        if difference::delta_e_2000(reading.lab.unwrap(), as_lab(PATCHES[0])) <= reading.u95 {
            inside += 1;
        }
    }
    // Two-sided bounds: three standard deviations of 1000 draws at 95 % are 2 %.
    assert!((930..=970).contains(&inside), "{inside} of {draws}");
}

#[test]
fn components_add_up_to_the_covariances() {
    let (samples, references) = board(&[GREY], true, &|rgb, _| rgb);
    for reading in solve(&samples, &references, Tone::Auto).readings {
        let total = |common: bool| -> f64 {
            let parts = reading.components.iter().filter(|it| it.common == common);
            parts.flat_map(|it| it.sd_lab).map(|it| it * it).sum()
        };
        assert!((total(false) - reading.cov_own.trace()).abs() < 1e-9);
        assert!((total(true) - reading.cov_common.trace()).abs() < 1e-9);
        assert!(reading.u95 > 0.0);
    }
}

#[test]
fn one_per_cent_of_glare_costs_what_is_published() {
    // Computed with colour-science 0.4.7: a specular share of white added to #735244.
    let body = Lab::new(38.2232, 12.7670, 13.9707);
    let xyz = lab::to_xyz(body);
    for (share, expected, size) in [
        (0.005, [39.0940, 12.3961, 13.4169], 0.844),
        (0.01, [39.9381, 12.0511, 12.9157], 1.663),
        (0.04, [44.5378, 10.3928, 10.6703], 6.178),
    ] {
        let white = masstone::colour::white::D50;
        let seen = lab::from_xyz(Xyz::new(
            xyz.x + share * white[0],
            xyz.y + share * white[1],
            xyz.z + share * white[2],
        ));
        assert!(
            difference::delta_e_76(seen, as_lab(expected)) < 2e-3,
            "{seen:?}"
        );
        assert!((difference::delta_e_2000(seen, body) - size).abs() < 2e-3);
    }
}

/// What simulated photos with one kind of reference came to.
struct Simulated {
    /// Mean ΔE00 to the truth of ours, of the plain method and of the camera itself.
    ours: f64,
    plain: f64,
    camera: f64,
    /// Share of truths inside U95.
    inside: f64,
    /// Mean error of the difference between halves over that of the plain method.
    halves: f64,
}

fn simulated(mixture: sim::Mixture, which: Kind, photos: usize, tone: Tone) -> Simulated {
    let shot = |seed: u64| {
        let spec = sim::SceneSpec::draw(mixture, sim::Split::Test, 41_000 + seed);
        if kind(&spec) != Some(which) {
            return None;
        }
        let shot = shoot(&spec, 800, false)?;
        (shot.truth.cards.len() == spec.layout.cards.len()).then(|| measure(&shot, tone).unwrap().0)
    };
    let photos: Vec<Vec<Measured>> = (0..).filter_map(shot).take(photos).collect();
    let all: Vec<&Measured> = photos
        .iter()
        .flatten()
        .filter(|it| it.clipped < 0.25 && it.ours.is_some())
        .collect();
    let slices: Vec<&[Measured]> = photos.iter().map(Vec::as_slice).collect();
    let inside = |it: &&Measured| it.error().is_some_and(|error| error <= it.u95);
    Simulated {
        ours: mean(all.iter().filter_map(|it| it.error())),
        plain: mean(all.iter().map(|it| it.plain_error())),
        camera: mean(all.iter().map(|it| it.camera_error())),
        inside: mean(all.iter().map(|it| f64::from(u8::from(inside(it))))),
        halves: of_halves(&slices).map_or(f64::NAN, |[ours, plain]| ours / plain),
    }
}

#[test]
fn flawless_photos_are_read_to_a_fifth_of_a_difference_beyond_the_camera() {
    for which in [Kind::Grey, Kind::Zones, Kind::Chart] {
        let it = simulated(sim::Mixture::Flawless, which, 4, Tone::None);
        let beyond = it.ours - it.camera;
        assert!(beyond <= 0.2, "{which:?}: {beyond} beyond {}", it.camera);
    }
}

#[test]
fn ordinary_photos_are_read_better_than_the_plain_way() {
    // What is aimed at, but for a chart's halves: on 800 pixels some patches have so few that noise rules (0.4 is aimed at, and is
    // reached from 2,000 pixels on: `cargo bench --bench correction`).
    for (which, bound, halves) in [
        (Kind::Grey, 0.7, 0.6),
        (Kind::Zones, 0.6, 0.6),
        (Kind::Chart, 0.33, 0.45),
    ] {
        let it = simulated(sim::Mixture::Ordinary, which, 30, Tone::Auto);
        let ratio = it.ours / it.plain;
        assert!(ratio <= bound, "{which:?}: {ratio} of {}", it.plain);
        assert!(it.halves <= halves, "{which:?}: halves {}", it.halves);
        // Patches of one photo err together: thirty photos leave 2 to 3 %.
        let holds = (0.92..=0.99).contains(&it.inside);
        assert!(holds, "{which:?}: U95 holds {}", it.inside);
    }
}
