//! Files that are not part of the repository: tests that want them say so and pass without.

#![expect(clippy::print_stdout, reason = "a test that can't run says so")]

use std::path::{Path, PathBuf};

/// A folder of real files, if this machine has it.
pub(crate) fn folder(name: &str) -> Option<PathBuf> {
    let root = std::env::var_os("MASSTONE_REAL_DATA").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../shared"),
        PathBuf::from,
    );
    let folder = root.join(name);
    if !folder.is_dir() {
        println!("skipped: {} is not there", folder.display());
        return None;
    }
    Some(folder)
}
