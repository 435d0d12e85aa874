//! Drawings as pixels.

use super::font::{outline, single};
use super::{Anchor, Colour, Drawing, DrawingError, Shape, Stroke, Text, text_width};
use tiny_skia::{
    FillRule, IntSize, LineJoin, Paint, Path, PathBuilder, Pixmap, StrokeDash, Transform,
};

/// Most pixels of a side: a picture for people, well below what decoders refuse.
pub(super) const MAX_SIDE: u32 = 16_384;

/// The drawing on white, encoded.
pub(super) fn to_png(drawing: &Drawing, scale: f64) -> Result<Vec<u8>, DrawingError> {
    let (width, height) = (
        (drawing.width * scale).ceil(),
        (drawing.height * scale).ceil(),
    );
    let wrong = || DrawingError::Size {
        width: width.to_string(),
        height: height.to_string(),
    };
    let (columns, rows) = (
        side(width).ok_or_else(wrong)?,
        side(height).ok_or_else(wrong)?,
    );
    let mut pixels = Pixmap::new(columns, rows).ok_or_else(wrong)?;
    pixels.fill(tiny_skia::Color::WHITE);
    draw(drawing, scale, &mut pixels);
    pixels
        .encode_png()
        .map_err(|it| DrawingError::Encode(it.to_string()))
}

/// The drawing over a picture.
pub(super) fn over(drawing: &Drawing, picture: &mut image::RgbaImage) -> Result<(), DrawingError> {
    let (width, height) = picture.dimensions();
    let wrong = || DrawingError::Size {
        width: width.to_string(),
        height: height.to_string(),
    };
    if width > MAX_SIDE || height > MAX_SIDE {
        return Err(wrong());
    }
    let size = IntSize::from_wh(width, height).ok_or_else(wrong)?;
    let mut bytes = picture.as_raw().clone();
    for pixel in bytes.chunks_exact_mut(4) {
        if pixel[3] != u8::MAX {
            let [r, g, b, a] = [pixel[0], pixel[1], pixel[2], pixel[3]];
            let it = tiny_skia::ColorU8::from_rgba(r, g, b, a).premultiply();
            pixel.copy_from_slice(&[it.red(), it.green(), it.blue(), it.alpha()]);
        }
    }
    let mut pixels = Pixmap::from_vec(bytes, size).ok_or_else(wrong)?;
    draw(drawing, 1.0, &mut pixels);
    picture.copy_from_slice(&pixels.take_demultiplied());
    Ok(())
}

/// A length as a number of pixels within the limits.
fn side(length: f64) -> Option<u32> {
    if !(1.0..=f64::from(MAX_SIDE)).contains(&length) {
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "within 1 and the limit"
    )]
    Some(length as u32)
}

fn draw(drawing: &Drawing, scale: f64, pixels: &mut Pixmap) {
    let drawable = drawing.shapes.iter().filter(|it| it.is_drawable(scale));
    let scale = Transform::from_scale(single(scale), single(scale));
    for shape in drawable {
        match shape {
            Shape::Polygon {
                points,
                fill,
                stroke,
            } => {
                let path = through(points, true);
                fill_and_stroke(pixels, path.as_ref(), scale, *fill, stroke.as_ref());
            }
            Shape::Line { points, stroke } => {
                let path = through(points, false);
                fill_and_stroke(pixels, path.as_ref(), scale, None, Some(stroke));
            }
            Shape::Circle {
                centre: [x, y],
                radius,
                fill,
                stroke,
            } => {
                let path = PathBuilder::from_circle(single(*x), single(*y), single(*radius));
                fill_and_stroke(pixels, path.as_ref(), scale, *fill, stroke.as_ref());
            }
            Shape::Text(text) => draw_text(pixels, text, scale),
        }
    }
}

fn draw_text(pixels: &mut Pixmap, text: &Text, scale: Transform) {
    let width = text_width(&text.text, 1.0);
    let start = match text.anchor {
        Anchor::Start => 0.0,
        Anchor::Middle => -width / 2.0,
        Anchor::End => -width,
    };
    let [x, y] = text.at.map(single);
    let place = scale
        .pre_translate(x, y)
        .pre_concat(Transform::from_rotate(single(text.turned)))
        .pre_scale(single(text.size), single(text.size))
        .pre_translate(single(start), 0.0);
    let path = outline(&text.text);
    if let Some(halo) = text.halo {
        // The path is in em, so is its stroke.
        let rim = Stroke::solid(halo.colour, 2.0 * halo.width / text.size);
        fill_and_stroke(pixels, path.as_ref(), place, None, Some(&rim));
    }
    fill_and_stroke(pixels, path.as_ref(), place, Some(text.colour), None);
}

/// A path through points; none if they span nothing.
fn through(points: &[[f64; 2]], closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (i, point) in points.iter().enumerate() {
        let [x, y] = point.map(single);
        if i == 0 {
            path.move_to(x, y);
        } else {
            path.line_to(x, y);
        }
    }
    if closed {
        path.close();
    }
    path.finish()
}

fn fill_and_stroke(
    pixels: &mut Pixmap,
    path: Option<&Path>,
    transform: Transform,
    fill: Option<Colour>,
    stroke: Option<&Stroke>,
) {
    let Some(path) = path else { return };
    if let Some(colour) = fill {
        pixels.fill_path(path, &paint_of(colour), FillRule::Winding, transform, None);
    }
    if let Some(stroke) = stroke {
        let dash = stroke
            .drawable_dash()
            .and_then(|it| StrokeDash::new(it.map(single).to_vec(), 0.0));
        let pen = tiny_skia::Stroke {
            width: single(stroke.width),
            line_join: LineJoin::Round,
            dash,
            ..tiny_skia::Stroke::default()
        };
        pixels.stroke_path(path, &paint_of(stroke.colour), &pen, transform, None);
    }
}

fn paint_of(colour: Colour) -> Paint<'static> {
    let [r, g, b] = colour.rgb;
    let mut paint = Paint::default();
    paint.set_color_rgba8(r, g, b, colour.alpha);
    paint
}

#[cfg(test)]
mod tests {
    use super::super::{Halo, Unit};
    use super::*;
    use crate::geometry::Rect;
    use image::{Rgba, RgbaImage};

    fn decoded(drawing: &Drawing, scale: f64) -> RgbaImage {
        image::load_from_memory(&drawing.to_png(scale).unwrap())
            .unwrap()
            .to_rgba8()
    }

    /// The box of all pixels darker than mid grey: left, top, right, bottom.
    fn ink(picture: &RgbaImage) -> Option<[u32; 4]> {
        let dark = picture.enumerate_pixels().filter(|(.., p)| p.0[0] < 128);
        dark.fold(None, |all: Option<[u32; 4]>, (x, y, _)| {
            let [l, t, r, b] = all.unwrap_or([x, y, x, y]);
            Some([l.min(x), t.min(y), r.max(x), b.max(y)])
        })
    }

    #[test]
    fn a_rectangle_covers_its_pixels_and_no_others() {
        let mut drawing = Drawing::new(10.0, 8.0, Unit::Pixel);
        let rect = Rect {
            x: 2.0,
            y: 3.0,
            width: 4.0,
            height: 2.0,
        };
        drawing.rectangle(&rect, Some(Colour::rgb(10, 20, 30)), None);
        let picture = decoded(&drawing, 2.0);
        assert_eq!(picture.dimensions(), (20, 16));
        for (x, y, pixel) in picture.enumerate_pixels() {
            let inside = (4..12).contains(&x) && (6..10).contains(&y);
            let expected = if inside { [10, 20, 30, 255] } else { [255; 4] };
            assert_eq!(pixel.0, expected, "{x} {y}");
        }
    }

    #[test]
    fn a_drawing_over_a_picture_leaves_the_rest_alone() {
        let mut picture = RgbaImage::from_fn(9, 9, |x, y| {
            Rgba([28, 5, 77, 255].map(|it| it ^ u8::from((x * y) % 3 == 1)))
        });
        let before = picture.clone();
        let mut drawing = Drawing::new(9.0, 9.0, Unit::Pixel);
        drawing.line([-1e5, 4.5], [1e5, 4.5], Stroke::solid(Colour::WHITE, 1.0));
        drawing.line(
            [f64::INFINITY, 0.0],
            [1.0, 1.0],
            Stroke::solid(Colour::WHITE, 1.0),
        );
        drawing.paint(&mut picture).unwrap();
        for (x, y, pixel) in picture.enumerate_pixels() {
            let expected = if y == 4 {
                Rgba([255; 4])
            } else {
                *before.get_pixel(x, y)
            };
            assert_eq!(*pixel, expected, "{x} {y}");
        }
    }

    #[test]
    fn letters_stand_on_the_baseline_and_are_as_wide_as_stated() {
        let mut drawing = Drawing::new(200.0, 100.0, Unit::Pixel);
        let size = 60.0;
        drawing.text(Text::new(
            [100.0, 80.0],
            size,
            Anchor::Middle,
            "HEH",
            Colour::BLACK,
        ));
        let [left, top, right, bottom] = ink(&decoded(&drawing, 1.0)).unwrap();
        assert_eq!(bottom, 79);
        let cap = f64::from(bottom - top + 1);
        assert!(
            (cap - super::super::CAP_HEIGHT * size).abs() <= 1.0,
            "{cap}"
        );
        // Side bearings of an H are about a tenth of an em.
        let width = text_width("HEH", size);
        let seen = f64::from(right - left + 1);
        assert!(seen < width && seen > width - 0.25 * size, "{seen} {width}");
        let middle = f64::from(left + right + 1) / 2.0;
        assert!((middle - 100.0).abs() <= 1.0, "{middle}");
    }

    #[test]
    fn letters_that_the_font_lacks_are_boxes() {
        for text in ["ש", "漆", "🎨"] {
            let mut drawing = Drawing::new(40.0, 40.0, Unit::Pixel);
            drawing.text(Text::new(
                [5.0, 30.0],
                30.0,
                Anchor::Start,
                text,
                Colour::BLACK,
            ));
            assert!(ink(&decoded(&drawing, 1.0)).is_some(), "{text} vanished");
        }
        for c in "Åéßőž ΔE Жёґ ₃²→±·–≤µ°…".chars() {
            assert!(super::super::font::has(c), "{c} should have its own glyph");
        }
    }

    #[test]
    fn a_rim_sets_letters_off_from_a_ground_of_their_own_colour() {
        let mut picture = RgbaImage::from_pixel(60, 60, Rgba([0, 0, 0, 255]));
        let mut drawing = Drawing::new(60.0, 60.0, Unit::Pixel);
        drawing.text(Text {
            turned: 90.0,
            halo: Some(Halo {
                colour: Colour::WHITE,
                width: 2.0,
            }),
            ..Text::new([20.0, 30.0], 30.0, Anchor::Middle, "H", Colour::BLACK)
        });
        drawing.paint(&mut picture).unwrap();
        let white = picture.pixels().filter(|it| it.0[0] > 200).count();
        assert!((100..1500).contains(&white), "{white}");
    }

    #[test]
    fn a_picture_without_pixels_or_with_too_many_is_refused() {
        for (width, scale) in [(0.0, 1.0), (10.0, 1e6), (f64::NAN, 1.0), (10.0, -1.0)] {
            let drawing = Drawing::new(width, 10.0, Unit::Pixel);
            assert!(matches!(
                drawing.to_png(scale),
                Err(DrawingError::Size { .. })
            ));
        }
        let drawing = Drawing::new(1.0, 1.0, Unit::Pixel);
        assert!(drawing.paint(&mut RgbaImage::new(0, 0)).is_err());
    }

    mod wild {
        use super::super::super::*;
        use proptest::prelude::*;

        fn length() -> impl Strategy<Value = f64> {
            prop_oneof![
                -50.0..150.0,
                -1e5..1e5,
                any::<f64>(),
                prop::sample::select(vec![
                    0.0,
                    -0.0,
                    1e-30,
                    1e30,
                    f64::MAX,
                    f64::NAN,
                    f64::INFINITY
                ]),
            ]
        }

        fn point() -> impl Strategy<Value = [f64; 2]> {
            (length(), length()).prop_map(|(x, y)| [x, y])
        }

        fn stroke() -> impl Strategy<Value = Stroke> {
            (length(), prop::option::of(point())).prop_map(|(width, dash)| Stroke {
                colour: Colour::BLACK,
                width,
                dash,
            })
        }

        fn shape() -> impl Strategy<Value = Shape> {
            let points = || prop::collection::vec(point(), 0..6);
            prop_oneof![
                (points(), stroke()).prop_map(|(points, stroke)| Shape::Line { points, stroke }),
                (points(), stroke()).prop_map(|(points, stroke)| Shape::Polygon {
                    points,
                    fill: Some(Colour::WHITE.with_alpha(100)),
                    stroke: Some(stroke),
                }),
                (point(), length(), stroke()).prop_map(|(centre, radius, stroke)| Shape::Circle {
                    centre,
                    radius,
                    fill: Some(Colour::BLACK),
                    stroke: Some(stroke),
                }),
                (point(), length(), length(), length(), "\\PC{0,8}").prop_map(
                    |(at, size, turned, rim, text)| {
                        Shape::Text(Text {
                            turned,
                            halo: Some(Halo {
                                colour: Colour::WHITE,
                                width: rim,
                            }),
                            ..Text::new(at, size, Anchor::End, text, Colour::BLACK)
                        })
                    }
                ),
            ]
        }

        proptest! {
            #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

            #[test]
            fn no_shape_upsets_the_painter(shapes in prop::collection::vec(shape(), 1..5)) {
                let drawing = Drawing { shapes, ..Drawing::new(100.0, 80.0, Unit::Pixel) };
                let mut picture = image::RgbaImage::from_pixel(100, 80, image::Rgba([9, 9, 9, 255]));
                drawing.paint(&mut picture).unwrap();
                prop_assert!(picture.pixels().all(|it| it.0[3] == 255));
                let svg = drawing.to_svg();
                prop_assert!(!svg.contains("NaN") && !svg.contains("inf"), "{}", svg);
            }
        }
    }
}
