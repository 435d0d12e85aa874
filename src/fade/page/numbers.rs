//! The table of numbers of a patch: a column for each dose, below the pictures of the same dose.

use super::signed;
use crate::fade::report::Change;
use maud::{Markup, html};

/// A row: its name, what it is, and its cell of a change.
type Row = (&'static str, &'static str, fn(&Change) -> String);

const ROWS: [Row; 12] = [
    ("ΔL*", "change of lightness", |it| signed(it.dl)),
    ("Δa*", "change from green to red", |it| signed(it.da)),
    ("Δb*", "change from blue to yellow", |it| signed(it.db)),
    ("ΔC*", "change of chroma", |it| signed(it.dc)),
    ("ΔH*", "change of hue", |it| signed(it.dh)),
    ("ΔE*ab", "difference, CIELAB", |it| plain(it.de_ab)),
    ("ΔE00", "difference, CIEDE2000", |it| plain(it.de_00)),
    ("± U95", "uncertainty of ΔE00", |it| plain(it.u95_de_00)),
    ("noise", "what noise alone stays below, ΔE00", |it| {
        plain(it.detection_limit)
    }),
    ("told", "whether the change is told from none", |it| {
        if it.significant { "yes" } else { "no" }.to_owned()
    }),
    ("grade", "grey-scale grade for change in colour", |it| {
        it.grade.clone()
    }),
    ("band", "band of ΔE*ab", |it| it.band.clone()),
];

fn plain(value: f64) -> String {
    format!("{value:.2}")
}

/// Rows below the pictures; `None` stands for dose 0, before any change.
pub(super) fn rows(columns: &[Option<Option<&Change>>]) -> Markup {
    let there = |value: fn(&Change) -> Option<f64>| {
        let changes = columns.iter().flatten().flatten();
        changes.into_iter().any(|it| value(it).is_some())
    };
    html! {
        @for (name, what, cell) in ROWS { (row(name, what, columns, cell)) }
        @if there(|it| it.unevenness) {
            (row("uneven", "change of unevenness, ΔE00", columns, |it| it.unevenness.map_or("–".to_owned(), signed)))
        }
        @if there(|it| it.yellowness) {
            (row("ΔYI", "change of the yellowness index ASTM E313", columns, |it| it.yellowness.map_or("–".to_owned(), signed)))
        }
        @if columns.iter().flatten().flatten().any(|it| it.parts.is_some()) {
            (row("coating", "ΔE00 that the coating alone would make, at most", columns, |it| it.parts.as_ref().map_or("–".to_owned(), |it| plain(it.coating_de_00))))
            (row("rest", "ΔE00 of the rest", columns, |it| it.parts.as_ref().map_or("–".to_owned(), |it| plain(it.rest_de_00))))
        }
    }
}

fn row(
    name: &str,
    what: &str,
    columns: &[Option<Option<&Change>>],
    cell: fn(&Change) -> String,
) -> Markup {
    html! {
        tr.strong[name == "ΔE00"] {
            th scope="row" { abbr title=(what) { (name) } }
            @for it in columns { td.number { @match it {
                None => "",
                Some(None) => abbr title="could not be measured" { "–" },
                Some(Some(it)) => (cell(it)),
            } } }
        }
    }
}
