//! What to know beside the areas.

use std::fmt;

use crate::isolate::{Evidence, Isolation, Place};
use crate::record::Site;
use casetight::vessel::Direction;

/// Something to know, in a sentence ([`fmt::Display`]).
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Note {
    /// Sites that were blanked in every run of these directions.
    NeverExposed {
        /// The directions.
        directions: Vec<Direction>,
        /// The sites.
        sites: Vec<Site>,
    },
    /// No run of these directions had all sites blanked.
    RigNotTested {
        /// The directions.
        directions: Vec<Direction>,
    },
    /// A run was made with a leak of known size beside the engine's own.
    KnownLeak {
        /// The run's name.
        run: String,
    },
    /// A stall that the volume alone explains.
    NothingSaid {
        /// The run's name.
        run: String,
    },
    /// A blank bubbled while it was in place.
    BlankBubbles {
        /// The run's name.
        run: String,
        /// The site that is shut off there.
        site: Site,
    },
    /// Soap was watched on a needle that had come to rest.
    NoPressureLeft {
        /// The run's name.
        run: String,
    },
    /// Bubbles at a place whose area no run told apart.
    OnlyBubbles {
        /// The site.
        site: Site,
        /// What all open places together leak at most \[m2\]; none where nothing bounds it.
        at_most_m2: Option<f64>,
    },
    /// The runs of a direction do not fit together.
    Misfit {
        /// The direction.
        direction: Direction,
        /// Probability of departures as large by chance.
        probability: f64,
    },
    /// A run's fit is not taken at its word.
    Doubted {
        /// The run's name.
        run: String,
        /// Why, in a sentence.
        reason: String,
    },
    /// The ways to the tested volume disagree.
    VolumesDisagree {
        /// How, in words.
        how: String,
    },
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NeverExposed { directions, sites } => {
                let words: Vec<&str> = sites.iter().map(Site::words).collect();
                write!(
                    f,
                    "Blanked in every {} run, so that nothing is known of it there: {}. A blank that itself leaks counts to the \
                     rig",
                    or(directions),
                    words.join("; ")
                )
            }
            Self::RigNotTested { directions } => write!(
                f,
                "No {} run had every site blanked, so the rig is not told apart from the sites that were open in all runs. Test \
                 the rig alone: blank all sites, or shut the hose off at the engine",
                or(directions)
            ),
            Self::KnownLeak { run } => write!(
                f,
                "Run \"{run}\" had a known leak added for the volume; it is left out here"
            ),
            Self::NothingSaid { run } => write!(
                f,
                "The pump of run \"{run}\" made so few strokes that all could be in the case still: it says nothing of a leak"
            ),
            Self::BlankBubbles { run, site } => write!(
                f,
                "In run \"{run}\" the blank on the {} bubbled: the blank leaks, and counts to the rig. Seat it anew and repeat \
                 the run",
                site.words()
            ),
            Self::NoPressureLeft { run } => write!(
                f,
                "The needle of run \"{run}\" had come to rest, so that dry spots there say nothing: state `soaped_at`, the \
                 pressure while they were watched, or pump on while spraying"
            ),
            Self::OnlyBubbles { site, at_most_m2 } => only_bubbles(site, *at_most_m2, f),
            Self::Misfit {
                direction,
                probability,
            } => write!(
                f,
                "The {direction} runs do not fit together (a misfit as large happens by chance with {:.1} %): a blank that \
                 leaks, a hose that was disturbed, or a repair that was not noted. The intervals do not cover that",
                100.0 * probability
            ),
            Self::Doubted { run, reason } => write!(f, "Run \"{run}\": {reason}"),
            Self::VolumesDisagree { how } => write!(
                f,
                "The ways to the tested volume disagree ({how}); look at each of them first"
            ),
        }
    }
}

fn only_bubbles(site: &Site, at_most_m2: Option<f64>, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    write!(
        f,
        "Bubbles name the {}, and do not measure it: it leaks, and no run tells its area from that of the other \
         places. It is",
        site.words()
    )?;
    match at_most_m2 {
        Some(most) => write!(f, " no more than {:.0} um2", most * 1e12),
        None => f.write_str(" bounded by nothing from above"),
    }
}

/// "pressure", "pressure or vacuum".
fn or(directions: &[Direction]) -> String {
    let words: Vec<String> = directions.iter().map(ToString::to_string).collect();
    words.join(" or ")
}

/// Adds a note; one that an earlier direction has too is said once for both.
pub(super) fn note_once(
    notes: &mut Vec<Note>,
    direction: Direction,
    of: impl Fn(Vec<Direction>) -> Note,
) {
    let earlier = of(vec![Direction::Pressure]);
    match notes.iter_mut().find(|note| **note == earlier) {
        Some(note) if direction != Direction::Pressure => {
            *note = of(vec![Direction::Pressure, direction]);
        }
        _ => notes.push(of(vec![direction])),
    }
}

/// Says of each place that bubbled that its size is not known, where it is not.
pub(super) fn note_bubbles(
    notes: &mut Vec<Note>,
    evidence: &Evidence<Site>,
    found: &Isolation<Site>,
) {
    for spot in evidence.bubbling() {
        let share = found
            .shares
            .iter()
            .find(|share| share.spots.contains(&spot));
        let (Place::Site(site), Some(share)) = (&spot.place, share) else {
            continue;
        };
        if share.only_bubbles() {
            notes.push(Note::OnlyBubbles {
                site: site.clone(),
                at_most_m2: Some(share.area.si().high).filter(|high| high.is_finite()),
            });
        }
    }
}
