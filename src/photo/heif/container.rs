//! The container (ISO/IEC 23008-12): which picture is meant, of which tiles it is made, and what else the file holds.

use super::bounds::encrypted_items;
use super::stream::Signal;
use crate::photo::error::{MAX_PIXELS, Problem};
use heic_rs::context::Context;
use heic_rs::meta::iloc::Construction;
use heic_rs::meta::iref::{RefKind, targets};
use heic_rs::props::ItemProps;
use heic_rs::props::colr::Range;
use heic_rs::{Error, Grid};
use std::borrow::Cow;

/// Most tiles of a picture: 250 megapixels in tiles of 256 × 256.
const MAX_TILES: usize = 4096;
/// Most properties of an item and most bytes of a decoder's settings; usual are 5 and 200. They are read for each tile.
const MAX_PROPERTIES: usize = 64;
const MAX_SETTINGS: usize = 1 << 16;

/// The picture that is meant, as tiles.
#[derive(Debug)]
pub(super) struct Picture<'a> {
    context: Context<'a>,
    pub(super) properties: ItemProps<'a>,
    /// A picture that is coded whole is a single tile.
    pub(super) grid: Grid,
    /// Items of the tiles, row by row; at least one.
    pub(super) tiles: Vec<u32>,
}

/// Finds the primary picture of a file.
///
/// # Errors
///
/// If the container is cut short or damaged, or the picture is too large, encrypted, transparent, or coded in a way that
/// is not read.
pub(super) fn open(bytes: &[u8]) -> Result<Picture<'_>, Problem> {
    let encrypted = encrypted_items(bytes)?;
    let context = Context::open(bytes).map_err(|it| problem(&it))?;
    check_extents(&context)?;
    let id = context.meta.primary;
    check_codec(&context, id)?;
    let properties = properties(&context, id)?;
    if let Some(name) = context.meta.props.unknown_essential(id) {
        return Err(rare(&format!("it needs “{}”", text(name))));
    }
    // Both forms of the word: MPEG's, and HEVC's own number.
    let is_alpha = |urn: &str| urn.ends_with(":alpha") || urn == "urn:mpeg:hevc:2015:auxid:1";
    if auxiliaries(&context, id).into_iter().any(is_alpha) {
        return Err(variant("a HEIC picture with an alpha channel"));
    }
    let (grid, tiles) = layout(&context, id, &properties)?;
    if encrypted.contains(&id) || tiles.iter().any(|it| encrypted.contains(it)) {
        return Err(variant("an encrypted HEIC picture"));
    }
    Ok(Picture {
        context,
        properties,
        grid,
        tiles,
    })
}

impl Picture<'_> {
    /// A tile's bytes.
    pub(super) fn data(&self, tile: u32) -> Result<Cow<'_, [u8]>, Problem> {
        data(&self.context, tile)
    }

    /// A tile's properties.
    pub(super) fn tile_properties(&self, tile: u32) -> Result<ItemProps<'_>, Problem> {
        properties(&self.context, tile)
    }

    /// What the colour box says, of the picture or else of its first tile.
    pub(super) fn signal(&self, tile: &ItemProps<'_>) -> Option<Signal> {
        self.properties.nclx.or(tile.nclx).map(|it| Signal {
            primaries: it.primaries,
            transfer: it.transfer,
            matrix: it.matrix_code,
            full_range: it.range == Range::Full,
        })
    }

    /// The camera's tags; broken ones count as missing.
    pub(super) fn exif(&self) -> Option<Vec<u8>> {
        let item = self.context.exif_item(self.context.meta.primary)?;
        let data = data(&self.context, item).ok()?;
        let tags = heic_rs::metadata::exif_tiff(&data).ok()?;
        Some(tags.to_vec())
    }

    /// Whether a gain map for HDR display comes with the picture: by ISO 21496-1, or a phone maker's own.
    pub(super) fn has_gain_map(&self) -> bool {
        let meta = &self.context.meta;
        meta.items.iter().any(|it| &it.item_type == b"tmap")
            || auxiliaries(&self.context, meta.primary)
                .iter()
                .any(|urn| urn.ends_with(":hdrgainmap") || urn.contains(":21496:"))
    }

    /// How many pictures are there beside this one that are neither its tiles, nor thumbnails, nor auxiliary to another.
    pub(super) fn others(&self) -> usize {
        let meta = &self.context.meta;
        let mut parts = Vec::new();
        for it in &meta.refs {
            match it.kind {
                RefKind::Dimg => parts.extend_from_slice(&it.to),
                RefKind::Thmb | RefKind::Auxl => parts.push(it.from),
                _ => {}
            }
        }
        parts.sort_unstable();
        meta.items
            .iter()
            .filter(|it| it.is_hevc() || codec(it.item_type).is_some())
            .filter(|it| !it.hidden && it.id != meta.primary)
            .filter(|it| parts.binary_search(&it.id).is_err())
            .count()
    }
}

/// Every part must lie inside the file, whatever it is for.
fn check_extents(context: &Context<'_>) -> Result<(), Problem> {
    let length = u64::try_from(context.file.len()).unwrap_or(u64::MAX);
    let in_file =
        (context.meta.locations.iter()).filter(|it| it.construction == Construction::File);
    for it in in_file {
        let inside = |offset: u64, bytes: u64| {
            let end = it.base_offset.checked_add(offset)?.checked_add(bytes)?;
            (end <= length).then_some(())
        };
        if (it.extents.iter()).any(|it| inside(it.offset, it.length).is_none()) {
            return Err(Problem::Truncated(
                "parts of its data lie beyond the end of the file".to_owned(),
            ));
        }
    }
    Ok(())
}

/// What an item of a picture is coded as, beside HEVC.
fn codec(item_type: [u8; 4]) -> Option<&'static str> {
    Some(match &item_type {
        b"grid" => "tiles",
        b"av01" => "AV1 (AVIF)",
        b"avc1" => "H.264",
        b"vvc1" => "H.266",
        b"evc1" => "EVC",
        b"lhv1" => "layers of HEVC",
        b"jpeg" => "JPEG",
        b"j2k1" => "JPEG 2000",
        b"unci" => "plain values",
        b"iden" => "a turned or cut copy of another picture",
        b"iovl" => "an overlay of several pictures",
        _ => return None,
    })
}

fn check_codec(context: &Context<'_>, id: u32) -> Result<(), Problem> {
    let info = context
        .meta
        .item(id)
        .ok_or_else(|| problem(&Error::MissingItem(id)))?;
    if info.is_hevc() || info.is_grid() {
        return Ok(());
    }
    let name =
        codec(info.item_type).map_or_else(|| format!("“{}”", text(info.item_type)), str::to_owned);
    Err(Problem::Variant {
        what: format!("a HEIF picture coded as {name}, not as HEVC"),
    })
}

fn layout(
    context: &Context<'_>,
    id: u32,
    properties: &ItemProps<'_>,
) -> Result<(Grid, Vec<u32>), Problem> {
    let size = |width: u32, height: u32| {
        let (width, height) = (width.into(), height.into());
        if width * height > MAX_PIXELS {
            return Err(Problem::TooLarge { width, height });
        }
        Ok(())
    };
    let stated = properties
        .ispe
        .ok_or_else(|| problem(&Error::MissingBox("ispe")))?;
    size(stated.width, stated.height)?;
    let count = targets(&context.meta.refs, id, RefKind::Dimg).len();
    if count > MAX_TILES {
        return Err(variant(&format!("a HEIC picture of {count} tiles")));
    }
    check_place(context, id)?;
    let Some((grid, tiles)) = context.grid(id).map_err(|it| problem(&it))? else {
        let whole = Grid {
            rows: 1,
            columns: 1,
            output_width: stated.width,
            output_height: stated.height,
        };
        return Ok((whole, vec![id]));
    };
    if (grid.output_width, grid.output_height) != (stated.width, stated.height) {
        return Err(Problem::Damaged("it states two different sizes".to_owned()));
    }
    let mut sorted = tiles.clone();
    sorted.sort_unstable();
    if sorted.windows(2).any(|it| it[0] == it[1]) {
        return Err(Problem::Damaged("it lists a tile twice".to_owned()));
    }
    tiles.iter().try_for_each(|it| check_codec(context, *it))?;
    // Tiles that share their bytes would be decoded from a small file for a long time.
    let length = |tile: &u32| context.meta.location(*tile)?.total_length();
    let total = tiles.iter().filter_map(length).fold(0, u64::saturating_add);
    if usize::try_from(total).unwrap_or(usize::MAX) > context.file.len() {
        return Err(Problem::Damaged(
            "its tiles are longer than the file".to_owned(),
        ));
    }
    Ok((grid, tiles))
}

fn properties<'a>(context: &Context<'a>, id: u32) -> Result<ItemProps<'a>, Problem> {
    let all = &context.meta.props;
    let settings = all.find_all(id, b"hvcC").map(|it| it.payload.len()).max();
    if all.associations(id).len() > MAX_PROPERTIES || settings > Some(MAX_SETTINGS) {
        return Err(Problem::Damaged(
            "it has more properties than any picture".to_owned(),
        ));
    }
    context.props(id).map_err(|it| problem(&it))
}

/// Parts that are put together from other parts, again and again, could keep the library busy for ever. A part of open length
/// reaches to the end of the file, and many may.
fn check_place(context: &Context<'_>, id: u32) -> Result<(), Problem> {
    match context.meta.location(id) {
        Some(it) if it.construction == Construction::Item => {
            Err(rare("its parts are put together from other parts"))
        }
        Some(it) if it.total_length().is_none() => Err(rare("the length of a part is left open")),
        _ => Ok(()),
    }
}

fn data<'a>(context: &Context<'a>, id: u32) -> Result<Cow<'a, [u8]>, Problem> {
    check_place(context, id)?;
    context.item_data(id).map_err(|it| problem(&it))
}

/// What the pictures that are auxiliary to this one are for; broken words are passed over.
fn auxiliaries<'a>(context: &Context<'a>, id: u32) -> Vec<&'a str> {
    let meta = &context.meta;
    meta.refs
        .iter()
        .filter(|it| it.kind == RefKind::Auxl && it.to.contains(&id))
        .filter_map(|it| meta.props.find(it.from, b"auxC"))
        .filter_map(|it| heic_rs::props::simple::parse_auxc(it).ok())
        .map(|it| it.urn)
        .collect()
}

/// The library's word on a file, in ours.
pub(super) fn problem(error: &Error) -> Problem {
    match error {
        Error::Truncated(what) => {
            Problem::Truncated(format!("its data end in the middle of {what}"))
        }
        Error::Malformed(what) => Problem::Damaged((*what).to_owned()),
        Error::Unsupported(what) => rare(what),
        Error::MissingBox(name) => Problem::Damaged(format!("its box “{name}” is missing")),
        other => Problem::Damaged(other.to_string()),
    }
}

fn variant(what: &str) -> Problem {
    Problem::Variant {
        what: what.to_owned(),
    }
}

fn rare(why: &str) -> Problem {
    variant(&format!("a HEIC picture of a rare kind ({why})"))
}

fn text(name: [u8; 4]) -> String {
    String::from_utf8_lossy(&name)
        .chars()
        .filter(|it| !it.is_control())
        .collect()
}
