//! From stored values to linear ones: the file's own table, what the sensor gives in the dark, and where it ends.

use super::directory::Directory;
use super::raw::{Area, Raw};
use super::tags;
use crate::photo::error::Problem;

/// Levels of a picture, in stored values after the table.
#[derive(Debug)]
pub(super) struct Levels {
    /// Linear value of each stored one, where the file has a table; beyond its end the last one counts.
    table: Option<Vec<f32>>,
    /// In the dark, for each pixel of a repeating cell of the active area: rows, columns, values a pixel.
    black: Vec<f32>,
    repeat: [usize; 2],
    samples: usize,
    across: Vec<f32>,
    down: Vec<f32>,
    /// For each value of a pixel: 1 over what lies between black and white.
    pub(super) scale: Vec<f32>,
    /// Where the sensor ends, for each value of a pixel.
    pub(super) white: Vec<f32>,
    /// Whether the file says where the sensor ends.
    pub(super) is_white_stated: bool,
}

/// Most pixels of a cell in which black repeats.
const MOST_REPEAT: usize = 64;

impl Levels {
    /// # Errors
    ///
    /// If the levels contradict each other.
    pub(super) fn read(
        directory: &Directory<'_>,
        raw: &Raw<'_>,
        active: Area,
    ) -> Result<Self, Problem> {
        let numbers = |tag| -> Result<Option<Vec<f32>>, Problem> {
            Ok(directory.numbers(tag)?.map(|it| single(&it)))
        };
        let samples = raw.samples;
        let repeat = match directory.offsets(tags::BLACK_REPEAT).as_slice() {
            [] => [1, 1],
            [rows, columns]
                if (1..=MOST_REPEAT).contains(rows) && (1..=MOST_REPEAT).contains(columns) =>
            {
                [*rows, *columns]
            }
            _ => return Err(contradiction("how black repeats makes no sense")),
        };
        let cell = repeat[0] * repeat[1] * samples;
        let black = match numbers(tags::BLACK)? {
            None => vec![0.0; cell],
            Some(it) if it.len() == cell => it,
            // Some writers state one level for all.
            Some(it) if it.len() == 1 => vec![it[0]; cell],
            Some(it) => {
                return Err(Problem::SensorValues(format!(
                    "black has {} levels where it repeats in {cell}",
                    it.len()
                )));
            }
        };
        let stated = numbers(tags::WHITE)?;
        let is_white_stated = stated.is_some();
        let table = numbers(tags::LINEARISATION)?.filter(|it| !it.is_empty());
        #[expect(clippy::cast_precision_loss, reason = "16 bits at most")]
        let whole = ((1_u32 << raw.bits) - 1) as f32;
        let white = match stated {
            None => vec![
                table
                    .as_ref()
                    .and_then(|it| it.last().copied())
                    .unwrap_or(whole);
                samples
            ],
            Some(it) if it.len() == samples => it,
            Some(it) if !it.is_empty() => vec![it[0]; samples],
            Some(_) => return Err(contradiction("white has no level")),
        };
        let line = |tag, length: usize| match numbers(tag)? {
            None => Ok(Vec::new()),
            Some(it) if it.len() == length => Ok(it),
            Some(_) => Err(contradiction(
                "black differs along another length than the picture's",
            )),
        };
        let (across, down) = (
            line(tags::BLACK_ACROSS, active.width)?,
            line(tags::BLACK_DOWN, active.height)?,
        );
        let most = |it: &[f32]| it.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        let beside = [&across, &down]
            .map(|it| most(it).max(0.0))
            .iter()
            .sum::<f32>();
        let scale: Vec<f32> = (0..samples)
            .map(|s| {
                let own: Vec<f32> = black.iter().skip(s).step_by(samples).copied().collect();
                1.0 / (white[s] - most(&own) - beside)
            })
            .collect();
        if scale.iter().any(|it| !it.is_finite() || *it <= 0.0) {
            return Err(contradiction("black is not below white"));
        }
        Ok(Self {
            table,
            black,
            repeat,
            samples,
            across,
            down,
            scale,
            white,
            is_white_stated,
        })
    }

    /// Whether stored values are codes into a table.
    pub(super) fn has_table(&self) -> bool {
        self.table.is_some()
    }

    /// Stored value to linear value, before black is taken off.
    #[inline]
    pub(super) fn linear(&self, stored: u16) -> f32 {
        match &self.table {
            None => f32::from(stored),
            Some(table) => table[usize::from(stored).min(table.len() - 1)],
        }
    }

    /// Black along a row of the active area, value by value.
    pub(super) fn black_row(&self, y: usize, width: usize) -> Vec<f32> {
        let [rows, columns] = self.repeat;
        let own = &self.black[y % rows * columns * self.samples..][..columns * self.samples];
        let down = self.down.get(y).copied().unwrap_or(0.0);
        let mut row: Vec<f32> = own
            .iter()
            .cycle()
            .take(width * self.samples)
            .map(|it| it + down)
            .collect();
        if !self.across.is_empty() {
            for (pixel, more) in row.chunks_exact_mut(self.samples).zip(&self.across) {
                for value in pixel {
                    *value += more;
                }
            }
        }
        row
    }
}

fn contradiction(what: &str) -> Problem {
    Problem::Damaged(format!("{what} in its raw picture"))
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "levels of 16 bits and small fractions"
)]
fn single(numbers: &[f64]) -> Vec<f32> {
    numbers.iter().map(|it| *it as f32).collect()
}
