//! Lights made by hand come back.

use super::*;
use crate::geometry::Rect;
use crate::sample::{Block, LeftOut, Region, RegionKind};

/// Pixels a millimetre and the size of the picture: it reaches far beyond the board, so that the lens tells little.
const SIZE: [usize; 2] = [40_000, 40_000];

fn region(at: [f64; 2], value: f64, light: &dyn Fn([f64; 2]) -> f64) -> Region {
    let blocks = (0..36_u8)
        .map(|i| {
            let mm = [
                at[0] + 5.0 * f64::from(i % 6),
                at[1] + 5.0 * f64::from(i / 6),
            ];
            // A fixed small disturbance that is no polynomial.
            let grain = 1.0 + 0.004 * (mm[0] * 37.0 + mm[1] * 11.0).sin();
            let rgb = [0.9, 0.8, 0.5].map(|it| it * value * grain * light(mm).exp());
            Block {
                mm,
                px: mm.map(|it| 20_000.0 + it),
                rgb,
                variance: [1e-8; 3],
                n: 25,
            }
        })
        .collect();
    Region {
        kind: RegionKind::Substrate { patch: 0 },
        rect: Rect {
            x: at[0],
            y: at[1],
            width: 30.0,
            height: 30.0,
        },
        outline: [[0.0; 2]; 4],
        blocks,
        pixels: 900,
        left_out: LeftOut::default(),
        at_top: 0,
        at_bottom: 0,
    }
}

/// 35 places on a board under a light (in logs).
fn board(surface: Surface, light: &dyn Fn([f64; 2]) -> f64) -> Vec<Look> {
    (0..35_u8)
        .filter_map(|i| {
            let at = [55.0 * f64::from(i % 7), 55.0 * f64::from(i / 7)];
            // Patches have colours of their own.
            let value = match surface {
                Surface::Substrate => 0.5,
                Surface::Sheltered => 0.4,
                Surface::Card | Surface::Patch => 0.1 + 0.02 * f64::from(i % 5 * 7 + i / 5),
            };
            Look::of(surface, &region(at, value, light), None)
        })
        .collect()
}

const CARD: [f64; 2] = [450.0, 110.0];

fn fit(looks: &[Look]) -> LightField {
    LightField::fit(looks, &[], &ToneCurve::encoding(), &[CARD], SIZE)
}

fn linear(mm: [f64; 2]) -> f64 {
    0.001 * mm[0] - 0.0007 * mm[1]
}

fn bent(mm: [f64; 2]) -> f64 {
    linear(mm) - 2.5e-6 * mm[0] * mm[0] + 1e-6 * mm[0] * mm[1]
}

#[test]
fn fall_off_comes_back_relative_to_the_card() {
    for surface in [Surface::Substrate, Surface::Patch] {
        for light in [linear, bent] {
            let field = fit(&board(surface, &light));
            for mm in [[0.0, 0.0], [330.0, 0.0], [100.0, 240.0]] {
                let expected = (light(mm) - light(CARD)).exp();
                for channel in field.at(mm) {
                    let off = (channel / expected).ln();
                    assert!(off.abs() < 0.02, "{surface:?} {mm:?}: {off}");
                    assert!(
                        off.abs() < 3.0 * field.doubt(mm),
                        "{surface:?} {mm:?}: {off}"
                    );
                }
            }
            assert!((field.at(CARD)[1] - 1.0).abs() < 1e-12);
        }
    }
}

#[test]
fn the_order_is_what_the_light_has() {
    let order = |light: &dyn Fn([f64; 2]) -> f64| {
        let field = fit(&board(Surface::Substrate, light));
        (field.order, field.colour_order)
    };
    assert_eq!(order(&|_| 0.0), (0, 0));
    assert_eq!(order(&linear), (1, 0));
    assert_eq!(order(&bent), (2, 0));
}

#[test]
fn a_shadow_on_a_few_stretches_does_not_bend_the_field() {
    let shadow = |mm: [f64; 2]| {
        linear(mm)
            - if mm[1] < 40.0 && mm[0] > 180.0 {
                0.5
            } else {
                0.0
            }
    };
    let field = fit(&board(Surface::Substrate, &shadow));
    let off = field.at([0.0, 0.0])[1].ln() - (linear([0.0, 0.0]) - linear(CARD));
    assert!(off.abs() < 0.02, "{off}");
}

#[test]
fn little_evidence_bends_the_field_little_and_leaves_more_doubt() {
    let steep = |mm: [f64; 2]| 3.0 * linear(mm);
    let all = board(Surface::Substrate, &steep);
    let (many, few) = (fit(&all), fit(&all[..2]));
    let there = [0.0, 0.0];
    assert!(few.doubt(there) > 3.0 * many.doubt(there));
    assert!(few.at(there)[1].ln().abs() < many.at(there)[1].ln().abs());
    assert_eq!(fit(&[]), LightField::even());
}

#[test]
fn darker_corners_are_supposed_where_nothing_is_seen_of_them() {
    let looks: Vec<Look> = board(Surface::Patch, &|_| 0.0)
        .into_iter()
        .map(|it| Look {
            px: it.mm.map(|mm| mm + 600.0),
            slope: None,
            ..it
        })
        .collect();
    let field = LightField::fit(
        &looks,
        &[],
        &ToneCurve::encoding(),
        &[[0.0, 0.0]],
        [1200, 1200],
    );
    let corner = field.at([600.0, 600.0])[1].ln();
    assert!((corner - CORNERS[0]).abs() < 1e-6, "{corner}");
}

/// Every other stretch is under the masks, and so lighter or darker than the rest.
fn half_sheltered(level: f64, light: &dyn Fn([f64; 2]) -> f64) -> Vec<Look> {
    (0..35_u8)
        .filter_map(|i| {
            let at = [55.0 * f64::from(i % 7), 55.0 * f64::from(i / 7)];
            let (surface, value) = if i % 2 == 0 {
                (Surface::Sheltered, level)
            } else {
                (Surface::Substrate, 0.5)
            };
            Look::of(surface, &region(at, value, light), None)
        })
        .collect()
}

#[test]
fn two_levels_of_substrate_give_back_the_light() {
    for light in [linear, bent] {
        for level in [0.3, 0.5, 0.8] {
            let field = fit(&half_sheltered(level, &light));
            for mm in [[0.0, 0.0], [330.0, 0.0], [100.0, 240.0]] {
                let off = field.at(mm)[1].ln() - (light(mm) - light(CARD));
                assert!(off.abs() < 0.02, "{level} {mm:?}: {off}");
            }
        }
    }
    // Taken for one level the same board shows no light to speak of: half of it is a third darker.
    let mut one = half_sheltered(0.3, &linear);
    for it in &mut one {
        it.surface = Surface::Substrate;
    }
    assert!(fit(&one).residual > 5.0 * fit(&half_sheltered(0.3, &linear)).residual);
}

#[test]
fn sheltered_substrate_alone_shows_the_light_like_any_other() {
    let open = fit(&board(Surface::Substrate, &bent));
    let sheltered = fit(&board(Surface::Sheltered, &bent));
    for mm in [[0.0, 0.0], [330.0, 0.0], [100.0, 240.0]] {
        let off = (open.at(mm)[1] / sheltered.at(mm)[1]).ln();
        assert!(off.abs() < 0.002, "{mm:?}: {off}");
    }
    // Nor does it matter what is called sheltered where nothing aged.
    let both = fit(&half_sheltered(0.5, &bent));
    let off = (open.at([0.0, 0.0])[1] / both.at([0.0, 0.0])[1]).ln();
    assert!(off.abs() < 0.005, "{off}");
}

#[test]
fn what_the_sun_did_to_the_substrate_is_no_shadow() {
    use crate::correct::shadow::Shadows;
    let tone = ToneCurve::encoding();
    let doubt = |looks: &[Look], mm| Shadows::of(looks, &tone, &fit(looks), &[CARD]).doubt(mm);
    let aged = half_sheltered(0.3, &linear);
    for it in &aged {
        let (doubt, is_shadow) = doubt(&aged, it.mm);
        assert!(!is_shadow && doubt < 0.05, "{doubt}");
    }
    // A shadow of that depth on a corner of it is still one.
    let shaded = half_sheltered(0.3, &|mm: [f64; 2]| {
        linear(mm)
            - if mm[0] < 90.0 && mm[1] < 90.0 {
                0.5
            } else {
                0.0
            }
    });
    let (doubt, is_shadow) = doubt(&shaded, [20.0, 20.0]);
    assert!(is_shadow && doubt > 0.3, "{doubt}");
}
