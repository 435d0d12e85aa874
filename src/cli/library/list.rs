//! `library list`.

use super::super::failure::{Exit, Failure};
use super::filter::{Filters, Form, Said, print};
use super::{failure, open};
use masstone::library::find::Sort;
use std::path::Path;

/// List swatches.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    filters: Filters,
    /// What to sort by.
    #[arg(long, value_enum, default_value_t = By::Number)]
    sort: By,
    /// The other way round.
    #[arg(long)]
    reverse: bool,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

/// What to sort by.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum By {
    Number,
    Name,
    Recipe,
    Lightness,
    Chroma,
    Hue,
    Uncertainty,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    let sort = match args.sort {
        By::Number => Sort::Number,
        By::Name => Sort::Name,
        By::Recipe => Sort::Recipe,
        By::Lightness => Sort::Lightness,
        By::Chroma => Sort::Chroma,
        By::Hue => Sort::Hue,
        By::Uncertainty => Sort::U95,
    };
    let mut list = library
        .list(&args.filters.filter(&library, place)?, sort)
        .map_err(failure(place))?;
    if args.reverse {
        list.reverse();
    }
    if list.is_empty() && args.format == Form::Table {
        args.filters.nothing(&library, place)?;
        return Ok(Exit::Done);
    }
    let said: Vec<Said<'_>> = list
        .iter()
        .map(|listed| Said { listed, near: None })
        .collect();
    print(&said, None, args.format, &library, place)?;
    Ok(Exit::Done)
}
