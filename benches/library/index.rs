//! An R*Tree over Lab with an exact ΔE00 pass, against looking at every colour: the same ten nearest, how long each takes.

use super::wanted;
use masstone::colour::Lab;
use masstone::colour::difference::delta_e_2000;
use rusqlite::{Connection, params};
use std::path::Path;
use std::time::{Duration, Instant};

const COUNT: usize = 10;

/// Prints what making the index takes and what each way of looking takes; both are held against each other.
pub(crate) fn compare(library: &Path) {
    let mut connection = Connection::open(library).expect("the library opens");
    let before = std::fs::metadata(library).map_or(0, |it| it.len());
    let start = Instant::now();
    let transaction = connection.transaction().expect("a transaction");
    transaction
        .execute_batch(
            "CREATE VIRTUAL TABLE spot USING rtree (id, l0, l1, a0, a1, b0, b1);
             INSERT INTO spot SELECT swatch, l, l, a, a, b, b FROM colour WHERE standard = 1;",
        )
        .expect("R*Tree is compiled in");
    transaction.commit().expect("it can be written");
    let making = start.elapsed();
    let grown = std::fs::metadata(library).map_or(0, |it| it.len()) - before;
    let (mut full, mut tree, mut exact) = (Vec::new(), Vec::new(), 0);
    for run in 0..25 {
        let target = wanted(run);
        let start = Instant::now();
        let by_scan = scan(&connection, target);
        full.push(start.elapsed());
        let start = Instant::now();
        let (by_tree, looked_at) = boxes(&connection, target);
        tree.push(start.elapsed());
        exact += looked_at;
        let distances = |it: &[(f64, i64)]| it.iter().map(|it| it.0).collect::<Vec<_>>();
        let apart = distances(&by_scan)
            .iter()
            .zip(distances(&by_tree))
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        assert!(
            by_scan.len() == by_tree.len() && apart < 1e-4,
            "both find the same"
        );
    }
    let middle = |times: &mut Vec<Duration>| {
        times.sort_unstable();
        1e3 * times[times.len() / 2].as_secs_f64()
    };
    println!(
        "ten nearest, one thread: every colour {:.1} ms; R*Tree {:.1} ms ({} colours looked at), its making {:.1} s and {:.0} MB",
        middle(&mut full),
        middle(&mut tree),
        exact / 25,
        making.as_secs_f64(),
        grown as f64 / 1e6
    );
}

fn scan(connection: &Connection, target: Lab) -> Vec<(f64, i64)> {
    let sql = "SELECT swatch, l, a, b FROM colour WHERE standard = 1";
    nearest(connection, sql, &[], target).0
}

/// Boxes of twice the size until the tenth nearest lies surely within.
fn boxes(connection: &Connection, target: Lab) -> (Vec<(f64, i64)>, usize) {
    let sql = "SELECT id, l, a, b FROM spot CROSS JOIN colour ON swatch = id AND standard = 1
               WHERE l0 <= ?1 AND l1 >= ?2 AND a0 <= ?3 AND a1 >= ?4 AND b0 <= ?5 AND b1 >= ?6";
    let (mut half, mut looked_at) = (4.0, 0);
    loop {
        let bounds = [
            target.l + half,
            target.l - half,
            target.a + half,
            target.a - half,
            target.b + half,
            target.b - half,
        ];
        let (found, count) = nearest(connection, sql, &bounds, target);
        looked_at += count;
        // Nothing outside the box is nearer than half its side over the largest weight that ΔE00 divides by there. S_L < 1.75; S_C and S_H
        // grow with chroma to 1 + 0.045 C'; the rotation takes at most a half from the squares of blues.
        let chroma = target.a.hypot(target.b) * 1.5 + half;
        let surely = half / (1.0 + 0.045 * chroma).max(1.75) / 2.0_f64.sqrt();
        if found.len() == COUNT && found[COUNT - 1].0 <= surely || half > 400.0 {
            return (found, looked_at);
        }
        half *= 2.0;
    }
}

fn nearest(
    connection: &Connection,
    sql: &str,
    bounds: &[f64],
    target: Lab,
) -> (Vec<(f64, i64)>, usize) {
    let mut statement = connection.prepare_cached(sql).expect("SQL");
    let mut all: Vec<(f64, i64)> = Vec::new();
    let mut row = |row: &rusqlite::Row<'_>| -> rusqlite::Result<()> {
        let lab = Lab::new(row.get(1)?, row.get(2)?, row.get(3)?);
        all.push((delta_e_2000(target, lab), row.get(0)?));
        Ok(())
    };
    let mut rows = match bounds {
        [] => statement.query([]),
        [a, b, c, d, e, f] => statement.query(params![a, b, c, d, e, f]),
        _ => unreachable!("six bounds, or none"),
    }
    .expect("it can be asked");
    while let Some(it) = rows.next().expect("it can be read") {
        row(it).expect("it can be read");
    }
    let count = all.len();
    if COUNT < all.len() {
        all.select_nth_unstable_by(COUNT - 1, |a, b| a.0.total_cmp(&b.0));
        all.truncate(COUNT);
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    (all, count)
}
