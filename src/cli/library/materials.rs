//! `library pigments` and `library coatings`.

use super::super::columns::{Columns, Stand};
use super::super::failure::{Exit, Failure, say};
use super::super::stdout;
use super::super::table::Terminal;
use super::filter::{Form, json};
use super::overlaps::positive;
use super::{begin, failure, open};
use masstone::library::catalog::{Coating, Lot, Part, Pigment, Stock};
use masstone::record::csv::{text, word};
use std::io::{self, Write};
use std::path::Path;

/// List pigments; with a name, write down what is known of it.
#[derive(Debug, clap::Args)]
pub(super) struct PigmentArgs {
    /// The pigment, as panel files call it: by preference its Colour Index name.
    name: Option<String>,
    /// Its Colour Index name, where panel files call it otherwise.
    #[arg(long, value_name = "NAME", requires = "name")]
    colour_index: Option<String>,
    /// Who makes it.
    #[arg(long, value_name = "NAME", requires = "name")]
    maker: Option<String>,
    /// What its maker calls it.
    #[arg(long, value_name = "NAME", requires = "name")]
    maker_name: Option<String>,
    /// Price of a kilogram.
    #[arg(long, value_name = "PRICE", requires = "name", value_parser = positive)]
    price: Option<f64>,
    /// Grams per cubic centimetre.
    #[arg(long, value_name = "G", requires = "name", value_parser = positive)]
    density: Option<f64>,
    /// What harm it can do, in words.
    #[arg(long, value_name = "TEXT", requires = "name")]
    hazard: Option<String>,
    /// How its maker says to wet it out.
    #[arg(long, value_name = "TEXT", requires = "name")]
    wetting: Option<String>,
    /// How much is left; of the lot, if one is named.
    #[arg(long, value_enum, requires = "name")]
    stock: Option<StockArg>,
    /// A lot of it; --price and --stock are then the lot's.
    #[arg(long, value_name = "LOT", requires = "name")]
    lot: Option<String>,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

/// List coatings; with a name, write down what is known of it.
#[derive(Debug, clap::Args)]
pub(super) struct CoatingArgs {
    /// The coating, as panel files call it.
    name: Option<String>,
    /// Who makes it.
    #[arg(long, value_name = "NAME", requires = "name")]
    maker: Option<String>,
    /// Its parts, in the order of pouring, by mass: base=100,hardener=50; with prices per kilogram: base=100@12.50.
    #[arg(long, value_name = "PARTS", requires = "name", value_parser = parts)]
    parts: Option<Parts>,
    /// Price of a kilogram as mixed.
    #[arg(long, value_name = "PRICE", requires = "name", value_parser = positive)]
    price: Option<f64>,
    /// Wet coating that one coat takes, grams per square metre, pigment included.
    #[arg(long, value_name = "G", requires = "name", value_parser = positive)]
    coat: Option<f64>,
    /// Minutes from mixing until it must be used up.
    #[arg(long, value_name = "MINUTES", requires = "name", value_parser = positive)]
    pot_life: Option<f64>,
    /// Grams per cubic centimetre as mixed.
    #[arg(long, value_name = "G", requires = "name", value_parser = positive)]
    density: Option<f64>,
    /// What harm it can do, in words.
    #[arg(long, value_name = "TEXT", requires = "name")]
    hazard: Option<String>,
    /// How much is left.
    #[arg(long, value_enum, requires = "name")]
    stock: Option<StockArg>,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

impl PigmentArgs {
    /// Nothing is said of the pigment.
    fn only_asks(&self) -> bool {
        let texts = [
            &self.colour_index,
            &self.maker,
            &self.maker_name,
            &self.hazard,
            &self.wetting,
            &self.lot,
        ];
        texts.iter().all(|it| it.is_none())
            && self.price.is_none()
            && self.density.is_none()
            && self.stock.is_none()
    }
}

impl CoatingArgs {
    /// Nothing is said of the coating.
    fn only_asks(&self) -> bool {
        let numbers = [self.price, self.coat, self.pot_life, self.density];
        numbers.iter().all(Option::is_none)
            && self.maker.is_none()
            && self.hazard.is_none()
            && self.parts.is_none()
            && self.stock.is_none()
    }
}

/// Values of `--stock`.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum StockArg {
    Here,
    RunningOut,
    Gone,
}

impl From<StockArg> for Stock {
    fn from(arg: StockArg) -> Self {
        match arg {
            StockArg::Here => Self::Here,
            StockArg::RunningOut => Self::RunningOut,
            StockArg::Gone => Self::Gone,
        }
    }
}

/// Parts of a coating.
#[derive(Clone, Debug)]
struct Parts(Vec<Part>);

/// `base=100@12.5,hardener=50`.
fn parts(text: &str) -> Result<Parts, String> {
    let part = |text: &str| {
        let (name, rest) = text
            .split_once('=')
            .ok_or_else(|| format!("{text}: say NAME=MASS or NAME=MASS@PRICE"))?;
        let (mass, price) = match rest.split_once('@') {
            Some((mass, price)) => (mass, Some(positive(price)?)),
            None => (rest, None),
        };
        Ok(Part {
            name: name.trim().to_owned(),
            by_mass: positive(mass)?,
            price_per_kg: price,
        })
    };
    text.split(',')
        .map(part)
        .collect::<Result<_, String>>()
        .map(Parts)
}

pub(super) fn pigments(args: &PigmentArgs, place: &Path) -> Result<Exit, Failure> {
    let Some(name) = &args.name else {
        let library = open(place)?;
        let all = library.pigments().map_err(failure(place))?;
        return pigments_as(&all, args.format);
    };
    let mut library = if args.only_asks() {
        open(place)?
    } else {
        begin(place)?
    };
    let known = library.pigment(name).map_err(failure(place))?;
    let is_known = known.is_some();
    let mut it = known.unwrap_or_else(|| Pigment::named(name));
    let old = it.clone();
    let put = |to: &mut Option<String>, from: &Option<String>| {
        if from.is_some() {
            to.clone_from(from);
        }
    };
    put(&mut it.colour_index, &args.colour_index);
    put(&mut it.maker, &args.maker);
    put(&mut it.maker_name, &args.maker_name);
    put(&mut it.hazard, &args.hazard);
    put(&mut it.wetting, &args.wetting);
    it.density_g_per_cm3 = args.density.or(it.density_g_per_cm3);
    match &args.lot {
        None => {
            it.price_per_kg = args.price.or(it.price_per_kg);
            it.stock = args.stock.map_or(it.stock, Into::into);
        }
        Some(lot) => {
            let index = it.lots.iter().position(|it| it.lot == *lot);
            let index = index.unwrap_or_else(|| {
                it.lots.push(Lot {
                    lot: lot.clone(),
                    ..Lot::default()
                });
                it.lots.len() - 1
            });
            let lot = &mut it.lots[index];
            lot.price_per_kg = args.price.or(lot.price_per_kg);
            lot.stock = args.stock.map_or(lot.stock, Into::into);
        }
    }
    if !is_known && args.only_asks() {
        return Err(nothing_known("pigment", name));
    }
    if it == old && is_known {
        return pigments_as(&[it], args.format);
    }
    library.set_pigment(&it).map_err(failure(place))?;
    say(&format!("written down: pigment {name}"));
    Ok(Exit::Done)
}

pub(super) fn coatings(args: &CoatingArgs, place: &Path) -> Result<Exit, Failure> {
    let Some(name) = &args.name else {
        let library = open(place)?;
        let all = library.coatings().map_err(failure(place))?;
        return coatings_as(&all, args.format);
    };
    let mut library = if args.only_asks() {
        open(place)?
    } else {
        begin(place)?
    };
    let known = library.coating(name).map_err(failure(place))?;
    let is_known = known.is_some();
    let mut it = known.unwrap_or_else(|| Coating::named(name));
    let old = it.clone();
    if args.maker.is_some() {
        it.maker.clone_from(&args.maker);
    }
    if args.hazard.is_some() {
        it.hazard.clone_from(&args.hazard);
    }
    if let Some(parts) = &args.parts {
        it.parts.clone_from(&parts.0);
    }
    it.price_per_kg = args.price.or(it.price_per_kg);
    it.coat_g_per_m2 = args.coat.or(it.coat_g_per_m2);
    it.pot_life_min = args.pot_life.or(it.pot_life_min);
    it.density_g_per_cm3 = args.density.or(it.density_g_per_cm3);
    it.stock = args.stock.map_or(it.stock, Into::into);
    if !is_known && args.only_asks() {
        return Err(nothing_known("coating", name));
    }
    if it == old && is_known {
        return coatings_as(&[it], args.format);
    }
    library.set_coating(&it).map_err(failure(place))?;
    say(&format!("written down: coating {name}"));
    Ok(Exit::Done)
}

/// A name alone asks what is known of it.
fn nothing_known(what: &str, name: &str) -> Failure {
    Failure::usage(
        anyhow::anyhow!("nothing was written down yet of the {what} {name}"),
        format!("Check the name, or say something of it: `masstone library {what}s --help`."),
    )
}

fn pigments_as(all: &[Pigment], form: Form) -> Result<Exit, Failure> {
    match form {
        Form::Table => return pigment_table(all),
        Form::Json => json(&all)?,
        Form::Csv => stdout::write(|out| pigment_csv(all, out))?,
    }
    Ok(Exit::Done)
}

fn coatings_as(all: &[Coating], form: Form) -> Result<Exit, Failure> {
    match form {
        Form::Table => return coating_table(all),
        Form::Json => json(&all)?,
        Form::Csv => stdout::write(|out| coating_csv(all, out))?,
    }
    Ok(Exit::Done)
}

/// A row a pigment, then one a lot, which has its pigment's name and what is its own.
fn pigment_csv(all: &[Pigment], out: &mut dyn Write) -> io::Result<()> {
    let mut csv = csv::Writer::from_writer(out);
    csv.write_record([
        "pigment",
        "colour_index",
        "maker",
        "maker_name",
        "lot",
        "price_per_kg",
        "density_g_per_cm3",
        "stock",
        "hazard",
        "wetting",
    ])?;
    for it in all {
        csv.write_record([
            text(&it.id),
            stated(&it.colour_index),
            stated(&it.maker),
            stated(&it.maker_name),
            String::new(),
            number(it.price_per_kg),
            number(it.density_g_per_cm3),
            word(&it.stock),
            stated(&it.hazard),
            stated(&it.wetting),
        ])?;
        for lot in &it.lots {
            let mut cells = vec![String::new(); 10];
            cells[0] = text(&it.id);
            cells[4] = text(&lot.lot);
            cells[5] = number(lot.price_per_kg);
            cells[7] = word(&lot.stock);
            csv.write_record(cells)?;
        }
    }
    csv.flush()
}

fn coating_csv(all: &[Coating], out: &mut dyn Write) -> io::Result<()> {
    let mut csv = csv::Writer::from_writer(out);
    csv.write_record([
        "coating",
        "maker",
        "parts",
        "by_mass",
        "price_per_kg",
        "coat_g_per_m2",
        "pot_life_min",
        "density_g_per_cm3",
        "stock",
        "hazard",
    ])?;
    for it in all {
        let parts = |of: &dyn Fn(&Part) -> String| -> String {
            it.parts.iter().map(of).collect::<Vec<_>>().join(" : ")
        };
        csv.write_record([
            text(&it.id),
            stated(&it.maker),
            text(&parts(&|it| it.name.clone())),
            parts(&|it| it.by_mass.to_string()),
            number(it.price()),
            number(it.coat_g_per_m2),
            number(it.pot_life_min),
            number(it.density_g_per_cm3),
            word(&it.stock),
            stated(&it.hazard),
        ])?;
    }
    csv.flush()
}

/// A cell of text.
fn stated(it: &Option<String>) -> String {
    text(it.as_deref().unwrap_or_default())
}

fn number(it: Option<f64>) -> String {
    it.map(|it| it.to_string()).unwrap_or_default()
}

fn pigment_table(all: &[Pigment]) -> Result<Exit, Failure> {
    if all.is_empty() {
        say(
            "no pigment was written down yet: `masstone library pigments NAME --price … --density …`",
        );
        return Ok(Exit::Done);
    }
    let mut table = Columns::new(&[
        ("pigment", Stand::Left),
        ("Colour Index", Stand::Left),
        ("maker", Stand::Gives),
        ("maker's name", Stand::Gives),
        ("lot", Stand::Left),
        ("price/kg", Stand::Right),
        ("g/cm³", Stand::Right),
        ("stock", Stand::Left),
        ("hazard", Stand::Gives),
    ]);
    for it in all {
        let text = |it: &Option<String>| it.clone().unwrap_or_default();
        table.row(
            None,
            vec![
                it.id.clone(),
                text(&it.colour_index),
                text(&it.maker),
                text(&it.maker_name),
                String::new(),
                number(it.price_per_kg),
                number(it.density_g_per_cm3),
                word(&it.stock),
                text(&it.hazard),
            ],
        );
        for lot in &it.lots {
            let mut cells = vec![String::new(); 9];
            cells[4].clone_from(&lot.lot);
            cells[5] = number(lot.price_per_kg);
            cells[7] = word(&lot.stock);
            table.row(None, cells);
        }
    }
    stdout::write(|out| table.write(Terminal::of_stdout(), out))?;
    Ok(Exit::Done)
}

fn coating_table(all: &[Coating]) -> Result<Exit, Failure> {
    if all.is_empty() {
        say(
            "no coating was written down yet: `masstone library coatings NAME --parts base=100,hardener=50 …`",
        );
        return Ok(Exit::Done);
    }
    let mut table = Columns::new(&[
        ("coating", Stand::Gives),
        ("maker", Stand::Gives),
        ("parts by mass", Stand::Left),
        ("price/kg", Stand::Right),
        ("g/m² a coat", Stand::Right),
        ("pot life min", Stand::Right),
        ("g/cm³", Stand::Right),
        ("stock", Stand::Left),
        ("hazard", Stand::Gives),
    ]);
    for it in all {
        let parts: Vec<String> = it
            .parts
            .iter()
            .map(|it| format!("{} {}", it.name, it.by_mass))
            .collect();
        table.row(
            None,
            vec![
                it.id.clone(),
                it.maker.clone().unwrap_or_default(),
                parts.join(" : "),
                it.price().map(|it| format!("{it:.2}")).unwrap_or_default(),
                number(it.coat_g_per_m2),
                number(it.pot_life_min),
                number(it.density_g_per_cm3),
                word(&it.stock),
                it.hazard.clone().unwrap_or_default(),
            ],
        );
    }
    stdout::write(|out| table.write(Terminal::of_stdout(), out))?;
    Ok(Exit::Done)
}
