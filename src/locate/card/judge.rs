//! Whether what lies at a pose looks like the card: by its outlines, and by the colours of its zones.

use super::{Found, told_by_colours};
use crate::geometry::{PlaneMap, Rect};
use crate::locate::board;
use crate::locate::bulge;
use crate::locate::corner;
use crate::locate::even;
use crate::locate::fit::Seen;
use crate::locate::pose::{Pose, crooked};
use crate::locate::shade;
use crate::locate::short;
use crate::locate::suggest;
use crate::locate::view::View;
use crate::locate::zones::{look_at, refine};
use crate::panel::{Panel, Place, PlacedCard};

/// Score below which a card of few zones is none, though it were all there is: wood and cloth can have edges, too.
const LEAST_LIKE: f64 = 1.5;

/// The same of a single zone that may lie anywhere: many a sheet about has its size.
const LEAST_LIKE_ANYWHERE: f64 = 2.7;

/// What a sheet is less likely the card by a unit of log light that it gets less than the panel, as if one card in eight lay in a shadow that
/// takes off two thirds; a guess.
const SHADED: f64 = 2.0;

/// What a sheet of a single zone is at most less likely the card by where it lies askew to the panel, or, if it is grey, is lighter than
/// nearly all of the panel: as if three cards in four were laid about square, and one panel in four had nothing lighter than its card; a guess. Alone it doesn't
/// decide between two that are seen alike.
pub(super) const UNUSUAL: f64 = 1.3;
/// Log light over that of the panel's lightest things between which lightness grows from nothing to all of it.
const LIGHTER_BY: (f64, f64) = (-0.3, 0.3);
/// Angle at which two fifths of that are reached, radians: nine degrees.
const SQUARE: f64 = 0.157;

/// What the panel says of a sheet beside it, and its light of the sheet's.
#[derive(Clone, Copy, Debug)]
pub(super) struct PanelLight {
    /// Where its board lies, millimetres of the plane: as one of the ways that share the plane has it; others may have it a line off.
    pub board: Option<Rect>,
    /// Log light of the lightest things on it.
    pub lightest: Option<f64>,
    /// Whether its patches are so many that some are lighter than a grey card.
    pub varied: bool,
    /// Colour of the photo's lightest things.
    pub cast: Option<[f64; 2]>,
}

/// Tint beyond which a card of few zones is no neutral one: tungsten light that a camera took for daylight gives grey about 1.
const TINTED: f64 = 1.5;

/// What a grey as tinted as the photo's lightest things may lack of its score and still be the card, if there is no other: all greys are
/// tinted in the light of a lamp that the camera didn't take for one.
const CAST: f64 = 1.5;

/// CIELAB lightness below which a card that comes out clipped is none: a white one may.
const NO_WHITE: f64 = 80.0;

/// Median distance from the median colour beyond which a zone is not of one colour.
const UNEVEN: f64 = 6.0;

/// Mean belief in a card's zones from which it is one: one zone must show nearly all round; of many some may be as dark as the frame.
const SINGLE_SHOWS: f64 = 0.6;
const SHOWS: f64 = 0.55;
/// Belief from which a single zone casts doubt on another.
const HALF_SHOWS: f64 = 0.4;

/// What a card scores whose zones are all seen.
const ALL_SEEN: f64 = 6.0;

/// What a single zone that is told by its evenness alone scores less: as one that shows just enough of its edges.
pub(super) const BY_EVENNESS: f64 = ALL_SEEN * (1.0 - SINGLE_SHOWS);

/// What suggests a pose.
#[derive(Clone, Copy, Debug)]
pub(super) enum Source {
    /// Regions with closed outlines.
    Regions,
    /// Even places, or parts of a sheet.
    Elsewhere,
}

/// Refines a pose in the view and weighs it; none if it does not look like the card.
///
/// What is asked of any card makes it none; how much lighter than the panel it is, and how it lies, only costs it some of its score against others.
pub(super) fn judge(
    view: &View,
    placed: &PlacedCard,
    plane: &PlaneMap,
    panel: PanelLight,
    pose: Pose,
    from: Source,
) -> Option<Found> {
    let card = &placed.card;
    // What is suggested lies within a fraction of a zone of where it will be, so that each zone's middle shows itself already.
    if card.patches.len() > 1
        && !told_by_colours(card)
        && !zones_in_order(view, card, &pose.map(card, plane))
    {
        return None;
    }
    let (start, mut pose) = (pose, pose);
    let pixels = plane.jacobian(pose.centre).determinant().abs().sqrt();
    // A twelfth of the card at first, then ever closer.
    let far = pixels * card.outer().width.min(card.outer().height) / 12.0;
    // The board's edge shows harder than that of a card of the table's colour beside it.
    let own = |it: &Seen| {
        let on_edge = |board: &Rect| board::on_edge(plane, board, it);
        !panel.board.as_ref().is_some_and(on_edge)
    };
    for reach in [far.clamp(4.0, 14.0), 4.0, 2.0] {
        pose = refine(view, card, plane, pose, reach, &own).unwrap_or(pose);
    }
    let zones: Vec<&Rect> = card
        .patches
        .iter()
        .filter(|it| !it.empty)
        .map(|it| &it.rect)
        .collect();
    let look = |pose: &Pose| {
        let map = pose.map(card, plane);
        let outlines = zones.iter().map(|it| look_at(view, card, &map, it, 1.8));
        let (seen, share) = outlines.fold((0.0, 0.0), |(seen, share), it| {
            (seen + it.visible(), share + it.share)
        });
        let n = zones.len().max(1) as f64;
        (map, seen / n, share / n)
    };
    let (mut map, mut seen, mut share) = look(&pose);
    let single = zones.len() == 1;
    let enough = if single { SINGLE_SHOWS } else { SHOWS };
    if seen < 1.0 && matches!(from, Source::Regions) && suggest::is_of_size(&start) {
        // Far around it, streaks in wood are harder than the card's own edges, and a region of its size has those.
        let near = refine(view, card, plane, start, 2.0, &own).unwrap_or(start);
        let looked = look(&near);
        if looked.2 > share {
            pose = near;
            (map, seen, share) = looked;
        }
    }
    // A row of patches says little of the perspective beside it.
    if !(0.87..1.14).contains(&pose.scale) {
        return None;
    }
    let mut even = false;
    if single
        && seen < enough
        && let Some(it) = even::settle(view, card, plane, start, &own)
    {
        // Nearly all half sides were asked for.
        (pose, map, seen, share, even) = (it, it.map(card, plane), 1.0, 0.0, true);
    }
    if seen < if single { HALF_SHOWS } else { enough } {
        return None;
    }
    // Sides that differ are no proof of a sheet that lies as its frame does, nor is a smaller one the card.
    let other = |it: &&Rect| {
        corner::lacks(view, &map, it)
            || bulge::bulges(view, &map, it)
            || short::ends_early(view, &map, it)
    };
    if single && zones.iter().any(other) {
        return None;
    }
    let shown = Shown {
        pose,
        map,
        seen,
        share,
        plain: seen >= enough,
        even,
    };
    weigh(view, placed, panel, &shown)
}

/// Whether a card's zones are lighter and darker as they should be, as far as they are in view.
fn zones_in_order(view: &View, card: &Panel, map: &PlaneMap) -> bool {
    let zones = card.patches.iter().filter(|it| !it.empty);
    let lightness: Vec<(f64, f32)> = zones
        .filter_map(|it| {
            let (colour, _) = shade::inside(view, map, &it.rect)?;
            Some((it.known.as_ref()?.lab.l, colour[0]))
        })
        .collect();
    shade::in_order(&lightness)
}

/// A pose with what is seen of its zones' outlines.
pub(super) struct Shown {
    pub pose: Pose,
    /// Card millimetres to the view pixels where its zones are read.
    pub map: PlaneMap,
    pub seen: f64,
    pub share: f64,
    pub plain: bool,
    pub even: bool,
}

/// Weighs a pose by the colours of its zones; none if they aren't the card's.
pub(super) fn weigh(
    view: &View,
    placed: &PlacedCard,
    panel: PanelLight,
    shown: &Shown,
) -> Option<Found> {
    let card = &placed.card;
    let Shown {
        pose,
        map,
        seen,
        even,
        ..
    } = *shown;
    let zones = card.patches.iter().filter(|it| !it.empty).count();
    let single = zones == 1;
    let mut score = ALL_SEEN * seen;
    let (mut uneven, mut lightness) = (0, Vec::new());
    let (mut shaded, mut unusual, mut by_cast) = (0.0_f64, 0.0_f64, 0.0_f64);
    for patch in card.patches.iter().filter(|it| !it.empty) {
        let (colour, spread) = shade::inside(view, &map, &patch.rect)?;
        uneven += usize::from(spread > UNEVEN && !shade::parted(view, &map, &patch.rect));
        if let Some(known) = &patch.known {
            lightness.push((known.lab.l, colour[0]));
            if let Some(lightest) = panel.lightest {
                shaded = shaded.max(shade::beyond_white(lightest, colour, known.lab));
                if panel.varied && known.lab.l < NO_WHITE {
                    let over = shade::log_light(colour) - lightest;
                    unusual = unusual.max(share_between(LIGHTER_BY, over));
                }
            }
        }
        let neutral = patch
            .known
            .as_ref()
            .is_some_and(|it| it.lab.a.hypot(it.lab.b) < 8.0);
        if neutral {
            let tint = shade::tint(colour);
            // A white sheet has no tint where a channel is clipped, and a grey card that comes out so can't be read.
            let grey = single && patch.known.as_ref().is_some_and(|it| it.lab.l < NO_WHITE);
            if grey && shade::linear(colour).iter().any(|it| *it > shade::CLIPPED) {
                return None;
            }
            // A camera's white balance errs; a chart's own colours say more.
            if tint > TINTED && !told_by_colours(card) {
                return None;
            }
            let per_tint = 4.0 / zones as f64;
            score -= per_tint * tint;
            if let Some(cast) = panel.cast {
                by_cast += per_tint * (tint - shade::tint_beside(colour, cast)).max(0.0);
            }
        }
    }
    // The edge of a shadow may cross one zone of three.
    if zones <= 4 && uneven > zones / 3 {
        return None;
    }
    if !told_by_colours(card) && !shade::in_order(&lightness) {
        return None;
    }
    score += shade::favour(view, &map, card);
    // A card may lie lower than the board, hardly higher.
    score -= (1.0 - pose.scale).max(2.0 * (pose.scale - 1.0)) * 20.0;
    let least = match placed.place {
        Place::Anywhere if single => LEAST_LIKE_ANYWHERE,
        _ => LEAST_LIKE,
    };
    // A sheet so dark that the panel would be lighter than white, were it the card, lies in a shadow or is none. Where the card may lie
    // anywhere it must hold with that: another sheet is as likely as a shadow.
    let anywhere = matches!(placed.place, Place::Anywhere);
    let by_shade = if single { SHADED * shaded } else { 0.0 };
    let held = score + by_cast.min(CAST) - if anywhere { by_shade } else { 0.0 };
    let by_colours = told_by_colours(card);
    if !by_colours && held < least {
        return None;
    }
    score -= by_shade;
    // It mustn't outdo what shows its edges.
    if even {
        score -= BY_EVENNESS;
    }
    if single {
        unusual += askew(&pose);
        score -= UNUSUAL * unusual.min(1.0);
    }
    Some(Found {
        pose,
        score,
        seen,
        share: shown.share,
        plain: shown.plain,
        own: None,
        even,
        needs_cast: !by_colours && held - by_cast.min(CAST) < least,
    })
}

/// How far a pose is from what hands lay square, 0–1.
pub(super) fn askew(pose: &Pose) -> f64 {
    let off = crooked(pose) / SQUARE;
    1.0 - (-off * off / 2.0).exp()
}

/// How much of the way from one value to the other a value is, 0–1.
fn share_between((from, to): (f64, f64), value: f64) -> f64 {
    ((value - from) / (to - from)).clamp(0.0, 1.0)
}
