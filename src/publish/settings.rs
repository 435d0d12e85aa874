//! The settings file: title, text, order, what to show, an accent, and what a shop says of its packs.

use super::PublishError;
use crate::colour::{Lab, css};
use crate::panel::error::{Problem, Problems, Spot};
use crate::panel::source::{Source, shown, words};
use crate::panel::table::{Table, Value};
use std::path::Path;

/// Most grams in a pack: a tonne.
const MOST_PACK_G: f64 = 1e6;

/// What a user says of a site. The default says nothing: all that cured, by number.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Settings {
    /// Above all pages.
    pub title: Option<String>,
    /// Introduces the range, a paragraph an entry.
    pub text: Vec<String>,
    /// The workshop's own page.
    pub home: Option<String>,
    /// The colour of links and marks.
    pub accent: Option<Lab>,
    /// Swatches that come first, in this order.
    pub order: Vec<Named>,
    /// Swatches that are not published.
    pub leave_out: Vec<Named>,
    /// What is shown beside the colours.
    pub show: Show,
    /// What is said of single swatches.
    pub swatches: Vec<OfSwatch>,
    /// What is said of pigments.
    pub pigments: Vec<OfPigment>,
}

/// A swatch as a user names it: by number, `PANEL/PATCH` or name.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// The name.
    pub word: String,
    /// Where it stands.
    pub spot: Spot,
}

/// What is shown beside the colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "a user switches each of them by itself"
)]
pub struct Show {
    /// Coating without pigment, too.
    pub controls: bool,
    /// Coats that did not cure, too.
    pub failed: bool,
    /// What the sun did.
    pub exposure: bool,
    /// The same pigments at other loads.
    pub loads: bool,
    /// Whether pigments are in stock.
    pub stock: bool,
}

impl Default for Show {
    fn default() -> Self {
        Self {
            controls: false,
            failed: false,
            exposure: true,
            loads: true,
            stock: true,
        }
    }
}

/// What is said of a swatch.
#[derive(Clone, Debug, PartialEq)]
pub struct OfSwatch {
    /// Which.
    pub swatch: Named,
    /// A name for the page, in place of the library's.
    pub name: Option<String>,
    /// A paragraph an entry.
    pub text: Vec<String>,
    /// Where it is sold.
    pub shop: Option<String>,
}

/// What is said of a pigment.
#[derive(Clone, Debug, PartialEq)]
pub struct OfPigment {
    /// Its id, as panel files have it.
    pub pigment: Named,
    /// Grams in a pack.
    pub pack_g: Option<f64>,
    /// Price of a pack, in words.
    pub price: Option<String>,
    /// Where it is sold.
    pub shop: Option<String>,
}

const TOP: [&str; 9] = [
    "title",
    "text",
    "home",
    "accent",
    "order",
    "leave_out",
    "show",
    "swatch",
    "pigment",
];
const OF_SWATCH: [&str; 4] = ["swatch", "name", "text", "shop"];
const OF_PIGMENT: [&str; 4] = ["pigment", "pack_g", "price", "shop"];
const SHOW: [&str; 5] = ["controls", "failed", "exposure", "loads", "stock"];

impl Settings {
    /// Reads a settings file.
    ///
    /// # Errors
    ///
    /// Everything that is wrong with it, each with its line.
    pub fn read(path: &Path) -> Result<Self, PublishError> {
        let source = Source::read(path)?;
        Self::of(&source)
    }

    fn of(source: &Source) -> Result<Self, PublishError> {
        let document = source.parse()?;
        let top = Table::new(source, "the settings", 0..0, document.get_ref(), &TOP, &[])?;
        let mut problems = Problems::default();
        let settings = Self {
            title: text(&top, "title", &mut problems),
            text: paragraphs(&top, &mut problems),
            home: link(&top, "home", &mut problems),
            accent: (top.get("accent")).and_then(|it| problems.keep(colour(&it))),
            order: names(&top, "order", &mut problems),
            leave_out: names(&top, "leave_out", &mut problems),
            show: show(&top, &mut problems),
            swatches: items(
                &top,
                "swatch",
                &OF_SWATCH,
                &mut problems,
                |table, problems| {
                    let swatch = problems
                        .keep(table.need("swatch", "its number, \"PANEL/PATCH\" or name"))?;
                    Some(OfSwatch {
                        swatch: problems.keep(named(&swatch))?,
                        name: text(table, "name", problems),
                        text: paragraphs(table, problems),
                        shop: link(table, "shop", problems),
                    })
                },
            ),
            pigments: items(
                &top,
                "pigment",
                &OF_PIGMENT,
                &mut problems,
                |table, problems| {
                    let pigment =
                        problems.keep(table.need("pigment", "its name in the panel files"))?;
                    Some(OfPigment {
                        pigment: problems.keep(named(&pigment))?,
                        pack_g: (table.get("pack_g"))
                            .and_then(|it| problems.keep(it.positive(MOST_PACK_G))),
                        price: text(table, "price", problems),
                        shop: link(table, "shop", problems),
                    })
                },
            ),
        };
        twice(&settings, &mut problems);
        let problems = problems.into_list();
        if problems.is_empty() {
            Ok(settings)
        } else {
            Err(PublishError::Settings(problems))
        }
    }
}

/// The tables of `[[key]]`, each as `read` makes it.
fn items<T>(
    top: &Table<'_>,
    key: &'static str,
    known: &[&str],
    problems: &mut Problems,
    read: impl Fn(&Table<'_>, &mut Problems) -> Option<T>,
) -> Vec<T> {
    let mut all = Vec::new();
    for item in top.items(key, problems) {
        let table = item.table(key, known, &[]);
        let table = problems.keep(table);
        all.extend(table.and_then(|it| read(&it, problems)));
    }
    all
}

fn text(table: &Table<'_>, key: &str, problems: &mut Problems) -> Option<String> {
    problems.keep(table.get(key)?.text())
}

/// Text in paragraphs, between empty lines.
fn paragraphs(table: &Table<'_>, problems: &mut Problems) -> Vec<String> {
    let text = text(table, "text", problems).unwrap_or_default();
    let mut all: Vec<String> = vec![String::new()];
    for line in text.lines().map(str::trim) {
        match all.last_mut() {
            Some(last) if line.is_empty() && last.is_empty() => {}
            Some(_) if line.is_empty() => all.push(String::new()),
            Some(last) => {
                if !last.is_empty() {
                    last.push(' ');
                }
                last.push_str(line);
            }
            None => {}
        }
    }
    all.retain(|it| !it.is_empty());
    all
}

/// An address that a page may link to: nothing that a browser would run.
fn link(table: &Table<'_>, key: &str, problems: &mut Problems) -> Option<String> {
    let value = table.get(key)?;
    let text = problems.keep(value.text())?;
    let plain = text.trim().to_owned();
    let starts = ["https://", "http://", "mailto:"];
    let lower = plain.to_lowercase();
    let fits = starts.iter().any(|it| lower.starts_with(it))
        && !plain
            .chars()
            .any(|it| it.is_whitespace() || it.is_control());
    if !fits {
        problems.add(
            value
                .wrong(format!(
                    "`{key}` is no address to link to: {}",
                    shown(&plain)
                ))
                .with_hint(format!(
                    "It begins with {} and holds no spaces.",
                    words(&starts)
                )),
        );
        return None;
    }
    Some(plain)
}

fn colour(value: &Value<'_>) -> Result<Lab, Problem> {
    let text = value.string()?;
    css::parse(text).ok_or_else(|| {
        value
            .wrong(format!("`accent` is no colour: {}", shown(text)))
            .with_hint("Write it as CSS does, such as \"#2f6b4f\" or \"lab(40 -28 12)\".")
    })
}

/// A name in quotes, or a number.
fn named(value: &Value<'_>) -> Result<Named, Problem> {
    let word = match value.count(usize::MAX) {
        Ok(number) => number.to_string(),
        Err(_) => value.text()?.trim().to_owned(),
    };
    Ok(Named {
        word,
        spot: value.spot(),
    })
}

fn names(top: &Table<'_>, key: &str, problems: &mut Problems) -> Vec<Named> {
    let list = top.get(key).map(|it| it.list());
    let list = list.and_then(|it| problems.keep(it)).unwrap_or_default();
    (list.iter())
        .filter_map(|it| problems.keep(named(it)))
        .collect()
}

fn show(top: &Table<'_>, problems: &mut Problems) -> Show {
    let Some(value) = top.get("show") else {
        return Show::default();
    };
    let mut show = Show {
        controls: false,
        failed: false,
        exposure: false,
        loads: false,
        stock: false,
    };
    let items = problems.keep(value.list()).unwrap_or_default();
    let choices: Vec<(&str, usize)> = SHOW.iter().copied().zip(0..).collect();
    for it in items {
        match problems.keep(it.one_of(&choices)) {
            Some(0) => show.controls = true,
            Some(1) => show.failed = true,
            Some(2) => show.exposure = true,
            Some(3) => show.loads = true,
            Some(_) => show.stock = true,
            None => {}
        }
    }
    show
}

/// What is said twice of one thing: nobody could tell which holds.
fn twice(settings: &Settings, problems: &mut Problems) {
    let swatches = settings.swatches.iter().map(|it| ("swatch", &it.swatch));
    let pigments = settings.pigments.iter().map(|it| ("pigment", &it.pigment));
    let mut seen: Vec<(&str, &Named)> = Vec::new();
    for (what, it) in swatches.chain(pigments) {
        let before = (seen.iter()).find(|(of, other)| *of == what && other.word == it.word);
        if let Some((_, before)) = before {
            let line = before.spot.line.unwrap_or_default();
            let message = format!(
                "the {what} {} was described in line {line} already",
                shown(&it.word)
            );
            problems
                .add(Problem::new(it.spot.clone(), message).with_hint("Put it into one place."));
        }
        seen.push((what, it));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Settings, PublishError> {
        Settings::of(&Source::new("site.toml", text))
    }

    #[test]
    fn everything_that_can_be_said() {
        let settings = read(
            r##"
title = "Larch colours"
text = """
One
line.

Two <b>."""
home = "https://example.org/"
accent = "#2f6b4f"
order = [12, "larch/A3", "Red oxide"]
leave_out = ["larch/C8"]
show = ["exposure", "controls"]
[[swatch]]
swatch = 12
name = "Barn red"
text = "For gates."
shop = "https://example.org/barn-red"
[[pigment]]
pigment = "PR101"
pack_g = 250
price = "9.50 €"
"##,
        )
        .unwrap();
        assert_eq!(settings.text, ["One line.", "Two <b>."]);
        let order: Vec<&str> = settings.order.iter().map(|it| it.word.as_str()).collect();
        assert_eq!(order, ["12", "larch/A3", "Red oxide"]);
        assert!(settings.show.exposure && settings.show.controls && !settings.show.loads);
        assert_eq!(settings.swatches[0].name.as_deref(), Some("Barn red"));
        assert_eq!(settings.pigments[0].pack_g, Some(250.0));
        assert_eq!(read("").unwrap(), Settings::default());
    }

    #[test]
    fn what_is_wrong_is_said_with_its_line() {
        for (text, line, what) in [
            ("titel = \"x\"", 1, "did you mean `title`"),
            (
                "\nhome = \"javascript:alert(1)\"",
                2,
                "no address to link to",
            ),
            ("home = \"https://a b\"", 1, "no address to link to"),
            ("accent = \"reddish\"", 1, "`accent` is no colour"),
            ("show = [\"load\"]", 1, "loads"),
            ("order = 5", 1, "must be a list"),
            ("[[swatch]]\nname = \"x\"", 1, "`swatch` is missing"),
            ("[[pigment]]\npigment = \"PR101\"\npack_g = 0", 3, "pack_g"),
            (
                "[[swatch]]\nswatch = 3\n[[swatch]]\nswatch = \"3\"",
                4,
                "described in line 2 already",
            ),
        ] {
            let Err(PublishError::Settings(problems)) = read(text) else {
                panic!("{text} was read");
            };
            let all: Vec<String> = problems.iter().map(ToString::to_string).collect();
            assert!(all[0].contains(what), "{text}: {all:?}");
            assert_eq!(problems[0].spot.line, Some(line), "{text}: {all:?}");
        }
    }
}
