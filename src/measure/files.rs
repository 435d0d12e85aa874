//! Photo files as bytes: which of them are the same.

use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};

/// SHA-256 of a file's bytes, lower-case hexadecimal.
///
/// # Errors
///
/// If the file can't be read.
pub fn sha256(path: &Path) -> io::Result<String> {
    let mut hasher = Sha256::new();
    io::copy(&mut File::open(path)?, &mut hasher)?;
    Ok(format!("{:x}", hasher.finalize()))
}

/// For each path, the index of the first one before it that has the same bytes.
///
/// Only files of equal length are read. One that can't be read has no twin: measuring it will say why.
#[must_use]
pub fn twins(paths: &[PathBuf]) -> Vec<Option<usize>> {
    let mut by_length: BTreeMap<u64, Vec<usize>> = BTreeMap::new();
    for (index, path) in paths.iter().enumerate() {
        if let Ok(metadata) = path.metadata() {
            by_length.entry(metadata.len()).or_default().push(index);
        }
    }
    let mut twins = vec![None; paths.len()];
    for indices in by_length.values().filter(|it| it.len() > 1) {
        let mut first: BTreeMap<String, usize> = BTreeMap::new();
        for &index in indices {
            if let Ok(hash) = sha256(&paths[index]) {
                let earlier = *first.entry(hash).or_insert(index);
                twins[index] = (earlier != index).then_some(earlier);
            }
        }
    }
    twins
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_the_same_bytes_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let file = |name: &str, content: &str| {
            let path = folder.path().join(name);
            std::fs::write(&path, content).unwrap();
            path
        };
        let (a, b, c, d) = (
            file("a", "one"),
            file("b", "two"),
            file("c", "one"),
            file("d", "three"),
        );
        let missing = folder.path().join("missing");
        let paths = [a.clone(), b, c, missing, d, a];
        assert_eq!(twins(&paths), [None, None, Some(0), None, None, Some(0)]);
    }

    #[test]
    fn sha256_of_a_published_example() {
        // FIPS 180-2, appendix B.1: the message "abc".
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("abc");
        std::fs::write(&path, "abc").unwrap();
        assert_eq!(
            sha256(&path).unwrap(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
