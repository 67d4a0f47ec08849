//! The picture of a running engine's turn: pressure in the crankcase over crank angle.

use casetight::quantity::Angle;
use casetight_bench::mixture::Mixture;
use casetight_bench::running::Ports;
use uom::si::angle::degree;

use crate::chart::{Axis, Figure, Panel, Tone};

/// Pressure over crank angle.
pub(crate) fn figure(title: &str, ports: &Ports, mixture: &Mixture) -> Figure {
    let degrees = |angle: Angle| angle.get::<degree>();
    let (intake_closes, intake_opens) = (
        degrees(ports.intake_closes.value()),
        360.0 - degrees(ports.intake_opens.value()),
    );
    let (exhaust, transfer) = (
        degrees(ports.exhaust_opens.value()),
        degrees(ports.transfer_opens.value()),
    );
    let mut panel = Panel::new(
        "Pressure in the crankcase over a turn (estimate)",
        Axis::new("Crank angle after top dead center", "deg").range(0.0, 360.0),
        Axis::new("Gauge pressure", "kPa"),
    )
    .height(260.0)
    .level(0.0, "ambient");
    let tones = [Tone::First, Tone::Second];
    for ((name, lean), tone) in mixture.loads().into_iter().zip(tones) {
        let pressure = &lean.pressure;
        panel = panel.line(
            name,
            tone,
            (0..=720_u16).map(|half| {
                let after_top = Angle::new::<degree>(f64::from(half) / 2.0);
                (
                    degrees(after_top),
                    pressure.gauge_at(after_top).pascals() / 1e3,
                )
            }),
        );
    }
    for (angle, label) in [
        (intake_closes, "intake closes"),
        (exhaust, "exhaust opens"),
        (transfer, "transfers open"),
        (360.0 - transfer, "transfers close"),
        (intake_opens, "intake opens"),
    ] {
        panel = panel.upright(angle, label);
    }
    let described: Vec<String> = mixture
        .loads()
        .into_iter()
        .map(|(name, lean)| {
            let (low, high) = lean.pressure.extremes();
            format!(
                "At {name} the pressure in the case goes from {:.1} to {:.1} kPa gauge.",
                low.pascals() / 1e3,
                high.pascals() / 1e3
            )
        })
        .collect();
    Figure::new("running", title, described.join(" "))
        .caption(
            "An estimate: computed, not measured. Below ambient a leak draws in air that the carburetor gives no fuel for; \
             above, it lets mixture out.",
        )
        .panel(panel)
}
