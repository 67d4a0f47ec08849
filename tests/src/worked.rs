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
#[allow(
    clippy::too_many_lines,
    reason = "one short arm for each quantity of the tables"
)]
pub fn answer(row: Row<'_>) -> f64 {
    let input = |key: &str| row.input(key);
    let given = |key: &str| row.text("inputs").contains(&format!("{key}="));
    let r = if given("r") { input("r") } else { 287.0 };
    let gas = Gas::new("perfect gas", r, input("gamma")).unwrap();
    let critical = gas.critical_pressure_ratio();
    let flow = |p0: f64, p_back: f64, area: f64| {
        let hole = Orifice::new(EffectiveArea::from_square_meters(area).unwrap());
        // A vacuum downstream is out of an absolute pressure's range; anything below the critical ratio is the same.
        hole.mass_flow(&gas, state(p0, input("t_k")), si(p_back.max(1e-3)))
            .si_value()
    };
    let case = |start: f64, ambient: f64, volume: f64, area: f64| Case {
        gas,
        temperature: input("t_k"),
        start_temperature: input(if given("t_start_k") {
            "t_start_k"
        } else {
            "t_k"
        }),
        start,
        ambient,
        volume,
        area,
    };
    let psi = |key: &str| of::<Pressure>(input(key), "psi");
    let foot = of::<Length>(12.0, "in");
    // A case in SI units, whose time doesn't matter where no area is given.
    let plain = || {
        let area = if given("area_m2") {
            input("area_m2")
        } else {
            1e-4 * input("volume_m3")
        };
        case(
            input("p0_pa"),
            input("p_ambient_pa"),
            input("volume_m3"),
            area,
        )
    };
    let batch = || {
        let atmosphere = of::<Pressure>(1.0, "atm");
        case(
            input("p0_atm") * atmosphere,
            input("p_ambient_atm") * atmosphere,
            input("volume_ft3") * foot.powi(3),
            input("area_ft2") * foot.powi(2),
        )
    };
    // Ambient so low that the whole fall is choked.
    let choked = |end: f64| {
        case(
            input("p0_pa"),
            0.5 * critical * end,
            of::<Volume>(input("volume_l"), "L"),
            input("cd") * circle(of::<Length>(input("d_mm"), "mm")),
        )
    };
    let rate = |quantity: fn((f64, f64, f64)) -> f64, case: Case| {
        let step = 1e-3;
        let at = |seconds| quantity(case.adiabatic_state(seconds));
        // Second order in the step, from zero on.
        (-3.0 * at(0.0) + 4.0 * at(step) - at(2.0 * step)) / (2.0 * step)
    };
    // At a stated pressure; else at that around, to which it takes longer isothermally.
    let end = || {
        let case = plain();
        case.adiabatic_state(if given("p_end_pa") {
            case.adiabatic_time(input("p_end_pa"))
        } else {
            case.isothermal_time(case.ambient)
        })
    };
    match row.text("quantity") {
        "end_of_choking_psia" => input("p_ambient_psia") / critical,
        "end_of_choking_atm" => input("p_ambient_atm") / critical,
        "critical_pressure_atm" => input("p0_atm") * critical,
        "critical_temperature_k" => input("t_k") * critical.powf(gas.isentropic_exponent()),
        "isothermal_choked_time_s" => {
            let ambient = psi("p_ambient_psia");
            let hole = circle(of::<Length>(input("d_in"), "in"));
            case(
                psi("p0_psia"),
                ambient,
                input("volume_ft3") * foot.powi(3),
                hole,
            )
            .isothermal_time(ambient / critical)
        }
        "isothermal_time_s" => case(
            of::<Pressure>(input("p0_bar"), "bar"),
            of::<Pressure>(input("p_ambient_bar"), "bar"),
            input("volume_m3"),
            input("area_m2"),
        )
        .isothermal_time(of::<Pressure>(input("p_end_bar"), "bar")),
        // dt sqrt(R T) CdA/V for p to fall to three quarters, far above ambient: with CdA/V = 1/m it is t sqrt(R T).
        "time_coefficient_density_falls_quarter" => {
            IsothermalDecay::from_rate(1.0, si(99e5), state(1e5, 300.0), &gas)
                .unwrap()
                .time_to(si(74e5))
                .unwrap()
                .si_value()
        }
        "mass_flow_kg_per_s" => {
            let back = if given("p_back_pa") {
                "p_back_pa"
            } else {
                "p_ambient_pa"
            };
            flow(input("p0_pa"), input(back), input("area_m2"))
        }
        "mass_flow_kg_per_min" => {
            60.0 * flow(input("p0_pa"), input("p_ambient_pa"), circle(input("d_m")))
        }
        "mass_flow_lbm_per_s" => {
            let hole = circle(of::<Length>(input("d_in"), "in"));
            flow(psi("p0_psia"), psi("p_back_psia"), hole) / of::<Mass>(1.0, "lb")
        }
        "adiabatic_end_of_choking_time_s" => {
            let batch = batch();
            batch.adiabatic_time(batch.ambient / critical)
        }
        "adiabatic_end_of_choking_temperature_k" => {
            let batch = batch();
            batch
                .adiabatic_state(batch.adiabatic_time(batch.ambient / critical))
                .1
        }
        // The time in which the pressure falls by a factor e.
        "choked_time_constant_s" => {
            let end = input("p0_pa") / 1.0_f64.exp();
            choked(end).isothermal_time(end)
        }
        "isothermal_choked_law_time_s" => {
            choked(input("p_end_pa")).isothermal_time(input("p_end_pa"))
        }
        "adiabatic_choked_law_time_s" => {
            choked(input("p_end_pa")).adiabatic_time(input("p_end_pa"))
        }
        "density_rate_kg_per_m3_s" => rate(|(_, _, mass)| mass, plain()) / input("volume_m3"),
        // Warming goes with the flow, so the flow at a warming is that of any hole, in proportion.
        "fill_g_per_s_at_warming" => {
            let case = plain();
            let warming = rate(|(_, temperature, _)| temperature, case);
            let filled = rate(|(_, _, mass)| mass, case);
            1e3 * filled * input("warming_k_per_s") / warming
        }
        "adiabatic_mass_left_kg" | "adiabatic_fill_mass_kg" => end().2,
        "adiabatic_temperature_left_k" | "adiabatic_fill_temperature_k" => end().1,
        "adiabatic_mass_out_kg" => plain().adiabatic_state(0.0).2 - end().2,
        "adiabatic_fill_added_mol" => {
            let added = end().2 - plain().adiabatic_state(0.0).2;
            added * r / input("r_molar")
        }
        other => panic!("unknown quantity {other}"),
    }
}
