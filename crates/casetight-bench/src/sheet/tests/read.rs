//! What a sheet says is read.

use super::{DIRECT, FULL, parse, traces};
use crate::assess::Assumptions;
use crate::record::{Chosen, Date, Site};
use crate::sheet::*;
use casetight::gauge::Gauge;
use casetight::limit::{Limit, Rule};
use casetight::measured::{Distribution, Evaluation};
use casetight::quantity::{
    Area, Length, Pressure, ReferenceConditions, Time, TradeUnits, VolumeRate,
};
use casetight::vessel::{DecayLaw, Direction};
use casetight::volume::Method;
use uom::si::length::millimeter;
use uom::si::pressure::pascal;
use uom::si::ratio::ratio;
use uom::si::temperature_interval::kelvin;
use uom::si::volume::cubic_centimeter;

#[test]
fn a_full_sheet_is_read() {
    let sheet = parse(FULL).unwrap();
    assert_eq!(sheet.title, "Mist blower 14, \"after\" new seals");
    assert_eq!(sheet.machine.as_deref(), Some("mist blower 14"));
    assert_eq!(sheet.date, Some(Date::new(2026, 3, 2).unwrap()));
    let quoted = parse(&FULL.replace("2026-03-02", "\" 2026-03-02 \"")).unwrap();
    assert_eq!(quoted.date, sheet.date);
}

/// Dimensions, surroundings and gauge.
#[test]
fn what_is_measured_is_read_with_its_uncertainty() {
    let sheet = parse(FULL).unwrap();
    let Space::Engine { dimensions, rig } = &sheet.space else {
        panic!("no engine");
    };
    let rectangular = Evaluation::TypeB(Distribution::Rectangular);
    let normal = Evaluation::TypeB(Distribution::Normal);
    let mm = |u: Length| u.get::<millimeter>();
    let cases = [
        // Half the last digit, a tolerance, a standard uncertainty; JCGM 100, 4.3.7: rectangular, u = a/sqrt(3).
        (
            dimensions.bore.as_ref(),
            0.05 / 3_f64.sqrt(),
            rectangular,
            LAST_DIGIT,
        ),
        (
            dimensions.stroke.as_ref(),
            0.0508 / 3_f64.sqrt(),
            rectangular,
            STATED,
        ),
        (dimensions.rod.as_ref(), 0.1, normal, STATED),
    ];
    for (length, u, evaluation, from) in cases {
        let length = length.unwrap();
        assert!((mm(length.standard_uncertainty()) - u).abs() < 1e-12);
        assert_eq!((length.evaluation(), length.source()), (evaluation, from));
    }
    let primary = dimensions.primary_compression_ratio.as_ref().unwrap();
    let u = primary.standard_uncertainty().get::<ratio>();
    assert!((u - 0.005 / 3_f64.sqrt()).abs() < 1e-15);
    let compression = dimensions.compression_ratio.as_ref().unwrap();
    assert_eq!(compression.value().get::<ratio>(), 8.2);
    assert_eq!(rig.standard_uncertainty(), Volume::parse("3 cm3").unwrap());
    assert_eq!(
        sheet
            .ambient
            .pressure
            .as_ref()
            .unwrap()
            .standard_uncertainty()
            .get::<pascal>(),
        50.0
    );
    assert_eq!(sheet.ambient.temperature.source(), USUAL);
    let drift = sheet.ambient.drift_allowance;
    assert_eq!(drift.kelvins_per_second(), 0.005);
    let psi = |value| Pressure::parse(&format!("{value} psi")).unwrap();
    let gauge = Gauge::dial(psi(0.5), psi(0.25)).unwrap();
    assert_eq!(
        (sheet.gauge.step(), sheet.gauge.noise()),
        (gauge.step(), gauge.noise())
    );
    assert_eq!(sheet.gauge.accuracy_class().unwrap().span, psi(15.0));
    assert_eq!(sheet.gauge.stopwatch(), Time::parse("0.2 s").unwrap());
    assert_eq!(sheet.gauge_unit.symbol(), "psi");
}

#[test]
fn limits_are_read_in_the_order_of_their_keys() {
    let sheet = parse(FULL).unwrap();
    let psi = |value| Pressure::parse(&format!("{value} psi")).unwrap();
    let minute = Time::parse("1 min").unwrap();
    let expected = [
        Limit::Drop {
            drop: psi(1.0),
            from: psi(7.0),
            over: minute,
            at_volume: Some(Volume::parse("300 cm3").unwrap()),
        },
        Limit::Area(Area::parse("0.01 mm2").unwrap()),
        Limit::Flow {
            flow: VolumeRate::parse("5 sccm").unwrap(),
            reference: ReferenceConditions::ANR,
        },
        Limit::Hold {
            time: minute + minute,
            from: Some(psi(7.0)),
        },
        Rule::OnePsiAMinute.limit(),
    ];
    let limits: Vec<Limit> = sheet.limits.iter().map(|stated| stated.limit).collect();
    assert_eq!(limits, expected);
    let rules: Vec<bool> = sheet.limits.iter().map(|s| s.rule.is_some()).collect();
    assert_eq!(rules, [false, false, false, false, true]);

    assert_eq!(
        sheet.assumptions,
        Assumptions {
            discharge_coefficient: 0.65,
            level: 0.9,
            flow_reference: ReferenceConditions::ISA,
            law: None,
            pressure_unit: sheet.gauge_unit,
        }
    );
}

#[test]
fn runs_are_read_with_what_was_seen() {
    let sheet = parse(FULL).unwrap();
    let psi = |value| Pressure::parse(&format!("{value} psi")).unwrap();
    let [blanked, vacuum, logged, stalled] = sheet.runs.as_slice() else {
        panic!("{} runs", sheet.runs.len());
    };
    let own = Site::Other("oil pump shaft".into());
    assert_eq!(
        blanked.blanked,
        [Site::ExhaustBlank, Site::IntakeBlank, own]
    );
    assert_eq!(blanked.bubbles, [Site::CrankSealDriveSide]);
    assert_eq!(blanked.dry, [Site::BaseGasket]);
    assert_eq!(blanked.note.as_deref(), Some("needle sticks\nat 6 psi"));
    let readings = blanked.record.readings().unwrap();
    assert_eq!(readings.times_s(), [0.0, 30.5, 60.0, 90.0]);
    // Published: NIST SP 811, B.8: 1 psi is 6894.757 Pa.
    assert!((readings.gauges_pa()[0] - 7.0 * 6894.757).abs() < 0.01);
    assert_eq!(
        vacuum.record.readings().unwrap().direction(),
        Direction::Vacuum
    );
    let Record::Trace {
        file,
        readings,
        temperature_k,
        window,
        ..
    } = &logged.record
    else {
        panic!("no trace");
    };
    assert_eq!((file.as_str(), readings.len()), ("logged.csv", 2));
    assert_eq!(temperature_k.as_deref(), Some(&[293.15, 293.15][..]));
    assert_eq!(window.chosen, Chosen::Whole);
    assert!(stalled.record.readings().is_none());
    let Record::Stalled(stalled) = stalled.record else {
        panic!("not stalled");
    };
    assert_eq!((stalled.strokes, stalled.reached.size()), (30, psi(0.3)));
}

#[test]
fn what_is_not_stated() {
    let sheet = parse(DIRECT).unwrap();
    assert_eq!(sheet.title, "");
    let ambient = &sheet.ambient;
    assert_eq!(
        sheet
            .ambient_pressure()
            .unwrap()
            .standard_uncertainty()
            .get::<pascal>(),
        100.0
    );
    assert_eq!(
        ambient.temperature.standard_uncertainty().get::<kelvin>(),
        1.0
    );
    assert_eq!(ambient.drift_allowance, "0.1 K/min".parse().unwrap());
    assert_eq!(sheet.gauge.noise(), Pressure::parse("50 Pa").unwrap());
    assert!(sheet.gauge.accuracy_class().is_none());
    assert!(sheet.limits.is_empty());
    assert_eq!(sheet.assumptions, Assumptions::default());
    assert_eq!(sheet.assumptions.discharge_coefficient, 0.62);
    assert_eq!(sheet.assumptions.level, 0.95);
    assert_eq!(sheet.runs[0].piston, None);

    // No readable step: the division.
    let dial = DIRECT.replace("resolution", "division");
    let dial = parse(&dial).unwrap().gauge;
    assert_eq!(dial.step(), Pressure::parse("0.1 kPa").unwrap());
    assert_eq!(dial.stopwatch(), Time::parse("0.15 s").unwrap());
    // A limit's flow counts at the sheet's reference.
    let flow =
        format!("{DIRECT}[limit]\nmax_flow = \"5 sccm\"\n[assumptions]\nflow_reference = \"ANR\"");
    assert!(matches!(
        parse(&flow).unwrap().limits[0].limit,
        Limit::Flow { reference, .. } if reference == ReferenceConditions::ANR
    ));
    // A hold without a pressure starts where the run starts.
    let hold = format!("{DIRECT}[limit]\nmin_hold = \"5 min\"");
    assert!(matches!(
        parse(&hold).unwrap().limits[0].limit,
        Limit::Hold { from: None, .. }
    ));
    // No runs yet.
    let none = &DIRECT[..DIRECT.find("[[run]]").unwrap()];
    assert!(parse(none).unwrap().runs.is_empty());
    // A rig that the dimensions already hold.
    let rig = FULL.replace("\"35 cm3\"\nuncertainty = \"3 cc\"", "\"0 cm3\"");
    let Space::Engine { rig, .. } = parse(&rig).unwrap().space else {
        panic!("no engine");
    };
    assert_eq!(rig.standard_uncertainty().get::<cubic_centimeter>(), 0.0);
}

#[test]
fn volumes_follow_the_piston() {
    let sheet = parse(FULL).unwrap();
    let cm3 = |index: usize| {
        let bench = sheet.bench_for(&sheet.runs[index]).unwrap();
        bench.volume.value().get::<cubic_centimeter>()
    };
    // By hand, case + swept + clearance + rig: swept = pi/4 5.2^2 4.0005 = 84.959 cm3;
    // 84.959 (1/0.45 + 1 + 1/7.2) + 35 = 320.55. At the top with the transfers shut: 84.959 (1/0.45 + 1) + 35 = 308.75.
    assert!((cm3(0) - 320.555).abs() < 0.01, "{}", cm3(0));
    assert!((cm3(2) - 308.756).abs() < 0.01, "{}", cm3(2));
    assert!(cm3(1) < cm3(2));
    let error = sheet.volume_for(None).unwrap_err();
    assert_eq!(error.problem(), &Problem::NoPiston);
    assert!(
        error
            .to_string()
            .starts_with("volume: the volume depends on"),
        "{error}"
    );
    let direct = parse(DIRECT).unwrap();
    let tested = direct.volume_for(Some(Piston::Top)).unwrap();
    assert_eq!(tested.method(), Method::MeasuredDirectly);
    let bench = direct.bench_for(&direct.runs[0]).unwrap();
    assert_eq!(&bench.volume, tested.volume());
    assert_eq!(bench.gauge, direct.gauge);
}

#[test]
fn columns_count_characters() {
    let text = DIRECT.replace(
        "[volume]",
        "volume = { value = \"\u{b5} cm3\", uncertainty = \"1 \u{b5}m\", x = 1 }",
    );
    let text = text.replace("value = \"250 cm3\"\nuncertainty = \"5 cm3\"\n", "");
    let error = parse(&text).unwrap_err();
    let position = Position {
        line: 2,
        column: 51,
    };
    assert_eq!(
        (error.key(), error.position()),
        ("volume.x", Some(position))
    );
}

#[test]
fn bytes_must_be_utf8() {
    let read = |bytes: &[u8]| Sheet::from_bytes(bytes, "s", &traces());
    let plain = parse(FULL).unwrap();
    assert_eq!(read(FULL.as_bytes()).as_ref(), Ok(&plain));
    let marked = format!("\u{feff}{FULL}");
    assert_eq!(read(marked.as_bytes()).as_ref(), Ok(&plain));
    assert_eq!(parse(&marked).as_ref(), Ok(&plain));

    let words = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    assert_eq!(
        words(b"format = 1\ntitle = \"20 \xB0C\"\n"),
        "s: encoding: byte 23 (line 2) is not UTF-8 text; save the file as UTF-8"
    );
    let utf16: Vec<u8> = marked.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert!(words(&utf16).contains("byte 0 (line 1) looks like UTF-16"));
    assert!(words(&utf16[2..]).contains("byte 1 (line 1) looks like UTF-16"));
}

#[test]
#[rustfmt::skip] // one case, one line
fn heat_law_and_the_rig_alone() {
    let text = DIRECT.replace("[gauge]", "[heat]\nconductance = \"0.5 W/K\"\nconductance_factor = 1.3\nsettled_for = \"10 s\"\n\n[assumptions]\nlaw = \"laminar\"\n\n[gauge]")
        + "\n[[run]]\nname = \"rig\"\nrig_alone = \"35 cm3\"\nsettled_for = \"20 s\"\nreadings = [[0, 48.0], [60, 47.9], [120, 47.8]]\n";
    let sheet = parse(&text).unwrap();
    assert_eq!(parse(&sheet.to_toml().unwrap()).unwrap(), sheet);
    assert_eq!(sheet.assumptions.law, Some(DecayLaw::Laminar));
    let rig = sheet.runs.last().unwrap();
    let bench = sheet.bench_for(rig).unwrap();
    assert!((bench.volume.value().si_value() - 35e-6).abs() < 1e-12);
    assert!((bench.heat.settled_for.si_value() - 20.0).abs() < 1e-12);
    let engine = sheet.bench_for(&sheet.runs[0]).unwrap();
    assert!((engine.heat.settled_for.si_value() - 10.0).abs() < 1e-12);
    for (from, to, key, said) in [
        ("conductance_factor = 1.3", "conductance_factor = 0.3", "heat.conductance_factor", "the numbers from 1 on"),
        ("\"0.5 W/K\"", "\"-0.5 W/K\"", "heat.conductance", "above zero"),
        ("conductance = \"0.5 W/K\"\n", "", "heat.conductance_factor", "conductance = \"0.35 W/K\""),
        ("settled_for = \"10 s\"", "settled_for = \"-1 s\"", "heat.settled_for", "below zero"),
        ("settled_for = \"20 s\"", "settled_for = \"20 m\"", "run[2].settled_for", "not a unit of time"),
        ("law = \"laminar\"", "law = \"crack\"", "assumptions.law", "laminar"),
        ("rig_alone = \"35 cm3\"", "rig_alone = true", "run[2].rig_alone", "no rig volume"),
        ("rig_alone = \"35 cm3\"", "rig_alone = \"-5 cm3\"", "run[2].rig_alone", "above zero"),
    ] {
        let error = parse(&text.replace(from, to)).unwrap_err();
        assert_eq!(error.key(), key, "{error}");
        assert!(error.to_string().contains(said), "{error} lacks {said}");
    }
}
