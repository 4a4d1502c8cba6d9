//! What makes a plan impossible: figures that cannot be meant, or that are beyond chemistry.

/// Why no plan was made. Each message says what was found and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PlanError {
    /// A figure outside its limits.
    #[error("{name}: {message} Give it as --{option}, with its unit")]
    Absurd {
        /// What it is called.
        name: String,
        /// The option that sets it.
        option: String,
        /// What was found, what is taken, and what was likely meant.
        message: String,
    },
    /// Bed and freeboard do not go into the tank.
    #[error(
        "a bed of {bed:.2} m under a freeboard of {freeboard:.2} m does not go into a tank of {tank:.2} m. Measure them again: --bed-depth, --freeboard, --bed-volume, --tank-bore, --tank-height"
    )]
    TallerThanTank {
        /// Depth of the bed, m.
        bed: f64,
        /// Freeboard, m.
        freeboard: f64,
        /// Straight side of the tank, m.
        tank: f64,
    },
    /// More hardness for the salt than salt can replace.
    #[error(
        "{found:.0} grains of hardness to the pound of salt is more than the {most:.0} that chemistry allows. One of run, hardness, salt or volume is wrong: --volume-between-regenerations, --feed-hardness, --salt-per-regeneration"
    )]
    BeyondSalt {
        /// As worked out, gr/lb.
        found: f64,
        /// The stoichiometric limit, gr/lb.
        most: f64,
    },
    /// More taken up than the resin has sites.
    #[error(
        "{what} would put {found:.2} eq on each litre of resin, and new resin of its class holds {most:.2} in all. One of the figures is wrong, or the claim is"
    )]
    BeyondSites {
        /// Which figure.
        what: String,
        /// As worked out, eq/L.
        found: f64,
        /// Total capacity of new resin, eq/L.
        most: f64,
    },
    /// A salt dose that the curve does not reach.
    #[error(
        "the curve of operating capacity begins at {low:.0} g/L ({pounds:.1} lb/ft³); {dose:.0} g/L is below it. Give --salt-dose, or a curve of your own with --settings"
    )]
    DoseBelowCurve {
        /// As found, g/L.
        dose: f64,
        /// Where the curve begins, g/L.
        low: f64,
        /// Where the curve begins, lb/ft³.
        pounds: f64,
    },
    /// No curve of this name, or none for the class.
    #[error("there is no curve of operating capacity called {found}; there are {known}")]
    NoCurve {
        /// As asked for.
        found: String,
        /// Those that there are.
        known: String,
    },
    /// No recipe of this name for this bed.
    #[error("there is no work order called {found} for this bed; there are {known}")]
    NoRecipe {
        /// As asked for.
        found: String,
        /// Those that there are.
        known: String,
    },
}
