//! Tables for people: columns that fit what is in them, a block of colour where the terminal has it.

use super::failure::printable;
use super::table::{Colour, Terminal, block};
use super::width::{cut, pad};
use masstone::colour::Lab;
use std::io::{self, Write};
use unicode_width::UnicodeWidthStr;

/// How a column stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stand {
    /// Text, to the left.
    Left,
    /// Numbers, to the right.
    Right,
    /// Text that gives way where the terminal is narrow.
    Gives,
}

/// A table; each row has a colour, if it has one, and as many cells as there are columns.
#[derive(Debug)]
pub(super) struct Columns {
    columns: Vec<(&'static str, Stand)>,
    rows: Vec<(Option<Lab>, Vec<String>)>,
}

impl Columns {
    pub(super) fn new(columns: &[(&'static str, Stand)]) -> Self {
        Self {
            columns: columns.to_vec(),
            rows: Vec::new(),
        }
    }

    /// Adds a row.
    pub(super) fn row(&mut self, colour: Option<Lab>, cells: Vec<String>) {
        let cells = cells.iter().map(|it| one_line(it)).collect();
        self.rows.push((colour, cells));
    }

    /// Columns without anything in them are left out.
    pub(super) fn write(&self, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
        let coloured = terminal.colour != Colour::None && self.rows.iter().any(|it| it.0.is_some());
        let used: Vec<usize> = (0..self.columns.len())
            .filter(|column| self.rows.iter().any(|it| !it.1[*column].is_empty()))
            .collect();
        let mut widths: Vec<usize> = used
            .iter()
            .map(|column| {
                let cells = self.rows.iter().map(|it| it.1[*column].width());
                cells
                    .max()
                    .unwrap_or(0)
                    .max(self.columns[*column].0.width())
            })
            .collect();
        self.give_way(
            &used,
            &mut widths,
            terminal.width.saturating_sub(if coloured { 6 } else { 0 }),
        );
        let heads: Vec<String> = used
            .iter()
            .map(|it| self.columns[*it].0.to_owned())
            .collect();
        let lead = if coloured {
            " ".repeat(6)
        } else {
            String::new()
        };
        writeln!(out, "{}", self.line(&lead, &heads, &used, &widths))?;
        for (colour, cells) in &self.rows {
            let cells: Vec<String> = used.iter().map(|it| cells[*it].clone()).collect();
            let lead = if coloured {
                format!("{}  ", block(*colour, terminal.colour))
            } else {
                String::new()
            };
            writeln!(out, "{}", self.line(&lead, &cells, &used, &widths))?;
        }
        Ok(())
    }

    /// Makes the columns that give way narrower, the widest first, until all fit or none is wider than it must be.
    fn give_way(&self, used: &[usize], widths: &mut [usize], room: usize) {
        const LEAST: usize = 10;
        while widths.iter().sum::<usize>() + 2 * widths.len() > room {
            let gives = |it: &usize| self.columns[used[*it]].1 == Stand::Gives;
            let widest = (0..used.len()).filter(gives).max_by_key(|it| widths[*it]);
            match widest.filter(|it| widths[*it] > LEAST) {
                Some(it) => widths[it] -= 1,
                None => return,
            }
        }
    }

    fn line(&self, lead: &str, cells: &[String], used: &[usize], widths: &[usize]) -> String {
        let mut line = lead.to_owned();
        for ((cell, column), width) in cells.iter().zip(used).zip(widths) {
            let cell = cut(cell, *width);
            line += &match self.columns[*column].1 {
                Stand::Right => {
                    format!("{}{cell}  ", " ".repeat(width.saturating_sub(cell.width())))
                }
                Stand::Left | Stand::Gives => format!("{}  ", pad(&cell, *width)),
            };
        }
        line.trim_end().to_owned()
    }
}

/// Without what would break a line.
pub(super) fn one_line(text: &str) -> String {
    printable(text).replace(['\n', '\t'], " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(table: &Columns, width: usize) -> String {
        let terminal = Terminal {
            width,
            colour: Colour::None,
        };
        let mut out = Vec::new();
        table.write(terminal, &mut out).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn empty_columns_go_and_long_names_give_way() {
        let mut table = Columns::new(&[
            ("n", Stand::Right),
            ("name", Stand::Gives),
            ("none", Stand::Left),
            ("L*", Stand::Right),
        ]);
        table.row(
            None,
            vec![
                "1".into(),
                "red iron oxide, half".into(),
                String::new(),
                "38.21".into(),
            ],
        );
        table.row(
            None,
            vec![
                "12".into(),
                "two\nlines\u{1b}[31m".into(),
                String::new(),
                "5.00".into(),
            ],
        );
        assert_eq!(
            written(&table, 30),
            " n  name                L*\n 1  red iron oxide…  38.21\n12  two lines\u{fffd}[31m   5.00\n"
        );
        assert!(written(&table, 200).contains("red iron oxide, half"));
    }
}
