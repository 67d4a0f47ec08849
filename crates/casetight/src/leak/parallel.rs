//! Several leaks side by side.

use super::{FlowKind, LeakLaw, Regime};
use crate::gas::{Gas, GasState};
use crate::quantity::{AbsolutePressure, MassRate};

/// Leaks in parallel between the same two pressures: their mass flows add. The leak of an engine and that of the rig, say.
///
/// ```
/// use casetight::gas::{Gas, GasState};
/// use casetight::leak::{Capillary, EffectiveArea, Orifice, Parallel};
/// use casetight::quantity::{AbsolutePressure, Length, ThermodynamicTemperature};
/// use uom::si::{length::millimeter, thermodynamic_temperature::degree_celsius};
///
/// let leak = Orifice::new(EffectiveArea::from_square_meters(5e-9)?);
/// let rig = Capillary::new(Length::new::<millimeter>(0.05), Length::new::<millimeter>(6.0))?;
/// let both = Parallel::new().and(leak).and(rig);
///
/// let inside = GasState {
///     pressure: AbsolutePressure::from_pascals(149_325.0)?,
///     temperature: ThermodynamicTemperature::new::<degree_celsius>(20.0),
/// };
/// let ambient = AbsolutePressure::from_pascals(101_325.0)?;
/// let area = EffectiveArea::passing(&both, &Gas::dry_air(), inside, ambient)?;
/// assert!((area.square_meters() - 5.300_5e-9).abs() < 1e-13);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Default)]
pub struct Parallel {
    parts: Vec<Box<dyn LeakLaw + Send + Sync>>,
}

impl Parallel {
    /// What [`LeakLaw::name`] gives.
    pub const NAME: &str = "parallel";

    /// No leak at all.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// One leak more.
    #[must_use]
    pub fn and(mut self, law: impl LeakLaw + Send + Sync + 'static) -> Self {
        self.parts.push(Box::new(law));
        self
    }

    /// The leaks, in the order that they were given in.
    pub fn parts(&self) -> impl Iterator<Item = &dyn LeakLaw> {
        self.parts.iter().map(|part| -> &dyn LeakLaw { &**part })
    }
}

impl LeakLaw for Parallel {
    fn name(&self) -> &'static str {
        Self::NAME
    }

    fn mass_flow(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> MassRate {
        self.parts
            .iter()
            .map(|part| part.mass_flow(gas, upstream, downstream))
            .sum()
    }

    /// Choked if every part is; the notes of all parts. Numbers belong to one passage: ask each of [`Parallel::parts`].
    fn regime(&self, gas: &Gas, upstream: GasState, downstream: AbsolutePressure) -> Regime {
        let regimes: Vec<Regime> = self
            .parts
            .iter()
            .map(|part| part.regime(gas, upstream, downstream))
            .collect();
        let choked = |regime: &Regime| regime.kind == FlowKind::Choked;
        Regime {
            kind: if !regimes.is_empty() && regimes.iter().all(choked) {
                FlowKind::Choked
            } else {
                FlowKind::Subsonic
            },
            pressure_ratio: downstream.pascals() / upstream.pressure.pascals(),
            reynolds: None,
            mach: None,
            knudsen: None,
            out_of_range: regimes
                .into_iter()
                .flat_map(|regime| regime.out_of_range)
                .collect(),
        }
    }
}
