//! Counted pump strokes: so much air of ambient pressure raised the needle by so much.

use super::error::{VolumeError, check_not_negative, check_positive, check_resolved};
use super::method::Method;
use super::settling::{Settling, settled};
use super::tested::TestedVolume;
use crate::measured::{Dual, DualNum, Input, Measured, propagate_slice};
use crate::numerics::probability;
use crate::quantity::{AbsolutePressure, GaugePressure, Ratio, Volume};

/// Readings that scatter about their line as much as this by chance, one time in a hundred, are widened to fit it.
const SCATTER_PROBABILITY: f64 = 0.01;

/// Below this the two functions are taken from their series, whose first term left out is then below 1e-18.
const SERIES_BELOW: f64 = 1e-3;

/// The settled reading after so many strokes from ambient.
#[derive(Debug, Clone, PartialEq)]
pub struct StrokeReading {
    /// Strokes since the case was at ambient pressure.
    pub strokes: u32,
    /// Gauge reading, gas settled.
    pub reading: Measured<GaugePressure>,
}

/// A hand pump and what the gauge showed after counted strokes.
#[derive(Debug, Clone, PartialEq)]
pub struct Strokes {
    /// Volume that the pump's piston sweeps in one stroke.
    pub stroke_volume: Measured<Volume>,
    /// Share of it that the pump takes in and passes on (1 for a perfect pump; pumping up a bottle of known volume tells).
    pub delivery: Measured<Ratio>,
    /// Volume left between the pump's piston and its valve at the end of a stroke: what it holds never arrives. Zero if the
    /// delivery allows for it.
    pub dead_space: Measured<Volume>,
    /// One reading, or several of one pumping up, which are laid on a line.
    pub readings: Vec<StrokeReading>,
    /// What the gauge shows when it is open to the air: the zero error that all readings share.
    pub zero: Measured<GaugePressure>,
    /// Ambient pressure.
    pub ambient: Measured<AbsolutePressure>,
    /// How well the gas had settled at the readings.
    pub settling: Settling,
}

/// `-ln(1 - x)/x`, smooth through zero.
fn log_ratio(x: Dual) -> Dual {
    if x.re.abs() < SERIES_BELOW {
        ((((x / 6.0 + 0.2) * x + 0.25) * x + 1.0 / 3.0) * x + 0.5) * x + 1.0
    } else {
        -(-x).ln_1p() / x
    }
}

/// `(e^z - 1)/z`, smooth through zero.
fn exp_ratio(z: Dual) -> Dual {
    if z.re.abs() < SERIES_BELOW {
        ((((z / 720.0 + 1.0 / 120.0) * z + 1.0 / 24.0) * z + 1.0 / 6.0) * z + 0.5) * z + 1.0
    } else {
        z.exp_m1() / z
    }
}

/// The inputs that all readings share.
const SHARED: usize = 7;

/// What one reading says of the line: the share x of the highest pressure that the pump can reach, and the ordinate
/// `y = -ln(1 - x)/V_d = n ln(1 + V_d/V)/V_d`.
fn ordinate(shared: &[Dual; SHARED], reading: Dual) -> (Dual, Dual) {
    let &[stroke, delivery, dead, zero, ambient, temperature, excess] = shared;
    let rise = settled(reading - zero, ambient, temperature, excess);
    let per_volume = rise / (ambient * stroke * delivery);
    let x = per_volume * dead;
    (x, per_volume * log_ratio(x))
}

/// Slope of the line through the origin, all readings weighing the same.
fn slope(shared: &[Dual; SHARED], counts: &[f64], readings: &[Dual]) -> Dual {
    let squares: f64 = counts.iter().map(|n| n * n).sum();
    let mut sum = Dual::from(0.0);
    for (&n, &reading) in counts.iter().zip(readings) {
        sum += ordinate(shared, reading).1 * n;
    }
    sum / squares
}

fn volume(slope: Dual, dead: Dual) -> Dual {
    (slope * exp_ratio(slope * dead)).recip()
}

fn model(counts: &[f64], x: &[Dual]) -> Option<Dual> {
    let (shared, readings) = x.split_first_chunk::<SHARED>()?;
    let &[_, _, dead, ..] = shared;
    Some(volume(slope(shared, counts, readings), dead))
}

impl TestedVolume {
    /// The volume behind the pump's valve from counted strokes.
    ///
    /// For a pump without dead space `V = n V_s p_a/g`, with `V_s` what a stroke delivers at ambient pressure `p_a` and g the
    /// rise of the gauge. With a dead space `V_d` the stroke's gas is shared between it and V, so that
    /// `p_{k+1} (V + V_d) = p_k V + p_a (V_s + V_d)`: the pressure climbs ever slower towards `p_a (1 + V_s/V_d)`, and
    /// `-ln(1 - g V_d/(p_a V_s)) = n ln(1 + V_d/V)` is the straight line through the origin that several readings are laid on
    /// (least squares, each reading weighing the same). Readings that scatter about it more than their uncertainty explains
    /// (probability below 1 %) have that uncertainty widened by the Birge ratio. Delivery, stroke volume, ambient pressure and
    /// gauge zero are shared by all readings and no number of them averages these out.
    ///
    /// Source: derived from the gas law.
    ///
    /// # Errors
    /// [`VolumeError::NoStrokes`]; [`VolumeError::Input`] for a stroke volume or delivery not above zero;
    /// [`VolumeError::Negative`] for a dead space below zero; [`VolumeError::BeyondPump`];
    /// [`VolumeError::Unresolved`] where the needle's rise is not told from zero; [`VolumeError::NotPositive`] for a vacuum.
    ///
    /// ```
    /// use casetight::measured::{Distribution, Evaluation, Measured};
    /// use casetight::quantity::{
    ///     AbsolutePressure, GaugePressure, Pressure, Ratio, TemperatureInterval, ThermodynamicTemperature, Volume,
    /// };
    /// use casetight::volume::{Settling, StrokeReading, Strokes, TestedVolume};
    /// use uom::si::{pressure::pascal, ratio::ratio, volume::cubic_centimeter};
    /// use uom::si::{temperature_interval::kelvin, thermodynamic_temperature::degree_celsius};
    ///
    /// let normal = Evaluation::TypeB(Distribution::Normal);
    /// let pa = Pressure::new::<pascal>;
    /// let gauge = |value, u| GaugePressure::new(pa(value)).map(|reading| Measured::new(reading, pa(u), normal));
    /// let cm3 = |value, u| {
    ///     Measured::new(Volume::new::<cubic_centimeter>(value), Volume::new::<cubic_centimeter>(u), normal)
    /// };
    /// let strokes = Strokes {
    ///     stroke_volume: cm3(25.0, 0.3)?,
    ///     delivery: Measured::new(Ratio::new::<ratio>(0.95), Ratio::new::<ratio>(0.03), normal)?,
    ///     dead_space: cm3(0.0, 0.0)?,
    ///     readings: vec![StrokeReading { strokes: 5, reading: gauge(48_130.0, 300.0)?? }],
    ///     zero: gauge(0.0, 200.0)??,
    ///     ambient: Measured::exact(AbsolutePressure::from_pascals(101_325.0)?)?,
    ///     settling: Settling::within(
    ///         Measured::exact(ThermodynamicTemperature::new::<degree_celsius>(20.0))?,
    ///         TemperatureInterval::new::<kelvin>(0.5),
    ///     )?,
    /// };
    /// let tested = TestedVolume::from_strokes(&strokes)?;
    /// assert!((tested.volume().value().get::<cubic_centimeter>() - 250.0).abs() < 0.01);
    /// assert!((tested.volume().standard_uncertainty().get::<cubic_centimeter>() - 8.68).abs() < 0.01);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn from_strokes(strokes: &Strokes) -> Result<Self, VolumeError> {
        check_positive("stroke volume", &strokes.stroke_volume)?;
        check_positive("delivery", &strokes.delivery)?;
        check_not_negative("dead space", &strokes.dead_space)?;
        let readings = &strokes.readings;
        if readings.is_empty() || readings.iter().any(|reading| reading.strokes == 0) {
            return Err(VolumeError::NoStrokes);
        }
        let shared = strokes.shared_inputs();
        let widening = strokes.check(&shared)?;
        let counts: Vec<f64> = readings
            .iter()
            .map(|reading| f64::from(reading.strokes))
            .collect();
        let mut inputs = shared.to_vec();
        for StrokeReading { strokes, reading } in readings {
            let mut input = reading.input(format!("reading after {strokes} strokes"));
            input.standard_uncertainty *= widening;
            inputs.push(input);
        }
        let rises = propagate_slice(&inputs, None, |x| {
            let line = x
                .split_first_chunk::<SHARED>()
                .map(|(shared, readings)| slope(shared, &counts, readings));
            line.into_iter().collect()
        })?;
        check_resolved("rise of the needle (per volume)", &rises, 0)?;
        let joint = propagate_slice(&inputs, None, |x| model(&counts, x).into_iter().collect())?;
        Self::from_outputs(Method::PumpStrokes, &joint, None)
    }
}

impl Strokes {
    fn shared_inputs(&self) -> [Input; SHARED] {
        let [temperature, excess] = self.settling.inputs();
        [
            self.stroke_volume.input("stroke volume"),
            self.delivery.input("delivery"),
            self.dead_space.input("dead space"),
            self.zero.input("gauge zero"),
            self.ambient.input("ambient pressure"),
            temperature,
            excess,
        ]
    }

    /// That the pump can have reached each reading, and by what the readings' uncertainty has to be widened to explain how
    /// they scatter about their line.
    fn check(&self, shared: &[Input; SHARED]) -> Result<f64, VolumeError> {
        let shared = shared.each_ref().map(|input| Dual::from(input.value()));
        let &[stroke, delivery, dead, _, ambient, ..] = &shared;
        let reach = (ambient * stroke * delivery).re;
        let mut points = Vec::with_capacity(self.readings.len());
        for StrokeReading { strokes, reading } in &self.readings {
            let gauge = reading.value().pascals();
            let (x, y) = ordinate(&shared, Dual::from(gauge).derivative());
            if x.re >= 1.0 {
                return Err(VolumeError::BeyondPump {
                    strokes: *strokes,
                    gauge,
                    limit: reach / dead.re,
                });
            }
            let uncertainty = y.eps * reading.standard_uncertainty().value;
            points.push((f64::from(*strokes), y.re, uncertainty));
        }
        let squares: f64 = points.iter().map(|(n, ..)| n * n).sum();
        let slope = points.iter().map(|(n, y, _)| n * y).sum::<f64>() / squares;
        let freedom = points.len() as f64 - 1.0;
        let chi_squared: f64 = points
            .iter()
            .map(|(n, y, u)| ((y - n * slope) / u).powi(2))
            .sum();
        // Readings taken as exact have no scatter to compare with.
        let scattered = freedom > 0.0
            && chi_squared.is_finite()
            && probability::chi_squared_sf(chi_squared, freedom) < SCATTER_PROBABILITY;
        Ok(if scattered {
            (chi_squared / freedom).sqrt()
        } else {
            1.0
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::volume::bench::{agrees_with_monte_carlo, ambient, cm3, excess, gauge, number};
    use proptest::prelude::*;

    fn strokes() -> Strokes {
        Strokes {
            stroke_volume: cm3(25.0, 0.3),
            delivery: number(0.95, 0.02),
            dead_space: cm3(3.0, 0.4),
            readings: [(2, 17.9e3), (4, 34.4e3), (5, 42.1e3)]
                .map(|(strokes, pascals)| StrokeReading {
                    strokes,
                    reading: gauge(pascals, 300.0),
                })
                .to_vec(),
            zero: gauge(0.0, 150.0),
            ambient: ambient(101_325.0, 100.0),
            settling: excess(0.0, 0.3),
        }
    }

    #[test]
    fn first_order_agrees_with_monte_carlo() {
        let strokes = strokes();
        let tested = TestedVolume::from_strokes(&strokes).unwrap();
        let readings = strokes.readings.iter().map(|r| r.reading.input("reading"));
        let inputs: Vec<Input> = strokes
            .shared_inputs()
            .into_iter()
            .chain(readings)
            .collect();
        agrees_with_monte_carlo(&tested, &inputs, |x| model(&[2.0, 4.0, 5.0], x).unwrap());
    }

    #[test]
    fn scatter_beyond_the_readings_uncertainty_widens_it() {
        let clean = TestedVolume::from_strokes(&strokes()).unwrap();
        let mut scattered = strokes();
        scattered.readings[0].reading = gauge(19.9e3, 300.0);
        let scattered = TestedVolume::from_strokes(&scattered).unwrap();
        let part = |tested: &TestedVolume| tested.contributions().last().unwrap().uncertainty.abs();
        assert!(part(&scattered) > 3.0 * part(&clean));
        // A lone reading has no line to scatter about, an exact one nothing to compare with.
        let mut lone = strokes();
        lone.readings.truncate(1);
        assert!(TestedVolume::from_strokes(&lone).is_ok());
        let mut exact = strokes();
        exact.readings[0].reading = gauge(19.9e3, 0.0);
        assert!(TestedVolume::from_strokes(&exact).is_ok());
    }

    proptest! {
        #[test]
        fn series_and_closed_form_meet(x in 0.2..5.0_f64) {
            // Either side of the switch, value and derivative: the closed form in x loses about 1e-16/x there.
            let x = x * SERIES_BELOW;
            let dual = Dual::from(x).derivative();
            let log = |x: f64| -(-x).ln_1p() / x;
            let exp = |x: f64| x.exp_m1() / x;
            prop_assert!((log_ratio(dual).re - log(x)).abs() < 1e-12);
            prop_assert!((exp_ratio(dual).re - exp(x)).abs() < 1e-12);
            let slope = |f: &dyn Fn(f64) -> f64| (f(x + 1e-4) - f(x - 1e-4)) / 2e-4;
            prop_assert!((log_ratio(dual).eps - slope(&log)).abs() < 1e-6);
            prop_assert!((exp_ratio(dual).eps - slope(&exp)).abs() < 1e-6);
        }
    }
}
