//! The fields of a house file, as they are written.

use crate::build::describe::{described, words};
use crate::build::hoses::NamedList;
use crate::build::scalars::{Count, Force, List, Q, Stress, Temperature, Text};
use crate::rules::Level;

words! {
    /// The level of a rule under a house.
    pub enum HouseLevel ("the level") {
        /// The rule is not asked; that is counted and said.
        Off = "off",
        /// Worth knowing.
        Note = "note",
        /// It will work, but not well or not for long.
        Warning = "warning",
        /// It will not work, or it will break something.
        Error = "error",
    }
}

impl HouseLevel {
    /// The level of a rule that is asked.
    pub fn level(self) -> Option<Level> {
        match self {
            Self::Off => None,
            Self::Note => Some(Level::Note),
            Self::Warning => Some(Level::Warning),
            Self::Error => Some(Level::Error),
        }
    }
}

described! {
    /// What a repository of builds decides for all of them: the file `tractwright.yaml` at its root.
    pub struct HouseTop ("a house file") {
        /// Version of this format.
        format = "format": Count,
        /// Which files count as builds when directories are looked through.
        builds = "builds": BuildsEntry,
        /// Levels of rules, each with its reason.
        levels = "levels": NamedList<LevelEntry>,
        /// Folders below the root that hold the house's own rules, as `FOLDER/FAMILY/ID.yaml`.
        rules = "rules": List<Text>,
        /// The names of those who may accept findings; with `none` nobody may, and left out anybody.
        who_may_accept = "who-may-accept": List<Text>,
        /// What materials stand, by name.
        materials = "materials": NamedList<MaterialEntry>,
        /// What clamps hold, by their kind.
        clamps = "clamps": NamedList<ClampEntry>,
    }

    /// Which files count as builds when directories are looked through, by their paths below the root; that is decided
    /// without opening them. Left out, a YAML file counts as a build when it has a `format` and parts, an engine or an
    /// air path.
    pub struct BuildsEntry ("what counts as a build") {
        /// Patterns of paths that count as builds, as `builds/**/*.yaml`; then no others do.
        include = "include": List<Text>,
        /// Patterns of paths that do not.
        exclude = "exclude": List<Text>,
    }

    /// A changed level.
    pub struct LevelEntry ("a changed level") {
        /// The level, or `off`.
        level = "level": HouseLevel,
        /// Why.
        because = "because": Text,
    }

    /// What a material stands.
    pub struct MaterialEntry ("a material") {
        /// The highest temperature it stands for good.
        temperature_rating = "temperature-rating": Q<Temperature> ["40 degC", "1200 degC"],
        /// Modulus of elasticity.
        modulus = "modulus": Q<Stress> ["0.5 MPa", "400 GPa"],
        /// Tensile strength.
        strength = "strength": Q<Stress> ["1 MPa", "2 GPa"],
        /// Where that comes from.
        source = "source": Text,
    }

    /// What a clamp holds before the coupler is pushed off, by the bead on the pipe.
    pub struct ClampEntry ("a clamp") {
        /// On a rolled bead.
        rolled = "rolled": Q<Force> ["10 N", "20 kN"],
        /// On a welded bead.
        welded = "welded": Q<Force> ["10 N", "20 kN"],
        /// Without a bead.
        without_bead = "without-bead": Q<Force> ["10 N", "20 kN"],
        /// Where that comes from.
        source = "source": Text,
    }
}
