//! TOML tables and values that know where they stand, so that every complaint can point there.

use super::error::{Problem, Problems, Spot};
use super::source::{Source, nearest, shown, words};
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Longest length and farthest place in millimetres: twenty metres.
pub(crate) const FAR_MM: f64 = 20_000.0;

/// A table whose keys are all known.
#[derive(Clone, Debug)]
pub(crate) struct Table<'a> {
    source: &'a Source,
    what: &'static str,
    span: Range<usize>,
    entries: &'a DeTable<'a>,
}

/// A value and the key that it stands under.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Value<'a> {
    source: &'a Source,
    key: &'a str,
    value: &'a Spanned<DeValue<'a>>,
}

impl<'a> Table<'a> {
    /// Checks the keys. `what` names the table in messages; `elsewhere` are keys that belong to the top of the file.
    ///
    /// # Errors
    /// At the first key that is not known.
    pub(crate) fn new(
        source: &'a Source,
        what: &'static str,
        span: Range<usize>,
        entries: &'a DeTable<'a>,
        known: &[&str],
        elsewhere: &[&str],
    ) -> Result<Self, Problem> {
        let unknown = entries
            .keys()
            .filter(|it| !known.contains(&it.get_ref().as_ref()))
            .min_by_key(|it| it.span().start);
        let Some(key) = unknown else {
            return Ok(Self {
                source,
                what,
                span,
                entries,
            });
        };
        let word = key.get_ref().as_ref();
        let spot = source.spot(&key.span());
        let mut message = format!("unknown key `{}` in {what}", shown(word));
        if let Some(near) = nearest(word, known) {
            message += &format!("; did you mean `{near}`?");
        }
        let hint = if elsewhere.contains(&word) {
            format!("`{word}` belongs to the top of the file, before the first [table].")
        } else {
            format!("Known here: {}.", words(known))
        };
        Err(Problem::new(spot, message).with_hint(hint))
    }

    /// The value of a key, if it is there.
    pub(crate) fn get(&self, key: &str) -> Option<Value<'a>> {
        let (key, value) = self.entries.iter().find(|(it, _)| it.get_ref() == key)?;
        Some(Value {
            source: self.source,
            key: key.get_ref().as_ref(),
            value,
        })
    }

    /// The value of a key that must be there; `why` says what it is for.
    ///
    /// # Errors
    /// If it is not.
    pub(crate) fn need(&self, key: &str, why: &str) -> Result<Value<'a>, Problem> {
        self.get(key)
            .ok_or_else(|| self.wrong(format!("`{key}` is missing in {}: {why}", self.what)))
    }

    /// The tables of `[[key]]`; none if there are none, or if they are no list, which is put down.
    pub(crate) fn items(&self, key: &str, problems: &mut Problems) -> Vec<Value<'a>> {
        let list = self.get(key).map(|it| {
            it.list()
                .map_err(|problem| problem.with_hint(format!("Write [[{key}]] with two brackets.")))
        });
        list.and_then(|it| problems.keep(it)).unwrap_or_default()
    }

    /// The first of two keys that stand for the same thing, if both are there.
    pub(crate) fn both(&self, one: &str, other: &str) -> Option<Value<'a>> {
        self.get(one).and_then(|_| self.get(other))
    }

    /// A problem with the table as a whole.
    pub(crate) fn wrong(&self, message: impl Into<String>) -> Problem {
        Problem::new(self.source.spot(&self.span), message)
    }

    /// Where it starts.
    pub(crate) fn spot(&self) -> Spot {
        self.source.spot(&self.span)
    }
}

impl<'a> Value<'a> {
    /// Where it stands.
    pub(crate) fn spot(&self) -> Spot {
        self.source.spot(&self.value.span())
    }

    /// A problem with this value.
    pub(crate) fn wrong(&self, message: impl Into<String>) -> Problem {
        Problem::new(self.spot(), message)
    }

    fn mismatch(&self, expected: &str) -> Problem {
        let found = match self.value.get_ref() {
            DeValue::String(_) => "text in quotes",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        self.wrong(format!("`{}` must be {expected}, not {found}", self.key))
    }

    /// Text, as it is.
    pub(crate) fn string(&self) -> Result<&'a str, Problem> {
        let text = self.value.get_ref().as_str();
        text.ok_or_else(|| self.mismatch("text in quotes"))
    }

    /// Text for people: not empty, no control characters but line ends and tabs.
    pub(crate) fn text(&self) -> Result<String, Problem> {
        let text = self.string()?;
        if text.trim().is_empty() {
            return Err(self.wrong(format!("`{}` is empty; leave it out instead", self.key)));
        }
        if text
            .chars()
            .any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
        {
            return Err(self.wrong(format!("`{}` has control characters", self.key)));
        }
        Ok(text.to_owned())
    }

    /// An identifier.
    pub(crate) fn identifier(&self) -> Result<String, Problem> {
        let text = self.string()?;
        check_identifier(text).map_err(|it| self.wrong(format!("`{}` {it}", self.key)))?;
        Ok(text.to_owned())
    }

    /// A date: TOML's own, or in quotes.
    pub(crate) fn date_text(&self) -> Result<String, Problem> {
        match self.value.get_ref() {
            DeValue::Datetime(it) => Ok(it.to_string()),
            DeValue::String(it) => Ok(it.to_string()),
            _ => Err(self.mismatch("a date, as 2026-04-01")),
        }
    }

    /// Whether it is a list.
    pub(crate) fn is_list(&self) -> bool {
        self.value.get_ref().is_array()
    }

    /// Whether it is true or false.
    pub(crate) fn is_flag(&self) -> bool {
        self.value.get_ref().is_bool()
    }

    /// True or false.
    pub(crate) fn flag(&self) -> Result<bool, Problem> {
        let flag = self.value.get_ref().as_bool();
        flag.ok_or_else(|| self.mismatch("true or false"))
    }

    /// A finite number.
    pub(crate) fn number(&self) -> Result<f64, Problem> {
        let number = match self.value.get_ref() {
            DeValue::Integer(it) => i64::from_str_radix(it.as_str(), it.radix()).ok().map(|it| {
                #[expect(clippy::cast_precision_loss, reason = "far beyond every range checked")]
                let it = it as f64;
                it
            }),
            DeValue::Float(it) => it.as_str().parse().ok(),
            _ => return Err(self.mismatch("a number")),
        };
        number
            .filter(|it| it.is_finite())
            .ok_or_else(|| self.wrong(format!("`{}` must be a finite number", self.key)))
    }

    /// A number within limits.
    pub(crate) fn number_in(&self, range: RangeInclusive<f64>) -> Result<f64, Problem> {
        let number = self.number()?;
        if range.contains(&number) {
            return Ok(number);
        }
        Err(self.wrong(format!(
            "`{}` is {number}; it must be from {} to {}",
            self.key,
            range.start(),
            range.end()
        )))
    }

    /// A number above 0 and up to a limit.
    pub(crate) fn positive(&self, limit: f64) -> Result<f64, Problem> {
        let number = self.number()?;
        if number > 0.0 && number <= limit {
            return Ok(number);
        }
        let key = self.key;
        Err(self.wrong(if number > limit {
            format!("`{key}` is {number}; the limit is {limit}")
        } else {
            format!("`{key}` is {number}; it must be above 0")
        }))
    }

    /// A whole number from 1 to a limit.
    pub(crate) fn count(&self, limit: usize) -> Result<usize, Problem> {
        let DeValue::Integer(it) = self.value.get_ref() else {
            return Err(self.mismatch("a whole number"));
        };
        let count = usize::from_str_radix(it.as_str(), it.radix()).ok();
        count.filter(|it| (1..=limit).contains(it)).ok_or_else(|| {
            self.wrong(format!(
                "`{}` is {}; it must be a whole number from 1 to {limit}",
                self.key,
                it.as_str()
            ))
        })
    }

    /// A list.
    pub(crate) fn list(&self) -> Result<Vec<Self>, Problem> {
        let list = self.value.get_ref().as_array();
        let list = list.ok_or_else(|| self.mismatch("a list in [ ]"))?;
        let item = |value| Self { value, ..*self };
        Ok(list.iter().map(item).collect())
    }

    /// A list of a known number of values; `shape` says what they are.
    pub(crate) fn tuple<const N: usize>(&self, shape: &str) -> Result<[Self; N], Problem> {
        let list = self.list()?;
        let n = list.len();
        list.try_into()
            .map_err(|_| self.wrong(format!("`{}` must be {shape}, not {n} values", self.key)))
    }

    /// Two lengths in millimetres, both above 0.
    pub(crate) fn lengths(&self) -> Result<[f64; 2], Problem> {
        let [w, h]: [Self; 2] = self.tuple("[width, height]")?;
        Ok([w.positive(FAR_MM)?, h.positive(FAR_MM)?])
    }

    /// A point in millimetres.
    pub(crate) fn point(&self) -> Result<[f64; 2], Problem> {
        let [x, y]: [Self; 2] = self.tuple("[from the left, from the top]")?;
        Ok([
            x.number_in(-FAR_MM..=FAR_MM)?,
            y.number_in(-FAR_MM..=FAR_MM)?,
        ])
    }

    /// A table with known keys.
    pub(crate) fn table(
        &self,
        what: &'static str,
        known: &[&str],
        elsewhere: &[&str],
    ) -> Result<Table<'a>, Problem> {
        let entries = self.value.get_ref().as_table();
        let entries = entries.ok_or_else(|| self.mismatch("a table"))?;
        let span = self.value.span();
        Table::new(self.source, what, span, entries, known, elsewhere)
    }

    /// One of several words.
    pub(crate) fn one_of<T: Copy>(&self, choices: &[(&str, T)]) -> Result<T, Problem> {
        let word = self.string()?;
        if let Some((_, it)) = choices.iter().find(|(name, _)| *name == word) {
            return Ok(*it);
        }
        let known: Vec<&str> = choices.iter().map(|it| it.0).collect();
        let mut message = format!("`{}` can't be \"{}\"", self.key, shown(word));
        if let Some(near) = nearest(word, &known) {
            message += &format!("; did you mean \"{near}\"?");
        }
        Err(self
            .wrong(message)
            .with_hint(format!("Known: {}.", words(&known))))
    }
}

/// What is wrong with an identifier, as the end of a sentence.
pub(crate) fn check_identifier(text: &str) -> Result<(), String> {
    if text.is_empty() {
        return Err("is empty".to_owned());
    }
    if text.starts_with(['=', '+', '-', '@']) {
        return Err(format!(
            "\"{}\" can't start with = + - or @: spreadsheets would take it for a formula",
            shown(text)
        ));
    }
    if text.chars().any(char::is_control) {
        return Err(format!("\"{}\" has control characters", shown(text)));
    }
    if text.trim() != text {
        return Err(format!(
            "\"{}\" has blanks at its start or end",
            shown(text)
        ));
    }
    Ok(())
}
