//! Keys and clicks, as the system would send them.

use crate::page::{Area, Page};
use anyhow::{Result, bail};
use serde_json::{Value, json};

/// A key that isn't a letter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Key {
    Tab,
    Enter,
    Space,
    Escape,
    Backspace,
    Delete,
    ArrowLeft,
    ArrowUp,
    ArrowRight,
    ArrowDown,
    Home,
    End,
    PageUp,
    PageDown,
}

/// A key that is held while another is pressed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Modifier {
    Alt,
    Control,
    Shift,
}

impl Key {
    /// `key` and `code` as UI Events has them, the key's number, and what it types.
    fn parts(self) -> (&'static str, &'static str, u8, &'static str) {
        match self {
            Self::Tab => ("Tab", "Tab", 9, ""),
            Self::Enter => ("Enter", "Enter", 13, "\r"),
            Self::Space => (" ", "Space", 32, " "),
            Self::Escape => ("Escape", "Escape", 27, ""),
            Self::Backspace => ("Backspace", "Backspace", 8, ""),
            Self::Delete => ("Delete", "Delete", 46, ""),
            Self::ArrowLeft => ("ArrowLeft", "ArrowLeft", 37, ""),
            Self::ArrowUp => ("ArrowUp", "ArrowUp", 38, ""),
            Self::ArrowRight => ("ArrowRight", "ArrowRight", 39, ""),
            Self::ArrowDown => ("ArrowDown", "ArrowDown", 40, ""),
            Self::Home => ("Home", "Home", 36, ""),
            Self::End => ("End", "End", 35, ""),
            Self::PageUp => ("PageUp", "PageUp", 33, ""),
            Self::PageDown => ("PageDown", "PageDown", 34, ""),
        }
    }
}

impl Page {
    /// Presses a key and lets it go.
    ///
    /// # Errors
    /// If Chromium is gone.
    pub fn press(&self, key: Key) -> Result<()> {
        self.press_with(&[], key)
    }

    /// Presses a key while others are held: Shift and Tab, say.
    ///
    /// # Errors
    /// If Chromium is gone.
    pub fn press_with(&self, held: &[Modifier], key: Key) -> Result<()> {
        let modifiers = held.iter().fold(0, |sum, it| match it {
            Modifier::Alt => sum | 1,
            Modifier::Control => sum | 2,
            Modifier::Shift => sum | 8,
        });
        let (key, code, number, text) = key.parts();
        // With Alt or Control a key types nothing.
        let text = if modifiers & 3 == 0 { text } else { "" };
        let event = json!({
            "key": key, "code": code, "windowsVirtualKeyCode": number, "modifiers": modifiers,
        });
        self.key(event, text)
    }

    /// Types a text into what has the focus, a key a character.
    ///
    /// # Errors
    /// If Chromium is gone.
    pub fn type_text(&self, text: &str) -> Result<()> {
        for character in text.chars() {
            let text = character.to_string();
            self.key(json!({"key": text}), &text)?;
        }
        Ok(())
    }

    /// Moves the mouse to the centre of the first element of a selector, and clicks.
    ///
    /// # Errors
    /// If there is no such element, or another one lies over its centre: a user couldn't click it either.
    pub fn click(&self, selector: &str) -> Result<()> {
        let (x, y) = self.hover(selector)?;
        for kind in ["mousePressed", "mouseReleased"] {
            self.mouse(json!({"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1}))?;
        }
        Ok(())
    }

    /// Moves the mouse to the centre of the first element of a selector: x, y in the viewport.
    ///
    /// # Errors
    /// As [`Self::click`].
    pub fn hover(&self, selector: &str) -> Result<(f64, f64)> {
        let Area {
            x,
            y,
            width,
            height,
        } = self.area(selector)?;
        let (x, y) = (x + width / 2.0, y + height / 2.0);
        let over = self.evaluate(&format!(
            "(() => {{
                const wanted = document.querySelector({selector});
                const over = document.elementFromPoint({x}, {y});
                return wanted.contains(over) ? null : over ? over.outerHTML.slice(0, 120) : 'nothing';
            }})()",
            selector = json!(selector)
        ))?;
        if let Some(over) = over.as_str() {
            bail!("the mouse at the centre of {selector} meets {over}");
        }
        self.mouse(json!({"type": "mouseMoved", "x": x, "y": y}))?;
        Ok((x, y))
    }

    fn mouse(&self, event: Value) -> Result<()> {
        self.call("Input.dispatchMouseEvent", event)?;
        Ok(())
    }

    fn key(&self, mut event: Value, text: &str) -> Result<()> {
        event["type"] = json!(if text.is_empty() {
            "rawKeyDown"
        } else {
            "keyDown"
        });
        event["text"] = json!(text);
        self.call("Input.dispatchKeyEvent", event.clone())?;
        event["type"] = json!("keyUp");
        event["text"] = json!("");
        self.call("Input.dispatchKeyEvent", event)?;
        Ok(())
    }
}
