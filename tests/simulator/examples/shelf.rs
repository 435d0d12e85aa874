//! Prints what shelves of films look like, and how long a film takes: `cargo run --release -p masstone-simulator --example shelf [SEED]`.

#![expect(clippy::print_stdout, reason = "an example that shows colours")]

use masstone_simulator::{Shelf, ShelfPlan, Split, ciede2000};

fn main() {
    let seed = std::env::args().nth(1).and_then(|it| it.parse().ok());
    let plan = ShelfPlan {
        pigments: 9,
        loads: 4,
        grounds: 1,
    };
    let shelf = Shelf::draw(Split::Study, seed.unwrap_or(1), plan);
    let start = std::time::Instant::now();
    let patches = shelf.patches();
    let each = start.elapsed().as_secs_f64() / patches.len() as f64;
    println!("{} g/m², {:.1} ms a patch", shelf.g_per_m2, 1e3 * each);
    for it in patches {
        let pigments: Vec<String> = (it.film.pigments.iter())
            .map(|(i, load)| format!("{:?} {load}", shelf.pigments[*i].kind))
            .collect();
        let [l, a, b] = it.meant;
        println!(
            "{:20} {l:6.1} {a:6.1} {b:6.1}  laid {:.2} measured {:.2}  contrast ratio {:.3}",
            pigments.join(" + "),
            ciede2000(it.meant, it.laid),
            ciede2000(it.laid, it.measured),
            shelf.contrast_ratio(&it.film)
        );
    }
}
