//! Writes photos of drawn scenes with their panel files and truth: `look FOLDER ordinary|hard|flawless FIRST COUNT LONG_SIDE`.

use masstone_simulator::{FileKind, Mixture, SceneSpec, Split};
use std::path::PathBuf;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [folder, mixture, first, count, long] = args.as_slice() else {
        return Err("look FOLDER ordinary|hard|flawless FIRST COUNT LONG_SIDE".into());
    };
    let mixture = match mixture.as_str() {
        "hard" => Mixture::Hard,
        "flawless" => Mixture::Flawless,
        _ => Mixture::Ordinary,
    };
    let first: u64 = first.parse()?;
    for seed in first..first + count.parse::<u64>()? {
        let folder = PathBuf::from(folder).join(seed.to_string());
        std::fs::create_dir_all(&folder)?;
        let scene = SceneSpec::draw(mixture, Split::Test, seed).build();
        let picture = scene.write(
            &folder.join("photo.jpg"),
            FileKind::Jpeg,
            scene.stored_size(long.parse()?),
        )?;
        scene.write_panel(&folder)?;
        std::fs::write(
            folder.join("truth.json"),
            serde_json::to_string_pretty(&picture.truth)?,
        )?;
    }
    Ok(())
}
