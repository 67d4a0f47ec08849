//! The tables, in Markdown.

use std::collections::BTreeMap;

use casetight::gas::{Gas, GasState};
use casetight::leak::{EffectiveArea, Orifice, SharpEdgedHole};
use casetight::quantity::{
    MolarGasConstant, ReferenceConditions, TemperatureDrift, ThermodynamicTemperature, Throughput,
    TradeUnits,
};
use casetight::vessel::{DecayLaw, LawDecay, ThermalVessel};

use super::figures::ellipse;
use super::{AMBIENT_K, AMBIENT_PA, AREA_M2, VOLUME_M3, ambient, si, vessel};
use crate::table::{Row, Table};
use crate::worked;

/// The gas of `golden_times.csv` and `law_times.csv`.
const GAS_R: f64 = 287.052_87;

/// All tables by their names on the page.
pub(super) fn all() -> Vec<(&'static str, String)> {
    vec![
        ("closed forms", closed_forms()),
        ("other laws", other_laws()),
        ("thermal limits", thermal_limits()),
        ("Cantera", cantera()),
        ("isentropic", isentropic()),
        ("flow functions", flow_functions()),
        ("worked examples", worked_examples()),
        ("units", units()),
    ]
}

fn table(head: &str, rows: impl IntoIterator<Item = String>) -> String {
    let rule = head
        .trim_matches('|')
        .split('|')
        .map(|cell| if cell.contains('[') { "---:|" } else { "---|" })
        .collect::<String>();
    let mut lines = vec![head.to_owned(), format!("|{rule}")];
    lines.extend(rows);
    let mut text = lines.join("\n");
    text.push('\n');
    text
}

/// The power of ten that a difference lies below.
fn below(difference: f64) -> String {
    format!("1e{}", difference.abs().max(1e-15).log10().ceil())
}

fn case_of(row: Row<'_>) -> String {
    let kilopascal = |column| row.number(column) / 1000.0;
    format!(
        "{} to {} kPa",
        kilopascal("start_gauge_pa"),
        kilopascal("end_gauge_pa")
    )
}

fn golden_gas() -> Gas {
    Gas::new("golden gas", GAS_R, 1.4).unwrap()
}

fn orifice() -> Orifice {
    Orifice::new(EffectiveArea::from_square_meters(AREA_M2).unwrap())
}

/// By how much the integrated vessel misses the end of a golden case at its golden time, as a part of ambient pressure.
fn missed(row: Row<'_>, isothermal: bool) -> f64 {
    let column = if isothermal {
        "isothermal_s"
    } else {
        "adiabatic_s"
    };
    let leak = orifice();
    let conductance = if isothermal { f64::INFINITY } else { 0.0 };
    // Integrated even where the closed form is exact: a compliance too small to matter bars that.
    let vessel = vessel(
        &leak,
        &golden_gas(),
        row.number("start_gauge_pa"),
        conductance,
    )
    .with_compliance(1e-30)
    .unwrap();
    let found = vessel.gauge_at(&[si(row.number(column))]).unwrap();
    (found.first().unwrap().pascals() - row.number("end_gauge_pa")) / AMBIENT_PA
}

fn law_time(law: DecayLaw, row: Row<'_>) -> f64 {
    LawDecay::new(
        law,
        EffectiveArea::from_square_meters(AREA_M2).unwrap(),
        si(VOLUME_M3),
        si(row.number("start_gauge_pa")),
        ambient(),
        &golden_gas(),
    )
    .unwrap()
    .time_to(si(row.number("end_gauge_pa")))
    .unwrap()
    .si_value()
}

fn closed_forms() -> String {
    let golden = Table::open("golden_times.csv");
    table(
        "| gauge pressure | time by quadrature [s] | closed form differs, relatively, by less than [1] | isothermal vessel, integrated, misses the pressure by less than [p_a] | adiabatic one [p_a] |",
        golden.rows().map(|row| {
            let time = row.number("isothermal_s");
            format!(
                "| {} | {} | {} | {} | {} |",
                case_of(row),
                row.text("isothermal_s"),
                below(law_time(DecayLaw::Orifice, row) / time - 1.0),
                below(missed(row, true)),
                below(missed(row, false)),
            )
        }),
    )
}

fn other_laws() -> String {
    let times = Table::open("law_times.csv");
    let mut worst: BTreeMap<String, (usize, f64)> = BTreeMap::new();
    for row in times.rows() {
        let (name, law) = match row.text("law") {
            "sonic" => {
                let critical_ratio = row.number("parameter");
                (
                    format!("sonic conductance, b = {critical_ratio}"),
                    DecayLaw::Sonic { critical_ratio },
                )
            }
            "laminar" => ("laminar".to_owned(), DecayLaw::Laminar),
            "power" => {
                let exponent = row.number("parameter");
                (
                    format!("power law, n = {exponent}"),
                    DecayLaw::Power { exponent },
                )
            }
            other => panic!("unknown law {other}"),
        };
        let off = (law_time(law, row) / row.number("time_s") - 1.0).abs();
        let entry = worst.entry(name).or_insert((0, 0.0));
        *entry = (entry.0 + 1, entry.1.max(off));
    }
    table(
        "| law | cases [1] | closed form differs, relatively, by less than [1] |",
        worst
            .into_iter()
            .map(|(name, (cases, off))| format!("| {name} | {cases} | {} |", below(off))),
    )
}

fn thermal_limits() -> String {
    let golden = Table::open("golden_times.csv");
    table(
        "| gauge pressure | isothermal [s] | adiabatic [s] | ratio [1] |",
        golden.rows().map(|row| {
            let isothermal = law_time(DecayLaw::Orifice, row);
            let case = worked::Case {
                gas: golden_gas(),
                temperature: AMBIENT_K,
                start_temperature: AMBIENT_K,
                start: AMBIENT_PA + row.number("start_gauge_pa"),
                ambient: AMBIENT_PA,
                volume: VOLUME_M3,
                area: AREA_M2,
            };
            let adiabatic = case.adiabatic_time(AMBIENT_PA + row.number("end_gauge_pa"));
            format!(
                "| {} | {isothermal:.5} | {adiabatic:.5} | {:.4} |",
                case_of(row),
                isothermal / adiabatic
            )
        }),
    )
}

/// How far the lumped vessel lies from Cantera at a row of `cantera_vessel.csv`: pressure as a part of ambient, and
/// temperature, relatively.
///
/// # Panics
/// If the row's vessel is not valid.
#[must_use]
pub fn beside_cantera(row: Row<'_>) -> (f64, f64) {
    let gas = Gas::new("air of the table", row.number("gas_r"), 1.4).unwrap();
    let leak = Orifice::new(EffectiveArea::from_square_meters(row.number("area_m2")).unwrap());
    let ambient = GasState {
        pressure: si(row.number("ambient_pa")),
        temperature: si(row.number("ambient_k")),
    };
    let vessel = ThermalVessel::new(
        &leak,
        si(row.number("volume_m3")),
        si(row.number("start_gauge_pa")),
        ambient,
        &gas,
        si(row.number("conductance_w_per_k")),
    )
    .unwrap()
    .with_start_temperature(si(row.number("start_temperature_k")))
    .unwrap()
    .with_wall(si(row.number("wall_temperature_k")), TemperatureDrift::ZERO)
    .unwrap();
    let states = vessel.states_at(&[si(row.number("time_s"))]).unwrap();
    let state = states.first().unwrap();
    (
        ((state.gauge.pascals() - row.number("gauge_pa")) / row.number("ambient_pa")).abs(),
        (state.temperature.si_value() / row.number("temperature_k") - 1.0).abs(),
    )
}

fn cantera() -> String {
    let mut worst: Vec<(String, usize, f64, f64)> = Vec::new();
    for row in Table::open("cantera_vessel.csv").rows() {
        let (pressure, temperature) = beside_cantera(row);
        let name = row.text("case");
        match worst.iter_mut().find(|(case, ..)| case == name) {
            Some((_, times, p, t)) => {
                *times += 1;
                *p = p.max(pressure);
                *t = t.max(temperature);
            }
            None => worst.push((name.to_owned(), 1, pressure, temperature)),
        }
    }
    table(
        "| case | times [1] | pressure differs by less than [p_a] | temperature differs, relatively, by less than [1] |",
        worst.into_iter().map(|(case, times, p, t)| {
            format!("| {case} | {times} | {} | {} |", below(p), below(t))
        }),
    )
}

fn isentropic() -> String {
    let air = Gas::dry_air();
    let naca = Table::open("naca1135_isentropic.csv");
    table(
        "| Mach number [1] | A/A\\* printed [1] | A/A\\* [1] | p/p0 printed [1] | p/p0 [1] |",
        naca.rows()
            .filter(|row| row.number("mach") <= 1.0)
            .map(|row| {
                let mach = row.number("mach");
                let temperature =
                    1.0 / (1.0 + (air.heat_capacity_ratio() - 1.0) / 2.0 * mach * mach);
                let pressure = temperature.powf(1.0 / air.isentropic_exponent());
                let area =
                    Orifice::flow_function(&air, 0.0) / Orifice::flow_function(&air, pressure);
                format!(
                    "| {mach:.2} | {} | {area:.4} | {} | {pressure:.4} |",
                    row.text("a_over_a_star"),
                    row.text("p_over_p0")
                )
            }),
    )
}

fn flow_functions() -> String {
    let air = Gas::dry_air();
    let critical = air.critical_pressure_ratio();
    let choked = Orifice::flow_function(&air, 0.0);
    // Evaluated from the printed polynomial by an independent script.
    let published = [
        (0.0, "0.8414"),
        (0.2, "0.8306"),
        (0.4, "0.7869"),
        (0.5283, "0.7374"),
        (0.6, "0.7071"),
        (0.7, "0.6676"),
        (0.8, "0.6358"),
        (0.9, "0.6142"),
        (1.0, "0.6001"),
    ];
    table(
        "| x [1] | Cd by hand [1] | Cd [1] | Psi/Psi\\* [1] | ellipse, b = x\\* [1] | ellipse less Psi/Psi\\* [1] |",
        published.map(|(x, printed)| {
            let isentropic = Orifice::flow_function(&air, x) / choked;
            let ellipse = ellipse(x, critical);
            format!(
                "| {x} | {printed} | {:.4} | {isentropic:.5} | {ellipse:.5} | {} |",
                SharpEdgedHole::discharge_coefficient(x),
                signed(ellipse - isentropic, 5)
            )
        }),
    )
}

fn worked_examples() -> String {
    let mut rows = Vec::new();
    for file in ["worked_examples.csv", "vessel_examples.csv"] {
        for row in Table::open(file).rows() {
            let value = row.number("value");
            let got = worked::answer(row);
            rows.push(format!(
                "| {} | {} | {} | {} | {} | {} | {} |",
                row.text("source"),
                with_unit(row.text("quantity")),
                row.text("input_status"),
                row.text("value"),
                row.text("value_status"),
                significant(got),
                signed(100.0 * (got / value - 1.0), 2)
            ));
        }
    }
    table(
        "| source | quantity | inputs | value [ ] | value is | casetight [ ] | difference [%] |",
        rows,
    )
}

/// A quantity's name in a table, with its unit in brackets.
fn with_unit(quantity: &str) -> String {
    for (end, unit) in [
        ("_kg_per_m3_s", "kg/(m3 s)"),
        ("_kg_per_min", "kg/min"),
        ("_lbm_per_s", "lbm/s"),
        ("_kg_per_s", "kg/s"),
        ("_psia", "psia"),
        ("_atm", "atm"),
        ("_kg", "kg"),
        ("_mol", "mol"),
        ("_k", "K"),
        ("_s", "s"),
    ] {
        if let Some(name) = quantity.strip_suffix(end) {
            return format!("{} [{unit}]", name.replace('_', " "));
        }
    }
    match quantity {
        "fill_g_per_s_at_warming" => "flow into it that warms it so [g/s]".to_owned(),
        "time_coefficient_density_falls_quarter" => {
            "time to lose a quarter, over V/(A sqrt(R T)) [1]".to_owned()
        }
        other => panic!("{other} has no unit"),
    }
}

/// A number with its sign, and none for a zero.
fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    if text.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
        text
    } else {
        text.trim_start_matches(['+', '-']).to_owned()
    }
}

/// A number with four significant digits.
fn significant(value: f64) -> String {
    let decimals = (3.0 - value.abs().log10().floor()).clamp(0.0, 9.0);
    let mut places = 0_usize;
    while (places as f64) < decimals {
        places += 1;
    }
    format!("{value:.places$}")
}

fn units() -> String {
    let normal = ReferenceConditions::NORMAL;
    let throughput = |value: f64, unit: &str| Throughput::from_value_in(value, unit).unwrap();
    let counted = |unit: &str, value: f64| {
        normal
            .throughput(TradeUnits::from_value_in(value, unit).unwrap())
            .unwrap()
    };
    let zero: ThermodynamicTemperature = si(273.15);
    let one = throughput(1.0, "Pa m3/s");
    let sccm = normal.volume_rate(one, zero).unwrap();
    let molar = counted("cm3/s", 1e-5)
        .molar_rate(
            zero,
            <MolarGasConstant as casetight::measured::Measurable>::from_si(8.314_462_618).unwrap(),
        )
        .unwrap();
    let a_sccm = |unit: &str| counted("sccm", 1.0).value_in(unit).unwrap();
    let one_in = |unit: &str| one.value_in(unit).unwrap();
    let repeated = "published, as a manufacturer repeats it";
    let row = |what: &str, value: &str, status: &str, got: String| {
        format!("| {what} | {value} | {status} | {got} |")
    };
    let got = format!("{:.5}e-3", 1e3 * a_sccm("Pa m3/s"));
    let mut rows = vec![row("1 sccm in Pa m3/s", "1.68875e-3", repeated, got)];
    let got = format!("{:.7}", a_sccm("mbar L/s"));
    rows.push(row("1 sccm in mbar L/s", "0.0168875", repeated, got));
    let got = format!("{}", one_in("mbar L/s").round());
    rows.push(row("1 Pa m3/s in mbar L/s", "10", "definition", got));
    let got = format!("{:.4}", one_in("atm cm3/s"));
    rows.push(row("1 Pa m3/s in atm cm3/s", "9.8692", "definition", got));
    let got = format!("{:.4}", one_in("Torr L/s"));
    rows.push(row("1 Pa m3/s in Torr L/s", "7.5006", "definition", got));
    let got = format!("{:.3}", sccm.value_in("sccm").unwrap());
    let what = "1 Pa m3/s in sccm, gas at 0 °C";
    rows.push(row(what, "592.154", "independent script", got));
    let got = format!("{:.4}e-10", 1e10 * molar.value);
    let what = "1e-5 std cm3/s in mol/s";
    rows.push(row(what, "4.5e-10", "published, `[ASTME515]`", got));
    table(
        "| conversion | value [ ] | value is | casetight [ ] |",
        rows,
    )
}
