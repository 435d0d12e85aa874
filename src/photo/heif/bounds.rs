//! A look at the container before it is taken apart: lists are bounded, since some are searched from the start for each of the
//! others' entries, and encrypted items are noted, which the library passes over.

use super::container::problem;
use crate::photo::error::Problem;
use heic_rs::boxes::{BoxHeader, BoxIter};
use heic_rs::reader::Reader;

/// Most parts that a file may list, far beyond any phone's: a 48 megapixel photo has about 200.
const MAX_PARTS: usize = 10_000;

/// Walks over the lists.
///
/// # Errors
///
/// If there is no list of pictures, a box is cut short, or a list is far too long.
pub(super) fn encrypted_items(bytes: &[u8]) -> Result<Vec<u32>, Problem> {
    let found = |name| {
        BoxIter::new(bytes)
            .find(name)
            .map_err(|error| problem(&error))
    };
    let Some(meta) = found(b"meta")? else {
        return Err(match found(b"moov")? {
            Some(_) => Problem::Variant {
                what: "a HEIF sequence of pictures without a photo of its own".to_owned(),
            },
            None => Problem::Truncated("it ends before the list of its pictures".to_owned()),
        });
    };
    walk(&meta).map_err(|it| problem(&it))?
}

fn walk(meta: &BoxHeader<'_>) -> heic_rs::Result<Result<Vec<u32>, Problem>> {
    let (_, _, children) = meta.full_box("meta")?;
    let (mut protected, mut longest) = (Vec::new(), 0);
    for it in BoxIter::new(children.rest()) {
        let it = it?;
        let length = match &it.boxtype {
            b"iinf" => {
                let (version, _, mut reader) = it.full_box("iinf")?;
                number(&mut reader, version == 0)?;
                let entries = BoxIter::new(reader.rest());
                for entry in entries.clone() {
                    protected.extend(protected_id(&entry?)?);
                }
                entries.count()
            }
            b"iloc" => {
                let (version, _, mut reader) = it.full_box("iloc")?;
                let sizes = reader.u16("the sizes of places")?;
                if sizes >> 8 == 0 {
                    // Neither offsets nor lengths: a list of endless places without a byte each.
                    return Ok(Err(Problem::Damaged(
                        "its list of places holds no places".to_owned(),
                    )));
                }
                number(&mut reader, version < 2)?
            }
            b"iref" => {
                let (_, _, reader) = it.full_box("iref")?;
                BoxIter::new(reader.rest()).count()
            }
            b"iprp" => {
                let mut entries = 0;
                for child in it.children() {
                    let child = child?;
                    if child.is(b"ipma") {
                        let (_, _, mut reader) = child.full_box("ipma")?;
                        entries += number(&mut reader, false)?;
                    }
                }
                entries
            }
            _ => 0,
        };
        longest = longest.max(length);
    }
    Ok(if longest > MAX_PARTS {
        Err(Problem::Variant {
            what: format!("a HEIC file of {longest} parts"),
        })
    } else {
        Ok(protected)
    })
}

fn number(reader: &mut Reader<'_>, short: bool) -> heic_rs::Result<usize> {
    let it = if short {
        reader.u16("the length of a list")?.into()
    } else {
        reader.u32("the length of a list")?
    };
    Ok(usize::try_from(it).unwrap_or(usize::MAX))
}

/// The item that an entry names, if it is encrypted (ISO/IEC 14496-12, 8.11.6).
fn protected_id(entry: &BoxHeader<'_>) -> heic_rs::Result<Option<u32>> {
    if !entry.is(b"infe") {
        return Ok(None);
    }
    let (version, _, mut reader) = entry.full_box("infe")?;
    let id = if version == 3 {
        reader.u32("an item's number")?
    } else {
        reader.u16("an item's number")?.into()
    };
    Ok((reader.u16("an item's protection")? != 0).then_some(id))
}
