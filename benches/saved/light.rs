//! How a map fitted in one light errs in another, by how far a grey card says that the two are apart.
//!
//! A camera has its white balance and its own colours set for one light and sees a chart under another; a grey card's gains scale it.
//! In files as phones write them, and in raw ones with the map on top. No picture is rendered.

use super::carried::scene::mean;
use masstone::colour::{Lab, Matrix, Xyz, difference, lab};
use masstone::correct::apart;
use masstone_simulator as sim;
use nalgebra::Vector3;

/// Colours of the chart without its greys.
const COLOURS: usize = 18;

/// Limits of the rows.
const STEPS: [f64; 9] = [0.0, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1.0];

/// A map of one light under another.
struct Pair {
    apart: f64,
    /// Both are phases of daylight.
    daylight: bool,
    /// Mean ΔE00 under the map's own light, and under this one.
    errors: [f64; 2],
    /// Mean squares of the change in lightness, chroma and hue over chroma.
    squares: [f64; 3],
}

/// Prints the tables.
pub(crate) fn print(split: sim::Split) {
    for (name, rendered) in [("files as phones write them", true), ("raw files", false)] {
        let pairs: Vec<Pair> = (0..sim::CAMERAS_PER_SPLIT)
            .flat_map(|number| pairs(sim::CameraId { split, number }, rendered))
            .collect();
        for (which, daylight) in [
            ("daylight in other daylight", true),
            ("any light in any other", false),
        ] {
            println!("== map of another light, {name}: {which}");
            println!(
                "       apart  pairs  own light  this light  change over chroma, a unit apart: L C H"
            );
            for step in STEPS.windows(2) {
                row(
                    step[0],
                    step[1],
                    pairs.iter().filter(|it| it.daylight || !daylight),
                );
            }
        }
    }
}

fn row<'a>(low: f64, high: f64, pairs: impl Iterator<Item = &'a Pair>) {
    let some: Vec<&Pair> = pairs
        .filter(|it| low <= it.apart && it.apart < high)
        .collect();
    if some.is_empty() {
        return;
    }
    let average = |value: &dyn Fn(&Pair) -> f64| mean(some.iter().map(|it| value(it)));
    let far = average(&|it| it.apart * it.apart).sqrt();
    let [l, c, h] = [0, 1, 2].map(|k| average(&|it| it.squares[k]).sqrt() / far);
    println!(
        "{low:5.2} – {high:4.2} {:>6} {:>10.2} {:>11.2}  {l:.2} {c:.2} {h:.2}",
        some.len(),
        average(&|it| it.errors[0]),
        average(&|it| it.errors[1]),
    );
}

/// One camera set for each light, under each other.
fn pairs(camera: sim::CameraId, rendered: bool) -> Vec<Pair> {
    let eyes = camera.sensitivities();
    let surfaces = &sim::chart_24()[..COLOURS];
    let truths: Vec<Lab> = surfaces.iter().map(|it| as_lab(sim::lab_of(it))).collect();
    let error = |labs: &[Lab]| {
        mean(
            labs.iter()
                .zip(&truths)
                .map(|(a, b)| difference::delta_e_2000(*a, *b)),
        )
    };
    let lights = lights(camera.split);
    let mut pairs = Vec::new();
    for (i, (home_is_daylight, home)) in lights.iter().enumerate() {
        let Some(setting) = Setting::of(&eyes, home, rendered) else {
            continue;
        };
        let Some((own, at_home)) = setting.seen(&eyes, home, surfaces) else {
            continue;
        };
        for (j, (daylight, light)) in lights.iter().enumerate() {
            let Some((gains, labs)) = setting.seen(&eyes, light, surfaces).filter(|_| i != j)
            else {
                continue;
            };
            let [red, blue] = apart(gains, own);
            let mut squares = [0.0; 3];
            for (here, there) in labs.iter().zip(&at_home) {
                let part = difference::parts(*there, *here);
                let chroma = lab::chroma(*there).max(10.0);
                for (sum, d) in squares
                    .iter_mut()
                    .zip([part.lightness, part.chroma, part.hue])
                {
                    *sum += (d / chroma).powi(2) / COLOURS as f64;
                }
            }
            pairs.push(Pair {
                apart: red.hypot(blue),
                daylight: *daylight && *home_is_daylight,
                errors: [error(&at_home), error(&labs)],
                squares,
            });
        }
    }
    pairs
}

/// A camera's settings for one light.
struct Setting {
    white: Vector3<f64>,
    to_file: Matrix,
    map: Matrix,
}

impl Setting {
    fn of(eyes: &[sim::Spectrum; 3], light: &sim::Spectrum, rendered: bool) -> Option<Self> {
        let to_xyz = sim::fit_matrix(&sim::balanced_weights(eyes, light));
        let to_file = if rendered {
            sim::Space::Srgb.to_xyz_d50().try_inverse()? * to_xyz
        } else {
            Matrix::identity()
        };
        Some(Self {
            white: white(eyes, light),
            map: to_xyz * to_file.try_inverse()?,
            to_file,
        })
    }

    /// The gains of a white card, and the surfaces' colours with them.
    fn seen(
        &self,
        eyes: &[sim::Spectrum; 3],
        light: &sim::Spectrum,
        surfaces: &[sim::Spectrum],
    ) -> Option<([f64; 3], Vec<Lab>)> {
        let weights = sim::balanced_weights(eyes, light);
        let tint = white(eyes, light).component_div(&self.white);
        let file =
            |it: &sim::Spectrum| self.to_file * sim::balanced(it, &weights).component_mul(&tint);
        let card = file(&sim::Spectrum::flat(1.0));
        let gains = (self.to_file * Vector3::repeat(1.0)).component_div(&card);
        let labs = surfaces.iter().map(|it| {
            let xyz = self.map * file(it).component_mul(&gains);
            lab::from_xyz(Xyz::new(xyz.x, xyz.y, xyz.z))
        });
        // A light so far off that white has no value in a channel.
        (card.min() > 0.0).then(|| (gains.into(), labs.collect()))
    }
}

fn white(eyes: &[sim::Spectrum; 3], light: &sim::Spectrum) -> Vector3<f64> {
    Vector3::from(eyes.each_ref().map(|it| it.dot(light)))
}

fn as_lab(it: [f64; 3]) -> Lab {
    Lab::new(it[0], it[1], it[2])
}

/// The lights of a split; whether each is a phase of daylight.
fn lights(split: sim::Split) -> Vec<(bool, sim::Spectrum)> {
    let study = split == sim::Split::Study;
    let shift = if study { 0.0 } else { 400.0 };
    let daylight = (0..7_u8).map(|i| {
        (
            true,
            sim::Light::Daylight(4200.0 + 800.0 * f64::from(i) + shift),
        )
    });
    let planck = (0..2_u8).map(|i| {
        (
            false,
            sim::Light::Planck(2700.0 + 400.0 * f64::from(i) + shift / 2.0),
        )
    });
    let names = if study {
        [
            "FL1", "FL3", "FL7", "FL10", "FL12", "LED-B1", "LED-B3", "LED-B5", "LED-V1",
        ]
    } else {
        [
            "FL2", "FL4", "FL8", "FL9", "FL11", "LED-B2", "LED-B4", "LED-BH1", "LED-V2",
        ]
    };
    let tables = names
        .into_iter()
        .filter_map(sim::Light::named)
        .map(|it| (false, it));
    daylight
        .chain(planck)
        .chain(tables)
        .map(|(daylight, it)| (daylight, it.spectrum()))
        .collect()
}
