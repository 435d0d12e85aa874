//! The arguments of `measure`, each checked alone, then all together as a plan. No file is opened here.

use super::super::failure::Failure;
use super::corners::{self, Corners};
use masstone::correct::Tone;
use masstone::record::{Record, Settings, csv, json};
use std::io::{self, Write};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

/// Measure the patches of a panel in photos.
///
/// Every patch gets its CIELAB colour (D50, 2° observer) and U95: the colour difference ΔE00 from the truth is at most
/// that large in 95 % of cases. A photo in which the panel can't be found beyond doubt is refused, with the reason and
/// what to do; the others are measured all the same.
///
/// Exit status: 0 if all photos were measured and written, 1 if one was refused or an output failed, 2 for wrong usage or
/// a panel file that makes no sense.
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Photos (JPEG, HEIC, DNG, PNG or TIFF): files, folders, or patterns such as 'board/*.jpg'.
    ///
    /// A folder stands for the photos directly in it. A pattern may be quoted or not. The same photo given twice, even
    /// under two names, is measured once.
    #[arg(required_unless_present = "series", value_name = "PHOTO")]
    photos: Vec<PathBuf>,

    /// What is on the board and which card lies beside it: a panel file (TOML).
    #[arg(long, value_name = "PANEL.toml", required_unless_present = "series")]
    panel: Option<PathBuf>,

    /// Hours of exposure (outdoors or in a lamp cabinet) when the photos were taken.
    ///
    /// Left empty in the readings when not given.
    #[arg(long, value_name = "H", value_parser = hours, allow_negative_numbers = true)]
    hours: Option<f64>,

    /// Measure a whole exposure series: a file (TOML) that names the panel, how it is exposed, and the photos of each dose.
    ///
    /// Photos of dose 0 are measured first. Exposures without a photo are named at the end; the others are measured all the
    /// same, and a later run measures only what is new.
    #[arg(long, value_name = "SERIES.toml", conflicts_with_all = ["photos", "panel", "hours"])]
    series: Option<PathBuf>,

    /// Write the readings to a file (.csv, .json or .jsonl), or to standard output as CSV with '-'.
    ///
    /// Later steps read .json and .jsonl, which hold everything; .csv is a view for people and spreadsheets. Each
    /// finished photo is kept in FILE.partial.jsonl until all are done, so that a stopped run goes on where it was. A
    /// FILE that is there already is kept as FILE.bak. Without --out a table is printed.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,

    /// Write a picture for each photo into this folder that shows what was measured.
    #[arg(long, value_name = "FOLDER")]
    proof: Option<PathBuf>,

    /// Put the readings into this library of swatches, too, photo by photo; it is begun if it isn't there.
    ///
    /// Photos that it holds already, measured in the same way at the same dose, are not measured again.
    #[arg(long, value_name = "FILE")]
    library: Option<PathBuf>,

    /// Leave the small pictures of the patches out of the library.
    #[arg(long, requires = "library")]
    no_crops: bool,

    /// Photos to work on at once; as many as there are processors if not given. Each takes its own memory.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,

    /// The photos are upright as displayed. Decides only where nothing in the photo tells which way is up.
    #[arg(long)]
    upright: bool,

    /// Where the patch grid is, by hand, for one photo: its outer corners in pixels of the stored picture.
    ///
    /// Starting with the corner of A1, clockwise as on the panel; x to the right, y down. Or put a file
    /// PHOTO.corners.toml beside each photo: corners = [[x, y], [x, y], [x, y], [x, y]].
    #[arg(long, value_name = "X1,Y1,…,X4,Y4", value_parser = corners::parse, allow_hyphen_values = true)]
    corners: Option<Corners>,

    /// The files hold linear values. A profile's primaries still count.
    #[arg(long)]
    linear: bool,

    /// Whether to look for a tone curve beyond the file's encoding.
    #[arg(long, value_enum, default_value_t = ToneArg::Auto)]
    tone: ToneArg,

    /// Use the tone curve and colours of a correction that `masstone calibrate` fitted to a photo of a chart.
    ///
    /// For photos of the same camera and lens in the same light; each photo's own grey card only scales it. Refused for
    /// another camera, or where the card says that the light is another.
    #[arg(long, value_name = "FILE", conflicts_with = "tone")]
    correction: Option<PathBuf>,

    /// Use the correction for another camera or light all the same: flagged, with a wider U95.
    #[arg(long, requires = "correction")]
    force_correction: bool,

    /// A photo of the blank board, or of a plain matt sheet over board and card, taken from the same place in the same light.
    ///
    /// It shows how the light falls, instead of the strips of board between the patches.
    #[arg(long, value_name = "PHOTO")]
    blank: Option<PathBuf>,
}

/// Values of `--tone`.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub(crate) enum ToneArg {
    /// As far as the references allow.
    Auto,
    /// The file's encoding is taken at its word.
    None,
}

impl From<ToneArg> for Tone {
    fn from(arg: ToneArg) -> Self {
        match arg {
            ToneArg::Auto => Self::Auto,
            ToneArg::None => Self::None,
        }
    }
}

/// What is to be done; the arguments make sense together.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) what: What,
    pub(super) destination: Destination,
    pub(super) proof: Option<PathBuf>,
    pub(super) library: Option<PathBuf>,
    pub(super) crops: bool,
    pub(super) correction: Option<PathBuf>,
    pub(super) blank: Option<PathBuf>,
    pub(super) threads: NonZeroUsize,
    /// For every photo; the corners only if given in the command.
    pub(super) settings: Settings,
}

/// What is to be measured.
#[derive(Debug)]
pub(super) enum What {
    /// Photos of one dose, or of unknown ones.
    Photos {
        photos: Vec<PathBuf>,
        panel: PathBuf,
        hours: Option<f64>,
    },
    /// What a series file names.
    Series(PathBuf),
}

/// Where the readings go.
#[derive(Debug)]
pub(super) enum Destination {
    /// A table on standard output.
    Table,
    /// Standard output.
    Stdout(Format),
    /// A file.
    File(PathBuf, Format),
}

/// The forms of a file of readings.
#[derive(Clone, Copy, Debug)]
pub(super) enum Format {
    Csv,
    Json,
    JsonLines,
}

impl Plan {
    pub(super) fn new(args: &Args) -> Result<Self, Failure> {
        let threads = match args.threads {
            Some(n) => NonZeroUsize::new(n.into()),
            None => std::thread::available_parallelism().ok(),
        };
        Ok(Self {
            what: match (&args.series, &args.panel) {
                (Some(series), _) => What::Series(series.clone()),
                (None, panel) => What::Photos {
                    photos: args.photos.clone(),
                    panel: panel.clone().unwrap_or_default(),
                    hours: args.hours,
                },
            },
            destination: Destination::new(args.out.as_deref())?,
            proof: args.proof.clone(),
            library: args.library.clone(),
            crops: args.library.is_some() && !args.no_crops,
            correction: args.correction.clone(),
            blank: args.blank.clone(),
            threads: threads.unwrap_or(NonZeroUsize::MIN),
            settings: Settings {
                upright: args.upright,
                linear: args.linear,
                tone: args.tone.into(),
                corners: args.corners.map(|it| it.0),
                // Known once the files are open.
                correction: None,
                force_correction: args.force_correction,
                blank: None,
                masked: None,
            },
        })
    }
}

impl Destination {
    fn new(out: Option<&Path>) -> Result<Self, Failure> {
        let Some(path) = out else {
            return Ok(Self::Table);
        };
        if path == Path::new("-") {
            return Ok(Self::Stdout(Format::Csv));
        }
        let ending = path
            .extension()
            .map(|it| it.to_string_lossy().to_lowercase());
        let format = match ending.as_deref() {
            Some("csv") => Format::Csv,
            Some("json") => Format::Json,
            Some("jsonl") => Format::JsonLines,
            _ => {
                return Err(Failure::usage(
                    anyhow::anyhow!("--out {}: the ending says no known form", path.display()),
                    "Use .csv (for people and spreadsheets), .json or .jsonl (everything), or - for CSV on standard output.",
                ));
            }
        };
        Ok(Self::File(path.to_owned(), format))
    }
}

impl Format {
    /// Writes the record in this form.
    pub(super) fn write(self, record: &Record, out: &mut dyn Write) -> io::Result<()> {
        match self {
            Self::Csv => csv::write(record, out),
            Self::Json => json::write(record, out),
            Self::JsonLines => json::write_lines(record, out),
        }
    }
}

/// Hours: a number, not negative.
pub(in crate::cli) fn hours(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(hours) if hours.is_finite() && hours >= 0.0 => Ok(hours + 0.0),
        _ => Err(
            "hours are a number, 0 or more, with a point for decimals, such as 168 or 0.5"
                .to_owned(),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_are_a_finite_number_that_is_not_negative() {
        assert_eq!(hours("168.5").unwrap().to_string(), "168.5");
        assert_eq!(hours("-0").unwrap().to_string(), "0");
        for bad in ["-1", "NaN", "inf", "1,5", "", "ten"] {
            assert!(hours(bad).is_err(), "{bad}");
        }
    }
}
