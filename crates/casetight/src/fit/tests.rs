//! Quick checks of the fit against the closed form; the real ones, against the independent simulator, are in the workspace's
//! tests.

use super::*;
use crate::measured::Measured;
use crate::quantity::{AbsolutePressure, Pressure, ThermodynamicTemperature, Volume};
use crate::vessel::IsothermalDecay;
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::kelvin;
use uom::si::time::second;
use uom::si::volume::cubic_centimeter;

fn bench(gauge: Gauge) -> Bench {
    Bench {
        volume: Measured::exact(Volume::new::<cubic_centimeter>(250.0)).unwrap(),
        ambient_pressure: Measured::exact(AbsolutePressure::from_pascals(101_325.0).unwrap())
            .unwrap(),
        temperature: Measured::exact(ThermodynamicTemperature::new::<kelvin>(293.15)).unwrap(),
        gauge,
        gas: Gas::dry_air(),
    }
}

fn pa(p: f64) -> Pressure {
    Pressure::new::<pascal>(p)
}

#[test]
fn recovers_area() {
    for (gauge, times) in [
        (
            Gauge::digital(pa(100.0)).unwrap(),
            (0..24).map(f64::from).collect::<Vec<_>>(),
        ),
        (
            Gauge::dial(pa(3447.0), pa(862.0))
                .unwrap()
                .with_stopwatch(Time0::new::<second>(0.0))
                .unwrap(),
            (0..9).map(|i| f64::from(i) * 3.0).collect(),
        ),
    ] {
        let bench = bench(gauge);
        let start = GaugePressure::from_pascals(48_263.0).unwrap();
        let area = EffectiveArea::from_square_meters(5e-9).unwrap();
        let d = IsothermalDecay::new(
            area,
            bench.volume.value(),
            start,
            bench.ambient(),
            &bench.gas,
        )
        .unwrap();
        let g: Vec<f64> = times
            .iter()
            .map(|t| {
                gauge
                    .rounded(d.gauge_at(Time0::new::<second>(*t)))
                    .pascals()
            })
            .collect();
        let r = Readings::from_si(&times, &g, bench.ambient_pressure.value()).unwrap();
        let f = fit(&r, &bench, 0.95).unwrap();
        println!(
            "{:?} {:?} {} it {} rms {} chi2 {}",
            f.area,
            f.method,
            f.start.pascals(),
            f.iterations,
            f.residual_rms_pa,
            f.chi_squared
        );
        assert!(f.area.low < 5e-9 && f.area.high > 5e-9);
    }
}
use crate::quantity::Time as Time0;
