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
    /// Numbers, to the right, that are left out where the terminal is narrow: the last first.
    Spare,
}

/// A table; each row has a colour, if it has one, and as many cells as there are columns.
#[derive(Debug)]
pub(super) struct Columns {
    columns: Vec<(&'static str, Stand)>,
    rows: Vec<(Option<Lab>, Vec<String>)>,
}

/// A column as it is written: its number and its width on the screen.
#[derive(Clone, Copy, Debug)]
struct Drawn {
    column: usize,
    width: usize,
}

/// Between two columns.
const GAP: usize = 2;
/// What a block of colour takes, with the gap behind it.
const BLOCK: usize = 4 + GAP;
/// Columns that give way are at least so wide while there is something to leave out, and after that.
const LEAST: [usize; 2] = [20, 8];

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

    /// Writes the table, never wider than the terminal. Columns without anything in them are left out; what doesn't fit beside each other
    /// stands below, with the first column again.
    pub(super) fn write(&self, terminal: Terminal, out: &mut dyn Write) -> io::Result<()> {
        let coloured = terminal.colour != Colour::None && self.rows.iter().any(|it| it.0.is_some());
        let room = terminal
            .width
            .saturating_sub(if coloured { BLOCK } else { 0 });
        for (index, part) in self.parts(room).iter().enumerate() {
            if index > 0 {
                writeln!(out)?;
            }
            let lead = if coloured {
                " ".repeat(BLOCK)
            } else {
                String::new()
            };
            let heads: Vec<String> = self.columns.iter().map(|it| it.0.to_owned()).collect();
            writeln!(out, "{}", self.line(&lead, &heads, part))?;
            for (colour, cells) in &self.rows {
                let lead = if coloured {
                    format!("{}  ", block(*colour, terminal.colour))
                } else {
                    String::new()
                };
                writeln!(out, "{}", self.line(&lead, cells, part))?;
            }
        }
        Ok(())
    }

    /// The columns that stand beside each other: all that are used in one part, if they fit.
    fn parts(&self, room: usize) -> Vec<Vec<Drawn>> {
        let mut used: Vec<Drawn> = (0..self.columns.len())
            .filter(|column| self.rows.iter().any(|it| !it.1[*column].is_empty()))
            .map(|column| Drawn {
                column,
                width: self.natural(column),
            })
            .collect();
        loop {
            let mut tried = used.clone();
            self.give_way(&mut tried, room, LEAST[0]);
            if fits(&tried, room) {
                return vec![tried];
            }
            let spare = |it: &Drawn| self.columns[it.column].1 == Stand::Spare;
            match used.iter().rposition(spare) {
                Some(index) => used.remove(index),
                None => break,
            };
        }
        let mut tried = used.clone();
        self.give_way(&mut tried, room, LEAST[1]);
        if fits(&tried, room) {
            return vec![tried];
        }
        for it in &mut used {
            if self.columns[it.column].1 == Stand::Gives {
                it.width = it.width.min(LEAST[0]);
            }
        }
        below_each_other(&used, room)
    }

    fn natural(&self, column: usize) -> usize {
        let cells = self.rows.iter().map(|it| it.1[column].width());
        cells.max().unwrap_or(0).max(self.columns[column].0.width())
    }

    /// Makes the columns that give way narrower, the widest first, until all fit or none is wider than `least`.
    fn give_way(&self, drawn: &mut [Drawn], room: usize, least: usize) {
        while !fits(drawn, room) {
            let gives =
                |it: &&mut Drawn| self.columns[it.column].1 == Stand::Gives && it.width > least;
            match drawn.iter_mut().filter(gives).max_by_key(|it| it.width) {
                Some(it) => it.width -= 1,
                None => return,
            }
        }
    }

    fn line(&self, lead: &str, cells: &[String], part: &[Drawn]) -> String {
        let mut line = lead.to_owned();
        for it in part {
            let cell = cut(&cells[it.column], it.width);
            line += &match self.columns[it.column].1 {
                Stand::Right | Stand::Spare => {
                    format!(
                        "{}{cell}",
                        " ".repeat(it.width.saturating_sub(cell.width()))
                    )
                }
                Stand::Left | Stand::Gives => pad(&cell, it.width),
            };
            line += &" ".repeat(GAP);
        }
        line.trim_end().to_owned()
    }
}

fn fits(drawn: &[Drawn], room: usize) -> bool {
    let widths: usize = drawn.iter().map(|it| it.width).sum();
    widths + GAP * drawn.len().saturating_sub(1) <= room
}

/// As many columns beside each other as fit, then the next, each part with the first column again. What is wider than all the room is cut.
fn below_each_other(used: &[Drawn], room: usize) -> Vec<Vec<Drawn>> {
    let Some((first, rest)) = used.split_first() else {
        return Vec::new();
    };
    let first = Drawn {
        width: first.width.min(room / 2).max(1),
        ..*first
    };
    let mut parts = vec![vec![first]];
    for it in rest {
        let it = Drawn {
            width: it.width.min(room.saturating_sub(first.width + GAP)).max(1),
            ..*it
        };
        if let Some(last) = parts.last_mut() {
            last.push(it);
            if fits(last, room) || last.len() <= 2 {
                continue;
            }
            last.pop();
        }
        parts.push(vec![first, it]);
    }
    parts
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
            " n  name                    L*\n 1  red iron oxide, ha…  38.21\n12  two lines\u{fffd}[31m        5.00\n"
        );
        assert!(written(&table, 31).contains("red iron oxide, half"));
    }

    /// At every width: no line is wider, no row is lost, and what doesn't fit stands below with the first column again.
    #[test]
    fn no_line_is_wider_than_the_terminal() {
        let mut table = Columns::new(&[
            ("swatch", Stand::Right),
            ("name", Stand::Gives),
            ("L*", Stand::Right),
            ("C*", Stand::Spare),
            ("U95", Stand::Right),
            ("readings", Stand::Spare),
            ("cure", Stand::Left),
        ]);
        for n in 0..3 {
            let cells = [
                "7",
                "yellow ochre from the pit",
                "54.21",
                "43.10",
                "2.10",
                "12",
                "cured",
            ];
            let mut cells = cells.map(str::to_owned).to_vec();
            cells[0] = n.to_string();
            table.row(Some(Lab::new(50.0, 0.0, 0.0)), cells);
        }
        for width in 20..120 {
            let text = written(&table, width);
            let widest = text.lines().map(UnicodeWidthStr::width).max().unwrap();
            assert!(widest <= width, "{width}: {widest}\n{text}");
            assert_eq!(text.matches("54.21").count(), 3, "{width}\n{text}");
        }
        let wide = written(&table, 80);
        assert!(wide.contains("yellow ochre from the pit") && wide.contains("readings"));
        let narrower = written(&table, 58);
        assert!(
            !narrower.contains("readings") && narrower.contains("C*"),
            "{narrower}"
        );
        assert_eq!(written(&table, 20).matches("swatch").count(), 3);
    }
}
