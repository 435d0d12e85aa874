//! `masstone check`: is this photo good enough, before the light is gone?

use super::failure::{Exit, Failure, chain, message, printable, say};
use super::progress::count;
use super::stdout;
use anstyle::{AnsiColor, Style};
use masstone::check::{self, Finding, Sense, Verdict};
use masstone::measure::photos;
use masstone::panel::{self, Panel};
use masstone::{locate, photo};
use std::io::{self, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Judge whether photos are good enough to measure, before the light is gone.
///
/// Each figure is held against two limits: up to the first it is good, up to the second usable. With a panel file the board,
/// its card and its light are judged too.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Photos, folders of photos, or patterns.
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// Panel file: what is on the board, and which cards lie beside it.
    #[arg(long, value_name = "FILE")]
    panel: Option<PathBuf>,
    /// The photos are upright as displayed.
    #[arg(long)]
    upright: bool,
    /// The files' values are linear.
    #[arg(long)]
    linear: bool,
    /// Say where each limit comes from.
    #[arg(long)]
    sources: bool,
    /// Write the findings as JSON, one photo a line.
    #[arg(long, conflicts_with = "sources")]
    json: bool,
}

/// Runs the command.
pub(super) fn run(args: &Args) -> Result<Exit, Failure> {
    let panel = match &args.panel {
        Some(path) => Some(panel::read(path).map_err(|it| Failure::usage(it, ""))?),
        None => None,
    };
    let found = photos::expand(&args.photos);
    for note in &found.notes {
        say(&message("note", note, ""));
    }
    let mut beyond = found.refused.len();
    for refusal in &found.refused {
        say(&message("refused", &refusal.to_string(), &refusal.hint));
    }
    for path in &found.paths {
        match findings(args, path, panel.as_ref()) {
            Ok(findings) => {
                let worst = findings.iter().map(|it| it.verdict).max();
                beyond += usize::from(worst == Some(Verdict::NotGood));
                print(args, path, &findings)?;
            }
            Err(error) => {
                beyond += 1;
                say(&message("refused", &chain(&error), error.hint()));
            }
        }
    }
    if found.paths.len() + found.refused.len() > 1 {
        let good = found.paths.len() + found.refused.len() - beyond;
        say(&format!(
            "{} within tolerance, {beyond} not",
            count(good, "photo")
        ));
    }
    Ok(if beyond == 0 { Exit::Done } else { Exit::Short })
}

fn findings(
    args: &Args,
    path: &Path,
    panel: Option<&Panel>,
) -> Result<Vec<Finding>, photo::PhotoError> {
    let as_stored = photo::Options {
        linear: args.linear,
    };
    let how = locate::Options {
        upright: args.upright,
        ..locate::Options::default()
    };
    check::file(path, panel, &as_stored, &how)
}

fn print(args: &Args, path: &Path, findings: &[Finding]) -> Result<(), Failure> {
    if args.json {
        let photo = serde_json::json!({ "photo": path, "findings": findings });
        return stdout::write(|out| writeln!(out, "{photo}"));
    }
    let coloured = io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    let report = Report {
        sources: args.sources,
        coloured,
        without_panel: args.panel.is_none(),
    };
    stdout::write(|out| report.write(path, findings, out))
}

/// How a report looks.
#[derive(Clone, Copy, Debug)]
struct Report {
    sources: bool,
    coloured: bool,
    without_panel: bool,
}

impl Report {
    /// The photo's verdict, then its findings, worst first; what is good last.
    fn write(self, path: &Path, findings: &[Finding], out: &mut dyn Write) -> io::Result<()> {
        let number = |verdict| findings.iter().filter(|it| it.verdict == verdict).count();
        let worst = findings
            .iter()
            .map(|it| it.verdict)
            .max()
            .unwrap_or(Verdict::Good);
        let title = printable(&path.display().to_string());
        let tally = match (number(Verdict::NotGood), number(Verdict::Usable)) {
            (0, 0) => "good".to_owned(),
            (0, usable) => format!("usable; {usable} could be better"),
            (n, _) => format!("{n} beyond tolerance"),
        };
        writeln!(out, "{title}: {}", self.painted(worst, &tally))?;
        let mut order: Vec<&Finding> = findings.iter().collect();
        // Stable: within a verdict the order of the items stays.
        order.sort_by_key(|it| std::cmp::Reverse(it.verdict));
        let name = order
            .iter()
            .map(|it| it.rule.name.chars().count())
            .max()
            .unwrap_or(0);
        for finding in order {
            self.line(finding, name, out)?;
        }
        if self.without_panel {
            writeln!(
                out,
                "  The board, its card and its light are judged with --panel FILE."
            )?;
        }
        Ok(())
    }

    fn line(self, finding: &Finding, width: usize, out: &mut dyn Write) -> io::Result<()> {
        let rule = finding.rule;
        let verdict = self.painted(finding.verdict, &format!("{:<10}", word(finding.verdict)));
        let figure = finding.measured.map_or_else(
            || "–".to_owned(),
            |it| {
                format!("{it:.*} {}", rule.decimals, rule.unit)
                    .trim_end()
                    .to_owned()
            },
        );
        // The number's end and the unit's start line up.
        let (number, unit) = figure.split_once(' ').unwrap_or((&figure, ""));
        write!(
            out,
            "  {verdict}  {:<width$}  {number:>7} {unit:<6}  {:<18}",
            rule.name,
            limits(finding)
        )?;
        writeln!(out, "  {}", printable(&finding.detail))?;
        if let Some(advice) = finding.advice() {
            writeln!(out, "              {advice}")?;
        }
        if self.sources {
            writeln!(out, "              limits: {}", rule.source)?;
        }
        Ok(())
    }

    fn painted(self, verdict: Verdict, text: &str) -> String {
        if !self.coloured {
            return text.to_owned();
        }
        let colour = match verdict {
            Verdict::Good => AnsiColor::Green,
            Verdict::NotJudged => AnsiColor::BrightBlack,
            Verdict::Usable => AnsiColor::Yellow,
            Verdict::NotGood => AnsiColor::Red,
        };
        let style = Style::new().fg_color(Some(colour.into())).bold();
        format!("{style}{text}{style:#}")
    }
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Good => "good",
        Verdict::NotJudged => "not judged",
        Verdict::Usable => "usable",
        Verdict::NotGood => "NOT GOOD",
    }
}

/// The two limits in short: `≤ 8 (25)` is good up to 8 and usable up to 25.
fn limits(finding: &Finding) -> String {
    let rule = finding.rule;
    let sign = match rule.sense {
        Sense::AtMost => "≤",
        Sense::AtLeast => "≥",
        Sense::Within => "±",
    };
    match (rule.good, rule.usable) {
        (good, usable) if (good - usable).abs() < f64::EPSILON => format!("{sign} {good}"),
        (good, usable) => format!("{sign} {good}, usable {usable}"),
    }
}
