//! What bubbles, or none, are worth.

use std::fmt;

use uom::si::area::square_meter;
use uom::si::length::meter;

use super::error::{IsolateError, area};
use super::site_name::SiteName;
use casetight::below::{KILOPASCAL, sides};
use casetight::constants::MOLAR_GAS_J_PER_MOL_K;
use casetight::leak::{EffectiveArea, LeakLaw, Orifice};
use casetight::quantity::{Area, GaugePressure, Length, Unit};
use casetight::readings::Bench;
use casetight::vessel::Direction;

/// The least flow that the liquid application technique shows under ideal conditions \[mol/s\], 1e-5 cm3/s of gas at 0 °C
/// and 101.325 kPa. Source: `[ASTME515]`; `[EN1593]` says that the technique finds a leak and does not measure it.
pub const LABORATORY_LIMIT_MOL_PER_S: f64 = 4.5e-10;

/// How much more must flow to be seen from a spray bottle on an oily case, watched for some seconds: about one bubble of
/// 1 mm a second. Known to a factor of three either way. Source: common practice.
pub const WORKSHOP_FACTOR: f64 = 100.0;

/// Surface tension of soap solution \[N/m\]. Source: from memory (25 to 35 mN/m).
pub const CAPILLARY_TENSION_N_PER_M: f64 = 0.03;

/// Gauge pressure that a test is usually sprayed at \[Pa\], 7 psi. Source: common practice.
pub const FULL_PRESSURE_PA: f64 = 48_263.0;

/// Discharge coefficient of the hole that a liquid has to be pushed out of (a thin sharp-edged hole).
const HOLE_DISCHARGE_COEFFICIENT: f64 = 0.62;

/// Where what can be seen is this much coarser than at full pressure, the case hides leaks.
const HIDES: f64 = 10.0;

/// Who looks for bubbles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Watcher {
    /// Clean parts, good light, patience: [`LABORATORY_LIMIT_MOL_PER_S`].
    Laboratory,
    /// A spray bottle at the bench: [`WORKSHOP_FACTOR`] times as much.
    Workshop,
}

/// The smallest leak that bubbles show at a pressure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Visible {
    /// Gauge pressure in the case.
    pub at: GaugePressure,
    /// Its flow is the least that can be seen.
    pub by_flow: EffectiveArea,
    /// A smaller round hole holds the liquid against the pressure.
    pub by_liquid: EffectiveArea,
}

impl Visible {
    /// The larger of both: a leak must do both to be seen.
    #[must_use]
    pub fn area(&self) -> EffectiveArea {
        if self.by_flow > self.by_liquid {
            self.by_flow
        } else {
            self.by_liquid
        }
    }
}

/// The smallest leak that bubbles show at the pressure that the case really reached.
///
/// By flow: `CdA = ndot R_m/(R flux)`, with the molar flow ndot that can be seen and the mass flux of the orifice at that
/// pressure. By liquid: the pressure must push the solution out of the hole, `d > 4 gamma/p_g` (Young and Laplace). At
/// 48 kPa both are a few micrometers, at 1 kPa the liquid alone closes a round hole of 0.12 mm: a big leak that
/// holds the needle down hides the others.
/// Valid for round holes; a slot of the same area holds the liquid longer. A jet that blows the film away makes no
/// bubbles either, but is heard.
///
/// # Errors
/// [`IsolateError::NoOverpressure`] unless the gauge pressure is above zero.
pub fn smallest_visible(
    bench: &Bench,
    reached: GaugePressure,
    watcher: Watcher,
) -> Result<Visible, IsolateError> {
    let gauge = reached.pascals();
    if gauge <= 0.0 {
        return Err(IsolateError::NoOverpressure { got: gauge });
    }
    let (upstream, downstream) = sides(reached, Direction::Pressure, bench.ambient())?;
    let one_square_meter = Orifice::new(area(1.0)?);
    let flux = one_square_meter
        .mass_flow(&bench.gas, upstream, downstream)
        .value;
    let factor = match watcher {
        Watcher::Laboratory => 1.0,
        Watcher::Workshop => WORKSHOP_FACTOR,
    };
    let kilograms_per_mol = MOLAR_GAS_J_PER_MOL_K.value() / bench.gas.specific_gas_constant();
    let diameter = Length::new::<meter>(4.0 * CAPILLARY_TENSION_N_PER_M / gauge);
    Ok(Visible {
        at: reached,
        by_flow: area(factor * LABORATORY_LIMIT_MOL_PER_S * kilograms_per_mol / flux)?,
        by_liquid: EffectiveArea::of_hole(diameter, HOLE_DISCHARGE_COEFFICIENT)
            .map_err(|_| IsolateError::NoOverpressure { got: gauge })?,
    })
}

/// What was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Sight {
    /// Bubbles that grew and came again.
    Bubbles,
    /// None, for as long as one looked.
    Dry,
}

/// A site that was sprayed.
///
/// Bubbles bound its area from below, by what the most patient watcher could just see: they say that it leaks and hardly
/// how much. None bound it from above, by what a watcher at the bench would have seen at the pressure that the case
/// really reached, known to a factor of three. As text, a sentence with that number.
///
/// ```
/// use casetight::gas::Gas;
/// use casetight::gauge::Gauge;
/// use casetight_bench::isolate::{Sight, Sprayed};
/// use casetight::measured::Measured;
/// use casetight::quantity::{AbsolutePressure, GaugePressure, Pressure, ThermodynamicTemperature, TradeUnits, Volume};
/// use casetight::readings::Bench;
///
/// let bench = Bench {
/// drift_allowance: casetight::quantity::TemperatureDrift::ZERO,
/// effects: casetight::readings::Effects::none(),
/// heat: casetight::vessel::Heat::default(),
///     volume: Measured::exact(Volume::parse("250 cm3")?)?,
///     ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
///     temperature: Measured::exact(ThermodynamicTemperature::parse("20 C")?)?,
///     gauge: Gauge::digital(Pressure::parse("100 Pa")?)?,
///     gas: Gas::dry_air(),
/// };
/// let dry = Sprayed::new("case seam", Sight::Dry, &bench, GaugePressure::parse("0.2 psi")?)?;
/// assert!(dry.hides_others());
/// assert!(dry.to_string().contains("A hole of up to 0.087 mm would not have bubbled"), "{dry}");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Sprayed<S> {
    site: S,
    after_repair: bool,
    sight: Sight,
    visible: Visible,
    at_full_pressure: Visible,
    /// Of the area, and what another pressure leaves in it, relative.
    bound: EffectiveArea,
    by_law: f64,
}

impl<S> Sprayed<S> {
    /// A site sprayed at a gauge pressure in the case, before any repair of it.
    ///
    /// # Errors
    /// [`IsolateError::NoOverpressure`] unless the pressure is above zero.
    pub fn new(
        site: S,
        sight: Sight,
        bench: &Bench,
        reached: GaugePressure,
    ) -> Result<Self, IsolateError> {
        let watcher = match sight {
            Sight::Bubbles => Watcher::Laboratory,
            Sight::Dry => Watcher::Workshop,
        };
        let full = GaugePressure::from_pascals(FULL_PRESSURE_PA)?;
        let visible = smallest_visible(bench, reached, watcher)?;
        Ok(Self {
            site,
            after_repair: false,
            sight,
            visible,
            at_full_pressure: smallest_visible(bench, full, watcher)?,
            bound: match sight {
                Sight::Bubbles => visible.by_flow,
                Sight::Dry => visible.area(),
            },
            by_law: 0.0,
        })
    }

    /// The same, sprayed after the site's repair.
    #[must_use]
    pub fn after_its_repair(mut self) -> Self {
        self.after_repair = true;
        self
    }

    /// The same with its bound where areas are told: so many times as large as at the pressure that it was sprayed at, known to a
    /// relative standard uncertainty.
    #[cfg(feature = "sheet")]
    pub(crate) fn moved(self, (factor, by_law): (f64, f64)) -> Result<Self, IsolateError> {
        let bound = area(factor * self.bound.square_meters())?;
        Ok(Self {
            bound,
            by_law,
            ..self
        })
    }

    /// The site.
    #[must_use]
    pub fn site(&self) -> &S {
        &self.site
    }

    /// Whether it had been repaired.
    #[must_use]
    pub fn is_after_repair(&self) -> bool {
        self.after_repair
    }

    /// What was seen.
    #[must_use]
    pub fn sight(&self) -> Sight {
        self.sight
    }

    /// The bound of the site's effective area: lower for bubbles, upper for none.
    #[must_use]
    pub fn bound(&self) -> EffectiveArea {
        self.bound
    }

    /// Standard uncertainty of the bound: as large as an upper one; a third of a lower one, so that a tight site that
    /// bubbles lies three of them off.
    #[must_use]
    pub fn uncertainty(&self) -> Area {
        let relative: f64 = match self.sight {
            Sight::Bubbles => 1.0 / 3.0,
            Sight::Dry => 1.0,
        };
        Area::new::<square_meter>(self.bound.square_meters() * relative.hypot(self.by_law))
    }

    /// Whether leaks stayed hidden that a full pressure would have shown: the pressure reached was too low.
    #[must_use]
    pub fn hides_others(&self) -> bool {
        self.sight == Sight::Dry
            && self.visible.area().square_meters()
                > HIDES * self.at_full_pressure.area().square_meters()
    }
}

/// Diameter \[mm\] of the round hole of an effective area.
fn millimeters(area: EffectiveArea) -> f64 {
    area.diameter(HOLE_DISCHARGE_COEFFICIENT)
        .map_or(f64::NAN, |d| 1e3 * d.get::<meter>())
}

/// Digits of a pressure.
const DIGITS: usize = 2;

/// A number to about two digits, without an exponent.
fn short(value: f64) -> String {
    let decimals = (1.0 - value.log10().floor()).clamp(0.0, 6.0);
    // Between 0 and 6.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let text = format!("{value:.0$}", decimals as usize);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

impl<S: SiteName> fmt::Display for Sprayed<S> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words(&KILOPASCAL))
    }
}

impl<S: SiteName> Sprayed<S> {
    /// What was seen, in a sentence with its pressures in a unit.
    #[must_use]
    pub fn words(&self, unit: &Unit) -> String {
        let at = unit.shown(self.visible.at.pascals(), DIGITS);
        let site = &self.site;
        match self.sight {
            Sight::Bubbles => {
                format!("Bubbles at the {site} at {at}: it leaks. How much, soap does not say")
            }
            Sight::Dry if self.hides_others() => format!(
                "No bubbles at the {site}, but only {at} was reached, so that says little. A hole of up to {} mm \
                 would not have bubbled; at {} one of {} mm would. Stop the big leak first, then spray again",
                short(millimeters(self.visible.area())),
                unit.shown(FULL_PRESSURE_PA, DIGITS),
                short(millimeters(self.at_full_pressure.area())),
            ),
            Sight::Dry => format!(
                "No bubbles at the {site} at {at}: a hole of more than about {} mm would have shown",
                short(millimeters(self.visible.area())),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short() {
        for (value, text) in [
            (0.0864, "0.086"),
            (1.379, "1.4"),
            (48.26, "48"),
            (120.4, "120"),
            (2.0, "2"),
        ] {
            assert_eq!(short(value), text);
        }
    }
}
