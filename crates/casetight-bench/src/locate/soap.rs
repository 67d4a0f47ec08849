//! What was sprayed in a run, and at which pressure it was watched.

use std::collections::BTreeSet;

use super::note::Note;
use crate::assess::{Move, Outcome};
use crate::isolate::{IsolateError, Sight, Sprayed};
use crate::record::Site;
use crate::session::SessionRun;
use crate::sheet;
use casetight::quantity::{GaugePressure, QuantityError};

/// What was sprayed in a run, as bounds at a pressure.
pub(super) fn soap(
    (run, assessed): (&sheet::Run, &SessionRun),
    at: GaugePressure,
    open: &BTreeSet<Site>,
    repaired: &BTreeSet<Site>,
    notes: &mut Vec<Note>,
) -> Result<Vec<Sprayed<Site>>, IsolateError> {
    let (highest, lowest) = pressures(run, assessed)?;
    let mut sprayed = Vec::new();
    for (sight, watched) in [(Sight::Bubbles, &run.bubbles), (Sight::Dry, &run.dry)] {
        let reached = match sight {
            Sight::Bubbles => highest,
            Sight::Dry => lowest,
        };
        for site in watched {
            if !open.contains(site) {
                if sight == Sight::Bubbles {
                    let (run, site) = (run.name.clone(), site.clone());
                    notes.push(Note::BlankBubbles { run, site });
                }
                continue;
            }
            if sight == Sight::Dry && reached.pascals() <= 0.0 && highest.pascals() > 0.0 {
                let note = Note::NoPressureLeft {
                    run: run.name.clone(),
                };
                if !notes.contains(&note) {
                    notes.push(note);
                }
                continue;
            }
            let seen = Sprayed::new(site.clone(), sight, &assessed.bench, reached)?;
            let seen = seen.moved(moved(assessed, reached, at)?)?;
            sprayed.push(if repaired.contains(site) {
                seen.after_its_repair()
            } else {
                seen
            });
        }
    }
    Ok(sprayed)
}

/// How a place's area moves between two pressures by any law that the sheet leaves open: what a place leaks by, soap does not say.
fn moved(
    assessed: &SessionRun,
    from: GaugePressure,
    to: GaugePressure,
) -> Result<(f64, f64), IsolateError> {
    let laws = assessed.assessment.assumptions.laws();
    let moved = Move {
        bench: &assessed.bench,
        direction: assessed.assessment.direction,
        from,
        to,
    };
    let moved = moved.of_area(laws)?;
    Ok(moved.unwrap_or((1.0, 0.0)))
}

/// The highest and the lowest gauge pressure that soap can have been watched at.
fn pressures(
    run: &sheet::Run,
    assessed: &SessionRun,
) -> Result<(GaugePressure, GaugePressure), QuantityError> {
    let (highest, lowest) = match &assessed.assessment.outcome {
        Outcome::Fitted(fitted) => {
            let readings = run.record.readings();
            let last = readings.and_then(|readings| readings.gauges_pa().last().copied());
            let start = fitted.fit.judged_from();
            // Noise can lift the last reading of a needle that stands still above the first.
            let last = GaugePressure::from_pascals(last.unwrap_or_else(|| start.pascals()))?;
            (start, if last < start { last } else { start })
        }
        Outcome::Stalled { stall, .. } => (stall.reached(), stall.reached()),
    };
    // Soap shows nothing under vacuum, whatever is stated.
    let stated = run.soaped_at.filter(|_| highest.pascals() > 0.0);
    Ok(stated.map_or((highest, lowest), |at| (at, at)))
}
