//! The cards that the program carries: what they state, against independent values.

mod table;

use masstone::colour::difference::delta_e_2000;
use masstone::colour::{Lab, lab, spectrum};
use table::read_table;

fn card(text: &str) -> toml::Table {
    text.parse().expect("a card is TOML")
}

fn numbers(value: &toml::Value) -> Vec<f64> {
    let number = |it: &toml::Value| {
        it.as_float()
            .or_else(|| it.as_integer().map(|it| it as f64))
    };
    value
        .as_array()
        .expect("a list")
        .iter()
        .map(|it| number(it).expect("numbers"))
        .collect()
}

fn patches(card: &toml::Table) -> &Vec<toml::Value> {
    card["patch"].as_array().expect("patches")
}

/// The chart's patches against colour-science 0.4.7, D50, 2°: by the same sums at 5 nm, and by ASTM E308.
#[test]
fn chart_24_has_the_colours_of_its_spectra() {
    let card = card(include_str!("../calibration/chart-24.toml"));
    let rows = read_table(include_str!("data/colour-chart-24.csv"), 1);
    assert_eq!(patches(&card).len(), 24);
    for (patch, (name, independent)) in patches(&card).iter().zip(&rows) {
        assert_eq!(patch["at"].as_str(), Some(name[0].as_str()));
        let reflectance = &patch["reflectance"];
        let (start, step) = (
            reflectance["start_nm"].as_integer(),
            reflectance["step_nm"].as_integer(),
        );
        assert_eq!((start, step), (Some(380), Some(5)));
        let values = numbers(&reflectance["values"]);
        assert_eq!(values.len(), 81);
        let ours = lab::from_xyz(spectrum::reflectance_to_xyz_d50(380.0, 5.0, &values).unwrap());
        let of = |at: usize| Lab::new(independent[at], independent[at + 1], independent[at + 2]);
        let (sums, astm) = (delta_e_2000(ours, of(0)), delta_e_2000(ours, of(9)));
        assert!(sums < 1e-6, "{name:?} {ours:?} {sums}");
        // 1 nm sums to 830 nm: the step is worth that much, far below what the card is known to.
        assert!(astm < 0.015, "{name:?} {ours:?} {astm}");
    }
}

#[test]
fn neutral_cards_are_the_neutrals_they_name() {
    let grey = card(include_str!("../calibration/grey-18.toml"));
    let three = card(include_str!("../calibration/white-grey-black.toml"));
    let stated: Vec<_> = patches(&grey)
        .iter()
        .chain(patches(&three))
        .map(|it| numbers(&it["lab"]))
        .collect();
    assert_eq!(stated.len(), 4);
    for (lab, reflectance) in stated.iter().zip([0.18_f64, 0.88, 0.18, 0.035]) {
        // ISO/CIE 11664-4 above its straight part; six decimals are stated.
        assert!(
            (lab[0] - (116.0 * reflectance.cbrt() - 16.0)).abs() < 0.51e-6,
            "{lab:?} {reflectance}"
        );
        assert!(
            lab[1].abs() < f64::EPSILON && lab[2].abs() < f64::EPSILON,
            "{lab:?}"
        );
    }
}
