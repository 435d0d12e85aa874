//! `library near`.

use super::super::failure::{Exit, Failure};
use super::filter::{Filters, Form, Said, print};
use super::{failure, open};
use masstone::colour::{Lab, Matrix, css};
use masstone::library::near::{self, Target};
use masstone::library::{Library, LibraryError};
use masstone::record::csv::word;
use masstone::record::{Half, json};
use std::path::Path;

/// Find the swatches nearest to a colour.
///
/// The colour is L* a* b* (three numbers, D50; apart or in quotes), a CSS colour such as '#c65d06' or 'lab(52 40 60)', a swatch (its number, PANEL/PATCH or
/// name), or a patch of a record: RECORD.json PATCH [HALF].
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The colour.
    #[arg(required = true, num_args = 1..=3, value_name = "COLOUR", allow_negative_numbers = true)]
    colour: Vec<String>,
    #[command(flatten)]
    filters: Filters,
    /// At most so many.
    #[arg(long, value_name = "N", default_value_t = 10)]
    count: usize,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    let target = target(&args.colour, &library, place)?;
    let filter = args.filters.filter(&library, place)?;
    let near = library
        .near(&target, &filter, args.count)
        .map_err(failure(place))?;
    let wanted = library
        .colour_of(&target, &filter)
        .map_err(failure(place))?;
    if near.is_empty() && args.format == Form::Table {
        args.filters.nothing(&library, place)?;
        return Ok(Exit::Done);
    }
    let said: Vec<Said<'_>> = near
        .iter()
        .map(|it| Said {
            listed: &it.listed,
            near: Some((it.delta_e, it.told_apart)),
        })
        .collect();
    print(&said, Some(wanted), args.format, &library, place)?;
    Ok(Exit::Done)
}

/// The colour that a user's words mean.
pub(in crate::cli) fn target(
    words: &[String],
    library: &Library,
    place: &Path,
) -> Result<Target, Failure> {
    let wanted = |lab| {
        near::is_of_a_surface(lab).map_err(failure(place))?;
        Ok(Target::Colour(lab, Matrix::zeros()))
    };
    if let Some([l, a, b]) = numbers(words) {
        return wanted(Lab::new(l, a, b));
    }
    let file = Path::new(&words[0]);
    let is_record = file
        .extension()
        .is_some_and(|it| it.eq_ignore_ascii_case("json") || it.eq_ignore_ascii_case("jsonl"));
    match words {
        [_, patch] if is_record => of_record(file, patch, None),
        [_, patch, half] if is_record => of_record(file, patch, Some(half)),
        [one] => match (library.find_swatch(one), css::parse(one)) {
            (Ok(swatch), _) => Ok(Target::Swatch(swatch.id)),
            (Err(LibraryError::Unknown(..)), Some(lab)) => wanted(lab),
            (Err(error), _) => Err(failure(place)(error)),
        },
        _ => Err(Failure::usage(
            anyhow::anyhow!("{} is no colour", words.join(" ")),
            "Give L* a* b*, a CSS colour in quotes, a swatch, or RECORD.json PATCH [HALF].",
        )),
    }
}

/// Three numbers, apart or in one argument, with commas between them or in them.
fn numbers(words: &[String]) -> Option<[f64; 3]> {
    let text = words.join(" ");
    let between = |it: char| it.is_whitespace() || it == ';';
    let parts = |between: &dyn Fn(char) -> bool| -> Vec<String> {
        text.split(between)
            .filter(|it| !it.is_empty())
            .map(str::to_owned)
            .collect()
    };
    let mut found = parts(&between);
    if found.len() == 3 {
        // `40, 30, 20`, and `40,5 30 20` as people write decimals.
        for it in &mut found {
            *it = it.trim_end_matches(',').replace(',', ".");
        }
    } else {
        found = parts(&|it| between(it) || it == ',');
    }
    let number = |it: &String| it.parse().ok().filter(|it: &f64| it.is_finite());
    let numbers: Vec<f64> = found.iter().map(number).collect::<Option<_>>()?;
    numbers.try_into().ok()
}

/// A patch as a record has it: of several readings, the one with the smallest U95.
fn of_record(file: &Path, patch: &str, half: Option<&str>) -> Result<Target, Failure> {
    let record = json::read(file).map_err(|it| {
        let hint = it.hint();
        Failure::usage(it, hint)
    })?;
    let matches = |it: Half| half.is_none_or(|half| word(&it) == half);
    let reading = record
        .readings
        .iter()
        .filter(|it| it.patch == patch && matches(it.half) && it.lab().is_some())
        .min_by(|a, b| {
            let u95 = |it: Option<f64>| it.unwrap_or(f64::INFINITY);
            u95(a.u95).total_cmp(&u95(b.u95))
        });
    let found = reading.and_then(|it| {
        let both = [it.cov_own?, it.cov_common?];
        let covariance = Matrix::from_fn(|row, column| both[0][row][column] + both[1][row][column]);
        Some(Target::Colour(it.lab()?, covariance))
    });
    found.ok_or_else(|| {
        Failure::usage(
            anyhow::anyhow!("{} has no colour of a patch {patch}", file.display()),
            "Give the patch's id, and masked, exposed or whole.",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_numbers_in_every_way_of_writing() {
        let of = |words: &[&str]| {
            let words: Vec<String> = words.iter().map(|it| (*it).to_owned()).collect();
            numbers(&words)
        };
        let wanted = Some([40.5, -30.0, 20.25]);
        for words in [
            &["40.5", "-30", "20.25"][..],
            &["40.5 -30 20.25"],
            &["40.5,-30,20.25"],
            &["40.5, -30, 20.25"],
            &["40.5,", "-30,", "20.25"],
            &["40,5", "-30", "20,25"],
            &["40,5; -30; 20,25"],
            &["40.5;-30;20.25"],
        ] {
            assert_eq!(of(words), wanted, "{words:?}");
        }
        for words in [
            &["40"][..],
            &["40 30"],
            &["1 2 3 4"],
            &["a b c"],
            &["nan 0 0"],
            &["#123"],
        ] {
            assert_eq!(of(words), None, "{words:?}");
        }
    }
}
