//! The forward model of the fit: any leak law that has a straightening coordinate, on a vessel whose gas exchanges heat
//! with its wall or has the wall's temperature, and all derivatives.

use super::direction::Direction;
use super::error::VesselError;
use super::laws::{AnyShape, DecayLaw, OrificeShape, with_shape};
use super::lumped::{Lumped, LumpedParameters};
use super::partials::ModelPartials;
use super::root::Roots;
use super::shape::Shape;
use crate::gas::Gas;

/// Smallest rate \[1/s\] at which the vessel is followed. To a smaller or negative one, to which readings of a tight case may
/// scatter, the pressure goes on from there along its slope.
const SMALLEST_RATE: f64 = 1e-8;

/// What a decay depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ModelParameters {
    /// Rate k = `CdA` sqrt(R T)/V \[1/s\] of the ideal orifice that passes the same flow at the start pressure.
    pub(crate) rate: f64,
    /// Start gauge pressure \[Pa\].
    pub(crate) start: f64,
    /// Ambient pressure \[Pa\].
    pub(crate) ambient: f64,
    /// Heat; none keeps the gas at the wall's temperature, which stays.
    pub(crate) heat: Option<HeatParameters>,
}

/// What the heat between gas and wall depends on, after [`LumpedParameters`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HeatParameters {
    /// ln(tau/s).
    pub(crate) ln_settling_time: f64,
    /// `T0/T_w` - 1.
    pub(crate) start_excess: f64,
    /// (`dT_w/dt`)/`T_w` \[1/s\].
    pub(crate) wall_drift: f64,
}

/// The model for one law, gas and direction.
#[derive(Debug, Clone, Copy)]
pub(crate) struct DecayModel {
    law: DecayLaw,
    shape: AnyShape,
    orifice: OrificeShape,
    direction: Direction,
    gas: Gas,
    roots: Roots,
}

impl DecayModel {
    pub(crate) fn new(law: DecayLaw, gas: &Gas, direction: Direction) -> Result<Self, VesselError> {
        Ok(Self {
            law,
            shape: AnyShape::new(law, gas, direction)?,
            orifice: OrificeShape::of_gas(gas, direction),
            direction,
            gas: *gas,
            roots: Roots::new(gas),
        })
    }

    /// The same for another law.
    pub(crate) fn with_law(&self, law: DecayLaw) -> Result<Self, VesselError> {
        let shape = if law == DecayLaw::Orifice {
            AnyShape::Orifice(self.orifice)
        } else {
            AnyShape::new(law, &self.gas, self.direction)?
        };
        Ok(Self {
            law,
            shape,
            ..*self
        })
    }

    pub(crate) fn law(&self) -> DecayLaw {
        self.law
    }

    pub(crate) fn direction(&self) -> Direction {
        self.direction
    }

    /// The law's shape, with its straightening coordinate.
    pub(crate) fn shape(&self) -> &AnyShape {
        &self.shape
    }

    /// The power of the gas's temperature that the fall goes with: what goes out takes the less mass the warmer the gas is, by the law's
    /// exponent, and each bit of mass has the pressure of its temperature.
    pub(crate) fn hastens(&self) -> f64 {
        fn exponent<S: Shape>(_: &S) -> f64 {
            S::TEMPERATURE_EXPONENT
        }
        match self.direction {
            Direction::Pressure => 1.0 - with_shape!(&self.shape, shape => exponent(shape)),
            Direction::Vacuum => 1.0,
        }
    }

    /// The rate of the orifice with the same flow at y, over the law's own rate, and its logarithm's derivative by y.
    pub(crate) fn orifice_over_own(&self, y: f64) -> (f64, f64) {
        if self.law == DecayLaw::Orifice {
            return (1.0, 0.0);
        }
        let root = self.roots.at(self.roots.of(y));
        let (flow, by_w) = with_shape!(&self.shape, shape => shape.heated(&root));
        let (orifice, orifice_by_w) = self.orifice.heated(&root);
        let ln_by_w = by_w / flow - orifice_by_w / orifice;
        (flow / orifice, ln_by_w / root.p_by_w)
    }

    /// Gauge pressure and derivatives at times \[s\] that are not below zero and do not go back, into `out`. None where the
    /// parameters are not such as a decay has.
    pub(crate) fn follow(
        &self,
        parameters: &ModelParameters,
        times: &[f64],
        out: &mut Vec<ModelPartials>,
    ) -> Option<()> {
        out.clear();
        out.reserve(times.len());
        let (over, ln_slope) = self.orifice_over_own(parameters.start / parameters.ambient);
        let own = parameters.rate / over;
        match parameters.heat {
            None => {
                // By the law's own type: a call for each moment would cost as much as the form itself.
                let out = &mut *out;
                with_shape!(&self.shape, shape => isothermal(shape, own, parameters, times, out)?);
            }
            Some(heat) => self.heated(own, heat, parameters, times, out)?,
        }
        if self.law != DecayLaw::Orifice {
            // The own rate follows the start pressure, so that the flow there stays that of the orifice.
            for at in out {
                let by_ratio = -own * ln_slope * at.by_rate / parameters.ambient;
                at.by_start += by_ratio;
                at.by_ambient -= by_ratio * parameters.start / parameters.ambient;
                at.by_rate /= over;
            }
        }
        Some(())
    }

    /// The lumped vessel, with derivatives by the law's own rate.
    fn heated(
        &self,
        own: f64,
        heat: HeatParameters,
        parameters: &ModelParameters,
        times: &[f64],
        out: &mut Vec<ModelPartials>,
    ) -> Option<()> {
        let followed = LumpedParameters {
            rate: own.max(SMALLEST_RATE),
            start_gauge: parameters.start,
            ambient: parameters.ambient,
            ln_settling_time: heat.ln_settling_time,
            start_excess: heat.start_excess,
            wall_drift: heat.wall_drift,
        };
        let gamma = self.gas.heat_capacity_ratio();
        with_shape!(&self.shape, shape => {
            Lumped::new(self.roots, gamma, *shape).follow(&followed, times, out)?;
        });
        let beyond = own - followed.rate;
        for at in out {
            at.gauge += at.by_rate * beyond;
        }
        Some(())
    }
}

/// The closed form, with derivatives by the law's own rate.
fn isothermal(
    shape: &impl Shape,
    own: f64,
    parameters: &ModelParameters,
    times: &[f64],
    out: &mut Vec<ModelPartials>,
) -> Option<()> {
    let start = shape.start(parameters.start, parameters.ambient)?;
    out.extend(times.iter().map(|&time| {
        let at = shape.partials(own, &start, time);
        ModelPartials {
            gauge: at.gauge,
            by_rate: at.by_rate,
            by_start: at.by_start,
            by_ambient: at.by_ambient,
            by_time: at.by_time,
            ..ModelPartials::default()
        }
    }));
    Some(())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::gas::GasState;
    use crate::leak::{EffectiveArea, LeakLaw, PowerLaw, Slot, SonicConductanceLaw};
    use crate::quantity::{
        AbsolutePressure, GaugePressure, Length, Pressure, SonicConductance, ThermalConductance,
        ThermodynamicTemperature, Time, Volume, VolumeRate,
    };
    use crate::vessel::{ThermalVessel, rate_per_area};
    use uom::si::length::{micrometer, millimeter};
    use uom::si::pressure::pascal;
    use uom::si::thermal_conductance::watt_per_kelvin;
    use uom::si::thermodynamic_temperature::kelvin;
    use uom::si::time::second;
    use uom::si::volume::cubic_centimeter;
    use uom::si::volume_rate::cubic_meter_per_second;

    /// Largest difference of a derivative from its difference quotient, relative; the lumped vessel's own are right to some
    /// 5e-4, and a fit needs two digits.
    const SLOPE_AGREES: f64 = 3e-3;
    /// Largest difference from the library's integrator \[Pa\].
    const AGREES: f64 = 0.03;
    /// What leaving out the change of a slot's viscosity with the gas temperature may cost, of the start pressure; found:
    /// a thousandth.
    const VISCOSITY_LEFT_OUT: f64 = 2e-3;

    const LAWS: [DecayLaw; 4] = [
        DecayLaw::Orifice,
        DecayLaw::Sonic {
            critical_ratio: 0.3,
        },
        DecayLaw::Power { exponent: 0.75 },
        DecayLaw::Laminar,
    ];

    fn values(p: [f64; 6]) -> ModelParameters {
        ModelParameters {
            rate: p[0],
            start: p[1],
            ambient: p[2],
            heat: Some(HeatParameters {
                ln_settling_time: p[3],
                start_excess: p[4],
                wall_drift: p[5],
            }),
        }
    }

    fn by(at: &ModelPartials) -> [f64; 6] {
        [
            at.by_rate,
            at.by_start,
            at.by_ambient,
            at.by_ln_settling_time,
            at.by_start_excess,
            at.by_wall_drift,
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        /// Each derivative against the difference quotient.
        #[test]
        fn derivatives(
            law in 0..4_usize, kt in 0.02_f64..1.0, size in 0.15_f64..0.65, vacuum: bool,
            ln_tau in -1.5_f64..1.0, excess in -0.04_f64..0.04, drift in -3e-5_f64..3e-5, heated: bool,
        ) {
            let direction = if vacuum { Direction::Vacuum } else { Direction::Pressure };
            let model = DecayModel::new(LAWS[law], &Gas::dry_air(), direction).unwrap();
            let times = [0.0, 0.7, 5.0, 20.0];
            let p = [kt / 20.0, direction.sign() * size * 101_325.0, 101_325.0, ln_tau, excess, drift];
            let at = |p: [f64; 6], times: &[f64]| {
                let mut out = Vec::new();
                let mut given = values(p);
                if !heated { given.heat = None; }
                model.follow(&given, times, &mut out).unwrap();
                out
            };
            let here = at(p, &times);
            for (m, t) in here.iter().zip(times) {
                if m.gauge.abs() < 0.03 * p[1].abs() { continue; }
                let out = at(p, &[t, t + 1e-3, t + 2e-3]);
                // Second order at the left end.
                let want = (-3.0 * out[0].gauge + 4.0 * out[1].gauge - out[2].gauge) / 2e-3;
                let m = out[0];
                let scale = want.abs().max(100.0);
                prop_assert!((m.by_time - want).abs() < 2e-3 * scale, "at {t} s: {} {want}", m.by_time);
            }
            for j in 0..if heated { 6 } else { 3 } {
                let h = [1e-3 * p[0], 20.0, 20.0, 1e-2, 1e-4, 1e-6][j];
                let (mut low, mut high) = (p, p);
                low[j] -= h;
                high[j] += h;
                for (m, t) in here.iter().zip(times) {
                    if m.gauge.abs() < 0.03 * p[1].abs() { continue; }
                    // Where a step ends the difference has the step's own digits.
                    let want = (at(high, &[t])[0].gauge - at(low, &[t])[0].gauge) / (2.0 * h);
                    let got = by(m)[j];
                    let scale = want.abs().max([10.0 * 1e4, 0.01, 0.01, 100.0, 100.0, 1e4][j]);
                    prop_assert!((got - want).abs() < SLOPE_AGREES * scale, "{:?} {j} at {t} s: {got} {want}", LAWS[law]);
                }
            }
        }
    }

    /// Soon after the start, within a step that could grow, as good as where a step ends.
    #[test]
    fn a_slope_is_as_good_within_a_step_as_at_its_end() {
        let [_, sonic, ..] = LAWS;
        let model = DecayModel::new(sonic, &Gas::dry_air(), Direction::Pressure).unwrap();
        let given = values([0.021_57, 32_080.0, 101_325.0, 0.9326, -0.018_47, 0.0]);
        let slope_at = |time: f64, last: f64| {
            let mut out = Vec::new();
            model.follow(&given, &[time, last], &mut out).unwrap();
            out[0].by_wall_drift
        };
        for time in [0.4, 0.7, 1.0, 1.5] {
            let (within, at_end) = (slope_at(time, 20.0), slope_at(time, time));
            assert!(
                (within / at_end - 1.0).abs() < SLOPE_AGREES,
                "{time} s: {within} {at_end}"
            );
        }
    }

    /// Against the vessel's own equations for each law, solved by a library, for gas 14 K too warm that settles in a
    /// second, from pressures of both kinds, choked ones among them.
    #[test]
    fn each_law_on_a_vessel_that_settles() {
        let sonic = SonicConductanceLaw::new(
            SonicConductance::from_cubic_meters_per_second_pascal(2e-11).unwrap(),
            0.3,
        )
        .unwrap();
        let power = PowerLaw::new(
            VolumeRate::new::<cubic_meter_per_second>(2e-6),
            Pressure::new::<pascal>(48e3),
            0.75,
        )
        .unwrap();
        let slot = Slot::new(
            Length::new::<millimeter>(20.0),
            Length::new::<micrometer>(12.0),
            Length::new::<millimeter>(3.0),
        )
        .unwrap();
        for start in [48e3, 150e3, -48e3, -75e3] {
            let [_, of_sonic, of_power, of_slot] = LAWS;
            on_a_settling_vessel(&sonic, of_sonic, start, AGREES);
            on_a_settling_vessel(&power, of_power, start, AGREES);
            on_a_settling_vessel(&slot, of_slot, start, VISCOSITY_LEFT_OUT * start.abs());
        }
    }

    fn on_a_settling_vessel(leak: &dyn LeakLaw, law: DecayLaw, start: f64, bound: f64) {
        let gas = Gas::dry_air();
        let wall = ThermodynamicTemperature::new::<kelvin>(293.15);
        let ambient = GasState {
            pressure: AbsolutePressure::from_pascals(101_325.0).unwrap(),
            temperature: wall,
        };
        let volume = Volume::new::<cubic_centimeter>(250.0);
        let warm = start.signum() * 14.0;
        let start = GaugePressure::from_pascals(start).unwrap();
        // tau = 1 s: hA = p_a V/((gamma - 1) T).
        let conductance =
            ThermalConductance::new::<watt_per_kelvin>(101_325.0 * 250e-6 / (0.4 * 293.15));
        let vessel = ThermalVessel::new(leak, volume, start, ambient, &gas, conductance)
            .unwrap()
            .with_start_temperature(ThermodynamicTemperature::new::<kelvin>(293.15 + warm))
            .unwrap();
        let times: Vec<f64> = (0..24).map(|i| f64::from(i) * 1.5).collect();
        let moments: Vec<Time> = times.iter().map(|t| Time::new::<second>(*t)).collect();
        let want = vessel.states_by_the_library(&moments).unwrap();

        let direction = Direction::of(start).unwrap();
        let inside = GasState {
            pressure: start.absolute(ambient.pressure).unwrap(),
            ..ambient
        };
        let (up, down) = match direction {
            Direction::Pressure => (inside, ambient.pressure),
            Direction::Vacuum => (ambient, inside.pressure),
        };
        let area = EffectiveArea::passing(leak, &gas, up, down).unwrap();
        let model = DecayModel::new(law, &gas, direction).unwrap();
        let given = ModelParameters {
            rate: rate_per_area(volume, ambient, &gas).unwrap() * area.square_meters(),
            start: start.pascals(),
            ambient: 101_325.0,
            heat: Some(HeatParameters {
                ln_settling_time: 0.0,
                start_excess: warm / 293.15,
                wall_drift: 0.0,
            }),
        };
        let mut got = Vec::new();
        model.follow(&given, &times, &mut got).unwrap();
        for ((got, want), t) in got.iter().zip(&want).zip(&times) {
            let off = got.gauge - want.gauge.pascals();
            assert!(off.abs() < bound, "{law:?} from {start} at {t} s: {off} Pa");
        }
    }
}
