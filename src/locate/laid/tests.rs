use super::*;
use crate::panel;
use std::cell::Cell;

/// Two rows of three patches, each 40 × 30 mm, 50 and 40 apart.
fn panel() -> Panel {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("panel.toml");
    let text = "id = \"six\"\nsubstrate = \"larch\"\ncoating = \"clear\"\n[grid]\nrows = 2\ncolumns = 3\n\
                patch_mm = [40, 30]\npitch_mm = [50, 40]\n[[card]]\ncard = \"grey-18\"\nplace = \"right\"\n";
    let patches = ["A1", "A2", "A3", "B1", "B2", "B3"]
        .map(|it| format!("[[patch]]\nat = \"{it}\"\npigments = []\n"))
        .concat();
    std::fs::write(&path, format!("{text}{patches}")).unwrap();
    panel::read(&path).unwrap()
}

/// Where the lattice's first cell lies, and pixels a millimetre.
const AT: (f64, f64) = (70.0, 60.0);

fn map() -> PlaneMap {
    PlaneMap::new(Matrix3::new(1.0, 0.0, AT.0, 0.0, 1.0, AT.1, 0.0, 0.0, 1.0))
}

/// A grey board with dark patches on these cells.
fn view(cells: &[(i32, i32)], grid: &Grid) -> View {
    let (width, height) = (400, 300);
    let rects: Vec<Rect> = cells.iter().map(|it| Lattice::rect(grid, *it)).collect();
    let colour = |i: usize| {
        let p = Point::new(
            (i % width) as f64 + 0.5 - AT.0,
            (i / width) as f64 + 0.5 - AT.1,
        );
        let on = rects.iter().any(|it| it.contains(&p));
        [if on { 20.0 } else { 60.0 }, 0.0, 0.0]
    };
    View {
        factor: 1,
        width,
        height,
        pixels: (0..width * height).map(colour).collect(),
    }
}

fn laid(cells: &[(i32, i32)]) -> Laid {
    let corners = vec![[(Point::origin(), Point::origin()); 4]; cells.len()];
    Laid::new(Lattice {
        map: map(),
        cells: cells.to_vec(),
        corners,
        misfit: 0.0,
    })
}

const SIX: [(i32, i32); 6] = [(0, 0), (0, 1), (1, 0), (1, 1), (2, 0), (2, 1)];

#[test]
fn ways_that_are_given_up_are_those_below_what_is_asked() {
    let panel = panel();
    let grid = panel.grid.unwrap();
    // Another column of which the lattice knows nothing: shifted by one, the layout fits as well.
    let view = view(&[&SIX[..], &[(3, 0), (3, 1)]].concat(), &grid);
    let any = |_: &PlaneMap| {
        Some(Asked {
            score: f64::NEG_INFINITY,
            seen: 0.0,
        })
    };
    let mut whole = laid(&SIX);
    let all = whole.ways(&view, &panel, &grid, &any, &|_| ());
    let best = all.iter().map(Placement::score).fold(f64::MIN, f64::max);
    assert!(all.len() > 20 && best > 20.0, "{} {best}", all.len());

    let within = 2.0;
    let leader = Cell::new(f64::NEG_INFINITY);
    let asked = |_: &PlaneMap| {
        Some(Asked {
            score: leader.get() - within,
            seen: 0.0,
        })
    };
    let met = |it: &Placement| leader.set(leader.get().max(it.score()));
    let mut pruned = laid(&SIX);
    let kept = pruned.ways(&view, &panel, &grid, &asked, &met);
    let of = |it: &Placement| (it.map.homography, it.mirrored);
    let told: Vec<_> = kept
        .iter()
        .filter(|it| it.score() >= best - within)
        .map(of)
        .collect();
    let expected: Vec<_> = all
        .iter()
        .filter(|it| it.score() >= best - within)
        .map(of)
        .collect();
    assert_eq!(told, expected);
    assert!(told.len() == 8 && all.len() > 8, "{}", told.len());
    // What was given up was not looked at to the end.
    assert!(
        pruned.known.len() < whole.known.len(),
        "{} of {}",
        pruned.known.len(),
        whole.known.len()
    );
}

#[test]
fn ways_of_which_too_little_can_be_seen_are_given_up() {
    let panel = panel();
    let grid = panel.grid.unwrap();
    let view = view(&SIX, &grid);
    let asked = |seen: f64| {
        move |_: &PlaneMap| {
            Some(Asked {
                score: f64::NEG_INFINITY,
                seen,
            })
        }
    };
    let all = laid(&SIX).ways(&view, &panel, &grid, &asked(0.0), &|_| ());
    for least in [2.5, 4.0, 5.9] {
        let kept = laid(&SIX).ways(&view, &panel, &grid, &asked(least), &|_| ());
        let enough = all.iter().filter(|it| it.seen >= least).count();
        assert!(enough > 0 && enough < all.len());
        // No highlight hides anything here: what is seen is what is believed.
        assert_eq!(kept.len(), enough);
    }
}

#[test]
fn where_nothing_is_asked_nothing_is_looked_at() {
    let panel = panel();
    let grid = panel.grid.unwrap();
    let view = view(&SIX, &grid);
    let mut laid = laid(&SIX);
    assert!(
        laid.ways(&view, &panel, &grid, &|_| None, &|_| ())
            .is_empty()
    );
    assert!(laid.known.is_empty());
}
