//! The page: well formed, self-contained, whole, and with the report's numbers.

use crate::example::{self, LONG, NASTY};
use crate::markup::{self, Page, Tag};
use masstone::fade::page::{self, Crop};
use masstone::fade::report::Report;

fn read(report: &Report, crops: &[Crop]) -> Page {
    markup::read(&page::of(report, crops)).unwrap_or_else(|it| panic!("{it}"))
}

/// `MASSTONE_LOOK=FILE.html cargo test --test fade_page` writes the page, to be looked at.
#[test]
fn the_page_is_well_formed_and_always_the_same() {
    let (report, crops) = (example::report(), example::crops());
    let page = page::of(&report, &crops);
    if let Some(file) = std::env::var_os("MASSTONE_LOOK") {
        std::fs::write(file, &page).unwrap();
    }
    assert_eq!(page, page::of(&report, &crops));
    markup::read(&page).unwrap_or_else(|it| panic!("{it}"));
}
