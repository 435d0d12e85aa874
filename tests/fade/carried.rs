//! Masked halves that carry the scale: which colours serve, and how the halves of such a patch are read.

use super::series::{Colour, PATCHES, between, changed_by, colour, panel, plus, shot, without};
use masstone::colour::{Lab, Matrix, lab, srgb};
use masstone::correct::{ComponentName, CorrectionKind, Options, Outcome, Tone, correct};
use masstone::flag::Flag;
use masstone::geometry::Rect;
use masstone::measure::Masked;
use masstone::photo::EncodingSource;
use masstone::record::{Half, PhotoRecord};
use masstone::reference::{Origin, Reference, RegionIndex, covariance};
use masstone::sample::{Block, LeftOut, Overview, Region, RegionKind, Samples};
use nalgebra::Vector3;

fn start(path: &str) -> PhotoRecord {
    shot(&panel("b-1"), path, 0.0, &changed_by(|_| [0.0; 3]))
}

fn digest(records: &[PhotoRecord]) -> Option<String> {
    Masked::of(records, &[]).map(|it| it.digest().to_owned())
}

#[test]
fn sure_masked_halves_of_dose_0_serve_and_nothing_else() {
    let records = [start("a.jpg"), start("b.jpg")];
    let plain = digest(&records).unwrap();
    // In any order, and with photos that say nothing more.
    let mut more = vec![records[1].clone(), records[0].clone(), records[0].clone()];
    more.push(shot(
        &panel("b-1"),
        "late.jpg",
        100.0,
        &changed_by(|_| [9.0; 3]),
    ));
    more.push(shot(
        &panel("b-2"),
        "other.jpg",
        0.0,
        &changed_by(|_| [9.0; 3]),
    ));
    assert_eq!(digest(&more), Some(plain.clone()));
    // Exposed halves have no say.
    let mut exposed = records.clone();
    for it in exposed[0]
        .readings
        .iter_mut()
        .filter(|it| it.half == Half::Exposed)
    {
        it.l = Some(10.0);
    }
    assert_eq!(digest(&exposed), Some(plain.clone()));
    // Masked ones have, but not where they are unsure.
    let change = |flags: &[Flag]| {
        let mut changed = records.clone();
        changed[0].readings[0].l = Some(10.0);
        changed[0].readings[0].flags = flags.to_vec();
        digest(&changed).unwrap()
    };
    assert_ne!(change(&[]), plain);
    let unread = [without(start("a.jpg"), "A1", Half::Masked), start("b.jpg")];
    for flag in [
        Flag::Glare,
        Flag::ClippedHigh,
        Flag::ClippedLow,
        Flag::ShadowEdge,
    ] {
        assert_eq!(Some(change(&[flag])), digest(&unread), "{flag:?}");
    }
    // A dose in another unit is a dose.
    let mut dosed = records.clone();
    for it in &mut dosed {
        it.photo.dose = Some(12.0);
    }
    assert_eq!(digest(&dosed), None);
    assert_eq!(digest(&[]), None);
}

#[test]
fn a_whole_patch_serves_if_it_stays_indoors() {
    let mut record = start("a.jpg");
    record.readings[0].half = Half::Whole;
    let of = |indoors: &[String]| Masked::of(std::slice::from_ref(&record), indoors);
    assert_ne!(of(&["A1".into()]), of(&[]));
    assert_eq!(of(&["A2".into()]), of(&[]));
}

fn as_lab([l, a, b]: Colour) -> Lab {
    Lab::new(l, a, b)
}

fn linear(colour: Lab) -> Vector3<f64> {
    let to_xyz = srgb::RgbSpace::Srgb.linear_to_xyz_d50();
    let xyz = lab::to_xyz(colour);
    to_xyz.try_inverse().unwrap() * Vector3::new(xyz.x, xyz.y, xyz.z)
}

/// How the camera mixes channels.
const MIX: Matrix = Matrix::new(0.75, 0.2, 0.05, 0.1, 0.8, 0.1, 0.05, 0.2, 0.75);

fn region(kind: RegionKind, colour: Colour) -> Region {
    let rgb = MIX * linear(as_lab(colour)) * 0.8;
    let block = |i: u8| Block {
        mm: [f64::from(i % 5), f64::from(i / 5)],
        px: [f64::from(i % 5), f64::from(i / 5)],
        rgb: rgb.into(),
        variance: [1e-9; 3],
        n: 100,
    };
    Region {
        kind,
        rect: Rect {
            x: 0.0,
            y: 0.0,
            width: 5.0,
            height: 5.0,
        },
        outline: [[0.0; 2]; 4],
        blocks: (0..25).map(block).collect(),
        pixels: 2500,
        left_out: LeftOut::default(),
        at_top: 0,
        at_bottom: 0,
    }
}

/// What masked halves shared when they were measured.
const COMMON: f64 = 0.7;
/// A patch whose masked half moved.
const LEAKED: usize = 5;
const LEAK: Colour = [0.0, 0.0, -6.0];

/// A photo whose masked halves are known from before, all but one as they were, with a grey card.
fn photo() -> (Samples, Vec<Reference>) {
    let grey = [50.0, 0.0, 0.0];
    let halves = (0..PATCHES).flat_map(|patch| {
        let moved = if patch == LEAKED { LEAK } else { [0.0; 3] };
        let exposed = plus(colour(patch), between(patch));
        [
            region(RegionKind::Masked { patch }, plus(colour(patch), moved)),
            region(RegionKind::Exposed { patch }, exposed),
        ]
    });
    let samples = Samples {
        to_xyz: *srgb::RgbSpace::Srgb.linear_to_xyz_d50(),
        encoding: EncodingSource::Linear,
        camera: None,
        size: [1000, 800],
        bits: 16,
        code_step: 1e-5,
        patches: halves.collect(),
        cards: vec![region(RegionKind::Card { card: 0, zone: 0 }, grey)],
        substrate: Vec::new(),
        overview: Overview::default(),
    };
    let reference = |name: String, region, lab: Colour, origin| Reference {
        name,
        regions: vec![region],
        lab: as_lab(lab),
        covariance: covariance(as_lab(lab), 0.3),
        origin,
    };
    let common = Matrix::identity() * COMMON;
    let masked = (0..PATCHES).map(|i| {
        let name = format!("masked half of {i}");
        reference(
            name,
            RegionIndex::Patch(2 * i),
            colour(i),
            Origin::Masked { common },
        )
    });
    let card = reference(
        "card grey".into(),
        RegionIndex::Card(0),
        grey,
        Origin::Stated,
    );
    let references = std::iter::once(card).chain(masked).collect();
    (samples, references)
}

fn solve(samples: &Samples, references: &[Reference]) -> Outcome {
    correct(samples, references, &Options { tone: Tone::Auto }).unwrap()
}

fn off(outcome: &Outcome, region: usize, truth: Colour) -> f64 {
    let found = outcome.readings[region].lab.unwrap();
    Vector3::new(found.l - truth[0], found.a - truth[1], found.b - truth[2]).norm()
}

#[test]
fn both_halves_are_read_by_the_correction_that_does_not_know_the_patch() {
    let (samples, references) = photo();
    let outcome = solve(&samples, &references);
    assert_eq!(outcome.correction.kind, CorrectionKind::Linear);
    for i in 0..PATCHES {
        let moved = if i == LEAKED { LEAK } else { [0.0; 3] };
        let (masked, exposed) = (2 * i, 2 * i + 1);
        assert!(off(&outcome, masked, plus(colour(i), moved)) < 0.5, "{i}");
        assert!(
            off(&outcome, exposed, plus(colour(i), between(i))) < 0.5,
            "{i}"
        );
        let flagged = |it: usize| outcome.readings[it].flags.contains(&Flag::Reference);
        assert!(flagged(masked) && !flagged(exposed));
    }
    // A patch stated wrongly in the extreme: what it is stated as enters neither of its halves.
    let mut other = references.clone();
    other[1 + LEAKED].lab.b += 40.0;
    let other = solve(&samples, &other);
    for region in [2 * LEAKED, 2 * LEAKED + 1] {
        let (one, two) = (&outcome.readings[region], &other.readings[region]);
        let (one, two) = (one.lab.unwrap(), two.lab.unwrap());
        assert!(
            (one.b - two.b).abs() < 0.1 && (one.a - two.a).abs() < 0.1,
            "{one:?} {two:?}"
        );
    }
}

#[test]
fn what_a_camera_sees_apart_on_a_masked_half_is_taken_off_both() {
    let (mut samples, references) = photo();
    // A pigment of which this light shows the camera more red and less blue than others of its colour have.
    let apart = 7;
    for region in &mut samples.patches[2 * apart..=2 * apart + 1] {
        for block in &mut region.blocks {
            let [r, g, b] = block.rgb;
            block.rgb = [1.02 * r, g, 0.98 * b];
        }
    }
    let outcome = solve(&samples, &references);
    let used = &outcome.correction.references[1 + apart];
    let put_right = Vector3::from(used.put_right.unwrap());
    assert!(put_right.norm() > 1.0 && used.weight < 1.0, "{used:?}");
    let [masked, exposed] = [2 * apart, 2 * apart + 1];
    let as_read = |region: usize| {
        let it = outcome.readings[region].lab.unwrap();
        Vector3::new(it.l, it.a, it.b) - put_right
    };
    // As far as the half fits in with the others, but for a trace of yellowing that nothing excludes.
    let left = Vector3::from(colour(apart)) - as_read(masked);
    let other = put_right - left * used.weight;
    assert!(other.norm() < 0.1 * put_right.norm(), "{other} {put_right}");
    let truth = plus(colour(apart), between(apart));
    let before = (as_read(exposed) - Vector3::from(truth)).norm();
    let after = off(&outcome, exposed, truth);
    assert!(
        after < (1.2 - used.weight) * before,
        "{after} {before} {}",
        used.weight
    );
    // The card and a half that moved put nothing right.
    assert_eq!(outcome.correction.references[0].put_right, None);
    let leaked = &outcome.correction.references[1 + LEAKED];
    assert!(
        leaked.weight < 1e-9 && leaked.put_right == Some([0.0; 3]),
        "{leaked:?}"
    );
}

#[test]
fn colours_are_read_as_yellow_as_a_coat_has_become_in_the_dark() {
    let (mut samples, references) = photo();
    // A tenth of the short waves, which are the camera's blue channel here.
    let share = 0.9;
    let yellowed = |[l, a, b]: Colour| {
        let it = lab::to_xyz(Lab::new(l, a, b));
        let it = lab::from_xyz(masstone::colour::Xyz::new(it.x, it.y, share * it.z));
        [it.l, it.a, it.b]
    };
    let mut truths = Vec::new();
    for patch in 0..PATCHES {
        let exposed = yellowed(plus(colour(patch), between(patch)));
        let kinds = [RegionKind::Masked { patch }, RegionKind::Exposed { patch }];
        samples.patches[2 * patch] = region(kinds[0], yellowed(colour(patch)));
        samples.patches[2 * patch + 1] = region(kinds[1], exposed);
        truths.push(exposed);
    }
    let outcome = solve(&samples, &references);
    let found = outcome.correction.drift.unwrap().yellowing;
    let grey = yellowed([50.0, 0.0, 0.0])[2];
    assert!((found / grey - 1.0).abs() < 0.15, "{found} of {grey}");
    for (i, truth) in truths.into_iter().enumerate() {
        let fresh = plus(colour(i), between(i));
        let grown = (0..3)
            .map(|k| (truth[k] - fresh[k]).powi(2))
            .sum::<f64>()
            .sqrt();
        let off = off(&outcome, 2 * i + 1, truth);
        assert!(off < 0.3 * grown, "{i}: {off} of {grown}");
    }
}

#[test]
fn a_white_half_that_blackened_refuses_no_photo() {
    let (mut samples, references) = photo();
    let white = PATCHES - 1;
    let sooty = region(RegionKind::Masked { patch: white }, [30.0, 1.0, 2.0]);
    samples.patches[2 * white] = sooty;
    let outcome = solve(&samples, &references);
    assert!(outcome.correction.references[1 + white].weight < 1e-9);
    assert!(off(&outcome, 2 * white, [30.0, 1.0, 2.0]) < 1.0);
    assert!(off(&outcome, 2, colour(1)) < 0.5);
}

#[test]
fn the_photos_own_word_is_that_of_its_card_alone() {
    let (samples, references) = photo();
    let outcome = solve(&samples, &references);
    let by_card = solve(&samples, &references[..1]);
    let used = &outcome.correction.references;
    assert!(used[0].alone.is_none());
    for i in 0..PATCHES {
        assert_eq!(used[1 + i].alone, by_card.readings[2 * i].lab);
    }
    // By the grey card alone the mixing camera is off; that is why others carry.
    let plain: f64 = (0..PATCHES).map(|i| off(&by_card, 2 * i, colour(i))).sum();
    let carried: f64 = (0..PATCHES).map(|i| off(&outcome, 2 * i, colour(i))).sum();
    assert!(carried < 0.25 * plain, "{carried} {plain}");
    assert!(by_card.correction.references[0].alone.is_none() && by_card.correction.drift.is_none());
}

#[test]
fn what_references_of_before_share_and_may_have_drifted_is_stated() {
    let (samples, references) = photo();
    let outcome = solve(&samples, &references);
    let drift = outcome.correction.drift.unwrap();
    assert!(Vector3::from(drift.lab).norm() < 0.5, "{drift:?}");
    for it in &outcome.readings {
        let sd = |name: ComponentName| {
            let part = it.components.iter().find(|it| it.name == name).unwrap();
            Vector3::from(part.sd_lab)
        };
        assert!((0..3).all(|k| sd(ComponentName::Reference)[k] >= COMMON.sqrt() - 1e-9));
        let possible = drift.possible();
        assert!(
            (0..3).all(|k| (sd(ComponentName::Drift)[k].powi(2) - possible[(k, k)]).abs() < 1e-9)
        );
    }
}
