//! The mistakes, one a line: what was done, in plain words, the change that makes it in the sheet, and the kind of answer.

/// A mistake.
pub(crate) struct Mistake {
    pub(crate) what: &'static str,
    pub(crate) change: Change,
    pub(crate) answer: Answer,
}

/// How a mistake is made.
pub(crate) enum Change {
    /// The first text of the sheet becomes the second, which the table shows.
    Edit(&'static str, &'static str),
    /// The same of several, of which the table shows this.
    Edits(&'static str, &'static [(&'static str, &'static str)]),
    /// The same in the sheet of an engine's dimensions.
    OfEngine(&'static str, &'static str),
    /// The file holds this instead, which the table shows so.
    Whole(&'static str, &'static [u8]),
    /// The sheet in another encoding.
    Encoded(fn(&str) -> Vec<u8>),
    /// Another command line.
    Line(&'static str),
}

/// What becomes of it.
pub(crate) enum Answer {
    /// Nothing is answered but what is wrong.
    Refused,
    /// The answer has a note that starts so.
    Noted(&'static str),
}

/// Mistakes of one kind.
pub(crate) struct Group {
    pub(crate) title: &'static str,
    pub(crate) mistakes: &'static [Mistake],
}

const fn refused(what: &'static str, change: Change) -> Mistake {
    Mistake {
        what,
        change,
        answer: Answer::Refused,
    }
}

const fn noted(what: &'static str, change: Change, start: &'static str) -> Mistake {
    Mistake {
        what,
        change,
        answer: Answer::Noted(start),
    }
}

use Change::{Edit, Edits, Encoded, Line, OfEngine, Whole};

const READINGS: &str = "readings = [[0, 7.0], [30, 6.5], [60, 6.0], [90, 5.5]]";

/// All of them.
#[rustfmt::skip] // one mistake, one line
pub(crate) const GROUPS: &[Group] = &[
    Group { title: "The file", mistakes: &[
        refused("An empty file", Whole("", b"")),
        refused("A logger's CSV file in the sheet's place", Line("assess trace.csv")),
        refused("A JSON file", Whole(r#"{"format": 1, "run": []}"#, b"{\"format\": 1, \"run\": []}\n")),
        refused("A page from the web", Whole("<html>", b"<!DOCTYPE html>\n<html><body>\n")),
        refused("A folder", Line("assess folder")),
        refused("A file that is not there", Line("assess shet.toml")),
        refused("Saved as UTF-16 (\"Unicode\" in some editors)", Encoded(|sheet| [0xFF, 0xFE].into_iter().chain(sheet.encode_utf16().flat_map(u16::to_le_bytes)).collect())),
        refused("Saved in an old code page, with a degree sign", Encoded(|sheet| { let (before, after) = sheet.split_once("20 C").unwrap(); [before.as_bytes(), b"20 \xB0C", after.as_bytes()].concat() })),
        refused("A document of an office program", Whole("", b"PK\x03\x04\x14\x00\x06\x00word/document.xml")),
        refused("Half a file, as of a copy that failed", Whole("", b"format = 1\n\n[volume]\nvalue = \"250 c")),
        refused("No `format`", Edit("format = 1\n", "")),
        refused("Another format", Edit("format = 1", "format = 2")),
        refused("The format in quotes", Edit("format = 1", "format = \"1\"")),
    ]},
    Group { title: "Quotes, brackets and marks", mistakes: &[
        refused("A volume without quotes", Edit("value = \"250 cm3\"", "value = 250 cm3")),
        refused("A temperature without quotes", Edit("temperature = \"20 C\"", "temperature = 20C")),
        refused("A temperature with its sign and without quotes", Edit("temperature = \"20 C\"", "temperature = 20 °C")),
        refused("A unit without quotes", Edit("unit = \"psi\"", "unit = psi")),
        refused("A name without quotes", Edit("name = \"all blanked\"", "name = all blanked")),
        refused("A time without quotes", Edit("over = \"60 s\"", "over = 1:00")),
        refused("A fraction without quotes", OfEngine("bore = \"52 mm\"", "bore = 1-3/4 in")),
        refused("Curly quotes from a word processor", Edit("value = \"250 cm3\"", "value = “250 cm3”")),
        refused("Curly single quotes", Edit("value = \"250 cm3\"", "value = ‘250 cm3’")),
        refused("Low and high quotes", Edit("value = \"250 cm3\"", "value = „250 cm3“")),
        refused("One quote forgotten", Edit("value = \"250 cm3\"", "value = \"250 cm3")),
        refused("An inch mark within double quotes", OfEngine("bore = \"52 mm\"", "bore = \"1-3/4\"\"")),
        refused("A colon for the equals sign", Edit("value = \"250 cm3\"", "value: \"250 cm3\"")),
        refused("No equals sign", Edit("value = \"250 cm3\"", "value \"250 cm3\"")),
        refused("Nothing behind the equals sign", Edit("value = \"250 cm3\"", "value =")),
        refused("A blank within a key", Edit("max_drop =", "max drop =")),
        refused("A decimal comma in a bare number", Edit("division = \"0.5 psi\"", "division = \"0.5 psi\"\naccuracy_class = 1,6")),
        refused("A comment as in other languages", Edit("format = 1", "// morning group\nformat = 1")),
        refused("A semicolon at the end of a line", Edit("unit = \"psi\"", "unit = \"psi\";")),
        refused("A space that is none, as web pages have them", Edit("unit = \"psi\"", "unit\u{a0}= \"psi\"")),
        refused("One bracket around `run`", Edit("[[run]]", "[run]")),
        refused("A bracket forgotten at the table", Edit("[gauge]", "[gauge")),
        refused("A bracket forgotten at the readings", Edit(READINGS, "readings = [[0, 7.0], [30, 6.5], [60, 6.0]")),
        refused("A comma forgotten between readings", Edit(READINGS, "readings = [[0, 7.0] [30, 6.5], [60, 6.0]]")),
        refused("Semicolons within the readings", Edit(READINGS, "readings = [[0; 7.0], [30; 6.5]]")),
        refused("`True` with a capital", Edit(READINGS, "readings = [[0, 7.0], [30, 6.5]]\nrig_alone = True")),
        refused("A number that starts with its point", Edit(READINGS, "readings = [[0, 7.0], [30, .5]]")),
        refused("A number with a leading zero", Edit(READINGS, "readings = [[00, 7.0], [30, 6.5]]")),
    ]},
    Group { title: "Keys and tables", mistakes: &[
        refused("A key twice", Edit("unit = \"psi\"", "unit = \"psi\"\nunit = \"kPa\"")),
        refused("A table twice", Edit("[limit]", "[gauge]\nunit = \"psi\"\n[limit]")),
        refused("Two runs of one name", Edit(READINGS, "readings = [[0, 7.0], [30, 6.5]]\n[[run]]\nname = \"all blanked\"\nreadings = [[0, 7.0], [30, 6.5]]")),
        refused("A misspelled key", Edit("max_drop =", "max_dorp =")),
        refused("`press`", Edit("pressure = \"1009 hPa\"", "press = \"1009 hPa\"")),
        refused("`temp`", Edit("temperature = \"20 C\"", "temp = \"20 C\"")),
        refused("`barometer`", Edit("pressure = \"1009 hPa\"", "barometer = \"1009 hPa\"")),
        refused("`vol` for the volume", Edit("[volume]", "[vol]")),
        refused("`volume` within `[volume]`", Edit("value = \"250 cm3\"", "volume = \"250 cm3\"")),
        refused("`displacement_cc`", OfEngine("bore = \"52 mm\"", "displacement_cc = 85")),
        refused("`readings_psi`", Edit(READINGS, "readings_psi = [[0, 7.0], [30, 6.5]]")),
        refused("`data`", Edit(READINGS, "data = [[0, 7.0], [30, 6.5]]")),
        refused("`time` and `pressure` as two lists", Edit(READINGS, "time = [0, 30]\npressure = [7.0, 6.5]")),
        refused("`units`", Edit("unit = \"psi\"", "units = \"psi\"")),
        refused("`error` for an uncertainty", Edit("uncertainty = \"10 cm3\"", "error = \"10 cm3\"")),
        refused("`tolerance`", Edit("uncertainty = \"10 cm3\"", "tolerance = \"10 cm3\"")),
        refused("`[limits]`", Edit("[limit]", "[limits]")),
        refused("`[[runs]]`", Edit("[[run]]", "[[runs]]")),
        refused("`[[test]]`", Edit("[[run]]", "[[test]]")),
        refused("A key of the gauge among the surroundings", Edit("temperature = \"20 C\"", "temperature = \"20 C\"\nunit = \"psi\"")),
        refused("The temperature at the gauge", Edit("unit = \"psi\"", "unit = \"psi\"\ntemperature = \"20 C\"")),
        refused("A limit in the run", Edit("name = \"all blanked\"", "name = \"all blanked\"\nmax_drop = \"1 psi\"")),
        refused("Readings before any run", Edit("date = 2026-03-02", "readings = [[0, 7.0], [30, 6.5]]")),
        refused("The bore under `[volume]`", Edit("value = \"250 cm3\"", "bore = \"52 mm\"")),
        refused("The volume as a line of its own", Edit("[volume]\nvalue = \"250 cm3\"\nuncertainty = \"10 cm3\"", "volume = \"250 cm3\"")),
        refused("A capital", Edit("temperature =", "Temperature =")),
        refused("No gauge", Edit("[gauge]\nunit = \"psi\"\ndivision = \"0.5 psi\"\n", "")),
        refused("A gauge without its steps", Edit("division = \"0.5 psi\"\n", "")),
        refused("No uncertainty of a measured volume", Edit("uncertainty = \"10 cm3\"\n", "")),
        refused("An engine without its rig", Edits("[engine] without [rig]", &[("[volume]\nvalue = \"250 cm3\"\nuncertainty = \"10 cm3\"\n", "[engine]\nbore = \"52 mm\"\nstroke = \"40 mm\"\nrod = \"75 mm\"\nprimary_compression_ratio = 1.45\n")])),
        refused("No readings", Edit(READINGS, "")),
        refused("A limit without where it falls from", Edit("from = \"7 psi\"\n", "")),
        refused("A rule that is not known", Edit("max_drop = \"1 psi\"\nfrom = \"7 psi\"\nover = \"60 s\"", "rule = \"one psi\"")),
    ]},
    Group { title: "Units and numbers", mistakes: &[
        refused("A displacement below zero", Edits("displacement = \"-45 cm3\"", &[("[volume]\nvalue = \"250 cm3\"\nuncertainty = \"10 cm3\"\n", "[engine]\ndisplacement = \"-45 cm3\"\n")])),
        refused("A volume without a unit", Edit("value = \"250 cm3\"", "value = \"250\"")),
        refused("A bare number for a volume", Edit("value = \"250 cm3\"", "value = 250")),
        refused("A pressure without a unit", Edit("pressure = \"1009 hPa\"", "pressure = 1009")),
        refused("A unit in other capitals", Edit("unit = \"psi\"", "unit = \"kpa\"")),
        refused("A misspelled unit", Edit("max_drop = \"1 psi\"", "max_drop = \"1 pis\"")),
        refused("A length for a volume", Edit("value = \"250 cm3\"", "value = \"250 mm\"")),
        refused("Ounces for a volume", Edit("value = \"250 cm3\"", "value = \"8 oz\"")),
        refused("Fluid ounces of no country", Edit("value = \"250 cm3\"", "value = \"8 fl oz\"")),
        refused("A comma that may be of either kind", Edit("value = \"250 cm3\"", "value = \"1,000 cm3\"")),
        refused("A comma between thousands and a point", Edit("value = \"250 cm3\"", "value = \"1,250.5 cm3\"")),
        refused("A point between thousands and a comma", Edit("value = \"250 cm3\"", "value = \"1.250,5 cm3\"")),
        refused("A blank between thousands", Edit("value = \"250 cm3\"", "value = \"1 250 cm3\"")),
        refused("Two points", Edit("value = \"250 cm3\"", "value = \"25.0.5 cm3\"")),
        refused("A letter O for a zero", Edit("value = \"250 cm3\"", "value = \"25O cm3\"")),
        refused("A fraction by nothing", OfEngine("bore = \"52 mm\"", "bore = \"1-3/0 in\"")),
        refused("A part of an inch that is more than one", OfEngine("bore = \"52 mm\"", "bore = \"1-5/4 in\"")),
        refused("Seconds of one digit", Edit("over = \"60 s\"", "over = \"1:5\"")),
        refused("Seconds beyond 59", Edit("over = \"60 s\"", "over = \"0:75\"")),
        refused("Minutes as `m`", Edit("over = \"60 s\"", "over = \"1 m\"")),
        refused("Minutes and seconds by their letters", Edit("over = \"60 s\"", "over = \"1 min 30 s\"")),
        refused("An uncertainty in percent", Edit("uncertainty = \"10 cm3\"", "uncertainty = \"5 %\"")),
        refused("An uncertainty below zero", Edit("uncertainty = \"10 cm3\"", "uncertainty = \"-10 cm3\"")),
        refused("A volume below zero", Edit("value = \"250 cm3\"", "value = \"-250 cm3\"")),
        refused("A volume that is no number", Edit("value = \"250 cm3\"", "value = \"nan cm3\"")),
        refused("A volume left open", Edit("value = \"250 cm3\"", "value = \"? cm3\"")),
        refused("Words for a volume", Edit("value = \"250 cm3\"", "value = \"about 250 cm3\"")),
        refused("A range", Edit("value = \"250 cm3\"", "value = \"240-260 cm3\"")),
        refused("A gauge pressure for the barometer", Edit("pressure = \"1009 hPa\"", "pressure = \"14.6 psig\"")),
        refused("A barometer that shows nothing", Edit("pressure = \"1009 hPa\"", "pressure = \"0 psi\"")),
        refused("A size of pressure as gauge pressure", Edit("from = \"7 psi\"", "from = \"7 psig\"")),
        refused("Colder than cold can be", Edit("temperature = \"20 C\"", "temperature = \"-300 C\"")),
        refused("A limit that falls further than it starts", Edit("max_drop = \"1 psi\"", "max_drop = \"10 psi\"")),
        refused("A rod shorter than the throw", OfEngine("rod = \"75 mm\"", "rod = \"15 mm\"")),
        refused("A ratio of less than one", OfEngine("primary_compression_ratio = 1.45", "primary_compression_ratio = 0.45")),
        refused("A day that no month has", Edit("date = 2026-03-02", "date = \"2026-02-30\"")),
        refused("A date with points", Edit("date = 2026-03-02", "date = \"02.03.2026\"")),
        refused("A date with slashes", Edit("date = 2026-03-02", "date = \"03/02/2026\"")),
        refused("The month behind the day", Edit("date = 2026-03-02", "date = \"2026-30-03\"")),
        refused("A date of a year of two digits", Edit("date = 2026-03-02", "date = \"2-3-26\"")),
        refused("A time of day for a date", Edit("date = 2026-03-02", "date = \"10:30\"")),
        refused("A limit without a unit of time", Edit("over = \"60 s\"", "over = 60")),
        refused("Minutes and seconds with a unit", Edit("over = \"60 s\"", "over = \"1:00 s\"")),
        refused("A tolerance without a unit", Edit("uncertainty = \"10 cm3\"", "uncertainty = \"+- 10\"")),
        refused("A readable step larger than the division", Edit("division = \"0.5 psi\"", "division = \"0.5 psi\"\nreadable = \"1 psi\"")),
        refused("A class without its span", Edit("division = \"0.5 psi\"", "division = \"0.5 psi\"\naccuracy_class = 1.6")),
        refused("A class as text", Edit("division = \"0.5 psi\"", "division = \"0.5 psi\"\naccuracy_class = \"1.6 %\"\nspan = \"15 psi\"")),
        refused("A humidity beyond all", Edit("temperature = \"20 C\"", "temperature = \"20 C\"\nhumidity = 60")),
        refused("A piston position in degrees alone", OfEngine("piston = \"bottom\"", "piston = \"60 deg\"")),
        refused("A piston position that is not known", OfEngine("piston = \"bottom\"", "piston = \"half way\"")),
        refused("A date without zeros", Edit("date = 2026-03-02", "date = 2026-3-2")),
    ]},
    Group { title: "Readings", mistakes: &[
        refused("Pressure before time", Edit(READINGS, "readings = [[7.0, 0], [6.5, 30], [6.0, 60]]")),
        refused("Times that are not in order", Edit(READINGS, "readings = [[0, 7.0], [60, 6.0], [30, 6.5]]")),
        refused("A time twice", Edit(READINGS, "readings = [[0, 7.0], [30, 6.5], [30, 6.0]]")),
        refused("One reading", Edit(READINGS, "readings = [[0, 7.0]]")),
        refused("Pressures alone", Edit(READINGS, "readings = [7.0, 6.5, 6.0]")),
        refused("A reading without its pressure", Edit(READINGS, "readings = [[0, 7.0], [30]]")),
        refused("A decimal comma in a reading", Edit(READINGS, "readings = [[0, 7,0], [30, 6,5]]")),
        refused("A pressure with its unit", Edit(READINGS, "readings = [[0, \"7.0 psi\"], [30, \"6.5 psi\"]]")),
        refused("A reading that is no number", Edit(READINGS, "readings = [[0, 7.0], [30, nan]]")),
        refused("The first reading at zero", Edit(READINGS, "readings = [[0, 0], [30, 6.5], [60, 6.0]]")),
        refused("Pressure and vacuum in one run", Edit(READINGS, "readings = [[0, 7.0], [30, 6.5], [60, -6.0]]")),
        refused("A vacuum deeper than there is", Edit(READINGS, "readings = [[0, -16], [30, -15]]")),
        refused("A vacuum without a minus, by the run's name", Edit("name = \"all blanked\"", "name = \"vacuum\"")),
        refused("A vacuum without a minus, by the gauge's unit", Edits("unit = \"inHg\"", &[("unit = \"psi\"", "unit = \"inHg\""), (READINGS, "readings = [[0, 14], [30, 13.5]]")])),
        refused("A vacuum said in a word that is not known", Edit("name = \"all blanked\"", "name = \"all blanked\"\ndirection = \"vac\"")),
        refused("A run that states pressure and has a minus", Edit(READINGS, "direction = \"pressure\"\nreadings = [[0, -7.0], [30, -6.5]]")),
        refused("What was shut off as one text", Edit("name = \"all blanked\"", "name = \"all blanked\"\nblanked = \"intake\"")),
        refused("A trace that is not there", Edit(READINGS, "file = \"logged.csv\"")),
        refused("A trace outside the sheet's folder", Edit(READINGS, "file = \"../logged.csv\"")),
        refused("A window by times that the trace does not have", Edit(READINGS, "file = \"trace.csv\"\nwindow = [600, 900]")),
        refused("A window the wrong way round", Edit(READINGS, "file = \"trace.csv\"\nwindow = [90, 0]")),
        noted("Inches of mercury as psi", Edit(READINGS, "readings = [[0, 14], [30, 13], [60, 12], [90, 11]]"), "The test started at 14 psi"),
        noted("psi as kPa", Edit("unit = \"psi\"", "unit = \"kPa\""), "The test starts at 7 kPa"),
        noted("Minutes as seconds", Edit(READINGS, "readings = [[0, 7.0], [0.5, 6.5], [1, 6.0], [1.5, 5.5]]"), "The readings are 0.5 s apart"),
        noted("Absolute pressures", Edits("unit = \"mbar\"<br>readings = [[0, 1492], [30, 1457], [60, 1423]]", &[("unit = \"psi\"", "unit = \"mbar\""), (READINGS, "readings = [[0, 1492], [30, 1457], [60, 1423]]")]), "The readings go from"),
        noted("A point forgotten in a reading", Edit(READINGS, "readings = [[0, 7.0], [30, 65], [60, 6.0], [90, 5.5]]"), "Reading 2 (65 psi"),
        noted("A point moved in a reading", Edit(READINGS, "readings = [[0, 7.0], [30, 6.5], [60, 0.6], [90, 5.5], [120, 5.0], [150, 4.5]]"), "Reading 3 (0.6 psi"),
        noted("Seconds as minutes", Edit(READINGS, "readings = [[\"0:00\", 7.0], [\"30:00\", 6.5], [\"60:00\", 6.0], [\"90:00\", 5.5]]"), "The readings go over"),
        noted("Bar as psi, in the unit", Edits("unit = \"psi\"<br>readings = [[0, 0.5], [30, 0.46], [60, 0.43]]", &[("division = \"0.5 psi\"", "division = \"0.01 psi\""), (READINGS, "readings = [[0, 0.5], [30, 0.46], [60, 0.43]]")]), "The test starts at 0.5 psi"),
        noted("The barometer of a weather report", Edit("pressure = \"1009 hPa\"", "pressure = \"1013.25 hPa\""), "The barometer stands at"),
        noted("A reading before the pump has stopped", Edit(READINGS, "readings = [[0, 5.0], [30, 7.0], [60, 6.5], [90, 6.0], [120, 5.5]]"), "The needle went on"),
        noted("A step that the readings are finer than", Edit("division = \"0.5 psi\"", "division = \"5 psi\""), "Readings differ by"),
        noted("Cubic meters", Edit("value = \"250 cm3\"\nuncertainty = \"10 cm3\"", "value = \"250 m3\"\nuncertainty = \"10 m3\""), "A volume under test"),
        noted("Liters", Edit("value = \"250 cm3\"", "value = \"250 L\""), "A volume under test"),
        noted("Fahrenheit as Celsius", Edit("temperature = \"20 C\"", "temperature = \"68 C\""), "A temperature of"),
        refused("Celsius as kelvins", Edit("temperature = \"20 C\"", "temperature = \"20 K\"")),
        refused("Inches of mercury as psi, at the barometer", Edit("pressure = \"1009 hPa\"", "pressure = \"29.8 psi\"")),
        refused("A barometer ten times too low", Edit("pressure = \"1009 hPa\"", "pressure = \"100.9 hPa\"")),
        refused("A bore in centimeters that is one in millimeters", OfEngine("bore = \"52 mm\"", "bore = \"52 cm\"")),
        refused("A bore in inches that is one in millimeters", OfEngine("bore = \"52 mm\"", "bore = \"52 in\"")),
    ]},
    Group { title: "The command line", mistakes: &[
        refused("No command", Line("sheet.toml")),
        refused("A misspelled command", Line("asess sheet.toml")),
        refused("A misspelled option", Line("assess sheet.toml --plto decay.svg")),
        refused("No sheet", Line("assess")),
        refused("Two sheets", Line("assess sheet.toml sheet.toml")),
        refused("A report without a place for it", Line("report sheet.toml")),
        refused("The report onto its own sheet", Line("report sheet.toml --out sheet.toml")),
        refused("The plot onto its own sheet", Line("assess sheet.toml --plot sheet.toml")),
        refused("The report onto a folder", Line("report sheet.toml --out folder")),
        refused("The report into a folder that is not there", Line("report sheet.toml --out pages/sheet.html")),
        refused("One sheet to compare", Line("compare sheet.toml")),
        refused("A trace for the sheet to compare with", Line("compare trace.csv sheet.toml")),
        refused("A batch without its sheet", Line("batch trace.csv --out results.csv")),
        refused("A batch of a file without runs", Line("batch trace.csv --sheet sheet.toml --out results.csv")),
    ]},
];
