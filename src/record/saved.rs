//! A saved correction as a file: TOML that a person can read, and from which exactly the same correction comes back.
//!
//! Numbers are written with as many digits as tell them apart from all others. Reading is strict: another version, an unknown or
//! missing key, or a number that makes no sense is an error with its line.

use crate::colour::Matrix;
use crate::correct::{
    ColourMap, CorrectionKind, Origin, Portable, Saved, Terms, ToneCurve, ToneSource, Variant,
};
use nalgebra::Matrix2;
use serde::Deserialize;
use std::fmt::Write as _;
use std::io::Read as _;
use std::ops::Range;
use std::path::{Path, PathBuf};
use toml::Spanned;

/// The number of this form.
pub const SCHEMA: i64 = 1;

/// A file that holds no saved correction.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SavedFileError {
    /// It can't be read.
    #[error("can't read {}", path.display())]
    File {
        /// Which file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// It is not of this form.
    #[error("{}, line {line}: {reason}", path.display())]
    Form {
        /// Which file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// What is wrong.
        reason: String,
    },
    /// It is of another version of this form.
    #[error("{}, line {line}: its schema is {found}, and this program reads {SCHEMA}", path.display())]
    Version {
        /// Which file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// The number in the file.
        found: i64,
    },
}

impl SavedFileError {
    /// What to do next, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::File { .. } => "Check the name, and that you may read it.",
            Self::Form { .. } => "Give a file that `masstone calibrate --out` wrote, unchanged.",
            Self::Version { .. } => {
                "Fit it anew with this version: run `masstone calibrate` on the photo of the chart."
            }
        }
    }
}

/// A finite number.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(try_from = "f64")]
struct Finite(f64);

impl TryFrom<f64> for Finite {
    type Error = &'static str;

    fn try_from(number: f64) -> Result<Self, Self::Error> {
        if number.is_finite() {
            Ok(Self(number))
        } else {
            Err("it must be a finite number")
        }
    }
}

/// A number above zero.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(try_from = "f64")]
struct Positive(f64);

impl TryFrom<f64> for Positive {
    type Error = &'static str;

    fn try_from(number: f64) -> Result<Self, Self::Error> {
        if number.is_finite() && number > 0.0 {
            Ok(Self(number))
        } else {
            Err("it must be a finite number above 0")
        }
    }
}

/// What every version begins with.
#[derive(Deserialize)]
struct Head {
    schema: Spanned<i64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[expect(dead_code, reason = "read before, as the head")]
    schema: i64,
    program: String,
    kind: CorrectionKind,
    leave_one_out: Finite,
    left_out_square: Finite,
    neutral_alone: Option<Finite>,
    photo: PhotoPart,
    encoding: EncodingPart,
    fit: FitPart,
    #[serde(default)]
    variant: Vec<FitPart>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PhotoPart {
    file: String,
    sha256: String,
    panel: String,
    camera: Option<String>,
    lens: Option<String>,
    manual_white_balance: Option<bool>,
    taken: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EncodingPart {
    linear: bool,
    #[serde(default)]
    sensor: bool,
    to_xyz: [[Finite; 3]; 3],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FitPart {
    tone: Spanned<TonePart>,
    gains: [Positive; 3],
    terms: TermsPart,
    coefficients: Spanned<Vec<[Finite; 3]>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TonePart {
    source: ToneSource,
    contrast: Finite,
    shift: Finite,
    covariance: [[Finite; 2]; 2],
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
enum TermsPart {
    Linear,
    RootPolynomial,
}

/// Largest file that is read, in bytes: a hundred times what the largest fit needs.
const LIMIT: u64 = 1 << 20;

/// Reads a saved correction.
///
/// # Errors
///
/// If the file can't be read, is of another version, or is not of this form; with its line.
pub fn read(path: &Path) -> Result<Saved, SavedFileError> {
    let mut bytes = Vec::new();
    std::fs::File::open(path)
        .and_then(|it| it.take(LIMIT).read_to_end(&mut bytes))
        .map_err(|source| SavedFileError::File {
            path: path.to_owned(),
            source,
        })?;
    let text = String::from_utf8(bytes).map_err(|it| {
        let before = &it.as_bytes()[..it.utf8_error().valid_up_to()];
        SavedFileError::Form {
            path: path.to_owned(),
            line: 1 + before.iter().filter(|it| **it == b'\n').count(),
            reason: "not UTF-8 text".to_owned(),
        }
    })?;
    parse(&text, path)
}

/// Reads a saved correction from the text of the file called `path`.
///
/// # Errors
///
/// As [`read`].
pub fn parse(text: &str, path: &Path) -> Result<Saved, SavedFileError> {
    let line = |span: Option<Range<usize>>| {
        let start = span.map_or(0, |it| it.start).min(text.len());
        1 + text.as_bytes()[..start]
            .iter()
            .filter(|it| **it == b'\n')
            .count()
    };
    let wrong = |span: Option<Range<usize>>, reason: &str| SavedFileError::Form {
        path: path.to_owned(),
        line: line(span),
        reason: reason.to_owned(),
    };
    let of_toml = |it: toml::de::Error| wrong(it.span(), it.message());
    let head: Head = toml::from_str(text).map_err(of_toml)?;
    if *head.schema.get_ref() != SCHEMA {
        return Err(SavedFileError::Version {
            path: path.to_owned(),
            line: line(Some(head.schema.span())),
            found: *head.schema.get_ref(),
        });
    }
    let file: File = toml::from_str(text).map_err(of_toml)?;
    let fit = |part| fit_of(part).map_err(|(span, reason)| wrong(Some(span), reason));
    let (tone, map) = fit(file.fit)?;
    let variants = file.variant.into_iter().map(|it| {
        let (tone, map) = fit(it)?;
        Ok(Variant { tone, map })
    });
    let to_xyz = file.encoding.to_xyz;
    Ok(Saved {
        origin: Origin {
            program: file.program,
            photo: file.photo.file,
            sha256: file.photo.sha256,
            panel: file.photo.panel,
            camera: file.photo.camera,
            lens: file.photo.lens,
            manual_white_balance: file.photo.manual_white_balance,
            taken: file.photo.taken,
        },
        fit: Portable {
            kind: file.kind,
            leave_one_out: file.leave_one_out.0,
            left_out_square: file.left_out_square.0,
            neutral_alone: file.neutral_alone.map(|it| it.0),
            linear: file.encoding.linear,
            sensor: file.encoding.sensor,
            to_xyz: Matrix::from_fn(|row, column| to_xyz[row][column].0),
            tone,
            map,
            variants: variants.collect::<Result<_, SavedFileError>>()?,
        },
    })
}

/// Where and what.
type Wrong = (Range<usize>, &'static str);

fn fit_of(part: FitPart) -> Result<(ToneCurve, ColourMap), Wrong> {
    let tone = tone_of(part.tone)?;
    let terms = match part.terms {
        TermsPart::Linear => Terms::Linear,
        TermsPart::RootPolynomial => Terms::RootPolynomial,
    };
    let span = part.coefficients.span();
    let coefficients = part.coefficients.into_inner();
    if coefficients.len() != terms.count() {
        return Err((
            span,
            "there must be one row of coefficients a term: 3 for linear, 6 for root-polynomial",
        ));
    }
    let map = ColourMap {
        gains: part.gains.map(|it| it.0),
        terms,
        coefficients: coefficients.iter().map(|it| it.map(|x| x.0)).collect(),
    };
    Ok((tone, map))
}

fn tone_of(part: Spanned<TonePart>) -> Result<ToneCurve, Wrong> {
    let span = part.span();
    let part = part.into_inner();
    // Otherwise it would not rise everywhere.
    if part.contrast.0 >= 1.0 {
        return Err((span, "the contrast of a tone curve lies below 1"));
    }
    let covariance = part.covariance;
    Ok(ToneCurve {
        contrast: part.contrast.0,
        shift: part.shift.0,
        source: part.source,
        covariance: Matrix2::from_fn(|row, column| covariance[row][column].0),
    })
}

/// The file's text.
#[must_use]
pub fn text(saved: &Saved) -> String {
    let Saved { origin, fit } = saved;
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    line("# A colour correction, fitted to a photo with many known colours. For photos of the same camera and lens, in".into());
    line("# the same light, with a grey card in each: masstone measure PHOTO --panel PANEL.toml --correction THIS-FILE".into());
    line(format!("schema = {SCHEMA}"));
    line(format!("program = {}", quoted(&origin.program)));
    line(format!("kind = {}", quoted(kind_word(fit.kind))));
    line(format!(
        "leave_one_out = {:?}      # mean ΔE00 of known colours that the fit had not seen",
        fit.leave_one_out
    ));
    line(format!(
        "left_out_square = {:?}    # mean square of the same",
        fit.left_out_square
    ));
    if let Some(neutral) = fit.neutral_alone {
        line(format!(
            "neutral_alone = {neutral:?}      # mean ΔE00 of the same colours with the neutral ones alone"
        ));
    }
    line("\n[photo]                 # what it was fitted to".into());
    line(format!("file = {}", quoted(&origin.photo)));
    line(format!("sha256 = {}", quoted(&origin.sha256)));
    line(format!("panel = {}", quoted(&origin.panel)));
    for (key, value) in [
        ("camera", &origin.camera),
        ("lens", &origin.lens),
        ("taken", &origin.taken),
    ] {
        if let Some(value) = value {
            line(format!("{key} = {}", quoted(value)));
        }
    }
    if let Some(manual) = origin.manual_white_balance {
        line(format!("manual_white_balance = {manual}"));
    }
    line("\n[encoding]              # of that file".into());
    line(format!("linear = {}", fit.linear));
    if fit.sensor {
        line("sensor = true".into());
    }
    let to_xyz = fit.to_xyz;
    let rows =
        [0, 1, 2].map(|row| numbers(&[to_xyz[(row, 0)], to_xyz[(row, 1)], to_xyz[(row, 2)]]));
    line(format!("to_xyz = [{}]", rows.join(", ")));
    line("\n[fit]                   # tone curve undone, light evened, then gains and map to XYZ D50".into());
    part(&mut line, &fit.tone, &fit.map);
    for it in &fit.variants {
        line(
            "\n[[variant]]             # the same under a tone curve one standard deviation off"
                .into(),
        );
        part(&mut line, &it.tone, &it.map);
    }
    out
}

fn part(line: &mut impl FnMut(String), tone: &ToneCurve, map: &ColourMap) {
    let ToneCurve {
        contrast,
        shift,
        source,
        covariance,
    } = tone;
    let word = match source {
        ToneSource::Encoding => "encoding",
        ToneSource::Assumed => "assumed",
        ToneSource::Fitted => "fitted",
    };
    let rows = [0, 1].map(|row| numbers(&[covariance[(row, 0)], covariance[(row, 1)]]));
    line(format!(
        "tone = {{ source = \"{word}\", contrast = {contrast:?}, shift = {shift:?}, covariance = [{}] }}",
        rows.join(", ")
    ));
    // What the light was like: white in this photo is the inverse of the gains.
    line(format!("gains = {}", numbers(&map.gains)));
    line(format!(
        "terms = {}",
        quoted(match map.terms {
            Terms::Linear => "linear",
            Terms::RootPolynomial => "root-polynomial",
        })
    ));
    let mut table = "coefficients = [        # X, Y, Z of each term".to_owned();
    for row in &map.coefficients {
        let _ = write!(table, "\n    {},", numbers(row));
    }
    line(table + "\n]");
}

/// A list of numbers, each with the fewest digits that bring it back.
fn numbers(values: &[f64]) -> String {
    let words: Vec<String> = values.iter().map(|it| format!("{it:?}")).collect();
    format!("[{}]", words.join(", "))
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn kind_word(kind: CorrectionKind) -> &'static str {
    match kind {
        CorrectionKind::Neutral => "neutral",
        CorrectionKind::NeutralTone => "neutral-tone",
        CorrectionKind::Linear => "linear",
        CorrectionKind::RootPolynomial => "root-polynomial",
        CorrectionKind::SensorNeutral => "sensor-neutral",
        CorrectionKind::SensorLinear => "sensor-linear",
        CorrectionKind::SensorRootPolynomial => "sensor-root-polynomial",
        CorrectionKind::Saved => "saved",
    }
}
