//! Text by its width on the screen, which is not its number of characters.

use unicode_width::UnicodeWidthStr;

/// Filled up with spaces to a width on the screen.
pub(super) fn pad(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(text.width())))
}

/// Cut to a width on the screen, the cut shown.
pub(super) fn cut(text: &str, width: usize) -> String {
    if text.width() <= width {
        return text.to_owned();
    }
    let mut short = String::new();
    for it in text.chars() {
        if format!("{short}{it}…").width() > width {
            break;
        }
        short.push(it);
    }
    short + "…"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cuts_and_pads_by_width_on_the_screen() {
        assert_eq!(cut("ochre", 5), "ochre");
        assert_eq!(cut("yellow ochre", 8), "yellow …");
        assert_eq!(cut("黄土色", 5), "黄土…");
        assert_eq!(pad("黄土", 6), "黄土  ");
    }
}
