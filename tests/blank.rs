//! The light from a photo of a blank, against simulated photos with the true geometry.

#![expect(clippy::unwrap_used, reason = "helpers of tests")]

#[path = "correction/scene.rs"]
mod scene;

use masstone::correct::{BlankError, CorrectError, Given, Options, Outcome, Tone, correct_given};
use masstone::photo::Photo;
use masstone::reference::references;
use masstone::sample::{Samples, sample};
use masstone_simulator as sim;
use scene::{Kind, Measured, Shot, kind, mean, measure, measure_given, of_halves, photo_of, shoot};

const LONG_SIDE: u32 = 700;

/// A board whose patches touch, with a grey card on it, under a light that falls off strongly and not as a straight slope; no flaws
/// but that. Nothing between the patches shows the light.
fn board(seed: u64) -> sim::SceneSpec {
    let mut spec = (seed..)
        .map(|seed| sim::SceneSpec::draw(sim::Mixture::Flawless, sim::Split::Test, seed))
        .find(|it| kind(it) == Some(Kind::Grey) && it.layout.off.is_empty())
        .unwrap();
    let layout = &mut spec.layout;
    layout.pitch = layout.patch;
    let [width, height] = layout.extent();
    // The card right of the patches, all on one board.
    layout.cards[0].centre = [width + 90.0, height / 2.0];
    layout.first = [30.0, 40.0];
    layout.board = [width + 190.0, (height + 80.0).max(200.0)];
    // Otherwise its margins would show the light.
    layout.board_stated = false;
    spec.field = sim::Field {
        linear: [0.12, -0.08],
        quadratic: [-0.08, 0.03, -0.06],
        lamp: None,
    };
    spec
}

/// A plain sheet over board and card, in the same pose and light, darker by a third of a stop.
fn sheet(spec: &sim::SceneSpec) -> sim::SceneSpec {
    let mut bare = spec.clone();
    bare.layout.recipes.fill(None);
    bare.substrate = sim::Substrate::GreyBoard;
    bare.grain = 0.0;
    bare.exposure = 0.0;
    bare.trouble = sim::Trouble::NoCard;
    bare.clutter.clear();
    bare.camera.white_level *= 0.8;
    bare.shot_seed ^= 1;
    bare
}

fn photo(spec: &sim::SceneSpec) -> Photo {
    let rendered = spec.build().render_small(LONG_SIDE);
    photo_of(spec, [rendered.width, rendered.height], rendered.pixels)
}

/// A blank where the board of a shot lies.
fn at(shot: &Shot, blank: &Photo) -> Samples {
    sample(blank, &shot.panel, &shot.located)
}

fn with<'a>(blank: &'a Samples) -> Given<'a> {
    Given {
        blank: Some(blank),
        ..Given::default()
    }
}

fn refusal(shot: &Shot, blank: &Photo) -> BlankError {
    let samples = sample(&shot.photo, &shot.panel, &shot.located);
    let known = references(&shot.panel, &samples);
    let options = Options { tone: Tone::None };
    match correct_given(&samples, &known, &options, &with(&at(shot, blank))) {
        Err(CorrectError::Blank(error)) => error,
        other => panic!("{other:?}"),
    }
}

/// Mean ΔE00 beyond what the camera can't see.
fn beyond(all: &[Measured]) -> f64 {
    mean((all.iter()).map(|it| it.error().unwrap() - it.camera_error()))
}

#[test]
fn a_blank_shows_the_light_where_the_board_does_not() {
    let (mut without, mut given) = (Vec::new(), Vec::new());
    for seed in [9_101_000, 9_102_000, 9_103_000] {
        let spec = board(seed);
        let shot = shoot(&spec, LONG_SIDE, false).unwrap();
        let blank = at(&shot, &photo(&sheet(&spec)));
        let (alone, _, outcome) = measure(&shot, Tone::None).unwrap();
        let (lit, _, with_blank) = measure_given(&shot, Tone::None, &with(&blank)).unwrap();
        let stretches = |it: &Outcome| it.correction.light.stretches;
        assert!(stretches(&outcome) < 5, "hardly any substrate is seen");
        assert!(stretches(&with_blank) > 10);
        assert_eq!(with_blank.correction.light.order, 2);
        assert!(lit.iter().all(|it| it.clipped < 0.25));
        without.extend(alone);
        given.extend(lit);
    }
    assert!(given.iter().all(|it| it.error().unwrap() <= it.u95));
    let [halves, plain_halves] = of_halves(&[&given]).unwrap();
    assert!(halves < 0.6 * plain_halves, "{halves} {plain_halves}");
    let plain = mean(without.iter().map(Measured::plain_error));
    let (without, given) = (beyond(&without), beyond(&given));
    let figures =
        format!("plain {plain:.2}; beyond the camera {without:.3}, with a blank {given:.3}");
    // The light is a polynomial here: almost nothing of it is left.
    assert!(
        without > 0.15 && given < 0.1 && given < without / 3.0,
        "{figures}"
    );
}

/// A lamp above a corner of the board: no polynomial of second order.
fn under_a_lamp(height_mm: f64) -> (Shot, Samples) {
    let mut spec = board(9_104_000);
    spec.field.lamp = Some([0.0, 0.0, height_mm]);
    let shot = shoot(&spec, LONG_SIDE, false).unwrap();
    let blank = at(&shot, &photo(&sheet(&spec)));
    (shot, blank)
}

#[test]
fn a_blank_shows_light_that_is_no_polynomial() {
    let (shot, blank) = under_a_lamp(300.0);
    let without = beyond(&measure(&shot, Tone::None).unwrap().0);
    let (read, _, outcome) = measure_given(&shot, Tone::None, &with(&blank)).unwrap();
    let given = beyond(&read);
    assert!(!outcome.correction.light.local.knots.is_empty());
    assert!(given < 0.5 && given < without / 8.0, "{given} {without}");
    assert!(read.iter().all(|it| it.error().unwrap() <= it.u95));
    // Where the references are, the light is 1 all the same.
    let samples = sample(&shot.photo, &shot.panel, &shot.located);
    let blocks = samples.cards[0].blocks.iter();
    let on_card = mean(blocks.map(|it| outcome.correction.light.at(it.mm)[1]));
    assert!((on_card - 1.0).abs() < 0.02, "{on_card}");
}

#[test]
fn what_a_blank_does_not_follow_enters_the_uncertainty() {
    let read = |height| {
        let (shot, blank) = under_a_lamp(height);
        let (read, _, outcome) = measure_given(&shot, Tone::None, &with(&blank)).unwrap();
        (read, outcome.correction.light.residual)
    };
    let ((_, far), (near_read, near)) = (read(400.0), read(200.0));
    assert!(near > 2.0 * far, "{near} {far}");
    let inside = |it: &Measured| f64::from(u8::from(it.error().unwrap() <= it.u95));
    let inside = mean(near_read.iter().map(inside));
    assert!(inside > 0.9, "{inside}");
}

#[test]
fn a_blank_that_does_not_fit_is_refused() {
    let spec = board(9_105_000);
    let shot = shoot(&spec, LONG_SIDE, false).unwrap();
    let changed = |change: &dyn Fn(&mut sim::SceneSpec)| {
        let mut spec = sheet(&spec);
        change(&mut spec);
        refusal(&shot, &photo(&spec))
    };
    let clipped = changed(&|it| {
        it.substrate = sim::Substrate::WhiteBoard;
        it.camera.white_level = 1.5;
    });
    assert!(
        matches!(clipped, BlankError::Clipped { share } if share > 0.5),
        "{clipped}"
    );
    let dark = changed(&|it| it.camera.white_level = 0.02);
    assert!(
        matches!(dark, BlankError::TooDark { value } if value < 0.02),
        "{dark}"
    );
    let painted = refusal(&shot, &shot.photo);
    assert!(
        matches!(painted, BlankError::NotBlank { share } if share > 0.2),
        "{painted}"
    );
    let rough = changed(&|it| {
        it.substrate = sim::Substrate::StainedWood;
        it.grain = 6.0;
    });
    assert!(
        matches!(
            rough,
            BlankError::NotPlain { .. } | BlankError::NotBlank { .. }
        ),
        "{rough}"
    );
    for error in [clipped, dark, painted, rough] {
        assert!(error.hint().ends_with('.'), "{error}");
    }
}

#[test]
fn a_blank_in_another_light_is_refused() {
    let mut spec = board(9_106_000);
    // Strips of substrate between the patches show the board's own light.
    spec.layout.pitch = spec.layout.patch.map(|it| it + 16.0);
    spec.substrate = sim::Substrate::WhiteBoard;
    spec.layout.board = spec.layout.board.map(|it| it + 150.0);
    spec.layout.cards[0].centre[0] += 16.0 * spec.layout.columns as f64;
    let shot = shoot(&spec, LONG_SIDE, false).unwrap();
    let same = at(&shot, &photo(&sheet(&spec)));
    measure_given(&shot, Tone::None, &with(&same)).unwrap();
    let mut other = sheet(&spec);
    other.field.linear = [-0.2, 0.2];
    let error = refusal(&shot, &photo(&other));
    assert!(
        matches!(error, BlankError::OtherLight { apart, limit } if apart > limit),
        "{error}"
    );
}
