//! The board and its photos, with the dose of each: as the arguments state them, or as a series file does.

use super::super::failure::{Failure, message, say};
use super::args::What;
use masstone::measure::photos::{self, Photos};
use masstone::panel::{self, Panel};
use masstone::record::{Dose, ExposureEntry, PhotoEntry};
use masstone::series::{self, Missing, Series, SeriesError};

/// What is measured.
#[derive(Debug)]
pub(super) struct Subject {
    pub(super) panel: Panel,
    /// By dose.
    pub(super) shots: Vec<Shot>,
    /// The series file, if one states all this.
    series: Option<Series>,
}

/// The photos of one dose.
#[derive(Debug)]
pub(super) struct Shot {
    pub(super) dose: Dose,
    pub(super) exposure: Option<ExposureEntry>,
    pub(super) photos: Photos,
}

impl Subject {
    /// Reads the panel or the series, and finds the photos.
    pub(super) fn open(what: &What) -> Result<Self, Failure> {
        match what {
            What::Photos {
                photos,
                panel,
                hours,
            } => Ok(Self {
                // The message of a panel holds its hints, each beside its place.
                panel: panel::read(panel).map_err(|it| Failure::usage(it, ""))?,
                shots: vec![Shot {
                    dose: Dose::of_hours(*hours),
                    exposure: None,
                    photos: photos::expand(photos),
                }],
                series: None,
            }),
            What::Series(path) => {
                let wrong = |it: SeriesError| Failure::usage(it, "");
                let series = series::read(path).map_err(wrong)?;
                let found = series.photos().map_err(wrong)?;
                if series.shots.iter().all(|it| it.photos.is_empty()) {
                    return Err(Failure::usage(
                        anyhow::anyhow!("{}: no shot has photos yet", path.display()),
                        "Add `photos` to the [[shot]] tables whose photos were taken.",
                    ));
                }
                for warning in &series.warnings {
                    let text = format!("{}: {warning}", path.display());
                    say(&message("note", &text, ""));
                }
                Ok(Self {
                    panel: series.panel.clone(),
                    shots: series
                        .shots
                        .iter()
                        .zip(found)
                        .map(|(shot, photos)| Shot {
                            dose: shot.dose.clone(),
                            exposure: Some(series.exposure(shot)),
                            photos,
                        })
                        .collect(),
                    series: Some(series),
                })
            }
        }
    }

    /// Whether a series file states it.
    pub(super) fn is_series(&self) -> bool {
        self.series.is_some()
    }

    /// Ids of patches that stay indoors and are only laid beside the board.
    pub(super) fn indoors(&self) -> &[String] {
        (self.series.as_ref()).map_or(&[], |it| it.witness.as_slice())
    }

    /// Says of a series which exposures were measured and which are missing.
    pub(super) fn tell_missing(&self, measured: &[PhotoEntry]) {
        let Some(series) = &self.series else { return };
        let found: Vec<&Photos> = self.shots.iter().map(|it| &it.photos).collect();
        let missing = series.missing(&found, measured);
        let (all, there) = (series.shots.len(), series.shots.len() - missing.len());
        let mut text = format!("{there} of {all} exposures measured");
        if !missing.is_empty() {
            let missing: Vec<String> = missing.iter().map(Missing::to_string).collect();
            text += &format!("; missing: {}", missing.join(", "));
        }
        let hint = if there == 1 {
            "No change can be told before there are two."
        } else {
            ""
        };
        say(&message("note", &text, hint));
    }
}
