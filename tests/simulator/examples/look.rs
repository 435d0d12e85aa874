//! Writes small renders to a folder, to be looked at: `look FOLDER MIXTURE FIRST COUNT LONG_SIDE`.
use masstone_simulator::{Mixture, Pixels, SceneSpec, Split};

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
    std::fs::create_dir_all(folder)?;
    let first: u64 = first.parse()?;
    for seed in first..first + count.parse::<u64>()? {
        let scene = SceneSpec::draw(mixture, Split::Test, seed).build();
        let picture = scene.render_small(long.parse()?);
        let Pixels::U8(values) = picture.pixels else {
            continue;
        };
        let image =
            image::RgbImage::from_raw(picture.width, picture.height, values).ok_or("size")?;
        image.save(format!("{folder}/{seed}.png"))?;
    }
    Ok(())
}
