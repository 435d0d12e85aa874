//! Digests: of bytes as they are stored, to find flipped bits; and of what is said, to tell whether two things are the same.
//!
//! Neither is taken of a type of this program put into words anew: a key that a later program adds to the type would change it, and make
//! what an earlier one wrote look damaged, or like something else.

use super::LibraryError;
use serde::Serialize;
use serde_json::Value;
use sha2::{Digest as _, Sha256};

/// The first half of a SHA-256.
pub(super) type Digest = [u8; 16];

/// Of bytes as they are stored, part by part: where one ends and the next begins counts.
pub(super) fn of_bytes(parts: &[&[u8]]) -> Digest {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update((part.len() as u64).to_le_bytes());
        hash.update(part);
    }
    first_half(hash)
}

/// Of what something says. What says nothing counts for nothing: null, false, an empty list, an empty text. A key that comes later, and is
/// one of these in all that was written before, changes no digest. The order of keys counts for nothing either.
pub(super) fn of_said(what: &impl Serialize) -> Result<Digest, LibraryError> {
    let value =
        serde_json::to_value(what).map_err(|it| LibraryError::damaged("what is to be kept", it))?;
    let mut text = String::new();
    write(&value, &mut text);
    Ok(first_half(Sha256::new_with_prefix(text.as_bytes())))
}

pub(super) fn first_half(hash: Sha256) -> Digest {
    let mut digest = [0; 16];
    digest.copy_from_slice(&hash.finalize()[..16]);
    digest
}

fn says_something(value: &Value) -> bool {
    match value {
        Value::Null => false,
        Value::Bool(it) => *it,
        Value::Number(_) => true,
        Value::String(it) => !it.is_empty(),
        Value::Array(it) => !it.is_empty(),
        Value::Object(it) => it.values().any(says_something),
    }
}

/// JSON keeps names apart, whatever is in them; its numbers are exact. Entries of a list keep their places.
fn write(value: &Value, out: &mut String) {
    match value {
        Value::Object(entries) => {
            let mut said: Vec<_> = entries.iter().filter(|it| says_something(it.1)).collect();
            said.sort_by_key(|it| it.0);
            out.push('{');
            for (key, value) in said {
                *out += &Value::String(key.clone()).to_string();
                out.push(':');
                write(value, out);
                out.push(',');
            }
            out.push('}');
        }
        Value::Array(entries) => {
            out.push('[');
            for value in entries {
                write(value, out);
                out.push(',');
            }
            out.push(']');
        }
        other => *out += &other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_says_nothing_counts_for_nothing_and_everything_else_counts() {
        let of = |it: Value| of_said(&it).unwrap();
        let old = json!({ "id": "A1", "load": 12.0, "cell": [0, 1] });
        let later = json!({
            "cell": [0, 1], "load": 12.0, "new": null, "flag": false, "list": [], "in": { "it": null }, "id": "A1", "text": "",
        });
        assert_eq!(of(old.clone()), of(later));
        for other in [
            json!({ "id": "A1", "load": 12.5, "cell": [0, 1] }),
            json!({ "id": "A1", "load": 12.0, "cell": [1, 0] }),
            json!({ "id": "A1", "load": 12.0, "cell": [0, 1], "flag": true }),
            json!({ "id": "A1", "load": 12.0, "cell": [0, 1], "zero": 0.0 }),
            json!({ "id": "A1\",\"load\":12.0", "cell": [0, 1] }),
            json!({ "id": "A1", "load": 12.0, "cell": [[0], 1] }),
            json!({ "id": "A1", "load": 12.0, "cell": [null, 0, 1] }),
        ] {
            assert_ne!(of(old.clone()), of(other.clone()), "{other}");
        }
        assert_ne!(of_bytes(&[b"ab", b"c"]), of_bytes(&[b"a", b"bc"]));
    }
}
