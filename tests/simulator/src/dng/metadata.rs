//! EXIF in a DNG: the same fields as in the JPEG, in directories of the file's own.

use super::directory::{Directory, Values};
use crate::metadata::fields;
use crate::spec::SceneSpec;
use exif::{Context, Value};

/// Adds what belongs to the first directory; returns the EXIF directory.
pub(super) fn add(spec: &SceneSpec, first: &mut Directory) -> Directory {
    let mut exif = Directory::new();
    // A sensor has no colour space.
    for (tag, value) in fields(&spec.exif, None, spec.tag) {
        let values = match value {
            Value::Ascii(it) => {
                let words = it.first().map(|it| String::from_utf8_lossy(it));
                Values::Ascii(words.unwrap_or_default().into_owned())
            }
            Value::Short(it) => Values::Short(it),
            Value::Rational(it) => {
                Values::Rational(it.iter().map(|it| [it.num, it.denom]).collect())
            }
            Value::Undefined(it, _) => Values::Undefined(it),
            other => unreachable!("the simulator writes no {other:?}"),
        };
        match tag.context() {
            Context::Tiff => first.insert(tag.number(), values),
            _ => exif.insert(tag.number(), values),
        };
    }
    exif
}
