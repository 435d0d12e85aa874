//! What each kind of reference is worth, and what one bad one costs, against exact answers made by hand and simulated boards.

#[path = "correction/board.rs"]
mod board;
#[path = "correction/by_hand.rs"]
mod by_hand;
#[path = "correction/scene.rs"]
mod scene;

use board::stating_board;
use by_hand::{GREY, PATCHES, board, chart, errors, solve, worst};
use masstone::colour::{Lab, Matrix, srgb};
use masstone::correct::{CorrectionKind, Outcome, Tone, ToneSource};
use masstone::reference::{Origin, Reference, RegionIndex, covariance};
use masstone_simulator as sim;
use nalgebra::Vector3;
use scene::{Kind, Measured, kind, mean, measure, of_halves, shoot};

const MIX: Matrix = Matrix::new(0.75, 0.2, 0.05, 0.1, 0.8, 0.1, 0.05, 0.2, 0.75);

/// A logistic S in encoded values.
fn s_curve(linear: f64) -> f64 {
    let f = |v: f64| 1.0 / (1.0 + (-4.0 * (v - 0.5)).exp());
    srgb::decode((f(srgb::encode(linear)) - f(0.0)) / (f(1.0) - f(0.0)))
}

/// What one bad zone may cost in ΔE00: a patch that takes it at its word is off by 5 and more.
const MOST: f64 = 1.0;

/// A spot of glare on any one zone, grey ones too, which balance the channels and show the tone curve.
#[test]
fn a_glare_spot_on_any_one_chart_patch_costs_little() {
    let camera = |rgb: [f64; 3], _: [f64; 2]| {
        (MIX * Vector3::from(rgb))
            .map(|it| s_curve(0.85 * it))
            .into()
    };
    let (clean, references) = board(&chart(), true, &camera);
    let without = worst(&solve(&clean, &references, Tone::Auto));
    for zone in 0..chart().len() {
        let mut samples = clean.clone();
        for block in &mut samples.cards[zone].blocks {
            block.rgb = block.rgb.map(|it| it + 0.12);
        }
        let outcome = solve(&samples, &references, Tone::Auto);
        let off = worst(&outcome);
        assert!(
            off < without + MOST,
            "zone {zone}: {off}, without {without}"
        );
    }
}

/// Two grey cards at either side of a board that shows no substrate: what they differ by is the light.
#[test]
fn a_second_cards_grey_ties_the_light() {
    let light = |mm: [f64; 2]| (0.0015 * mm[0]).exp();
    let camera = |rgb: [f64; 3], mm: [f64; 2]| rgb.map(|it| 0.4 * it * light(mm));
    let (mut samples, mut references) = board(&[GREY, GREY], false, &camera);
    // The second card lies at the other side, 500 mm from the first.
    for block in &mut samples.cards[1].blocks {
        let at = [block.mm[0] - 480.0, block.mm[1]];
        block.rgb = block.rgb.map(|it| it * light(at) / light(block.mm));
        block.mm = at;
    }
    // Neither cards nor patches show a slope: each is one block. The middle of the picture is between the cards.
    for region in samples.cards.iter_mut().chain(&mut samples.patches) {
        let block = region.blocks[12];
        let px = [block.mm[0] + 480.0, block.mm[1] + 370.0];
        region.blocks = vec![masstone::sample::Block { px, ..block }];
    }
    let both = solve(&samples, &references, Tone::None);
    references.pop();
    let one = solve(&samples, &references, Tone::None);
    assert!(worst(&both) < 1.0, "{:?}", errors(&both));
    assert!(worst(&one) > 5.0, "{:?}", errors(&one));
}

/// The board's own colour, stated, shows the tone curve that a grey card alone can't.
#[test]
fn a_stated_board_shows_the_tone_curve() {
    let camera = |rgb: [f64; 3], _: [f64; 2]| rgb.map(|it| s_curve(0.85 * it));
    let (samples, mut references) = board(&[GREY], true, &camera);
    let card_alone = solve(&samples, &references, Tone::Auto);
    // As `board` lays it.
    let wood = Lab::new(78.0, 5.0, 21.0);
    references.push(Reference {
        name: "substrate".into(),
        regions: vec![RegionIndex::Substrate],
        lab: wood,
        covariance: covariance(wood, 0.5),
        origin: Origin::Stated,
    });
    let stated = solve(&samples, &references, Tone::Auto);
    let lightness = |it: &Outcome| {
        mean((it.readings.iter().zip(PATCHES)).map(|(r, t)| (r.lab.unwrap().l - t[0]).abs()))
    };
    assert_eq!(card_alone.correction.tone.source, ToneSource::Assumed);
    assert_eq!(stated.correction.tone.source, ToneSource::Fitted);
    assert!(
        lightness(&stated) < 0.6 * lightness(&card_alone),
        "{} {}",
        lightness(&stated),
        lightness(&card_alone)
    );
    assert!(stated.readings[3].u95 < card_alone.readings[3].u95);
    assert_eq!(stated.correction.kind, CorrectionKind::NeutralTone);
}

/// Simulated boards with a grey card, their own colour stated or not.
#[test]
fn a_stated_board_makes_simulated_readings_truer_within_what_is_stated() {
    let shots = (0..)
        .map(|seed| sim::SceneSpec::draw(sim::Mixture::Ordinary, sim::Split::Test, 43_000 + seed))
        // Wood of which a part went outdoors has two colours.
        .filter(|it| kind(it) == Some(Kind::Grey) && it.layout.masked.is_none())
        .filter_map(|it| shoot(&it, 700, false))
        .take(24);
    let (mut alone, mut stated) = (Vec::new(), Vec::new());
    for shot in shots {
        alone.extend(measure(&shot, Tone::Auto).unwrap().0);
        stated.extend(measure(&stating_board(shot), Tone::Auto).unwrap().0);
    }
    let error = |all: &[Measured]| mean(readable(all).filter_map(Measured::error));
    let plain = mean(readable(&stated).map(Measured::plain_error));
    let camera = mean(readable(&stated).map(Measured::camera_error));
    let (alone, with) = (error(&alone), error(&stated));
    assert!(camera < with && with < plain, "{camera} {with} {plain}");
    assert!(
        with < 0.9 * alone,
        "{with} with the board's colour, {alone} without"
    );
    let inside = mean(
        readable(&stated)
            .map(|it| f64::from(u8::from(it.error().is_some_and(|error| error <= it.u95)))),
    );
    assert!((0.90..=1.0).contains(&inside), "{inside}");
    assert!(of_halves(&[&stated]).is_none(), "no halves among them");
}

fn readable(all: &[Measured]) -> impl Iterator<Item = &Measured> {
    all.iter()
        .filter(|it| it.clipped < 0.25 && it.ours.is_some())
}
