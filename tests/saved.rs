//! A correction fitted to a photo of a chart and used on photos of a grey card, against simulated truth; and its file.

#![expect(clippy::unwrap_used, reason = "helpers of tests")]

mod carried;
#[allow(dead_code, reason = "not every test needs all of it")]
#[path = "correction/raw.rs"]
mod raw;

use carried::scene;
use carried::scene::{Measured, Shot, mean, measure, measure_given, of_halves};
use carried::{CAMERA, fitted, metadata, pair, saved, shot};
use masstone::colour::difference;
use masstone::correct::{
    Carried, ComponentName, Corrected, CorrectionKind, Given, MOST_APART, Outcome, Saved, Terms,
    Tone, ToneSource,
};
use masstone::flag::Flag;
use masstone::photo::Metadata;
use masstone::record::saved as file;
use masstone_simulator as sim;
use std::path::Path;
use std::sync::OnceLock;

const LONG_SIDE: u32 = 600;

/// One pair of shots with the correction of the first.
fn couple() -> &'static (Shot, Shot, Saved) {
    static COUPLE: OnceLock<(Shot, Shot, Saved)> = OnceLock::new();
    COUPLE.get_or_init(|| {
        let (chart, grey) = pair(sim::Split::Test, 9_110_000);
        let (chart, grey) = (
            shot(&chart, LONG_SIDE).unwrap(),
            shot(&grey, LONG_SIDE).unwrap(),
        );
        let saved = fitted(&chart).unwrap();
        (chart, grey, saved)
    })
}

fn with(shot: &Shot, saved: &Saved, metadata: &Metadata, force: bool) -> Result<Outcome, String> {
    let given = Given {
        saved: Some(Carried {
            saved,
            metadata,
            force,
        }),
        blank: None,
    };
    measure_given(shot, Tone::Auto, &given).map(|it| it.2)
}

fn camera(name: &str, lens: Option<&str>) -> Metadata {
    Metadata {
        camera: Some(name.into()),
        lens: lens.map(Into::into),
        ..Metadata::default()
    }
}

fn forced(readings: &[Corrected]) -> usize {
    let flagged = |it: &&Corrected| it.flags.contains(&Flag::ForcedCorrection);
    readings.iter().filter(flagged).count()
}

#[test]
fn a_correction_of_a_chart_beats_the_grey_card_alone() {
    let (mut alone, mut carried) = (Vec::new(), Vec::new());
    for seed in 0..10 {
        let (chart, grey) = pair(sim::Split::Test, 9_120_000 + 1000 * seed);
        let (Some(chart), Some(grey)) = (shot(&chart, LONG_SIDE), shot(&grey, LONG_SIDE)) else {
            continue;
        };
        let saved = fitted(&chart).unwrap();
        alone.extend(measure(&grey, Tone::Auto).unwrap().0);
        carried.extend(carried::carried(&grey, &saved, false).unwrap());
    }
    // Photos in a row: a half's other half comes just before it.
    let [halves, plain_halves] = of_halves(&[&carried]).unwrap();
    assert!(halves < 0.6 * plain_halves, "{halves} {plain_halves}");
    alone.retain(|it: &Measured| it.clipped < 0.25);
    carried.retain(|it: &Measured| it.clipped < 0.25);
    let error = |all: &[Measured]| mean(all.iter().filter_map(Measured::error));
    let u95 = |all: &[Measured]| mean(all.iter().map(|it| it.u95));
    let inside = |it: &Measured| it.error().map(|e| f64::from(u8::from(e <= it.u95)));
    let inside = mean(carried.iter().filter_map(inside));
    let [plain, camera] =
        [Measured::plain_error, Measured::camera_error].map(|of| mean(alone.iter().map(of)));
    let figures = format!(
        "plain {plain:.2}, grey card {:.2} (U95 {:.2}), saved {:.2} (U95 {:.2}, holds {inside:.3}), camera {camera:.2}",
        error(&alone),
        u95(&alone),
        error(&carried),
        u95(&carried),
    );
    assert!(error(&carried) < 0.6 * error(&alone), "{figures}");
    assert!(u95(&carried) < 0.7 * u95(&alone), "{figures}");
    assert!(inside > 0.9, "{figures}");
}

#[test]
fn on_its_own_photo_it_changes_nothing() {
    let (chart, _, saved) = couple();
    let own = measure(chart, Tone::Auto).unwrap().2;
    let again = with(chart, saved, &metadata(), false).unwrap();
    assert_eq!(again.correction.kind, CorrectionKind::Saved);
    assert!(own.correction.saved.is_none() && again.portable.is_none());
    let used = again.correction.saved.unwrap();
    assert_eq!(used.kind, own.correction.kind);
    assert!(used.light_apart < 1e-9 && used.overruled.is_empty() && !used.other_camera);
    for (one, other) in own.readings.iter().zip(&again.readings) {
        let apart = difference::delta_e_2000(one.lab.unwrap(), other.lab.unwrap());
        assert!(apart < 1e-9, "{apart}");
        // What the carrying costs is in the interval.
        let rescaling = |it: &Corrected| {
            let mut parts = it.components.iter();
            parts
                .find(|it| it.name == ComponentName::Rescaling)
                .cloned()
        };
        assert!(rescaling(one).is_none());
        let part = rescaling(other).unwrap();
        assert!(part.common && part.sd_lab[0] > 0.1, "{part:?}");
    }
    // The chart's colours had no part this time: they are checked by themselves.
    assert!(again.correction.leave_one_out.is_some());
}

#[test]
fn another_camera_is_refused_by_name_unless_forced() {
    let (_, grey, saved) = couple();
    let error = with(grey, saved, &camera("Other Phone 2", None), false).unwrap_err();
    assert!(
        error.contains(CAMERA) && error.contains("Other Phone 2"),
        "{error}"
    );
    let error = with(grey, saved, &Metadata::default(), false).unwrap_err();
    assert!(error.contains("does not say which camera"), "{error}");
    let mut lens = saved.clone();
    lens.origin.lens = Some("wide".into());
    let error = with(grey, &lens, &camera(CAMERA, Some("tele")), false).unwrap_err();
    assert!(error.contains("wide") && error.contains("tele"), "{error}");
    with(grey, &lens, &camera(CAMERA, Some("wide")), false).unwrap();
    with(grey, &lens, &camera(CAMERA, None), false).unwrap();

    let right = with(grey, saved, &metadata(), false).unwrap();
    let other = with(grey, saved, &camera("Other Phone 2", None), true).unwrap();
    let overruled = other.correction.saved.unwrap().overruled;
    assert!(
        overruled.len() == 1 && overruled[0].contains("Other Phone 2"),
        "{overruled:?}"
    );
    let u95 = |readings: &[Corrected]| mean(readings.iter().map(|it| it.u95));
    let (wide, narrow) = (u95(&other.readings), u95(&right.readings));
    assert!(wide > 1.5 * narrow, "{wide} {narrow}");
    assert_eq!(forced(&other.readings), other.readings.len());
    assert_eq!(forced(&right.readings), 0);
}

/// A camera whose white balance stays as it was set for one light, in another.
#[test]
fn another_light_is_refused_unless_forced() {
    let (chart, grey) = pair(sim::Split::Test, 9_111_000);
    let light = |kelvin| sim::TintedLight::plain(sim::Light::Daylight(kelvin));
    let in_light = |mut spec: sim::SceneSpec, kelvin| {
        let eyes = spec.camera.id.sensitivities();
        let white = |light: &sim::TintedLight| eyes.each_ref().map(|it| it.dot(&light.spectrum()));
        let (here, home) = (white(&light(kelvin)), white(&light(5500.0)));
        spec.light = light(kelvin);
        spec.second = None;
        spec.camera.matrix_light = Some(light(5500.0));
        spec.camera.balance_error = [0, 1, 2].map(|c| here[c] / home[c] / (here[1] / home[1]));
        // Nothing is clipped by the tint.
        spec.camera.white_level = 0.6;
        shot(&spec, LONG_SIDE).unwrap()
    };
    let saved = fitted(&in_light(chart, 5500.0)).unwrap();
    let same = with(&in_light(grey.clone(), 5800.0), &saved, &metadata(), false).unwrap();
    let apart = same.correction.saved.unwrap().light_apart;
    assert!(0.01 < apart && apart < MOST_APART, "{apart}");
    let far = in_light(grey, 8000.0);
    let error = with(&far, &saved, &metadata(), false).unwrap_err();
    assert!(error.contains("the light differs"), "{error}");
    let other = with(&far, &saved, &metadata(), true).unwrap();
    assert_eq!(forced(&other.readings), other.readings.len());
    let used = other.correction.saved.unwrap();
    assert!(used.light_apart > MOST_APART && used.overruled.len() == 1 && !used.other_camera);
}

#[test]
fn the_file_brings_back_exactly_what_was_saved() {
    let (_, grey, saved) = couple();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("phone.toml");
    std::fs::write(&path, file::text(saved)).unwrap();
    let back = file::read(&path).unwrap();
    assert_eq!(&back, saved);
    assert_eq!(file::text(&back), file::text(saved));
    let read = |saved: &Saved| with(grey, saved, &metadata(), false).unwrap();
    assert_eq!(read(saved), read(&back));
    // Awkward words and numbers, and what may be missing.
    let mut odd = saved.clone();
    odd.origin.photo = "Lärche \"№ 1\"\\\n'''.jpg".into();
    odd.origin.camera = None;
    odd.origin.manual_white_balance = Some(false);
    odd.fit.map.gains = [1e-300, 0.1 + 0.2, 1e300];
    odd.fit.tone.contrast = -5e-324;
    odd.fit.tone.source = ToneSource::Encoding;
    odd.fit.neutral_alone = None;
    odd.fit.variants.clear();
    let back = file::parse(&file::text(&odd), Path::new("odd.toml")).unwrap();
    assert_eq!(back, odd);
}

#[test]
fn a_broken_file_is_refused_with_its_line() {
    let (_, _, whole) = couple();
    let mut linear = whole.clone();
    linear.fit.map.terms = Terms::Linear;
    linear.fit.map.coefficients.truncate(3);
    linear.fit.variants.clear();
    let text = file::text(&saved(linear.fit));
    let line = |needle: &str| 1 + text.lines().position(|it| it.starts_with(needle)).unwrap();
    let cases = [
        (
            "schema = 1",
            "schema = 2",
            line("schema"),
            "its schema is 2, and this program reads 1",
        ),
        ("schema = 1\n", "", 1, "schema"),
        (
            "program",
            "programme",
            line("program"),
            "unknown field `programme`",
        ),
        (
            "kind = ",
            "kind = \"cubic\" # ",
            line("kind"),
            "unknown variant `cubic`",
        ),
        (
            "leave_one_out = ",
            "leave_one_out = nan # ",
            line("leave_one_out"),
            "finite",
        ),
        (
            "gains = [",
            "gains = [-1.0, 1.0, 1.0] # ",
            line("gains"),
            "above 0",
        ),
        (
            "\"linear\"\ncoeff",
            "\"root-polynomial\"\ncoeff",
            line("coefficients"),
            "one row of coefficients a term",
        ),
        (
            "contrast = ",
            "contrast = 1.5, was = ",
            line("tone"),
            "unknown field `was`",
        ),
        (
            "linear = false",
            "linear = 0",
            line("linear = false"),
            "boolean",
        ),
    ];
    for (from, to, line, reason) in cases {
        assert!(text.contains(from), "{from}");
        let error = file::parse(&text.replacen(from, to, 1), Path::new("phone.toml")).unwrap_err();
        let message = error.to_string();
        assert!(
            message.starts_with(&format!("phone.toml, line {line}: ")),
            "{from}: {message}"
        );
        assert!(message.contains(reason), "{from}: {message}");
        assert!(error.hint().ends_with('.'));
    }
    // Cut short anywhere: never half a correction.
    for cut in (0..text.trim_end().len() - 1)
        .step_by(37)
        .filter(|it| text.is_char_boundary(*it))
    {
        let error = file::parse(&text[..cut], Path::new("phone.toml")).unwrap_err();
        assert!(error.to_string().contains("phone.toml, line "), "{error}");
    }
    let error = file::read(Path::new("no-such-file.toml")).unwrap_err();
    assert!(error.to_string().contains("no-such-file.toml"));
}

/// Raw files of one camera in one light, balanced otherwise by the camera itself each time: that is told from a change of light.
#[test]
fn a_correction_of_sensor_values_serves_whatever_the_camera_balanced() {
    let (mut chart, mut grey) = pair(sim::Split::Test, 9_130_000);
    chart.camera.balance_error = [1.15, 1.0, 0.9];
    grey.camera.balance_error = [0.9, 1.0, 1.2];
    let raw = |spec| raw::shoot_raw(spec, 1600, &sim::DngSpec::phone()).unwrap();
    let (chart, shot) = (raw(&chart), raw(&grey));
    let fit = fitted(&chart).unwrap();
    assert!(fit.fit.sensor && fit.fit.linear);
    assert!(matches!(
        fit.fit.kind,
        CorrectionKind::SensorLinear | CorrectionKind::SensorRootPolynomial
    ));
    // As a file and back.
    let fit = file::parse(&file::text(&fit), Path::new("raw.toml")).unwrap();
    assert!(fit.fit.sensor);
    let outcome = with(&shot, &fit, &metadata(), false).unwrap();
    let used = outcome.correction.saved.unwrap();
    assert!(used.light_apart < 0.02, "{}", used.light_apart);
    let own = measure(&shot, Tone::Auto).unwrap().0;
    let carried = carried::carried(&shot, &fit, false).unwrap();
    let error = |all: &[Measured]| mean(all.iter().filter_map(Measured::error));
    let (own, carried) = (error(&own), error(&carried));
    assert!(
        carried < own,
        "{carried} with the chart's, {own} with the card alone"
    );
    // Developed pictures of the same camera are other values.
    let developed = carried::shot(&grey, LONG_SIDE).unwrap();
    let refusal = with(&developed, &fit, &metadata(), false).unwrap_err();
    assert!(refusal.contains("another encoding"), "{refusal}");
}
