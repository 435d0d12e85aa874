//! Whether a page can be used by everybody, as far as a program can tell.

use crate::page::Page;
use anyhow::{Context, Result, bail};
use serde::Deserialize;
use serde_json::{Value, json};
use std::fmt;
use std::path::Path;

/// The rules that are asked: WCAG 2.2 at levels A and AA, and good practice.
const TAGS: [&str; 7] = [
    "wcag2a",
    "wcag2aa",
    "wcag21a",
    "wcag21aa",
    "wcag22a",
    "wcag22aa",
    "best-practice",
];

/// Where `tests/browser/install` puts the engine.
const ENGINE: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../target/browser/axe.min.js"
);

/// What an audit found.
#[derive(Clone, Debug, Deserialize)]
pub struct Audit {
    /// What is wrong.
    pub violations: Vec<Finding>,
    /// What the engine can't judge, such as text over a picture: a person must look.
    #[serde(rename = "incomplete")]
    pub undecided: Vec<Finding>,
    /// What was looked at and is right: a test can see that the rule it cares for was applied.
    pub passes: Vec<Finding>,
}

/// A rule, and where in the page it applies.
#[derive(Clone, Debug, Deserialize)]
pub struct Finding {
    /// The rule: `color-contrast`, `target-size`, `image-alt` …
    pub id: String,
    /// How bad: `minor`, `moderate`, `serious`, `critical`; none of what is right.
    pub impact: Option<String>,
    /// What the rule asks.
    pub help: String,
    /// Its tags: `wcag2aa`, `best-practice` …
    pub tags: Vec<String>,
    /// The elements.
    #[serde(rename = "nodes")]
    pub places: Vec<Place>,
}

/// An element that a rule was applied to.
#[derive(Clone, Debug, Deserialize)]
pub struct Place {
    /// Its selector; of an element in a frame, that of each frame first.
    pub target: Vec<Value>,
    /// Its HTML.
    pub html: String,
    /// What to do, if something is.
    #[serde(rename = "failureSummary", default)]
    pub summary: Option<String>,
}

/// Audits a page as it is now: its scheme, its size, what is unfolded.
///
/// # Source
/// axe-core, at the version that `tests/browser/install` pins; success criteria of WCAG 2.2, levels A and AA.
///
/// # Errors
/// If the engine isn't installed (the error names the script), or fails.
pub fn audit(page: &Page) -> Result<Audit> {
    audit_with(page, Path::new(ENGINE))
}

fn audit_with(page: &Page, engine: &Path) -> Result<Audit> {
    let engine = std::fs::read_to_string(engine)
        .with_context(|| format!("{} is missing: run tests/browser/install", engine.display()))?;
    if page.evaluate("typeof window.axe")? != "object" {
        page.evaluate(&format!("{engine}; null"))?;
    }
    // Preloading would ask for the style sheets once more.
    let options = json!({
        "runOnly": {"type": "tag", "values": TAGS},
        "resultTypes": ["violations", "incomplete", "passes"],
        "preload": false,
    });
    // As text: some results refer to themselves.
    let found = page.evaluate(&format!(
        "axe.run(document, {options}).then(({{violations, incomplete, passes}}) =>
            JSON.stringify({{violations, incomplete, passes}}))"
    ))?;
    let Some(found) = found.as_str() else {
        bail!("the audit's engine gave nothing");
    };
    Ok(serde_json::from_str(found)?)
}

impl fmt::Display for Audit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (word, findings) in [
            ("violated", &self.violations),
            ("undecided", &self.undecided),
        ] {
            for it in findings {
                writeln!(f, "{word}: {it}")?;
            }
        }
        Ok(())
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let impact = self.impact.as_deref().unwrap_or("right");
        write!(f, "{} ({impact}): {}", self.id, self.help)?;
        for it in &self.places {
            let summary = it.summary.as_deref().unwrap_or_default().replace('\n', " ");
            write!(f, "\n  {} {}\n    {summary}", json!(it.target), it.html)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Browser;

    #[test]
    fn a_missing_engine_is_named_with_the_way_to_get_it() {
        let browser = Browser::shared().unwrap();
        let error = audit_with(&browser.page().unwrap(), Path::new("/no/axe.min.js")).unwrap_err();
        assert!(
            error.to_string().contains("run tests/browser/install"),
            "{error}"
        );
    }
}
