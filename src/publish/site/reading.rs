//! How to read it all: screens, light, gloss, uncertainty, the sun; and the files for other programs.

use super::head;
use crate::publish::exchange::{FOLDER, Format};
use crate::publish::range::{Range, Shows};
use maud::html;

/// Its title.
const TITLE: &str = "How to read this";

pub(super) fn page(range: &Range) -> String {
    let beyond = (range.swatches.iter())
        .filter(|it| it.tone.shows() != Shows::Srgb)
        .count();
    let body = html! {
        h1 { (TITLE) }
        h2 { "Your screen is not the board" }
        p {
            "Every colour here is a measurement, and your screen shows it as well as it can: in sRGB, and on wide-gamut screens by its CIELAB values. "
            "Brightness, night modes, a tinted room and the screen itself change what you see. Set the screen to its plain mode, and compare colours here with each other rather than with things around you. "
            @match beyond {
                0 => "All colours of this range lie within what an ordinary screen can show.",
                1 => "One colour of this range is more colourful than an ordinary screen can show: it is marked.",
                n => { (n) " colours of this range are more colourful than an ordinary screen can show: they are marked." }
            }
        }
        h2 { "Light" }
        p {
            "The values hold for daylight of the standard D50. Under lamps some coats look different from each other though they match in daylight, and the other way round. Look at a coated sample in the light in which it will be seen, and large: a wall or a bench looks lighter and more colourful than a small field."
        }
        h2 { "Gloss" }
        p {
            "Highlights were left out as far as the photos show them. A glossy coat looks darker and deeper from some sides than these fields, and paler where it mirrors the sky."
        }
        h2 { "How sure the numbers are" }
        p {
            "± is U95, in ΔE00: if all of this were done again, in 95 of 100 cases the true colour would be no farther from the value than that. "
            "About 1 is what a trained eye sees side by side; 2 is what most people see; 5 is seen without comparing (common practice). "
            "Two colours closer to each other than their uncertainties together may be the same. “One more coat” says how much another coat, made in the same way, may differ: it takes four specimens to tell."
        }
        h2 { "Exposure" }
        p {
            "Half of a patch was masked, half was in the sun or under a lamp. A change is how the exposed half moved against the masked one, within the same photo. "
            "“No change told” means that what was seen could be noise: not that nothing happened. Hours in one place are not hours in another: latitude, season, side and glass matter more than the number."
        }
        h2 { "Dark colours and heat" }
        p {
            "Y says how much of the visible light a coat reflects. Below 20 % it counts as dark here: in the sun it gets hot, wood and joints move more. Y sees nothing of the infrared half of sunlight, so that two coats of one colour can differ. Ask the coating's maker how dark it may be."
        }
        h2 { "The coat" }
        p {
            "The field inside each frame is the coat itself, photographed, straightened and evened for light; the frame is its mean. What varies within is the coat and the wood below. Wood differs from board to board, and thin or pale coats show it."
        }
        h2 id="files" { "Files for other programs" }
        p { "The values in open formats. Each swatch keeps its number, whatever it is called." }
        ul { @for format in Format::ALL { @for it in format.files() { li { a href=(format!("{FOLDER}/{}", it.name)) { (it.name) } ": " (it.says) } } } }
        p.faint { "Made by " (range.program.name) " " (range.program.version) "." }
    };
    head::page(range, TITLE, "", None, &body)
}
