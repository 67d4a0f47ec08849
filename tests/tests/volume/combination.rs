//! Several ways to one volume.

use super::*;

#[test]
fn the_sentence_says_whether_methods_agree() {
    let agreeing = combine(&[direct(1.0, 0.1), direct(1.06, 0.1)]).unwrap();
    assert_eq!(
        agreeing.to_string(),
        "2 methods agree: chi-squared 0.18 on 1 degrees of freedom (probability 0.67)"
    );
    let disagreeing = combine(&[direct(1.0, 0.1), direct(1.5, 0.1)]).unwrap();
    assert_eq!(
        disagreeing.to_string(),
        "2 methods disagree: chi-squared 12.50 on 1 degrees of freedom (probability 0.00); \
         the uncertainty is widened by the Birge ratio, 3.54"
    );
    assert!(!disagreeing.agree() && disagreeing.widened() && !agreeing.widened());
    // The pulls of two are the root of chi-squared, one of each sign.
    let pulls: Vec<f64> = disagreeing
        .members()
        .iter()
        .filter_map(|m| m.pull)
        .collect();
    assert!(
        close(pulls[0], -(12.5_f64.sqrt()), ROUNDING) && close(pulls[1], 12.5_f64.sqrt(), ROUNDING)
    );
}

#[test]
fn one_method_alone_is_passed_through() {
    let alone = direct(250.0 * CM3, 0.0);
    let mean = combine(std::slice::from_ref(&alone)).unwrap();
    assert_eq!(mean.volume().value(), alone.volume().value());
    assert_eq!(mean.members()[0].pull, None);
    assert_eq!((mean.birge_ratio(), mean.probability()), (None, None));
    assert!(mean.agree() && !mean.widened());
    assert_eq!(
        mean.to_string(),
        "one method only: nothing to compare it with"
    );
    assert_eq!(mean.tested().method(), Method::Combined);
}

#[test]
fn a_fully_shared_input_adds_what_it_would_alone() {
    // By hand: two volumes of own u1, u2 that share an addition of u: 1/(1/u1^2 + 1/u2^2) + u^2.
    let hose = known::<Volume>(12.0, 3.0);
    let with_hose = |value, u| direct(value, u).plus("hose", &hose).unwrap();
    let both = [with_hose(240.0, 4.0), with_hose(241.0, 5.0)];
    let mean = combine_sharing(&both, &["hose"]).unwrap();
    let own = 1.0 / (1.0 / 16.0 + 1.0 / 25.0);
    assert!(close(
        mean.volume().standard_uncertainty().value,
        f64::sqrt(own + 9.0),
        ROUNDING
    ));
    let value = (240.0 / 16.0 + 241.0 / 25.0) * own + 12.0;
    assert!(close(mean.volume().value().si(), value, ROUNDING));
    // "whole volume" is each one's own number here, though both list it.
    assert_eq!(mean.taken_as_independent(), ["whole volume"]);
}

#[test]
fn a_combination_names_what_it_cannot_weigh() {
    assert_eq!(combine(&[]), Err(VolumeError::NothingToCombine));
    let exact = direct(1.0, 0.0);
    assert_eq!(
        combine(&[direct(1.0, 0.1), exact]),
        Err(VolumeError::NoUncertainty {
            method: Method::MeasuredDirectly
        })
    );
    let twice = [direct(1.0, 0.1), direct(1.1, 0.1)];
    assert_eq!(
        combine_sharing(&twice, &["whole volume"]),
        Err(VolumeError::NotIndependent)
    );
}
