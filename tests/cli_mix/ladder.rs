//! `mix ladder`.

use crate::letdowns::{COAT, COATS, letdowns, truth};
use crate::workshop::Ran;
use crate::{json, lab};
use masstone::colour::difference::delta_e_2000;
use masstone::colour::srgb;

#[test]
fn a_ladder_runs_from_the_clear_coating_to_the_full_load_through_what_was_measured() {
    let workshop = letdowns();
    let answer = json(workshop.run("mix ladder PR101 --format json"));
    assert_eq!(answer["kind"], "ladder");
    assert_eq!(answer["full"], 12.0);
    let steps = answer["steps"].as_array().unwrap();
    assert_eq!(steps[0]["load"], 0.0);
    assert_eq!(steps.last().unwrap()["load"], 12.0);
    // U95 is of 95 %.
    let beyond = steps.iter().filter(|step| {
        let load = step["load"].as_f64().unwrap();
        let true_colour = truth(&[("PR101", load)], COATS * COAT);
        let off = delta_e_2000(lab(&step["colour"]), true_colour);
        off > step["colour"]["U95"].as_f64().unwrap()
    });
    let beyond = beyond.count();
    assert!(20 * beyond <= steps.len(), "{beyond} of {}", steps.len());
    let loads: Vec<f64> = (answer["measured"].as_array().unwrap().iter())
        .map(|it| it["load"].as_f64().unwrap())
        .collect();
    assert_eq!(loads, [0.0, 0.5, 2.0, 6.0, 12.0]);
}

#[test]
fn what_hides_is_said_only_where_the_swatches_tell() {
    let workshop = letdowns();
    let hiding = |pigment: &str| {
        let answer = json(workshop.run(&format!("mix ladder {pigment} --format json")));
        answer["hiding"].clone()
    };
    // By the truth, in this film: white over black by white over white.
    assert_eq!(hiding("PBk11")["what"], "from");
    assert_eq!(hiding("PBr7")["what"], "not-identified");
    let table = workshop.run("mix ladder PBr7").exits(0).stdout;
    assert!(
        table.contains("From which load on it hides is not known"),
        "{table}"
    );
}

#[test]
fn black_tints_more_strongly_than_red() {
    let workshop = letdowns();
    let answer = json(workshop.run("mix ladder PBk11 --reference PR101 --format json"));
    let strength = &answer["strength"]["as_deep"];
    assert!(
        answer["strength"]["over_all"].as_f64().unwrap() > 2.0,
        "{answer:#}"
    );
    let number = |key: &str| strength[key].as_f64().unwrap();
    let l = |pigment: &str, load: f64| truth(&[(pigment, load)], COATS * COAT).l;
    // Both loads of that depth, by the truth.
    let depth = number("L");
    let load = |pigment: &str| {
        let (mut less, mut more) = (0.0, 2.0);
        for _ in 0..50 {
            let middle = f64::midpoint(less, more);
            if l(pigment, middle) > depth {
                less = middle;
            } else {
                more = middle;
            }
        }
        more
    };
    let times = load("PR101") / load("PBk11");
    assert!(
        times > 2.0 && (number("from")..=number("to")).contains(&times),
        "{strength:#} {times}"
    );
    let back = json(workshop.run("mix ladder PR101 --reference PBk11 --format json"));
    let back = back["strength"]["as_deep"]["times"].as_f64().unwrap();
    assert!((back * number("times") - 1.0).abs() < 1e-3, "{back}");
    let table = workshop
        .run("mix ladder PBk11 --reference PR101")
        .exits(0)
        .stdout;
    assert!(table.contains("times as much as one of PR101"), "{table}");
    let never = workshop
        .run("mix ladder PR101 --reference PW6")
        .exits(0)
        .stdout;
    assert!(
        never.contains("don't both make this film darker"),
        "{never}"
    );
    workshop
        .run("mix ladder PR101 --reference PR102")
        .exits(2)
        .says(&[
            "no swatch in clear exterior coating, two-part has the pigment PR102",
            "PR101",
        ]);
}

#[test]
fn strips_are_written_as_svg_and_png() {
    let workshop = letdowns();
    workshop
        .run("mix ladder PR101 --svg strip.svg --png strip.png")
        .exits(0);
    let svg = workshop.read("strip.svg");
    assert!(svg.starts_with("<?xml") && svg.ends_with("</svg>\n"));
    assert!(svg.contains("PR101 in clear exterior coating"));
    // A dot for the control and each of four loads.
    assert_eq!(svg.matches("<circle").count(), 5);
    let picture = image::open(workshop.path("strip.png")).unwrap().to_rgb8();
    assert_eq!(picture.width(), 1920);
    // The right end of the band is the full load's colour, as far as screens go.
    let answer = json(workshop.run("mix ladder PR101 --format json"));
    let last = lab(&answer["steps"].as_array().unwrap().last().unwrap()["colour"]);
    let full = srgb::to_rgb8(last);
    let hits = picture.pixels().filter(|it| it.0 == full).count();
    assert!(hits > 500, "{full:?}: {hits}");
    workshop
        .run("mix ladder PR101 --svg nowhere/strip.svg")
        .exits(1)
        .says(&["can't write nowhere/strip.svg"]);
}

#[test]
fn a_terminal_with_colours_shows_the_strip() {
    let workshop = letdowns();
    let mut command = workshop.command("mix ladder PR101");
    let command = command
        .env("CLICOLOR_FORCE", "1")
        .env("COLORTERM", "truecolor");
    let ran = Ran::from(command.output().unwrap()).exits(0);
    assert!(ran.stdout.matches("\u{1b}[48;2;").count() > 150, "{ran:?}");
    let plain = workshop.run("mix ladder PR101").exits(0).stdout;
    assert!(
        !plain.contains('\u{1b}') && plain.contains("measured"),
        "{plain}"
    );
}
