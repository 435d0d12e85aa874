//! The text of a file, with line and column of every place in it.

use super::error::{Problem, Spot};
use std::io::Read as _;
use std::ops::Range;
use std::path::Path;
use toml::Spanned;
use toml::de::DeTable;

/// Largest file of this kind that is read, in bytes: some hundred times what the largest panel needs.
const LIMIT: u64 = 16 << 20;

/// A text file in memory.
#[derive(Clone, Debug)]
pub(crate) struct Source {
    /// The file as it was named.
    pub name: String,
    /// Its text, without byte order mark.
    pub text: String,
    /// Where each line starts, in bytes.
    lines: Vec<usize>,
}

impl Source {
    /// Reads a file.
    ///
    /// # Errors
    /// If it can't be read, is far too large, or is not UTF-8 text.
    pub(crate) fn read(path: &Path) -> Result<Self, Problem> {
        let name = path.display().to_string();
        let whole = Spot {
            file: name.clone(),
            line: None,
            column: None,
        };
        let wrong = |message: String| Problem::new(whole.clone(), message);
        let mut bytes = Vec::new();
        let read =
            std::fs::File::open(path).and_then(|it| it.take(LIMIT + 1).read_to_end(&mut bytes));
        read.map_err(|it| {
            let problem = wrong(format!("can't read it: {it}"));
            match it.kind() {
                std::io::ErrorKind::NotFound => problem.with_hint("Check the name."),
                _ => problem.with_hint("Check that it is a file that you may read."),
            }
        })?;
        if bytes.len() as u64 > LIMIT {
            return Err(wrong(
                "more than 16 MiB; no file of this kind is so large".to_owned(),
            ));
        }
        let text = String::from_utf8(bytes).map_err(|it| {
            let before = &it.as_bytes()[..it.utf8_error().valid_up_to()];
            let line = 1 + before.iter().filter(|it| **it == b'\n').count();
            let spot = Spot {
                line: Some(line),
                ..whole.clone()
            };
            Problem::new(spot, "not UTF-8 text")
                .with_hint("Save it as plain text, or as “CSV UTF-8” from a spreadsheet.")
        })?;
        Ok(Self::new(name, text))
    }

    /// A text that is already in memory.
    pub(crate) fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        let text = text.into();
        let text = text
            .strip_prefix('\u{feff}')
            .map_or(text.clone(), str::to_owned);
        let after_breaks = text.match_indices('\n').map(|(it, _)| it + 1);
        Self {
            name: name.into(),
            lines: std::iter::once(0).chain(after_breaks).collect(),
            text,
        }
    }

    /// The text as TOML.
    ///
    /// # Errors
    /// Where it is none.
    pub(crate) fn parse(&self) -> Result<Spanned<DeTable<'_>>, Problem> {
        DeTable::parse(&self.text).map_err(|error| {
            let span = error.span();
            let spot = span.map_or_else(|| self.whole(), |it| self.spot(&it));
            let problem = Problem::new(spot, format!("not readable as TOML: {}", error.message()));
            if error.message().contains("duplicate key") {
                return problem.with_hint("Each key stands once in its table.");
            }
            problem
        })
    }

    /// The file as a whole.
    pub(crate) fn whole(&self) -> Spot {
        Spot {
            file: self.name.clone(),
            line: None,
            column: None,
        }
    }

    /// The start of a byte range.
    pub(crate) fn spot(&self, span: &Range<usize>) -> Spot {
        let mut start = span.start.min(self.text.len());
        while !self.text.is_char_boundary(start) {
            start -= 1;
        }
        // The first line starts at 0, so there is one at or before every place.
        let line = self.lines.partition_point(|it| *it <= start);
        let before = &self.text[self.lines[line - 1]..start];
        Spot {
            file: self.name.clone(),
            line: Some(line),
            column: Some(1 + before.chars().count()),
        }
    }
}

/// Text of a file as a message can hold it: its beginning, with control characters made visible.
pub(crate) fn shown(text: &str) -> String {
    let most = 60;
    let short: String = text.chars().take(most).collect();
    let cut = if short.len() < text.len() { "…" } else { "" };
    format!("{}{cut}", short.escape_debug())
}

/// The known word nearest to an unknown one, if any is near enough to be meant.
pub(crate) fn nearest<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    // The distance of long texts is costly, and they are no misspelt keys.
    if word.chars().nth(40).is_some() {
        return None;
    }
    let distance = |it: &str| strsim::damerau_levenshtein(&word.to_lowercase(), it);
    let best = known.iter().min_by_key(|it| distance(it))?;
    // More than half wrong is another word.
    (2 * distance(best) <= best.chars().count().max(word.chars().count())).then_some(best)
}

/// A list of words for a message: `a, b and c`.
pub(crate) fn words(known: &[&str]) -> String {
    match known {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_has_its_line_and_column_in_characters() {
        let source = Source::new("x.toml", "\u{feff}a = 1\näöü = 2\r\nb = 3\n");
        assert!(source.text.starts_with('a'));
        let at = |needle: &str| {
            let start = source.text.find(needle).unwrap();
            let spot = source.spot(&(start..start + 1));
            (spot.line.unwrap(), spot.column.unwrap())
        };
        assert_eq!((at("a"), at("2"), at("b = 3")), ((1, 1), (2, 7), (3, 1)));
        assert_eq!(source.spot(&(999..1000)).line, Some(4));
    }

    #[test]
    fn the_nearest_word_is_offered_only_when_it_is_near() {
        let known = ["pitch_mm", "patch_mm", "rows"];
        assert_eq!(nearest("pich_mm", &known), Some("pitch_mm"));
        assert_eq!(nearest("Rows", &known), Some("rows"));
        assert_eq!(nearest("wood", &known), None);
        assert_eq!(nearest("", &known), None);
        assert_eq!(nearest(&"rows".repeat(1_000_000), &known), None);
    }

    #[test]
    fn a_message_holds_no_more_of_a_file_than_can_be_read() {
        assert_eq!(shown("a\t\"b\""), "a\\t\\\"b\\\"");
        assert_eq!(shown(&"é".repeat(61)), "é".repeat(60) + "…");
        assert_eq!(shown(&"é".repeat(60)), "é".repeat(60));
    }
}
