//! Writes photos of drawn scenes with their panel files and truth:
//! `look FOLDER ordinary|hard|flawless|no-witness|wrong-panel|no-card|two-panels|no-panel FIRST COUNT LONG_SIDE`.

use masstone_simulator::{FileKind, Mixture, SceneSpec, Split, Trouble};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, kind, first, count, long] = args.as_slice() else {
        return Err("look FOLDER KIND FIRST COUNT LONG_SIDE".into());
    };
    let first: u64 = first.parse()?;
    for seed in first..first + count.parse::<u64>()? {
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
