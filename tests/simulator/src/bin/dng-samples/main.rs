//! Writes the DNG files that the reader is tested with and that the oracle reads (`tests/oracle/dng_files.py`):
//! `dng-samples FOLDER`. With `dng-samples FOLDER LONG_SIDE` the phone's alone, to look at.

mod samples;

use samples::{Sample, extremes, samples};
use std::path::Path;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let folder = Path::new(args.first().ok_or("dng-samples FOLDER [LONG_SIDE]")?);
    std::fs::create_dir_all(folder)?;
    let write =
        |name: &str, bytes: Vec<u8>| std::fs::write(folder.join(format!("{name}.dng")), bytes);
    if let Some(long_side) = args.get(1) {
        let phone = Sample {
            long_side: long_side.parse()?,
            ..samples().swap_remove(0)
        };
        return Ok(write(phone.name, phone.file()?)?);
    }
    for sample in samples() {
        write(sample.name, sample.file()?)?;
    }
    for predictor in 1..=7 {
        write(&format!("extremes-{predictor}"), extremes(predictor)?)?;
    }
    Ok(())
}
