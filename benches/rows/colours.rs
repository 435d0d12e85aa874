//! Rows on colours, from small renders with the true geometry: what location adds is judged elsewhere.

use crate::carried::{self, fitted, pair, shot};
use crate::figures::Figures;
use crate::half::half_known;
use crate::rows::Table;
use crate::scene::{Kind, Measured, kind, mean, measure, measure_given, shoot};
use masstone::colour::{Lab, difference};
use masstone::correct::{CorrectionKind, Given, Tone};
use masstone_simulator::{LightKind, Mixture, SceneSpec, Split, ToneStrength};
use rayon::prelude::*;

/// Pixels of the long side: from here on no patch has so few that noise rules.
const LONG_SIDE: u32 = 1600;
/// The same of a saved correction's pairs and of panels shot again.
const SMALLER: u32 = 1000;
/// Scenes that are drawn for each photo wanted, at most: a quarter of them have a chart.
const DRAWS: u64 = 12;
/// Poses, phones and lights that each panel is shot in again.
const SHOTS: u64 = 6;

/// One photo.
struct Photo {
    kind: Kind,
    correction: CorrectionKind,
    light: LightKind,
    tone: ToneStrength,
    measured: Vec<Measured>,
}

fn draw(seed: u64) -> SceneSpec {
    SceneSpec::draw(Mixture::Ordinary, Split::Test, seed)
}

/// The first scenes from a seed on that hold such references.
fn scenes(which: Kind, first: u64, count: u64) -> Vec<SceneSpec> {
    let drawn = (first..first + DRAWS * count).map(draw);
    let wanted = drawn.filter(|it| kind(it) == Some(which));
    wanted
        .take(usize::try_from(count).unwrap_or(usize::MAX))
        .collect()
}

/// Measures with every reference, or of a chart with every second one: half a chart leaves a linear map.
fn photo(spec: &SceneSpec, half: bool) -> Option<Photo> {
    let mut it = shoot(spec, LONG_SIDE, false)?;
    if it.truth.cards.len() != spec.layout.cards.len() {
        return None;
    }
    if half {
        it = half_known(it);
    }
    let measured = measure_given(&it, Tone::Auto, &Given::default());
    match measured {
        Ok((measured, _, outcome)) => Some(Photo {
            kind: kind(spec)?,
            correction: outcome.correction.kind,
            light: spec.light_kind,
            tone: spec.tone_strength,
            measured,
        }),
        Err(why) => {
            println!("  not measured: {why}");
            None
        }
    }
}

/// Errors over those of the plain method, by references, lights and curves; how often U95 holds, by correction.
pub(crate) fn mixture(table: &mut Table, first: u64, count: u64) {
    let goals = [
        (Kind::Grey, 0.7, 0.6),
        (Kind::Zones, 0.6, 0.6),
        (Kind::Chart, 0.33, 0.4),
    ];
    let all: Vec<SceneSpec> = (goals.iter().zip(0..))
        .flat_map(|((which, ..), i)| {
            // Some show less than all of their cards, and of charts some leave a linear map.
            let more = if *which == Kind::Chart { 1.55 } else { 1.05 };
            scenes(*which, first + i * 100_000, times(count, more))
        })
        .collect();
    let photos: Vec<Photo> = all.par_iter().filter_map(|it| photo(it, false)).collect();
    let halved: Vec<Photo> = (scenes(Kind::Chart, first + 300_000, times(count, 1.2)).par_iter())
        .filter_map(|it| photo(it, true))
        .collect();
    for (which, ratio, halves) in goals {
        let figures = |wanted: &dyn Fn(&Photo) -> bool| {
            let some = photos.iter().filter(|it| it.kind == which && wanted(it));
            Figures::of(some.map(|it| &it.measured))
        };
        let print = |name: &str, it: Option<Figures>| {
            if let Some(it) = it {
                println!("{}", it.line(name));
            }
        };
        for light in LIGHTS {
            print(&format!("  {light:?}"), figures(&|it| it.light == light));
        }
        for tone in [ToneStrength::None, ToneStrength::Mild, ToneStrength::Strong] {
            print(&format!("  tone {tone:?}"), figures(&|it| it.tone == tone));
        }
        let Some(it) = figures(&|_| true) else {
            table.row(
                &format!("{which:?}"),
                &format!("≤ {ratio}"),
                "no photo".into(),
                false,
            );
            continue;
        };
        println!("{}", it.line(&format!("{which:?}")));
        table.row(
            &format!(
                "{}, ordinary mixture: mean ΔE00 ÷ the plain method's",
                words(which)
            ),
            &format!("≤ {ratio}"),
            format!(
                "{:.2} ({:.2} of {:.2}; {} photos, {} readings, {} more clipped)",
                it.ratio(),
                it.ours,
                it.plain,
                it.photos,
                it.readings,
                it.clipped
            ),
            it.ratio() <= ratio,
        );
        let of_halves = it.halves.map_or(f64::NAN, |[ours, plain]| ours / plain);
        table.row(
            &format!(
                "{}: masked–exposed difference in one photo ÷ the plain method's",
                words(which)
            ),
            &format!("≤ {halves}"),
            format!("{of_halves:.2}"),
            of_halves <= halves,
        );
        if which == Kind::Chart
            && let Some(it) = figures(&|it| it.light == LightKind::Daylight)
        {
            table.row(
                "24-patch chart in daylight: mean ΔE00, 95th percentile",
                "≤ 1.3, ≤ 3.5",
                format!("{:.2}, {:.2} ({} photos)", it.ours, it.p95, it.photos),
                it.ours <= 1.3 && it.p95 <= 3.5,
            );
        }
    }
    for kind in [
        CorrectionKind::Neutral,
        CorrectionKind::NeutralTone,
        CorrectionKind::Linear,
        CorrectionKind::RootPolynomial,
    ] {
        // A correction of a kind is one of a kind, whatever was in view.
        let some = photos
            .iter()
            .chain(&halved)
            .filter(|it| it.correction == kind);
        inside(
            table,
            &format!("{kind:?}"),
            Figures::of(some.map(|it| &it.measured)),
        );
    }
}

/// Some more, or nothing of nothing.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a count of photos"
)]
fn times(count: u64, factor: f64) -> u64 {
    (count as f64 * factor).ceil() as u64
}

const LIGHTS: [LightKind; 5] = [
    LightKind::Daylight,
    LightKind::Overcast,
    LightKind::Incandescent,
    LightKind::Fluorescent,
    LightKind::Led,
];

fn words(which: Kind) -> &'static str {
    match which {
        Kind::Grey => "grey card alone",
        Kind::Zones => "white-grey-black card",
        Kind::Chart => "24-patch chart",
    }
}

/// The row on how often U95 holds.
fn inside(table: &mut Table, kind: &str, figures: Option<Figures>) {
    let what = format!("true values inside U95, {kind}");
    let goal = format!("92–98 %, at least {ENOUGH} photos");
    let Some(it) = figures else {
        return table.row(&what, &goal, "no photo".into(), false);
    };
    let found = format!(
        "{:.1} % (mean U95 {:.2}; {} photos, {} readings)",
        100.0 * it.inside,
        it.u95,
        it.photos,
        it.readings
    );
    let reached = (0.92..=0.98).contains(&it.inside);
    table.row_of(&what, &goal, found, reached, it.photos >= ENOUGH);
}

/// Fewest photos that tell how often U95 holds.
const ENOUGH: usize = 200;

/// A chart's correction on other photos of the same camera and light.
pub(crate) fn saved(table: &mut Table, first: u64, count: u64) {
    let seeds = (0..times(count, 1.05)).into_par_iter();
    let photos: Vec<Vec<Measured>> = seeds
        .filter_map(|i| {
            let (chart, grey) = pair(Split::Test, first + 1000 * i);
            let (chart, grey) = (shot(&chart, SMALLER)?, shot(&grey, SMALLER)?);
            carried::carried(&grey, &fitted(&chart).ok()?, false).ok()
        })
        .collect();
    let figures = Figures::of(photos.iter());
    if let Some(it) = &figures {
        println!("{}", it.line("Saved"));
    }
    inside(table, "Saved", figures);
}

/// The same panels in other lights, by other phones, in other poses.
pub(crate) fn elsewhere(table: &mut Table, first: u64, panels: u64) {
    let mut everything = [Vec::new(), Vec::new()];
    for (which, i) in [Kind::Grey, Kind::Zones, Kind::Chart].into_iter().zip(0..) {
        let seeds: Vec<(SceneSpec, u64)> = (scenes(which, first + 100_000 * i, panels).into_iter())
            .zip((0..).map(|it| first + 50_000 + 100_000 * i + SHOTS * it))
            .collect();
        let apart: Vec<[Vec<f64>; 2]> = (seeds.par_iter())
            .map(|(spec, seed)| {
                let again = (0..SHOTS).map(|it| spec.elsewhere(seed + it));
                let shots: Vec<Vec<Measured>> = again
                    .filter_map(|it| Some(measure(&shot(&it, SMALLER)?, Tone::Auto).ok()?.0))
                    .collect();
                [
                    from_the_mean(&shots, |it| it.ours),
                    from_the_mean(&shots, |it| Some(it.plain)),
                ]
            })
            .collect();
        let all = [0, 1].map(|k| {
            apart
                .iter()
                .flat_map(|it| it[k].iter().copied())
                .collect::<Vec<f64>>()
        });
        println!(
            "{which:?}: {panels} panels shot {SHOTS} times elsewhere: {:.2} from the mean, plain method {:.2}",
            mean(all[0].iter().copied()),
            mean(all[1].iter().copied())
        );
        for (into, from) in everything.iter_mut().zip(all) {
            into.extend(from);
        }
    }
    let [ours, plain] = everything.map(mean);
    table.row(
        "the same panel shot again in other lights, by other phones, in other poses: mean ΔE00 from the mean ÷ the plain method's",
        "≤ 0.6",
        format!("{:.2} ({ours:.2} of {plain:.2})", ours / plain),
        ours / plain <= 0.6,
    );
}

/// ΔE00 of each reading from its patch's mean in Lab, of patches that are readable in every photo.
fn from_the_mean(photos: &[Vec<Measured>], lab: impl Fn(&Measured) -> Option<Lab>) -> Vec<f64> {
    let mut all = Vec::new();
    let patches = photos.iter().map(Vec::len).min().unwrap_or(0);
    for patch in 0..patches {
        let seen: Vec<&Measured> = photos.iter().map(|it| &it[patch]).collect();
        if seen
            .iter()
            .any(|it| it.clipped >= 0.25 || it.ours.is_none())
            || seen.len() < 2
        {
            continue;
        }
        let labs: Vec<Lab> = seen.into_iter().filter_map(&lab).collect();
        let middle = Lab::new(
            mean(labs.iter().map(|it| it.l)),
            mean(labs.iter().map(|it| it.a)),
            mean(labs.iter().map(|it| it.b)),
        );
        all.extend(labs.iter().map(|it| difference::delta_e_2000(*it, middle)));
    }
    all
}
