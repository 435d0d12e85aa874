//! One simulated board through its exposures: photos as files, measured in both ways, and assessed.

use super::endtoend::judge;
use super::plain::plain;
use super::run::{self};
use masstone::colour::Lab;
use masstone::fade::report::{Board, Change, Patch};
use masstone::measure::Aids;
use masstone::panel::{self, Panel};
use masstone::photo::{Options, Photo};
use masstone::record::PhotoRecord;
use masstone_simulator::{FileKind, PatchTruth, SceneSpec, Series, Truth};
use std::path::Path;

/// One photo of an exposure.
pub(crate) struct Seen {
    pub(crate) exposure: usize,
    /// What is true of each half, and how much of it is clipped.
    pub(crate) truth: Vec<PatchTruth>,
    /// The plain method's colours, in the order of the truth.
    pub(crate) plain: Vec<Lab>,
    /// Measured with the grey card alone.
    pub(crate) alone: Result<PhotoRecord, String>,
    /// Measured with the masked halves of hour 0 as references besides; at hour 0 as above.
    pub(crate) given: Result<PhotoRecord, String>,
    /// What lies elsewhere than the record says.
    pub(crate) misnamed: Option<String>,
}

/// What is wrong with a photo that slipped in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slip {
    Turned,
    OtherBoard,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Caught {
    /// Refused when it was measured, and why.
    Refused(String),
    /// Measured, but left out of what the board comes to.
    LeftOut,
    /// Measured and rightly named all the same: other witnesses told how the board lies.
    Right,
    /// Taken for a photo of the board as it should lie.
    Fooled,
}

/// A board with all that came of it.
pub(crate) struct Run {
    pub(crate) series: Series,
    pub(crate) seen: Vec<Seen>,
    pub(crate) report: Result<Board, String>,
    pub(crate) slip: (Slip, Caught),
}

/// Renders every photo, `long_side` pixels long, measures it and assesses the board. None if the drawn panel file contradicts itself: a
/// card stated to lie on a patch.
pub(crate) fn run(series: Series, slip: Slip, long_side: u32, folder: &Path) -> Option<Run> {
    let panel = panel_of(&series, folder)?;
    let (mut seen, mut records): (Vec<Seen>, Vec<PhotoRecord>) = (Vec::new(), Vec::new());
    let (by_card, mut by_halves) = (Aids::default(), Aids::default());
    for (exposure, dose) in series.doses.iter().enumerate() {
        for (i, spec) in series.shots(exposure).iter().enumerate() {
            let path = folder.join(format!("{exposure}-{i}.jpg"));
            let truth = write(spec, long_side, &path);
            let photo = Photo::open(&path, &Options::default()).expect("the simulator's own file");
            let plain = plain(&photo, &truth);
            let alone = run::measure(&path, *dose, &panel, &by_card);
            let given = match exposure {
                0 => alone.clone(),
                _ => run::measure(&path, *dose, &panel, &by_halves),
            };
            let misnamed = given.as_ref().ok().and_then(|it| judge(it, &truth).err());
            records.extend(given.iter().cloned());
            seen.push(Seen {
                exposure,
                truth: truth.patches,
                plain,
                alone,
                given,
                misnamed,
            });
        }
        if exposure == 0 {
            by_halves.masked = run::masked_of(&records);
        }
    }
    let caught = slipped(&series, slip, long_side, folder, &panel, &records);
    Some(Run {
        report: board(&records),
        slip: (slip, caught.unwrap_or_else(Caught::Refused)),
        seen,
        series,
    })
}

/// The panel file of the board, which is that of all its photos.
pub(crate) fn panel_of(series: &Series, folder: &Path) -> Option<Panel> {
    std::fs::create_dir_all(folder).expect("a folder for the bench");
    let scene = series.spec.build();
    scene.write_panel(folder).expect("a folder for the bench");
    panel::read(&folder.join("panel.toml")).ok()
}

/// Renders a photo and writes it.
pub(crate) fn write(spec: &SceneSpec, long_side: u32, path: &Path) -> Truth {
    let scene = spec.build();
    let rendered = scene.write(path, FileKind::Jpeg, scene.stored_size(long_side));
    rendered.expect("the simulator's own scene").truth
}

fn board(records: &[PhotoRecord]) -> Result<Board, String> {
    let mut boards = run::assess(records)?.boards;
    match (boards.pop(), boards.len()) {
        (Some(board), 0) => Ok(board),
        (_, more) => Err(format!("{more} boards besides one")),
    }
}

/// A photo of a late exposure that shows the board turned, or another board. An error says why it was refused.
fn slipped(
    series: &Series,
    slip: Slip,
    long_side: u32,
    folder: &Path,
    panel: &Panel,
    records: &[PhotoRecord],
) -> Result<Caught, String> {
    let exposure = series.doses.len() - 1;
    let spec = match slip {
        Slip::Turned => series.turned(exposure),
        Slip::OtherBoard => series.other_board(exposure),
    };
    let path = folder.join("slip.jpg");
    let truth = write(&spec, long_side, &path);
    let start = records.iter().filter(|it| it.photo.hours == Some(0.0));
    let aids = Aids {
        masked: run::masked_of(&start.cloned().collect::<Vec<_>>()),
        ..Aids::default()
    };
    let record = run::measure(&path, series.last(), panel, &aids)?;
    // By place another board of the same layout is rightly named: what was wrong is to have taken it at all.
    if slip == Slip::Turned && judge(&record, &truth).is_ok() {
        return Ok(Caught::Right);
    }
    let mut all = records.to_vec();
    let name = record.photo.path.clone();
    all.push(record);
    let taken = |it: &Board| it.exposures.iter().any(|it| it.photos.contains(&name));
    Ok(match board(&all) {
        Ok(it) if taken(&it) => Caught::Fooled,
        _ => Caught::LeftOut,
    })
}

impl Run {
    /// What the report says of a patch.
    pub(crate) fn patch(&self, id: &str) -> Option<&Patch> {
        let board = self.report.as_ref().ok()?;
        board.patches.iter().find(|it| it.patch == id)
    }

    /// What it says of its change at an exposure.
    pub(crate) fn change(&self, id: &str, exposure: usize) -> Option<&Change> {
        let dose = self.series.doses[exposure];
        let mut changes = self.patch(id)?.changes.iter();
        changes.find(|it| (it.dose - dose).abs() < 1e-6)
    }
}
