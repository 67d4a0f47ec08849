//! Values that are printed in a source.

use super::*;

/// Strokes that bring a tire to a ratio of absolute pressures, by way of the volume that one stroke is found to go into.
fn strokes_to(row: Row<'_>) -> f64 {
    let (litre, pa) = (1e-3, 101_325.0);
    let gauge = (row.input("ratio") - 1.0) * pa;
    let one = strokes(row.input("stroke_l") * litre, &[(1, gauge)], pa);
    let volume = TestedVolume::from_strokes(&one)
        .unwrap()
        .volume()
        .value()
        .si();
    row.input("v_l") * litre / volume
}

fn combined(row: Row<'_>) -> Combined {
    let count = row.text("inputs").split(';').count() / 2;
    let volumes: Vec<_> = (1..=count)
        .map(|n| direct(row.input(&format!("x{n}")), row.input(&format!("u{n}"))))
        .collect();
    combine(&volumes).unwrap()
}

/// Volume of 1 g as a balance in air shows it, in cm3; humid air of 50 % from the formula that guides to weighing give (from
/// memory: 1.2 kg/m3 in workshops).
fn conversion_factor(t: f64, hectopascals: f64) -> f64 {
    let air = (0.348_48 * hectopascals - 0.009 * 50.0 * (0.061 * t).exp()) / (ZERO_C + t);
    let fill = Fill {
        empty: exact(0.0),
        full: exact(1e-3),
        balance_scale: exact(1.0),
        liquid: Liquid::water(&exact(t + ZERO_C)).unwrap(),
        air: exact(air),
        trapped: exact(0.0),
    };
    cm3(&TestedVolume::from_fill(&fill).unwrap())
}

fn frustum(row: Row<'_>) -> f64 {
    let cm = 0.01;
    let piece = Piece {
        name: "frustum".into(),
        shape: Shape::Frustum {
            first: exact(2.0 * row.input("r1_cm") * cm),
            second: exact(2.0 * row.input("r2_cm") * cm),
            length: exact(row.input("l_cm") * cm),
        },
        sense: Sense::Space,
        count: 1,
    };
    // The printed answers take a rounded pi.
    cm3(&parts(vec![piece])) * row.input("pi") / PI
}

#[test]
fn published_values_are_met() {
    let table = Table::open("volume_published.csv");
    for row in table.rows() {
        let got = match row.text("quantity") {
            "second_volume_dm3" => {
                let pa = row.input("pa_pa");
                let (g1, gf) = (row.input("p1_pa") - pa, row.input("pf_pa") - pa);
                let expansion = expansion(row.input("v1") * 1e-3, g1, gf, pa);
                cm3(&TestedVolume::from_expansion(&expansion).unwrap()) / 1e3
            }
            "strokes" => strokes_to(row),
            "strokes_rounded_up" => strokes_to(row).ceil(),
            "z_cm3_per_g" => conversion_factor(row.input("t_c"), row.input("p_hpa")),
            "water_kg_per_m3" => {
                let temperature = ThermodynamicTemperature::from_si(row.input("t_c") + ZERO_C);
                water_density(temperature.unwrap()).unwrap().si()
            }
            "frustum_cm3" => frustum(row),
            "mean" => combined(row).volume().value().si(),
            "uncertainty" => combined(row).volume().standard_uncertainty().value,
            "uncertainty_not_widened" => {
                let mean = combined(row);
                mean.volume().standard_uncertainty().value / mean.birge_ratio().unwrap()
            }
            "scale_factor" => combined(row).birge_ratio().unwrap(),
            quantity => panic!("{quantity}"),
        };
        let (value, tolerance) = (row.number("value"), row.number("tolerance"));
        assert!(
            (got - value).abs() <= tolerance,
            "{}: {got} instead of {value}",
            row.text("id")
        );
    }
}

#[test]
fn the_gas_pycnometers_equation_is_the_same_balance() {
    // Published (form of ISO 12154, as manuals of such instruments derive it): a cell of volume V_c - V_s at gauge pressure
    // p1 expands into V_e and settles at p2: V_s = V_c - V_e/(p1/p2 - 1). The cell is the reference here, V_e the volume.
    let (cell, sample, p1, p2) = (120.0 * CM3, 45.0 * CM3, 130e3, 61e3);
    let found = TestedVolume::from_expansion(&expansion(cell - sample, p1, p2, 101_325.0)).unwrap();
    let v_e = found.volume().value().si();
    assert!(close(cell - v_e / (p1 / p2 - 1.0), sample, ROUNDING));
}
