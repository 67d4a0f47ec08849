//! Laminar flow through a long narrow passage: capillary and slot.

use std::f64::consts::PI;

use uom::si::mass_rate::kilogram_per_second;

use super::{
    FlowKind, LeakError, LeakLaw, RangeNote, Regime, check_divisor, check_length, knudsen_number,
    slip_note,
};
use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, Length, MassRate};

/// Flow in a pipe is laminar below this Reynolds number (on the hydraulic diameter). Source: from memory.
const TRANSITION: f64 = 2300.0;

/// Inertia counts for little below this Mach number. Source: common practice.
const SLOW: f64 = 0.3;

/// A slot at least this many times as wide as its gap loses at most 6 % to its end walls (0.63 gap/width).
const WIDE: f64 = 10.0;

/// A passage that friction rules.
///
/// `mdot = g (p_u^2 - p_d^2)/(2 mu R T)`: Poiseuille's flow g dp/mu by volume, counted at the mean of the two pressures; the
/// gas keeps its temperature on the way.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Channel {
    /// g \[m3\].
    shape: f64,
    /// Cross-section \[m2\].
    area: f64,
    /// Four times the cross-section over its edge \[m\].
    hydraulic_diameter: f64,
    /// What the mean free path is compared with \[m\].
    width: f64,
    length: f64,
    /// Length that the profile needs to settle, in hydraulic diameters, for each unit of the Reynolds number.
    settling: f64,
}

impl Channel {
    fn flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> f64 {
        let (p_u, p_d) = (upstream.pressure.pascals(), downstream.pascals());
        if p_d >= p_u {
            return 0.0;
        }
        let t = upstream.kelvins();
        gas.pascal_seconds(t).map_or(f64::NAN, |mu| {
            self.shape * (p_u - p_d) * (p_u + p_d) / (2.0 * mu * gas.specific_gas_constant() * t)
        })
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        MassRate::new::<kilogram_per_second>(self.flow(gas, upstream, downstream))
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        let (p_u, p_d) = (upstream.pressure.pascals(), downstream.pascals());
        let t = upstream.kelvins();
        let mut out_of_range = Vec::new();
        let mut numbers = None;
        if let Some(mu) = gas.pascal_seconds(t) {
            if self.area > 0.0 {
                let flux = self.flow(gas, upstream, downstream) / self.area;
                let reynolds = flux * self.hydraulic_diameter / mu;
                // The gas is fastest where it is thinnest, at the end.
                let mach =
                    flux * gas.specific_gas_constant() * t / (p_d.min(p_u) * gas.speed_of_sound(t));
                numbers = Some((reynolds, mach));
            }
        } else {
            out_of_range.push(RangeNote::ViscosityUnknown { gas: gas.name() });
        }
        if let Some((reynolds, mach)) = numbers {
            if reynolds > TRANSITION {
                out_of_range.push(RangeNote::Turbulent {
                    reynolds,
                    limit: TRANSITION,
                });
            }
            if mach > SLOW {
                out_of_range.push(RangeNote::Fast { mach, limit: SLOW });
            }
            let entrance = self.settling * reynolds * self.hydraulic_diameter;
            if entrance > self.length {
                out_of_range.push(RangeNote::Entrance {
                    entrance,
                    length: self.length,
                });
            }
        }
        let knudsen = knudsen_number(gas, upstream, downstream, self.width);
        out_of_range.extend(slip_note(knudsen));
        Regime {
            kind: FlowKind::Subsonic,
            pressure_ratio: p_d / p_u,
            reynolds: numbers.map(|(reynolds, _)| reynolds),
            mach: numbers.map(|(_, mach)| mach),
            knudsen,
            out_of_range,
        }
    }
}

/// A round capillary of diameter d and length L with laminar flow.
///
/// `mdot = pi d^4 (p_u^2 - p_d^2)/(256 mu L R T_u)`, with the gas's viscosity mu at `T_u`. In the terms of vacuum technology:
/// `q_pV = pi d^4/(256 mu L) (p_u^2 - p_d^2)`.
///
/// Valid for an isothermal ideal gas at a Reynolds number below 2300, a Mach number at the end below 0.3, a Knudsen number
/// below 0.01, and a length beyond 0.06 Re d, in which the profile settles; [`LeakLaw::regime`] tells.
///
/// Source: `[EN1779]` for the kind of flow; the equation is derived from Poiseuille's law.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{Capillary, LeakLaw};
/// use casetight::quantity::{AbsolutePressure, Length, ThermodynamicTemperature};
/// use uom::si::{length::millimeter, mass_rate::milligram_per_second, thermodynamic_temperature::degree_celsius};
///
/// // 0.1 mm wide and 10 mm long, from 2 bar to 1 bar absolute.
/// let scratch = Capillary::new(Length::new::<millimeter>(0.1), Length::new::<millimeter>(10.0))?;
/// let upstream = GasState {
///     pressure: AbsolutePressure::from_pascals(200e3)?,
///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
/// };
/// let downstream = AbsolutePressure::from_pascals(100e3)?;
/// let flow = scratch.mass_flow(&Gas::dry_air(), upstream, downstream);
/// assert!((flow.get::<milligram_per_second>() - 2.405).abs() < 1e-3);
/// // It is as fast as to be out of the law's range.
/// assert!(!scratch.regime(&Gas::dry_air(), upstream, downstream).out_of_range.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capillary {
    channel: Channel,
}

impl Capillary {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "capillary";

    /// A capillary of diameter d and length L.
    ///
    /// # Errors
    /// [`LeakError::Dimension`] unless d is finite and at least zero and L finite and above zero.
    pub fn new(diameter: Length, length: Length) -> Result<Self, LeakError> {
        let d = check_length("capillary diameter", diameter)?;
        let length = check_divisor("capillary length", length)?;
        Ok(Self {
            channel: Channel {
                shape: PI * d.powi(4) / (128.0 * length),
                area: PI * d * d / 4.0,
                hydraulic_diameter: d,
                width: d,
                length,
                // From memory: textbooks give 0.05 to 0.06.
                settling: 0.06,
            },
        })
    }
}

impl LeakLaw for Capillary {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        self.channel.mass_flow(gas, upstream, downstream)
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        self.channel.regime(gas, upstream, downstream)
    }
}

/// A slot of width w (along the joint), gap h and length L (in the direction of flow) with laminar flow.
///
/// `mdot = w h^3 (p_u^2 - p_d^2)/(24 mu L R T_u)`, with the gas's viscosity mu at `T_u`.
///
/// Valid as [`Capillary`] is, on the hydraulic diameter 2 w h/(w + h), the Knudsen number on the gap, a length beyond
/// 0.011 Re times that diameter, and a width of ten gaps or more.
///
/// Source: `[EN1779]` for the kind of flow; the equation is derived from Poiseuille's law.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{EffectiveArea, Slot};
/// use casetight::quantity::{AbsolutePressure, Length, ThermodynamicTemperature};
/// use uom::si::{length::{micrometer, millimeter}, thermodynamic_temperature::degree_celsius};
///
/// // A gasket that lifts by 10 um over 20 mm of a face 8 mm wide, at 7 psi.
/// let joint = Slot::new(
///     Length::new::<millimeter>(20.0),
///     Length::new::<micrometer>(10.0),
///     Length::new::<millimeter>(8.0),
/// )?;
/// let inside = GasState {
///     pressure: AbsolutePressure::from_pascals(149_588.0)?,
///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
/// };
/// let ambient = AbsolutePressure::from_pascals(101_325.0)?;
/// let area = EffectiveArea::passing(&joint, &Gas::dry_air(), inside, ambient)?;
/// // It passes as much as a sharp hole of 0.07 mm.
/// assert!((area.diameter(0.62)?.get::<millimeter>() - 0.071_05).abs() < 1e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slot {
    channel: Channel,
    /// Width over gap; none where the gap is closed.
    aspect: Option<f64>,
}

impl Slot {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "slot";

    /// A slot of width w, gap h and length L.
    ///
    /// # Errors
    /// [`LeakError::Dimension`] unless w and h are finite and at least zero and L is finite and above zero.
    pub fn new(width: Length, gap: Length, length: Length) -> Result<Self, LeakError> {
        let w = check_length("slot width", width)?;
        let h = check_length("slot gap", gap)?;
        let length = check_divisor("slot length", length)?;
        Ok(Self {
            channel: Channel {
                shape: w * h.powi(3) / (12.0 * length),
                area: w * h,
                hydraulic_diameter: if w + h > 0.0 {
                    2.0 * w * h / (w + h)
                } else {
                    0.0
                },
                width: h,
                length,
                // From memory: tables of laminar flow in ducts.
                settling: 0.011,
            },
            aspect: (h > 0.0).then(|| w / h),
        })
    }
}

impl LeakLaw for Slot {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        self.channel.mass_flow(gas, upstream, downstream)
    }

    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        let mut regime = self.channel.regime(gas, upstream, downstream);
        if let Some(aspect) = self.aspect.filter(|aspect| *aspect < WIDE) {
            regime.out_of_range.push(RangeNote::EndWalls {
                aspect,
                limit: WIDE,
            });
        }
        regime
    }
}
