//! The masked and the exposed half through the exposures, one above the other so that the eye compares them at an edge.

use super::is_hex;
use crate::fade::report::{Board, Patch};
use crate::fade::rows::same_dose;
use crate::fade::wording;
use crate::record::Half;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use maud::{Markup, html};

/// How one half of a patch looked at one dose.
#[derive(Clone, Debug, PartialEq)]
pub struct Crop {
    /// The panel's id.
    pub panel: String,
    /// The patch's id.
    pub patch: String,
    /// Which half.
    pub half: Half,
    /// What `dose` counts, as the report's board has it.
    pub dose_kind: String,
    /// The dose.
    pub dose: f64,
    /// The picture, a JPEG or PNG file, sRGB; none where there is none.
    pub picture: Option<Vec<u8>>,
    /// The measured colour for a screen, as `#rrggbb`.
    pub hex: Option<String>,
}

/// What stands in a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Shown<'a> {
    Picture(&'a [u8], &'static str),
    Block(&'a str),
    Nothing,
}

/// The pictures of one patch.
#[derive(Debug)]
pub(super) struct Strip<'a> {
    crops: Vec<&'a Crop>,
}

impl<'a> Strip<'a> {
    pub(super) fn new(board: &Board, patch: &Patch, crops: &'a [Crop]) -> Self {
        let of_it = |it: &&Crop| {
            it.panel == board.panel && it.patch == patch.patch && it.dose_kind == board.dose_kind
        };
        Self {
            crops: crops.iter().filter(of_it).collect(),
        }
    }

    /// What there is of a half at a dose: a picture before a colour.
    fn shown(&self, half: Half, dose: f64) -> Shown<'a> {
        let of_it = |it: &&&Crop| it.half == half && same_dose(it.dose, dose);
        let all = || self.crops.iter().filter(of_it);
        let picture = all().find_map(|it| {
            let bytes = it.picture.as_deref()?;
            Some(Shown::Picture(bytes, kind(bytes)?))
        });
        let block = || all().find_map(|it| it.hex.as_deref().filter(|it| is_hex(it)));
        picture
            .or_else(|| block().map(Shown::Block))
            .unwrap_or(Shown::Nothing)
    }

    /// Whether blocks take the place of pictures: of some, of all.
    pub(super) fn blocks(&self, doses: &[f64]) -> Option<&'static str> {
        let halves = [Half::Masked, Half::Exposed];
        let shown = doses
            .iter()
            .flat_map(|dose| halves.map(|half| self.shown(half, *dose)));
        let (mut pictures, mut blocks) = (0, 0);
        for it in shown {
            match it {
                Shown::Picture(..) => pictures += 1,
                Shown::Block(_) => blocks += 1,
                Shown::Nothing => (),
            }
        }
        match (pictures, blocks) {
            (_, 0) => None,
            (0, _) => Some("No pictures are at hand: these are blocks of the measured colour (◇)."),
            _ => Some("◇: no picture is at hand, this is a block of the measured colour."),
        }
    }

    /// The row of one half.
    pub(super) fn row(&self, half: Half, doses: &[f64], dose_kind: &str) -> Markup {
        let name = match half {
            Half::Masked => "masked",
            Half::Exposed => "exposed",
            Half::Whole => "whole",
        };
        html! {
            tr.crops {
                th scope="row" { (name) }
                @for dose in doses {
                    @let text = format!("{name} half at {}", wording::dose(*dose, dose_kind));
                    td { @match self.shown(half, *dose) {
                        Shown::Picture(bytes, kind) => {
                            img src=(format!("data:{kind};base64,{}", STANDARD.encode(bytes))) alt=(text) title=(text);
                        }
                        Shown::Block(hex) => {
                            @let text = format!("{text}: measured colour {hex}, no picture");
                            svg viewBox="0 0 10 10" preserveAspectRatio="none" role="img" aria-label=(text) {
                                title { (text) }
                                rect width="10" height="10" fill=(hex) {}
                            }
                            span.block aria-hidden="true" { "◇" }
                        }
                        Shown::Nothing => span.faint title=(format!("{text}: not measured")) { "–" },
                    } }
                }
            }
        }
    }
}

/// The kind of a picture, by its first bytes.
fn kind(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        Some("image/jpeg")
    } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else {
        None
    }
}
