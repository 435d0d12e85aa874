//! `mix match`.

use super::super::columns::{Columns, Stand, one_line};
use super::super::failure::{Exit, Failure};
use super::super::library::json;
use super::super::stdout;
use super::super::table::Terminal;
use super::options::{Film, Format, hours, of_fades, of_shelf, prepared};
use super::target::TargetArgs;
use super::words;
use masstone::mix::Model;
use masstone::mix::answer::{Answer, ReachWord};
use masstone::mix::recipes::{Ageing, Asked, Recipes, Row, recipes};
use masstone::mix::search::{Change, Order, SearchError};
use masstone::mix::shelf::{Seasons, Shelf};
use masstone::mix::{age::AgedModel, fades};
use masstone::plan::Balance;
use std::io::{self, Write};
use std::path::Path;

/// Find recipes for a wanted colour.
///
/// Looks through all combinations of up to three pigments that may be taken. Recipes that can't be told from each other by the target's
/// own uncertainty and theirs stand in one group. Where nothing reaches the colour, the nearest and what is lacking.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    target: TargetArgs,

    #[command(flatten)]
    film: Film,

    /// The colour is wanted after so many hours of exposure, not as made.
    #[arg(long, value_name = "H", value_parser = hours)]
    hours: Option<f64>,

    /// At most so many pigments in a recipe.
    #[arg(long, value_name = "N", default_value_t = 3, value_parser = clap::value_parser!(u8).range(1..=3), help_heading = "Choice")]
    pigments_at_most: u8,

    /// Which of recipes that can't be told apart comes first.
    #[arg(
        long,
        value_name = "WHAT",
        default_value = "nearest",
        help_heading = "Choice"
    )]
    prefer: Prefer,

    /// A pigment that every recipe is to have.
    #[arg(long, value_name = "PIGMENT", help_heading = "Choice")]
    base: Option<String>,

    /// Leave out pigments of which none is left.
    #[arg(long, help_heading = "Choice")]
    in_stock: bool,

    /// Take pigments, too, of which no load is known to cure.
    #[arg(long, help_heading = "Choice")]
    allow_untested: bool,

    /// Take loads, too, that are beyond the tested limits; they are marked.
    #[arg(long, help_heading = "Choice")]
    allow_beyond: bool,

    /// At most so many recipes.
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=1000), help_heading = "Choice")]
    count: u16,

    /// Coating to be tinted, before pigment, g.
    #[arg(
        long,
        value_name = "GRAMS",
        default_value = "500",
        help_heading = "Batch"
    )]
    batch: f64,

    /// The step of the balance's display, g.
    #[arg(
        long,
        value_name = "STEP",
        default_value = "0.01",
        help_heading = "Batch"
    )]
    balance: f64,

    /// How it is written.
    #[arg(long, value_name = "FORM", default_value = "table")]
    format: Format,
}

/// Values of `--prefer`.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum Prefer {
    Nearest,
    Fewest,
    Lightfast,
    Cheapest,
}

impl From<Prefer> for Order {
    fn from(it: Prefer) -> Self {
        match it {
            Prefer::Nearest => Self::Nearest,
            Prefer::Fewest => Self::FewestPigments,
            Prefer::Lightfast => Self::MostLightfast,
            Prefer::Cheapest => Self::Cheapest,
        }
    }
}

/// Runs the command.
pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let balance = Balance::new(args.balance, None).map_err(|it| {
        let hint = it.hint();
        Failure::usage(it, hint)
    })?;
    let measured = args.target.measured()?;
    let mut library = super::super::library::open(place)?;
    let wanted = args.target.wanted(measured.as_ref(), &library)?;
    // Before anything else can go wrong: the customer's sample may be gone tomorrow.
    let saved = match &measured {
        Some(record) => args.target.save(record, &mut library)?,
        None => Exit::Done,
    };
    let (shelf, model) = prepared(&library, args.film.coating.as_deref())?;
    if let Some(base) = &args.base {
        shelf.has_pigment(base).map_err(of_shelf)?;
    }
    let meant = args.film.meant(&shelf)?;
    let mut notes = wanted.notes;
    notes.extend(meant.note);
    let seasons = Seasons::of(&library, &shelf).map_err(of_shelf)?;
    let known = known(args.hours, seasons.as_ref(), &model, &mut notes)?;
    let asked = Asked {
        words: wanted.words,
        lab: wanted.lab,
        covariance: wanted.covariance,
        ground: meant.ground,
        g_per_m2: meant.g_per_m2,
        batch_g: args.batch,
        balance,
        most_pigments: args.pigments_at_most.into(),
        base: args.base.clone(),
        in_stock: args.in_stock,
        allow_untested: args.allow_untested,
        allow_beyond: args.allow_beyond,
        order: args.prefer.into(),
        count: args.count.into(),
    };
    let answer = recipes(&shelf, &model, &known.ageing(), &asked, notes).map_err(of_search)?;
    match args.format {
        Format::Json => json(&Answer::Match(Box::new(answer)))?,
        Format::Table => {
            let terminal = Terminal::of_stdout();
            stdout::write(|out| write(&answer, &shelf, terminal, out))?;
        }
    }
    Ok(saved)
}

fn of_search(error: SearchError) -> Failure {
    let hint = error.hint();
    Failure::usage(error, hint)
}

/// What is known of ageing.
#[derive(Default)]
struct Known {
    /// Where the aged colour is the wanted one: hours, and what everything looks like after them.
    aged: Option<(f64, AgedModel)>,
    fastness: Vec<(String, Change)>,
}

impl Known {
    fn ageing(&self) -> Ageing<'_> {
        Ageing {
            after: self.aged.as_ref().map(|(hours, model)| (*hours, model)),
            fastness: self.fastness.clone(),
        }
    }
}

/// At the hours that are asked for; else, for comparing pigments only, at those that all of them have seen.
fn known(
    asked: Option<f64>,
    seasons: Option<&Seasons>,
    model: &Model,
    notes: &mut Vec<String>,
) -> Result<Known, Failure> {
    let Some(seasons) = seasons else {
        return match asked {
            Some(_) => Err(of_fades(fades::FadesError::Nothing)),
            None => Ok(Known::default()),
        };
    };
    if let Some(hours) = asked {
        let (film, of_film) = seasons.at(model, hours).map_err(of_fades)?;
        notes.extend(of_film);
        return Ok(Known {
            fastness: fastness(&film, hours),
            aged: Some((hours, film)),
        });
    }
    let film = seasons
        .common_hours()
        .and_then(|hours| Some((seasons.at(model, hours).ok()?.0, hours)));
    Ok(Known {
        aged: None,
        fastness: film.map_or_else(Vec::new, |(film, hours)| fastness(&film, hours)),
    })
}

fn fastness(film: &AgedModel, hours: f64) -> Vec<(String, Change)> {
    let all = fades::fastness(film).into_iter();
    let change = |delta_e| Change { delta_e, hours };
    all.map(|it| (it.pigment, change(it.de_00))).collect()
}

fn write(it: &Recipes, shelf: &Shelf, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let wanted = &it.wanted;
    let mut head = format!(
        "Wanted: {}: L* {:.2}, a* {:.2}, b* {:.2}, {}",
        it.target,
        wanted.l,
        wanted.a,
        wanted.b,
        words::hex(wanted)
    );
    if let Some(u95) = wanted.u95 {
        head += &format!(", U95 {u95:.2}");
    }
    writeln!(out, "{}", one_line(&head))?;
    let when = it
        .hours
        .map_or_else(|| "as made".to_owned(), |it| format!("after {it} h"));
    let film = format!(
        "in {} on {}, {}, {when}; {} g of coating",
        it.coating,
        it.substrate,
        words::amount_of(it.g_per_m2, it.coats, it.nominal),
        it.batch_g
    );
    writeln!(out, "{}\n", one_line(&film))?;
    table(it).write(terminal, out)?;
    writeln!(out)?;
    verdict(it, out)?;
    for (number, row) in numbered(it) {
        for mark in &row.marks {
            let text = one_line(&format!("{number}: {mark}"));
            let text = if row.beyond {
                words::red(&text, terminal)
            } else {
                text
            };
            writeln!(out, "{text}")?;
        }
    }
    let mut notes = it.notes.clone();
    if numbered(it).any(|(_, it)| it.cost.is_none()) {
        let mut missing: Vec<String> = numbered(it)
            .flat_map(|(_, it)| it.without_price.clone())
            .collect();
        missing.sort();
        missing.dedup();
        notes.push(format!(
            "No price is known of {}: `masstone library pigments NAME --price P` (or `coatings`) states it.",
            missing.join(", ").replace("coating", &shelf.coating)
        ));
    }
    words::listed("Notes", &notes, out)?;
    words::listed("Cautions", &it.cautions, out)
}

/// Recipes with the numbers that the table gives them.
fn numbered(it: &Recipes) -> impl Iterator<Item = (usize, &Row)> {
    it.groups.iter().flatten().zip(1..).map(|(row, n)| (n, row))
}

fn table(it: &Recipes) -> Columns {
    let mut table = Columns::new(&[
        ("", Stand::Right),
        ("group", Stand::Right),
        ("loads, g per 100 g", Stand::Left),
        ("ΔE00", Stand::Right),
        ("true within", Stand::Left),
        ("L*", Stand::Spare),
        ("a*", Stand::Spare),
        ("b*", Stand::Spare),
        ("of limit", Stand::Right),
        ("cost", Stand::Right),
        ("changes by", Stand::Right),
        ("weighed", Stand::Left),
        ("then ΔE00", Stand::Right),
        ("", Stand::Gives),
    ]);
    let decimals = |it: &f64| format!("{it:.2}");
    let mut number = 0;
    for (group, rows) in it.groups.iter().enumerate() {
        for row in rows {
            number += 1;
            let seen = row.aged.as_ref().unwrap_or(&row.made);
            let parts = |each: &dyn Fn(&masstone::mix::recipes::Part) -> String| {
                let parts: Vec<String> = row.pigments.iter().map(each).collect();
                parts.join(" + ")
            };
            let reach = match row.distance.reach {
                ReachWord::Beyond => "beyond what was measured",
                _ => "",
            };
            let to = row.to.as_ref().map_or_else(|| "?".to_owned(), decimals);
            table.row(
                Some(seen.lab()),
                vec![
                    number.to_string(),
                    (group + 1).to_string(),
                    parts(&|it| format!("{} {:.2}", it.pigment, it.load)),
                    decimals(&row.delta_e),
                    format!("{:.2}–{to}", row.from),
                    decimals(&seen.l),
                    decimals(&seen.a),
                    decimals(&seen.b),
                    row.sum.as_ref().map(decimals).unwrap_or_default(),
                    row.cost.as_ref().map(decimals).unwrap_or_default(),
                    row.change.as_ref().map(decimals).unwrap_or_default(),
                    parts(&|it| match it.grams {
                        Some(grams) => format!("{} {grams} g", it.pigment),
                        None => format!("{} can't be weighed", it.pigment),
                    }),
                    row.rounded_delta_e
                        .as_ref()
                        .map(decimals)
                        .unwrap_or_default(),
                    reach.to_owned(),
                ],
            );
        }
    }
    table
}

/// Whether the wanted colour is reached, and what is lacking otherwise.
fn verdict(it: &Recipes, out: &mut dyn Write) -> io::Result<()> {
    let first = it.groups.first().map_or(0, Vec::len);
    match &it.shortfall {
        None => writeln!(
            out,
            "The first can't be told from the wanted colour; of {} combinations {} may come as near{}.",
            it.combinations,
            it.alike,
            if it.alike > first {
                ", not all of them listed"
            } else {
                ""
            }
        )?,
        Some(lacking) => {
            let directions = if lacking.directions.is_empty() {
                String::new()
            } else {
                format!(": {}", lacking.directions.join(", "))
            };
            writeln!(
                out,
                "Nothing reaches the wanted colour. The nearest is {:.2} ΔE00 off{directions}.",
                lacking.delta_e
            )?;
            if lacking.bounds.is_empty() {
                writeln!(out, "These pigments have no nearer colour at any load.")?;
            } else {
                writeln!(
                    out,
                    "What stands in the way: {}.",
                    one_line(&lacking.bounds.join("; "))
                )?;
            }
        }
    }
    Ok(())
}
