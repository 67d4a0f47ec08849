//! The usual cautions of a pressure or vacuum test: shown wherever a pressure, a vacuum, a solvent, a fuel or a repair is
//! proposed. They do not replace the engine maker's manual, local codes or a qualified person.

use uom::si::pressure::pascal;

use crate::quantity::Pressure;

/// Gauge pressure above which a crankcase test is not proposed, 70 kPa (10 psi; common practice, no source): lip seals can
/// be pushed out of their seats and blanks can fly. An engine maker's manual may state less.
#[must_use]
pub fn pressure_limit() -> Pressure {
    Pressure::new::<pascal>(70e3)
}

/// Before any pressure or vacuum is put on an engine.
pub const BEFORE_PUMPING: &[&str] = &[
    "Ignition off, plug lead grounded, engine cold, fuel drained and vapors cleared: ventilate.",
    "Eye protection on. Low regulated pressure or a hand pump only, never a shop air line.",
    "Blanks can fly: fasten them, stand aside. The crank can turn under pressure: keep fingers clear.",
    "The engine maker's manual, local codes and qualified people come before anything said here.",
];

/// The same where there is room for little.
pub const BEFORE_PUMPING_IN_SHORT: &str = "ignition off, plug lead grounded, cold engine, no fuel or vapors; eye protection, low regulated \
     pressure. Blanks fly, the crank turns: keep clear. The maker's manual, local codes and qualified people come first.";

/// Before soap, solvent or a repair.
pub const BEFORE_SPRAYING: &[&str] = &[
    "Soap or solvent only on a cold engine, away from ignition sources, with ventilation and eye protection; release the pressure before loosening anything.",
];

/// The same where there is room for little.
pub const BEFORE_SPRAYING_IN_SHORT: &str = "cold engine, no ignition source, ventilation, eye protection; release the pressure before loosening anything.";

/// Before a case is filled with a liquid to be weighed.
pub const BEFORE_FILLING: &[&str] = &[
    "Never fuel as the liquid: light oil, plug and ignition off, engine cold. Drain every drop and dry the case before it runs again; a crank that turns against liquid breaks.",
];
