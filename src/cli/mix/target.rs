//! The colour that a recipe is wanted for: said, or measured in a photo.

use super::super::failure::{Exit, Failure};
use super::super::library;
use masstone::colour::{Lab, Matrix};
use masstone::flag::Flag;
use masstone::geometry::Rect;
use masstone::library::Library;
use masstone::library::find::{Filter, Sort};
use masstone::library::near::{self, Target};
use masstone::measure::spot::{Spot, spot};
use masstone::record::PhotoRecord;
use std::path::PathBuf;

/// What is wanted.
#[derive(Debug, clap::Args)]
pub(super) struct TargetArgs {
    /// The colour: L* a* b* (D50; apart, in quotes or with commas), a CSS colour such as '#8a4a2f', a swatch (swatch:12, PANEL/PATCH or its
    /// name), or a patch of a record (RECORD.json:PATCH). Or --photo instead.
    #[arg(num_args = 0..=3, value_name = "TARGET", allow_negative_numbers = true, conflicts_with = "photo")]
    target: Vec<String>,

    /// Measure the colour in this photo: a sample or a finished piece beside a card.
    #[arg(
        long,
        value_name = "FILE",
        requires = "card_at",
        requires = "spot",
        help_heading = "Photo"
    )]
    photo: Option<PathBuf>,

    /// The card in the photo: one that is built in, or a card file.
    #[arg(
        long,
        value_name = "CARD",
        default_value = "grey-18",
        help_heading = "Photo"
    )]
    card: String,

    /// Where the card is, in pixels of the upright picture: its outer edge; of a card of one colour any part of it.
    #[arg(long, value_name = "X,Y,W,H", value_parser = place, allow_hyphen_values = true, requires = "photo", help_heading = "Photo")]
    card_at: Option<Rect>,

    /// Where the sample is, in pixels of the upright picture.
    #[arg(long, value_name = "X,Y,W,H", value_parser = place, allow_hyphen_values = true, requires = "photo", help_heading = "Photo")]
    spot: Option<Rect>,

    /// Keep what was measured in the library, as a swatch of unknown pigments with this name.
    #[arg(long, value_name = "NAME", requires = "photo", help_heading = "Photo")]
    save: Option<String>,
}

/// A wanted colour.
#[derive(Clone, Debug)]
pub(super) struct Wanted {
    /// In words.
    pub(super) words: String,
    pub(super) lab: Lab,
    /// Zero for one that is simply wanted.
    pub(super) covariance: Matrix,
    /// What a reader must know of it, as full sentences.
    pub(super) notes: Vec<String>,
}

impl TargetArgs {
    /// Measures the spot, if there is a photo: before the library is opened, which may take what was measured.
    pub(super) fn measured(&self) -> Result<Option<PhotoRecord>, Failure> {
        let (Some(photo), Some(card_at), Some(at)) = (&self.photo, self.card_at, self.spot) else {
            return Ok(None);
        };
        let meant = Spot {
            name: self.save.clone().unwrap_or_else(|| "sample".to_owned()),
            card: self.card.clone(),
            card_at,
            at,
        };
        let record = spot(photo, &meant).map_err(|it| {
            let hint = it.hint();
            match it {
                masstone::measure::spot::SpotError::Photo(_)
                | masstone::measure::spot::SpotError::NoColour { .. } => Failure::work(it, hint),
                _ => Failure::usage(it, hint),
            }
        })?;
        Ok(Some(record))
    }

    /// Keeps what was measured, if it is to be kept.
    pub(super) fn save(
        &self,
        record: &PhotoRecord,
        library: &mut Library,
    ) -> Result<Exit, Failure> {
        if self.save.is_none() {
            return Ok(Exit::Done);
        }
        let report = library
            .add(std::slice::from_ref(record))
            .map_err(library::failure(library.path()))?;
        Ok(library::tell(&report, 0, library, "saved"))
    }

    /// The wanted colour.
    pub(super) fn wanted(
        &self,
        measured: Option<&PhotoRecord>,
        library: &Library,
    ) -> Result<Wanted, Failure> {
        match measured {
            Some(record) => of_spot(record),
            None => said(&self.target, library),
        }
    }
}

/// The colour of the only patch of a spot's record.
fn of_spot(record: &PhotoRecord) -> Result<Wanted, Failure> {
    let found = record.readings.first().and_then(|it| {
        let [own, common] = [it.cov_own?, it.cov_common?];
        let covariance = Matrix::from_fn(|row, column| own[row][column] + common[row][column]);
        Some((it.lab()?, covariance, it.flags.clone()))
    });
    let Some((lab, covariance, flags)) = found else {
        return Err(Failure::work(
            anyhow::anyhow!("the spot has no colour"),
            "Mark another part of it.",
        ));
    };
    let mut notes: Vec<String> = (record.photo.doubts.iter())
        .map(|it| format!("Doubtful of the photo: {it}."))
        .collect();
    if !flags.is_empty() {
        let words: Vec<String> = flags.iter().map(masstone::record::csv::word).collect();
        notes.push(format!("Flags of the spot: {}.", words.join(", ")));
    }
    if flags.contains(&Flag::Uneven) {
        notes.insert(
            0,
            "The spot is not of one colour. Does all of the box lie on the sample? What is wanted may be the colour of nothing in it.".to_owned(),
        );
    }
    Ok(Wanted {
        words: format!("a spot of {}", record.photo.path),
        lab,
        covariance,
        notes,
    })
}

/// A colour that a user's words mean.
pub(super) fn said(words: &[String], library: &Library) -> Result<Wanted, Failure> {
    if words.is_empty() {
        return Err(Failure::usage(
            anyhow::anyhow!("no colour is wanted"),
            "Say L,a,b, a CSS colour in quotes, swatch:N or RECORD.json:PATCH; or measure one with --photo FILE --card-at X,Y,W,H --spot X,Y,W,H.",
        ));
    }
    let split = apart(words);
    let target = library::target(&split, library, library.path()).map_err(|it| {
        it.and("A colour for `mix match` may also be swatch:N or RECORD.json:PATCH.")
    })?;
    let words = words.join(" ");
    let (lab, covariance, words) = match target {
        Target::Colour(lab, covariance) => (lab, covariance, words),
        Target::Swatch(id) => {
            let all = library
                .list(&Filter::default(), Sort::Number)
                .map_err(library::failure(library.path()))?;
            let found = all.into_iter().find(|it| it.swatch.id == id);
            let found = found.ok_or_else(|| {
                Failure::usage(
                    anyhow::anyhow!("swatch {id} has no colour as made"),
                    "`masstone library show` lists the ages that were measured.",
                )
            })?;
            let name = found.swatch.name.map(|it| format!(", {it}"));
            (
                found.lab,
                found.covariance,
                format!("swatch {id}{}", name.unwrap_or_default()),
            )
        }
    };
    near::is_of_a_surface(lab).map_err(library::failure(library.path()))?;
    Ok(Wanted {
        words,
        lab,
        covariance,
        notes: Vec::new(),
    })
}

/// `swatch:12` and `RECORD.json:PATCH[:HALF]` in the words of `library near`.
fn apart(words: &[String]) -> Vec<String> {
    let [one] = words else {
        return words.to_vec();
    };
    if let Some(swatch) = one.strip_prefix("swatch:") {
        return vec![swatch.to_owned()];
    }
    for ending in [".json:", ".jsonl:"] {
        let Some((file, patch)) = one.split_once(ending) else {
            continue;
        };
        let file = format!("{file}{}", ending.trim_end_matches(':'));
        let half = ["whole", "masked", "exposed"].into_iter().find_map(|half| {
            let patch = patch.strip_suffix(half)?.strip_suffix(':')?;
            Some(vec![file.clone(), patch.to_owned(), half.to_owned()])
        });
        return half.unwrap_or_else(|| vec![file, patch.to_owned()]);
    }
    words.to_vec()
}

/// Parses `X,Y,W,H`.
fn place(text: &str) -> Result<Rect, String> {
    const HINT: &str =
        "say X,Y,WIDTH,HEIGHT in pixels of the upright picture, such as 400,300,80,80";
    let numbers: Option<Vec<f64>> = text
        .split(',')
        .map(|it| it.trim().parse().ok().filter(|it: &f64| it.is_finite()))
        .collect();
    match numbers.as_deref() {
        Some([x, y, width, height]) if *width > 0.0 && *height > 0.0 => Ok(Rect {
            x: *x,
            y: *y,
            width: *width,
            height: *height,
        }),
        _ => Err(HINT.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_are_taken_apart_as_library_near_takes_them() {
        let of = |it: &str| apart(&[it.to_owned()]);
        assert_eq!(of("swatch:12"), ["12"]);
        assert_eq!(of("a b/fresh.json:A1"), ["a b/fresh.json", "A1"]);
        assert_eq!(of("fresh.jsonl:A1:masked"), ["fresh.jsonl", "A1", "masked"]);
        assert_eq!(of("fresh.json:a:b"), ["fresh.json", "a:b"]);
        assert_eq!(of("38,41,26"), ["38,41,26"]);
        assert_eq!(of("#8a4a2f"), ["#8a4a2f"]);
    }

    #[test]
    fn places_are_four_numbers() {
        let it = place("10, 20,30.5,40").unwrap();
        assert!((it.x - 10.0).abs() < 1e-12 && (it.width - 30.5).abs() < 1e-12);
        for bad in ["", "1,2,3", "1,2,3,0", "1,2,-3,4", "a,b,c,d", "1,2,3,4,5"] {
            assert!(place(bad).is_err(), "{bad}");
        }
    }
}
