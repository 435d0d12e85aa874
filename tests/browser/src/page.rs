//! A page: opening, asking, waiting.

use crate::protocol::{Connection, Event};
use crate::seen::{Seen, Watch};
use anyhow::{Context, Result, anyhow, bail};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// How long nothing may come before a page counts as quiet.
const QUIET: Duration = Duration::from_millis(60);

/// One page of a browser, with storage of its own. It is closed when it is dropped.
#[derive(Debug)]
pub struct Page {
    inner: Mutex<Inner>,
}

#[derive(Debug)]
struct Inner {
    connection: Connection,
    watch: Watch,
}

/// Where an element is in the viewport, CSS pixels.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub struct Area {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Page {
    pub(crate) fn attach(connection: Connection) -> Result<Self> {
        let page = Self {
            inner: Mutex::new(Inner {
                connection,
                watch: Watch::default(),
            }),
        };
        for domain in ["Page", "Runtime", "Log", "Network", "Audits"] {
            page.call(&format!("{domain}.enable"), json!({}))?;
        }
        page.call("Page.setLifecycleEventsEnabled", json!({"enabled": true}))?;
        // Several pages at once: each behaves as the one in front.
        page.call(
            "Emulation.setFocusEmulationEnabled",
            json!({"enabled": true}),
        )?;
        page.viewport(1280, 800, 1.0)?;
        Ok(page)
    }

    /// Opens an address and waits until the page, its pictures and its fonts are loaded.
    ///
    /// # Errors
    /// If the page can't be had, or isn't loaded in time. A page that a server refuses (404) is a page; see
    /// [`Self::seen`].
    pub fn open(&self, url: &str) -> Result<()> {
        let answer = self.call("Page.navigate", json!({"url": url}))?;
        if let Some(error) = answer["errorText"].as_str() {
            bail!("{url} is not opened: {error}");
        }
        // None: a place within the page that is open already.
        if let Some(loader) = answer["loaderId"].as_str() {
            self.wait_for_event(|it| {
                it.method == "Page.lifecycleEvent"
                    && it.params["name"] == "load"
                    && it.params["loaderId"] == loader
            })
            .with_context(|| format!("{url} is not loaded"))?;
        }
        self.evaluate("document.fonts.ready.then(() => null)")?;
        Ok(())
    }

    /// The size of the viewport in CSS pixels, and how many device pixels one of them has a side.
    ///
    /// # Errors
    /// If Chromium refuses.
    pub fn viewport(&self, width: u32, height: u32, scale: f64) -> Result<()> {
        self.call(
            "Emulation.setDeviceMetricsOverride",
            json!({"width": width, "height": height, "deviceScaleFactor": scale, "mobile": false}),
        )?;
        Ok(())
    }

    /// Waits for this long instead of [`DEADLINE`](crate::DEADLINE), from now on.
    pub fn give_up_after(&self, patience: Duration) {
        self.inner().connection.patience = patience;
    }

    /// Whether the page's own scripts run, from the next page opened on; [`Self::evaluate`] does in any case.
    ///
    /// # Errors
    /// If Chromium refuses.
    pub fn run_scripts(&self, run: bool) -> Result<()> {
        self.call(
            "Emulation.setScriptExecutionDisabled",
            json!({"value": !run}),
        )?;
        Ok(())
    }

    /// The value of an expression in the page; of a promise, what it comes to. `undefined` is null.
    ///
    /// # Errors
    /// If it throws, its value has no JSON (NaN, say), or it takes too long.
    pub fn evaluate(&self, expression: &str) -> Result<Value> {
        let answer = self.call(
            "Runtime.evaluate",
            json!({
                "expression": expression, "awaitPromise": true, "returnByValue": true, "userGesture": true,
            }),
        )?;
        if let Some(thrown) = answer.get("exceptionDetails") {
            bail!("{} in: {}", said(thrown), short(expression));
        }
        let result = &answer["result"];
        match result["unserializableValue"].as_str() {
            Some(it) => Err(anyhow!("{it} has no JSON: {}", short(expression))),
            None => Ok(result["value"].clone()),
        }
    }

    /// Waits until an expression is true, across pages that are opened meanwhile.
    ///
    /// # Errors
    /// If it isn't in time.
    pub fn wait_until(&self, expression: &str) -> Result<()> {
        let patience = self.inner().connection.patience;
        let end = Instant::now() + patience;
        loop {
            // While a page gives way to the next, there is nothing to ask.
            let value = self.evaluate(&format!("Boolean({expression})"));
            if matches!(value, Ok(Value::Bool(true))) {
                return Ok(());
            }
            if Instant::now() > end {
                bail!(
                    "not within {} s: {expression} ({value:?})",
                    patience.as_secs_f64()
                );
            }
            thread::sleep(Duration::from_millis(10));
        }
    }

    /// Where the first element of a selector is; it is scrolled into view first.
    ///
    /// # Errors
    /// If there is none.
    pub fn area(&self, selector: &str) -> Result<Area> {
        let value = self.evaluate(&format!(
            "(() => {{
                const element = document.querySelector({selector});
                if (!element) return null;
                element.scrollIntoView({{behavior: 'instant', block: 'nearest', inline: 'nearest'}});
                const {{x, y, width, height}} = element.getBoundingClientRect();
                return {{x, y, width, height}};
            }})()",
            selector = json!(selector)
        ))?;
        if value.is_null() {
            bail!("no element {selector}");
        }
        Ok(serde_json::from_value(value)?)
    }

    /// What the page has complained of and asked for since it was made or last forgotten, once it is quiet.
    ///
    /// # Errors
    /// If Chromium is gone.
    pub fn seen(&self) -> Result<Seen> {
        let mut inner = self.inner();
        let end = Instant::now() + inner.connection.patience;
        loop {
            let quiet = (Instant::now() + QUIET).min(end);
            let Inner { connection, watch } = &mut *inner;
            match connection.event(quiet)? {
                Some(event) => watch.note(&event),
                // What is asked for and not answered is waited for.
                None if watch.is_idle() || Instant::now() >= end => return Ok(watch.seen()),
                None => {}
            }
        }
    }

    /// Forgets what was seen so far.
    ///
    /// # Errors
    /// If Chromium is gone.
    pub fn forget_seen(&self) -> Result<()> {
        self.seen()?;
        self.inner().watch = Watch::default();
        Ok(())
    }

    pub(crate) fn call(&self, method: &str, params: Value) -> Result<Value> {
        self.inner().connection.call(method, params)
    }

    fn wait_for_event(&self, is_it: impl Fn(&Event) -> bool) -> Result<()> {
        let Inner { connection, watch } = &mut *self.inner();
        let end = Instant::now() + connection.patience;
        while let Some(event) = connection.event(end)? {
            watch.note(&event);
            if is_it(&event) {
                return Ok(());
            }
        }
        bail!("not within {} s", connection.patience.as_secs_f64())
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        // Not waited for: the browser may be gone before.
        self.inner().connection.send("Page.close", json!({})).ok();
    }
}

/// What an exception says: its own description has the stack.
pub(crate) fn said(thrown: &Value) -> &str {
    thrown["exception"]["description"]
        .as_str()
        .or_else(|| thrown["exception"]["value"].as_str())
        .or_else(|| thrown["text"].as_str())
        .unwrap_or("an exception")
}

fn short(expression: &str) -> String {
    let start: String = expression.chars().take(200).collect();
    if start.len() < expression.len() {
        start + "…"
    } else {
        start
    }
}
