//! Simulated scenes as raw files, with the true geometry.

use crate::scene::{Shot, placed};
use masstone::photo::{Options, Photo};
use masstone_simulator as sim;

/// The same scene as a raw file, opened as the program does; `long_side` is the sensor's. Places are those of the photo, which has a pixel for
/// each cell of the filter array.
pub(crate) fn shoot_raw(
    spec: &sim::SceneSpec,
    long_side: u32,
    written: &sim::DngSpec,
) -> Option<Shot> {
    let scene = spec.build();
    let [width, height] = scene.stored_size(long_side);
    let image = scene.render_sensor(width, height, sim::Cfa::of(spec.camera.id));
    let bytes = image.encode(written).ok()?;
    let photo = Photo::from_bytes("simulated.dng".as_ref(), bytes, &Options::default()).ok()?;
    placed(spec, photo, halved(image.truth_in(written)))
}

/// A truth for a photo of half as many pixels a side.
pub(crate) fn halved(mut truth: sim::Truth) -> sim::Truth {
    let half = |quad: &mut sim::Quad| *quad = quad.map(|it| it.map(|x| x / 2.0));
    half(&mut truth.grid);
    half(&mut truth.board);
    truth.patches.iter_mut().for_each(|it| half(&mut it.quad));
    for card in &mut truth.cards {
        half(&mut card.corners);
        card.zones.iter_mut().for_each(|it| half(&mut it.quad));
    }
    truth.size = truth.size.map(|it| it / 2);
    truth
}
