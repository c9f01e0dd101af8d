//! What a rule can be asked of: the build, its parts, and the things derived from how they hang together.

use std::sync::Arc;

use crate::build::parts::PartKind;
use crate::text::Route;

/// Defines the kinds of subject: the word of each, and, of those that are parts, the kinds of part.
macro_rules! subject_kinds {
    ($( $(#[doc = $doc:literal])* $kind:ident = $word:literal $(: [$($part:ident),+])? $(is $other:ident)? , )*) => {
        /// Kinds of subject, by the word that a rule's `for-each` uses.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum SubjectKind {
            $( $(#[doc = $doc])* $kind, )*
        }

        impl SubjectKind {
            /// All kinds.
            pub const ALL: &'static [Self] = &[$(Self::$kind),*];

            /// Its word in rule files.
            pub fn word(self) -> &'static str {
                match self { $( Self::$kind => $word, )* }
            }

            /// The kinds of part that are such a subject; nothing for subjects that are no parts.
            pub fn part_kinds(self) -> Option<&'static [PartKind]> {
                match self { $( Self::$kind => subject_kinds!(@parts $([$($part),+])?), )* }
            }

            /// The kinds whose facts it has: its own, and those of a part where it is one.
            pub fn lineage(self) -> &'static [Self] {
                match self { $( Self::$kind => subject_kinds!(@lineage $kind $([$($part),+])? $($other)?), )* }
            }
        }
    };
    (@parts) => { None };
    (@parts [$($part:ident),+]) => { Some(&[$(PartKind::$part),+]) };
    (@lineage $kind:ident) => { &[Self::$kind] };
    (@lineage $kind:ident [$($part:ident),+]) => { &[Self::$kind, Self::Part] };
    (@lineage $kind:ident [$($part:ident),+] $other:ident) => { &[Self::$kind, Self::$other, Self::Part] };
}

subject_kinds! {
    /// The whole build.
    Build = "build",
    /// Any described part.
    Part = "part",
    /// The compressor of a turbocharger or supercharger; each stage, each branch.
    Compressor = "compressor": [Turbocharger, Supercharger],
    /// A part of kind `turbocharger`.
    Turbocharger = "turbocharger": [Turbocharger] is Compressor,
    /// A part of kind `supercharger`.
    Supercharger = "supercharger": [Supercharger] is Compressor,
    /// A part of kind `relief-valve`.
    ReliefValve = "relief-valve": [ReliefValve],
    /// A part of kind `air-filter`.
    AirFilter = "air-filter": [AirFilter],
    /// A part of kind `air-meter`.
    AirMeter = "air-meter": [AirMeter],
    /// A part of kind `pipe`.
    Pipe = "pipe": [Pipe],
    /// A part of kind `charge-air-cooler`.
    ChargeAirCooler = "charge-air-cooler": [ChargeAirCooler],
    /// A part of kind `throttle` or `carburettor`.
    Throttle = "throttle": [Throttle, Carburettor],
    /// A part of kind `wastegate`.
    Wastegate = "wastegate": [Wastegate],
    /// A part of kind `actuator`.
    Actuator = "actuator": [Actuator],
    /// A part of kind `boost-solenoid`.
    BoostSolenoid = "boost-solenoid": [BoostSolenoid],
    /// A part of kind `pressure-sensor`.
    PressureSensor = "pressure-sensor": [PressureSensor],
    /// A part of kind `temperature-sensor`.
    TemperatureSensor = "temperature-sensor": [TemperatureSensor],
    /// A part of kind `check-valve`.
    CheckValve = "check-valve": [CheckValve],
    /// A part of kind `injection-nozzle`.
    InjectionNozzle = "injection-nozzle": [InjectionNozzle],
    /// What draws air or vacuum from the tract: brake servo, breather, purge, idle air valve.
    Consumer = "consumer": [BrakeServo, Breather, PurgeValve, IdleAirValve],
    /// A part of kind `breather`.
    Breather = "breather": [Breather] is Consumer,
    /// A part of kind `brake-servo`.
    BrakeServo = "brake-servo": [BrakeServo] is Consumer,
    /// What compares a pressure of the tract: a pressure sensor, and a carburettor whose float chamber is vented into it.
    ReferencedPart = "referenced-part": [PressureSensor, Carburettor],
    /// A small-bore hose of `hoses`.
    Hose = "hose",
    /// Two neighbours of the air path.
    Joint = "joint",
    /// A place where something sits on a part: a tap, an end of a hose with its place, a return.
    Tap = "tap",
    /// A way to the open air other than the filter: a vent, an open end of a hose, a filter of its own.
    Opening = "opening",
    /// Branches of the air path side by side.
    Parallel = "parallel",
    /// Compressors one behind the other.
    Series = "series",
    /// An entry of `measurements`.
    Measurement = "measurement",
}

impl SubjectKind {
    /// The kind of this word.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|kind| kind.word() == word)
    }
}

/// One thing that a rule is asked of. Its identity is its kind and its route.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Subject {
    /// What it is.
    pub kind: SubjectKind,
    /// Where it stands in the description.
    pub route: Route,
    /// Its name as the description gives it ("relief", "turbo"); the build's is `build`.
    pub name: Arc<str>,
}
