//! The bare numbers of an estimate, checked, and each at the ends of its range.

use std::f64::consts::PI;

use uom::si::angle::radian;
use uom::si::ratio::ratio;
use uom::si::volume::cubic_meter;

use super::conditions::{Conditions, Load};
use super::error::RunningError;
use casetight::measured::{Distribution, Evaluation, Measured};
use casetight::quantity::{Angle, Ratio, Volume};

/// The highest exponent of a polytrope that is taken: somewhat above that of air without any loss of heat.
const MOST_EXPONENT: f64 = 1.7;

/// The highest delivery ratio that is taken.
const MOST_DELIVERY: f64 = 1.5;

/// Numbers that an estimate is made with; those with a range are varied one by one.
#[derive(Debug, Clone, Copy)]
pub(super) struct Numbers {
    pub(super) exhaust_opens: f64,
    pub(super) transfer_opens: f64,
    pub(super) intake_opens: f64,
    pub(super) intake_closes: f64,
    pub(super) delivery_ratio: f64,
    pub(super) exponent: f64,
    pub(super) bottom: f64,
}

impl Numbers {
    pub(super) fn best(conditions: &Conditions, load: &Load, bottom: f64) -> Self {
        let angle = |angle: &Measured<Angle>| angle.value().get::<radian>();
        let ports = &conditions.ports;
        Self {
            exhaust_opens: angle(&ports.exhaust_opens),
            transfer_opens: angle(&ports.transfer_opens),
            intake_opens: angle(&ports.intake_opens),
            intake_closes: angle(&ports.intake_closes),
            delivery_ratio: load.delivery_ratio.value().get::<ratio>(),
            exponent: conditions.polytropic_exponent.value().get::<ratio>(),
            bottom,
        }
    }

    pub(super) fn check(&self) -> Result<(), RunningError> {
        let in_order = self.intake_closes > 0.0
            && self.intake_opens > 0.0
            && self.intake_closes < self.transfer_opens
            && self.intake_opens < self.transfer_opens
            && self.exhaust_opens > 0.0
            && self.exhaust_opens < self.transfer_opens
            && self.transfer_opens < PI;
        if !in_order {
            return Err(RunningError::Ports {
                exhaust_opens: self.exhaust_opens.to_degrees(),
                transfer_opens: self.transfer_opens.to_degrees(),
                intake_opens: self.intake_opens.to_degrees(),
                intake_closes: self.intake_closes.to_degrees(),
            });
        }
        for (what, got, least, most) in [
            ("delivery ratio", self.delivery_ratio, 0.01, MOST_DELIVERY),
            ("polytropic exponent", self.exponent, 1.0, MOST_EXPONENT),
        ] {
            // A range that just ends at a bound may end a rounding beyond it.
            let room = 1e-9 * most;
            if !(least - room..=most + room).contains(&got) {
                return Err(RunningError::Range {
                    what,
                    got,
                    least,
                    most,
                });
            }
        }
        Ok(())
    }
}

impl Conditions {
    /// Checks port timing, delivery ratios and exponent at their best values.
    ///
    /// # Errors
    /// [`RunningError::Ports`], [`RunningError::Range`], [`RunningError::Speed`].
    pub fn check(&self) -> Result<(), RunningError> {
        for load in [&self.idle, &self.full] {
            load.check()?;
            Numbers::best(self, load, 1.0).check()?;
        }
        Ok(())
    }
}

/// Half of a value's range in the SI unit: the half-width of its distribution, that of 95 % for a normal one.
fn half_range(standard_uncertainty: f64, evaluation: Evaluation) -> f64 {
    let distribution = match evaluation {
        Evaluation::TypeB(distribution) => distribution,
        Evaluation::TypeA | Evaluation::Combined => Distribution::Normal,
    };
    standard_uncertainty * distribution.half_width_divisor()
}

/// The numbers with one of them at either end of its range.
pub(super) fn variants(
    conditions: &Conditions,
    load: &Load,
    bottom: &Measured<Volume>,
    best: &Numbers,
) -> Vec<(&'static str, [Numbers; 2])> {
    let ports = &conditions.ports;
    let angle = |angle: &Measured<Angle>| {
        half_range(
            angle.standard_uncertainty().get::<radian>(),
            angle.evaluation(),
        )
    };
    let number = |number: &Measured<Ratio>| {
        half_range(
            number.standard_uncertainty().get::<ratio>(),
            number.evaluation(),
        )
    };
    let case = half_range(
        bottom.standard_uncertainty().get::<cubic_meter>(),
        bottom.evaluation(),
    );
    let both = |half: f64, set: fn(&mut Numbers, f64)| {
        [-half, half].map(|by| {
            let mut numbers = *best;
            set(&mut numbers, by);
            numbers
        })
    };
    vec![
        (
            "delivery ratio",
            both(number(&load.delivery_ratio), |n, by| n.delivery_ratio += by),
        ),
        (
            "polytropic exponent",
            both(number(&conditions.polytropic_exponent), |n, by| {
                n.exponent += by;
            }),
        ),
        (
            "opening of the transfers",
            both(angle(&ports.transfer_opens), |n, by| n.transfer_opens += by),
        ),
        (
            "opening of the intake",
            both(angle(&ports.intake_opens), |n, by| n.intake_opens += by),
        ),
        (
            "closing of the intake",
            both(angle(&ports.intake_closes), |n, by| n.intake_closes += by),
        ),
        ("volume of the case", both(case, |n, by| n.bottom += by)),
    ]
}
