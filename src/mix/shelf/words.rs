//! Names and swatches in words.

use super::LeftOut;

/// At most so many names are listed.
const MOST: usize = 12;

/// Names, the first few of many.
#[must_use]
pub fn list(names: &[String]) -> String {
    let first: Vec<&str> = names.iter().take(MOST).map(String::as_str).collect();
    let more = names.len().saturating_sub(MOST);
    if more > 0 {
        format!("{}, and {more} more", first.join("; "))
    } else {
        first.join("; ")
    }
}

/// The names nearest to a word, nearest first.
#[must_use]
pub fn nearest(word: &str, there: &[String]) -> Vec<String> {
    let mut near: Vec<String> = there.to_vec();
    let off = |it: &String| strsim::osa_distance(&it.to_lowercase(), &word.to_lowercase());
    near.sort_by_cached_key(off);
    near.truncate(MOST);
    near
}

/// `swatch 3`, `swatches 3, 5 and 12`; of many, how many.
pub(super) fn swatches(ids: &[i64]) -> String {
    let words: Vec<String> = ids.iter().map(ToString::to_string).collect();
    match &words[..] {
        [one] => format!("swatch {one}"),
        [start @ .., last] if words.len() <= MOST => {
            format!("swatches {} and {last}", start.join(", "))
        }
        _ => format!(
            "{} swatches ({} …)",
            words.len(),
            words.get(..3).unwrap_or_default().join(", ")
        ),
    }
}

/// Each reason once, with its swatches, in the order in which they first come.
pub(super) fn reasons(left_out: &[LeftOut]) -> Vec<String> {
    let mut all: Vec<(&str, Vec<i64>)> = Vec::new();
    for it in left_out {
        match all.iter_mut().find(|other| other.0 == it.reason) {
            Some(other) => other.1.push(it.swatch),
            None => all.push((&it.reason, vec![it.swatch])),
        }
    }
    (all.into_iter())
        .map(|(reason, ids)| format!("{}: {reason}", swatches(&ids)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_swatches_are_named_and_many_counted() {
        assert_eq!(swatches(&[3]), "swatch 3");
        assert_eq!(swatches(&[3, 5]), "swatches 3 and 5");
        assert_eq!(swatches(&[3, 5, 12]), "swatches 3, 5 and 12");
        let many: Vec<i64> = (1..=13).collect();
        assert_eq!(swatches(&many), "13 swatches (1, 2, 3 …)");
    }

    #[test]
    fn the_nearest_name_is_first() {
        let there = ["PY42", "PR101", "PBk11"].map(str::to_owned);
        assert_eq!(nearest("pr102", &there)[0], "PR101");
    }
}
