//! Swatches as CSV and JSON, one by one and in lists, for other programs.

use super::find::Listed;
use super::limits::Verdict;
use super::photos::Source;
use super::recipe::Recipe;
use super::show::{Shown, Specimen};
use super::statistics::Estimate;
use super::{Exposure, Library, LibraryError, store};
use crate::colour::{Matrix, lab, srgb};
use crate::record::Half;
use crate::record::csv::{text, word};
use rusqlite::params;
use schemars::JsonSchema;
use serde::Serialize;
use std::io::{self, Write};

/// A swatch with its colour at an exposure, as JSON has it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Row {
    /// The swatch's number in this library.
    pub swatch: i64,
    /// Its name.
    pub name: Option<String>,
    /// What is meant.
    pub recipe: Recipe,
    /// Where the recipe is incomplete: the panel beyond which nobody can say what is the same.
    pub only_panel: Option<String>,
    /// The half under the mask, after the other one was exposed.
    pub masked: bool,
    /// Which part of the patches it is of; `whole`, too, for both halves while both are fresh.
    pub half: Half,
    /// Hours of exposure; null when unknown.
    pub hours: Option<f64>,
    /// CIELAB L*, D50, 2° observer.
    #[serde(rename = "L")]
    pub l: f64,
    /// CIELAB a*.
    pub a: f64,
    /// CIELAB b*.
    pub b: f64,
    /// CIELAB chroma.
    #[serde(rename = "C")]
    pub c: f64,
    /// CIELAB hue angle, degrees.
    pub h: f64,
    /// sRGB, mapped into its gamut.
    pub hex: String,
    /// U95 of the mean.
    #[serde(rename = "U95")]
    pub u95: Option<f64>,
    /// Specimens in the mean.
    pub specimens: i64,
    /// Readings in the mean.
    pub readings: i64,
    /// Readings that disagree with the others.
    pub disagree: i64,
    /// How its specimens cured.
    pub cure: Vec<String>,
    /// ΔE00 to what was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub delta_e: Option<f64>,
    /// Whether that is beyond the joint uncertainty.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub told_apart: Option<bool>,
}

impl Library {
    /// Rows of a list, for CSV and JSON.
    ///
    /// # Errors
    ///
    /// If the library can't be read.
    pub fn rows(&self, list: &[&Listed]) -> Result<Vec<Row>, LibraryError> {
        list.iter()
            .map(|it| Ok(Row::new(it, self.half(it.swatch.id, it.exposure)?)))
            .collect()
    }

    /// Which part of its patches a swatch's colour is of. Where some panels were masked and others not, what lay in the sun is `exposed`, and
    /// what is fresh is `whole`.
    pub(super) fn half(&self, swatch: i64, exposure: Exposure) -> Result<Half, LibraryError> {
        if exposure.masked {
            return Ok(Half::Masked);
        }
        let mut statement = self.connection.prepare_cached(
            "SELECT DISTINCT reading.half FROM specimen
             CROSS JOIN reading ON reading.specimen = specimen.id
             CROSS JOIN measurement ON measurement.id = reading.measurement
             CROSS JOIN photo ON photo.id = measurement.photo
             WHERE specimen.swatch = ?1 AND current = 1 AND measurement.hours IS ?2
               AND (?3 IS NULL OR coalesce(photo.copy_of, photo.id) = ?3)",
        )?;
        let rows = statement.query_map(params![swatch, exposure.hours, exposure.photo], |row| {
            row.get(0)
        })?;
        let halves = rows
            .map(|it| store::half_of(it?))
            .collect::<Result<Vec<Half>, _>>()?;
        let fresh = exposure.hours.is_some_and(|it| it <= 0.0);
        Ok(match halves[..] {
            [only] if fresh => only,
            _ if fresh => Half::Whole,
            _ if halves.contains(&Half::Exposed) => Half::Exposed,
            _ => Half::Whole,
        })
    }
}

impl Row {
    fn new(it: &Listed, half: Half) -> Self {
        Self {
            swatch: it.swatch.id,
            name: it.swatch.name.clone(),
            recipe: it.swatch.recipe.clone(),
            only_panel: it.swatch.only_panel.clone(),
            masked: it.exposure.masked,
            half,
            hours: it.exposure.hours,
            l: rounded(it.lab.l),
            a: rounded(it.lab.a),
            b: rounded(it.lab.b),
            c: rounded(lab::chroma(it.lab)),
            h: rounded(lab::hue_degrees(it.lab)) % 360.0,
            hex: srgb::to_hex(it.lab),
            u95: it.u95.map(rounded),
            specimens: it.specimens,
            readings: it.readings,
            disagree: it.disagree,
            cure: it.cure.clone(),
            delta_e: None,
            told_apart: None,
        }
    }
}

/// To four decimals: the last bits of a mean differ between machines.
pub(super) fn rounded(it: f64) -> f64 {
    (it * 1e4).round() / 1e4 + 0.0
}

/// The columns of the CSV, in order.
pub const HEADER: [&str; 22] = [
    "swatch",
    "name",
    "pigments",
    "loads",
    "coating",
    "substrate",
    "coats",
    "g_per_m2",
    "control",
    "half",
    "hours",
    "L",
    "a",
    "b",
    "C",
    "h",
    "hex",
    "U95",
    "specimens",
    "readings",
    "disagree",
    "cure",
];

/// Writes rows as CSV below the header; with `delta_e` and `told_apart` at the end where the first row has them.
///
/// # Errors
///
/// What writing gives.
pub fn csv(rows: &[Row], out: &mut dyn Write) -> io::Result<()> {
    let near = rows.first().is_some_and(|it| it.delta_e.is_some());
    let mut csv = ::csv::Writer::from_writer(out);
    let more: &[&str] = if near {
        &["delta_e", "told_apart"]
    } else {
        &[]
    };
    csv.write_record(HEADER.iter().chain(more))?;
    for it in rows {
        let mut cells = cells(it);
        if near {
            cells.push(it.delta_e.map(|it| format!("{it:.3}")).unwrap_or_default());
            cells.push(it.told_apart.map(|it| it.to_string()).unwrap_or_default());
        }
        csv.write_record(cells)?;
    }
    csv.flush()
}

fn cells(it: &Row) -> Vec<String> {
    let number = |it: Option<f64>| it.map(|it| it.to_string()).unwrap_or_default();
    let all = |words: Vec<String>| text(&words.join(" "));
    let optional = |it: &Option<String>| text(it.as_deref().unwrap_or_default());
    let pigments = &it.recipe.pigments;
    vec![
        it.swatch.to_string(),
        optional(&it.name),
        text(
            &pigments
                .iter()
                .map(|it| it.pigment.clone())
                .collect::<Vec<_>>()
                .join(" + "),
        ),
        // A number alone is left as it is; several are text.
        pigments
            .iter()
            .map(|it| it.load.to_string())
            .collect::<Vec<_>>()
            .join(" + "),
        optional(&it.recipe.coating),
        optional(&it.recipe.substrate),
        number(it.recipe.coats),
        number(it.recipe.g_per_m2),
        it.recipe.control.as_ref().map(word).unwrap_or_default(),
        word(&it.half),
        number(it.hours),
        format!("{:.3}", it.l),
        format!("{:.3}", it.a),
        format!("{:.3}", it.b),
        format!("{:.3}", it.c),
        format!("{:.3}", it.h),
        it.hex.clone(),
        it.u95.map(|it| format!("{it:.3}")).unwrap_or_default(),
        it.specimens.to_string(),
        it.readings.to_string(),
        it.disagree.to_string(),
        all(it.cure.clone()),
    ]
}

/// Everything about a swatch, as JSON.
#[must_use]
pub fn shown(it: &Shown) -> serde_json::Value {
    let ages: Vec<serde_json::Value> = it
        .ages
        .iter()
        .map(|age| {
            let specimens: Vec<serde_json::Value> = age
                .specimens
                .iter()
                .map(|(id, mean)| {
                    let specimen = it.specimens.iter().find(|it| it.id == *id);
                    serde_json::json!({
                        "panel": specimen.map(|it| &it.panel),
                        "patch": specimen.map(|it| &it.patch),
                        "lot": specimen.and_then(|it| it.lot.as_ref()),
                        "mean": estimate(mean),
                    })
                })
                .collect();
            let disagreeing: Vec<serde_json::Value> = age
                .disagreeing
                .iter()
                .map(|it| {
                    serde_json::json!({
                        "photo": it.photo, "sha256": it.sha256, "panel": it.panel, "patch": it.patch,
                        "half": it.half, "delta_e": rounded(it.delta_e),
                    })
                })
                .collect();
            serde_json::json!({
                "masked": age.exposure.masked,
                "half": age.half,
                "hours": age.exposure.hours,
                "photo": age.photo,
                "mean": estimate(&age.mean),
                "specimens": specimens,
                "disagreeing": disagreeing,
            })
        })
        .collect();
    let lots: Vec<serde_json::Value> = it
        .lots
        .iter()
        .map(|it| {
            serde_json::json!({
                "old": it.old, "new": it.new, "delta_e": rounded(it.delta_e), "told_apart": it.told_apart,
                "factor": it.advice.map(|it| rounded(it.factor)), "left": it.advice.map(|it| rounded(it.left)),
            })
        })
        .collect();
    let (verdict, failed) = match &it.verdict {
        Verdict::Within(_) => ("within", &[][..]),
        Verdict::Failed => ("failed", &[][..]),
        Verdict::BeyondFailure(failed) => ("beyond", &failed[..]),
        Verdict::Beyond(_) => ("beyond", &[][..]),
        Verdict::Untested(_) => ("untested", &[][..]),
    };
    let photos: Vec<serde_json::Value> = it.photos.iter().map(photo).collect();
    serde_json::json!({
        "swatch": it.swatch,
        "photos": photos,
        "history": it.history,
        "ages": ages,
        "lots": lots,
        "notes": it.notes,
        "limits": it.limits,
        "load": { "verdict": verdict, "sum": it.sum.map(rounded), "at_failed_loads": failed },
    })
}

fn photo(it: &Source) -> serde_json::Value {
    let readings: Vec<serde_json::Value> = it
        .readings
        .iter()
        .map(|it| {
            serde_json::json!({
                "patch": it.patch, "half": it.half, "L": it.lab.map(|it| it.l), "a": it.lab.map(|it| it.a),
                "b": it.lab.map(|it| it.b), "U95": it.u95, "counts": it.counts,
            })
        })
        .collect();
    serde_json::json!({
        "path": it.path, "sha256": it.sha256, "taken": it.taken, "camera": it.camera, "copy_of": it.copy_of,
        "panel": it.panel, "hours": it.hours, "correction": it.correction, "added": it.added,
        "readings": readings,
    })
}

/// The columns of a swatch's CSV, in order.
pub const SHOWN_HEADER: [&str; 19] = [
    "swatch",
    "name",
    "panel",
    "patch",
    "lot",
    "half",
    "hours",
    "photo",
    "L",
    "a",
    "b",
    "C",
    "h",
    "hex",
    "U95",
    "U95_of_another",
    "specimens",
    "photos",
    "disagree",
];

/// Writes a swatch as CSV below the header: for each exposure a row of its mean, without panel, patch and lot, then one a specimen. The photo
/// is named where its hours are unknown: it is an exposure by itself then.
///
/// # Errors
///
/// What writing gives.
pub fn shown_csv(it: &Shown, out: &mut dyn Write) -> io::Result<()> {
    let mut csv = ::csv::Writer::from_writer(out);
    csv.write_record(SHOWN_HEADER)?;
    for age in &it.ages {
        let mut row = |specimen: Option<&Specimen>, mean: &Estimate| {
            let of = |it: Option<&String>| text(it.map_or("", String::as_str));
            let number = |it: Option<f64>| it.map(|it| format!("{it:.3}")).unwrap_or_default();
            csv.write_record([
                it.swatch.id.to_string(),
                of(it.swatch.name.as_ref()),
                of(specimen.map(|it| &it.panel)),
                of(specimen.map(|it| &it.patch)),
                of(specimen.and_then(|it| it.lot.as_ref())),
                word(&age.half),
                age.exposure
                    .hours
                    .map(|it| it.to_string())
                    .unwrap_or_default(),
                of(age.photo.as_ref()),
                number(Some(mean.lab.l)),
                number(Some(mean.lab.a)),
                number(Some(mean.lab.b)),
                number(Some(lab::chroma(mean.lab))),
                number(Some(lab::hue_degrees(mean.lab))),
                srgb::to_hex(mean.lab),
                number(mean.u95()),
                number(mean.u95_of_another()),
                mean.specimens.to_string(),
                mean.photos.to_string(),
                mean.disagreeing.len().to_string(),
            ])
        };
        row(None, &age.mean)?;
        for (id, mean) in &age.specimens {
            row(it.specimens.iter().find(|it| it.id == *id), mean)?;
        }
    }
    csv.flush()
}

/// A mean with the parts of its covariance.
fn estimate(it: &Estimate) -> serde_json::Value {
    let rows = |m: &Matrix| -> [[f64; 3]; 3] {
        std::array::from_fn(|row| {
            std::array::from_fn(|column| (m[(row, column)] * 1e9).round() / 1e9 + 0.0)
        })
    };
    serde_json::json!({
        "L": rounded(it.lab.l), "a": rounded(it.lab.a), "b": rounded(it.lab.b),
        "U95": it.u95().map(rounded),
        "U95_of_another": it.u95_of_another().map(rounded),
        "specimens": it.specimens,
        "photos": it.photos,
        "within_photo": rows(&it.parts.within_photo),
        "common_to_photo": rows(&it.parts.common_to_photo),
        "between_photos": rows(&it.parts.between_photos),
        "between_specimens": rows(&it.parts.between_specimens),
    })
}
