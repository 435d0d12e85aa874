//! The pages: a range becomes the files of a static site.
//!
//! The pages load nothing from elsewhere, open from a disk, and hold no script but the range's own, which a digest names: no name or note can run.
//! A swatch's page is named by its number in the library, so that links hold whatever it is called.

mod board;
mod contrast;
mod exposed;
mod facts;
mod head;
mod index;
mod loads;
mod reading;
mod sheet;
mod swatch;
mod tint;

use super::exchange::{self, Format};
use super::folder::Files;
use super::range::Range;
use rayon::prelude::*;

/// The folder of pictures.
const PICTURES: &str = "crops";
/// The folder of swatches' pages.
const SWATCHES: &str = "swatches";
/// The styles of all pages.
const STYLE: &str = include_str!("site/style.css");
/// The place of the styles.
const STYLE_FILE: &str = "site.css";
/// Of the pages' own texts: where these change, sites are built anew.
pub(super) const FORM: &str = concat!(
    include_str!("site/style.css"),
    include_str!("site/range.js")
);
/// The place of the icon.
const ICON_FILE: &str = "icon.svg";
/// The page on how to read it all.
const READING: &str = "reading.html";
/// The sheet for paper.
const SHEET: &str = "sheet.html";

/// All files of the site.
#[must_use]
pub fn files(range: &Range) -> Files {
    let mut files = Files::new();
    let mut add = |place: &str, text: String| {
        files.insert(place.to_owned(), text.into_bytes());
    };
    add("index.html", index::page(range));
    add(READING, reading::page(range));
    add(SHEET, sheet::page(range));
    add(STYLE_FILE, head::style(range));
    add(ICON_FILE, head::icon(range));
    let swatches: Vec<(String, Vec<u8>)> = (range.swatches.par_iter())
        .map(|it| {
            let page = swatch::page(range, it);
            (format!("{SWATCHES}/{}.html", it.id), page.into_bytes())
        })
        .collect();
    files.extend(swatches);
    let pictures = range.pictures.iter();
    files.extend(pictures.map(|(name, jpeg)| (format!("{PICTURES}/{name}"), jpeg.clone())));
    for format in Format::ALL {
        let data = exchange::files(range, format).into_iter();
        files.extend(data.map(|(name, bytes)| (format!("{}/{name}", exchange::FOLDER), bytes)));
    }
    files
}
