//! A workshop with a library.

use crate::workshop::{Ran, Workshop};

/// A workshop whose photos were measured into its library.
pub(crate) fn shelved() -> Workshop {
    let workshop = Workshop::new();
    workshop
        .run("measure 1.jpg 2.jpg --panel panel.toml --hours 0 --out fresh.json --library swatches.sqlite")
        .exits(0)
        .says(&["2 photos added (100 readings), 0 there already; library swatches.sqlite"]);
    workshop
}

/// With arguments that hold spaces.
pub(crate) fn run(workshop: &Workshop, arguments: &[&str]) -> Ran {
    Ran::from(
        workshop
            .command("library")
            .args(arguments)
            .output()
            .unwrap(),
    )
}
