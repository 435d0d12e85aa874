//! Writes photos of drawn scenes with their panel files and truth:
//! `look FOLDER ordinary|hard|flawless|no-witness|wrong-panel|no-card|two-panels|no-panel FIRST COUNT LONG_SIDE`, or exposure series
//! with a photo of each exposure, the board turned and another board: `look FOLDER series|leak|drift FIRST COUNT LONG_SIDE`.

use masstone_simulator::{Fault, FileKind, Mixture, SceneSpec, Series, Split, Trouble};
use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, kind, first, count, long] = args.as_slice() else {
        return Err("look FOLDER KIND FIRST COUNT LONG_SIDE".into());
    };
    let first: u64 = first.parse()?;
    for seed in first..first + count.parse::<u64>()? {
        let fault = match kind.as_str() {
            "series" => Some(Fault::None),
            "leak" => Some(Fault::Leak),
            "drift" => Some(Fault::Drift),
            _ => None,
        };
        if let Some(fault) = fault {
            let folder = PathBuf::from(folder).join(seed.to_string());
            series(&folder, seed, fault, long.parse()?)?;
            continue;
        }
        let troubled = |trouble| SceneSpec::troubled(trouble, Split::Test, seed);
        let spec = match kind.as_str() {
            "ordinary" => SceneSpec::draw(Mixture::Ordinary, Split::Test, seed),
            "hard" => SceneSpec::draw(Mixture::Hard, Split::Test, seed),
            "flawless" => SceneSpec::draw(Mixture::Flawless, Split::Test, seed),
            "no-witness" => troubled(Trouble::NoWitness),
            "wrong-panel" => troubled(Trouble::WrongPanel),
            "no-card" => troubled(Trouble::NoCard),
            "two-panels" => troubled(Trouble::TwoPanels),
            "no-panel" => troubled(Trouble::NoPanel),
            other => return Err(format!("no such kind: {other}").into()),
        };
        let folder = PathBuf::from(folder).join(seed.to_string());
        std::fs::create_dir_all(&folder)?;
        let scene = spec.build();
        let size = scene.stored_size(long.parse()?);
        let picture = scene.write(&folder.join("photo.jpg"), FileKind::Jpeg, size)?;
        scene.write_panel(&folder)?;
        std::fs::write(
            folder.join("truth.json"),
            serde_json::to_string_pretty(&picture.truth)?,
        )?;
    }
    Ok(())
}

fn series(
    folder: &Path,
    seed: u64,
    fault: Fault,
    long_side: u32,
) -> Result<(), Box<dyn std::error::Error>> {
    std::fs::create_dir_all(folder)?;
    let series = Series::draw(Split::Test, seed, fault, 6, 1);
    let last = series.doses.len() - 1;
    let mut photos: Vec<(String, SceneSpec)> = (0..=last)
        .map(|i| (i.to_string(), series.shots(i).swap_remove(0)))
        .collect();
    photos.push(("turned".to_owned(), series.turned(last)));
    photos.push(("other-board".to_owned(), series.other_board(last)));
    for (name, spec) in photos {
        let scene = spec.build();
        let size = scene.stored_size(long_side);
        scene.write(&folder.join(name + ".jpg"), FileKind::Jpeg, size)?;
    }
    series.spec.build().write_panel(folder)?;
    let text = serde_json::to_string_pretty(&series)?;
    std::fs::write(folder.join("series.json"), text)?;
    Ok(())
}
