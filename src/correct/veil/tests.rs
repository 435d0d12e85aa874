use super::*;
use crate::geometry::Rect;
use crate::sample::{Block, LeftOut, RegionKind};

/// Reflectances of patches: dark, vivid, pale, near neutral.
const COLOURS: [[f64; 3]; 12] = [
    [0.05, 0.06, 0.12],
    [0.35, 0.05, 0.06],
    [0.03, 0.03, 0.03],
    [0.62, 0.55, 0.30],
    [0.05, 0.15, 0.08],
    [0.80, 0.78, 0.72],
    [0.10, 0.04, 0.05],
    [0.45, 0.22, 0.08],
    [0.08, 0.12, 0.35],
    [0.20, 0.05, 0.09],
    [0.30, 0.28, 0.25],
    [0.12, 0.20, 0.05],
];

/// Numbers from −1 to 1 that are the same every time.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        f64::from(u32::try_from(self.0 >> 40).unwrap()) / f64::from(1 << 23) - 1.0
    }
}

/// Four by three patches of 20 mm, 25 mm apart, with a grain, in a light whose white is [0.9, 1.0, 0.8]; `seen` makes what is seen of what a block reflects.
fn board(seen: impl Fn(usize, [f64; 2], [f64; 3]) -> [f64; 3]) -> Vec<Region> {
    let mut chance = Chance(7);
    (0..12_u8)
        .map(|i| {
            let patch = usize::from(i);
            let rect = Rect {
                x: 25.0 * f64::from(i % 4),
                y: 25.0 * f64::from(i / 4),
                width: 20.0,
                height: 20.0,
            };
            let blocks = (0..100_u8).map(|k| {
                let mm = [
                    rect.x + 1.0 + 2.0 * f64::from(k % 10),
                    rect.y + 1.0 + 2.0 * f64::from(k / 10),
                ];
                let grain = 1.0 + 0.03 * chance.next();
                let rgb = seen(patch, mm, COLOURS[patch].map(|it| it * grain));
                Block {
                    mm,
                    px: mm,
                    rgb: [0, 1, 2].map(|c| WHITE[c] * rgb[c] + 0.002 * chance.next()),
                    variance: [1e-6; 3],
                    n: 30,
                }
            });
            Region {
                kind: RegionKind::Whole { patch },
                rect,
                outline: [[0.0; 2]; 4],
                blocks: blocks.collect(),
                pixels: 3000,
                left_out: LeftOut::default(),
                at_top: 0,
                at_bottom: 0,
            }
        })
        .collect()
}

const WHITE: [f64; 3] = [0.9, 1.0, 0.8];

fn veil(patches: &[Region]) -> Veil {
    under(patches, WHITE)
}

fn under(patches: &[Region], white: [f64; 3]) -> Veil {
    let rgb = |it: &Region| it.blocks.iter().map(|it| it.rgb).collect();
    let evened: Vec<Vec<[f64; 3]>> = patches.iter().map(rgb).collect();
    of(patches, &evened, white)
}

/// An oblong spot between four patches.
fn spot(mm: [f64; 2]) -> f64 {
    let (u, v) = ((mm[0] - 46.0) / 17.0, (mm[1] - 20.0) / 11.0);
    0.08 * (-0.5 * (u * u + v * v)).exp()
}

fn mean(blocks: &[Block], of: impl Fn(&Block) -> f64) -> f64 {
    blocks.iter().map(of).sum::<f64>() / float(blocks.len())
}

#[test]
fn a_spot_over_several_patches_is_lifted_with_its_height() {
    let patches = board(|_, mm, rgb| rgb.map(|it| it + spot(mm)));
    let found = veil(&patches);
    assert_eq!(found.spots.len(), 1, "{found:?}");
    let mut lifted = 0;
    for region in &patches {
        let truth = mean(&region.blocks, |it| spot(it.mm));
        for (c, white) in WHITE.iter().enumerate() {
            let before = mean(&region.blocks, |it| it.rgb[c]);
            let after = mean(&region.blocks, |it| found.lifted(it.mm, it.rgb)[c]);
            let off = (before - after) / white - truth;
            assert!(off.abs() < 0.1 * truth + 0.002, "{off} of {truth}");
        }
        lifted += usize::from(truth > 0.02);
    }
    assert!(lifted >= 4);
}

#[test]
fn grain_thickness_and_light_are_no_spot() {
    let even = board(|_, _, rgb| rgb);
    assert!(veil(&even).spots.is_empty());
    // Each coat thicker on one side than on the other, and light that falls off over the board.
    let uneven = board(|patch, mm, rgb| {
        let x = if patch % 2 == 0 { mm[0] } else { mm[1] };
        let light = 1.0 - 0.001 * mm[0];
        rgb.map(|it| light * it * (1.0 + 0.08 * (x / 25.0).fract()))
    });
    assert!(veil(&uneven).spots.is_empty());
}

#[test]
fn what_is_pale_on_one_patch_alone_may_be_its_coat() {
    let thin = board(|patch, mm, rgb| {
        let (x, y) = (mm[0] - 35.0, mm[1] - 35.0);
        let at = 0.08 * (-(x * x + y * y) / 50.0).exp();
        rgb.map(|it| if patch == 5 { it + at } else { it })
    });
    assert!(veil(&thin).spots.is_empty());
}

#[test]
fn a_board_as_wide_as_a_field_takes_no_time() {
    for far in [1e5, 1e18, f64::INFINITY, f64::NAN] {
        let mut patches = board(|_, mm, rgb| rgb.map(|it| it + spot(mm)));
        for block in &mut patches[11].blocks {
            block.mm[0] += far;
        }
        // A place that is none spoils its own patch alone.
        let told = usize::from(!far.is_finite());
        assert_eq!(veil(&patches).spots.len(), told, "{far}");
        // All of it far away.
        for block in patches.iter_mut().take(11).flat_map(|it| &mut it.blocks) {
            block.mm[0] += far;
        }
        assert!(veil(&patches).spots.len() <= MOST);
    }
}

#[test]
fn two_spots_are_two() {
    let patches = board(|_, mm, rgb| {
        let other = [mm[0] - 30.0, mm[1] - 38.0];
        rgb.map(|it| it + spot(mm) + spot(other))
    });
    assert_eq!(veil(&patches).spots.len(), 2);
}

#[test]
fn a_stain_on_one_patch_hides_no_spot() {
    // Far from it, and on a patch that it touches.
    for (on, at, off) in [(11, [85.0, 60.0], 3.0), (6, [62.0, 38.0], 8.0)] {
        let stain = |patch: usize, mm: [f64; 2]| {
            let d = (mm[0] - at[0]).hypot(mm[1] - at[1]) / 3.0;
            if patch == on {
                0.4 * (-0.5 * d * d).exp()
            } else {
                0.0
            }
        };
        let patches = board(|patch, mm, rgb| rgb.map(|it| it + spot(mm) + stain(patch, mm)));
        let found = veil(&patches);
        assert!(!found.spots.is_empty(), "{on}");
        let [x, y] = found.spots[0].outline.middle;
        assert!((x - 46.0).hypot(y - 20.0) < off, "{on}: {x} {y}");
    }
}

#[test]
fn without_a_white_or_blocks_there_is_none() {
    let patches = board(|_, mm, rgb| rgb.map(|it| it + spot(mm)));
    for white in [[f64::NAN; 3], [0.0, 1.0, 1.0], [f64::INFINITY; 3]] {
        let found = under(&patches, white);
        assert!(found.spots.is_empty());
        let rgb = found.lifted([46.0, 20.0], [0.1, 0.2, 0.3]);
        assert_eq!(rgb.map(f64::to_bits), [0.1_f64, 0.2, 0.3].map(f64::to_bits));
    }
    assert!(veil(&[]).spots.is_empty());
    // A value that is no number spoils its own patch alone.
    let mut broken = patches;
    broken[11].blocks[3].rgb = [f64::NAN; 3];
    assert_eq!(veil(&broken).spots.len(), 1);
}
