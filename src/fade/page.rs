//! The report as one HTML page that needs nothing else, for a phone and for paper.
//!
//! Takes a finished report and small pictures of the patches; gives one document without scripts and without anything to load, in which
//! nothing rests on colour alone. All text that comes from users is escaped. The same report gives the same bytes.

mod axis;
mod common;
mod course;
mod crops;
mod heading;
mod interval;
mod legend;
mod numbers;
mod origin;
mod patch;
mod path;
mod place;
mod swatch;

pub use crops::Crop;

use super::Report;
use super::report::Board;
use maud::{Markup, html};

const STYLE: &str = include_str!("page/style.css");

/// The page. Where a crop is missing, a block of the measured colour takes its place and is called so.
#[must_use]
pub fn of(report: &Report, crops: &[Crop]) -> String {
    crate::html::document(&title(report), &[STYLE], &body(report, crops))
}

fn title(report: &Report) -> String {
    match &report.boards[..] {
        [board] => format!("Change of colour: {}", name(board)),
        boards => format!("Change of colour: {} boards", boards.len()),
    }
}

/// A board's name for people.
fn name(board: &Board) -> &str {
    board.title.as_deref().unwrap_or(&board.panel)
}

fn body(report: &Report, crops: &[Crop]) -> Markup {
    html! {
        main {
            h1 { (title(report)) }
            (legend::before())
            @if report.boards.is_empty() { p { "There is no board with a masked and an exposed half in it." } }
            (list("What holds for all of it", &report.notes))
            @for (number, board) in report.boards.iter().enumerate() {
                (self::board(number, board, crops, report.boards.len() > 1))
            }
            (swatch::section(&report.swatches))
            (legend::after())
            p.faint { "Made by " (report.program.name) " " (report.program.version) "." }
        }
    }
}

fn board(number: usize, board: &Board, crops: &[Crop], several: bool) -> Markup {
    let furthest = furthest(board);
    let common = common::Common::of(board);
    html! {
        section.board {
            @if several { h2 { "Board: " (name(board)) ", dose in " (board.dose_kind) } }
            (heading::section(board))
            (place::section(number, board))
            (origin::section(board))
            h2 { "Patch by patch" }
            (common.list())
            @for (index, it) in board.patches.iter().enumerate() {
                (patch::article(&anchor(number, index), board, it, crops, furthest, &common))
            }
            (heading::photos(board))
        }
    }
}

/// Where the axes of doses end, the same for every patch of a board.
fn furthest(board: &Board) -> f64 {
    let courses = board.patches.iter().filter_map(|it| it.course.as_ref());
    let limits = courses.map(|it| it.limit_dose).filter(|it| it.is_finite());
    let furthest = limits.fold(board.last_dose().unwrap_or(0.0), f64::max);
    if furthest > 0.0 { furthest } else { 1.0 }
}

/// What a patch is called in links within the page.
fn anchor(board: usize, patch: usize) -> String {
    format!("b{}p{}", board + 1, patch + 1)
}

/// Sentences under a heading, if there are any.
fn list(title: &str, all: &[String]) -> Markup {
    html! {
        @if !all.is_empty() {
            section { h3 { (title) } ul { @for it in all { li { (it) } } } }
        }
    }
}

/// The colour itself, beside a name: a square that a printer paints, too.
fn sample(hex: Option<&str>) -> Markup {
    html! {
        @if let Some(hex) = hex.filter(|it| is_hex(it)) {
            svg.sample viewBox="0 0 10 10" role="img" aria-label=(format!("colour {hex}")) {
                rect width="10" height="10" fill=(hex) stroke="#000" stroke-width="0.6" {}
            }
            " "
        }
    }
}

/// Whether it is a colour as `#rrggbb`.
fn is_hex(text: &str) -> bool {
    text.len() == 7 && text.starts_with('#') && text[1..].bytes().all(|it| it.is_ascii_hexdigit())
}

/// A signed number of a table.
fn signed(value: f64) -> String {
    let text = format!("{value:+.2}");
    if text == "-0.00" || text == "+0.00" {
        "0.00".to_owned()
    } else {
        text.replacen('-', "−", 1)
    }
}
