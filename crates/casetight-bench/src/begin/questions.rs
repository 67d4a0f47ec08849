//! The questions of a new sheet, in the order that they are asked in: one entry each.

use casetight::quantity::{
    AbsolutePressure, Length, ParseQuantityError, Pressure, ThermodynamicTemperature, Time,
    TradeUnits, Volume,
};

use super::answers::{Answers, Ask, ReplyError, Takes, Then, Topic};

/// Makes of a written quantity what the sheet has.
type Check = fn(&str) -> Result<String, ReplyError>;

/// A question: when it is asked, how, and what a written reply must be.
#[derive(Debug)]
pub(super) struct Question {
    pub(super) topic: Topic,
    pub(super) is_asked: fn(&Answers) -> bool,
    pub(super) asks: fn(&Answers) -> Ask,
    /// Of a question that takes a quantity: that as the sheet has it.
    pub(super) checks: Option<Check>,
}

/// A gauge by its unit, and what is usual on such a one (common practice, no source).
#[derive(Debug)]
pub(super) struct GaugeUnit {
    pub(super) unit: &'static str,
    /// From mark to mark of a dial, and where that is not known.
    mark: &'static str,
    pub(super) coarse_mark: &'static str,
    /// The last digit of a display, and where that is not known.
    digit: &'static str,
    pub(super) coarse_digit: &'static str,
    /// What a limit often starts from, and lets fall.
    from: &'static str,
    drop: &'static str,
    /// Something that it may show.
    pub(super) example: &'static str,
    /// Whether who has such a gauge writes Fahrenheit and feet.
    is_inch: bool,
}

const PSI: &GaugeUnit = &GaugeUnit {
    unit: "psi",
    mark: "0.5 psi",
    coarse_mark: "1 psi",
    digit: "0.01 psi",
    coarse_digit: "0.1 psi",
    from: "7 psi",
    drop: "1 psi",
    example: "6.8",
    is_inch: true,
};

/// The gauges that there are to choose from.
const UNITS: &[(&str, &GaugeUnit)] = &[
    ("psi", PSI),
    (
        "kPa",
        &GaugeUnit {
            unit: "kPa",
            mark: "2 kPa",
            coarse_mark: "5 kPa",
            digit: "0.1 kPa",
            coarse_digit: "1 kPa",
            from: "50 kPa",
            drop: "7 kPa",
            example: "47.5",
            is_inch: false,
        },
    ),
    (
        "bar",
        &GaugeUnit {
            unit: "bar",
            mark: "0.05 bar",
            coarse_mark: "0.1 bar",
            digit: "0.001 bar",
            coarse_digit: "0.01 bar",
            from: "0.5 bar",
            drop: "0.07 bar",
            example: "0.47",
            is_inch: false,
        },
    ),
    (
        "mbar",
        &GaugeUnit {
            unit: "mbar",
            mark: "20 mbar",
            coarse_mark: "50 mbar",
            digit: "1 mbar",
            coarse_digit: "10 mbar",
            from: "500 mbar",
            drop: "70 mbar",
            example: "470",
            is_inch: false,
        },
    ),
    (
        "inHg, inches of mercury (vacuum)",
        &GaugeUnit {
            unit: "inHg",
            mark: "1 inHg",
            coarse_mark: "2 inHg",
            digit: "0.1 inHg",
            coarse_digit: "1 inHg",
            from: "14 inHg",
            drop: "2 inHg",
            example: "13.5",
            is_inch: true,
        },
    ),
];

/// The gauge that was chosen; the first where none was yet.
pub(super) fn gauge(answers: &Answers) -> &'static GaugeUnit {
    answers.chosen(Topic::Unit, UNITS).unwrap_or(PSI)
}

/// A gauge's face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Face {
    Dial,
    Display,
}

/// The gauges' faces.
pub(super) const FACES: &[(&str, Face)] = &[
    ("a dial with a needle", Face::Dial),
    ("a display with digits", Face::Display),
];

/// How finely a dial is read, in parts of a mark.
pub(super) const BETWEEN: &[(&str, f64)] = &[
    ("to the nearest mark", 1.0),
    ("to half a mark", 0.5),
    ("to a quarter of a mark", 0.25),
];

/// The side of the air around that is pumped to, by the run's name.
pub(super) const SIDES: &[(&str, &str)] = &[("pressure", PRESSURE), ("vacuum", VACUUM)];
const PRESSURE: &str = "pressure";
const VACUUM: &str = "vacuum";

/// What is known of the volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Known {
    Displacement,
    BoreAndStroke,
    Measured,
}

/// What may be known of the volume.
pub(super) const KNOWN: &[(&str, Known)] = &[
    ("its displacement", Known::Displacement),
    ("its bore and stroke", Known::BoreAndStroke),
    (
        "the volume under test, hose and gauge with it: it was measured",
        Known::Measured,
    ),
];

/// A machine of a middling size, as displacement and standard uncertainty (common practice, no source).
pub(super) const MIDDLING: (&str, &str) = ("50 cm3", "10 cm3");

/// Machines by their size, likewise.
pub(super) const SIZES: &[(&str, (&str, &str))] = &[
    ("small, such as a trimmer", ("27 cm3", "4 cm3")),
    ("middling, such as a saw or a blower", MIDDLING),
    ("large, such as an auger or a kart", ("110 cm3", "20 cm3")),
];

/// What the volume may be known by; where one of them is not known, the machine's size stands for it.
const VOLUMES: [Topic; 5] = [
    Topic::Known,
    Topic::Displacement,
    Topic::Bore,
    Topic::Stroke,
    Topic::Measured,
];

/// Said where the engine is not known.
const BY_SIZE: Option<&str> = Some("it is taken by the machine's size");

/// Said where the air pressure is not known.
const ANYWHERE: Option<&str> = Some("anywhere up to 1000 m is allowed for");

/// Where the piston stands, as a run has it.
pub(super) const PISTONS: &[(&str, &str)] = &[("at the bottom", "bottom"), ("at the top", "top")];

/// How the air pressure is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Air {
    Barometer,
    Report,
    Altitude,
}

/// How the air pressure may be known.
pub(super) const AIRS: &[(&str, Air)] = &[
    ("how high the shop lies", Air::Altitude),
    (
        "the weather report's pressure and how high the shop lies",
        Air::Report,
    ),
    ("what a barometer at the bench shows", Air::Barometer),
];

/// Whose limit it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whose {
    Manual,
    Practice,
}

/// Whose limit it may be.
pub(super) const LIMITS: &[(&str, Whose)] = &[
    ("the engine maker's manual has one", Whose::Manual),
    (
        "common practice: no more than 1 psi from 7 psi in a minute",
        Whose::Practice,
    ),
];

/// What there is to do with the sheet.
pub(super) const READINGS: &[(&str, Then)] = &[
    ("type readings that were taken", Then::Assess),
    (
        "pump now, and type what the gauge shows as it falls",
        Then::Hold,
    ),
    ("keep the sheet for later", Then::Keep),
];

/// What a machine is called that has no name.
pub(super) const MACHINE: &str = "Engine on the bench";

/// What was tested.
pub(super) fn title(answers: &Answers) -> &str {
    answers.text(Topic::Machine).unwrap_or(MACHINE)
}

/// The side of the air around, and the run's name.
pub(super) fn side(answers: &Answers) -> &'static str {
    answers.chosen(Topic::Side, SIDES).unwrap_or(PRESSURE)
}

/// What is to be done with the sheet.
pub(super) fn then(answers: &Answers) -> Then {
    answers
        .chosen(Topic::Readings, READINGS)
        .unwrap_or(Then::Keep)
}

fn always(_: &Answers) -> bool {
    true
}

fn one_of<T>(
    question: &str,
    help: &'static str,
    of: &[(&'static str, T)],
    unknown: Option<&'static str>,
) -> Ask {
    Ask {
        question: question.to_owned(),
        help,
        takes: Takes::OneOf {
            words: of.iter().map(|(words, _)| *words).collect(),
            usual: 0,
        },
        unknown,
    }
}

fn quantity(
    question: &str,
    help: &'static str,
    unit: &'static str,
    usual: Option<&'static str>,
    unknown: Option<&'static str>,
) -> Ask {
    Ask {
        question: question.to_owned(),
        help,
        takes: Takes::Quantity { unit, usual },
        unknown,
    }
}

/// A quantity that must be above zero, as the sheet has it.
fn positive<Q: TradeUnits>(text: &str) -> Result<String, ReplyError> {
    if Q::parse(text)?.si_value() > 0.0 {
        Ok(text.to_owned())
    } else {
        Err(ReplyError::NotPositive)
    }
}

/// A quantity, as the sheet has it.
fn any<Q: TradeUnits>(text: &str) -> Result<String, ReplyError> {
    Ok(Q::parse(text).map(|_| text.to_owned())?)
}

/// A step of the gauge between its marks \[in the text's unit\], as the sheet has it.
pub(super) fn part_of(
    step: &str,
    part: f64,
    unit: &'static str,
) -> Result<String, ParseQuantityError> {
    let step = Pressure::parse(step)?.value_in(unit)?;
    Ok(Pressure::from_value_in(step * part, unit)?
        .display_in(unit)?
        .to_string())
}

/// The questions, in their order.
pub(super) const QUESTIONS: &[Question] = &[
    Question {
        topic: Topic::Machine,
        is_asked: always,
        asks: |_| Ask {
            question: "What is on the bench?".to_owned(),
            help: "A name that tells it from the others, such as: clearing saw 7",
            takes: Takes::Words { usual: MACHINE },
            unknown: None,
        },
        checks: None,
    },
    Question {
        topic: Topic::Unit,
        is_asked: always,
        asks: |_| one_of("What does the gauge read in?", "", UNITS, None),
        checks: None,
    },
    Question {
        topic: Topic::Side,
        is_asked: always,
        asks: |answers| {
            let mut ask = one_of("Pressure or vacuum?", "", SIDES, None);
            if gauge(answers).unit == "inHg"
                && let Takes::OneOf { usual, .. } = &mut ask.takes
            {
                *usual = 1;
            }
            ask
        },
        checks: None,
    },
    Question {
        topic: Topic::Face,
        is_asked: always,
        asks: |_| one_of("What kind of gauge is it?", "", FACES, None),
        checks: None,
    },
    Question {
        topic: Topic::Step,
        is_asked: always,
        asks: |answers| {
            let gauge = gauge(answers);
            let coarse = Some("a coarse gauge is assumed");
            match answers.chosen(Topic::Face, FACES) {
                Some(Face::Display) => quantity(
                    "What is one step of its last digit?",
                    "",
                    gauge.unit,
                    Some(gauge.digit),
                    coarse,
                ),
                _ => quantity(
                    "How much is it from one mark to the next?",
                    "",
                    gauge.unit,
                    Some(gauge.mark),
                    coarse,
                ),
            }
        },
        checks: Some(positive::<Pressure>),
    },
    Question {
        topic: Topic::Between,
        is_asked: |answers| answers.chosen(Topic::Face, FACES) != Some(Face::Display),
        asks: |_| {
            one_of(
                "How finely do you read it?",
                "",
                BETWEEN,
                Some("to the nearest mark is assumed"),
            )
        },
        checks: None,
    },
    Question {
        topic: Topic::Known,
        is_asked: always,
        asks: |_| {
            one_of(
                "What do you know of the engine?",
                "How fast a needle falls depends on the volume. Any of these will do; measured is best.",
                KNOWN,
                BY_SIZE,
            )
        },
        checks: None,
    },
    Question {
        topic: Topic::Displacement,
        is_asked: |answers| answers.chosen(Topic::Known, KNOWN) == Some(Known::Displacement),
        asks: |_| quantity("Displacement?", "", "cm3", None, BY_SIZE),
        checks: Some(positive::<Volume>),
    },
    Question {
        topic: Topic::Bore,
        is_asked: |answers| answers.chosen(Topic::Known, KNOWN) == Some(Known::BoreAndStroke),
        asks: |_| quantity("Bore?", "", "mm", None, BY_SIZE),
        checks: Some(positive::<Length>),
    },
    Question {
        topic: Topic::Stroke,
        is_asked: |answers| answers.text(Topic::Bore).is_some(),
        asks: |_| quantity("Stroke?", "", "mm", None, BY_SIZE),
        checks: Some(positive::<Length>),
    },
    Question {
        topic: Topic::Measured,
        is_asked: |answers| answers.chosen(Topic::Known, KNOWN) == Some(Known::Measured),
        asks: |_| {
            quantity(
                "Volume under test, hose and gauge with it?",
                "",
                "cm3",
                None,
                BY_SIZE,
            )
        },
        checks: Some(positive::<Volume>),
    },
    Question {
        topic: Topic::MeasuredWithin,
        is_asked: |answers| answers.text(Topic::Measured).is_some(),
        asks: |_| {
            quantity(
                "Give or take how much?",
                "One standard uncertainty: two of three such measurements lie within it.",
                "cm3",
                None,
                Some("a twentieth of it is assumed"),
            )
        },
        checks: Some(positive::<Volume>),
    },
    Question {
        topic: Topic::Size,
        is_asked: |answers| VOLUMES.iter().any(|topic| answers.is_unknown(*topic)),
        asks: |_| one_of("What size is the machine?", "", SIZES, None),
        checks: None,
    },
    Question {
        topic: Topic::Piston,
        is_asked: |answers| answers.text(Topic::Measured).is_none(),
        asks: |_| {
            one_of(
                "Where does the piston stand?",
                "",
                PISTONS,
                Some("either is allowed for"),
            )
        },
        checks: None,
    },
    Question {
        topic: Topic::Rig,
        is_asked: |answers| answers.text(Topic::Measured).is_none(),
        asks: |_| {
            quantity(
                "What do hose and gauge hold, up to the engine?",
                "Fill the hose with water and weigh it, or reckon: 1 m of 4 mm bore holds 12.6 cm3.",
                "cm3",
                None,
                Some("a usual hose and gauge are assumed"),
            )
        },
        checks: Some(any::<Volume>),
    },
    Question {
        topic: Topic::Temperature,
        is_asked: always,
        asks: |answers| {
            let (unit, usual) = if gauge(answers).is_inch {
                ("F", "68 F")
            } else {
                ("C", "20 C")
            };
            quantity(
                "How warm are the shop and the engine?",
                "A warm engine cools during the hold, and that looks like a leak: let it cool first.",
                unit,
                Some(usual),
                Some("any usual shop is allowed for"),
            )
        },
        checks: Some(any::<ThermodynamicTemperature>),
    },
    Question {
        topic: Topic::Air,
        is_asked: always,
        asks: |_| {
            one_of(
                "What do you know of the air pressure there?",
                "",
                AIRS,
                ANYWHERE,
            )
        },
        checks: None,
    },
    Question {
        topic: Topic::Barometer,
        is_asked: |answers| {
            matches!(
                answers.chosen(Topic::Air, AIRS),
                Some(Air::Barometer | Air::Report)
            )
        },
        asks: |answers| {
            let unit = if gauge(answers).is_inch {
                "inHg"
            } else {
                "hPa"
            };
            quantity("Air pressure?", "", unit, None, ANYWHERE)
        },
        checks: Some(positive::<AbsolutePressure>),
    },
    Question {
        topic: Topic::Altitude,
        is_asked: |answers| {
            matches!(
                answers.chosen(Topic::Air, AIRS),
                Some(Air::Altitude | Air::Report)
            )
        },
        asks: |answers| {
            let unit = if gauge(answers).is_inch { "ft" } else { "m" };
            quantity(
                "How high above the sea is the shop?",
                "",
                unit,
                None,
                ANYWHERE,
            )
        },
        checks: Some(any::<Length>),
    },
    Question {
        topic: Topic::Limit,
        is_asked: always,
        asks: |_| {
            one_of(
                "What may the engine lose?",
                "The engine maker's manual comes first, wherever it has a limit.",
                LIMITS,
                Some("the leak is measured, and not judged"),
            )
        },
        checks: None,
    },
    Question {
        topic: Topic::From,
        is_asked: |answers| answers.chosen(Topic::Limit, LIMITS) == Some(Whose::Manual),
        asks: |answers| {
            let gauge = gauge(answers);
            quantity("Pumped to?", "", gauge.unit, Some(gauge.from), None)
        },
        checks: Some(positive::<Pressure>),
    },
    Question {
        topic: Topic::Drop,
        is_asked: |answers| answers.chosen(Topic::Limit, LIMITS) == Some(Whose::Manual),
        asks: |answers| {
            let gauge = gauge(answers);
            quantity(
                "It may lose no more than?",
                "",
                gauge.unit,
                Some(gauge.drop),
                None,
            )
        },
        checks: Some(positive::<Pressure>),
    },
    Question {
        topic: Topic::Over,
        is_asked: |answers| answers.chosen(Topic::Limit, LIMITS) == Some(Whose::Manual),
        asks: |_| quantity("In how long?", "", "s", Some("60 s"), None),
        checks: Some(positive::<Time>),
    },
    Question {
        topic: Topic::Readings,
        is_asked: always,
        asks: |_| one_of("And the readings?", "", READINGS, None),
        checks: None,
    },
    Question {
        topic: Topic::Wait,
        is_asked: |answers| then(answers) == Then::Assess,
        asks: |_| {
            quantity(
                "How long after the last stroke of the pump was the first reading?",
                "Gas that was just pumped is warm and cools for some seconds, which looks like a leak.",
                "s",
                None,
                Some("right after it is assumed"),
            )
        },
        checks: Some(any::<Time>),
    },
    Question {
        topic: Topic::Reading,
        is_asked: |answers| then(answers) == Then::Assess,
        asks: |answers| Ask {
            question: format!(
                "Time and {}, reading {}?",
                gauge(answers).unit,
                answers.readings.len() + 1
            ),
            help: if answers.readings.is_empty() {
                "Such as 0:30 6.8. Three at least; an empty line where there are no more."
            } else {
                ""
            },
            takes: Takes::Reading {
                unit: gauge(answers).unit,
            },
            unknown: None,
        },
        checks: None,
    },
];
