//! What the needle showed and what the fit had to do with its readings, in words.

use std::fmt;

use casetight::fit::FitNote;
use casetight::quantity::Unit;

/// Of a needle that lost so much \[Pa\], of which the readings don't tell how much is a leak.
pub(super) fn say_of_open_fall(
    lost_pa: f64,
    seconds: f64,
    unit: &Unit,
    f: &mut fmt::Formatter<'_>,
) -> fmt::Result {
    write!(
        f,
        "The needle fell by {} in {seconds:.0} s, but how much of that is a leak these readings don't tell: the upper end is what it is \
         if all of it is. Let the gas settle, say for how long in settled_for, and hold longer",
        unit.shown(lost_pa, 3)
    )
}

/// Of a needle that lost so much, and would have lost so much without a leak \[Pa\].
pub(super) fn say_of_fall(
    (lost_pa, explained_pa): (f64, f64),
    seconds: f64,
    unit: &Unit,
    f: &mut fmt::Formatter<'_>,
) -> fmt::Result {
    if lost_pa > 0.0 {
        let lost = unit.shown(lost_pa, 3);
        write!(f, "The needle fell by {lost} in {seconds:.0} s")?;
    } else {
        write!(f, "The needle did not fall in {seconds:.0} s")?;
    }
    write!(
        f,
        ", and what is known of the heat and the temperature would have let it fall by {} without any leak. No leak is seen; what makes \
         up for the rest could hide one, and the upper end allows for that. Read the temperature at the case itself, let it settle and \
         hold again",
        unit.shown(explained_pa, 3)
    )
}

pub(super) fn say_of_fit(note: &FitNote, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    match note {
        FitNote::Misfit {
            chi_squared,
            degrees_of_freedom,
            widened_by,
        } => write!(
            f,
            "The readings scatter about the curve more than the gauge explains (chi-squared {chi_squared:.0} for \
             {degrees_of_freedom} degrees of freedom); the interval is {widened_by:.1} times wider for it. Look at the \
             residuals: settling gas, a drifting temperature or a disturbed hose bend them"
        ),
        FitNote::Correlated {
            correlation,
            widened_by,
        } => write!(
            f,
            "The scatter of one reading goes on in the next, or may (correlation {correlation:.1}), as that of a logger that smooths, a needle \
             that sticks or a drift does: the readings tell less than as many separate ones, and the interval is {widened_by:.1} times \
             wider for it"
        ),
        FitNote::Fallen => f.write_str(
            "The needle was at rest by the second reading: the leak is at least so large that it fell in that time, and \
             may be much larger. Read sooner, or treat it as a gross leak",
        ),
        FitNote::Averaged { block } => {
            write!(f, "The fit used means of {block} readings each")
        }
        FitNote::Outliers { count, of } => write!(
            f,
            "{count} of {of} readings lie far off the curve and were given little weight; look for a bumped hose or a \
             spike of the logger"
        ),
    }
}
