//! An independent script's values.

use super::*;

/// Value and standard uncertainty of an input, both times a factor to SI units.
fn input<Q: Measurable>(row: Row<'_>, name: &str, factor: f64) -> Measured<Q> {
    let u = row.input(&format!("u_{name}"));
    known(row.input(name) * factor, u * factor)
}

fn script_settling(row: Row<'_>) -> Settling {
    Settling::new(input(row, "t", 1.0), input(row, "dt", 1.0)).unwrap()
}

fn script_expansion(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    TestedVolume::from_expansion(&Expansion {
        reference: input(row, "v1", CM3),
        before: input(row, "g1", 1.0),
        tested: None,
        after: input(row, "gf", 1.0),
        zero: input(row, "z", 1.0),
        ambient: input(row, "pa", 1.0),
        settling: script_settling(row),
    })
}

fn script_rotation(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    let degree = PI / 180.0;
    // The script's standard uncertainty is that of a rectangular distribution here.
    let half_width = row.input("u_at") * 3.0_f64.sqrt();
    let piston = format!("{} +- {half_width} deg, transfers shut", row.input("at"));
    let rotation = Rotation {
        bore: input(row, "b", MM),
        stroke: input(row, "st", MM),
        rod: input(row, "l", MM),
        from: input(row, "a1", degree),
        to: input(row, "a2", degree),
        before: input(row, "g1", 1.0),
        after: input(row, "g2", 1.0),
        zero: input(row, "z", 1.0),
        ambient: input(row, "pa", 1.0),
        settling: script_settling(row),
        loss: Some(Loss {
            fall: input(row, "fall", 1.0),
            watched: input(row, "watched", 1.0),
            between: input(row, "between", 1.0),
        }),
    };
    TestedVolume::from_rotation(&rotation, piston.parse().unwrap())
}

fn script_strokes(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    let readings = row
        .text("inputs")
        .split(';')
        .filter_map(|field| field.strip_prefix('n')?.split_once('='))
        .map(|(count, _)| StrokeReading {
            strokes: count.parse().unwrap(),
            reading: input(row, &format!("n{count}"), 1.0),
        })
        .collect();
    TestedVolume::from_strokes(&Strokes {
        stroke_volume: input(row, "vs", CM3),
        delivery: input(row, "eta", 1.0),
        dead_space: input(row, "vd", CM3),
        readings,
        zero: input(row, "z", 1.0),
        ambient: input(row, "pa", 1.0),
        settling: script_settling(row),
    })
}

fn script_added_leak(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    let leak = AddedLeak {
        alone: input(row, "k1", 1.0),
        together: input(row, "k2", 1.0),
        rate_correlation: 0.0,
        known: input(row, "A", 1e-6),
        temperature: input(row, "T", 1.0),
        gas: Gas::dry_air(),
    };
    TestedVolume::from_added_leak(&leak).map(|both| both.volume().clone())
}

fn script_fill(row: Row<'_>) -> Result<TestedVolume, VolumeError> {
    TestedVolume::from_fill(&Fill {
        empty: input(row, "m0", 1e-3),
        full: input(row, "m1", 1e-3),
        balance_scale: input(row, "s", 1.0),
        liquid: Liquid::water(&input(row, "T", 1.0)).unwrap(),
        air: input(row, "ra", 1.0),
        trapped: input(row, "tr", CM3),
    })
}

#[test]
fn an_independent_script_gives_the_same_volumes_and_uncertainties() {
    // Central differences of the script: some 1e-7 of the uncertainty.
    const TOLERANCE: f64 = 1e-6;
    for row in Table::open("volume_methods.csv").rows() {
        let tested = match row.text("method") {
            "expansion" => script_expansion(row),
            "rotation" => script_rotation(row),
            "strokes" => script_strokes(row),
            "added leak" => script_added_leak(row),
            "fill" => script_fill(row),
            method => panic!("{method}"),
        }
        .unwrap();
        let id = row.text("id");
        let (volume, u) = (row.number("volume_cm3"), row.number("u_cm3"));
        assert!(
            close(cm3(&tested), volume, TOLERANCE),
            "{id}: {}",
            cm3(&tested)
        );
        assert!(
            close(u_cm3(&tested), u, TOLERANCE),
            "{id}: {}",
            u_cm3(&tested)
        );
        let shares: f64 = tested
            .contributions()
            .iter()
            .map(|c| c.variance_share)
            .sum();
        assert!((shares - 1.0).abs() < ROUNDING, "{id}: {shares}");
        assert!(!tested.assumptions().is_empty());
    }
}

#[test]
fn area_and_covariance_of_an_added_leak_are_the_scripts() {
    let leak = AddedLeak {
        alone: known(0.02, 4e-4),
        together: known(0.05, 8e-4),
        rate_correlation: 0.0,
        known: known(0.03e-6, 6e-10),
        temperature: known(300.0, 1.0),
        gas: Gas::dry_air(),
    };
    let both = TestedVolume::from_added_leak(&leak).unwrap();
    // Independent script: CdA = 0.02 mm2, u = 0.000942809042 mm2; covariance 0.009129746623 cm3 mm2.
    assert!(close(both.area().value().si(), 0.02e-6, ROUNDING));
    assert!(close(
        both.area().standard_uncertainty().value,
        9.428_090_42e-10,
        1e-7
    ));
    assert!(
        close(both.covariance(), 9.129_746_623e-3 * CM3 * 1e-6, 1e-6),
        "{}",
        both.covariance()
    );
    let scale = both.area().standard_uncertainty().value * u_cm3(both.volume()) * CM3;
    assert!(close(
        both.correlation(),
        both.covariance() / scale,
        ROUNDING
    ));

    // Self-consistency: rates that err together cancel from their difference, so V is better known.
    let together = AddedLeak {
        rate_correlation: 0.9,
        ..leak
    };
    let together = TestedVolume::from_added_leak(&together).unwrap();
    assert!(u_cm3(together.volume()) < u_cm3(both.volume()));
}
