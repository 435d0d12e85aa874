//! A board made by hand, as a camera sees it: what should come out is known exactly.

#![expect(clippy::unwrap_used, reason = "a helper of tests")]

use masstone::colour::{Lab, Matrix, difference, lab, srgb};
use masstone::correct::{Options, Outcome, Tone, correct};
use masstone::geometry::Rect;
use masstone::photo::EncodingSource;
use masstone::reference::{Origin, Reference, RegionIndex, covariance};
use masstone::sample::{Block, LeftOut, Overview, Region, RegionKind, Samples};
use masstone_simulator as sim;
use nalgebra::Vector3;

pub(crate) fn srgb_to_xyz() -> Matrix {
    *srgb::RgbSpace::Srgb.linear_to_xyz_d50()
}

pub(crate) fn linear(colour: Lab) -> [f64; 3] {
    let xyz = lab::to_xyz(colour);
    (srgb_to_xyz().try_inverse().unwrap() * Vector3::new(xyz.x, xyz.y, xyz.z)).into()
}

/// What a camera makes of a linear value at a place.
pub(crate) type Camera<'a> = &'a dyn Fn([f64; 3], [f64; 2]) -> [f64; 3];

/// A region of 5 × 5 blocks of 4 mm.
pub(crate) fn region(
    kind: RegionKind,
    at: [f64; 2],
    colour: [f64; 3],
    camera: Camera<'_>,
) -> Region {
    let blocks: Vec<Block> = (0..25_u8)
        .map(|i| {
            let mm = [
                at[0] + 2.0 + 4.0 * f64::from(i % 5),
                at[1] + 2.0 + 4.0 * f64::from(i / 5),
            ];
            Block {
                mm,
                px: mm,
                rgb: camera(colour, mm),
                variance: [1e-8; 3],
                n: 100,
            }
        })
        .collect();
    Region {
        kind,
        rect: Rect {
            x: at[0],
            y: at[1],
            width: 20.0,
            height: 20.0,
        },
        outline: [[0.0; 2]; 4],
        blocks,
        pixels: 2500,
        left_out: LeftOut::default(),
        at_top: 0,
        at_bottom: 0,
    }
}

pub(crate) const PATCHES: [[f64; 3]; 6] = [
    [50.0, 0.0, 0.0],
    [40.0, 40.0, 28.0],
    [65.0, 8.0, 45.0],
    [30.0, 5.0, -20.0],
    [75.0, -5.0, 10.0],
    [45.0, -25.0, 15.0],
];

pub(crate) fn as_lab(it: [f64; 3]) -> Lab {
    Lab::new(it[0], it[1], it[2])
}

/// A board of six patches on a substrate with its cards beside it, as a camera sees it.
pub(crate) fn board(
    cards: &[Lab],
    with_substrate: bool,
    camera: Camera<'_>,
) -> (Samples, Vec<Reference>) {
    let x = |i: usize| 30.0 * f64::from(u8::try_from(i).unwrap());
    let wood = linear(Lab::new(78.0, 5.0, 21.0));
    let patches = PATCHES.iter().enumerate().map(|(patch, it)| {
        let at = [x(patch % 3) * 2.0, x(patch / 3) * 2.0];
        region(RegionKind::Whole { patch }, at, linear(as_lab(*it)), camera)
    });
    let zones = cards.iter().enumerate().map(|(zone, it)| {
        let at = [250.0 + x(zone % 6), x(zone / 6)];
        region(RegionKind::Card { card: 0, zone }, at, linear(*it), camera)
    });
    let substrate = (0..if with_substrate { 12 } else { 0 }).map(|patch| {
        let at = [x(patch % 4) * 2.0 - 25.0, x(patch / 4) * 2.0 - 25.0];
        region(RegionKind::Substrate { patch }, at, wood, camera)
    });
    let samples = Samples {
        to_xyz: srgb_to_xyz(),
        camera: None,
        encoding: EncodingSource::Profile,
        size: [1000, 800],
        bits: 8,
        code_step: 0.0003,
        patches: patches.collect(),
        cards: zones.collect(),
        substrate: substrate.collect(),
        overview: Overview::default(),
    };
    let references = cards
        .iter()
        .enumerate()
        .map(|(i, it)| Reference {
            name: format!("card test {i}"),
            regions: vec![RegionIndex::Card(i)],
            lab: *it,
            covariance: covariance(*it, 0.5),
            origin: Origin::Stated,
        })
        .collect();
    (samples, references)
}

pub(crate) fn solve(samples: &Samples, references: &[Reference], tone: Tone) -> Outcome {
    correct(samples, references, &Options { tone }).unwrap()
}

pub(crate) fn errors(outcome: &Outcome) -> Vec<f64> {
    let readings = outcome.readings.iter().zip(PATCHES);
    readings
        .map(|(it, truth)| difference::delta_e_2000(it.lab.unwrap(), as_lab(truth)))
        .collect()
}

pub(crate) fn worst(outcome: &Outcome) -> f64 {
    errors(outcome).into_iter().fold(0.0, f64::max)
}

/// The 24 colours of a chart: from the open data set in the simulator.
pub(crate) fn chart() -> Vec<Lab> {
    sim::CardKind::Chart24
        .nominal()
        .into_iter()
        .map(as_lab)
        .collect()
}

pub(crate) const GREY: Lab = Lab {
    l: 49.5,
    a: 0.0,
    b: 0.0,
    white_point: std::marker::PhantomData,
};
