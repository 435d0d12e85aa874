//! Days of the calendar, as far as exposures need them: in order, and how many lie between two.

use crate::panel::error::Problem;
use crate::panel::table::Value;
use std::fmt;
use std::ops::RangeInclusive;

/// Years beyond which a date is a slip of the keyboard.
const YEARS: RangeInclusive<i32> = 1900..=2199;

/// A day of the Gregorian calendar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    year: i32,
    month: i32,
    day: i32,
}

impl Date {
    /// The day that a text as `2026-04-01` names; none if it names none from 1900 to 2199.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let parts: Vec<&str> = text.split('-').collect();
        let [year, month, day] = parts[..] else {
            return None;
        };
        let number = |text: &str, digits: usize| {
            let plain = text.len() == digits && text.bytes().all(|it| it.is_ascii_digit());
            plain.then(|| text.parse::<i32>().ok()).flatten()
        };
        let date = Self {
            year: number(year, 4)?,
            month: number(month, 2)?,
            day: number(day, 2)?,
        };
        let exists = YEARS.contains(&date.year)
            && (1..=12).contains(&date.month)
            && (1..=date.days_of_month()).contains(&date.day);
        exists.then_some(date)
    }

    fn days_of_month(self) -> i32 {
        let is_leap = self.year % 4 == 0 && (self.year % 100 != 0 || self.year % 400 == 0);
        match self.month {
            2 if is_leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            _ => 31,
        }
    }

    /// The Julian day number of its noon.
    ///
    /// # Source
    /// H. F. Fliegel, T. C. Van Flandern, *Comm. ACM* 11 (1968) 657, for the Gregorian calendar.
    fn julian_day(self) -> i32 {
        let Self { year, month, day } = self;
        // −1 in January and February, which count as the end of the year before.
        let shift = (month - 14) / 12;
        day - 32075 + 1461 * (year + 4800 + shift) / 4 + 367 * (month - 2 - shift * 12) / 12
            - 3 * ((year + 4900 + shift) / 100) / 4
    }

    /// Days from an earlier one to this; negative if that is later.
    #[must_use]
    pub fn days_since(self, earlier: Self) -> i32 {
        self.julian_day() - earlier.julian_day()
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// The date of a value.
pub(super) fn of_value(value: &Value<'_>) -> Result<Date, Problem> {
    let text = value.date_text()?;
    Date::parse(&text).ok_or_else(|| {
        value
            .wrong(format!(
                "\"{}\" is no date",
                crate::panel::source::shown(&text)
            ))
            .with_hint("Write year, month and day, as 2026-04-01, without a time.")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> Date {
        Date::parse(text).unwrap_or_else(|| panic!("{text}"))
    }

    #[test]
    fn days_are_counted_over_leap_years() {
        // J2000.0, the standard epoch of astronomy: 2000 January 1, noon, is JD 2451545.0 (IAU 1976).
        assert_eq!(date("2000-01-01").julian_day(), 2_451_545);
        // JD 2440587.5 is the beginning of 1970, from which POSIX counts.
        assert_eq!(date("1970-01-01").julian_day(), 2_440_588);
        let between = |a: &str, b: &str| date(b).days_since(date(a));
        assert_eq!(between("2026-04-01", "2026-05-01"), 30);
        assert_eq!(between("2027-12-31", "2028-12-31"), 366);
        assert_eq!(between("2028-02-28", "2028-03-01"), 2);
        assert_eq!(between("2026-02-28", "2026-03-01"), 1);
        assert_eq!(between("2026-05-01", "2026-04-30"), -1);
    }

    #[test]
    fn every_day_follows_the_one_before() {
        let mut last: Option<Date> = None;
        for year in 1999..=2101 {
            for month in 1..=12 {
                for day in 1..=31 {
                    let text = format!("{year}-{month:02}-{day:02}");
                    let Some(date) = Date::parse(&text) else {
                        continue;
                    };
                    assert_eq!(date.to_string(), text);
                    if let Some(last) = last {
                        assert_eq!(date.days_since(last), 1, "{text}");
                        assert!(last < date);
                    }
                    last = Some(date);
                }
            }
        }
    }

    #[test]
    fn what_is_no_day_is_none() {
        for bad in [
            "2026-02-29",
            "2100-02-29",
            "2026-13-01",
            "2026-00-01",
            "2026-04-31",
            "2026-04-00",
            "26-04-01",
            "2026-4-1",
            "01.04.2026",
            "2026-04-01T08:00",
            "2026-04",
            "0026-04-01",
            "2026-+4-01",
            "",
            "2026-04-01-02",
        ] {
            assert_eq!(Date::parse(bad), None, "{bad}");
        }
    }
}
