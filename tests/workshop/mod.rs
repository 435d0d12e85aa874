//! A folder with photos of one panel, and the program run in it.

use masstone_simulator::{FileKind, Mixture, SceneSpec, Split};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

/// How many photos there are: `1.jpg` …
pub(crate) const PHOTOS: usize = 4;

/// A folder of its own for each test.
pub(crate) struct Workshop {
    folder: tempfile::TempDir,
}

impl Workshop {
    /// With `panel.toml`, its card, and [`PHOTOS`] photos of it, whose corners lie beside them: where the panel is
    /// found is tested elsewhere.
    pub(crate) fn new() -> Self {
        let workshop = Self::empty();
        for entry in fs::read_dir(rendered()).unwrap() {
            let from = entry.unwrap().path();
            fs::copy(
                &from,
                workshop.path(from.file_name().unwrap().to_str().unwrap()),
            )
            .unwrap();
        }
        workshop
    }

    /// With nothing in it.
    pub(crate) fn empty() -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    /// A photo under another name, with its corners.
    pub(crate) fn copy(&self, from: &str, to: &str) {
        fs::copy(self.path(from), self.path(to)).unwrap();
        let corners = |name: &str| self.path(&format!("{name}.corners.toml"));
        fs::copy(corners(from), corners(to)).unwrap();
    }

    /// Everything in the folder, in order.
    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.folder.path())
            .unwrap()
            .map(|it| it.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    /// The program in this folder, the arguments split at spaces.
    pub(crate) fn command(&self, arguments: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_masstone"));
        command
            .current_dir(self.folder.path())
            .args(arguments.split_whitespace())
            .env_remove("COLORTERM");
        command
    }

    pub(crate) fn run(&self, arguments: &str) -> Ran {
        Ran::from(self.command(arguments).output().unwrap())
    }
}

/// What became of a run.
#[derive(Debug)]
pub(crate) struct Ran {
    pub(crate) status: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Self {
        Self {
            status: output.status.code().expect("it was not killed"),
            stdout: String::from_utf8(output.stdout).unwrap(),
            stderr: String::from_utf8(output.stderr).unwrap(),
        }
    }
}

impl Ran {
    /// Checks the exit status; a failure shows everything.
    #[track_caller]
    pub(crate) fn exits(self, status: i32) -> Self {
        assert_eq!(self.status, status, "{self:#?}");
        self
    }

    /// Checks that standard error says all of this.
    #[track_caller]
    pub(crate) fn says(self, all: &[&str]) -> Self {
        for it in all {
            assert!(self.stderr.contains(it), "{it:?} is missing in {self:#?}");
        }
        self
    }
}

/// The photos, rendered once: 5 × 5 patches with halves, a grey card at the right, without flaws.
fn rendered() -> &'static Path {
    static FOLDER: OnceLock<tempfile::TempDir> = OnceLock::new();
    let folder = FOLDER.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let panel = SceneSpec::draw(Mixture::Flawless, Split::Test, 15);
        panel.build().write_panel(folder.path()).unwrap();
        for shot in 1..=PHOTOS {
            let scene = panel.reshoot(shot as u64).build();
            let photo = folder.path().join(format!("{shot}.jpg"));
            let picture = scene
                .write(&photo, FileKind::Jpeg, scene.stored_size(1000))
                .unwrap();
            let beside = |ending: &str| folder.path().join(format!("{shot}.jpg.{ending}"));
            let corners = format!("corners = {:?}\n", picture.truth.grid);
            fs::write(beside("corners.toml"), corners).unwrap();
            let truth = serde_json::to_string(&picture.truth).unwrap();
            fs::write(beside("truth.json"), truth).unwrap();
        }
        folder
    });
    folder.path()
}
