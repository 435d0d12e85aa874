//! CSS: by the crate `cssparser`, an implementation of CSS Syntax, and its `cssparser-color`, of CSS Color 4.

use crate::{by_hand, ranges, text};
use cssparser::{
    AtRuleParser, CowRcStr, DeclarationParser, ParseError, Parser, ParserState,
    QualifiedRuleParser, RuleBodyItemParser, RuleBodyParser, StyleSheetParser,
};
use cssparser_color::Color;
use masstone::colour::Lab;
use masstone::colour::difference::delta_e_76;
use masstone::colour::srgb::{self, RgbSpace, is_in_gamut};
use masstone::publish::{Range, Shows};
use std::collections::BTreeMap;

/// Where a declaration stands: the at-rules around it, outermost first, and the selector.
type Place = Vec<String>;

/// Declarations by place and name.
type Sheet = BTreeMap<(Place, String), String>;

struct Rules {
    place: Place,
    found: Vec<(Place, String, String)>,
}

type Failed = ParseError<()>;

/// What stands up to where the parser is told to stop, as it was written.
fn rest(input: &mut Parser<'_>) -> Result<String, Failed> {
    let start = input.position();
    while input.next().is_ok() {}
    Ok(input.slice_from(start).trim().to_owned())
}

impl<'i> AtRuleParser<'i> for Rules {
    type Prelude = String;
    type AtRule = ();
    type Error = ();

    fn parse_prelude(
        &mut self,
        name: CowRcStr<'i>,
        input: &mut Parser<'i>,
    ) -> Result<String, Failed> {
        Ok(format!("@{name} {}", rest(input)?))
    }

    fn parse_block(
        &mut self,
        prelude: String,
        _: &ParserState,
        input: &mut Parser<'i>,
    ) -> Result<(), Failed> {
        self.inside(prelude, input)
    }
}

impl<'i> QualifiedRuleParser<'i> for Rules {
    type Prelude = String;
    type QualifiedRule = ();
    type Error = ();

    fn parse_prelude(&mut self, input: &mut Parser<'i>) -> Result<String, Failed> {
        rest(input)
    }

    fn parse_block(
        &mut self,
        prelude: String,
        _: &ParserState,
        input: &mut Parser<'i>,
    ) -> Result<(), Failed> {
        self.inside(prelude, input)
    }
}

impl<'i> DeclarationParser<'i> for Rules {
    type Declaration = ();
    type Error = ();

    fn parse_value(
        &mut self,
        name: CowRcStr<'i>,
        input: &mut Parser<'i>,
        _: &ParserState,
    ) -> Result<(), Failed> {
        let value = rest(input)?;
        self.found
            .push((self.place.clone(), name.to_string(), value));
        Ok(())
    }
}

impl RuleBodyItemParser<'_, (), ()> for Rules {
    fn parse_declarations(&self) -> bool {
        true
    }

    fn parse_qualified(&self) -> bool {
        true
    }
}

impl Rules {
    fn inside(&mut self, prelude: String, input: &mut Parser<'_>) -> Result<(), Failed> {
        self.place.push(prelude);
        let all: Vec<bool> = RuleBodyParser::new(input, self)
            .map(|it| it.is_ok())
            .collect();
        self.place.pop();
        if all.iter().all(|it| *it) {
            Ok(())
        } else {
            Err(ParseError::custom(()))
        }
    }
}

/// All declarations; anything that isn't CSS is refused, as is a declaration twice in one place.
fn parse(text: &str) -> Sheet {
    let mut input = Parser::new(text);
    let mut rules = Rules {
        place: Vec::new(),
        found: Vec::new(),
    };
    for it in StyleSheetParser::new(&mut input, &mut rules) {
        assert!(it.is_ok(), "{it:?}");
    }
    let mut sheet = Sheet::new();
    for (place, name, value) in rules.found {
        assert_eq!(sheet.insert((place, name.clone()), value), None, "{name}");
    }
    sheet
}

/// The declarations of a style sheet.
pub(crate) fn properties(text: &str) -> BTreeMap<(Vec<String>, String), String> {
    parse(text)
}

const LAB: &str = "@supports (color: lab(0 0 0))";
const WIDE: &str = "@media (color-gamut: p3)";
const BOTH: &str = "@supports (color: lab(0 0 0)) and (color: color(display-p3 0 0 0))";

fn of(sheet: &Sheet, place: &[&str], name: &str) -> Option<Color> {
    let place = place.iter().map(|it| (*it).to_owned()).collect();
    let value = sheet.get(&(place, name.to_owned()))?;
    let mut input = Parser::new(value);
    let colour = input.parse_entirely(|input| Color::parse(input));
    Some(colour.unwrap_or_else(|_| panic!("{value} is no colour")))
}

fn lab(it: Color) -> Lab {
    match it {
        Color::Lab(it) => {
            let [l, a, b] = [it.lightness, it.a, it.b].map(|it| f64::from(it.unwrap()));
            assert!((it.alpha.unwrap() - 1.0).abs() < f32::EPSILON);
            Lab::new(l, a, b)
        }
        other => panic!("{other:?}"),
    }
}

fn rgb8(it: Color) -> [u8; 3] {
    match it {
        Color::Rgba(it) => [it.red, it.green, it.blue],
        other => panic!("{other:?}"),
    }
}

/// Contrast of WCAG 2.2, written out here.
fn contrast(one: f64, other: f64) -> f64 {
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

fn luminance(linear: [f64; 3]) -> f64 {
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

fn linear8(rgb: [u8; 3]) -> [f64; 3] {
    rgb.map(|it| srgb::decode(f64::from(it) / 255.0))
}

fn judged(range: &Range) {
    let mut sheet = parse(&text(range, "swatches.css"));
    for it in &range.swatches {
        let name = format!("--swatch-{}", it.id);
        let on_it = format!("{name}-text");
        let meant = it.tone.lab;

        let base = rgb8(of(&sheet, &[":root"], &name).unwrap());
        assert_eq!(base, srgb::to_rgb8(meant), "{name}");
        let words = rgb8(of(&sheet, &[":root"], &on_it).unwrap());
        assert!(words == [0; 3] || words == [255; 3]);
        let on_base = contrast(luminance(linear8(base)), luminance(linear8(words)));
        assert!(on_base >= 4.5, "{name}: {on_base}");

        let truth = of(&sheet, &[LAB, ":root"], &name);
        let wide = of(&sheet, &[WIDE, BOTH, ":root"], &name);
        let on_wide = of(&sheet, &[WIDE, BOTH, ":root"], &on_it);
        match it.tone.shows() {
            Shows::Srgb => {
                assert!(delta_e_76(lab(truth.unwrap()), meant) < 1e-3, "{name}");
                assert_eq!((wide, on_wide), (None, None));
                // The text was chosen for the hexadecimal value: on the value itself, too, it can be read.
                let exact = luminance(RgbSpace::Srgb.linear(lab(truth.unwrap())));
                assert!(contrast(exact, luminance(linear8(words))) >= 4.5);
            }
            shows => {
                assert_eq!(truth, None, "a browser would clip it");
                let wide = wide.unwrap();
                let linear = if shows == Shows::DisplayP3 {
                    assert!(delta_e_76(lab(wide), meant) < 1e-3, "{name}");
                    RgbSpace::DisplayP3.linear(meant)
                } else {
                    stand_in(wide, meant)
                };
                assert!(is_in_gamut(linear));
                // Y of the adapted colour: within a hundredth of that of Display P3's own white.
                let y = luminance(RgbSpace::Srgb.linear(RgbSpace::DisplayP3.lab(linear)));
                let words = rgb8(on_wide.unwrap());
                assert!(contrast(y, luminance(linear8(words))) >= 4.5, "{name}");
            }
        }
        for place in [vec![":root"], vec![LAB, ":root"], vec![WIDE, BOTH, ":root"]] {
            let place: Place = place.into_iter().map(str::to_owned).collect();
            sheet.remove(&(place.clone(), name.clone()));
            sheet.remove(&(place, on_it.clone()));
        }
    }
    // Nothing else: no name became a declaration or a rule.
    assert_eq!(sheet, Sheet::new());
}

/// Linear Display P3 of what stands for a colour that isn't in it: of the same hue, and with less chroma only.
fn stand_in(it: Color, meant: Lab) -> [f64; 3] {
    let Color::ColorFunction(it) = it else {
        panic!("{it:?}");
    };
    assert_eq!(
        it.color_space,
        cssparser::color::PredefinedColorSpace::DisplayP3
    );
    let linear = [it.c1, it.c2, it.c3].map(|it| srgb::decode(f64::from(it.unwrap())));
    let shown = srgb::to_oklab(RgbSpace::DisplayP3.lab(linear));
    let origin = srgb::to_oklab(meant);
    assert!((shown.l - origin.l).abs() < 0.02 && shown.a.hypot(shown.b) < origin.a.hypot(origin.b));
    let turn = (shown.b.atan2(shown.a) - origin.b.atan2(origin.a)).abs();
    assert!(turn * shown.a.hypot(shown.b) < 0.02, "{turn}");
    linear
}

#[test]
fn every_colour_comes_back_and_nothing_else() {
    for range in ranges() {
        judged(range);
    }
}

#[test]
fn beyond_the_gamut_is_said() {
    let text = text(by_hand::range(), "swatches.css");
    assert!(text.contains("2 of 9 colours are beyond sRGB"));
    assert!(text.contains("a stand-in: beyond sRGB, shown by Display P3"));
    assert!(text.contains("a stand-in: beyond sRGB and Display P3"));
    assert!(text.contains("not that of ISO 13655"));
}

/// The parser must be able to say no.
#[test]
fn the_parser_sees_what_gets_out_of_its_comment() {
    let good = text(by_hand::range(), "swatches.css");
    let place = good.find("barn red").unwrap();
    let mut bad = good.clone();
    bad.insert_str(place, "*/ --swatch-1: red; /* ");
    assert_eq!(parse(&bad).len(), parse(&good).len() + 1);
}
