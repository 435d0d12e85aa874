//! How to read the page.

use maud::{Markup, html};

/// What has to be known before the first number.
pub(super) fn before() -> Markup {
    html! {
        p { "Half of every patch was masked, the other half exposed. A change is how the exposed half moved against the masked one since the first photos: what both halves did alike is not in it. "
            "ΔE00 1 is what a trained eye sees side by side, 2 what most people see, 5 what is seen without comparing." }
    }
}

/// The words of the tables.
pub(super) fn after() -> Markup {
    html! {
        section {
            h2 { "How to read it" }
            dl.words {
                dt { "ΔL*, Δa*, Δb*" } dd { "Lighter or darker, redder or greener, yellower or bluer: positive is lighter, redder, yellower. CIELAB, D50, 2° observer." }
                dt { "ΔC*, ΔH*" } dd { "The same change as chroma (positive: more colourful) and hue (positive: counter-clockwise in a*b*, from red towards yellow)." }
                dt { "ΔE*ab, ΔE00" } dd { "How large the change is, as CIELAB and as CIEDE2000 count it." }
                dt { "± U95" } dd { "ΔE00 is off by more than this in 5 % of cases only." }
                dt { "noise, told" } dd { "Noise alone makes every ΔE larger than 0. It stays below this in 95 % of cases; “told” says whether the change in three dimensions is told from none at 5 %. Hollow points are not." }
                dt { "grade" } dd { "Grey-scale grade for change in colour, 5 (none) to 1, worked out as ISO 105-A05 and ASTM E3040 do. Its weights for strong colours are as commonly quoted and were not checked against the standard's text." }
                dt { "band" } dd { "Where ΔE*ab lies between the limits of ASTM D4303, I to V, as commonly quoted. A band and not a rating: that takes tints, set doses and replicates." }
                dt { "plots" } dd { "Points are measured, with U95. The line is the average of the models, the shaded part its interval; dashed beyond the last exposure, nothing beyond the limit. In the path the square is the start and the large dot the last exposure; the ellipse holds it in 95 % of cases." }
            }
        }
    }
}
