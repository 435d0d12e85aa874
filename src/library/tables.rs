//! The tables of the library's file, form by form. The only place where they are defined.
//!
//! A form is never changed once it was released: what changes comes as the next entry of [`FORMS`], and every file is
//! taken through all that it lacks, in one transaction, with a copy of the file as it was beside it.

/// "msst", which tells a library from any other SQLite file.
pub(super) const APPLICATION_ID: i32 = 0x6d73_7374;

/// What takes a file from one form to the next: the first from an empty file to form 1.
pub(super) const FORMS: [&str; 2] = [FORM_1, FORM_2];

/// Photos and their records, panels by revision, swatches with specimens and readings, what is known of materials.
///
/// What is derived from the rest, and can be made anew at any time: `swatch` and `ingredient` (from the panels), `current`
/// in `reading`, and `colour`.
const FORM_1: &str = "
-- A photo, once, however often it was measured.
CREATE TABLE photo (
    id INTEGER PRIMARY KEY,
    sha256 TEXT NOT NULL UNIQUE,
    taken TEXT,
    camera TEXT,
    -- The photo that this one shows again, in other bytes.
    copy_of INTEGER REFERENCES photo
) STRICT;
CREATE INDEX photo_by_shot ON photo (taken, camera);
CREATE INDEX photo_by_original ON photo (copy_of);

-- A revision of a panel file: what it said when a photo was measured with it.
CREATE TABLE panel (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    revision INTEGER NOT NULL,
    -- Of all that it says.
    digest BLOB NOT NULL,
    entry BLOB NOT NULL,
    UNIQUE (name, revision),
    UNIQUE (name, digest)
) STRICT;

-- A photo measured on a panel with a correction: its history, without the panel, compressed JSON.
CREATE TABLE measurement (
    id INTEGER PRIMARY KEY,
    photo INTEGER NOT NULL REFERENCES photo,
    panel INTEGER NOT NULL REFERENCES panel,
    panel_name TEXT NOT NULL,
    correction TEXT NOT NULL,
    hours REAL,
    -- Photos of one group share the error that is common to a photo: a hash of camera and cards.
    common_group INTEGER NOT NULL,
    added TEXT NOT NULL,
    entry BLOB NOT NULL,
    -- Of when it was added, of the entry and of all readings, as they are stored: to find flipped bits.
    digest BLOB NOT NULL,
    UNIQUE (photo, panel_name, correction)
) STRICT;
CREATE INDEX measurement_by_panel ON measurement (panel);

-- What was meant. A number that was given to one is never given to another.
CREATE TABLE swatch (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    -- Of all that makes it this swatch and no other.
    digest BLOB NOT NULL UNIQUE,
    name TEXT,
    coating TEXT,
    substrate TEXT,
    coats REAL,
    g_per_m2 REAL,
    control TEXT,
    -- Where the recipe is incomplete: the panel, and the patch, that it can't be told from.
    only_panel TEXT,
    only_patch TEXT
) STRICT;
CREATE TABLE ingredient (
    swatch INTEGER NOT NULL REFERENCES swatch,
    pigment TEXT NOT NULL,
    load REAL NOT NULL,
    PRIMARY KEY (swatch, pigment)
) STRICT, WITHOUT ROWID;
CREATE INDEX ingredient_by_pigment ON ingredient (pigment, load);

-- One coated patch.
CREATE TABLE specimen (
    id INTEGER PRIMARY KEY,
    swatch INTEGER NOT NULL REFERENCES swatch,
    panel_name TEXT NOT NULL,
    patch TEXT NOT NULL,
    lot TEXT NOT NULL,
    g_per_m2 REAL,
    UNIQUE (panel_name, patch, swatch, lot)
) STRICT;
CREATE INDEX specimen_by_swatch ON specimen (swatch);

-- One half of one patch in one measurement.
CREATE TABLE reading (
    specimen INTEGER NOT NULL REFERENCES specimen,
    half INTEGER NOT NULL,
    measurement INTEGER NOT NULL REFERENCES measurement,
    -- Its place in the record.
    place INTEGER NOT NULL,
    -- Counts: no better reading of the same photo is there.
    current INTEGER NOT NULL,
    -- Null where there is no colour.
    u95 REAL,
    -- Its colour and all other numbers, packed.
    detail BLOB NOT NULL,
    PRIMARY KEY (specimen, half, measurement)
) STRICT, WITHOUT ROWID;
CREATE INDEX reading_by_measurement ON reading (measurement);

-- The colour of a swatch at an exposure; -1 hours are unknown ones, of which each photo's are its own.
CREATE TABLE colour (
    swatch INTEGER NOT NULL REFERENCES swatch,
    masked INTEGER NOT NULL,
    hours REAL NOT NULL,
    -- Where the hours are unknown; else 0.
    photo INTEGER NOT NULL,
    l REAL NOT NULL,
    a REAL NOT NULL,
    b REAL NOT NULL,
    -- Six entries of the covariance of the mean, 32 bits each.
    covariance BLOB NOT NULL,
    -- Of the standard one and of those exposed for known hours, which lists show: it takes a fifth of a millisecond.
    u95 REAL,
    specimens INTEGER NOT NULL,
    readings INTEGER NOT NULL,
    disagree INTEGER NOT NULL,
    -- The one that stands for the swatch as made.
    standard INTEGER NOT NULL,
    PRIMARY KEY (swatch, masked, hours, photo)
) STRICT, WITHOUT ROWID;
CREATE INDEX colour_as_made ON colour (standard, swatch, l, a, b) WHERE standard = 1;
CREATE INDEX colour_aged ON colour (hours, swatch, l, a, b) WHERE masked = 0 AND hours > 0;

-- What was seen of a specimen besides its colour.
CREATE TABLE note (
    id INTEGER PRIMARY KEY,
    specimen INTEGER NOT NULL REFERENCES specimen,
    word TEXT NOT NULL,
    date TEXT NOT NULL,
    text TEXT,
    temperature_c REAL,
    humidity_percent REAL,
    hours REAL,
    grade REAL,
    -- Of all that it says.
    digest BLOB NOT NULL
) STRICT;
CREATE INDEX note_by_specimen ON note (specimen);

-- Materials; the digests are of id and facts, as they are stored.
CREATE TABLE pigment (
    id TEXT PRIMARY KEY,
    facts TEXT NOT NULL,
    digest BLOB NOT NULL
) STRICT;
CREATE TABLE coating (
    id TEXT PRIMARY KEY,
    facts TEXT NOT NULL,
    digest BLOB NOT NULL
) STRICT;

-- What was corrected: how it was before, whole.
CREATE TABLE history (
    id INTEGER PRIMARY KEY,
    date TEXT NOT NULL,
    what TEXT NOT NULL,
    why TEXT,
    before BLOB NOT NULL,
    -- Of all of it, as it is stored.
    digest BLOB NOT NULL
) STRICT;
";

/// Small pictures of specimens, for pages; -1 hours are unknown ones, of which each photo's are its own.
const FORM_2: &str = "
CREATE TABLE crop (
    specimen INTEGER NOT NULL REFERENCES specimen,
    half INTEGER NOT NULL,
    hours REAL NOT NULL,
    -- Where the hours are unknown: the photo, or the one that it is a copy of; else 0.
    alone INTEGER NOT NULL,
    photo INTEGER NOT NULL REFERENCES photo,
    u95 REAL NOT NULL,
    jpeg BLOB NOT NULL,
    -- Of the photo's SHA-256, half, U95 and picture.
    digest BLOB NOT NULL,
    PRIMARY KEY (specimen, half, hours, alone)
) STRICT;
CREATE INDEX crop_by_photo ON crop (photo);
";
