//! What can't be is refused at its place, with what would be right.

use super::{DIRECT, FULL, parse, refused};
use crate::sheet::*;
use std::io;

#[test]
#[rustfmt::skip] // one case, one line
fn keys_and_types() {
    for (from, to, key, on, said) in [
        ("format = 1\n", "", "format", "", "missing; write `format = 1`"),
        ("format = 1", "format = 2\nnew_key = 1", "format", "format", "format 2 is not known"),
        ("format = 1", "format = \"1\"", "format", "format", "format \"1\" is not known"),
        ("title =", "titel =", "titel", "titel", "is `title` meant?"),
        ("[rig]", "[rigg]", "rigg", "[rigg]", "is `rig` meant?"),
        ("bore =", "Bore =", "engine.Bore", "Bore", "is `bore` meant?"),
        ("bore =", "cooling_fan =", "engine.cooling_fan", "cooling", "known here: `bore`, `bore_uncertainty`"),
        ("bore =", "\"b re\" =", "engine.\"b re\"", "b re", "is `bore` meant?"),
        ("strokes =", "stroks =", "run[4].stalled.stroks", "stroks", "is `strokes` meant?"),
        ("note =", "notes =", "run[1].notes", "notes", "is `note` meant?"),
        ("title = \"", "title = 3 #", "title", "title", "a bare number where text that says"),
        ("date = 2026-03-02", "date = 2026-03-02T08:00:00", "date", "2026", "`2026-03-02T08:00:00` is not a date"),
        ("date = 2026-03-02", "date = \"2026-02-30\"", "date", "2026", "the month has no such day"),
        ("date = 2026-03-02", "date = 2026", "date", "2026", "a bare number where a date such as"),
        ("machine = \"", "machine = \"\" #", "machine", "machine", "empty; write the machine's name"),
        ("title = \"", "title = \" \" #", "title", "title", "empty; write text that says"),
        ("[[run]]\nname = \"stalled\"", "[[rig]]\nname = \"stalled\"", "", "[[rig]]", "not TOML: "),
        ("[ambient]", "[[ambient]]", "ambient", "[[ambient]]", "a list where a table, headed `[ambient]` on a line of its own, belongs"),
        ("drift_allowance = \"0.3 K/min\"", "drift_allowance = true", "ambient.drift_allowance", "drift", "true or false where text with a number and a unit"),
        ("drift_allowance = \"0.3 K/min\"", "drift_allowance = 1979-05-27", "ambient.drift_allowance", "drift", "a date or time"),
        ("blanked = [\"exhaust_blank\", \"Intake blank\", \"oil pump shaft\"]", "blanked = \"all\"", "run[1].blanked", "blanked = ", "text where a list of sites"),
        ("accuracy_class = 1.6", "accuracy_class = \"fine\"", "gauge.accuracy_class", "accuracy", "where a number belongs"),
        ("rod = \"75 mm\"", "rod = \"75 mm", "", "rod = \"75", "not TOML: "),
    ] {
        refused(FULL, from, to, key, on, said);
    }
    // Of an engine's sheet as of one whose volume was measured.
    let gauge = &FULL[FULL.find("[gauge]").unwrap()..FULL.find("[limit]").unwrap()];
    refused(FULL, gauge, "", "gauge", "", "write `[gauge]`");
    let single = DIRECT.replace("[[run]]", "[run]");
    refused(
        &single,
        "",
        "",
        "run",
        "[run]",
        "each under [[run]] with two brackets",
    );
    // Cut off in the middle, as a copy that failed.
    let cut = &FULL[..FULL.find("at 6 psi").unwrap()];
    refused(cut, "", "", "", "note =", "not TOML: ");
    let twice = FULL.replace("rod =", "bore =");
    let again = parse(&twice).unwrap_err();
    assert_eq!(again.position().unwrap().line, 10, "{again}");
    assert!(again.to_string().contains("for the second time"), "{again}");
}

#[test]
#[rustfmt::skip] // one case, one line
fn volumes() {
    for (from, to, key, on, said) in [
        ("[engine]", "[volume]\nvalue = \"1 L\"\nuncertainty = \"1 cm3\"\n[engine]", "run[2].piston", "\"60 +- 2", "run[1] has \"bottom\""),
        ("bore = \"52.0 mm\"\n", "", "engine.bore", "[engine]", "missing; write `bore = \"52 mm\"`"),
        ("\"52.0 mm\"", "\"52.0\"", "engine.bore", "52.0", "`52.0` has no unit"),
        ("\"52.0 mm\"", "52.0", "engine.bore", "52.0", "`52.0` has no unit"),
        ("\"52.0 mm\"", "\"1,052 mm\"", "engine.bore", "1,052", "write `1052 mm` or `1.052 mm`"),
        ("\"52.0 mm\"", "\"-52.0 mm\"", "engine.bore", "-52.0", "not a finite length above zero"),
        ("\"75 mm\"", "\"15 mm\"", "engine.rod", "15 mm", "longer than the crank's throw"),
        ("\"0.1 mm\"", "\"-0.1 mm\"", "engine.rod_uncertainty", "-0.1 mm", "uncertainty"),
        ("\"0.1 mm\"", "\"+- a bit\"", "engine.rod_uncertainty", "a bit", "not one number and one unit"),
        ("primary_compression_ratio = 1.45", "primary_compression_ratio = 0.9", "engine.primary_compression_ratio", "0.9", "above 1"),
        ("primary_compression_ratio = 1.45", "primary_compression_ratio = \"1.45 mm\"", "engine.primary_compression_ratio", "1.45 mm", "not a unit of ratio"),
        ("compression_ratio = \"8.2:1\"\n", "", "engine.compression_ratio_uncertainty", "compression_ratio_uncertainty", "needs `compression_ratio` beside it"),
        ("bore = \"52.0 mm\"\n", "displacement_uncertainty = \"1 cm3\"\n", "engine.bore", "[engine]", "missing; write `bore = \"52 mm\"`"),
        ("bore = \"52.0 mm\"\nstroke = \"1.575 in\"\nstroke_uncertainty = \"+- 0.002 in\"\n", "", "engine", "[engine]", "the displacement is enough, such as `displacement = \"51.5 cm3\"`"),
        ("bore = \"52.0 mm\"", "bore = \"52.0 mm\"\ndisplacement = \"95 cm3\"", "engine.displacement", "95 cm3", "contradicts bore and stroke, which make 84.96 cm3; correct the one that is wrong"),
        ("bore = \"52.0 mm\"\n", "displacement = \"0 cm3\"\n", "engine.displacement", "0 cm3", "must be above zero"),
        ("\"35 cm3\"", "\"-35 cm3\"", "rig.volume", "-35", "below zero"),
        ("volume = \"35 cm3\"", "", "rig.volume", "[rig]", "write `volume = \"35 cm3\"`"),
        ("piston = \"bottom\"", "", "run[1].piston", "[[run]]", "depends on where the piston stands"),
        ("piston = \"bottom\"", "piston = \"60 deg\"", "run[1].piston", "60 deg\"", "60 deg, transfers shut"),
        ("piston = \"bottom\"", "piston = 60", "run[1].piston", "piston = 60\n", "where a piston position belongs"),
    ] {
        refused(FULL, from, to, key, on, said);
    }
    for (from, to, key, on, said) in [
        ("[volume]\nvalue = \"250 cm3\"\nuncertainty = \"5 cm3\"\n", "", "", "", "needs one of `engine`, `volume`"),
        ("uncertainty = \"5 cm3\"\n", "", "volume.uncertainty", "[volume]", "write `uncertainty = \"5 cm3\"`"),
        ("\"250 cm3\"", "\"0 cm3\"", "volume.value", "\"0 cm3\"", "not above zero"),
        ("[ambient]", "[rig]\nvolume = \"3 cm3\"\n[ambient]", "rig", "[rig]", "so remove [rig]"),
    ] {
        refused(DIRECT, from, to, key, on, said);
    }
    // One measured volume and two places of the piston.
    let two = format!(
        "{DIRECT}piston = \"top\"\n[[run]]\nname = \"two\"\npiston = \"bottom\"\nreadings = [[0, 4], [1, 3]]\n"
    );
    refused(
        &two,
        "",
        "",
        "run[2].piston",
        "\"bottom\"",
        "run[1] has \"top\"",
    );
    assert!(parse(&two.replace("\"top\"", "\"170 deg, transfers open\"")).is_ok());
}

#[test]
#[rustfmt::skip] // one case, one line
fn surroundings_and_gauge() {
    for (from, to, key, on, said) in [
        ("pressure = \"1013 hPa\"\n", "", "ambient.pressure", "[ambient]", "write `pressure = \"1013 hPa\"`"),
        ("\"1013 hPa\"", "\"1013 Pa\"", "ambient.pressure", "1013 Pa", "\"1013 Pa\" is outside 30000 to 120000 Pa"),
        ("\"1013 hPa\"", "\"0 psig\"", "ambient.pressure", "psig", "add the ambient pressure"),
        ("temperature = \"20 C\"\n", "", "ambient.temperature", "[ambient]", "write `temperature = \"21 C\"`"),
        ("\"20 C\"", "\"293 C\"", "ambient.temperature", "293", "\"293 C\" is outside -60 to 100 C"),
        ("\"20 C\"", "\"20 C\"\ntemperature_uncertainty = \"2 C above\"", "ambient.temperature_uncertainty", "above", "not a unit of temperature difference"),
        ("\"20 C\"", "\"20 C\"\ndrift_allowance = \"-1 K/min\"", "ambient.drift_allowance", "K/min", "must not be below zero"),
        ("\"20 C\"", "\"20 C\"\ndrift_allowance = \"1 K\"", "ambient.drift_allowance", "\"1 K\"", "K/min"),
        ("[ambient]\npressure = \"1013 hPa\"\ntemperature = \"20 C\"\n", "", "ambient", "", "write `[ambient]`"),
        ("[gauge]\nunit = \"kPa\"\nresolution = \"0.1 kPa\"\n", "", "gauge", "", "write `[gauge]`"),
        ("unit = \"kPa\"\n", "", "gauge.unit", "[gauge]", "write `unit = \"psi\"`"),
        ("unit = \"kPa\"", "unti = \"kPa\"", "gauge.unti", "unti", "is `unit` meant?"),
        ("[ambient]\n", "", "ambient", "", "write `[ambient]`"),
        ("unit = \"kPa\"", "unit = \"kpa\"", "gauge.unit", "kpa", "`kpa` is not a unit of gauge pressure"),
        ("unit = \"kPa\"", "unit = \"psia\"", "gauge.unit", "psia", "subtract the ambient"),
        ("resolution = \"0.1 kPa\"\n", "", "gauge", "[gauge]", "needs one of `division`, `resolution`; a dial has"),
        ("resolution = \"0.1 kPa\"", "resolution = \"0.1 kPa\"\ndivision = \"1 kPa\"", "gauge.resolution", "resolution", "this and `division` exclude each other"),
        ("resolution = \"0.1 kPa\"", "resolution = \"0 kPa\"", "gauge.resolution", "\"0 kPa\"", "must be above zero"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nreadable = \"1 kPa\"", "gauge.readable", "readable", "needs `division` beside it"),
        ("resolution = \"0.1 kPa\"", "division = \"1 kPa\"\nreadable = \"2 kPa\"", "gauge.readable", "readable", "larger than the division"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nnoise = \"-1 Pa\"", "gauge.noise", "noise", "not below zero"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\naccuracy_class = 1.6", "gauge.accuracy_class", "accuracy", "needs `span` beside it"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nspan = \"1 bar\"", "gauge.span", "span", "needs `accuracy_class` beside it"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nspan = \"1 bar\"\naccuracy_class = 30", "gauge.accuracy_class", "accuracy", "up to 20"),
        ("resolution = \"0.1 kPa\"", "resolution = \"1 kPa\"\nstopwatch = \"-1 s\"", "gauge.stopwatch", "stopwatch", "not below zero"),
    ] {
        refused(DIRECT, from, to, key, on, said);
    }
}

#[test]
#[rustfmt::skip] // one case, one line
fn gas_and_humidity() {
    for (to, key, on, said) in [
        ("[gas]\nname = \"argn\"\n[gauge]", "gas.name", "argn", "\"argon\""),
        ("[gas]\nname = \"argon\"\nviscosity = \"22 uPa s\"\n[gauge]", "gas.viscosity", "viscosity", "this and `name` exclude each other"),
        ("[gas]\nmolar_mass = \"39.9 g/mol\"\nheat_capacity_ratio = 1.667\n[gauge]", "gas.molar_mass", "molar_mass", "needs `viscosity` beside it, such as `viscosity = \"18 uPa s\"`"),
        ("[gas]\nname = \"argon\"\nmolar_mass = \"39.9 g/mol\"\nheat_capacity_ratio = 1.667\nviscosity = \"22 uPa s\"\n[gauge]", "gas.molar_mass", "molar_mass", "this and `name` exclude each other"),
        ("[gas]\nmolar_mass = \"0 g/mol\"\nheat_capacity_ratio = 1.667\nviscosity = \"22 uPa s\"\n[gauge]", "gas.molar_mass", "molar_mass", "must be above zero"),
        ("[gas]\nmolar_mass = \"40\"\nheat_capacity_ratio = 1.667\nviscosity = \"22 uPa s\"\n[gauge]", "gas.molar_mass", "molar_mass", "has no unit"),
        ("[gas]\nmolar_mass = \"40 g/mol\"\nheat_capacity_ratio = 1.0\nviscosity = \"22 uPa s\"\n[gauge]", "gas.heat_capacity_ratio", "heat_capacity_ratio", "outside 1.01 to 1.67"),
        ("[gas]\nmolar_mass = \"40 g/mol\"\nheat_capacity_ratio = nan\nviscosity = \"22 uPa s\"\n[gauge]", "gas.heat_capacity_ratio", "heat_capacity_ratio", "outside 1.01 to 1.67"),
        ("[gas]\nmolar_mass = \"40 g/mol\"\nheat_capacity_ratio = 1.4\nviscosity = \"-1 uPa s\"\n[gauge]", "gas.viscosity", "viscosity", "must be above zero"),
        ("humidity = \"101 %\"\n[gauge]", "ambient.humidity", "101 %", "outside 0 to 1 (100 %)"),
        ("humidity = \"-1 %\"\n[gauge]", "ambient.humidity", "-1 %", "outside 0 to 1 (100 %)"),
        ("humidity = \"60 C\"\n[gauge]", "ambient.humidity", "60 C", "not a unit of ratio"),
        ("humidity_uncertainty = \"5 %\"\n[gauge]", "ambient.humidity_uncertainty", "humidity", "needs `humidity` beside it"),
        ("humidity = \"60 %\"\n[gas]\nname = \"argon\"\n[gauge]", "ambient.humidity", "humidity", "another gas is pumped in"),
        ("humidity = \"60 %\"\n[gas]\nname = \"dry air\"\n[gauge]", "ambient.humidity", "humidity", "another gas is pumped in"),
    ] {
        refused(DIRECT, "[gauge]", to, key, on, said);
    }
    let cold = DIRECT.replace("\"20 C\"", "\"-10 C\"");
    refused(&cold, "[gauge]", "humidity = \"60 %\"\n[gauge]", "ambient.humidity", "humidity", "where the humidity's formula holds");
}

#[test]
#[rustfmt::skip] // one case, one line
fn limits_and_assumptions() {
    let with = format!("{DIRECT}[limit]\nmin_hold = \"5 min\"\n[assumptions]\nlevel = 0.9\n");
    for (to, key, on, said) in [
        ("", "limit", "[limit]", "needs one of `max_drop`, `max_area`, `max_flow`, `min_hold`, `rule`"),
        ("from = \"7 psi\"", "limit", "[limit]", "leave [limit] out and no run is judged"),
        ("max_drop = \"1 psi\"\nover = \"60 s\"", "limit.max_drop", "max_drop", "needs `from` beside it, such as `from = \"7 psi\"`"),
        ("max_drop = \"1 psi\"\nfrom = \"7 psi\"", "limit.max_drop", "max_drop", "needs `over`"),
        ("min_hold = \"1 min\"\nover = \"1 min\"", "limit.over", "over", "needs `max_drop`"),
        ("max_area = \"1 mm2\"\nfrom = \"7 psi\"", "limit.from", "from", "needs `max_drop`"),
        ("max_area = \"1 mm2\"\nat_volume = \"1 L\"", "limit.at_volume", "at_volume", "needs `max_drop`"),
        ("max_area = \"1 mm2\"\nreference = \"ANR\"", "limit.reference", "reference", "needs `max_flow`"),
        ("max_drop = \"7 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"", "limit.max_drop", "max_drop", "not smaller than"),
        ("max_drop = \"1 psi\"\nfrom = \"-7 psi\"\nover = \"60 s\"", "limit.from", "from", "\"-7 psi\" must be above zero"),
        ("max_drop = \"1 psig\"\nfrom = \"7 psi\"\nover = \"60 s\"", "limit.max_drop", "max_drop", "neither gauge nor absolute"),
        ("max_area = \"1 mm\"", "limit.max_area", "max_area", "not a unit of area"),
        ("max_flow = \"0 sccm\"", "limit.max_flow", "max_flow", "must be above zero"),
        ("max_flow = \"1 sccm\"\nreference = \"standard\"", "limit.reference", "reference", "states no reference conditions"),
        ("min_hold = \"0 s\"", "limit.min_hold", "min_hold", "must be above zero"),
        ("rule = \"two psi a day\"", "limit.rule", "rule", "write \"common practice: one psi a minute\""),
    ] {
        refused(&with, "min_hold = \"5 min\"", to, key, on, said);
    }
    for (to, key, said) in [
        ("level = 95", "assumptions.level", "95 is outside 0.5 to 0.9999"),
        ("level = nan", "assumptions.level", "nan is outside"),
        ("discharge_coefficient = 1.2", "assumptions.discharge_coefficient", "above 0, up to 1"),
        ("flow_reference = 20", "assumptions.flow_reference", "where reference conditions as text belongs"),
    ] {
        refused(&with, "level = 0.9", to, key, to, said);
    }
}

#[test]
#[rustfmt::skip] // one case, one line
fn runs() {
    const GOOD: &str = "readings = [[0, 48.0], [60, 45.0]]";
    for (to, key, on, said) in [
        ("", "run[1]", "[[run]]", "needs one of `readings`, `file`, `stalled`"),
        ("readings = [[0, 4], [1, 3]]\nfile = \"logged.csv\"", "run[1].file", "file", "this and `readings` exclude each other"),
        ("readings = []", "run[1].readings", "readings", "at least two readings"),
        ("readings = [[0, 48.0]]", "run[1].readings", "readings", "at least two readings"),
        ("readings = [[0, 48.0],\n[60]]", "run[1].readings[2]", "[60]", "1 value where a reading"),
        ("readings = [[0, 48.0],\n[60, 1, 2]]", "run[1].readings[2]", "[60", "where a reading `[seconds, gauge]`"),
        ("readings = [[0, 48.0],\n60]", "run[1].readings[2]", "60]", "a bare number where a reading"),
        ("readings = [[0, 48.0],\n[60, \"low\"]]", "run[1].readings[2][2]", "low", "where a number belongs"),
        ("readings = 48", "run[1].readings", "readings", "where a list of readings"),
        ("readings = [[0, 48.0],\n[60, nan]]", "run[1].readings[2]", "nan", "reading 2: the gauge pressure is NaN"),
        ("readings = [[0, 48.0],\n[60, 45.0],\n[59, 44.0]]", "run[1].readings[3]", "[59", "reading 3: time 59 s does not come after 60 s"),
        ("readings = [[0, 48.0],\n[60, -45.0]]", "run[1].readings[2]", "-45", "make them two runs"),
        ("readings = [\n[0, 0],\n[60, 48.0]]", "run[1].readings[1]", "[0, 0]", "record the run as stalled"),
        ("file = \"\"", "run[1].file", "file", "empty; write the name of a trace's file"),
        ("file = \"lost.csv\"", "run[1].file", "file", "can't open the trace `lost.csv`: no such trace"),
        ("file = \"cut.csv\"", "run[1].file", "file", "trace `cut.csv`: line 4: 1 of 2 fields"),
        ("file = \"back.csv\"", "run[1].file", "file", "trace `back.csv`, line 6: reading 3: time 1 s"),
        ("file = \"one.csv\"", "run[1].file", "file", "trace `one.csv`: 1 reading(s)"),
        ("stalled = 1", "run[1].stalled", "stalled", "where a table { strokes"),
        ("stalled = { strokes = 3, stroke_volume = \"25 cm3\", over = \"3 s\" }", "run[1].stalled.reached", "stalled", "write `reached = \"0.5 psi\"`"),
        ("stalled = { strokes = 0, stroke_volume = \"25 cm3\", over = \"3 s\", reached = \"1 kPa\" }", "run[1].stalled.strokes", "stalled", "0 is outside the whole numbers from 1"),
        ("stalled = { strokes = 2.5, stroke_volume = \"25 cm3\", over = \"3 s\", reached = \"1 kPa\" }", "run[1].stalled.strokes", "stalled", "2.5 is outside"),
        ("stalled = { strokes = 3, stroke_volume = \"0 cm3\", over = \"3 s\", reached = \"1 kPa\" }", "run[1].stalled.stroke_volume", "stalled", "must be above zero"),
        ("stalled = { strokes = 3, stroke_volume = \"25 cm3\", over = \"3 s\", reached = \"-2 bar\" }", "run[1].stalled.reached", "stalled", "below a perfect vacuum"),
        ("readings = [[0, 4], [1, 3]]\nblanked = [\"base gaskt\"]", "run[1].blanked[1]", "gaskt", "write \"base gasket\""),
        ("readings = [[0, 4], [1, 3]]\nblanked = [\"case seam\", \"Case-Seam\"]", "run[1].blanked[2]", "blanked", "already in `blanked`"),
        ("readings = [[0, 4], [1, 3]]\nbubbles = [\"case seam\"]\ndry = [\"case seam\"]", "run[1].dry[1]", "dry", "\"case seam\" is already in `bubbles`"),
        ("readings = [[0, 4], [1, 3]]\ndry = [7]", "run[1].dry[1]", "dry", "where a site belongs"),
        ("readings = [[0, 4], [1, 3]]\nnote = \"\"", "run[1].note", "note", "empty"),
        ("readings = [[0, 4], [1, 3]]\n[[run]]\nname = \" one\"\nfile = \"logged.csv\"", "run[2].name", "\" one\"", "run[1] has the name \"one\" too"),
    ] {
        refused(DIRECT, GOOD, to, key, on, said);
    }
}

#[test]
fn a_run_needs_a_name_and_a_file_that_can_be_opened() {
    refused(
        DIRECT,
        "name = \"one\"\n",
        "",
        "run[1].name",
        "[[run]]",
        "write `name =",
    );
    refused(
        DIRECT,
        "\"one\"",
        "\"\"",
        "run[1].name",
        "name",
        "empty; write a name",
    );
    let error = Sheet::parse(FULL, "s", &NoTraces).unwrap_err();
    assert!(matches!(
        error.problem(),
        Problem::TraceUnreadable {
            kind: io::ErrorKind::Unsupported,
            ..
        }
    ));
    assert_eq!((error.file(), error.key()), ("s", "run[3].file"));
}

/// What is wrong is quoted on one line, whatever it holds, wherever the error goes.
#[test]
fn an_error_quotes_control_characters_by_their_numbers() {
    for (from, to) in [
        ("bore = ", "\"b\\u001bore\\nfaked: line\" = "),
        ("unit = \"psi\"", "unit = \"p\\u001bsi\\nfaked: line\""),
        (
            "name = \"vacuum\"",
            "name = \"vacuum\"\npiston = \"mid\\u001b\\nfaked: line\"\nrig = 1",
        ),
    ] {
        let words = parse(&FULL.replacen(from, to, 1)).unwrap_err().to_string();
        assert!(!words.contains(char::is_control), "{words:?}");
    }
    let named = Sheet::parse("format = 2", "a\u{1b}[2J\nb.toml", &NoTraces).unwrap_err();
    assert!(
        named.to_string().starts_with("a\\u001B[2J\\nb.toml:1:"),
        "{named}"
    );
}
