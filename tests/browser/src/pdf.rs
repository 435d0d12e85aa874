//! A page on paper.

use crate::page::Page;
use crate::picture::bytes;
use anyhow::Result;
use serde_json::json;

/// A sheet, upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm, ISO 216.
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

impl Paper {
    /// Width and height in inches.
    fn inches(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0 / 25.4, 297.0 / 25.4),
            Self::Letter => (8.5, 11.0),
        }
    }

    /// Width and height in points, 1/72 inch, as a PDF has them.
    #[must_use]
    pub fn points(self) -> (f64, f64) {
        let (width, height) = self.inches();
        (72.0 * width, 72.0 * height)
    }
}

impl Page {
    /// The page printed as the browser's own dialog does by default, but with its backgrounds; margins of 1 cm unless `@page`
    /// says otherwise. A size that `@page` asks for goes before `paper`.
    ///
    /// # Errors
    /// If Chromium doesn't print.
    pub fn pdf(&self, paper: Paper) -> Result<Vec<u8>> {
        self.print(paper, true)
    }

    /// The same without backgrounds: what a user gets who hasn't asked for them.
    ///
    /// # Errors
    /// If Chromium doesn't print.
    pub fn pdf_without_backgrounds(&self, paper: Paper) -> Result<Vec<u8>> {
        self.print(paper, false)
    }

    fn print(&self, paper: Paper, backgrounds: bool) -> Result<Vec<u8>> {
        let (width, height) = paper.inches();
        let answer = self.call(
            "Page.printToPDF",
            json!({
                "paperWidth": width, "paperHeight": height,
                "printBackground": backgrounds, "preferCSSPageSize": true,
            }),
        )?;
        bytes(&answer)
    }
}

/// Width and height of each page in points, 1/72 inch: every `/MediaBox` in the order of the file.
///
/// Chromium writes its page objects uncompressed, so that they can be read so; of another program's file this may find
/// nothing.
#[must_use]
pub fn page_sizes(pdf: &[u8]) -> Vec<(f64, f64)> {
    let text = String::from_utf8_lossy(pdf);
    let boxes = text.split("/MediaBox").skip(1);
    let corners = boxes.filter_map(|it| {
        let inside = it.trim_start().strip_prefix('[')?.split(']').next()?;
        let numbers: Vec<f64> = inside
            .split_whitespace()
            .filter_map(|it| it.parse().ok())
            .collect();
        <[f64; 4]>::try_from(numbers).ok()
    });
    corners
        .map(|[left, bottom, right, top]| (right - left, top - bottom))
        .collect()
}
