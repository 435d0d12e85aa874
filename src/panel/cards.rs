//! Finding the card that a panel file names, and reading it.

use super::error::{PanelError, Problem, Problems};
use super::file::{self, Origin};
use super::source::{Source, shown, words};
use super::table::Value;
use super::{Panel, Place, PlacedCard, Side};
use std::path::{Path, PathBuf};

/// The cards that are part of the program.
const BUILT_IN: [(&str, &str); 3] = [
    ("chart-24", include_str!("../../calibration/chart-24.toml")),
    ("grey-18", include_str!("../../calibration/grey-18.toml")),
    (
        "white-grey-black",
        include_str!("../../calibration/white-grey-black.toml"),
    ),
];

const PLACES: [(&str, Place); 5] = [
    ("left", Place::Beside(Side::Left)),
    ("right", Place::Beside(Side::Right)),
    ("above", Place::Beside(Side::Top)),
    ("below", Place::Beside(Side::Bottom)),
    ("anywhere", Place::Anywhere),
];

/// Names of the cards that are part of the program.
#[must_use]
pub fn built_in_cards() -> Vec<&'static str> {
    BUILT_IN.iter().map(|it| it.0).collect()
}

/// One `[[card]]`. `folder` is where the panel file lies, if it is a file.
pub(super) fn placed(
    value: &Value<'_>,
    top: &[&str],
    folder: Option<&Path>,
) -> Result<PlacedCard, PanelError> {
    let table = value.table("[[card]]", &["card", "place", "at_mm", "turned"], top)?;
    if let Some(second) = table.both("place", "at_mm") {
        return Err(second
            .wrong("`place` and `at_mm` both say where the card lies; keep one")
            .into());
    }
    let place = match (table.get("place"), table.get("at_mm")) {
        (Some(place), _) => place.one_of(&PLACES)?,
        (None, Some(at)) => Place::AtMm(at.point()?),
        (None, None) => Place::Anywhere,
    };
    let turned = table.get("turned").map(|it| turn(&it)).transpose()?;
    let name = table.need("card", "the card's name or file")?;
    let card = read(&name, folder)?;
    Ok(PlacedCard {
        card,
        place,
        turned,
    })
}

fn turn(value: &Value<'_>) -> Result<u16, Problem> {
    let number = value.number()?;
    [0, 90, 180, 270]
        .into_iter()
        .find(|it| (f64::from(*it) - number).abs() < 1e-9)
        .ok_or_else(|| {
            value.wrong(format!(
                "`turned` is {number}; it must be 0, 90, 180 or 270"
            ))
        })
}

fn read(name: &Value<'_>, folder: Option<&Path>) -> Result<Panel, PanelError> {
    let word = name.string()?;
    let card = match find(word, folder) {
        Some(Found::File(path)) => {
            let source = Source::read(&path)
                .map_err(|it| name.wrong(format!("can't read the card: {it}")))?;
            let origin = Origin {
                path: Some(&path),
                is_card: true,
            };
            file::parse(&source, &origin)?
        }
        Some(Found::BuiltIn(text)) => {
            let source = Source::new(format!("card {word}"), text);
            let origin = Origin {
                path: None,
                is_card: true,
            };
            file::parse(&source, &origin)?
        }
        None => return Err(unknown(name, word, folder).into()),
    };
    if card.patches.iter().all(|it| it.known.is_none()) {
        let message = format!(
            "the card {} states no colour, so nothing can be learnt from it",
            card.id
        );
        return Err(name
            .wrong(message)
            .with_hint("Give its patches `lab`, `xyz` or `reflectance` from its data sheet.")
            .into());
    }
    Ok(card)
}

enum Found {
    File(PathBuf),
    BuiltIn(&'static str),
}

/// A path relative to the panel file, else a file beside it, else a card of the program.
fn find(word: &str, folder: Option<&Path>) -> Option<Found> {
    let beside = |file: &str| folder.map(|it| it.join(file)).filter(|it| it.is_file());
    if is_path(word) {
        return beside(word).map(Found::File);
    }
    let built_in = || BUILT_IN.iter().find(|it| it.0 == word);
    beside(&format!("{word}.toml"))
        .map(Found::File)
        .or_else(|| built_in().map(|it| Found::BuiltIn(it.1)))
}

fn is_path(word: &str) -> bool {
    word.contains('/') || word.ends_with(".toml")
}

fn unknown(name: &Value<'_>, word: &str, folder: Option<&Path>) -> Problem {
    let is_path = is_path(word);
    let word = shown(word);
    let folder = folder.map_or_else(String::new, |it| it.display().to_string());
    let here = if folder.is_empty() { "." } else { &folder };
    let message = if is_path {
        format!("there is no card file \"{word}\" (looked for from {here})")
    } else {
        format!("there is no card \"{word}\": no {word}.toml in {here}, nor one built in")
    };
    name.wrong(message).with_hint(format!(
        "Built in: {}. Any other card is a file of yours: `card = \"my-card.toml\"`.",
        words(&built_in_cards())
    ))
}

/// What lies where: a card at a stated place may not cover a patch or another such card.
pub(super) fn check_places(panel: &Panel, spots: &[super::error::Spot], problems: &mut Problems) {
    for (i, placed) in panel.cards.iter().enumerate() {
        let Some(outer) = placed.outer() else {
            continue;
        };
        let spot = || spots[i].clone();
        let covered = panel
            .patches
            .iter()
            .find(|it| !it.empty && super::overlap(&it.rect, &outer));
        if let Some(patch) = covered {
            let message = format!("the card {} would cover patch {}", placed.card.id, patch.id);
            problems.add(Problem::new(spot(), message).with_hint(
                "`at_mm` is from A1's top left corner to the card's, positive to the right and down.",
            ));
        }
        let other = panel.cards[..i]
            .iter()
            .find(|it| it.outer().is_some_and(|it| super::overlap(&it, &outer)));
        if let Some(other) = other {
            let message = format!("the cards {} and {} overlap", other.card.id, placed.card.id);
            problems.add(Problem::new(spot(), message));
        }
    }
}

/// A card holds no cards: a chain of them could come back to its start.
pub(super) fn refuse_nested(value: &Value<'_>) -> Problem {
    value.wrong("a card can't name cards itself")
}
