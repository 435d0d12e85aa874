//! Noise of an evenly coloured surface: of blocks of 1 mm, which are averaged, and of single pixels.

use super::light::{lab, median, smooth};
use super::{Finding, Item};
use crate::geometry::{PlaneMap, Point};
use crate::photo::Photo;
use crate::sample::{Region, Samples};

/// Blocks along each side of a region that are looked at.
const ACROSS: u8 = 12;
/// Fewer whole blocks say nothing.
const FEWEST: usize = 16;
/// A region with more than this share at an end of the encoding hides its noise.
const CLIPPED: f64 = 0.01;

/// Judged on the cards, which are evenly coloured; on the patches, grain and all, where there is none.
pub(super) fn finding(photo: &Photo, samples: &Samples) -> Finding {
    let spreads = |regions: &[Region]| -> Vec<(f64, f64)> {
        let open = |it: &&Region| it.share(it.at_top + it.at_bottom) <= CLIPPED;
        regions
            .iter()
            .filter(open)
            .filter_map(|it| spread(photo, samples, it))
            .collect()
    };
    let (spreads, of) = match spreads(&samples.cards) {
        on_cards if on_cards.is_empty() => (
            spreads(&samples.patches),
            "the patches, their grain included",
        ),
        on_cards => (on_cards, "the card"),
    };
    let (mut blocks, mut pixels): (Vec<f64>, Vec<f64>) = spreads.into_iter().unzip();
    match (median(&mut blocks), median(&mut pixels)) {
        (Some(blocks), Some(pixels)) => Finding::new(
            Item::Noise,
            blocks,
            format!("on {of}; {pixels:.1} L* for single pixels"),
        ),
        _ => Finding::not_judged(Item::Noise, "no surface is large and unclipped enough"),
    }
}

/// Standard deviations of L* over one region about a smooth surface: of 1 mm blocks, and of pixels within them.
fn spread(photo: &Photo, samples: &Samples, region: &Region) -> Option<(f64, f64)> {
    let corners = region.rect.corners();
    let map = PlaneMap::fit(&corners, &region.outline.map(Point::from))?;
    let (mut at, mut lightness, mut within) = (Vec::new(), Vec::new(), 0.0);
    for row in 0..ACROSS {
        for column in 0..ACROSS {
            let [x, y] = [column, row].map(|it| (f64::from(it) + 0.5) / f64::from(ACROSS));
            let mm = Point::new(
                region.rect.x + x * region.rect.width,
                region.rect.y + y * region.rect.height,
            );
            let side = map.jacobian(mm).determinant().abs().sqrt();
            if let Some(block) = block(photo, samples, map.map(mm), side) {
                at.push([mm.x, mm.y]);
                lightness.push(block.0);
                within += block.1;
            }
        }
    }
    if at.len() < FEWEST {
        return None;
    }
    let fitted = smooth(&at, &lightness);
    let sum: f64 = lightness
        .iter()
        .zip(&fitted)
        .map(|(l, f)| (l - f).powi(2))
        .sum();
    let n = crate::sample::float(at.len());
    // Six degrees of freedom went into the surface.
    Some(((sum / (n - 6.0)).sqrt(), (within / n).sqrt()))
}

/// L* of the mean of a square of pixels, and the variance of L* of its pixels; none where it leaves the photo.
fn block(photo: &Photo, samples: &Samples, centre: Point, side: f64) -> Option<(f64, f64)> {
    let range = |middle: f64, limit: usize| {
        let (start, end) = ((middle - side / 2.0).round(), (middle + side / 2.0).round());
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked to lie within the photo"
        )]
        (start >= 0.0 && end <= crate::sample::float(limit)).then_some(start as usize..end as usize)
    };
    let (columns, rows) = (
        range(centre.x, photo.width)?,
        range(centre.y, photo.height)?,
    );
    let (mut sum, mut lightness, mut squares, mut n) = ([0.0; 3], 0.0, 0.0, 0.0);
    for y in rows {
        for x in columns.clone() {
            let rgb = photo.linear(x, y).map(f64::from);
            for (sum, value) in sum.iter_mut().zip(rgb) {
                *sum += value;
            }
            let l = lab(samples, rgb).l;
            lightness += l;
            squares += l * l;
            n += 1.0;
        }
    }
    if n < 2.0 {
        return None;
    }
    let variance = (squares - lightness * lightness / n) / (n - 1.0);
    Some((lab(samples, sum.map(|it| it / n)).l, variance.max(0.0)))
}
