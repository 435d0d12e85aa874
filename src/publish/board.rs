//! The boards themselves: where each swatch lies on the thing that was measured.

use super::range::{Board, Picture, Place, Swatch};
use crate::library::boards::BoardEntry;
use crate::record::RectEntry;
use std::collections::BTreeMap;

/// The boards that hold one of these swatches, with the pictures of specimens as made.
pub(super) fn boards(
    entries: &[BoardEntry],
    swatches: &[Swatch],
    pictures: &BTreeMap<i64, Picture>,
) -> Vec<Board> {
    let published = |swatch: i64| swatches.iter().position(|it| it.id == swatch);
    (entries.iter())
        .filter(|it| it.specimens.iter().any(|it| published(it.swatch).is_some()))
        .map(|it| board(it, &published, pictures))
        .collect()
}

fn board(
    entry: &BoardEntry,
    published: &dyn Fn(i64) -> Option<usize>,
    pictures: &BTreeMap<i64, Picture>,
) -> Board {
    let panel = &entry.panel;
    let patches = || panel.patches.iter().filter(|it| !it.empty);
    let outline = outline(panel.board, patches().map(|it| it.rect));
    let mut places = Vec::new();
    for patch in patches() {
        let on = entry.specimens.iter().find(|it| it.patch == patch.id);
        let swatch = on.and_then(|it| published(it.swatch));
        let picture = on.and_then(|it| pictures.get(&it.specimen)).cloned();
        let RectEntry { at_mm, size_mm } = patch.rect;
        places.push(Place {
            patch: patch.id.clone(),
            rect_mm: [
                at_mm[0] - outline.at_mm[0],
                at_mm[1] - outline.at_mm[1],
                size_mm[0],
                size_mm[1],
            ],
            swatch,
            picture,
        });
    }
    Board {
        panel: panel.id.clone(),
        title: panel.title.clone(),
        substrate: panel.substrate.clone(),
        size_mm: outline.size_mm,
        places,
    }
}

/// The board's outline with all patches in it. Where nobody stated it: around the patches, with a rim of a sixth of the first one's shorter side.
fn outline(stated: Option<RectEntry>, patches: impl Iterator<Item = RectEntry>) -> RectEntry {
    let (mut from, mut to) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    let mut rim = stated.map(|_| 0.0);
    let mut take = |it: RectEntry, rim: f64| {
        for axis in 0..2 {
            from[axis] = from[axis].min(it.at_mm[axis] - rim);
            to[axis] = to[axis].max(it.at_mm[axis] + it.size_mm[axis] + rim);
        }
    };
    stated.into_iter().for_each(|it| take(it, 0.0));
    for it in patches {
        let rim = *rim.get_or_insert(it.size_mm[0].min(it.size_mm[1]) / 6.0);
        take(it, rim);
    }
    RectEntry {
        at_mm: from,
        size_mm: [to[0] - from[0], to[1] - from[1]],
    }
}
