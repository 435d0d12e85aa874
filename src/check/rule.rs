//! Limits of a figure, and the verdict by them.

use super::Verdict;
use serde::Serialize;

/// Which side of its limits a figure should lie on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// The smaller the better.
    AtMost,
    /// The larger the better.
    AtLeast,
    /// Near zero, on either side.
    Within,
}

/// Two limits, their source, and what to do beyond them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rule {
    /// Name for people.
    pub name: &'static str,
    /// Unit of the figure and of both limits; empty for a count.
    pub unit: &'static str,
    /// Digits after the point that are worth printing.
    pub decimals: usize,
    /// On which side.
    pub sense: Sense,
    /// Limit of good.
    pub good: f64,
    /// Limit of usable.
    pub usable: f64,
    /// Where the limits come from.
    pub source: &'static str,
    /// What to do, one sentence.
    pub advice: &'static str,
}

impl Rule {
    /// The verdict on a finite figure.
    #[must_use]
    pub fn judge(&self, measured: f64) -> Verdict {
        let within = |limit: f64| match self.sense {
            Sense::AtMost => measured <= limit,
            Sense::AtLeast => measured >= limit,
            Sense::Within => measured.abs() <= limit,
        };
        if within(self.good) {
            Verdict::Good
        } else if within(self.usable) {
            Verdict::Usable
        } else {
            Verdict::NotGood
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Item;
    use super::*;

    #[test]
    fn limits_count_as_within_and_zero_is_the_middle_of_within() {
        let size = Item::PhotoSize.rule();
        assert_eq!(size.judge(6.0), Verdict::Good);
        assert_eq!(size.judge(5.9), Verdict::Usable);
        assert_eq!(size.judge(1.9), Verdict::NotGood);
        let exposure = Item::Exposure.rule();
        assert_eq!(exposure.judge(-0.9), Verdict::Good);
        assert_eq!(exposure.judge(-1.6), Verdict::Usable);
        assert_eq!(exposure.judge(-1.8), Verdict::NotGood);
        assert_eq!(exposure.judge(1.8), Verdict::NotGood);
    }
}
