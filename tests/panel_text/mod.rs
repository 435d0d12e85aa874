//! Panels as text.

#![expect(clippy::unwrap_used, reason = "a test that fails here says so")]

use masstone::panel::{self, Panel, PanelError};

/// Reads a panel from a folder that holds these files; the first is the panel.
pub(crate) fn read(files: &[(&str, &str)]) -> Result<Panel, PanelError> {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    panel::read(&folder.path().join(files[0].0))
}

/// A card.
pub(crate) const GREY: &str = "[[card]]\ncard = \"grey-18\"\n";
