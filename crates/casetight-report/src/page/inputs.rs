//! What the numbers come from: volume, ambient, gauge, limits, and how each run was made.

use casetight::measured::{Measurable, Measured};
use casetight::quantity::{InUnit, Length, Pressure, Ratio, Stretch, TradeUnits, Unit};
use casetight::readings::{Effects, Touched};
use casetight_bench::record::Site;
use casetight_bench::session::SessionRun;
use casetight_bench::sheet::{Ambient, PressureAt, Run, Sheet, Space, TestGas};
use maud::{Markup, html};
use uom::si::pressure::pascal;

use crate::units::Units;
use crate::words::how_read_in;

/// What is stated, and how it is shown.
type Row = (String, String);

/// "200.6 cm3 ± 3.1 cm3".
fn with_uncertainty<Q>(measured: &Measured<Q>) -> String
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    in_unit(measured, measured.value().trade())
}

/// As [`with_uncertainty`], of a pressure in the page's unit.
fn pressure<Q>(measured: &Measured<Q>, units: &Units) -> String
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let value = measured.value();
    let shown = value.display_in(units.pressure.symbol());
    in_unit(
        measured,
        shown.map_or_else(|_| value.trade(), |shown| shown.digits(5)),
    )
}

/// "1.5 % ± 0.5 % a bar": what a volume gives, in the page's unit of pressure.
fn per_pressure(stretch: &Measured<Stretch>, units: &Units) -> String {
    let percent = |si: f64| Unit::si("%").shown(100.0 * si * units.pressure.to_si(1.0), 2);
    let stated = stretch.value().trade();
    let how = how_read_in(stretch, stated.symbol())
        .map_or("", |_| " (a tolerance, read as anywhere within it alike)");
    format!(
        "{} \u{b1} {} a {}{how}",
        percent(stretch.value().si_value()),
        percent(stretch.standard_uncertainty().si_value()),
        units.pressure.symbol()
    )
}

fn in_unit<Q>(measured: &Measured<Q>, value: InUnit) -> String
where
    Q: TradeUnits + Measurable<Spread: TradeUnits>,
{
    let spread = measured.standard_uncertainty();
    let spread = spread
        .display_in(value.symbol())
        .unwrap_or_else(|_| spread.trade())
        .digits(2);
    let how =
        how_read_in(measured, value.symbol()).map_or(String::new(), |how| format!(" ({how})"));
    format!("{value} \u{b1} {spread}{how}")
}

fn row(name: &str, value: String) -> Row {
    (name.to_owned(), value)
}

fn of_space(sheet: &Sheet) -> Vec<Row> {
    match &sheet.space {
        Space::Engine { dimensions, rig } => {
            let stated = |label, value: Option<String>| Some(row(label, value?));
            let length = |label, value: &Option<_>| {
                stated(label, value.as_ref().map(with_uncertainty::<Length>))
            };
            let ratio = |label, value: &Option<_>| {
                stated(label, value.as_ref().map(with_uncertainty::<Ratio>))
            };
            let displacement = dimensions.displacement.as_ref();
            let rows = [
                stated("Displacement", displacement.map(with_uncertainty)),
                length("Bore", &dimensions.bore),
                length("Stroke", &dimensions.stroke),
                length("Rod", &dimensions.rod),
                ratio(
                    "Primary compression ratio",
                    &dimensions.primary_compression_ratio,
                ),
                ratio("Compression ratio", &dimensions.compression_ratio),
                stated("Rig", Some(with_uncertainty(rig))),
            ];
            rows.into_iter().flatten().collect()
        }
        Space::Measured(volume) => vec![row("Volume, rig included", with_uncertainty(volume))],
        Space::Methods(_) => {
            let mut of_engine = sheet.runs.iter().filter(|run| run.rig_alone.is_none());
            let piston = of_engine.next().and_then(|run| run.piston);
            let volumes = sheet.volumes_for(piston);
            let each = volumes.iter().flat_map(|v| &v.each);
            each.map(|tested| {
                row(
                    &format!("Volume, {}", tested.method()),
                    with_uncertainty(tested.volume()),
                )
            })
            .collect()
        }
    }
}

fn of_bench(sheet: &Sheet, units: &Units) -> Vec<Row> {
    let gauge = &sheet.gauge;
    let in_gauge_unit = |p: Pressure| units.pressure(p.get::<pascal>());
    let class = gauge
        .accuracy_class()
        .map_or("not stated, taken at its word".to_owned(), |a| {
            format!("{} % of a span of {}", a.class, in_gauge_unit(a.span))
        });
    let at_bench = sheet.ambient_pressure();
    let at_bench = at_bench.map_or(String::new(), |at_bench| pressure(&at_bench, units));
    let mut rows = vec![
        row("Ambient pressure at the bench", at_bench),
        row("Temperature", with_uncertainty(&sheet.ambient.temperature)),
        row(
            "Allowance for drift",
            sheet.ambient.drift_allowance.trade().to_string(),
        ),
        row("Gauge reads in steps of", in_gauge_unit(gauge.step())),
        row("Noise of a reading", in_gauge_unit(gauge.noise())),
        row("Accuracy class", class),
        row("Stopwatch", gauge.stopwatch().trade().to_string()),
    ];
    rows.extend(of_altitude(&sheet.ambient, units));
    rows.extend(of_effects(&sheet.effects, units));
    rows.extend(thermometer(sheet).map(|of| row("Temperature logged of", of.to_owned())));
    rows.extend(of_gas(sheet));
    rows
}

/// What the ambient pressure was worked out from, where it is not what a barometer at the bench shows.
fn of_altitude(ambient: &Ambient, units: &Units) -> impl Iterator<Item = Row> {
    let at_sea_level = ambient.pressure.as_ref();
    let at_sea_level = at_sea_level.filter(|_| ambient.pressure_at == PressureAt::SeaLevel);
    let altitude = ambient.altitude.as_ref();
    let each = [
        at_sea_level.map(|p| row("Pressure at sea level", pressure(p, units))),
        altitude.map(|h| row("Altitude", with_uncertainty(h))),
    ];
    each.into_iter().flatten()
}

/// What the bench is stated to do of itself.
fn of_effects(effects: &Effects, units: &Units) -> impl Iterator<Item = Row> {
    let stated = |label, value: Option<String>| value.map(|value| row(label, value));
    let each = [
        stated(
            "Gauge without pressure",
            effects.zero.as_ref().map(|zero| pressure(zero, units)),
        ),
        stated(
            "Lag of the gauge",
            effects.lag.as_ref().map(with_uncertainty),
        ),
        stated(
            "Stretch of the volume",
            effects
                .stretch
                .as_ref()
                .map(|stretch| per_pressure(stretch, units)),
        ),
        stated(
            "Creep of the volume",
            effects
                .creep
                .as_ref()
                .map(|creep| per_pressure(creep, units)),
        ),
        stated(
            "Engine warmer than the room by",
            effects.warmth.as_ref().map(with_uncertainty),
        ),
        stated(
            "Dial tapped before each reading",
            (!effects.sticks).then(|| "yes".to_owned()),
        ),
    ];
    each.into_iter().flatten()
}

/// What the thermometer touched, where a run has temperatures.
fn thermometer(sheet: &Sheet) -> Option<&'static str> {
    let logged = |run: &Run| {
        run.record
            .readings()
            .is_some_and(|r| r.temperature().is_some())
    };
    let logged = sheet.runs.iter().any(logged);
    logged.then_some(match sheet.ambient.thermometer {
        Touched::Wall => "the wall of the case",
        Touched::Gas => "the gas inside",
        Touched::Room => "the air of the room",
        _ => "something nearby",
    })
}

/// What the gas was, where it was not dry air.
fn of_gas(sheet: &Sheet) -> Option<Row> {
    let gas = match &sheet.gas {
        TestGas::Air => {
            let humidity = sheet.ambient.humidity.as_ref()?;
            let percent = |ratio: Ratio| 100.0 * ratio.value;
            return Some(row(
                "Relative humidity",
                format!(
                    "{:.0} ± {:.0} %",
                    percent(humidity.value()),
                    percent(humidity.standard_uncertainty())
                ),
            ));
        }
        TestGas::Named(gas) => gas.name().to_owned(),
        TestGas::Given(gas) => format!(
            "{}, cp/cv {}, {}",
            gas.molar_mass.trade(),
            gas.heat_capacity_ratio,
            gas.viscosity.trade()
        ),
    };
    Some(row("Gas pumped in", gas))
}

fn of_limits(sheet: &Sheet, units: &Units) -> Vec<Row> {
    let each = sheet.limits.iter().map(|stated| {
        let source = stated
            .rule
            .map_or(String::new(), |rule| format!(" ({})", rule.name()));
        row("Limit", format!("{}{source}", units.limit(&stated.limit)))
    });
    each.collect()
}

pub(super) fn inputs(sheet: &Sheet, runs: &[SessionRun], units: &Units) -> Markup {
    let rows = [
        of_space(sheet),
        of_bench(sheet, units),
        of_limits(sheet, units),
    ]
    .concat();
    html! {
        section aria-labelledby="inputs-heading" {
            h2 #inputs-heading { "Inputs" }
            dl.inputs {
                @for (name, value) in &rows { div.wide[name == "Limit"] { dt { (name) } dd { (value) } } }
            }
            (how_each_was_made(sheet, runs))
        }
    }
}

fn how_each_was_made(sheet: &Sheet, runs: &[SessionRun]) -> Markup {
    let noted = sheet.runs.iter().any(|run| run.note.is_some());
    html! {
        div.scroll role="group" tabindex="0" aria-label="The runs" {
            table {
                caption { "What stands behind \u{b1} is a standard uncertainty." }
                thead {
                    tr {
                        th scope="col" { "Run" }
                        th scope="col" { "Piston" }
                        th scope="col" { "Volume under test" }
                        th scope="col" { "Blanked" }
                        th scope="col" { "Soap" }
                        @if noted { th scope="col" { "Note" } }
                    }
                }
                tbody {
                    @for (run, assessed) in sheet.runs.iter().zip(runs) {
                        tr {
                            th scope="row" { (run.name) }
                            td { (run.piston.map_or("not stated".to_owned(), |p| p.to_string())) }
                            td { (with_uncertainty(&assessed.bench.volume)) }
                            td { (list(&run.blanked, "nothing stated")) }
                            td { (soap(run)) }
                            @if noted { td { (run.note.as_deref().unwrap_or_default()) } }
                        }
                    }
                }
            }
        }
    }
}

fn list(sites: &[Site], none: &str) -> String {
    if sites.is_empty() {
        none.to_owned()
    } else {
        sites.iter().map(Site::words).collect::<Vec<_>>().join("; ")
    }
}

fn soap(run: &Run) -> String {
    let mut said = Vec::new();
    if !run.bubbles.is_empty() {
        said.push(format!("bubbles at {}", list(&run.bubbles, "")));
    }
    if !run.dry.is_empty() {
        said.push(format!("dry at {}", list(&run.dry, "")));
    }
    if said.is_empty() {
        "not used".to_owned()
    } else {
        said.join("; ")
    }
}
