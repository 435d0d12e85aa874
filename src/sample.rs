//! A photo reduced to what can ever be asked of it: block means in linear light.
//!
//! Takes a photo and a location; gives [`Samples`]: for every patch, half, card zone and stretch of substrate, means over
//! blocks of about 1 mm with counts, and what was left out and why. Clipping and glare are judged here, on encoded values. A few
//! hundred kilobytes, serialisable; no stage after this one needs pixels.

mod gather;
mod layout;

use crate::colour::Matrix;
use crate::geometry::Rect;
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::{EncodingSource, Photo, Pixels};
use gather::{Budget, Code, Raster};
use layout::Spot;
use serde::{Deserialize, Serialize};

/// Everything sampled from one photo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Samples {
    /// Linear RGB to XYZ D50, from the photo's encoding.
    pub to_xyz: Matrix,
    /// Where the linearisation came from.
    pub encoding: EncodingSource,
    /// Stored width and height in pixels.
    pub size: [usize; 2],
    /// One step of the encoding near the bottom, linear: what quantisation can hide.
    pub code_step: f64,
    /// Patches in panel order (empty cells left out), one region a half.
    pub patches: Vec<Region>,
    /// Card zones, in the panel's card order and then the card's patch order.
    pub cards: Vec<Region>,
    /// Substrate around and between the patches.
    pub substrate: Vec<Region>,
}

/// What a region is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RegionKind {
    /// A patch without mask, or the whole of it.
    Whole {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// The half under the mask.
    Masked {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// The half without mask.
    Exposed {
        /// Index into the panel's patches.
        patch: usize,
    },
    /// A zone of a card.
    Card {
        /// Index into the panel's cards.
        card: usize,
        /// Index into the card's patches.
        zone: usize,
    },
    /// Substrate near a patch.
    Substrate {
        /// Index into the panel's patches.
        patch: usize,
    },
}

/// One sampled region.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Region {
    /// What it is.
    pub kind: RegionKind,
    /// The sampled rectangle, after the inset, in millimetres of its own plane (panel or card).
    pub rect: Rect,
    /// The same in stored pixels: from the region's own top left, clockwise as on the panel.
    pub outline: [[f64; 2]; 4],
    /// Block means.
    pub blocks: Vec<Block>,
    /// Pixels that were averaged.
    pub pixels: usize,
    /// Pixels that were left out.
    pub left_out: LeftOut,
    /// Pixels with a channel at the top of the encoding, left out or not: a surface that is itself at the end of the
    /// range keeps them, since leaving them out would only shift its mean further.
    pub at_top: usize,
    /// Likewise at the bottom.
    pub at_bottom: usize,
}

impl Region {
    /// Share of the looked-at pixels that were left out or at an end of the encoding, by `count`; 0 of nothing.
    #[must_use]
    pub fn share(&self, count: usize) -> f64 {
        let all = self.pixels + self.left_out.total();
        if all == 0 { 0.0 } else { ratio(count, all) }
    }

    /// Mean linear RGB over the blocks; none without blocks.
    #[must_use]
    pub fn mean_rgb(&self) -> Option<[f64; 3]> {
        let n = self.blocks.len();
        (n > 0).then(|| {
            [0, 1, 2].map(|c| self.blocks.iter().map(|it| it.rgb[c]).sum::<f64>() / float(n))
        })
    }
}

/// Pixels left out of a region, by reason.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeftOut {
    /// A channel at the top of the encoding.
    pub clipped_high: usize,
    /// A channel at the bottom of the encoding.
    pub clipped_low: usize,
    /// Highlights.
    pub glare: usize,
    /// Outside the photo.
    pub outside: usize,
}

impl LeftOut {
    /// All reasons together.
    #[must_use]
    pub fn total(&self) -> usize {
        self.clipped_high + self.clipped_low + self.glare + self.outside
    }
}

/// The mean of about 1 mm × 1 mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Block {
    /// Centre in millimetres of the panel's plane, for cards too: one light falls on both.
    pub mm: [f64; 2],
    /// Centre in stored pixels.
    pub px: [f64; 2],
    /// Mean linear RGB, 0–1 of the encoding.
    pub rgb: [f64; 3],
    /// Variance of a pixel within the block, linear, a channel.
    pub variance: [f64; 3],
    /// Pixels in the mean.
    pub n: usize,
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
        size: [photo.width, photo.height],
        code_step: raster.code_step(),
        patches,
        cards,
        substrate,
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

/// A count as a number.
#[expect(
    clippy::cast_precision_loss,
    reason = "counts of pixels lie far below 2^52"
)]
pub(crate) fn float(count: usize) -> f64 {
    count as f64
}

fn ratio(part: usize, all: usize) -> f64 {
    float(part) / float(all)
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
            encoding: Encoding {
                source: EncodingSource::StatedSrgb,
                name: "sRGB".into(),
                tables: [table.clone(), table.clone(), table],
                to_xyz: *crate::colour::srgb::RgbSpace::Srgb.linear_to_xyz_d50(),
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
