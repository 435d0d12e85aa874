//! Where a test writes a page and opens it.

use masstone_browser::{Browser, Page, Site};
use std::fs;
use std::sync::Arc;
use tempfile::TempDir;

/// A folder of written pages, served, and a page to open them in.
pub(crate) struct Desk {
    pub(crate) folder: TempDir,
    pub(crate) site: Site,
    pub(crate) page: Page,
    _browser: Arc<Browser>,
}

impl Desk {
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let site = Site::serve(folder.path()).expect("a site");
        let browser = Browser::shared().expect("Chromium");
        let page = browser.page().expect("a page");
        Self {
            folder,
            site,
            page,
            _browser: browser,
        }
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        fs::write(self.folder.path().join(name), text).expect("written");
    }

    /// Opens a page with this body.
    pub(crate) fn show(&self, body: &str) {
        self.show_with("", body);
    }

    /// Opens a page with this body, and this in its head.
    pub(crate) fn show_with(&self, head: &str, body: &str) {
        self.write(
            "page.html",
            &format!(
                "<!doctype html><html lang=en><meta charset=utf-8><title>Boards</title><link rel=icon href=data:,>{head}\
                 <body>{body}"
            ),
        );
        self.page.open(&self.site.url("page.html")).expect("opened");
    }

    pub(crate) fn ask(&self, expression: &str) -> serde_json::Value {
        self.page.evaluate(expression).expect(expression)
    }
}
