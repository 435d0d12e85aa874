//! A real browser for tests: a headless Chromium that opens pages, presses keys and looks at what it shows.
//!
//! # Use
//!
//! ```no_run
//! use masstone_browser::{Browser, Key, Media, Paper, Site, audit, pdf};
//! use serde_json::json;
//! # fn main() -> anyhow::Result<()> {
//! let site = Site::serve("folder")?;
//! let browser = Browser::shared()?;
//! let page = browser.page()?;
//! page.viewport(390, 844, 2.0)?;
//! page.emulate(Media::Screen, &[("prefers-color-scheme", "dark")])?;
//! page.open(&site.url("index.html"))?;
//! page.press(Key::Tab)?;
//! assert_eq!(page.evaluate("document.activeElement.tagName")?, json!("A"));
//! let picture = page.screenshot_all()?;         // device pixels, sRGB
//! let pages = pdf::page_sizes(&page.pdf(Paper::A4)?);
//! let audit = audit(&page)?;
//! assert!(audit.violations.is_empty(), "{audit}");
//! let seen = page.seen()?;
//! assert!(seen.complaints.is_empty(), "{:#?}", seen.complaints);
//! assert_eq!(seen.requests_beyond(&site.url("")), Vec::<&str>::new());
//! # let _ = (picture, pages);
//! # Ok(())
//! # }
//! ```
//!
//! # What a test can rely on
//!
//! - **Nothing is skipped**: without Chromium or the audit's engine a test fails, and the error names the script that installs
//!   them, `tests/browser/install`.
//! - **Nothing hangs**: every wait ends by [`DEADLINE`] (or what [`Page::give_up_after`] says) with an error that says what was
//!   waited for.
//! - **Nothing goes out**: of all host names Chromium finds 127.0.0.1 alone; what was asked for is listed in [`Seen`].
//! - Colours come back as sRGB codes, whatever the screen of the machine; fonts are those of the machine.
//!
//! # Why a protocol client of its own
//!
//! Chromium is driven by the Chrome `DevTools` Protocol, JSON over a WebSocket. [`tungstenite`] does the WebSocket; the rest is a
//! call, an answer with the same number, and events in between. Crates that wrap the whole protocol compile a type for each
//! of its thousand messages, minutes of building for the thirty that are used here, and their types lag behind the browser that
//! the system's packages bring: an event that a newer Chromium words differently ends the connection. Here an unknown event is
//! passed over, and an answer that lacks what is needed is an error of the one call.

mod audit;
mod chromium;
mod input;
mod media;
mod page;
pub mod pdf;
mod picture;
mod protocol;
mod seen;
mod site;

pub use audit::{Audit, Finding, Place, audit};
pub use chromium::Browser;
pub use input::{Key, Modifier};
pub use media::Media;
pub use page::{Area, Page};
pub use pdf::Paper;
pub use protocol::DEADLINE;
pub use seen::{Complaint, Outcome, Request, Seen};
pub use site::Site;
