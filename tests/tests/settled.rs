//! Fast holes on settled gas, in small: the fit reaches the best curve. The study in large is the program `settled`.

use casetight_tests::settled::{Tests, one_settled, settled};

/// As the gas is known to have had 10 s, and as a fine gauge reads it.
const fn read_to(noise_pa: f64, falls_in_s: (f64, f64)) -> Tests {
    Tests {
        falls_in_s,
        settled_for_s: 10.0,
        gauge_pa: (noise_pa / 2.0, noise_pa),
    }
}

#[test]
fn no_fit_of_settled_gas_stops_short() {
    let fits = settled(&read_to(10.0, (10.0, 20.0)), 150, 3);
    let missed = fits.iter().filter(|fit| fit.missed()).count();
    assert_eq!(missed, 0);
}

/// A case that settles so slowly that its gas is warm after 10 s still: from the usual start the fit ended at a leak that is 46 % too
/// large, with a chi-squared of 33 000 for 28 degrees of freedom, too poor by far for another start to be tried.
#[test]
fn a_fit_that_is_poor_is_sought_from_elsewhere() {
    let tests = Tests {
        falls_in_s: (2.0, 10.0),
        settled_for_s: 10.0,
        gauge_pa: (1.0, 2.0),
    };
    let fit = one_settled(&tests, 7, 937);
    assert!((fit.area[0] / fit.truth - 1.0).abs() < 0.02, "{fit:?}");
    assert!(fit.chi_squared < 150.0, "{fit:?}");
}
