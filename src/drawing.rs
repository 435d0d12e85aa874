//! A small picture description that becomes SVG text or pixels.
//!
//! Takes shapes in a plane (x to the right, y down, in units of the caller's choice); gives SVG, PNG or paint on an
//! existing picture. Knows nothing of panels or photos. The same drawing gives the same bytes. A shape with a number that is
//! not finite, or beyond ±100 000 units or pixels, is left out; a character that the font lacks is painted as a box.

mod font;
mod paint;
mod svg;

pub use font::{CAP_HEIGHT, shorten, text_width, wrap};

/// Numbers beyond this many units or pixels draw nothing that could be seen, and upset painters.
const FARTHEST: f64 = 1e5;

/// A picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// Width in drawing units, > 0.
    pub width: f64,
    /// Height in drawing units, > 0.
    pub height: f64,
    /// What one drawing unit is when the SVG is printed.
    pub unit: Unit,
    /// Title for those who can't see the picture, if any.
    pub title: Option<String>,
    /// Painted in this order, later ones on top.
    pub shapes: Vec<Shape>,
}

/// The size of a drawing unit in SVG.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Printed unscaled, the drawing has its true size.
    Millimetre,
    /// A CSS pixel.
    Pixel,
}

/// One thing in a picture. Points are `[x, y]` in drawing units.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A closed outline.
    Polygon {
        /// Corners in order; the last is joined to the first.
        points: Vec<[f64; 2]>,
        /// Its inside.
        fill: Option<Colour>,
        /// Its outline.
        stroke: Option<Stroke>,
    },
    /// An open line through its points.
    Line {
        /// Points in order.
        points: Vec<[f64; 2]>,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// A circle.
    Circle {
        /// Centre.
        centre: [f64; 2],
        /// Radius, > 0.
        radius: f64,
        /// Its inside.
        fill: Option<Colour>,
        /// Its outline.
        stroke: Option<Stroke>,
    },
    /// One line of text.
    Text(Text),
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Its colour.
    pub colour: Colour,
    /// Its width in drawing units, > 0.
    pub width: f64,
    /// Lengths of stroke and gap in drawing units; none for a solid line.
    pub dash: Option<[f64; 2]>,
}

impl Stroke {
    /// A solid line.
    #[must_use]
    pub fn solid(colour: Colour, width: f64) -> Self {
        Self {
            colour,
            width,
            dash: None,
        }
    }
}

/// One line of text.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Where its anchor lies on the baseline.
    pub at: [f64; 2],
    /// Height of the font (em) in drawing units, > 0.
    pub size: f64,
    /// Which point of the text lies at `at`.
    pub anchor: Anchor,
    /// Turn about `at`, in degrees clockwise.
    pub turned: f64,
    /// The text.
    pub text: String,
    /// Its colour.
    pub colour: Colour,
    /// A rim around the letters, so that they can be read on any ground.
    pub halo: Option<Halo>,
}

impl Text {
    /// Level text without a rim.
    #[must_use]
    pub fn new(
        at: [f64; 2],
        size: f64,
        anchor: Anchor,
        text: impl Into<String>,
        colour: Colour,
    ) -> Self {
        Self {
            at,
            size,
            anchor,
            turned: 0.0,
            text: text.into(),
            colour,
            halo: None,
        }
    }
}

/// Which point of a text is placed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// A rim around letters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Halo {
    /// Its colour.
    pub colour: Colour,
    /// How far it reaches beyond the letters, in drawing units, > 0.
    pub width: f64,
}

/// An sRGB colour of the screen, not a measured one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colour {
    /// Red, green and blue, encoded.
    pub rgb: [u8; 3],
    /// Opacity: 255 hides what is below.
    pub alpha: u8,
}

impl Colour {
    /// Black.
    pub const BLACK: Self = Self::rgb(0, 0, 0);
    /// White.
    pub const WHITE: Self = Self::rgb(255, 255, 255);

    /// An opaque colour.
    #[must_use]
    pub const fn rgb(r: u8, g: u8, b: u8) -> Self {
        Self {
            rgb: [r, g, b],
            alpha: 255,
        }
    }

    /// The same colour at another opacity.
    #[must_use]
    pub const fn with_alpha(self, alpha: u8) -> Self {
        Self { alpha, ..self }
    }
}

/// Why a drawing could not be painted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DrawingError {
    /// No picture of this size can be made.
    #[error(
        "the picture would be {width} × {height} pixels; it must be between 1 and {} a side",
        paint::MAX_SIDE
    )]
    Size {
        /// Width in pixels.
        width: String,
        /// Height in pixels.
        height: String,
    },
    /// The PNG could not be written.
    #[error("can't encode the picture as PNG: {0}")]
    Encode(String),
}

impl Drawing {
    /// An empty picture.
    #[must_use]
    pub fn new(width: f64, height: f64, unit: Unit) -> Self {
        Self {
            width,
            height,
            unit,
            title: None,
            shapes: Vec::new(),
        }
    }

    /// Adds an upright rectangle.
    pub fn rectangle(
        &mut self,
        rect: &crate::geometry::Rect,
        fill: Option<Colour>,
        stroke: Option<Stroke>,
    ) {
        let points = rect.corners().iter().map(|it| [it.x, it.y]).collect();
        self.shapes.push(Shape::Polygon {
            points,
            fill,
            stroke,
        });
    }

    /// Adds a straight line.
    pub fn line(&mut self, from: [f64; 2], to: [f64; 2], stroke: Stroke) {
        self.shapes.push(Shape::Line {
            points: vec![from, to],
            stroke,
        });
    }

    /// Adds a text.
    pub fn text(&mut self, text: Text) {
        self.shapes.push(Shape::Text(text));
    }

    /// The picture as an SVG document, numbers rounded to a thousandth of a unit.
    #[must_use]
    pub fn to_svg(&self) -> String {
        svg::write(self)
    }

    /// The picture on white as a PNG file, `scale` pixels for one drawing unit.
    ///
    /// # Errors
    /// If a side would have no pixel or too many.
    pub fn to_png(&self, scale: f64) -> Result<Vec<u8>, DrawingError> {
        paint::to_png(self, scale)
    }

    /// Paints the shapes over `picture`, one drawing unit for one pixel, (0, 0) at the outer corner of the first pixel.
    ///
    /// What lies outside the picture is cut off. Pixels that no shape touches keep their value exactly if they are opaque.
    ///
    /// # Errors
    /// If the picture has no pixels, or a side is too long.
    pub fn paint(&self, picture: &mut image::RgbaImage) -> Result<(), DrawingError> {
        paint::over(self, picture)
    }
}

impl Shape {
    /// The same shape somewhere else.
    #[must_use]
    pub fn moved(mut self, by: [f64; 2]) -> Self {
        let shift = |point: &mut [f64; 2]| {
            point[0] += by[0];
            point[1] += by[1];
        };
        match &mut self {
            Self::Polygon { points, .. } | Self::Line { points, .. } => {
                points.iter_mut().for_each(shift);
            }
            Self::Circle { centre, .. } => shift(centre),
            Self::Text(text) => shift(&mut text.at),
        }
        self
    }

    /// Whether every number of it is within limits and every size positive at `scale`, so that it can be drawn.
    fn is_drawable(&self, scale: f64) -> bool {
        let near = |it: f64| it.is_finite() && (it * scale).abs() <= FARTHEST;
        let all_near = |points: &[[f64; 2]]| points.iter().flatten().all(|it| near(*it));
        let size = |it: f64| near(it) && it > 0.0;
        let stroked = |stroke: &Option<Stroke>| stroke.is_none_or(|it| size(it.width));
        match self {
            Self::Polygon { points, stroke, .. } => {
                points.len() >= 2 && all_near(points) && stroked(stroke)
            }
            Self::Line { points, stroke } => {
                points.len() >= 2 && all_near(points) && size(stroke.width)
            }
            Self::Circle {
                centre,
                radius,
                stroke,
                ..
            } => all_near(&[*centre]) && size(*radius) && stroked(stroke),
            Self::Text(text) => {
                all_near(&[text.at])
                    && size(text.size)
                    && near(text.turned)
                    && text.halo.is_none_or(|it| size(it.width))
            }
        }
    }
}

impl Stroke {
    /// The dash pattern, if it has lengths that can be drawn.
    fn drawable_dash(&self) -> Option<[f64; 2]> {
        self.dash
            .filter(|it| it.iter().all(|length| (1e-3..FARTHEST).contains(length)))
    }
}
