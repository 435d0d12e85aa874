//! Small simulated photos for location, and how a location is judged: by place against the simulator's truth.

use masstone::geometry::Point;
use masstone::locate::{self, LocateError, Located, Options, locate_in};
use masstone::panel::{self, Panel};
use masstone::photo::{LinearImage, Orientation};
use masstone_simulator::{Half, Pixels, Rendered, Scene, Truth, decode};
use std::collections::BTreeMap;

/// What came of one scene.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Outcome {
    /// Every patch and card within tolerance; the largest error of a patch's corner over the patch's size.
    Right(f64),
    /// Refused, and why.
    Refused(LocateError),
    /// At least one patch or zone is laid so far off that its rim would be read, but none is another's.
    Amiss(String),
    /// At least one patch or card is elsewhere.
    Wrong(String),
}

/// Largest error of a corner that still names the patch rightly and samples its inside, over the patch's shorter side.
const TOLERANCE: f64 = 0.15;
/// From here on it is read as something else.
const ELSEWHERE: f64 = 0.5;

/// What an error of a corner beyond tolerance is.
fn off_by(off: f64, why: String) -> Outcome {
    if off < ELSEWHERE {
        Outcome::Amiss(why)
    } else {
        Outcome::Wrong(why)
    }
}

/// The panel of a scene, read from its file beside the simulator's own cards.
///
/// None where the drawn layout contradicts itself: a card stated to lie on a patch.
pub(crate) fn panel_of(scene: &Scene) -> Option<Panel> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    scene
        .write_panel(folder.path())
        .expect("the folder can be written");
    panel::read(&folder.path().join("panel.toml")).ok()
}

/// Linear light of a rendered picture, unshrunk.
pub(crate) fn linear(picture: &Rendered) -> LinearImage {
    let Pixels::U8(codes) = &picture.pixels else {
        panic!("small renders have 8 bits");
    };
    #[expect(clippy::cast_possible_truncation, reason = "a colour")]
    let table: Vec<f32> = (0..=255_u8)
        .map(|it| decode(f64::from(it) / 255.0) as f32)
        .collect();
    LinearImage {
        width: usize::try_from(picture.width).expect("a width fits"),
        height: usize::try_from(picture.height).expect("a height fits"),
        factor: 1,
        pixels: codes
            .chunks_exact(3)
            .map(|it| [0, 1, 2].map(|k| table[usize::from(it[k])]))
            .collect(),
    }
}

/// The means of boxes of pixels, so large that the picture is searched as a photo of its size would be.
fn shrunk(image: &LinearImage) -> LinearImage {
    let factor = image.width.max(image.height).div_ceil(locate::SEARCHED);
    let (width, height) = (image.width.div_ceil(factor), image.height.div_ceil(factor));
    let mean = |i: usize, j: usize| {
        let (mut sum, mut n) = ([0.0_f32; 3], 0.0_f32);
        for y in j * factor..((j + 1) * factor).min(image.height) {
            for x in i * factor..((i + 1) * factor).min(image.width) {
                for (to, it) in sum.iter_mut().zip(image.pixels[y * image.width + x]) {
                    *to += it;
                }
                n += 1.0;
            }
        }
        sum.map(|it| it / n)
    };
    LinearImage {
        width,
        height,
        factor,
        pixels: (0..width * height)
            .map(|k| mean(k % width, k / width))
            .collect(),
    }
}

/// Locates in a picture of linear light with an orientation tag.
pub(crate) fn locate_linear(
    image: &LinearImage,
    tag: u8,
    panel: &Panel,
) -> Result<Located, LocateError> {
    let scene = locate::Scene {
        shrunk: shrunk(image),
        size: (image.width, image.height),
        linear: |x, y| image.pixels[y * image.width + x],
        orientation: Orientation(tag),
    };
    locate_in(scene, panel, &Options::default())
}

/// Judges by place.
pub(crate) fn judge(found: Result<Located, LocateError>, panel: &Panel, truth: &Truth) -> Outcome {
    let found = match found {
        Ok(it) => it,
        Err(it) => return Outcome::Refused(it),
    };
    let mut worst = 0.0_f64;
    for (id, quad) in patch_quads(truth) {
        let Some(patch) = panel.patch(&id) else {
            return Outcome::Wrong(format!("no patch {id} in the panel"));
        };
        let outline = found.panel.outline(&patch.rect);
        let size = (0..4)
            .map(|i| (quad[(i + 1) % 4] - quad[i]).norm())
            .fold(f64::MAX, f64::min);
        for (seen, is) in outline.iter().zip(&quad) {
            worst = worst.max((seen - is).norm() / size);
        }
    }
    if worst > TOLERANCE {
        return off_by(
            worst,
            format!("patches are up to {worst:.2} of their size off"),
        );
    }
    for card in &found.cards {
        let layout = &panel.cards[card.index].card;
        let Some(truth) = truth.cards.get(card.index) else {
            return Outcome::Wrong(format!("card {} was found where none lies", layout.id));
        };
        for (zone, patch) in truth.zones.iter().zip(&layout.patches) {
            let outline = card.map.outline(&patch.rect);
            let quad = zone.quad.map(Point::from);
            let size = (0..4)
                .map(|i| (quad[(i + 1) % 4] - quad[i]).norm())
                .fold(f64::MAX, f64::min);
            // A card of one zone has no top.
            let turns = if layout.patches.len() == 1 { 4 } else { 1 };
            let off = (0..turns)
                .map(|turn| {
                    (0..4)
                        .map(|i| (outline[(i + turn) % 4] - quad[i]).norm() / size)
                        .fold(0.0, f64::max)
                })
                .fold(f64::MAX, f64::min);
            if off > TOLERANCE {
                return off_by(
                    off,
                    format!(
                        "zone {} of card {} is {off:.2} of its size off",
                        zone.at, layout.id
                    ),
                );
            }
        }
    }
    Outcome::Right(worst)
}

/// Whole patches by id: halves are joined.
fn patch_quads(truth: &Truth) -> BTreeMap<String, [Point; 4]> {
    let mut out: BTreeMap<String, [Point; 4]> = BTreeMap::new();
    for it in &truth.patches {
        let quad = it.quad.map(Point::from);
        match it.half {
            Half::Whole => {
                out.insert(it.id.clone(), quad);
            }
            Half::Masked | Half::Exposed => {
                let joined = out.get(&it.id).map_or(quad, |other| join(*other, quad));
                out.insert(it.id.clone(), joined);
            }
        }
    }
    out
}

/// The rectangle of two halves.
fn join(a: [Point; 4], b: [Point; 4]) -> [Point; 4] {
    let middle = |q: &[Point; 4], i: usize| q[i] + (q[(i + 1) % 4] - q[i]) / 2.0;
    // The sides that lie closest to each other are opposite ones of the two.
    let apart = |i: &usize| (middle(&a, *i) - middle(&b, (*i + 2) % 4)).norm();
    let meet = (0..4)
        .min_by(|i, j| apart(i).total_cmp(&apart(j)))
        .unwrap_or(0);
    // Of `a` the two corners away from there stay, of `b` the other two.
    [0, 1, 2, 3].map(|i| {
        if i == meet || i == (meet + 1) % 4 {
            b[i]
        } else {
            a[i]
        }
    })
}
