//! A range for other programs: each file a function from the range to text.
//!
//! Everything is named by the swatch's number in the library ([`id`]), which no renaming changes and which needs no escaping anywhere.
//! Names, which can hold anything, stand where a format has room for free text, written so that they can't end it.

pub mod cgats;
pub mod css;
pub mod csv;
pub mod json;
pub mod tokens;
mod values;

use super::Range;

/// The folder of the files within a site.
pub const FOLDER: &str = "data";

/// What all files say of their colours, where they have room for a sentence. ASCII, without quotes.
pub const ORIGIN: &str = "CIELAB, D50, 2 degree observer; measured from photos with a reference card in them, \
                          in a geometry that is not that of ISO 13655.";

/// What all files say of uncertainties. ASCII, without quotes.
pub const UNCERTAINTY: &str = "U95 is in CIEDE2000: in 95 % of cases the swatch's true colour is no further away. \
                               Another specimen, screen or light adds to that.";

/// An exchange format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values, RFC 4180.
    Csv,
    /// JSON with its JSON Schema.
    Json,
    /// Text of ISO 28178 (CGATS.17).
    Cgats,
    /// CSS custom properties.
    Css,
    /// Design tokens.
    Tokens,
}

/// A file of a format.
#[derive(Clone, Copy, Debug)]
pub struct File {
    /// Its name within [`FOLDER`].
    pub name: &'static str,
    /// What it holds, a sentence for a page that links to it.
    pub says: &'static str,
    write: fn(&Range) -> String,
}

impl Format {
    /// All formats, in the order in which a page names them.
    pub const ALL: [Self; 5] = [Self::Csv, Self::Json, Self::Cgats, Self::Css, Self::Tokens];

    /// The word for it on a command line.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Json => "json",
            Self::Cgats => "cgats",
            Self::Css => "css",
            Self::Tokens => "tokens",
        }
    }

    /// The format of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|it| it.word() == word)
    }

    /// Its files, in the order in which a page names them.
    #[must_use]
    pub fn files(self) -> &'static [File] {
        match self {
            Self::Csv => &[
                File {
                    name: "swatches.csv",
                    says: "Each colour, as made and after each exposure, a row for spreadsheets.",
                    write: csv::swatches,
                },
                File {
                    name: "changes.csv",
                    says: "What exposure changed, a row for each specimen and dose.",
                    write: csv::changes,
                },
                File {
                    name: "readings.csv",
                    says: "Every reading of every photo that the colours are made of, a row each.",
                    write: csv::readings,
                },
            ],
            Self::Json => &[
                File {
                    name: "swatches.json",
                    says: "Everything about each swatch, with its readings, for programs.",
                    write: json::document,
                },
                File {
                    name: "swatches.schema.json",
                    says: "The JSON Schema of swatches.json: what each key means.",
                    write: |_| json::SCHEMA.to_owned(),
                },
            ],
            Self::Cgats => &[File {
                name: "swatches.cgats.txt",
                says: "The colours as made, as text of ISO 28178 (CGATS.17), for colour software.",
                write: cgats::table,
            }],
            Self::Css => &[File {
                name: "swatches.css",
                says: "The colours as made, as CSS custom properties, for web pages.",
                write: css::sheet,
            }],
            Self::Tokens => &[File {
                name: "swatches.tokens.json",
                says: "The colours as made, in the format of the Design Tokens Community Group, for design software.",
                write: tokens::group,
            }],
        }
    }
}

/// The files of a format: each with its name within [`FOLDER`]. UTF-8; the same range gives the same bytes.
#[must_use]
pub fn files(range: &Range, format: Format) -> Vec<(String, Vec<u8>)> {
    (format.files().iter())
        .map(|it| (it.name.to_owned(), (it.write)(range).into_bytes()))
        .collect()
}

/// What a swatch is called in all files: `swatch-17`.
#[must_use]
pub fn id(swatch: i64) -> String {
    format!("swatch-{swatch}")
}
