//! Why a photo is refused, and what to do.

/// Why nothing was located.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LocateError {
    /// There are too few pixels to search.
    #[error("the photo is too small to find a panel in ({width} × {height} pixels)")]
    TooSmall {
        /// Stored width.
        width: usize,
        /// Stored height.
        height: usize,
    },
    /// Nothing like the layout is in the photo.
    #[error("no panel found: of {regions} flat regions no arrangement fits the layout")]
    NoPanel {
        /// Regions with a closed outline that were looked at.
        regions: usize,
    },
    /// Something like the layout is there, but too much of it is not.
    #[error("the layout does not fit: {seen:.0} of {of:.0} patches were seen where it has them")]
    LayoutDoesNotFit {
        /// Patches seen.
        seen: f64,
        /// Patches that are not empty.
        of: f64,
    },
    /// The layout fits in two places.
    #[error("two panels fit the layout, about {distance:.0} pixels apart")]
    TwoPanels {
        /// Distance of their middles, stored pixels.
        distance: f64,
    },
    /// The layout fits best in a mirror.
    #[error("the layout fits best mirrored, which no photo shows")]
    Mirrored,
    /// The layout fits as well a row or column farther.
    #[error(
        "the layout fits almost as well shifted by a row or a column (log likelihood {margin:.1} apart, {needed:.1} needed)"
    )]
    Shifted {
        /// Difference of log likelihood.
        margin: f64,
        /// What is asked for.
        needed: f64,
    },
    /// Nothing says which way is up.
    #[error(
        "nothing decides which way is up: the layout fits as well turned (log likelihood {margin:.1} apart, {needed:.1} needed)"
    )]
    TurnUndecided {
        /// Difference of log likelihood.
        margin: f64,
        /// What is asked for.
        needed: f64,
    },
    /// Two witnesses contradict each other.
    #[error("which way is up is in doubt: {against} speaks against {chosen}")]
    Contradiction {
        /// The witness against.
        against: String,
        /// What speaks for the best way.
        chosen: String,
    },
    /// A card is not in sight.
    #[error("card `{card}` was not found {place}")]
    CardMissing {
        /// Its identifier.
        card: String,
        /// Where it should be, in words.
        place: String,
    },
    /// More than one thing could be the card.
    #[error("card `{card}`: two things {place} could be it")]
    CardDoubtful {
        /// Its identifier.
        card: String,
        /// Where it should be, in words.
        place: String,
    },
    /// A sheet of a grey card's size lies askew to the panel.
    #[error(
        "card `{card}`: the only thing that could be it lies askew to the panel, as any sheet may"
    )]
    CardAskew {
        /// Its identifier.
        card: String,
    },
    /// A chart was found, but too few of its zones lie where they should.
    #[error("card `{card}`: only {share:.0} % of its zones' outlines are seen where it was found")]
    CardUnseen {
        /// Its identifier.
        card: String,
        /// Share of the outlines, per cent.
        share: f64,
    },
    /// What was taken for a card ends within its frame.
    #[error("card `{card}`: what lies where it was found is smaller than its card file says")]
    CardSmaller {
        /// Its identifier.
        card: String,
    },
    /// A card was found, but its zones are too small to be read.
    #[error("card `{card}`: its zones are only {pixels:.0} pixels across")]
    CardTooSmall {
        /// Its identifier.
        card: String,
        /// Shorter side of its smallest zone, stored pixels.
        pixels: f64,
    },
    /// Patches lie outside the photo.
    #[error("the photo cuts off patches: {}", patches.join(", "))]
    CutOff {
        /// Their identifiers.
        patches: Vec<String>,
    },
    /// The corners given by hand make no sense.
    #[error("the corners given by hand {problem}")]
    Corners {
        /// What is wrong.
        problem: String,
    },
}

impl LocateError {
    /// What the user can do about it, as a full sentence.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::TooSmall { .. } => "Use the photo as the camera made it, not a thumbnail.",
            Self::NoPanel { .. } => {
                "Check that the whole panel is in view, sharp and tilted by less than 30°, and that the panel file is the right one; or give the grid's corners with --corners."
            }
            Self::LayoutDoesNotFit { .. } => {
                "Check that the panel file is the right one and its sizes are true; if patches look like the substrate, give the grid's corners with --corners."
            }
            Self::TwoPanels { .. } => {
                "Photograph one panel at a time, or give the corners of the one meant with --corners."
            }
            Self::Mirrored => {
                "Check that the photo was not mirrored by the camera and that the panel file has rows downwards and columns rightwards."
            }
            Self::Shifted { .. } => {
                "State the board's size and margins in the panel file, or give the grid's corners with --corners."
            }
            Self::TurnUndecided { .. } => {
                "State the card's side or the board's margins in the panel file; or, if the photo is upright as displayed, say so with --upright."
            }
            Self::Contradiction { .. } => {
                "Check where the card lies and what the panel file says of it, of empty cells, margins and known colours."
            }
            Self::CardMissing { .. } => {
                "Lay the card flat, wholly in view, where the panel file says, or correct its place in the panel file. A grey card that comes out white is taken for paper: expose less."
            }
            Self::CardDoubtful { .. } => {
                "Take away what looks like the card, or state the card's place more closely with at_mm."
            }
            Self::CardAskew { .. } => {
                "Lay the grey card beside the board, its edges along the board's, not touching it and with no shadow's edge across it; or state its place with at_mm."
            }
            Self::CardUnseen { .. } | Self::CardSmaller { .. } => {
                "Lay the card flat, uncovered and out of a shadow's edge, and check that the card file has its zones' true sizes."
            }
            Self::CardTooSmall { .. } => {
                "Go closer, or use the photo at its full size: the board and the card should fill the frame."
            }
            Self::CutOff { .. } => "Step back until the whole panel and its cards are in view.",
            Self::Corners { .. } => {
                "Give the outer corners of the patch grid in stored pixels, from A1's corner clockwise as on the panel."
            }
        }
    }
}
