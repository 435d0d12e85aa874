//! Finished photos on disk while a batch runs, and after it was stopped: `OUT.partial.jsonl`.
//!
//! Each finished photo is one line, appended and synced, in the form of the record. A later run with the same OUT finds
//! them again. What it can't use is never thrown away but set aside under another name.

use super::Job;
use super::files;
use super::output::{OutputError, sync_folder, with_suffix};
use crate::record::{PanelEntry, PhotoRecord, Program, json};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The open file of finished photos, which no other run can open meanwhile.
#[derive(Debug)]
pub struct Partial {
    path: PathBuf,
    file: File,
    lines: usize,
}

/// What an earlier run left.
#[derive(Debug, Default)]
pub struct Leftover {
    /// Finished photos.
    pub photos: Vec<PhotoRecord>,
    /// Whole lines that are no finished photo to this program, with the reason.
    pub unreadable: Vec<String>,
}

impl Partial {
    /// Opens the file for `out`, or makes it, and reads what an earlier run left. A last line without its end is the photo
    /// that was in hand at a crash: it is cut off.
    ///
    /// # Errors
    ///
    /// If the file can't be had, or another run has it.
    pub fn open(out: &Path) -> Result<(Self, Leftover), OutputError> {
        let path = with_suffix(out, ".partial.jsonl");
        let mut file = lock(&path).map_err(OutputError::at(&path))?;
        let leftover = read(&mut file, &path).map_err(OutputError::at(&path))?;
        sync_folder(&path);
        let lines = leftover.photos.len() + leftover.unreadable.len();
        Ok((Self { path, file, lines }, leftover))
    }

    /// Where it is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Appends a finished photo and makes it last.
    ///
    /// # Errors
    ///
    /// If it can't be written.
    pub fn append(&mut self, photo: &PhotoRecord) -> Result<(), OutputError> {
        json::line(photo.clone())
            // One call, so that a line is torn only by a crash.
            .and_then(|line| self.file.write_all(line.as_bytes()))
            .and_then(|()| self.file.sync_data())
            .map_err(OutputError::at(&self.path))?;
        self.lines += 1;
        Ok(())
    }

    /// Copies the file to a free name beside it, which is returned, then goes on with `photos` only.
    ///
    /// # Errors
    ///
    /// If either can't be written.
    pub fn set_aside(&mut self, photos: &[PhotoRecord]) -> Result<PathBuf, OutputError> {
        let aside =
            copy_to_free_name(&mut self.file, &self.path).map_err(OutputError::at(&self.path))?;
        self.file.set_len(0).map_err(OutputError::at(&self.path))?;
        self.lines = 0;
        photos.iter().try_for_each(|it| self.append(it))?;
        Ok(aside)
    }

    /// Ends its life once all that it holds is in its place. Also right when nothing was appended.
    ///
    /// # Errors
    ///
    /// If it can't be removed.
    pub fn remove(self) -> Result<(), OutputError> {
        fs::remove_file(&self.path).map_err(OutputError::at(&self.path))?;
        sync_folder(&self.path);
        Ok(())
    }

    /// Lets go of it without the work being done; whether it holds finished photos, which stay for the next run. Nothing stays
    /// of an empty one.
    ///
    /// # Errors
    ///
    /// If an empty one can't be removed.
    pub fn leave(self) -> Result<bool, OutputError> {
        if self.lines > 0 {
            return Ok(true);
        }
        self.remove().map(|()| false)
    }
}

/// Opens or makes the file and keeps other runs from it.
fn lock(path: &Path) -> io::Result<File> {
    loop {
        let file = OpenOptions::new()
            .read(true)
            .append(true)
            .create(true)
            .open(path)?;
        match file.try_lock() {
            // The run that had it before may just have removed it.
            Ok(()) if !path.exists() => {}
            Ok(()) => return Ok(file),
            Err(TryLockError::WouldBlock) => {
                return Err(io::Error::new(
                    io::ErrorKind::ResourceBusy,
                    "another run is writing the same output",
                ));
            }
            // A file system without locks.
            Err(TryLockError::Error(_)) => return Ok(file),
        }
    }
}

/// Reads the whole lines and cuts off a torn one.
fn read(file: &mut File, path: &Path) -> io::Result<Leftover> {
    let mut bytes = Vec::new();
    file.seek(SeekFrom::Start(0))?;
    file.read_to_end(&mut bytes)?;
    let whole = bytes
        .iter()
        .rposition(|it| *it == b'\n')
        .map_or(0, |it| it + 1);
    if whole < bytes.len() {
        file.set_len(u64::try_from(whole).map_err(io::Error::other)?)?;
    }
    let mut leftover = Leftover::default();
    let name = path.display().to_string();
    let lines = bytes[..whole].split(|it| *it == b'\n').enumerate();
    for (number, line) in lines.filter(|(_, line)| !line.trim_ascii().is_empty()) {
        match json::parse(line, &name, number) {
            Ok(record) => leftover.photos.extend(json::by_photo(record)),
            Err(error) => leftover.unreadable.push(error.to_string()),
        }
    }
    Ok(leftover)
}

/// Copies the file to `OUT.partial-1.jsonl`, or the next number that is free.
fn copy_to_free_name(file: &mut File, path: &Path) -> io::Result<PathBuf> {
    let stem = path.with_extension("");
    for number in 1_u32.. {
        let aside = with_suffix(&stem, &format!("-{number}.jsonl"));
        match OpenOptions::new().write(true).create_new(true).open(&aside) {
            Ok(mut copy) => {
                file.seek(SeekFrom::Start(0))?;
                io::copy(file, &mut copy)?;
                copy.sync_all()?;
                sync_folder(&aside);
                return Ok(aside);
            }
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(error) => return Err(error),
        }
    }
    Err(io::Error::other("no name is free to set it aside"))
}

/// How a batch goes on after an earlier run.
#[derive(Debug, Default)]
pub struct Resumed {
    /// What need not be measured again: the job's index and its record, under the job's path and with its exposure.
    pub done: Vec<(usize, PhotoRecord)>,
    /// Finished photos that don't serve these jobs: not asked for, or measured otherwise.
    pub unused: Vec<PhotoRecord>,
}

/// Finds for each job what an earlier run measured: the same bytes, on the same board, with the same settings, dose and
/// version of the program. How the board was exposed has no part in the measuring: what is stated now takes the place of what was.
#[must_use]
pub fn resume(finished: Vec<PhotoRecord>, jobs: &[Job], panel: &PanelEntry) -> Resumed {
    if finished.is_empty() {
        return Resumed::default();
    }
    let hashes: Vec<Option<String>> = jobs.iter().map(|it| files::sha256(&it.path).ok()).collect();
    let mut done: Vec<Option<PhotoRecord>> = vec![None; jobs.len()];
    let mut unused = Vec::new();
    for mut record in finished {
        let photo = &record.photo;
        let index = jobs.iter().zip(&hashes).position(|(job, hash)| {
            hash.as_ref() == Some(&photo.sha256)
                && photo.settings == job.settings
                && photo.stated_dose() == job.dose
                && photo.program == Program::this()
                && photo.panel.same_board(panel)
        });
        match index {
            Some(index) if done[index].is_none() => {
                record.rename(&jobs[index].path.to_string_lossy());
                record.photo.exposure.clone_from(&jobs[index].exposure);
                done[index] = Some(record);
            }
            // The same photo twice says the same twice.
            Some(_) => {}
            None => unused.push(record),
        }
    }
    let done = done.into_iter().enumerate();
    Resumed {
        done: done.filter_map(|(index, it)| Some((index, it?))).collect(),
        unused,
    }
}
