//! What tells nothing, or can not be.

use super::*;

#[test]
fn readings_that_tell_nothing_are_refused() {
    let unresolved = |result: Result<TestedVolume, VolumeError>, what: &str| match result {
        Err(VolumeError::Unresolved { name, .. }) => assert!(name.contains(what), "{name}"),
        other => panic!("{other:?}"),
    };
    let tight = expansion(200.0 * CM3, 50e3, 0.0, PA);
    unresolved(TestedVolume::from_expansion(&tight), "reading after");
    let noisy = Expansion {
        after: known(1e3, 300.0),
        ..expansion(200.0 * CM3, 50e3, 1e3, PA)
    };
    unresolved(TestedVolume::from_expansion(&noisy), "reading after");
    let shut = expansion(200.0 * CM3, 50e3, 50e3, PA);
    unresolved(TestedVolume::from_expansion(&shut), "fall");
    unresolved(
        TestedVolume::from_rotation(&rotation(20.0, 20.0, 10e3, 30e3), Piston::Top),
        "piston",
    );
    unresolved(
        TestedVolume::from_rotation(&rotation(20.0, 90.0, 10e3, 10e3), Piston::Top),
        "pressure",
    );
    unresolved(
        TestedVolume::from_strokes(&strokes(25.0 * CM3, &[(5, 0.0)], PA)),
        "needle",
    );
    let leak = AddedLeak {
        alone: known(0.02, 1e-3),
        together: known(0.024, 1e-3),
        rate_correlation: 0.0,
        known: exact(1e-8),
        temperature: exact(T),
        gas: Gas::dry_air(),
    };
    let volume =
        |leak: &AddedLeak| TestedVolume::from_added_leak(leak).map(|both| both.volume().clone());
    unresolved(volume(&leak), "rates");
    // The same rates, had they erred together.
    let together = AddedLeak {
        rate_correlation: 0.99,
        ..leak
    };
    assert!(volume(&together).is_ok());
    unresolved(TestedVolume::from_fill(&fill(1.9, 1.9)), "mass");
}

#[test]
fn readings_that_contradict_each_other_are_refused() {
    let not_positive = |result: Result<TestedVolume, VolumeError>| {
        assert!(
            matches!(result, Err(VolumeError::NotPositive { .. })),
            "{result:?}"
        );
    };
    // The pressure rose as the gas expanded; it fell as the case grew smaller; the case was lighter full; the pump drew.
    not_positive(TestedVolume::from_expansion(&expansion(
        200.0 * CM3,
        20e3,
        50e3,
        PA,
    )));
    not_positive(TestedVolume::from_rotation(
        &rotation(20.0, 90.0, 10e3, 5e3),
        Piston::Top,
    ));
    not_positive(TestedVolume::from_fill(&fill(2.1, 1.9)));
    not_positive(TestedVolume::from_strokes(&strokes(
        25.0 * CM3,
        &[(5, -20e3)],
        PA,
    )));
    not_positive(direct(1.0, 0.1).plus("not there in the test", &known(-1.0, 0.1)));
    let web = cylinder("web", Sense::Solid, 80.0);
    let list = PartsList {
        pieces: vec![cylinder("case", Sense::Space, 70.0), web],
        caliper_scale: exact(1.0),
    };
    not_positive(TestedVolume::from_parts_list(&list));
}

#[track_caller]
fn refused(result: Result<TestedVolume, VolumeError>, start: &str) {
    let text = result.unwrap_err().to_string();
    assert!(text.starts_with(start), "{text}");
}

#[test]
fn impossible_expansions_are_named() {
    let open = "130 deg, transfers open".parse().unwrap();
    let turned = rotation(20.0, 90.0, 10e3, 30e3);
    refused(
        TestedVolume::from_rotation(&turned, Piston::Bottom),
        "turning the crank measures the case side",
    );
    refused(
        TestedVolume::from_rotation(&turned, open),
        "turning the crank measures the case side",
    );
    let short = Rotation {
        rod: exact(10.0 * MM),
        ..turned.clone()
    };
    refused(
        TestedVolume::from_rotation(&short, Piston::Top),
        "rod 10 mm",
    );
    let unwatched = Rotation {
        loss: Some(Loss {
            fall: exact(100.0),
            watched: exact(0.0),
            between: exact(10.0),
        }),
        ..turned
    };
    refused(
        TestedVolume::from_rotation(&unwatched, Piston::Top),
        "time for which the loss was watched is 0",
    );
    refused(
        TestedVolume::from_expansion(&expansion(0.0, 5e4, 2e4, PA)),
        "reference volume is 0",
    );
}

#[test]
fn impossible_strokes_are_named() {
    refused(
        TestedVolume::from_strokes(&strokes(25.0 * CM3, &[], PA)),
        "counted strokes need",
    );
    refused(
        TestedVolume::from_strokes(&strokes(25.0 * CM3, &[(0, 1e3)], PA)),
        "counted strokes need",
    );
    refused(
        TestedVolume::from_strokes(&strokes(-1.0, &[(1, 1e3)], PA)),
        "stroke volume is -1",
    );
    let weak = Strokes {
        dead_space: exact(20.0 * CM3),
        ..strokes(25.0 * CM3, &[(5, 130e3)], PA)
    };
    refused(
        TestedVolume::from_strokes(&weak),
        "130 kPa gauge after 5 strokes",
    );
    let negative = Strokes {
        dead_space: exact(-CM3),
        ..weak
    };
    refused(
        TestedVolume::from_strokes(&negative),
        "dead space is -1 cm3",
    );
}

#[test]
fn impossible_added_leaks_are_named() {
    let leak = AddedLeak {
        alone: exact(0.02),
        together: exact(0.05),
        rate_correlation: 1.5,
        known: exact(1e-8),
        temperature: exact(T),
        gas: Gas::dry_air(),
    };
    let volume =
        |leak: &AddedLeak| TestedVolume::from_added_leak(leak).map(|both| both.volume().clone());
    refused(volume(&leak), "correlation matrix");
    let unknown = AddedLeak {
        known: exact(0.0),
        ..leak
    };
    refused(volume(&unknown), "known leak's effective area is 0");
}

#[test]
fn impossible_fills_and_liquids_are_named() {
    let airy = Fill {
        air: exact(1000.0),
        ..fill(1.9, 2.1)
    };
    refused(TestedVolume::from_fill(&airy), "liquid of 998");
    for celsius in [-1.0, 41.0] {
        let bath = exact(celsius + ZERO_C);
        assert!(matches!(
            Liquid::water(&bath),
            Err(VolumeError::WaterTemperature { .. })
        ));
    }
    assert!(Liquid::water(&exact(ZERO_C)).is_ok() && Liquid::water(&exact(ZERO_C + 40.0)).is_ok());
    assert!(Liquid::of_density(exact(0.0)).is_err());
}

#[test]
fn impossible_lists_of_parts_are_named() {
    let list = |pieces| {
        let caliper_scale = exact(1.0);
        TestedVolume::from_parts_list(&PartsList {
            pieces,
            caliper_scale,
        })
    };
    refused(list(vec![]), "a list of parts needs");
    let none = Piece {
        count: 0,
        ..cylinder("case", Sense::Space, 70.0)
    };
    refused(list(vec![none]), "a list of parts needs");
    refused(
        list(vec![cylinder("case", Sense::Space, 0.0)]),
        "`case`: its diameter of 0",
    );
    let ring = Piece {
        shape: Shape::Annulus {
            outer: exact(0.03),
            inner: exact(0.03),
            length: exact(0.01),
        },
        ..cylinder("ring", Sense::Space, 1.0)
    };
    refused(list(vec![ring]), "`ring`: the inner diameter 30 mm");
}

#[test]
fn impossible_settling_is_refused() {
    assert!(Settling::new(exact(0.0), exact(0.0)).is_err());
    assert!(Settling::new(exact(200.0), exact(-200.0)).is_err());
}

#[test]
fn an_added_space_keeps_the_account_straight() {
    let tested = direct(240.0, 4.0).plus("hose", &known(12.0, 3.0)).unwrap();
    let names: Vec<_> = tested
        .parts()
        .iter()
        .map(|part| part.name.as_ref())
        .collect();
    assert_eq!(names, ["whole volume", "hose"]);
    let shares: Vec<f64> = tested
        .contributions()
        .iter()
        .map(|c| c.variance_share)
        .collect();
    assert!(close(shares[0], 0.64, ROUNDING) && close(shares[1], 0.36, ROUNDING));
    assert_eq!(tested.method(), Method::MeasuredDirectly);
}

#[test]
fn every_method_states_its_assumptions() {
    for method in Method::ALL {
        assert!(!method.assumptions().is_empty(), "{method}");
    }
}
