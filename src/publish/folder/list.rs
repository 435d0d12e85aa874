//! The list of a site's files, by which a build knows what is its own.

use crate::publish::PublishError;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

/// The list of a site's files, in its folder.
pub const LIST: &str = "masstone-site.json";
/// The form's number.
pub(super) const SCHEMA: u32 = 1;

/// What is in the folder of a site.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct List {
    pub(super) schema: u32,
    /// Of what it was made: the same for the same.
    pub(super) made_of: String,
    /// SHA-256 by place.
    pub(super) files: BTreeMap<String, String>,
}

/// All files below a folder, relative to it, in order; links and empty folders among them.
pub(super) fn files_in(folder: &Path) -> Result<Vec<String>, PublishError> {
    fn go(folder: &Path, before: &str, all: &mut Vec<String>) -> io::Result<bool> {
        let mut any = false;
        for it in fs::read_dir(folder)? {
            let it = it?;
            any = true;
            let name = format!("{before}{}", it.file_name().to_string_lossy());
            // A link to a folder is no folder here.
            if !it.file_type()?.is_dir() {
                all.push(name);
            } else if !go(&it.path(), &format!("{name}/"), all)? {
                all.push(format!("{name}/"));
            }
        }
        Ok(any)
    }
    let mut all = Vec::new();
    go(folder, "", &mut all).map_err(PublishError::at(folder))?;
    all.sort_unstable();
    Ok(all)
}

/// The list of a folder; none where there is none, or what is there is none of ours.
pub(super) fn read_list(folder: &Path) -> Result<Option<List>, PublishError> {
    let path = folder.join(LIST);
    let bytes = match fs::read(&path) {
        Ok(it) => it,
        Err(it) if it.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(it) => return Err(PublishError::at(&path)(it)),
    };
    let list: Option<List> = serde_json::from_slice(&bytes).ok();
    // No list makes this program touch anything outside of its folder.
    let inside = |place: &String| {
        !place.contains('\\')
            && place.split('/').all(|it| !matches!(it, "" | "." | ".."))
            && !Path::new(place).is_absolute()
    };
    Ok(list.filter(|it| it.schema == SCHEMA && it.files.keys().all(inside)))
}

/// The files that are other than the list says. One that is missing was not edited: it comes again.
pub(super) fn edited(folder: &Path, list: &List) -> Result<Vec<String>, PublishError> {
    let files: Vec<(&String, &String)> = list.files.iter().collect();
    let edited = files.par_iter().map(|(place, known)| {
        let path = folder.join(place);
        match fs::read(&path) {
            Ok(bytes) => Ok((digest(&bytes) != **known).then(|| (*place).clone())),
            Err(it) if it.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(it) => Err(PublishError::at(&path)(it)),
        }
    });
    let edited: Vec<Option<String>> = edited.collect::<Result<_, _>>()?;
    Ok(edited.into_iter().flatten().collect())
}

pub(super) fn digest(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// The folders that files lie in, a parent before what is in it.
pub(super) fn folders_of<'a>(files: impl Iterator<Item = &'a String>) -> Vec<String> {
    let mut all: Vec<String> = files
        .flat_map(|it| it.match_indices('/').map(|(at, _)| it[..at].to_owned()))
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}
