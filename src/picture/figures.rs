//! What was read, written on the patches of the straight view.

use super::labels::{Lines, SMALLEST, figures, ink_on, size};
use super::names::{Names, broken_to_fit, patch_of};
use super::places::{Quad, inside};
use crate::correct::Corrected;
use crate::drawing::{Colour, Drawing};

/// Largest figures, px.
const LARGEST: f64 = 18.0;
/// How many ways there are to write a reading, from the fullest to the barest.
const DETAILS: usize = 4;

/// Writes each reading in its place.
///
/// As much of each as there is room for in nearly every place, and at one size: figures that come and go, or shrink and grow,
/// from patch to patch can't be compared.
pub(super) fn write(drawing: &mut Drawing, names: &Names, places: &[(&Corrected, Quad)]) {
    let measured = places.iter().filter(|(it, _)| it.lab.is_some());
    let sizes = |detail: usize| -> Vec<f64> {
        measured
            .clone()
            .map(|(reading, quad)| {
                let room = room(quad);
                size(&lines_of(names, reading, detail, room), room, LARGEST)
            })
            .filter(|it| *it >= SMALLEST)
            .collect()
    };
    let nearly_all = |sizes: &Vec<f64>| 10 * sizes.len() >= 9 * measured.clone().count();
    let (detail, sizes) = (0..DETAILS)
        .map(|it| (it, sizes(it)))
        .find(|(_, it)| nearly_all(it))
        .unwrap_or((DETAILS - 1, Vec::new()));
    let largest = sizes.into_iter().fold(LARGEST, f64::min);
    for (reading, quad) in places {
        write_one(drawing, names, reading, quad, detail, largest);
    }
}

/// The reading on its own colour, as fully as `detail` asks, or more barely, or not at all, as there is room.
fn write_one(
    drawing: &mut Drawing,
    names: &Names,
    reading: &Corrected,
    quad: &Quad,
    detail: usize,
    largest: f64,
) {
    let (centre, whole) = inside(quad);
    let Some(lab) = reading.lab else {
        let below = ["not measured".to_owned()];
        let text: Vec<(String, Colour)> =
            broken_to_fit(&name(names, reading), &below, whole, LARGEST)
                .into_iter()
                .map(|it| (it, Colour::WHITE))
                .collect();
        let lines = Lines {
            lines: &text,
            centre,
            room: whole,
            largest: LARGEST,
        };
        lines.draw(drawing, Some(Colour::BLACK));
        return;
    };
    let room = room(quad);
    for detail in detail..DETAILS {
        let text: Vec<(String, Colour)> = lines_of(names, reading, detail, room)
            .into_iter()
            .map(|it| (it, ink_on(lab.l)))
            .collect();
        let lines = Lines {
            lines: &text,
            centre,
            room,
            largest,
        };
        if lines.fit() {
            lines.draw(drawing, None);
            return;
        }
    }
}

/// What a reading may cover of its place.
fn room(quad: &Quad) -> [f64; 2] {
    inside(quad).1.map(|it| 0.92 * it)
}

fn name(names: &Names, reading: &Corrected) -> String {
    patch_of(reading.kind).map_or_else(String::new, |it| names.of(it).to_owned())
}

/// A reading as lines. The patch's name always leads them: figures without it could be another patch's.
fn lines_of(names: &Names, reading: &Corrected, detail: usize, room: [f64; 2]) -> Vec<String> {
    let full = reading.lab.map_or_else(String::new, |it| figures(it, "\n"));
    let bare = full
        .replace("L* ", "")
        .replace("a* ", "")
        .replace("b* ", "");
    let spread = format!("± {:.1}", reading.u95);
    let below = match detail {
        0 => format!("{full}\n{spread}"),
        1 => format!("{bare}\n{spread}"),
        2 => bare,
        _ => String::new(),
    };
    let below: Vec<String> = below
        .split('\n')
        .filter(|it| !it.is_empty())
        .map(Into::into)
        .collect();
    broken_to_fit(&name(names, reading), &below, room, LARGEST)
}
