//! `library show`.

mod trace;

use super::super::columns::{Columns, Stand, one_line};
use super::super::failure::{Exit, Failure};
use super::super::stdout;
use super::super::table::Terminal;
use super::filter::{Form, age, json};
use super::{failure, open};
use masstone::colour::{Matrix, lab, uncertainty};
use masstone::library::limits::{TestedLimit, Verdict};
use masstone::library::show::{Age, Shown};
use masstone::library::statistics::{Estimate, FEWEST};
use masstone::library::view;
use masstone::record::csv::word;
use std::io::{self, Write};
use std::path::Path;

/// Show everything about a swatch.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The swatch: its number, PANEL/PATCH, or its name.
    #[arg(required = true, value_name = "SWATCH")]
    swatch: String,
    /// How to write it.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

pub(super) fn run(args: &Args, place: &Path) -> Result<Exit, Failure> {
    let library = open(place)?;
    let shown = library
        .find_swatch(&args.swatch)
        .and_then(|it| library.show(it.id))
        .map_err(failure(place))?;
    match args.format {
        Form::Json => json(&view::shown(&shown))?,
        Form::Csv => stdout::write(|out| view::shown_csv(&shown, out))?,
        Form::Table => {
            let terminal = Terminal::of_stdout();
            stdout::write(|out| write(&shown, terminal, out))?;
        }
    }
    Ok(Exit::Done)
}

fn write(it: &Shown, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    head(it, out)?;
    writeln!(out)?;
    if it.ages.is_empty() {
        writeln!(
            out,
            "It has no colour: no photo of it was added that could be measured."
        )?;
    } else {
        ages(it, terminal, out)?;
        parts(it, terminal, out)?;
        specimens(it, terminal, out)?;
    }
    disagreeing(it, out)?;
    lots(it, out)?;
    notes(it, terminal, out)?;
    limits(it, out)?;
    trace::photos(&it.photos, terminal, out)?;
    trace::history(&it.history, out)
}

fn head(it: &Shown, out: &mut dyn Write) -> io::Result<()> {
    let recipe = &it.swatch.recipe;
    let name = it.swatch.name.as_deref().unwrap_or("(no name)");
    writeln!(out, "swatch {}: {}", it.swatch.id, one_line(name))?;
    let mut facts = vec![recipe.in_short()];
    facts.extend(recipe.coating.as_ref().map(|it| format!("in {it}")));
    facts.extend(recipe.substrate.as_ref().map(|it| format!("on {it}")));
    facts.extend(recipe.coats.map(|it| format!("{it} coats")));
    facts.extend(recipe.g_per_m2.map(|it| format!("{it} g/m²")));
    writeln!(out, "{}", one_line(&facts.join(", ")))?;
    if let Some(panel) = &it.swatch.only_panel {
        writeln!(
            out,
            "The panel file leaves something out (pigments, coating, substrate, or coats): only patches of panel {} count as this swatch.",
            one_line(panel)
        )?;
    }
    Ok(())
}

fn u95(it: Option<f64>) -> String {
    it.map_or("–".to_owned(), |it| format!("{it:.2}"))
}

/// U95 of one part alone.
fn part(mean: &Estimate, covariance: &Matrix) -> String {
    u95(uncertainty::u95(mean.lab, covariance))
}

fn ages(it: &Shown, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let mut table = Columns::new(&[
        ("hours", Stand::Right),
        ("L*", Stand::Right),
        ("a*", Stand::Right),
        ("b*", Stand::Right),
        ("C*", Stand::Spare),
        ("h°", Stand::Spare),
        ("U95", Stand::Right),
        ("your own work", Stand::Right),
        ("specimens", Stand::Right),
        ("photos", Stand::Right),
    ]);
    for Age { exposure, mean, .. } in &it.ages {
        table.row(
            Some(mean.lab),
            vec![
                age(exposure.masked, exposure.hours),
                format!("{:.2}", mean.lab.l),
                format!("{:.2}", mean.lab.a),
                format!("{:.2}", mean.lab.b),
                format!("{:.2}", lab::chroma(mean.lab)),
                format!("{:.1}", lab::hue_degrees(mean.lab)),
                u95(mean.u95()),
                or_unknown(mean.u95_of_another().is_some(), u95(mean.u95_of_another())),
                mean.specimens.to_string(),
                mean.photos.to_string(),
            ],
        );
    }
    table.write(terminal, out)?;
    for of_age in &it.ages {
        if let Some(photo) = &of_age.photo {
            writeln!(
                out,
                "hours unknown: {} with L* {:.2} is of {} alone; `masstone library amend --photo SHA256 --hours H` states them",
                age(of_age.exposure.masked, of_age.exposure.hours),
                of_age.mean.lab.l,
                one_line(photo)
            )?;
        }
    }
    let one = it.ages.iter().all(|it| it.mean.specimens < 2);
    if one {
        writeln!(
            out,
            "U95: of this specimen. How far your own work may differ can't be said from one specimen: coat another."
        )?;
    } else {
        writeln!(
            out,
            "U95: of the mean of these specimens. Expect your own work within the other interval; fewer than {FEWEST} may agree by chance, and tell nothing of it (?): coat more."
        )?;
    }
    Ok(())
}

fn or_unknown(known: bool, text: String) -> String {
    if known { text } else { "?".to_owned() }
}

/// What U95 is made of.
fn parts(it: &Shown, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let mut table = Columns::new(&[
        ("hours", Stand::Right),
        ("within photo", Stand::Right),
        ("common to photo", Stand::Right),
        ("between photos", Stand::Right),
        ("between specimens", Stand::Right),
    ]);
    for Age { exposure, mean, .. } in &it.ages {
        let of = &mean.parts;
        table.row(
            None,
            vec![
                age(exposure.masked, exposure.hours),
                part(mean, &of.within_photo),
                part(mean, &of.common_to_photo),
                or_unknown(mean.photo_scatter.is_some(), part(mean, &of.between_photos)),
                or_unknown(
                    mean.specimen_scatter.is_some(),
                    part(mean, &of.between_specimens),
                ),
            ],
        );
    }
    writeln!(
        out,
        "\nWhat it is made of, each part as U95 (? takes more photos or specimens):"
    )?;
    table.write(terminal, out)
}

fn specimens(it: &Shown, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    let mut table = Columns::new(&[
        ("specimen", Stand::Left),
        ("lot", Stand::Left),
        ("g/m²", Stand::Right),
        ("hours", Stand::Right),
        ("L*", Stand::Right),
        ("a*", Stand::Right),
        ("b*", Stand::Right),
        ("U95", Stand::Right),
        ("photos", Stand::Right),
    ]);
    for specimen in &it.specimens {
        for of_age in &it.ages {
            let Some((_, mean)) = of_age.specimens.iter().find(|it| it.0 == specimen.id) else {
                continue;
            };
            table.row(
                Some(mean.lab),
                vec![
                    format!("{}/{}", specimen.panel, specimen.patch),
                    specimen.lot.clone().unwrap_or_default(),
                    specimen
                        .g_per_m2
                        .map(|it| it.to_string())
                        .unwrap_or_default(),
                    age(of_age.exposure.masked, of_age.exposure.hours),
                    format!("{:.2}", mean.lab.l),
                    format!("{:.2}", mean.lab.a),
                    format!("{:.2}", mean.lab.b),
                    u95(mean.u95()),
                    mean.photos.to_string(),
                ],
            );
        }
    }
    writeln!(out)?;
    table.write(terminal, out)
}

fn disagreeing(it: &Shown, out: &mut dyn Write) -> io::Result<()> {
    for of_age in &it.ages {
        for reading in &of_age.disagreeing {
            writeln!(
                out,
                "disagrees beyond its uncertainty: {}/{} {}, {} h, in {} ({}…): {:.2} ΔE00 from its specimen's mean",
                one_line(&reading.panel),
                one_line(&reading.patch),
                word(&reading.half),
                age(of_age.exposure.masked, of_age.exposure.hours),
                one_line(&reading.photo),
                &reading.sha256[..12.min(reading.sha256.len())],
                reading.delta_e
            )?;
        }
    }
    Ok(())
}

fn lots(it: &Shown, out: &mut dyn Write) -> io::Result<()> {
    for lot in &it.lots {
        let (new, old) = (one_line(&lot.new), one_line(&lot.old));
        let Some(told_apart) = lot.told_apart else {
            writeln!(
                out,
                "lot {new} against {old}: {:.2} ΔE00 between their readings; whether the lots differ takes two specimens of each",
                lot.delta_e
            )?;
            continue;
        };
        if !told_apart {
            writeln!(
                out,
                "lot {new} against {old}: the same as far as can be told ({:.2} ΔE00)",
                lot.delta_e
            )?;
            continue;
        }
        write!(
            out,
            "lot {new} against {old}: {:.2} ΔE00 apart",
            lot.delta_e
        )?;
        match lot.advice {
            Some(advice) => writeln!(
                out,
                "; use {:.2} times as much of it, which leaves {:.2} ΔE00",
                advice.factor, advice.left
            )?,
            None => writeln!(
                out,
                "; how much more or less of it to use takes the old lot at a second load"
            )?,
        }
    }
    Ok(())
}

fn notes(it: &Shown, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
    if it.notes.is_empty() {
        return Ok(());
    }
    let mut table = Columns::new(&[
        ("date", Stand::Left),
        ("specimen", Stand::Left),
        ("noted", Stand::Left),
        ("grade", Stand::Right),
        ("°C", Stand::Right),
        ("% humidity", Stand::Right),
        ("hours", Stand::Right),
        ("", Stand::Gives),
    ]);
    let number = |it: Option<f64>| it.map(|it| it.to_string()).unwrap_or_default();
    for note in &it.notes {
        table.row(
            None,
            vec![
                note.date.clone(),
                format!("{}/{}", note.panel, note.patch),
                note.word.clone(),
                number(note.grade),
                number(note.temperature_c),
                number(note.humidity_percent),
                number(note.hours),
                note.text.clone().unwrap_or_default(),
            ],
        );
    }
    writeln!(out)?;
    table.write(terminal, out)
}

fn limits(it: &Shown, out: &mut dyn Write) -> io::Result<()> {
    if it.swatch.recipe.pigments.is_empty() {
        return Ok(());
    }
    writeln!(out)?;
    for limit in &it.limits {
        writeln!(out, "{}", limit_in_words(limit))?;
    }
    writeln!(out, "load: {}", verdict_in_words(&it.verdict))
}

fn verdict_in_words(verdict: &Verdict) -> String {
    match verdict {
        Verdict::Within(Some(sum)) => format!("within what cured: Σ(load ÷ limit) = {sum:.2}"),
        Verdict::Within(None) => "this very mixture cured".to_owned(),
        Verdict::Failed => {
            "this mixture, or one with no more of any pigment, did not cure".to_owned()
        }
        Verdict::BeyondFailure(failed) => {
            let failed: Vec<String> = failed
                .iter()
                .map(|it| {
                    format!(
                        "{} did not cure alone from {} g per 100 g, here it is {}",
                        it.pigment, it.lowest_failed, it.load
                    )
                })
                .collect();
            one_line(&format!("beyond a tested failure: {}", failed.join("; ")))
        }
        Verdict::Beyond(sum) => format!("beyond what cured: Σ(load ÷ limit) = {sum:.2}"),
        Verdict::Untested(pigments) => format!(
            "not tested in this coating: {}; `masstone library note` keeps how specimens cured",
            one_line(&pigments.join(", "))
        ),
    }
}

/// A tested limit in words.
pub(super) fn limit_in_words(it: &TestedLimit) -> String {
    let lot = it
        .lot
        .as_ref()
        .map(|it| format!(" lot {it}"))
        .unwrap_or_default();
    let mut words = vec![];
    if let Some(load) = it.highest_cured {
        words.push(format!("cured up to {load} g per 100 g"));
    }
    if let Some(load) = it.lowest_failed {
        words.push(format!("did not from {load}"));
    }
    if it.contradictory {
        words.push("tests contradict each other: the cautious ones count".to_owned());
    }
    one_line(&format!(
        "{}{lot} in {}: {}",
        it.pigment,
        it.coating,
        words.join(", ")
    ))
}
