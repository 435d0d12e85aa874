//! Light as the eye would grade it, to be read at any place of a picture.
//!
//! Linear light becomes its square root, which evens out photon noise and shadows, and then one lightness and two
//! opponent channels on a scale of 100, so that an edge between two hues of one lightness is an edge like any other.

use crate::geometry::Point;
use crate::photo::LinearImage;

/// A graded colour: lightness and two opponents, roughly 0–100 and ±50.
pub(super) type Graded = [f32; 3];

/// Something whose graded colour can be read between pixels.
pub(super) trait Light {
    /// The colour at a place in this picture's own pixels, (0, 0) being the outer corner of the first; none outside.
    fn at(&self, p: Point) -> Option<Graded>;
}

/// Grades one linear colour.
pub(super) fn grade(linear: [f32; 3]) -> Graded {
    let [r, g, b] = linear.map(|it| 100.0 * it.max(0.0).sqrt());
    [
        0.3 * r + 0.5 * g + 0.2 * b,
        0.7 * (r - g),
        0.5 * (0.5 * (r + g) - b),
    ]
}

/// Euclidean distance of two graded colours.
pub(super) fn distance(a: Graded, b: Graded) -> f64 {
    let d = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
    f64::from(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt()
}

/// A value as a whole number, for places in a picture.
#[expect(
    clippy::cast_possible_truncation,
    reason = "pictures are far smaller than 2^31; out of range saturates"
)]
pub(super) fn whole(value: f64) -> i32 {
    value.floor() as i32
}

/// The shrunk picture, graded.
#[derive(Debug)]
pub(super) struct View {
    /// Width in its pixels.
    pub width: usize,
    /// Height in its pixels.
    pub height: usize,
    /// Graded pixels, row by row.
    pub pixels: Vec<Graded>,
}

impl View {
    /// Grades a shrunk photo.
    pub(super) fn new(image: &LinearImage) -> Self {
        Self {
            width: image.width,
            height: image.height,
            pixels: image.pixels.iter().map(|it| grade(*it)).collect(),
        }
    }
}

impl Light for View {
    fn at(&self, p: Point) -> Option<Graded> {
        bilinear(p, self.width, self.height, |i| {
            self.pixels.get(i).copied().unwrap_or_default()
        })
    }
}

/// The photo itself, graded on the fly.
pub(super) struct Full<'a, F> {
    /// Stored width.
    pub width: usize,
    /// Stored height.
    pub height: usize,
    /// Linear light of a stored pixel.
    pub linear: &'a F,
}

impl<F: Fn(usize, usize) -> [f32; 3]> Light for Full<'_, F> {
    fn at(&self, p: Point) -> Option<Graded> {
        bilinear(p, self.width, self.height, |i| {
            grade((self.linear)(i % self.width, i / self.width))
        })
    }
}

/// Between the four pixels around a place; none nearer to the rim than half a pixel.
fn bilinear(
    p: Point,
    width: usize,
    height: usize,
    pixel: impl Fn(usize) -> Graded,
) -> Option<Graded> {
    let (x, y) = (p.x - 0.5, p.y - 0.5);
    if !(x >= 0.0 && y >= 0.0 && x < width as f64 - 1.0 && y < height as f64 - 1.0) {
        return None;
    }
    let (i, j) = (whole(x), whole(y));
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a fraction loses digits only"
    )]
    let (u, v) = ((x - f64::from(i)) as f32, (y - f64::from(j)) as f32);
    let first = usize::try_from(j).ok()? * width + usize::try_from(i).ok()?;
    let (a, b) = (pixel(first), pixel(first + 1));
    let (c, d) = (pixel(first + width), pixel(first + width + 1));
    let mut out = [0.0; 3];
    for (k, it) in out.iter_mut().enumerate() {
        let top = a[k] + u * (b[k] - a[k]);
        let bottom = c[k] + u * (d[k] - c[k]);
        *it = top + v * (bottom - top);
    }
    Some(out)
}
