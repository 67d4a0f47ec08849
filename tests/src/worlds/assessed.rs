//! What the library says of a simulated run: a sheet as a technician writes it, assessed as a whole.

use std::fmt::Write as _;

use casetight::doubt::Doubt;
use casetight::fit::FitNote;
use casetight::limit::Verdict;
use casetight_bench::assess::{Note, Outcome};
use casetight_bench::session::{Session, SessionRun};
use casetight_bench::sheet::{NoTraces, Sheet};

use super::setup::GaugeKind;
use super::told::{Simulated, Told};

/// Limits that a run is judged by, over its true area: "holds" by the first is wrong, and so is "leaks" by the second.
pub const LIMITS_OVER_TRUTH: (f64, f64) = (0.8, 1.25);

/// What was said of a run.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// The sheet was refused.
    Refused(String),
    /// It was answered.
    Answered(Answered),
}

/// An answer by either limit of [`LIMITS_OVER_TRUTH`].
#[derive(Debug, Clone, PartialEq)]
pub struct Answered {
    /// Effective area \[m2\].
    pub value: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// By the stricter limit.
    pub strict: Judged,
    /// By the laxer limit.
    pub lax: Judged,
}

/// A verdict and what was said beside it.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The verdict.
    pub verdict: Option<Verdict>,
    /// Names of the [`warnings`].
    pub warnings: Vec<&'static str>,
    /// Whether the solver said that it reached an optimum.
    pub converged: bool,
}

/// The sheet of a run with a limit on the area \[m2\].
#[must_use]
pub fn sheet_text(simulated: &Simulated, limit_m2: f64) -> String {
    let Told {
        gauge,
        volume_m3,
        volume_uncertainty_m3,
        ambient_pa,
        temperature_k,
    } = simulated.told;
    let steps = match gauge {
        GaugeKind::Digital => "unit = \"kPa\"\nresolution = \"0.1 kPa\"\n",
        GaugeKind::Dial => "unit = \"psi\"\ndivision = \"0.5 psi\"\nreadable = \"0.25 psi\"\n",
    };
    let mut text = format!(
        "format = 1\ntitle = \"Case under test\"\n\n[volume]\nvalue = \"{:.2} cm3\"\nuncertainty = \"{:.2} cm3\"\n\n[ambient]\n\
         pressure = \"{:.1} hPa\"\ntemperature = \"{:.1} C\"\n\n[gauge]\n{steps}\n[limit]\nmax_area = \"{:.6e} mm2\"\n\n\
         [[run]]\nname = \"all blanked\"\nreadings = [\n",
        volume_m3 * 1e6,
        volume_uncertainty_m3 * 1e6,
        ambient_pa / 100.0,
        temperature_k - 273.15,
        limit_m2 * 1e6
    );
    for (time, pressure) in &simulated.readings {
        // The shortest number that reads back as this one, but for what the division left behind its digits.
        let shown = (pressure / gauge.unit_pa() * 1e3).round() / 1e3;
        let _ = writeln!(text, "  [{time}, {shown}],");
    }
    text.push_str("]\n");
    text
}

/// Assesses a run by both limits, each with a sheet of its own.
#[must_use]
pub fn assess(simulated: &Simulated) -> Answer {
    let (least, most) = simulated.area_m2;
    let by = |limit_m2| one_run(&sheet_text(simulated, limit_m2));
    match (
        by(LIMITS_OVER_TRUTH.0 * least),
        by(LIMITS_OVER_TRUTH.1 * most),
    ) {
        (Ok((area, strict)), Ok((_, lax))) => Answer::Answered(Answered {
            value: area.0,
            low: area.1,
            high: area.2,
            strict,
            lax,
        }),
        (Err(error), _) | (_, Err(error)) => Answer::Refused(error),
    }
}

/// Area with its ends, and the verdict, of a sheet of one run.
fn one_run(text: &str) -> Result<((f64, f64, f64), Judged), String> {
    let sheet = Sheet::parse(text, "sheet.toml", &NoTraces).map_err(|e| e.to_string())?;
    let session = Session::assess(&sheet).map_err(|e| e.to_string())?;
    let run = session.runs.first().ok_or("no run")?;
    let Outcome::Fitted(fitted) = &run.assessment.outcome else {
        return Err("stalled".to_owned());
    };
    let area = fitted.fit.area.si();
    let judged = Judged {
        verdict: run.assessment.verdict,
        warnings: warnings(run),
        converged: fitted.fit.converged,
    };
    Ok(((area.value, area.low, area.high), judged))
}

/// What the library says by itself against reading the run as one leak on this bench, each once.
///
/// That are the doubts that the readings are those of one leak (misfit, strained, misread, turned, rose, wrong side, not finite,
/// heat that counts beyond its reach), the notes that they scatter too much, hold outliers or rise. Not among them are a needle that lost more than the limit allows, a start
/// above the caution limit, and an input that surprises: these speak of the limit, of safety and of the sheet. Nor is a solver that did
/// not converge, which no sentence tells.
#[must_use]
pub fn warnings(run: &SessionRun) -> Vec<&'static str> {
    let of_note = |note: &Note| match note {
        Note::Doubt { doubt, .. } => match doubt {
            Doubt::NeedleLost { .. } | Doubt::AboveCaution { .. } => None,
            doubt => Some(doubt.name()),
        },
        Note::Fit(FitNote::Misfit { .. }) => Some("scatter"),
        Note::Fit(FitNote::Outliers { .. }) => Some("outliers"),
        Note::Rises => Some("rises"),
        Note::FallExplained { .. } => Some("fall explained"),
        _ => None,
    };
    let mut said: Vec<&'static str> = run.assessment.notes.iter().filter_map(of_note).collect();
    said.sort_unstable();
    said.dedup();
    said
}
