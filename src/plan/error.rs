//! Why something can't be planned.

/// Why something can't be planned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A number that can't be what it stands for.
    #[error("{what} is {value:?}; it must be {must}")]
    Number {
        /// What it stands for.
        what: String,
        /// The number.
        value: f64,
        /// What would be right.
        must: String,
    },
    /// A coating whose mixing ratio nobody stated.
    #[error("the mixing ratio of {coating:?} is not known")]
    NoRatio {
        /// Its name.
        coating: String,
    },
    /// Densities that don't fit the parts.
    #[error("{coating:?} has {parts} parts by volume and {densities} densities")]
    Densities {
        /// Its name.
        coating: String,
        /// How many parts.
        parts: usize,
        /// How many densities.
        densities: usize,
    },
    /// A price of a coating and one of its part.
    #[error("prices of {coating:?} and of its {part:?} are stated")]
    TwoPrices {
        /// The coating's name.
        coating: String,
        /// The part's.
        part: String,
    },
    /// Nobody stated how much coating is put on.
    #[error("{of}: how much coating is put on is not known")]
    NoAmount {
        /// Patches or the coating that it is about.
        of: String,
    },
    /// A coating that hardens, and nobody stated how soon.
    #[error("the pot life of {coating:?} is not known, so the job can't be split into batches")]
    NoPotLife {
        /// Its name.
        coating: String,
    },
    /// A patch that the panel hasn't got, or that can't serve.
    #[error("{id:?} can't be the witness: {why}")]
    Witness {
        /// As given.
        id: String,
        /// Why not.
        why: String,
    },
    /// A patch that a panel hasn't got.
    #[error("panel {panel} has no patch {id:?}")]
    NoPatch {
        /// The panel.
        panel: String,
        /// As given.
        id: String,
    },
    /// A pigment that a job's recipe hasn't got.
    #[error("something is stated of {pigment:?}, which is not in {of}")]
    NoPigment {
        /// As given.
        pigment: String,
        /// The swatch.
        of: String,
    },
    /// Something that a job can't do without, and nobody said it of its swatch.
    #[error("of {of} nobody said {what}")]
    NotSaid {
        /// The swatch or patch.
        of: String,
        /// What is missing.
        what: &'static str,
    },
    /// Nothing on the panel has a coating that is known.
    #[error("there is nothing to mix: no patch has pigments or is a control")]
    Nothing,
    /// The balance can't weigh so little, and more would not be used up within the pot life.
    #[error(
        "a batch of {batch_g:.1} g of coating holds {grams:.3} g of {what}, less than the {least_g} g that the balance is trusted with"
    )]
    TooLittle {
        /// Which pigment or part.
        what: String,
        /// How much of it.
        grams: f64,
        /// The least weighable amount.
        least_g: f64,
        /// The largest batch that is used up within the pot life, or that is mixed at once.
        batch_g: f64,
    },
    /// More batches than anyone mixes.
    #[error("the job would take {batches} batches a coat; at most {most} can be planned")]
    TooMany {
        /// How many.
        batches: f64,
        /// The most.
        most: usize,
    },
}

impl PlanError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Number { .. } => "Correct the number.",
            Self::NoRatio { .. } => {
                "State it by mass with --parts 4:1 (--parts 1 for a coating of one part), as its data sheet has it; or once for all in the library: masstone library coatings NAME --parts base=80,hardener=20."
            }
            Self::Densities { .. } => {
                "Give one density for each part, in the same order: --part-density 1.05:1.12."
            }
            Self::TwoPrices { .. } => {
                "State the price of the coating as mixed, or of each of its parts (a part of another coating: --price \"COATING: PART=PRICE\")."
            }
            Self::NoAmount { .. } => {
                "State the wet coating of one coat in g/m² with --per-coat, and `coats` in the panel file; or `wet_g_per_m2` of each patch."
            }
            Self::NoPotLife { .. } => {
                "State it in minutes with --pot-life, as the data sheet has it for your temperature."
            }
            Self::Witness { .. } => "Name the id of a tinted patch.",
            Self::NoPatch { .. } => "`masstone panel show` lists the ids of its patches.",
            Self::NoPigment { .. } => "Write the pigment as the swatch has it.",
            Self::NotSaid { .. } => {
                "Write it into the panel file, and name that with --panel PANEL.toml."
            }
            Self::Nothing => "Put `pigments` or `control` into the panel file.",
            Self::TooLittle { .. } => {
                "Tint the whole of one part beforehand with --tint-part (if the maker allows it), use a finer balance, work faster (--pace), or mix more at once (--largest-batch)."
            }
            Self::TooMany { .. } => "Check --area, --pace, --pot-life and --largest-batch.",
        }
    }
}
