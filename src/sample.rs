//! A photo reduced to what can ever be asked of it: block means in linear light.
//!
//! Takes a photo and a location; gives [`Samples`]: for every patch, half, card zone and stretch of substrate, means over
//! blocks of about 1 mm with counts, and what was left out and why. Clipping and glare are judged here, on encoded values. A few
//! hundred kilobytes, serialisable; no stage after this one needs pixels.

mod blocks;
mod gather;
mod judge;
mod layout;
mod overview;
mod region;

pub use overview::Overview;
pub(crate) use region::float;
pub use region::{Block, LeftOut, Region, RegionKind};

use crate::colour::Matrix;
use crate::colour::camera::CameraColour;
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::{EncodingSource, Photo, Pixels};
use blocks::Budget;
use gather::{Code, Raster};
use layout::Spot;
use serde::{Deserialize, Serialize};

/// Everything sampled from one photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Samples {
    /// Linear RGB to XYZ D50, from the photo's encoding.
    pub to_xyz: Matrix,
    /// Where the linearisation came from.
    pub encoding: EncodingSource,
    /// What [`Self::to_xyz`] is by other whites, if the values are a sensor's.
    pub camera: Option<CameraColour>,
    /// Stored width and height in pixels.
    pub size: [usize; 2],
    /// Bits of a channel in the file.
    pub bits: u32,
    /// One step of the encoding near the bottom, linear: what quantisation can hide.
    pub code_step: f64,
    /// Patches in panel order (empty cells left out), one region a half.
    pub patches: Vec<Region>,
    /// Card zones, in the panel's card order and then the card's patch order.
    pub cards: Vec<Region>,
    /// Substrate around and between the patches.
    pub substrate: Vec<Region>,
    /// The whole photo, coarsely.
    pub overview: Overview,
}

/// Samples a photo where the location says that things lie.
///
/// Never fails: a region that can't be read (outside the photo, too small) has no blocks and says why in its counts.
#[must_use]
pub fn sample(photo: &Photo, panel: &Panel, located: &Located) -> Samples {
    match &photo.pixels {
        Pixels::U8(codes) => sample_codes(photo, codes, panel, located),
        Pixels::U16(codes) => sample_codes(photo, codes, panel, located),
    }
}

fn sample_codes<T: Code>(photo: &Photo, codes: &[T], panel: &Panel, located: &Located) -> Samples {
    let raster = Raster::new(photo, codes);
    let card_spots = layout::card_spots(panel, located);
    let patch_spots = layout::patch_spots(panel, located);
    let substrate_spots = layout::substrate_spots(panel, located);
    let read = |spots: &[Spot], budget: Budget, light: [f64; 3]| -> Vec<Region> {
        spots
            .iter()
            .map(|spot| gather::gather(&raster, spot, &located.panel, budget, light))
            .collect()
    };
    // A card shows the light's own colour, towards which highlights run.
    let cards = read(&card_spots, card_budget(card_spots.len()), [1.0; 3]);
    let light = light_of(&cards);
    let patches = read(&patch_spots, patch_budget(patch_spots.len()), light);
    let mut substrate = read(
        &substrate_spots,
        Budget::shared(3000, substrate_spots.len(), 8, 48),
        light,
    );
    for region in &mut substrate {
        layout::drop_under_cards(region, panel, located);
    }
    substrate.retain(|it| !it.blocks.is_empty());
    Samples {
        to_xyz: photo.encoding.to_xyz,
        encoding: photo.encoding.source,
        camera: photo.encoding.camera.clone(),
        size: [photo.width, photo.height],
        bits: photo.bits,
        code_step: raster.code_step(),
        patches,
        cards,
        substrate,
        overview: Overview::of(
            &raster,
            [photo.width, photo.height],
            photo.encoding.to_xyz.row(1).into(),
        ),
    }
}

fn card_budget(zones: usize) -> Budget {
    Budget::shared(3000, zones, 16, 200)
}

fn patch_budget(regions: usize) -> Budget {
    Budget::shared(8000, regions, 64, 400)
}

/// Why a pixel is not in a mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// A channel at the top of the encoding.
    ClippedHigh,
    /// A channel at the bottom of the encoding.
    ClippedLow,
    /// Highlight.
    Glare,
}

/// A looked-at pixel that was left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LeftOutPixel {
    /// Stored column and row.
    pub at: [usize; 2],
    /// It stands for a square of this many pixels a side, to the right and down: large regions are looked at in steps.
    pub side: usize,
    /// Why.
    pub reason: Reason,
}

/// Visits every pixel that [`sample`] leaves out of the card zones and patches, by the same judgement; for pictures.
///
/// `samples` are those of the same photo, panel and location.
pub fn visit_left_out(
    photo: &Photo,
    panel: &Panel,
    located: &Located,
    samples: &Samples,
    visit: &mut dyn FnMut(LeftOutPixel),
) {
    match &photo.pixels {
        Pixels::U8(codes) => {
            visit_codes(&Raster::new(photo, codes), panel, located, samples, visit)
        }
        Pixels::U16(codes) => {
            visit_codes(&Raster::new(photo, codes), panel, located, samples, visit)
        }
    }
}

fn visit_codes<T: Code>(
    raster: &Raster<'_, T>,
    panel: &Panel,
    located: &Located,
    samples: &Samples,
    visit: &mut dyn FnMut(LeftOutPixel),
) {
    let cards = layout::card_spots(panel, located);
    for spot in &cards {
        gather::visit_left_out(raster, spot, card_budget(cards.len()), [1.0; 3], visit);
    }
    let light = light_of(&samples.cards);
    let patches = layout::patch_spots(panel, located);
    for spot in &patches {
        gather::visit_left_out(raster, spot, patch_budget(patches.len()), light, visit);
    }
}

/// The lightest card zone's balance of channels, relative to its green; 1 where no card shows it.
fn light_of(cards: &[Region]) -> [f64; 3] {
    let lightest = cards
        .iter()
        .filter_map(Region::mean_rgb)
        .max_by(|a, b| a[1].total_cmp(&b[1]));
    match lightest {
        Some(rgb) if rgb.iter().all(|it| *it > 1e-4) => rgb.map(|it| it / rgb[1]),
        _ => [1.0; 3],
    }
}

#[cfg(test)]
pub(crate) mod tests_support {
    //! A small panel and photos of it, made by hand.

    use crate::geometry::Rect;
    use crate::panel::{Grid, Panel, Patch};

    /// Two rows and columns of 40 mm patches, 60 mm apart, without a card.
    pub(crate) fn panel_2x2() -> Panel {
        let patches = (0..4)
            .map(|i| {
                let (row, column) = (i / 2, i % 2);
                patch(
                    &format!("{}{}", ["A", "B"][row], column + 1),
                    (row, column),
                    Rect {
                        x: 60.0 * super::float(column),
                        y: 60.0 * super::float(row),
                        width: 40.0,
                        height: 40.0,
                    },
                )
            })
            .collect();
        Panel {
            id: "test".into(),
            path: None,
            title: None,
            edition: None,
            source: None,
            substrate: None,
            coating: None,
            coats: None,
            upright: true,
            board: None,
            board_colour: None,
            grid: Some(Grid {
                rows: 2,
                columns: 2,
                patch_mm: [40.0, 40.0],
                pitch_mm: [60.0, 60.0],
            }),
            masked: None,
            patches,
            cards: vec![],
        }
    }

    pub(crate) fn patch(id: &str, cell: (usize, usize), rect: Rect) -> Patch {
        Patch {
            id: id.into(),
            cell: Some(cell),
            rect,
            name: None,
            lot: None,
            pigments: vec![],
            wet_g_per_m2: None,
            known: None,
            control: None,
            empty: false,
            masked: None,
            substrate: None,
            coating: None,
            coats: None,
            before: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::tests_support::panel_2x2;
    use super::*;
    use crate::geometry::PlaneMap;
    use crate::locate::Quality;
    use crate::photo::{Encoding, Metadata, Orientation};
    use nalgebra::Matrix3;

    /// Patches at 6 pixels a millimetre, each pixel coloured by `code`.
    fn photo(code: impl Fn(usize, usize) -> [u8; 3]) -> (Photo, Located) {
        let (width, height) = (700, 700);
        let pixels = (0..width * height)
            .flat_map(|i| code(i % width, i / width))
            .collect();
        let table: Vec<f32> = (0..=255_u16)
            .map(|it| {
                #[expect(clippy::cast_possible_truncation, reason = "a linear value")]
                let value = crate::colour::srgb::decode(f64::from(it) / 255.0) as f32;
                value
            })
            .collect();
        let photo = Photo {
            path: "test".into(),
            sha256: String::new(),
            width,
            height,
            pixels: Pixels::U8(pixels),
            bits: 8,
            encoding: Encoding {
                source: EncodingSource::StatedSrgb,
                name: "sRGB".into(),
                tables: [table.clone(), table.clone(), table],
                to_xyz: *crate::colour::srgb::RgbSpace::Srgb.linear_to_xyz_d50(),
                camera: None,
            },
            orientation: Orientation(1),
            metadata: Metadata::default(),
        };
        let located = Located {
            panel: PlaneMap::new(Matrix3::new(6.0, 0.0, 50.0, 0.0, 6.0, 50.0, 0.0, 0.0, 1.0)),
            cards: vec![],
            quality: Quality {
                outline_rms_px: 0.3,
                seen: 1.0,
                rival: 0.0,
            },
            witnesses: vec!["test".into()],
            by_hand: false,
        };
        (photo, located)
    }

    /// A fixed pattern of noise of about ±2 codes.
    fn noise(x: usize, y: usize) -> u8 {
        u8::try_from((x * 7919 + y * 104_729 + x * y * 31) % 5).unwrap()
    }

    const BROWN: [u8; 3] = [0x73, 0x52, 0x44];

    fn brown(x: usize, y: usize) -> [u8; 3] {
        BROWN.map(|it| it - 2 + noise(x, y))
    }

    #[test]
    fn the_mean_is_that_of_the_surface() {
        let (photo, located) = photo(brown);
        let samples = sample(&photo, &panel_2x2(), &located);
        assert_eq!(samples.patches.len(), 4);
        // The patch's pixels one by one: 40 mm from 50 pixels on.
        let pixels = (0..240 * 240).map(|i| brown(50 + i % 240, 50 + i / 240)[0]);
        let expected = pixels
            .map(|it| crate::colour::srgb::decode(f64::from(it) / 255.0))
            .sum::<f64>()
            / (240.0 * 240.0);
        let found = samples.patches[0].mean_rgb().unwrap()[0];
        assert!((found / expected - 1.0).abs() < 0.005, "{found} {expected}");
        assert_eq!(samples.patches[0].left_out, LeftOut::default());
        assert!(samples.patches[0].blocks.len() >= 64);
    }

    #[test]
    fn highlights_are_left_out_without_a_bias() {
        let clean = photo(brown);
        let spotted = photo(|x, y| {
            // Spots of 6 × 6 pixels in every 30 × 30: 4 % of the area, a third of white added.
            if x % 30 < 6 && y % 30 < 6 {
                brown(x, y).map(|it| 120 + it / 2)
            } else {
                brown(x, y)
            }
        });
        let mean = |it: &(Photo, Located)| {
            let samples = sample(&it.0, &panel_2x2(), &it.1);
            (
                samples.patches[0].mean_rgb().unwrap()[1],
                samples.patches[0].left_out.glare,
            )
        };
        let ((expected, none), (found, glare)) = (mean(&clean), mean(&spotted));
        assert_eq!(none, 0);
        assert!(glare > 0);
        // One per cent of glare on this brown is 1.66 ΔE00; two thousandths of its own light are 0.05.
        assert!((found / expected - 1.0).abs() < 0.002, "{found} {expected}");
    }

    #[test]
    fn clipped_spots_are_left_out_and_a_clipped_surface_is_kept_and_counted() {
        let spots = photo(|x, y| {
            if (x + y) % 20 == 0 {
                [255, 255, 255]
            } else {
                brown(x, y)
            }
        });
        let samples = sample(&spots.0, &panel_2x2(), &spots.1);
        let region = &samples.patches[0];
        assert!(region.left_out.clipped_high > 0 && region.left_out.clipped_high == region.at_top);
        let white = photo(|_, _| [255, 255, 250]);
        let samples = sample(&white.0, &panel_2x2(), &white.1);
        let region = &samples.patches[0];
        assert_eq!(region.left_out.clipped_high, 0);
        assert!((region.share(region.at_top) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn each_block_tells_of_the_place_where_it_says_it_is() {
        // Red grows to the right, green downwards; neither reaches an end of the encoding.
        let ramp = |at: usize| u8::try_from(40 + at / 4).unwrap();
        let (photo, located) = photo(|x, y| [ramp(x), ramp(y), 120]);
        let linear = |at: f64| crate::colour::srgb::decode((40.0 + at / 4.0) / 255.0);
        let samples = sample(&photo, &panel_2x2(), &located);
        for block in samples.patches.iter().flat_map(|it| &it.blocks) {
            let [x, y] = block.px;
            for (seen, is) in block.rgb.iter().zip([linear(x), linear(y)]) {
                assert!((seen / is - 1.0).abs() < 0.03, "{block:?}: {is}");
            }
            // 6 pixels a millimetre from 50 on.
            let place = block.mm.map(|it| 50.0 + 6.0 * it);
            assert!((place[0] - x).hypot(place[1] - y) < 1e-6, "{block:?}");
        }
    }

    #[test]
    fn a_blocks_variance_is_that_of_its_pixels() {
        let (photo, located) = photo(brown);
        let samples = sample(&photo, &panel_2x2(), &located);
        let blocks = &samples.patches[0].blocks;
        let mean = blocks.iter().map(|it| it.variance[0]).sum::<f64>() / float(blocks.len());
        // The noise repeats every five pixels each way.
        let codes = (0..25).map(|i| brown(i % 5, i / 5)[0]);
        let levels: Vec<f64> = codes
            .map(|it| crate::colour::srgb::decode(f64::from(it) / 255.0))
            .collect();
        let middle = levels.iter().sum::<f64>() / 25.0;
        let variance = levels.iter().map(|it| (it - middle).powi(2)).sum::<f64>() / 25.0;
        assert!((mean / variance - 1.0).abs() < 0.03, "{mean} {variance}");
    }

    #[test]
    fn a_block_that_is_more_highlight_than_not_goes_as_a_whole() {
        // Around the middle of A1 four of five pixels shine.
        let within = |at: usize| (150..190).contains(&at);
        let (photo, located) = photo(|x, y| {
            let shines = within(x) && within(y) && !(x + 2 * y).is_multiple_of(5);
            brown(x, y).map(|it| if shines { 120 + it / 2 } else { it })
        });
        let samples = sample(&photo, &panel_2x2(), &located);
        let region = &samples.patches[0];
        let middle = |it: &&Block| it.px.iter().all(|at| (160.0..180.0).contains(at));
        assert_eq!(region.blocks.iter().filter(middle).count(), 0);
        let mut visited = 0;
        visit_left_out(&photo, &panel_2x2(), &located, &samples, &mut |pixel| {
            visited += usize::from(pixel.at.iter().all(|at| (160..180).contains(at)));
        });
        assert_eq!(visited, 20 * 20, "pictures show the same");
    }

    #[test]
    fn the_ends_of_linear_values_lie_elsewhere_than_those_of_encoded_ones() {
        // 249 of 255 is the last two per cent of linear light; 2 is a dark surface in linear values.
        for (code, linear, ends) in [
            (249, true, (true, false)),
            (249, false, (false, false)),
            (2, true, (false, false)),
            (2, false, (false, true)),
        ] {
            let (mut photo, located) = photo(|_, _| [120, code, 120]);
            if linear {
                photo.encoding.source = EncodingSource::Linear;
            }
            let samples = sample(&photo, &panel_2x2(), &located);
            let region = &samples.patches[0];
            let seen = (region.at_top > 0, region.at_bottom > 0);
            assert_eq!(seen, ends, "code {code}, linear {linear}");
        }
    }

    #[test]
    fn what_lies_outside_the_photo_is_counted_and_not_invented() {
        let (photo, mut located) = photo(brown);
        located.panel.homography[(0, 2)] = -600.0;
        let samples = sample(&photo, &panel_2x2(), &located);
        let gone = samples
            .patches
            .iter()
            .find(|it| it.blocks.is_empty())
            .unwrap();
        assert!(gone.left_out.outside > 0);
        located.panel.homography = Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, -0.02, 0.0, 1.0);
        let _ = sample(&photo, &panel_2x2(), &located);
    }

    #[test]
    fn samples_survive_being_written_and_read() {
        let (photo, located) = photo(brown);
        let samples = sample(&photo, &panel_2x2(), &located);
        let text = serde_json::to_string(&samples).unwrap();
        assert_eq!(serde_json::from_str::<Samples>(&text).unwrap(), samples);
    }
}
