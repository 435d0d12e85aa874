//! `masstone calibrate`: a photo of many known colours in, a correction for other photos out.

use super::failure::{Exit, Failure, message, say};
use super::measure::corners::{self, Corners};
use super::measure::{ToneArg, open_blank};
use super::stdout;
use masstone::correct::Saved;
use masstone::measure::output;
use masstone::measure::{self, Aids, Job, Refusal};
use masstone::panel;
use masstone::record::{Dose, Settings, saved};
use std::path::{Path, PathBuf};

/// Fit a correction to a photo of many known colours, to be used on other photos.
///
/// The photo shows a chart of colours beside the board or by itself, or a board whose patches have stated colours. What the
/// file keeps is the camera's tone curve and colours in this light; `masstone measure --correction FILE` uses them for photos
/// of the same camera and lens in the same light, which then need a grey card only.
///
/// Exit status: 0 if it was fitted and written, 1 if the photo was refused or the file could not be written, 2 for wrong usage or
/// a panel file that makes no sense.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The photo (JPEG, HEIC, DNG, PNG or TIFF).
    #[arg(value_name = "PHOTO")]
    photo: PathBuf,

    /// What is in it: a panel file, or a card file of a chart that was photographed by itself (TOML).
    #[arg(long, value_name = "PANEL.toml")]
    panel: PathBuf,

    /// Where to write the correction (.toml), or '-' for standard output. A FILE that is there already is kept as FILE.bak.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    /// The photo is upright as displayed. Decides only where nothing in the photo tells which way is up.
    #[arg(long)]
    upright: bool,

    /// Where the patch grid is, by hand: its outer corners in pixels of the stored picture.
    ///
    /// Starting with the corner of A1, clockwise as on the panel; x to the right, y down. Or in a file PHOTO.corners.toml.
    #[arg(long, value_name = "X1,Y1,…,X4,Y4", value_parser = corners::parse, allow_hyphen_values = true)]
    corners: Option<Corners>,

    /// The file holds linear values. A profile's primaries still count.
    #[arg(long)]
    linear: bool,

    /// Whether to look for a tone curve beyond the file's encoding.
    #[arg(long, value_enum, default_value_t = ToneArg::Auto)]
    tone: ToneArg,

    /// A photo of the blank board, or of a plain matt sheet over board and card, taken from the same place in the same light.
    #[arg(long, value_name = "PHOTO")]
    blank: Option<PathBuf>,
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let out = destination(&args.out)?;
    let panel = panel::read(&args.panel).map_err(|it| Failure::usage(it, ""))?;
    let blank = (args.blank.as_deref())
        .map(|it| open_blank(it, args.linear))
        .transpose()?;
    let corners = match args.corners {
        Some(corners) => Some(corners),
        None => corners::beside(&args.photo).map_err(refused)?,
    };
    let job = Job {
        path: args.photo.clone(),
        dose: Dose::default(),
        exposure: None,
        settings: Settings {
            upright: args.upright,
            linear: args.linear,
            tone: args.tone.into(),
            corners: corners.map(|it| it.0),
            correction: None,
            force_correction: false,
            blank: blank.as_ref().map(|it| it.sha256().to_owned()),
            masked: None,
        },
    };
    let aids = Aids {
        blank,
        ..Aids::default()
    };
    let (saved, doubts) = measure::calibrate(&job, &panel, &aids).map_err(refused)?;
    for doubt in &doubts {
        say(&message("note", doubt, ""));
    }
    let place = write(&saved, out.as_deref())?;
    say(&format!("{}{place}", summary(&saved)));
    Ok(Exit::Done)
}

/// Where the file goes, checked before the work; none is standard output.
fn destination(out: &Path) -> Result<Option<PathBuf>, Failure> {
    if out == Path::new("-") {
        return Ok(None);
    }
    if !(out.extension()).is_some_and(|it| it.eq_ignore_ascii_case("toml")) {
        return Err(Failure::usage(
            anyhow::anyhow!("--out {}: a correction is a .toml file", out.display()),
            "Let the name end in .toml, or use - for standard output.",
        ));
    }
    Ok(Some(output::check(out)?))
}

fn refused(refusal: Refusal) -> Failure {
    let hint = refusal.hint.clone();
    Failure::work(refusal, hint)
}

/// Writes the correction; what to add to the closing line.
fn write(correction: &Saved, out: Option<&Path>) -> Result<String, Failure> {
    let text = saved::text(correction);
    let Some(path) = out else {
        stdout::write(|out| out.write_all(text.as_bytes()))?;
        return Ok(String::new());
    };
    let kept = output::replace_and_keep(path, |out| out.write_all(text.as_bytes()))?;
    let kept = kept.map_or(String::new(), |it| {
        format!(" (what was there is kept as {})", it.display())
    });
    Ok(format!("; written to {}{kept}", path.display()))
}

/// The closing line.
fn summary(saved: &Saved) -> String {
    let fit = &saved.fit;
    let alone = fit.neutral_alone.map_or(String::new(), |it| {
        format!(" ({it:.2} with the neutral ones alone)")
    });
    let camera = saved
        .origin
        .camera
        .as_deref()
        .unwrap_or("an unnamed camera");
    format!(
        "fitted for {camera}: known colours left out in turn are off by {:.2} ΔE00 on average{alone}",
        fit.leave_one_out
    )
}
