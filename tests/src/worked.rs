//! Textbooks' worked examples of flow and of vessels, answered by the library.

use std::f64::consts::PI;

use casetight::gas::{Gas, GasState};
use casetight::leak::{EffectiveArea, LeakLaw, Orifice};
use casetight::quantity::{Length, Mass, Pressure, TradeUnits, Volume};
use casetight::vessel::{IsothermalDecay, ThermalVessel, VesselState};

use crate::table::Row;

/// Bisections that take a time to full precision.
const BISECTIONS: usize = 50;

fn of<Q: TradeUnits>(value: f64, unit: &str) -> f64 {
    Q::from_value_in(value, unit).unwrap().si_value()
}

fn si<Q: TradeUnits>(value: f64) -> Q {
    Q::from_si_value(value).unwrap()
}

fn circle(diameter_m: f64) -> f64 {
    PI / 4.0 * diameter_m * diameter_m
}

fn state(pressure_pa: f64, temperature_k: f64) -> GasState {
    GasState {
        pressure: si(pressure_pa),
        temperature: si(temperature_k),
    }
}

/// A vessel of an example and its leak, absolute pressures in Pa, temperatures in K.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Case {
    pub(crate) gas: Gas,
    /// Of the gas around, and of the wall.
    pub(crate) temperature: f64,
    /// Of the gas inside at the start.
    pub(crate) start_temperature: f64,
    pub(crate) start: f64,
    pub(crate) ambient: f64,
    pub(crate) volume: f64,
    pub(crate) area: f64,
}

impl Case {
    fn isothermal_time(&self, end: f64) -> f64 {
        IsothermalDecay::new(
            EffectiveArea::from_square_meters(self.area).unwrap(),
            si::<Volume>(self.volume),
            si(self.start - self.ambient),
            state(self.ambient, self.temperature),
            &self.gas,
        )
        .unwrap()
        .time_to(si(end - self.ambient))
        .unwrap()
        .si_value()
    }

    /// Gauge pressure, temperature and mass after a time, without heat.
    fn adiabatic_state(&self, seconds: f64) -> (f64, f64, f64) {
        let leak = Orifice::new(EffectiveArea::from_square_meters(self.area).unwrap());
        let vessel = ThermalVessel::new(
            &leak,
            si(self.volume),
            si(self.start - self.ambient),
            state(self.ambient, self.temperature),
            &self.gas,
            si(0.0),
        )
        .unwrap()
        .with_start_temperature(si(self.start_temperature))
        .unwrap();
        let found: Vec<VesselState> = vessel.states_at(&[si(seconds)]).unwrap();
        let state = found.first().unwrap();
        (
            state.gauge.pascals(),
            state.temperature.si_value(),
            vessel.mass_in(*state).si_value(),
        )
    }

    /// When the pressure passes an end, without heat.
    pub(crate) fn adiabatic_time(&self, end: f64) -> f64 {
        let passed = |seconds: f64| {
            let now = self.adiabatic_state(seconds).0 + self.ambient;
            (now > end) != (self.start > end)
        };
        let (mut early, mut late) = (0.0, self.isothermal_time(end));
        while !passed(late) {
            (early, late) = (late, 2.0 * late);
        }
        for _ in 0..BISECTIONS {
            let middle = f64::midpoint(early, late);
            if passed(middle) {
                late = middle;
            } else {
                early = middle;
            }
        }
        f64::midpoint(early, late)
    }
}

/// What the library has for an example of `worked_examples.csv` or `vessel_examples.csv`, in the unit of its quantity.
///
/// # Panics
/// If the quantity is unknown, or the example can't be worked.
#[must_use]
pub fn answer(row: Row<'_>) -> f64 {
    let example = Example::of(row);
    let quantity = row.text("quantity");
    example
        .critical_state(quantity)
        .or_else(|| example.flow(quantity))
        .or_else(|| example.isothermal(quantity))
        .or_else(|| example.adiabatic(quantity))
        .or_else(|| example.warming(quantity))
        .unwrap_or_else(|| panic!("unknown quantity {quantity}"))
}

fn psi(value: f64) -> f64 {
    of::<Pressure>(value, "psi")
}

fn inches(value: f64) -> f64 {
    of::<Length>(value, "in")
}

/// [m]
fn foot() -> f64 {
    inches(12.0)
}

/// Slope at the start of what a case has at a time; second order in the step, from zero on.
fn rate(quantity: fn((f64, f64, f64)) -> f64, case: Case) -> f64 {
    let step = 1e-3;
    let at = |seconds| quantity(case.adiabatic_state(seconds));
    (-3.0 * at(0.0) + 4.0 * at(step) - at(2.0 * step)) / (2.0 * step)
}

/// A row with its gas.
struct Example<'r> {
    row: Row<'r>,
    gas: Gas,
    /// Gas constant [J/(kg K)].
    r: f64,
    /// Critical pressure ratio.
    critical: f64,
}

impl<'r> Example<'r> {
    fn of(row: Row<'r>) -> Self {
        let r = if is_given(row, "r") {
            row.input("r")
        } else {
            287.0
        };
        let gas = Gas::new("perfect gas", r, row.input("gamma")).unwrap();
        let critical = gas.critical_pressure_ratio();
        Self {
            row,
            gas,
            r,
            critical,
        }
    }

    fn input(&self, key: &str) -> f64 {
        self.row.input(key)
    }

    fn given(&self, key: &str) -> bool {
        is_given(self.row, key)
    }

    fn flow_through(&self, p0: f64, p_back: f64, area: f64) -> f64 {
        let hole = Orifice::new(EffectiveArea::from_square_meters(area).unwrap());
        // A vacuum downstream is out of an absolute pressure's range; anything below the critical ratio is the same.
        let back = si(p_back.max(1e-3));
        hole.mass_flow(&self.gas, state(p0, self.input("t_k")), back)
            .si_value()
    }

    fn case(&self, start: f64, ambient: f64, volume: f64, area: f64) -> Case {
        Case {
            gas: self.gas,
            temperature: self.input("t_k"),
            start_temperature: self.input(if self.given("t_start_k") {
                "t_start_k"
            } else {
                "t_k"
            }),
            start,
            ambient,
            volume,
            area,
        }
    }

    /// A case in SI units, whose time doesn't matter where no area is given.
    fn plain(&self) -> Case {
        let area = if self.given("area_m2") {
            self.input("area_m2")
        } else {
            1e-4 * self.input("volume_m3")
        };
        self.case(
            self.input("p0_pa"),
            self.input("p_ambient_pa"),
            self.input("volume_m3"),
            area,
        )
    }

    /// A case in atmospheres and feet.
    fn batch(&self) -> Case {
        let atmosphere = of::<Pressure>(1.0, "atm");
        self.case(
            self.input("p0_atm") * atmosphere,
            self.input("p_ambient_atm") * atmosphere,
            self.input("volume_ft3") * foot().powi(3),
            self.input("area_ft2") * foot().powi(2),
        )
    }

    /// Ambient so low that the whole fall is choked.
    fn choked(&self, end: f64) -> Case {
        self.case(
            self.input("p0_pa"),
            0.5 * self.critical * end,
            of::<Volume>(self.input("volume_l"), "L"),
            self.input("cd") * circle(of::<Length>(self.input("d_mm"), "mm")),
        )
    }

    /// State at a stated pressure; else at that around, to which it takes longer isothermally.
    fn end(&self) -> (f64, f64, f64) {
        let case = self.plain();
        case.adiabatic_state(if self.given("p_end_pa") {
            case.adiabatic_time(self.input("p_end_pa"))
        } else {
            case.isothermal_time(case.ambient)
        })
    }

    fn critical_state(&self, quantity: &str) -> Option<f64> {
        let critical = self.critical;
        Some(match quantity {
            "end_of_choking_psia" => self.input("p_ambient_psia") / critical,
            "end_of_choking_atm" => self.input("p_ambient_atm") / critical,
            "critical_pressure_atm" => self.input("p0_atm") * critical,
            "critical_temperature_k" => {
                self.input("t_k") * critical.powf(self.gas.isentropic_exponent())
            }
            _ => return None,
        })
    }

    fn flow(&self, quantity: &str) -> Option<f64> {
        Some(match quantity {
            "mass_flow_kg_per_s" => {
                let back = if self.given("p_back_pa") {
                    "p_back_pa"
                } else {
                    "p_ambient_pa"
                };
                let area = self.input("area_m2");
                self.flow_through(self.input("p0_pa"), self.input(back), area)
            }
            "mass_flow_kg_per_min" => {
                let hole = circle(self.input("d_m"));
                60.0 * self.flow_through(self.input("p0_pa"), self.input("p_ambient_pa"), hole)
            }
            "mass_flow_lbm_per_s" => {
                let hole = circle(inches(self.input("d_in")));
                let (p0, back) = (psi(self.input("p0_psia")), psi(self.input("p_back_psia")));
                self.flow_through(p0, back, hole) / of::<Mass>(1.0, "lb")
            }
            _ => return None,
        })
    }

    fn isothermal(&self, quantity: &str) -> Option<f64> {
        let bar = |key: &str| of::<Pressure>(self.input(key), "bar");
        Some(match quantity {
            "isothermal_choked_time_s" => {
                let ambient = psi(self.input("p_ambient_psia"));
                let volume = self.input("volume_ft3") * foot().powi(3);
                let hole = circle(inches(self.input("d_in")));
                self.case(psi(self.input("p0_psia")), ambient, volume, hole)
                    .isothermal_time(ambient / self.critical)
            }
            "isothermal_time_s" => {
                let (volume, area) = (self.input("volume_m3"), self.input("area_m2"));
                self.case(bar("p0_bar"), bar("p_ambient_bar"), volume, area)
                    .isothermal_time(bar("p_end_bar"))
            }
            // dt sqrt(R T) CdA/V for p to fall to three quarters, far above ambient: with CdA/V = 1/m it is t sqrt(R T).
            "time_coefficient_density_falls_quarter" => {
                IsothermalDecay::from_rate(1.0, si(99e5), state(1e5, 300.0), &self.gas)
                    .unwrap()
                    .time_to(si(74e5))
                    .unwrap()
                    .si_value()
            }
            // The time in which the pressure falls by a factor e.
            "choked_time_constant_s" => {
                let end = self.input("p0_pa") / 1.0_f64.exp();
                self.choked(end).isothermal_time(end)
            }
            "isothermal_choked_law_time_s" => {
                let end = self.input("p_end_pa");
                self.choked(end).isothermal_time(end)
            }
            _ => return None,
        })
    }

    fn adiabatic(&self, quantity: &str) -> Option<f64> {
        Some(match quantity {
            "adiabatic_end_of_choking_time_s" => {
                let batch = self.batch();
                batch.adiabatic_time(batch.ambient / self.critical)
            }
            "adiabatic_end_of_choking_temperature_k" => {
                let batch = self.batch();
                batch
                    .adiabatic_state(batch.adiabatic_time(batch.ambient / self.critical))
                    .1
            }
            "adiabatic_choked_law_time_s" => {
                let end = self.input("p_end_pa");
                self.choked(end).adiabatic_time(end)
            }
            "adiabatic_mass_left_kg" | "adiabatic_fill_mass_kg" => self.end().2,
            "adiabatic_temperature_left_k" | "adiabatic_fill_temperature_k" => self.end().1,
            "adiabatic_mass_out_kg" => self.plain().adiabatic_state(0.0).2 - self.end().2,
            "adiabatic_fill_added_mol" => {
                let added = self.end().2 - self.plain().adiabatic_state(0.0).2;
                added * self.r / self.input("r_molar")
            }
            _ => return None,
        })
    }

    fn warming(&self, quantity: &str) -> Option<f64> {
        Some(match quantity {
            "density_rate_kg_per_m3_s" => {
                rate(|(_, _, mass)| mass, self.plain()) / self.input("volume_m3")
            }
            // Warming goes with the flow, so the flow at a warming is that of any hole, in proportion.
            "fill_g_per_s_at_warming" => {
                let case = self.plain();
                let warming = rate(|(_, temperature, _)| temperature, case);
                let filled = rate(|(_, _, mass)| mass, case);
                1e3 * filled * self.input("warming_k_per_s") / warming
            }
            _ => return None,
        })
    }
}

fn is_given(row: Row<'_>, key: &str) -> bool {
    row.text("inputs").contains(&format!("{key}="))
}
