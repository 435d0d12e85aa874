//! The boards themselves: where each swatch lies on the thing that was measured.

use super::error::PublishError;
use super::gather::Pictures;
use super::range::{Board, Place, Swatch};
use super::swatch::as_made;
use crate::library::Library;
use crate::library::boards::BoardEntry;
use crate::record::RectEntry;

/// The boards that hold one of these swatches.
pub(super) fn boards(
    library: &Library,
    swatches: &[Swatch],
    pictures: &mut Pictures,
) -> Result<Vec<Board>, PublishError> {
    let mut boards = Vec::new();
    for it in library.boards()? {
        let published = |swatch: i64| swatches.iter().position(|it| it.id == swatch);
        if it.specimens.iter().any(|it| published(it.swatch).is_some()) {
            boards.push(board(library, &it, swatches, &published, pictures)?);
        }
    }
    Ok(boards)
}

fn board(
    library: &Library,
    entry: &BoardEntry,
    swatches: &[Swatch],
    published: &dyn Fn(i64) -> Option<usize>,
    pictures: &mut Pictures,
) -> Result<Board, PublishError> {
    let panel = &entry.panel;
    let patches = || panel.patches.iter().filter(|it| !it.empty);
    let outline = outline(panel.board, patches().map(|it| it.rect));
    let mut places = Vec::new();
    for patch in patches() {
        let on = entry.specimens.iter().find(|it| it.patch == patch.id);
        let swatch = on.and_then(|it| published(it.swatch));
        let picture = match on.zip(swatch.and_then(|it| swatches.get(it))) {
            Some((it, of)) => as_made(&library.crops_of_specimen(it.specimen)?, of, pictures),
            None => None,
        };
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
    Ok(Board {
        panel: panel.id.clone(),
        title: panel.title.clone(),
        substrate: panel.substrate.clone(),
        size_mm: outline.size_mm,
        places,
    })
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
