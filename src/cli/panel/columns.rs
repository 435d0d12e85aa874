//! Text in columns, by its width on the screen.

use super::super::width::{cut, pad};
use unicode_width::UnicodeWidthStr;

/// Writes rows with each column as wide as its content; the column `yielding` is cut so that a row fits `width`.
///
/// Columns without content are left out, with their heading.
pub(super) fn lay_out(
    heading: &[&str],
    rows: &[Vec<String>],
    yielding: usize,
    width: usize,
) -> String {
    let widest = |column: usize| rows.iter().map(|it| it[column].width()).max().unwrap_or(0);
    let kept: Vec<usize> = (0..heading.len()).filter(|it| widest(*it) > 0).collect();
    let mut widths: Vec<usize> = kept
        .iter()
        .map(|it| widest(*it).max(heading[*it].width()))
        .collect();
    let total: usize = widths.iter().sum::<usize>() + 2 * kept.len().saturating_sub(1);
    if let Some(at) = kept.iter().position(|it| *it == yielding) {
        let least = heading[yielding].width().max(8).min(widths[at]);
        widths[at] = widths[at]
            .saturating_sub(total.saturating_sub(width))
            .max(least);
    }
    let line = |cell: &dyn Fn(usize) -> String| {
        let cells = kept
            .iter()
            .zip(&widths)
            .map(|(column, width)| pad(&cut(&cell(*column), *width), *width));
        cells.collect::<Vec<_>>().join("  ").trim_end().to_owned() + "\n"
    };
    let mut out = line(&|column| heading[column].to_owned());
    for row in rows {
        out += &line(&|column| row[column].clone());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_fit_their_content_and_the_screen() {
        let row = |cells: [&str; 3]| cells.map(str::to_owned).to_vec();
        let rows = [
            row(["A1", "黄土色", ""]),
            row(["B12", "burnt sienna, dark", ""]),
        ];
        let table = lay_out(&["at", "name", "lot"], &rows, 1, 80);
        assert_eq!(table, "at   name\nA1   黄土色\nB12  burnt sienna, dark\n");
        let narrow = lay_out(&["at", "name", "lot"], &rows, 1, 14);
        assert_eq!(narrow, "at   name\nA1   黄土色\nB12  burnt si…\n");
    }
}
