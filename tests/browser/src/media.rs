//! What a page is told of the medium it is shown on.

use crate::page::Page;
use anyhow::{Result, bail};
use serde_json::{Value, json};

/// The medium that style sheets ask for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Media {
    /// A screen.
    Screen,
    /// Paper: `@media print`.
    Print,
}

impl Page {
    /// Shows the page as on a medium with these features, until the next call: `("prefers-color-scheme", "dark")`, `("color-gamut",
    /// "p3")`, `("prefers-reduced-motion", "reduce")`, `("prefers-contrast", "more")`, `("forced-colors", "active")`.
    ///
    /// # Errors
    /// If the page then doesn't match a feature: Chromium passes over those that it can't emulate.
    pub fn emulate(&self, media: Media, features: &[(&str, &str)]) -> Result<()> {
        let media = match media {
            Media::Screen => "screen",
            Media::Print => "print",
        };
        let listed: Vec<Value> = features
            .iter()
            .map(|(name, value)| json!({"name": name, "value": value}))
            .collect();
        self.call(
            "Emulation.setEmulatedMedia",
            json!({"media": media, "features": listed}),
        )?;
        let queries = features
            .iter()
            .map(|(name, value)| format!("({name}: {value})"));
        for query in queries.chain([media.to_owned()]) {
            if self.evaluate(&format!("matchMedia({}).matches", json!(query)))? != true {
                bail!("Chromium does not emulate {query}");
            }
        }
        Ok(())
    }
}
