//! What a page looks like.

use crate::page::{Area, Page};
use anyhow::{Context, Result};
use base64::Engine;
use base64::prelude::BASE64_STANDARD;
use image::{ImageFormat, RgbImage};
use serde_json::{Value, json};

impl Page {
    /// The viewport as it is now: device pixels, sRGB.
    ///
    /// # Errors
    /// If Chromium makes no picture.
    pub fn screenshot(&self) -> Result<RgbImage> {
        self.capture(json!({"format": "png"}))
    }

    /// The whole page, as far as it scrolls: device pixels, sRGB.
    ///
    /// # Errors
    /// If Chromium makes no picture.
    pub fn screenshot_all(&self) -> Result<RgbImage> {
        let size = &self.call("Page.getLayoutMetrics", json!({}))?["cssContentSize"];
        self.capture(json!({
            "format": "png", "captureBeyondViewport": true,
            "clip": {"x": 0, "y": 0, "width": size["width"], "height": size["height"], "scale": 1},
        }))
    }

    /// The first element of a selector, with what lies over it: device pixels, sRGB.
    ///
    /// # Errors
    /// If there is no such element, or it has no area.
    pub fn screenshot_of(&self, selector: &str) -> Result<RgbImage> {
        let Area {
            x,
            y,
            width,
            height,
        } = self.area(selector)?;
        // The clip is counted from the top of the page.
        let top = &self.call("Page.getLayoutMetrics", json!({}))?["cssLayoutViewport"];
        let (left, top) = (top["pageX"].as_f64(), top["pageY"].as_f64());
        let (x, y) = (x + left.unwrap_or(0.0), y + top.unwrap_or(0.0));
        self.capture(json!({
            "format": "png", "captureBeyondViewport": true,
            "clip": {"x": x, "y": y, "width": width, "height": height, "scale": 1},
        }))
        .with_context(|| format!("{selector}: {width} × {height}"))
    }

    fn capture(&self, how: Value) -> Result<RgbImage> {
        let png = bytes(&self.call("Page.captureScreenshot", how)?)?;
        Ok(image::load_from_memory_with_format(&png, ImageFormat::Png)?.into_rgb8())
    }
}

/// What an answer carries.
pub(crate) fn bytes(answer: &Value) -> Result<Vec<u8>> {
    let data = answer["data"].as_str().context("Chromium sent no data")?;
    Ok(BASE64_STANDARD.decode(data)?)
}
