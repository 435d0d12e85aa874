//! Real files of phones, cameras and other programs' test suites: each opens as it should, or is refused with reason.

use masstone::photo::{EncodingSource, Options, Photo, PhotoError};
use std::path::PathBuf;

/// The folder of real files, if this machine has it.
fn real(folder: &str) -> Option<PathBuf> {
    let root = std::env::var_os("MASSTONE_REAL_DATA").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared"),
        PathBuf::from,
    );
    let folder = root.join(folder);
    folder.is_dir().then_some(folder)
}

#[test]
fn list() {
    let Some(folder) = real("real-formats") else {
        return;
    };
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|it| it.unwrap().path())
        .collect();
    names.sort();
    for path in names {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        match Photo::open(&path, &Options::default()) {
            Ok(it) => println!(
                "{name}: {}x{} {:?} {} o{} {:?}",
                it.width,
                it.height,
                it.encoding.source,
                it.encoding.name,
                it.orientation.0,
                it.metadata
            ),
            Err(e) => println!("{name}: REFUSED {:?}", e.problem),
        }
    }
}
