//! Changes to a HEIC file's container (ISO/IEC 14496-12 and 23008-12).
//!
//! The list of pictures is written anew at the end of the file, and what was there is left as free space: so no offset changes.

/// A file whose list of pictures is taken apart.
pub(crate) struct File {
    bytes: Vec<u8>,
    lists: Vec<([u8; 4], Vec<u8>)>,
}

fn boxed(name: [u8; 4], body: &[u8]) -> Vec<u8> {
    let length = u32::try_from(body.len() + 8).unwrap();
    [&length.to_be_bytes(), &name[..], body].concat()
}

/// Boxes that follow each other, where each begins, and what is in it.
fn taken_apart(bytes: &[u8]) -> Vec<(usize, [u8; 4], Vec<u8>)> {
    let (mut found, mut at) = (Vec::new(), 0);
    while at < bytes.len() {
        let length = u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap());
        let end = at + usize::try_from(length).unwrap();
        let name = bytes[at + 4..at + 8].try_into().unwrap();
        found.push((at, name, bytes[at + 8..end].to_vec()));
        at = end;
    }
    found
}

impl File {
    pub(crate) fn of(mut bytes: Vec<u8>) -> Self {
        let (at, _, meta) = (taken_apart(&bytes).into_iter())
            .find(|it| &it.1 == b"meta")
            .unwrap();
        bytes[at + 4..at + 8].copy_from_slice(b"free");
        let lists = taken_apart(&meta[4..]);
        Self {
            bytes,
            lists: lists.into_iter().map(|(_, name, it)| (name, it)).collect(),
        }
    }

    /// One of the lists.
    pub(crate) fn list(&mut self, name: &[u8; 4]) -> &mut Vec<u8> {
        let list = self.lists.iter_mut().find(|it| &it.0 == name);
        &mut list.unwrap().1
    }

    /// Replaces the only place where a list has these bytes.
    pub(crate) fn replace(mut self, list: &[u8; 4], old: &[u8], new: &[u8]) -> Self {
        let body = self.list(list);
        let mut places = (0..=body.len() - old.len()).filter(|at| body[*at..].starts_with(old));
        let (at, None) = (places.next().unwrap(), places.next()) else {
            panic!("more than one place");
        };
        drop(places);
        body.splice(at..at + old.len(), new.iter().copied());
        self
    }

    /// The item that is the main picture.
    pub(crate) fn primary(&mut self) -> u16 {
        let body = self.list(b"pitm");
        u16::from_be_bytes(body[4..6].try_into().unwrap())
    }

    /// Gives an item one more property.
    pub(crate) fn property(mut self, item: u16, name: &[u8; 4], body: &[u8], needed: bool) -> Self {
        let all = self.list(b"iprp");
        let mut parts = taken_apart(all);
        let store = parts.iter_mut().find(|it| &it.1 == b"ipco").unwrap();
        store.2.extend(boxed(*name, body));
        let index = u8::try_from(taken_apart(&store.2).len()).unwrap();
        let [high, low] = item.to_be_bytes();
        let which = index | if needed { 0x80 } else { 0 };
        parts.push((
            0,
            *b"ipma",
            vec![0, 0, 0, 0, 0, 0, 0, 1, high, low, 1, which],
        ));
        *all = parts.iter().flat_map(|it| boxed(it.1, &it.2)).collect();
        self
    }

    /// What an item has of a property.
    pub(crate) fn stored(&mut self, name: &[u8; 4]) -> Vec<u8> {
        let parts = taken_apart(self.list(b"iprp"));
        let store = parts.iter().find(|it| &it.1 == b"ipco").unwrap();
        let found = taken_apart(&store.2).into_iter().find(|it| &it.1 == name);
        found.unwrap().2
    }

    pub(crate) fn written(mut self) -> Vec<u8> {
        let body: Vec<u8> = (self.lists.iter())
            .flat_map(|(name, it)| boxed(*name, it))
            .collect();
        self.bytes
            .extend(boxed(*b"meta", &[&[0; 4], &body[..]].concat()));
        self.bytes
    }
}

/// A bit stream's description with another size, in blocks of 8: bits rewritten, ITU-T H.265, 7.3.2.2.
pub(crate) fn with_coded_size(settings: &[u8], width: u32, height: u32) -> Vec<u8> {
    let at = (settings.windows(3))
        .position(|it| it == b"\x42\x01\x01")
        .unwrap();
    let length = usize::from(u16::from_be_bytes(settings[at - 2..at].try_into().unwrap()));
    let mut plain = Vec::new();
    for byte in &settings[at..at + length] {
        if *byte != 3 || !plain.ends_with(&[0, 0]) {
            plain.push(*byte);
        }
    }
    let bits: Vec<bool> = (plain.iter())
        .flat_map(|byte| (0..8).map(move |bit| byte >> (7 - bit) & 1 == 1))
        .collect();
    // The unit's header, four numbers of fixed length, the profile; then codes whose zeros say how long they are.
    let mut ends = vec![16 + 4 + 3 + 1 + 96];
    for _ in 0..4 {
        let from = *ends.last().unwrap();
        let zeros = bits[from..].iter().position(|it| *it).unwrap();
        ends.push(from + 2 * zeros + 1);
    }
    let golomb = |value: u32| {
        let length = (value + 1).ilog2();
        let zeros = vec![false; usize::try_from(length).unwrap()];
        let digits = (0..=length).rev().map(|bit| (value + 1) >> bit & 1 == 1);
        zeros.into_iter().chain(digits).collect::<Vec<_>>()
    };
    let (first, rest) = (&bits[..ends[2]], &bits[ends[4]..]);
    // No window: the rest begins with the flag for one, and four codes.
    let mut after = 1;
    if rest[0] {
        for _ in 0..4 {
            after += 2 * rest[after..].iter().position(|it| *it).unwrap() + 1;
        }
    }
    let mut new = [
        first,
        &golomb(width),
        &golomb(height),
        &[false],
        &rest[after..],
    ]
    .concat();
    new.resize(new.len().next_multiple_of(8), false);
    let mut set = Vec::new();
    for byte in new.chunks(8) {
        let byte = byte.iter().fold(0, |it, bit| it << 1 | u8::from(*bit));
        if byte <= 3 && set.ends_with(&[0, 0]) {
            set.push(3);
        }
        set.push(byte);
    }
    let count = u16::try_from(set.len()).unwrap().to_be_bytes();
    [&settings[..at - 2], &count, &set, &settings[at + length..]].concat()
}
