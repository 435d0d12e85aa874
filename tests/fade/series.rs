//! Records of an exposure series made by hand: exact colours, chosen covariances, no photo.

use crate::made;
use masstone::correct::{Component, ComponentName};
use masstone::geometry::Rect;
use masstone::panel::{Control, Grid, Panel, Patch, PigmentLoad, Side};
use masstone::record::{DriftEntry, Half, PanelEntry, PhotoRecord, Reading, ReferenceEntry};

/// Colours in L*, a*, b*.
pub(crate) type Colour = [f64; 3];

/// Patches of a board: 4 rows of 4.
pub(crate) const PATCHES: usize = 16;

/// Standard deviation of a reading's noise in each coordinate.
pub(crate) const NOISE: f64 = 0.1;

/// 16 patches, each of a pigment of its own, left half masked. Everything about them is stated, so that swatches can be told.
pub(crate) fn panel(id: &str) -> Panel {
    let template = made::panel();
    let grid = Grid {
        rows: 4,
        columns: 4,
        patch_mm: [30.0, 30.0],
        pitch_mm: [40.0, 40.0],
    };
    let patches = (0..PATCHES).map(|i| Patch {
        id: masstone::panel::position(i / 4, i % 4),
        cell: Some((i / 4, i % 4)),
        rect: grid.cell(i / 4, i % 4),
        name: None,
        pigments: vec![PigmentLoad {
            pigment: format!("P{i}"),
            load: 10.0,
        }],
        masked: Some(Side::Left),
        ..template.patches[0].clone()
    });
    Panel {
        id: id.into(),
        substrate: Some("larch".into()),
        coating: Some("clear oil".into()),
        coats: Some(2.0),
        board: Some(Rect {
            x: -20.0,
            y: -20.0,
            width: 190.0,
            height: 190.0,
        }),
        grid: Some(grid),
        patches: patches.collect(),
        ..template
    }
}

/// The same with clear coating on a white primer as its last patch, whose colour [`colour`] is a white.
pub(crate) fn with_control(mut panel: Panel, control: Control) -> Panel {
    panel.patches[PATCHES - 1].control = Some(control);
    panel.patches[PATCHES - 1].pigments.clear();
    panel
}

/// The masked half of a patch at dose 0: colours in all directions, the last a coated white.
pub(crate) fn colour(patch: usize) -> Colour {
    if patch == PATCHES - 1 {
        return [91.0, -0.5, 4.0];
    }
    let step = |by: usize| f64::from(u8::try_from(patch * by % PATCHES).unwrap()) - 7.5;
    [55.0 + 2.5 * step(3), 3.0 * step(5), 4.0 * step(7)]
}

/// How halves differ before any sun, other from patch to patch.
pub(crate) fn between(patch: usize) -> Colour {
    let step = |by: usize| f64::from(u8::try_from((patch * by + 2) % PATCHES).unwrap()) - 7.5;
    [0.2 * step(5), 0.1 * step(9), 0.15 * step(11)]
}

pub(crate) fn plus(one: Colour, other: Colour) -> Colour {
    [0, 1, 2].map(|i| one[i] + other[i])
}

/// A photo's colours: of each patch the masked half, then the exposed one.
pub(crate) type Halves = Vec<[Colour; 2]>;

/// What they are when each exposed half has changed by so much.
pub(crate) fn changed_by(change: impl Fn(usize) -> Colour) -> Halves {
    let halves = |i| {
        let masked = colour(i);
        [masked, plus(plus(masked, between(i)), change(i))]
    };
    (0..PATCHES).map(halves).collect()
}

/// A record of a photo with these colours, at so many hours. From hour 1 on the masked halves carried it, and its own word on them is what
/// they are.
pub(crate) fn shot(panel: &Panel, path: &str, hours: f64, halves: &[[Colour; 2]]) -> PhotoRecord {
    let mut record = made::measured(path);
    let photo = &mut record.photo;
    // A hash that differs from name to name.
    let hash = (path.bytes()).fold(14_695_981_039_346_656_037_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(1_099_511_628_211)
    });
    photo.sha256 = format!("{hash:064x}");
    photo.hours = Some(hours);
    photo.panel = PanelEntry::from(panel);
    let good = (record.readings.iter().find(|it| it.l.is_some()))
        .unwrap()
        .clone();
    let reading = |i: usize, half: Half, [l, a, b]: Colour| Reading {
        photo: path.into(),
        panel: panel.id.clone(),
        patch: panel.patches[i].id.clone(),
        half,
        hours: Some(hours),
        l: Some(l),
        a: Some(a),
        b: Some(b),
        ..good.clone()
    };
    record.readings = (halves.iter().enumerate())
        .flat_map(|(i, [masked, exposed])| {
            [
                reading(i, Half::Masked, *masked),
                reading(i, Half::Exposed, *exposed),
            ]
        })
        .collect();
    if hours > 0.0 {
        photo.settings.masked = Some("ab".repeat(32));
        let card = photo.correction.references[0].clone();
        let words = halves.iter().enumerate().map(|(i, [masked, _])| {
            let name = format!("masked half of {}", panel.patches[i].id);
            let (lab, alone) = (colour(i), Some(*masked));
            ReferenceEntry {
                name,
                lab,
                alone,
                ..card.clone()
            }
        });
        photo.correction.references.extend(words);
    }
    record
}

/// Each photo's own word on the masked halves, by the card alone, made another.
pub(crate) fn with_word(
    mut record: PhotoRecord,
    word: impl Fn(usize) -> Option<Colour>,
) -> PhotoRecord {
    let references = record.photo.correction.references.iter_mut();
    for (i, it) in references.filter(|it| it.alone.is_some()).enumerate() {
        it.alone = word(i);
    }
    record
}

/// With both halves of every patch put right by so much because of the masked half, and by so much yellower as coats are taken to be, as the record says.
pub(crate) fn put_right(
    mut record: PhotoRecord,
    by: impl Fn(usize) -> Colour,
    yellower: f64,
) -> PhotoRecord {
    let masked = (record.photo.correction.references.iter_mut()).filter(|it| it.alone.is_some());
    for (i, it) in masked.enumerate() {
        it.put_right = Some(by(i));
        it.taken_as = Some(plus(it.lab, [0.0, 0.0, yellower]));
        for reading in &mut record.readings[2 * i..=2 * i + 1] {
            let added = |value: Option<f64>, k: usize| value.map(|it| it + by(i)[k]);
            reading.l = added(reading.l, 0);
            reading.a = added(reading.a, 1);
            reading.b = added(reading.b, 2).map(|it| it + yellower);
        }
    }
    record
}

/// With what the photo says of a drift of all masked halves.
pub(crate) fn with_drift(mut record: PhotoRecord, lab: Colour, sd: f64) -> PhotoRecord {
    let covariance = [0, 1, 2].map(|i| [0, 1, 2].map(|j| if i == j { sd * sd } else { 0.0 }));
    record.photo.correction.drift = Some(DriftEntry {
        lab,
        covariance,
        yellowing: None,
    });
    record
}

/// With one more part of the uncertainty of one half of a patch, by so much in each coordinate.
pub(crate) fn with_part(
    mut record: PhotoRecord,
    patch: &str,
    half: Half,
    (name, sd): (ComponentName, f64),
) -> PhotoRecord {
    let readings = record.readings.iter_mut();
    for it in readings.filter(|it| it.patch == patch && it.half == half) {
        it.components.push(Component {
            name,
            common: false,
            sd_lab: [sd; 3],
        });
    }
    record
}

/// Without a colour of one half of a patch.
pub(crate) fn without(mut record: PhotoRecord, patch: &str, half: Half) -> PhotoRecord {
    let readings = record.readings.iter_mut();
    for it in readings.filter(|it| it.patch == patch && it.half == half) {
        (it.l, it.a, it.b) = (None, None, None);
        it.flags.push(masstone::flag::Flag::Unmeasurable);
    }
    record
}
