use super::*;
use crate::colour::spectrum::reflectance_to_xyz_d50;

/// 380–780 nm every 5 nm.
type Spectrum = [f64; BANDS];

/// The measured reflectances of the 24 patches of a chart (colour-science 0.4.7): not smooth guesses but real pigments.
fn chart() -> Vec<(String, Spectrum)> {
    let csv = include_str!("../../../tests/data/colour-chart-24.csv");
    let rows = csv.lines().filter(|it| !it.starts_with('#')).skip(1);
    rows.map(|row| {
        let cells: Vec<&str> = row.split(',').collect();
        let last = &cells[cells.len() - BANDS..];
        let mut values = [0.0; BANDS];
        for (value, cell) in values.iter_mut().zip(last) {
            *value = cell.parse().unwrap();
        }
        (cells[0].to_owned(), values)
    })
    .collect()
}

fn nm(band: usize) -> f64 {
    380.0 + 5.0 * band as f64
}

fn lab_of(values: &Spectrum) -> Lab {
    lab::from_xyz(reflectance_to_xyz_d50(380.0, 5.0, values).unwrap())
}

fn difference(one: Lab, other: Lab) -> Vector3<f64> {
    Vector3::new(other.l - one.l, other.a - one.a, other.b - one.b)
}

/// Absorption times thickness of a coating that yellows: steep towards the violet.
fn yellowing(strength: f64, width_nm: f64) -> Spectrum {
    std::array::from_fn(|i| strength * (-(nm(i) - 400.0) / width_nm).exp())
}

/// What a clear film takes, there and back.
fn twice(absorbed: &Spectrum) -> Spectrum {
    absorbed.map(|it| (-2.0 * it).exp())
}

fn times(one: &Spectrum, other: &Spectrum) -> Spectrum {
    std::array::from_fn(|i| one[i] * other[i])
}

/// A white with the violet edge of titanium dioxide.
fn white() -> Spectrum {
    std::array::from_fn(|i| 0.9 / (1.0 + (-(nm(i) - 405.0) / 6.0).exp()) + 0.03)
}

fn coating_over(white: &Spectrum, film: &Spectrum) -> CoatingChange {
    let before = lab_of(white);
    CoatingChange::of_control(before, difference(before, lab_of(&times(white, film)))).unwrap()
}

/// The truth band by band on measured spectra, against what is made of two Lab values of the white: four coatings on 24 colours.
#[test]
fn what_a_film_does_to_real_pigments_is_found_from_a_white() {
    for (strength, width) in [(0.15, 60.0), (0.3, 40.0), (0.6, 40.0), (0.4, 80.0)] {
        let film = twice(&yellowing(strength, width));
        let coating = coating_over(&white(), &film);
        let (mut sum, mut worst, mut by_subtraction, mut whole) = (0.0, 0.0_f64, 0.0, 0.0);
        for (_, values) in chart() {
            let (before, after) = (lab_of(&values), lab_of(&times(&values, &film)));
            let off = delta_e_2000(after, moved(before, coating.on(before).unwrap()));
            sum += off;
            worst = worst.max(off);
            by_subtraction += delta_e_2000(after, moved(before, coating.control));
            whole += delta_e_2000(before, after);
        }
        let mean = sum / 24.0;
        // What the spectra's unknown shapes leave. Measured, in ΔE00: means of 0.08, 0.13, 0.22, 0.21, at most 0.69, of changes of 2.2 to 6.1 on average; by subtraction 1.6 to 4.1.
        assert!(
            mean < 0.3 && worst < 0.9,
            "{strength} {width}: {mean} {worst}"
        );
        assert!(
            mean < 0.08 * whole / 24.0,
            "{strength} {width}: {mean} {whole}"
        );
        // Lab's own difference of the control, laid on every colour, is worse by far.
        assert!(
            mean < 0.1 * by_subtraction / 24.0,
            "{mean} {by_subtraction}"
        );
    }
}

#[test]
fn blues_and_pale_colours_take_more_than_dark_reds() {
    let coating = coating_over(&white(), &twice(&yellowing(0.4, 60.0)));
    let of = |l: f64, a: f64, b: f64| {
        let colour = Lab::new(l, a, b);
        delta_e_2000(colour, moved(colour, coating.on(colour).unwrap()))
    };
    let dark_red = of(32.0, 40.0, 25.0);
    let ochre = of(60.0, 15.0, 45.0);
    for (name, it) in [
        ("white", of(94.0, 0.0, 2.0)),
        ("pale grey", of(80.0, 0.0, 0.0)),
        ("light blue", of(60.0, -8.0, -28.0)),
        ("grey-blue", of(50.0, -5.0, -15.0)),
    ] {
        assert!(
            it > 1.5 * dark_red && it > 1.5 * ochre,
            "{name} {it} {dark_red} {ochre}"
        );
    }
    // All of them go yellower, never bluer, and no lighter.
    for colour in [
        Lab::new(94.0, 0.0, 2.0),
        Lab::new(32.0, 40.0, 25.0),
        Lab::new(60.0, -8.0, -28.0),
    ] {
        let it = coating.on(colour).unwrap();
        assert!(it.z > 0.0 && it.x < 0.0, "{colour:?} {it}");
    }
}

/// Kubelka & Munk: reflectance of a film of scattering and absorption times thickness, over what lies below it.
fn film(s: f64, k: f64, below: f64) -> f64 {
    let a = 1.0 + k / s;
    let b = (a * a - 1.0).sqrt();
    let c = b / (b * s).tanh();
    (1.0 - below * (a - c)) / (a - below + c)
}

/// Light that also meets the surface from within (Saunderson, specular excluded; refractive index 1.5).
fn seen_from_outside(inner: f64) -> f64 {
    (1.0 - 0.04) * (1.0 - 0.6) * inner / (1.0 - 0.6 * inner)
}

/// The claim that the control's ratio bounds what a film with the pigment in it loses, with its surface or without.
#[test]
fn a_pigmented_film_loses_no_more_than_the_control() {
    // The published value of Kubelka–Munk's solution, (K, S, X, Rg) = (0.5, 2, 0.5, 0.85).
    assert!((film(1.0, 0.25, 0.85) - 0.595_386_172_110_67).abs() < 1e-12);
    let mut strictest = f64::INFINITY;
    for added in [0.01_f64, 0.1, 0.5] {
        for white in [0.7, 0.9, 0.98] {
            let control = [white, white * (-2.0 * added).exp()];
            for s in [0.01, 0.3, 2.0, 15.0] {
                for k in [0.001, 0.05, 0.5, 5.0, 30.0] {
                    for below in [0.05, 0.4, white] {
                        let paint = [film(s, k, below), film(s, k + added, below)];
                        let bare = (paint[1] / paint[0]) / (control[1] / control[0]);
                        assert!(
                            bare > 1.0 - 1e-12,
                            "{added} {white} {s} {k} {below}: {bare}"
                        );
                        strictest = strictest.min(bare);
                        // Beside a control that is lighter than the paint.
                        if paint[0] <= control[0] {
                            let ratio =
                                |it: [f64; 2]| seen_from_outside(it[1]) / seen_from_outside(it[0]);
                            assert!(ratio(paint) >= ratio(control) - 1e-12);
                        }
                    }
                }
            }
        }
    }
    // It is reached: by what hardly scatters or absorbs over white, as the control itself.
    assert!(strictest < 1.001, "{strictest}");
}

/// The same in colour: measured spectra as films that hide, the coating's absorption added within.
#[test]
fn the_coating_s_part_is_an_upper_bound_in_colour() {
    let absorbed = yellowing(0.4, 60.0);
    let coating = coating_over(&white(), &twice(&absorbed));
    for (name, values) in chart() {
        let hiding = 8.0;
        let of = |added: &Spectrum| -> Spectrum {
            std::array::from_fn(|i| {
                let k = hiding * (1.0 - values[i]).powi(2) / (2.0 * values[i]);
                film(hiding, k + added[i], 0.4)
            })
        };
        let (before, after) = (lab_of(&of(&[0.0; BANDS])), lab_of(&of(&absorbed)));
        let bound = delta_e_2000(before, moved(before, coating.on(before).unwrap()));
        assert!(delta_e_2000(before, after) < bound, "{name}");
    }
}

#[test]
fn parts_add_up_to_the_change() {
    let coating = coating_over(&white(), &twice(&yellowing(0.3, 50.0)));
    let start = Lab::new(50.0, -5.0, -22.0);
    let by_coating = coating.on(start).unwrap();
    // The pigment fades besides.
    let change = by_coating + Vector3::new(4.0, 1.0, 3.0);
    let it = parts(start, change, &coating).unwrap();
    assert!((Vector3::from(it.coating) + Vector3::from(it.rest) - change).amax() < 1e-12);
    assert!((Vector3::from(it.rest) - Vector3::new(4.0, 1.0, 3.0)).amax() < 1e-12);
    assert!(it.coating_de_00 > 1.0 && it.rest_de_00 > 2.0);
    // Nothing but the coating: no rest.
    let it = parts(start, by_coating, &coating).unwrap();
    assert!(
        it.rest_de_00 < 1e-9
            && (it.coating_de_00 - delta_e_2000(start, moved(start, by_coating))).abs() < 1e-12
    );
}

#[test]
fn a_control_that_did_not_change_leaves_all_to_the_pigment() {
    let coating = CoatingChange::of_control(Lab::new(93.0, -1.0, 3.0), Vector3::zeros()).unwrap();
    for (_, values) in chart() {
        assert!(coating.on(lab_of(&values)).unwrap().amax() < 1e-6);
    }
    let it = parts(
        Lab::new(40.0, 30.0, 20.0),
        Vector3::new(1.0, -2.0, 0.5),
        &coating,
    )
    .unwrap();
    assert!((Vector3::from(it.rest) - Vector3::new(1.0, -2.0, 0.5)).amax() < 1e-6);
}

#[test]
fn whites_that_a_photo_finds_are_taken() {
    // Whiter than white, bluish from a brightener, and a coating that bleached.
    for (start, change) in [
        (Lab::new(101.5, 0.2, -0.5), Vector3::new(-2.0, -1.0, 6.0)),
        (Lab::new(96.0, 1.5, -6.0), Vector3::new(-1.0, -2.0, 9.0)),
        (Lab::new(90.0, -1.0, 9.0), Vector3::new(3.0, 0.5, -6.0)),
    ] {
        let coating = CoatingChange::of_control(start, change).unwrap();
        for colour in [
            Lab::new(94.0, 0.0, 2.0),
            Lab::new(50.0, -5.0, -22.0),
            Lab::new(97.5, 0.0, 0.5),
        ] {
            let it = coating.on(colour).unwrap();
            assert!(it.z * change.z > 0.0, "{start:?} {colour:?} {it}");
            // No more light comes back than falls on it.
            assert!(colour.l + it.x <= 100.0 + 1e-9);
        }
    }
}

#[test]
fn what_says_nothing_of_a_coating_is_refused() {
    let wood = CoatingChange::of_control(Lab::new(62.0, 10.0, 25.0), Vector3::zeros()).unwrap_err();
    assert_eq!(
        wood.to_string(),
        "the control on white has L* 62.0 before any sun; an inert white has 70 or more, so the coating can't be told apart; put this control \
         on a white primer"
    );
    assert!(CoatingChange::of_control(Lab::new(f64::NAN, 0.0, 0.0), Vector3::zeros()).is_err());
    for odd in [
        Vector3::new(f64::NAN, 0.0, 0.0),
        Vector3::new(0.0, 150.0, 0.0),
        Vector3::new(-95.0, 0.0, 0.0),
    ] {
        assert!(CoatingChange::of_control(Lab::new(93.0, 0.0, 2.0), odd).is_err());
    }
    let coating = coating_over(&white(), &twice(&yellowing(0.3, 50.0)));
    assert!(coating.on(Lab::new(50.0, 140.0, 0.0)).is_err());
}

#[test]
fn the_sentence_ranks_colours_with_figures() {
    let coating = coating_over(&white(), &twice(&yellowing(0.4, 60.0)));
    let range = [
        ("PR101 12", Lab::new(32.0, 40.0, 25.0)),
        ("PB29 2", Lab::new(60.0, -8.0, -28.0)),
        ("PW6 20", Lab::new(94.0, 0.0, 2.0)),
        ("PY42 8", Lab::new(60.0, 15.0, 45.0)),
    ]
    .map(|(name, colour)| (name.to_owned(), colour));
    let figure = |i: usize| {
        let start = range[i].1;
        parts(start, Vector3::zeros(), &coating)
            .unwrap()
            .coating_de_00
    };
    assert!(figure(2) > figure(1) && figure(1) > figure(0) && figure(0) > figure(3));
    assert_eq!(
        shows_most(&coating, &range).unwrap(),
        format!(
            "Yellowing of the coating shows most on PW6 20 (ΔE00 up to {:.1}), PB29 2 (ΔE00 up to {:.1}), PR101 12 (ΔE00 up to {:.1}), least on PY42 8 (up to {:.1}).",
            figure(2),
            figure(1),
            figure(0),
            figure(3)
        )
    );
    assert!(shows_most(&coating, &range[..1]).is_none() && shows_most(&coating, &[]).is_none());
    let bleached =
        CoatingChange::of_control(Lab::new(90.0, 0.0, 8.0), Vector3::new(2.0, 0.0, -5.0)).unwrap();
    assert!(
        shows_most(&bleached, &range)
            .unwrap()
            .starts_with("The coating's change shows most on ")
    );
}

#[test]
fn a_control_on_the_panel_s_substrate_tells_of_both() {
    assert_eq!(tells_of(Control::Clear), "coating and substrate together");
    assert_eq!(tells_of(Control::ClearOnWhite), "the coating alone");
}
