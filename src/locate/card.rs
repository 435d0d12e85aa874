//! Cards, found in the panel's plane by size, place and zones.

mod judge;

use super::chart::Chart;
use super::pose::{Motion, Pose, crooked, fits_place, posed};
use super::region::Quad;
use super::shade;
use super::suggest;
use super::view::View;
use crate::geometry::{PlaneMap, Point};
use crate::panel::{Panel, Place, PlacedCard};
use judge::{PanelLight, Shown, Source, judge, weigh};

/// A card found in the view.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    /// Its pose.
    pub pose: Pose,
    /// How well it fits altogether; larger is better.
    pub score: f64,
    /// Mean belief in its zones' outlines, 0–1.
    pub seen: f64,
    /// Mean share of its zones' half sides that were seen, 0–1: enough make for full belief, and all of them are better still. Zero where its
    /// evenness alone told where it ends.
    pub share: f64,
    /// Whether enough of it is seen to be the card; what is seen less plainly can only cast doubt on another.
    pub plain: bool,
    /// A chart's own map to view pixels, better than its pose where the panel says little of the perspective.
    pub own: Option<PlaneMap>,
    /// Whether its evenness alone told where it ends, which says no more at full size.
    pub even: bool,
    /// Whether it is as like the card as it must be only if what is white in the photo is as tinted.
    pub needs_cast: bool,
}

impl Found {
    /// By how many clear leads something of a score is more like a card than this, which may be as like it in all but its edges if a cloth hides those; 0 if
    /// it is none.
    pub(super) fn behind(&self, score: f64, single: bool) -> f64 {
        let hidden = if self.even { judge::BY_EVENNESS } else { 0.0 };
        (score - self.score - hidden).max(0.0) / clear_lead(single)
    }
}

/// What came of looking for a card.
#[derive(Clone, Copy, Debug)]
pub(super) enum Search {
    /// It is there.
    Found(Found),
    /// Nothing like it is there.
    Missing,
    /// Two things that could be it lie there.
    Doubtful,
    /// What could be it lies askew, as other sheets do.
    Askew,
}

impl Search {
    /// How well what is there fits.
    pub(super) fn score(&self) -> Option<f64> {
        match self {
            Self::Found(it) => Some(it.score),
            Self::Missing | Self::Doubtful | Self::Askew => None,
        }
    }
}

/// What looks like a card in the panel's plane, wherever a way of laying the layout might have it.
#[derive(Clone, Debug, Default)]
pub(super) struct Sightings {
    /// From regions with closed outlines, or from a chart found by itself.
    seen: Vec<Found>,
    /// From even places; heard where regions show nothing, or any sheet could be the card.
    faint: Vec<Found>,
}

/// Looks for a card in a plane, for all of the ways that share it.
///
/// Regions come as they are found in the view, and as at half its size, where a card is looked for that nothing else shows. `ways` move panel millimetres of
/// `plane` to those of each way; what no way could take for the card is left out.
pub(super) fn look_for<'a>(
    view: &View,
    (quads, coarse): (&[Quad], &dyn Fn() -> &'a [Quad]),
    chart: Option<&Chart>,
    panel: &Panel,
    placed: &PlacedCard,
    plane: &PlaneMap,
    ways: &[Motion],
) -> Sightings {
    let card = &placed.card;
    let fits = |pose: &Pose| {
        ways.iter()
            .any(|it| fits_place(panel, placed, &pose.moved(it)))
    };
    let lightest = shade::lightest(view, plane, panel);
    let varied = panel.patches.iter().filter(|it| !it.empty).count() >= VARIED;
    let panel_light = PanelLight {
        board: panel.board,
        lightest,
        varied,
        cast: shade::cast(view),
    };
    let judged = |poses: Vec<Pose>, from: Source| -> Vec<Found> {
        likely(view, card, plane, poses)
            .into_iter()
            .filter_map(|it| judge(view, placed, plane, panel_light, it, from))
            .collect()
    };
    if let Some(chart) = chart {
        // It was found for what it is, in a plane of its own: elsewhere than stated is not found at all.
        let pose = posed(card, plane, &chart.map).filter(|it| SIZES.contains(&it.scale));
        let found = |pose| Found {
            pose,
            score: 0.0,
            seen: 1.0,
            share: 1.0,
            plain: true,
            own: Some(chart.map),
            even: false,
            needs_cast: false,
        };
        return Sightings {
            seen: pose.map(found).into_iter().collect(),
            faint: Vec::new(),
        };
    }
    // A single zone is like any sheet of its size: one that regions miss is a rival of those that they show. Zones together are like nothing else: only ways
    // that regions show none for have it elsewhere.
    let single = card.patches.len() == 1;
    let seen = judged(suggest::poses(quads, card, plane, &fits), Source::Regions);
    let all = Sightings {
        seen: outshone(card, seen),
        faint: Vec::new(),
    };
    let seen = all.without_tinted(clear_lead(single)).seen;
    let served = |way: &Motion| {
        seen.iter()
            .any(|it| it.plain && fits_place(panel, placed, &it.pose.moved(way)))
    };
    let wanting: Vec<Motion> = (ways.iter().filter(|it| single || !served(it)))
        .copied()
        .collect();
    let mut faint = if card.patches.len() <= 3 && !wanting.is_empty() {
        let (poses, of_other_size) = suggest::scanned(view, panel, placed, plane, &wanting, &fits);
        let mut faint = judged(poses, Source::Elsewhere);
        // A sheet on a cloth of its colour that seems of about the card's size may be another: it can only cast doubt. One that shows its edges is as good as
        // a region of that size, which a mottled cloth may hide.
        let other = judged(of_other_size, Source::Elsewhere).into_iter();
        faint.extend(other.map(|it| Found {
            plain: it.plain && !it.even,
            ..it
        }));
        faint
    } else {
        Vec::new()
    };
    if card.patches.len() <= 3 && !seen.iter().chain(&faint).any(|it| it.plain) {
        let parted = judged(
            suggest::parted(quads, card, plane, &fits),
            Source::Elsewhere,
        );
        faint.extend(
            parted
                .into_iter()
                .filter(|it| it.seen > PARTED_SHOWS && !it.even),
        );
    }
    if card.patches.len() <= 3 && !seen.iter().chain(&faint).any(|it| it.plain) {
        faint.extend(judged(
            suggest::poses(coarse(), card, plane, &fits),
            Source::Regions,
        ));
    }
    if single {
        let cut = suggest::cut_off(view, quads, card, plane, &fits);
        let weighed = cut.into_iter().filter_map(|(pose, quad)| {
            // What is in view of it stands for all of it.
            let shown = Shown {
                pose,
                map: PlaneMap::fit(&card.extent().corners(), &quad.corners)?,
                seen: 1.0,
                share: 1.0,
                plain: false,
                even: false,
            };
            let found = weigh(view, placed, panel_light, &shown)?;
            Some(Found {
                score: found.score - PARTLY,
                ..found
            })
        });
        faint.extend(weighed);
    }
    let all = Sightings {
        seen,
        faint: outshone(card, faint),
    };
    all.without_tinted(clear_lead(single))
}

/// Sizes, over its own, that a chart may seem to have in the panel's plane: a single row of patches says little of how far the plane
/// slants, but a layout laid on something else altogether is told by this, too. Asked in the plane that the chart has brought such a row to, if it has: what
/// isn't the row stays of another size there, as size is what levelling leaves open.
pub(super) const SIZES: std::ops::Range<f64> = 0.75..1.33;

/// By how much a pose must fit better to rule out others that it overlaps.
const BETTER: f64 = 3.0;

/// The sightings without those that overlap a clearly better one: a card laid a zone off is no second card.
fn outshone(card: &Panel, mut found: Vec<Found>) -> Vec<Found> {
    let size = card.outer().width.min(card.outer().height);
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut out: Vec<Found> = Vec::new();
    for it in found {
        let beaten = out.iter().any(|better| {
            (better.pose.centre - it.pose.centre).norm() < 0.8 * size
                && better.score > it.score + BETTER
        });
        if !beaten {
            out.push(it);
        }
    }
    out
}

impl Sightings {
    /// The sightings without those that the light's tint excuses, if another that lies square is so much more like the card, wherever in the plane it lies:
    /// then it is no strong tint that the light has.
    fn without_tinted(mut self, lead: f64) -> Self {
        let all = self.seen.iter().chain(&self.faint);
        let square = |it: &&Found| it.plain && !it.needs_cast && crooked(&it.pose) <= ASKEW;
        let others = all.filter(square).map(|it| it.score);
        if let Some(best) = others.reduce(f64::max) {
            let stays = |it: &Found| !it.needs_cast || it.score > best - lead;
            self.seen.retain(stays);
            self.faint.retain(stays);
        }
        self
    }

    /// The card as one way has it, its pose in that way's millimetres.
    pub(super) fn at_its_place(&self, panel: &Panel, placed: &PlacedCard, way: &Motion) -> Search {
        let there = |all: &[Found]| -> Vec<Found> {
            all.iter()
                .map(|it| Found {
                    pose: it.pose.moved(way),
                    ..*it
                })
                .filter(|it| fits_place(panel, placed, &it.pose))
                .collect()
        };
        let card = &placed.card;
        let single = card.patches.len() == 1;
        let mut found = there(&self.seen);
        if single || !found.iter().any(|it| it.plain) {
            found.extend(there(&self.faint));
        }
        // What lies askew is never taken for it, and is no rival of what lies square.
        let lies_askew = |it: &Found| crooked(&it.pose) > ASKEW;
        let anywhere = matches!(placed.place, Place::Anywhere);
        let square = found.iter().filter(|it| it.plain && !lies_askew(it));
        let square = square.map(|it| it.score).reduce(f64::max);
        if let Some(square) = square.filter(|_| single && anywhere) {
            // But for what is so much more like it that the card may be hidden.
            found.retain(|it| !lies_askew(it) || it.score > square + clear_lead(single));
        }
        // A pose is told by its centre and turn; of equal ones the best counts.
        found.sort_by(|a, b| b.score.total_cmp(&a.score));
        let size = card.outer().width.min(card.outer().height);
        let Some(best) = best(&found, size) else {
            return Search::Missing;
        };
        let rival = found.iter().find(|it| {
            let apart = (it.pose.centre - best.pose.centre).norm() > OVERLAPS * size;
            let turned = !single && (it.pose.angle - best.pose.angle).cos() < 0.7;
            let otherwise = single
                && best.even
                && it.plain
                && corners_apart(card, &it.pose, &best.pose) > OTHERWISE * size;
            apart || turned || otherwise
        });
        // Edges that a cloth hides are no fault of a sheet's: what is told by its evenness is never taken instead of what shows its edges, but may be as like
        // the card in all else.
        let hidden = found.iter().any(|it| {
            let apart = (it.pose.centre - best.pose.centre).norm() > OVERLAPS * size;
            it.even && !best.even && apart && it.score + judge::BY_EVENNESS > best.score
        });
        match rival {
            Some(it) if it.score > best.score - clear_lead(single) => Search::Doubtful,
            _ if hidden => Search::Doubtful,
            // The card may be hidden, or melt into the table.
            _ if single && anywhere && crooked(&best.pose) > ASKEW => Search::Askew,
            _ => Search::Found(best),
        }
    }
}

/// The best of sightings, which are in their order: of a sheet that fits a little off as well, what shows the most of its outline. A card's `size` is
/// that of its shorter side.
fn best(found: &[Found], size: f64) -> Option<Found> {
    let first = found.iter().find(|it| it.plain)?;
    let same = |it: &&Found| {
        let here = (it.pose.centre - first.pose.centre).norm() < OVERLAPS * size;
        it.plain && here && it.score > first.score - AS_WELL
    };
    let all = found.iter().filter(same);
    // Of equal ones the first counts; what it scores is the sheet's.
    let best = all.reduce(|best, it| if it.share > best.share { it } else { best })?;
    Some(Found {
        score: first.score,
        ..*best
    })
}

/// How far apart two sightings of one sheet are at most, over the card's shorter side, and by how much one may score less than the other and fit
/// as well: choices, the second made while looking at one simulated photo.
const OVERLAPS: f64 = 0.35;
const AS_WELL: f64 = 0.5;

/// Angle beyond which a sheet that may lie anywhere is none that was laid beside the panel, radians: 10.5°. A choice; simulated cards lie within 4°, and in two
/// of 5,000 hard scenes a sheet that lay at more than this and less than 15° was taken for a card that hardly showed.
const ASKEW: f64 = 0.183;

/// By how much the best of a card's sightings must beat every other. Any sheet may be a card of one zone: a shadow or dust on the card itself
/// costs it some of its outline, and another sheet none.
fn clear_lead(single: bool) -> f64 {
    if single { 1.5 } else { 1.0 }
}

/// How far, as a share of its size, a corner of a card that its evenness alone tells may lie elsewhere by another way of seeing the same sheet: a
/// shadow's edge across it passed for one of its own. A choice, made while looking at one simulated photo.
const OTHERWISE: f64 = 0.12;

/// How far the corners of a card's zones laid one way are at most from the nearest of them laid another way, millimetres.
fn corners_apart(card: &Panel, one: &Pose, other: &Pose) -> f64 {
    let corners = |it: &Pose| PlaneMap::new(it.matrix(card)).outline(&card.extent());
    let (one, other) = (corners(one), corners(other));
    let nearest = |p: &Point| {
        other
            .iter()
            .map(|q| (p - q).norm())
            .fold(f64::MAX, f64::min)
    };
    one.iter().map(nearest).fold(0.0, f64::max)
}

/// Whether a card's zones are so many that their colours tell it from all else.
pub(super) fn told_by_colours(card: &Panel) -> bool {
    card.patches.iter().filter(|it| it.known.is_some()).count() >= MANY_ZONES
}

/// Fewest known zones whose colours tell poses apart.
const MANY_ZONES: usize = 6;
/// Poses of such a card whose outlines are looked at.
const LIKELY: usize = 6;

/// The poses whose zones' colours rise and fall most as they should; all of them for a card of few zones.
fn likely(view: &View, card: &Panel, plane: &PlaneMap, poses: Vec<Pose>) -> Vec<Pose> {
    if !told_by_colours(card) {
        return poses;
    }
    let mut ranked: Vec<(f64, Pose)> = poses
        .into_iter()
        .filter_map(|it| {
            let (misfit, _) = shade::misfit(view, &it.map(card, plane), card)?;
            Some((misfit, it))
        })
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    ranked.truncate(LIKELY);
    ranked.into_iter().map(|it| it.1).collect()
}

/// Belief in the outline of zones that a shadow parts: they must show all round, or the part is a sheet of its own.
const PARTED_SHOWS: f64 = 0.8;

/// Fewest patches that tell.
const VARIED: usize = 6;

/// What a sheet that the frame cuts off is less likely the card: who lays one has it in view. A guess.
const PARTLY: f64 = 2.5;

#[cfg(test)]
mod tests;
