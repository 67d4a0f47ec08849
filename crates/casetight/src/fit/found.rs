//! A fitted leak: its numbers, what they rest on, and what to know of them.

use super::laws::{LawWeight, are_of_one_kind, area_moved, merged};
use super::memory::Unshown;
use super::problem::SharedValues;
use super::scatter::{ACCEPTABLE_PROBABILITY, misfit};
use super::terms::{ByTemperature, Cause, Part, PartKind, Residual, Strain, Unsteady, part};
use crate::estimate::Estimate;
use crate::leak::Regime;
use crate::numerics::probability;
use crate::quantity::{Area, Frequency, GaugePressure, Time};
use crate::vessel::{DecayLaw, DecayModel, Direction, ModelPartials};

/// A rate that lies this many standard uncertainties below zero is not one that scatters.
pub(super) const RISING: f64 = 3.0;

/// What the readings show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Course {
    /// The needle fell towards zero, by more than noise can.
    Falls,
    /// The needle can't be told from one that stands still: the leak has an upper bound only.
    Stands,
    /// The needle moved away from zero by more than noise can: no leak does that; warming gas or a moving gauge does. It is the
    /// readings that say so, whatever the fit makes of them.
    Rises,
    /// The needle did not move away from zero, and what is known of heat and temperature would let it fall by more than it did: the best
    /// rate lies below zero by more than its uncertainty explains.
    Explained,
}

/// How the interval of the rate was got.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Method {
    /// The quadratic around the best fit.
    Quadratic,
    /// The profile of the likelihood.
    Profile,
    /// The probability of the rounded readings.
    Rounded,
    /// The time in which the needle had fallen to rest, a lower end only.
    Fallen,
}

/// Something the reader of a fit should know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FitNote {
    /// The readings scatter more about the fitted curve than the gauge explains; the interval is widened by this factor.
    Misfit {
        /// Chi-squared of the residuals.
        chi_squared: f64,
        /// Its degrees of freedom.
        degrees_of_freedom: usize,
        /// What the readings' part of the interval was multiplied by (the Birge ratio).
        widened_by: f64,
    },
    /// The scatter of one reading goes on in the next, or may: the interval is widened by this factor, beside that of a misfit.
    Correlated {
        /// The part that goes on.
        correlation: f64,
        /// What the readings' part of the interval was multiplied by.
        widened_by: f64,
    },
    /// The needle stood at rest from the second reading on: the leak has a lower bound only.
    Fallen,
    /// Readings that lie far off the curve and were given little weight.
    Outliers {
        /// How many.
        count: usize,
        /// Of how many.
        of: usize,
    },
    /// The readings were averaged in blocks of this many for the fit.
    Averaged {
        /// Readings a block.
        block: usize,
    },
}

/// A reading that the others contradict.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misread {
    /// Its place in the run, from one.
    pub row: usize,
    /// When it was read \[s\].
    pub time_s: f64,
    /// What was noted \[Pa\].
    pub reading_pa: f64,
    /// What the others have there \[Pa\].
    pub expected_pa: f64,
    /// Whether a moved decimal point explains it.
    pub decimal_point: bool,
}

/// The leak that another reading of the record tells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Otherwise {
    /// Place of the reading that is taken otherwise, from one.
    pub row: usize,
    /// What it is multiplied by; none where it is left out.
    pub times: Option<f64>,
    /// Gauge pressure that limits are converted at, as [`Fit::judged_from`].
    pub start: GaugePressure,
    /// Rate, as [`Fit::rate`].
    pub rate: Estimate<Frequency>,
    /// Effective area, as [`Fit::area`].
    pub area: Estimate<Area>,
}

/// A leak fitted to the readings of one run.
#[derive(Debug, Clone)]
pub struct Fit {
    /// Pressure or vacuum.
    pub direction: Direction,
    /// What the readings show.
    pub course: Course,
    /// The law, where the readings tell its kind from the others tried.
    pub law: Option<DecayLaw>,
    /// The laws tried that can't be dismissed, the likeliest first.
    pub laws: Vec<LawWeight>,
    /// Rate k = `CdA` sqrt(R T)/V of the ideal orifice with the same flow at the start pressure; its interval holds
    /// all but volume and temperature.
    pub rate: Estimate<Frequency>,
    /// Effective area `CdA`; its interval holds volume and temperature as well.
    pub area: Estimate<Area>,
    /// What the temperature does that was logged beside the readings, where it was.
    pub by_temperature: Option<ByTemperature>,
    /// The rig's own effective area at the start pressure, where it was subtracted ([`Fit::less`]).
    pub rig: Option<Estimate<Area>>,
    /// Gauge pressure at the first reading, fitted by the likeliest law.
    pub start: GaugePressure,
    /// Time in which gas of ambient pressure settles to the wall's temperature, `tau = m cv/(hA)`, by the likeliest law;
    /// none where it is known. What was known of it beforehand is in it.
    pub settling_time: Option<Estimate<Time>>,
    /// Where the area's interval comes from.
    pub parts: Vec<Part>,
    /// One for each reading.
    pub residuals: Vec<Residual>,
    /// Root mean square of reading less fit \[Pa\].
    pub residual_rms_pa: f64,
    /// Sum of the squared standardized residuals and of the shared terms.
    pub chi_squared: f64,
    /// Readings less the two fitted quantities, rate and start pressure.
    pub degrees_of_freedom: usize,
    /// Probability that readings of such a leak scatter about the curve as much as these, or more: of a chi-squared as large.
    pub probability: f64,
    /// What all readings share, where the fit needs it to lie where it can't.
    pub strain: Option<Strain>,
    /// What the readings show beside one steady leak, where chance does not.
    pub unsteady: Option<Unsteady>,
    /// A reading that was left out as misread, since the others tell one leak and it does not belong to it.
    pub misread: Option<Misread>,
    /// The same leak by other readings of the record: without one of them, or with a decimal point moved. Only looked at where
    /// one reading can turn the answer round: few readings, or ones that don't fit together.
    pub otherwise: Vec<Otherwise>,
    /// Correlation of rate and start pressure.
    pub correlation: f64,
    /// How the rate's interval was got.
    pub method: Method,
    /// The solver's iterations, and whether it stopped because it was done.
    pub iterations: u64,
    /// Whether the solver reached an optimum.
    pub converged: bool,
    /// Flow regime at the start.
    pub regime: Regime,
    /// What to know.
    pub notes: Vec<FitNote>,
    /// As it was taken.
    pub(crate) first_reading: GaugePressure,
    pub(super) shared: SharedValues,
    pub(super) model: DecayModel,
    /// The likeliest law's own rate.
    pub(super) own_rate: f64,
    pub(crate) unshown: Option<Unshown>,
    /// What the gauge shows beside the leak \[Pa\] at times as noted \[s\], by what the bench is known to do of itself.
    pub(super) beside: Vec<(f64, f64)>,
    /// Rate over effective area \[1/(s m2)\].
    pub(crate) per_area: f64,
}

impl Fit {
    /// Whether the readings can be those of one leak on this bench: they scatter no more than chance allows
    /// ([`ACCEPTABLE_PROBABILITY`]) and follow its curve, no shared term lies where it can't, and the start is on the side of zero where
    /// it was read.
    #[must_use]
    pub fn is_acceptable(&self) -> bool {
        self.probability >= ACCEPTABLE_PROBABILITY
            && self.unsteady.is_none()
            && self.strain.is_none()
            && self.starts_where_read()
    }

    /// Whether the fitted start pressure has the run's direction.
    #[must_use]
    pub(crate) fn starts_where_read(&self) -> bool {
        self.start.pascals() * self.direction.sign() > 0.0
    }

    /// The pressure that the run is said to start from and that limits are converted at: the fitted start, or the first reading
    /// where the fit has the start on the other side of zero, where nothing flows, or could not be followed.
    #[must_use]
    pub fn judged_from(&self) -> GaugePressure {
        if self.starts_where_read() && !self.residuals.is_empty() {
            self.start
        } else {
            self.first_reading
        }
    }

    /// The rate \[1/s\] of the rig's own leak in the volume under test, where it was subtracted.
    pub(crate) fn rig_rate(&self) -> f64 {
        self.rig.map_or(0.0, |rig| rig.si().value * self.per_area)
    }

    /// A part's standard uncertainty relative to the area; zero where the area is.
    #[must_use]
    pub fn relative_part(&self, kind: PartKind) -> f64 {
        let part = self
            .parts
            .iter()
            .find(|p| p.kind == kind)
            .map_or(0.0, |p| p.standard_uncertainty_m2);
        let area = self.area.si().value;
        if area > 0.0 { part / area } else { 0.0 }
    }

    /// Relative standard uncertainty of the area beyond the rate's, that of volume and temperature, which all runs of a session share.
    #[must_use]
    pub fn relative_size(&self) -> f64 {
        let parts = self.parts.iter().filter(|part| part.kind.is_of_size());
        parts.fold(0.0, |sum, part| sum.hypot(self.relative_part(part.kind)))
    }

    /// The same leak without the rig's, known from a run of the rig alone in the same direction: areas add, and so do
    /// rates. The rig's area is that at its own start pressure.
    ///
    /// The half-widths of both add in quadrature, a part called [`PartKind::Rig`]. Readings, residuals and curve stay those
    /// of the whole.
    #[must_use]
    pub fn less(mut self, rig: &Self) -> Self {
        let moved = rig.area_from(self.start);
        let (rigs, whole) = (moved.si(), self.area.si());
        let z = probability::normal_quantile(0.5 + whole.level / 2.0);
        let of_rig = (rigs.high - rigs.uncut_low()) / (2.0 * z);
        let own = (whole.value - whole.uncut_low()) / z;
        let beyond = (rigs.value - whole.value) / of_rig.hypot(own);
        self.strain = self.strain.or(if beyond > RISING {
            Some(Strain::RigBeyondWhole {
                rig_m2: rigs.value,
                whole_m2: whole.value,
            })
        } else {
            (!rig.is_acceptable()).then_some(Strain::Rig)
        });
        self.parts.push(part(PartKind::Rig, of_rig));
        let rigs_rate = moved.scaled_to(self.per_area);
        self.rate = self.rate.less(rigs_rate);
        self.area = self.area.less(moved);
        for other in &mut self.otherwise {
            other.rate = other.rate.less(rigs_rate);
            other.area = other.area.less(moved);
        }
        self.rig = Some(moved);
        self
    }

    /// The same leak with what makes its readings unsteady, and an interval that is open to the areas \[m2\] that it then has, the
    /// least and the largest.
    pub(super) fn caused_by(mut self, (cause, (least, largest)): (Cause, (f64, f64))) -> Self {
        self.unsteady = Some(Unsteady {
            cause: Some(cause),
            probability: self.unsteady.map_or(self.probability, |u| u.probability),
        });
        self.law = None;
        let area = self.area.si();
        if area.low <= least && largest <= area.high {
            return self;
        }
        let off = (area.value - least).abs().max((largest - area.value).abs());
        self.area = self.area.widened_by(off);
        self.rate = self.rate.widened_by(off * self.per_area);
        self.parts.push(part(PartKind::Unsteady, off));
        self
    }

    /// The effective area that the same leak has at another start pressure: that of a hole is the same, that of a fine gap
    /// smaller at a lower pressure. Where the readings don't tell the law, its interval is wider for it.
    #[must_use]
    pub fn area_from(&self, start: GaugePressure) -> Estimate<Area> {
        let ratio = |gauge: GaugePressure| gauge.pascals() / self.shared.ambient;
        let laws = self.laws_between_pressures();
        match area_moved(&self.model, laws, (ratio(self.start), ratio(start))) {
            Ok(Some((factor, uncertainty))) => self.area.scaled(factor).widened(uncertainty),
            _ => self.area,
        }
    }

    /// The laws that the leak's area is moved to another pressure by, each weighed by how well it explains the readings and by
    /// nothing else. A single leak is mostly a hole or a fine gap, and so the fit has it beforehand; what leaks in a crankcase is often
    /// several at once, which any law between the two may stand for.
    #[doc(hidden)]
    #[must_use]
    pub fn laws_between_pressures(&self) -> Vec<(DecayLaw, f64)> {
        let each = || self.laws.iter().map(|law| law.chi_squared);
        let least = each().fold(f64::INFINITY, f64::min);
        let tempered = misfit(least, self.degrees_of_freedom).unwrap_or(1.0);
        let explains = each().map(|chi_squared| (-(chi_squared - least) / (2.0 * tempered)).exp());
        let laws = self.laws.iter().map(|law| law.law);
        laws.zip(explains).collect()
    }

    /// Gauge reading \[Pa\] that the likeliest law has at a time, offset and scale of the gauge included; a rate \[1/s\] other
    /// than the fitted one gives the edges of a band. None where the curve has no reading: a rising one of a lip ends in finite time.
    #[must_use]
    pub fn reading_at(&self, time_s: f64, rate: f64) -> Option<f64> {
        let rate = self.own_rate + rate - self.rate.si().value;
        let after = time_s - self.residuals.first()?.time_s;
        let shown = self.shared.shows(&self.model_at(time_s, rate)?, after);
        let shown = shown + self.beside_at(time_s);
        shown.is_finite().then_some(shown)
    }

    /// A gauge reading \[Pa\] in the straightening coordinate of the likeliest law: along it the readings of such a leak fall
    /// on a straight line in time, once the gas has settled. None for a reading at or past zero.
    #[must_use]
    pub fn straightened(&self, reading_pa: f64) -> Option<f64> {
        let gauge = (reading_pa - self.shared.offset) / (1.0 + self.shared.scale);
        let coordinate = self.model.shape();
        let s = coordinate.of(gauge / self.shared.ambient);
        (s > coordinate.end()).then_some(s)
    }

    /// By how much the gauge's reading falls from the first reading to the last without any leak \[Pa\], by what the fit makes of heat,
    /// temperature and the bench; below zero where it rises.
    #[must_use]
    pub fn fall_without_leak_pa(&self) -> Option<f64> {
        let (first, last) = (self.residuals.first()?, self.residuals.last()?);
        let none = self.rate.si().value - self.own_rate;
        let at = |time_s: f64| self.reading_at(time_s, none);
        Some((at(first.time_s)? - at(last.time_s)?) * self.direction.sign())
    }

    /// The fitted curve in that coordinate at a time: a straight line but for what heat does.
    #[must_use]
    pub fn straightened_at(&self, time_s: f64) -> Option<f64> {
        let gauge = self.model_at(time_s, self.own_rate)?.gauge;
        let coordinate = self.model.shape();
        let s = coordinate.of(gauge / self.shared.ambient);
        s.is_finite().then_some(s)
    }

    /// [`Fit::laws`] by their kind: of each the likeliest number, and the weight of all.
    #[must_use]
    pub fn kinds_of_law(&self) -> Vec<LawWeight> {
        merged(&self.laws, are_of_one_kind)
    }

    /// The law of the curve: the likeliest.
    #[must_use]
    pub fn likeliest(&self) -> DecayLaw {
        self.model.law()
    }

    /// What the gauge shows beside the leak at a time \[Pa\], between the readings on a line.
    fn beside_at(&self, time_s: f64) -> f64 {
        let after = self.beside.partition_point(|(time, _)| *time <= time_s);
        let before = after.checked_sub(1).and_then(|i| self.beside.get(i));
        match (before, self.beside.get(after)) {
            (Some((t0, from)), Some((t1, to))) => from + (to - from) * (time_s - t0) / (t1 - t0),
            (Some((_, end)), None) | (None, Some((_, end))) => *end,
            (None, None) => 0.0,
        }
    }

    fn model_at(&self, time_s: f64, rate: f64) -> Option<ModelPartials> {
        let first = self.residuals.first()?.time_s;
        let mut at = Vec::with_capacity(1);
        self.model.follow(
            &self.shared.with(rate, self.start.pascals()),
            &[time_s - first],
            &mut at,
        )?;
        at.first().copied()
    }
}
