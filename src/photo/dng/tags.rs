//! Numbers of entries: TIFF 6.0, TIFF/EP (ISO 12234-2) and the DNG specification, from memory. `LibRaw` and tifffile read those that the test files
//! hold in the same way.

pub(super) const SUBFILE_TYPE: u16 = 254;
pub(super) const WIDTH: u16 = 256;
pub(super) const LENGTH: u16 = 257;
pub(super) const BITS: u16 = 258;
pub(super) const COMPRESSION: u16 = 259;
pub(super) const PHOTOMETRIC: u16 = 262;
pub(super) const STRIP_OFFSETS: u16 = 273;
pub(super) const SAMPLES: u16 = 277;
pub(super) const ROWS_PER_STRIP: u16 = 278;
pub(super) const STRIP_BYTES: u16 = 279;
pub(super) const PLANAR: u16 = 284;
pub(super) const PREDICTOR: u16 = 317;
pub(super) const TILE_WIDTH: u16 = 322;
pub(super) const TILE_LENGTH: u16 = 323;
pub(super) const TILE_OFFSETS: u16 = 324;
pub(super) const TILE_BYTES: u16 = 325;
pub(super) const SAMPLE_FORMAT: u16 = 339;
pub(super) const CFA_REPEAT: u16 = 33_421;
pub(super) const CFA_PATTERN: u16 = 33_422;
pub(super) const DNG_VERSION: u16 = 50_706;
pub(super) const PLANE_COLOURS: u16 = 50_710;
pub(super) const CFA_LAYOUT: u16 = 50_711;
pub(super) const LINEARISATION: u16 = 50_712;
pub(super) const BLACK_REPEAT: u16 = 50_713;
pub(super) const BLACK: u16 = 50_714;
pub(super) const BLACK_ACROSS: u16 = 50_715;
pub(super) const BLACK_DOWN: u16 = 50_716;
pub(super) const WHITE: u16 = 50_717;
pub(super) const CROP_ORIGIN: u16 = 50_719;
pub(super) const CROP_SIZE: u16 = 50_720;
pub(super) const COLOUR_MATRIX: [u16; 2] = [50_721, 50_722];
pub(super) const CALIBRATION: [u16; 2] = [50_723, 50_724];
pub(super) const ANALOG_BALANCE: u16 = 50_727;
pub(super) const AS_SHOT_NEUTRAL: u16 = 50_728;
pub(super) const AS_SHOT_WHITE: u16 = 50_729;
pub(super) const ILLUMINANT: [u16; 2] = [50_778, 50_779];
/// What made the calibration of this very camera, and what the matrices are made for.
pub(super) const CALIBRATED_BY: u16 = 50_931;
pub(super) const CALIBRATED_FOR: u16 = 50_932;
pub(super) const THIRD_MATRIX: u16 = 52_531;
pub(super) const ACTIVE_AREA: u16 = 50_829;
pub(super) const FORWARD_MATRIX: [u16; 2] = [50_964, 50_965];
/// For values as read, for linear values before and after demosaicing.
pub(super) const OPCODES: [u16; 3] = [51_008, 51_009, 51_022];
