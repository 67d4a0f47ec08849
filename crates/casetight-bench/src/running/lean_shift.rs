//! What a leak does to the mixture at a load, with the interval that leak and assumptions leave.

use uom::si::mass::kilogram;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::volume::cubic_meter;

use super::case_pressure::{CasePressure, Surroundings};
use super::conditions::{Conditions, Load};
use super::error::RunningError;
use super::numbers::{Numbers, variants};
use casetight::estimate::Estimate;
use casetight::gas::{Gas, GasState};
use casetight::leak::LeakLaw;
use casetight::quantity::{Angle, Mass};
use casetight::volume::Engine;

/// Below this rise of lambda a shift looks like nothing, and [`SMALL_IS_NOT_HARMLESS`] belongs beside it: one percent.
pub const SMALL_SHIFT: f64 = 0.01;

/// What belongs beside a shift of less than [`SMALL_SHIFT`]. Source: common practice, no publication.
pub const SMALL_IS_NOT_HARMLESS: &str = "Leaner by less than a percent does not make the leak harmless: a lip seal that leaks a \
     little when it stands may leak more when it turns and is warm, and no bench test at standstill shows that (no source). \
     Loosen no limit on the word of this estimate";

/// A leak as it was measured: best, least and largest, of any law; no largest where the test gave a lower bound only.
#[derive(Debug, Clone, Copy)]
pub struct LeakRange<'l> {
    /// Best estimate.
    pub law: &'l dyn LeakLaw,
    /// Lower end.
    pub low: &'l dyn LeakLaw,
    /// Upper end.
    pub high: Option<&'l dyn LeakLaw>,
    /// Confidence level of the ends, 0.95 for 95 %.
    pub level: f64,
}

/// What an assumption adds to the interval of the lean shift.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
pub struct Share {
    /// Which.
    pub from: &'static str,
    /// By how much its range lowers the shift.
    pub down: f64,
    /// By how much it raises it; none where nothing bounds it.
    pub up: Option<f64>,
}

/// The estimate for one load.
#[derive(Debug, Clone, PartialEq)]
pub struct LeanShift {
    /// The load.
    pub load: Load,
    /// Pressure over the turn, at best values.
    pub pressure: CasePressure,
    /// Air that the carburetor gives a turn \[kg\].
    pub delivered_kg: f64,
    /// Air that leaks in a turn, by the leak's interval alone.
    pub leaked_in: Estimate<Mass>,
    /// Mixture that leaks out a turn, by the leak's interval alone.
    pub leaked_out: Estimate<Mass>,
    /// Relative rise of lambda, and so of the air/fuel ratio: leaked air over delivered air, an estimate.
    pub shift: Estimate<f64>,
    /// What the interval of the shift comes from; the parts add in quadrature.
    pub shares: Vec<Share>,
}

impl LeanShift {
    /// Whether the shift is so small that [`SMALL_IS_NOT_HARMLESS`] belongs beside it.
    #[must_use]
    pub fn is_small(&self) -> bool {
        self.shift.value < SMALL_SHIFT
    }

    /// Estimate of what a leak does to the mixture at a load.
    ///
    /// The shift is m(in)/m(delivered), with the leak for air that goes in (that of a vacuum test) and the one for mixture
    /// that goes out (of a pressure test). Its interval: the leak's own, and the ranges of port timing, delivery ratio,
    /// exponent and case volume, each varied alone to the ends of its range (95 % for a normal one), in quadrature; and
    /// upward what it would be if the leaked air took the place of delivered air, m/(1 - m). With no leak found, the
    /// upper end's half stands for the size that the assumptions act on.
    ///
    /// # Errors
    /// [`RunningError`] names what is not valid.
    pub fn new(
        engine: &Engine,
        conditions: &Conditions,
        load: &Load,
        (inward, outward): (&LeakRange<'_>, &LeakRange<'_>),
        (ambient, gas): (GasState, &Gas),
    ) -> Result<Self, RunningError> {
        let speed = load.check()?;
        let surroundings = Surroundings { ambient, gas };
        let bottom = engine.at(Angle::HALF_TURN)?.case_side;
        let numbers = Numbers::best(conditions, load, bottom.value().get::<cubic_meter>());
        let pressure = CasePressure::from_numbers(engine, &numbers, ambient.pressure)?;
        let density = gas.density(ambient).get::<kilogram_per_cubic_meter>();
        let delivered_kg = pressure.delivered * density;

        let (into, out) = leaked(&pressure, (inward, outward), &surroundings, speed)?;
        let shift = into.value / delivered_kg;
        let high = inward.high.map(|_| into.high / delivered_kg);
        let mut shares = vec![Share {
            from: "the leak",
            down: (shift - into.low / delivered_kg).max(0.0),
            up: high.map(|high| (high - shift).max(0.0)),
        }];
        // What the assumptions act on: where the best leak is none, its upper end tells their relative weight.
        let size = shift.max(0.5 * high.unwrap_or(shift));
        let probe = if into.value > 0.0 {
            inward.law
        } else {
            inward.high.unwrap_or(inward.law)
        };
        let relative = |numbers: &Numbers| -> Result<f64, RunningError> {
            let pressure = CasePressure::from_numbers(engine, numbers, ambient.pressure)?;
            let (into, _) = pressure.mean_flows(probe, outward.law, &surroundings)?;
            Ok(into / pressure.delivered)
        };
        let best = relative(&numbers)?;
        for (from, ends) in variants(conditions, load, &bottom, &numbers) {
            shares.push(Share::of_range(from, ends, (size, best), &relative)?);
        }
        shares.push(Share {
            from: "leaked air that takes the place of delivered air",
            down: 0.0,
            up: (size < 1.0).then(|| size * size / (1.0 - size)),
        });
        let (down, up) = in_quadrature(&shares);
        Ok(Self {
            load: load.clone(),
            pressure,
            delivered_kg,
            leaked_in: into.map(Mass::new::<kilogram>),
            leaked_out: out.map(Mass::new::<kilogram>),
            shift: Estimate::of_size(
                shift,
                shift - down,
                up.map_or(f64::INFINITY, |up| shift + up),
                inward.level,
            ),
            shares,
        })
    }
}

impl Share {
    /// Of an assumption that is varied to the ends of its range: `relative` is the leak over the delivered air that numbers give,
    /// `best` what it is at the best ones, and the shift is of this size.
    fn of_range(
        from: &'static str,
        ends: [Numbers; 2],
        (size, best): (f64, f64),
        relative: &dyn Fn(&Numbers) -> Result<f64, RunningError>,
    ) -> Result<Self, RunningError> {
        let mut share = Self {
            from,
            down: 0.0,
            up: Some(0.0),
        };
        if best > 0.0 {
            for end in ends {
                let change = size * (relative(&end)? / best - 1.0);
                share.down = share.down.max(-change);
                share.up = share.up.map(|up| up.max(change));
            }
        }
        Ok(share)
    }
}

/// Air that leaks in and mixture that leaks out a turn \[kg\], by the leak's interval alone.
fn leaked(
    pressure: &CasePressure,
    (inward, outward): (&LeakRange<'_>, &LeakRange<'_>),
    surroundings: &Surroundings<'_>,
    speed: f64,
) -> Result<(Estimate<f64>, Estimate<f64>), RunningError> {
    let turn = |inward, outward| {
        let (into, out) = pressure.mean_flows(inward, outward, surroundings)?;
        Ok::<_, RunningError>((into / speed, out / speed))
    };
    let (into, out) = turn(inward.law, outward.law)?;
    let (into_low, out_low) = turn(inward.low, outward.low)?;
    let into_high = inward.high.map(|law| turn(law, outward.law)).transpose()?;
    let out_high = outward.high.map(|law| turn(inward.law, law)).transpose()?;
    let open = f64::INFINITY;
    let into_high = into_high.map_or(open, |(into, _)| into);
    let out_high = out_high.map_or(open, |(_, out)| out);
    Ok((
        Estimate::of_size(into, into_low, into_high, inward.level),
        Estimate::of_size(out, out_low, out_high, outward.level),
    ))
}

/// All shares together, downward and upward.
fn in_quadrature(shares: &[Share]) -> (f64, Option<f64>) {
    let down = shares.iter().map(|s| s.down * s.down).sum::<f64>().sqrt();
    let up = shares
        .iter()
        .map(|s| s.up.map(|up| up * up))
        .sum::<Option<f64>>()
        .map(f64::sqrt);
    (down, up)
}
