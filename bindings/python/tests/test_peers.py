"""The same numbers from libraries that share no code with casetight."""

from __future__ import annotations

import math
from typing import Any

import cantera
import CoolProp.CoolProp as coolprop
import fluids
import lmfit
import numpy as np
import pytest
import scipy.integrate
import scipy.optimize
import scipy.special
import scipy.stats
import uncertainties
from conftest import AMBIENT_PA, KELVINS
from hypothesis import given, settings
from hypothesis import strategies as st

import casetight as ct

WHERE: dict[str, Any] = {"ambient_pa": AMBIENT_PA, "temperature_k": KELVINS}
AIR = ct.Gas.dry_air()
RT = AIR.specific_gas_constant * KELVINS
VOLUME_M3 = 250e-6


@pytest.mark.parametrize("start_pa", [48e3, 200e3, -48e3, -80e3])
@pytest.mark.parametrize("law", [ct.Orifice(5e-9), ct.Capillary(5e-5, 6e-3), ct.SharpEdgedHole(1e-4)], ids=lambda law: law.name)
def test_scipy_integrates_the_same_vessel(law: ct.LeakLaw, start_pa: float) -> None:
    """Peer: SciPy `solve_ivp`, of the law's own flow."""

    def rate(_: float, y: Any) -> list[float]:
        inside = y[0]
        up, down = max(inside, AMBIENT_PA), min(inside, AMBIENT_PA)
        return [math.copysign(law.mass_flow_kg_s(up, down, temperature_k=KELVINS), AMBIENT_PA - inside) * RT / VOLUME_M3]

    time_s = np.array([1.0, 10.0, 30.0])
    peer = scipy.integrate.solve_ivp(
        rate, (0.0, 30.0), [AMBIENT_PA + start_pa], t_eval=time_s, rtol=1e-11, atol=1e-6, method="DOP853"
    )
    ours = ct.ThermalVessel(law, VOLUME_M3, start_pa, **WHERE).gauge_pa(time_s)
    assert ours == pytest.approx(peer.y[0] - AMBIENT_PA, rel=1e-7)


@pytest.mark.parametrize("start_pa", [10e3, 48e3, 90e3])
def test_the_closed_form_is_a_hypergeometric_function(start_pa: float) -> None:
    """Peer: SciPy `hyp2f1`, which Int (1+s^2)^(1/beta - 3/2) ds is: q 2F1(3/2 - 1/beta, 1/2; 3/2; -q^2)."""
    beta = (AIR.heat_capacity_ratio - 1) / AIR.heat_capacity_ratio

    def coordinate(gauge_pa: float) -> float:
        q = math.sqrt((1 + gauge_pa / AMBIENT_PA) ** beta - 1)
        return q * float(scipy.special.hyp2f1(1.5 - 1 / beta, 0.5, 1.5, -q * q))

    area_m2 = 5e-9
    k = area_m2 * math.sqrt(RT) / VOLUME_M3
    end_pa = start_pa / 4
    wanted_s = (coordinate(start_pa) - coordinate(end_pa)) / (k * math.sqrt(beta / 2))
    assert ct.Decay(area_m2, VOLUME_M3, start_pa, **WHERE).time_s(end_pa) == pytest.approx(wanted_s, rel=1e-12)


def test_cantera_empties_the_same_vessel() -> None:
    """Peer: Cantera's reactor with a valve, a wall that holds its temperature, and a gas of constant heat capacity."""
    gas = cantera.Solution("air.yaml")
    gas.TPX = KELVINS, AMBIENT_PA + 48e3, "N2:1"
    around = cantera.Solution("air.yaml")
    around.TPX = KELVINS, AMBIENT_PA, "N2:1"
    inside, outside = cantera.IdealGasReactor(gas, clone=False), cantera.Reservoir(around, clone=False)
    inside.volume = VOLUME_M3
    # So strong a wall keeps the gas within a millikelvin of it.
    cantera.Wall(inside, outside, A=1.0, U=1000.0)
    nitrogen = ct.Gas(cantera.gas_constant / gas.mean_molecular_weight, 1.4)
    leak = ct.Orifice(5e-9)

    def flow(pressure_drop_pa: float) -> float:
        return float(leak.mass_flow_kg_s(AMBIENT_PA + pressure_drop_pa, AMBIENT_PA, temperature_k=KELVINS, gas=nitrogen))

    valve = cantera.Valve(inside, outside)
    valve.valve_coeff = 1.0
    valve.pressure_function = flow
    network = cantera.ReactorNet([inside])
    network.rtol, network.atol = 1e-11, 1e-16
    decay = ct.Decay(5e-9, VOLUME_M3, 48e3, gas=nitrogen, **WHERE)
    for time_s in (5.0, 20.0, 50.0):
        network.advance(time_s)
        assert inside.phase.P - AMBIENT_PA == pytest.approx(decay.gauge_pa(time_s), rel=2e-5)


@pytest.mark.parametrize(
    ("name", "peer", "density", "viscosity"),
    [("dry air", "Air", 6e-4, 2e-3), ("nitrogen", "Nitrogen", 4e-4, 2e-3), ("helium", "Helium", 6e-4, 4e-3),
     ("argon", "Argon", 1e-3, 2e-3), ("propane", "Propane", 2.2e-2, 4e-3)],
)
def test_coolprop_has_the_same_gas(name: str, peer: str, density: float, viscosity: float) -> None:
    """Peer: CoolProp's reference equations; a perfect gas lies within the compressibility of them."""
    gas = ct.Gas.named(name)
    for kelvins in (278.15, 293.15, 318.15):
        rho = coolprop.PropsSI("D", "T", kelvins, "P", AMBIENT_PA, peer)
        mu = coolprop.PropsSI("V", "T", kelvins, "P", AMBIENT_PA, peer)
        assert gas.density_kg_m3(AMBIENT_PA, kelvins) == pytest.approx(rho, rel=density)
        assert gas.viscosity_pa_s(kelvins) == pytest.approx(mu, rel=viscosity)


@pytest.mark.parametrize("name", ["dry air", "helium"])
def test_fluids_chokes_at_the_same_ratio(name: str) -> None:
    """Peer: fluids, `P_critical_flow`; and the choked flow of a nozzle as NACA report 1135 writes it."""
    gas = ct.Gas.named(name)
    gamma = gas.heat_capacity_ratio
    assert gas.critical_pressure_ratio == pytest.approx(fluids.P_critical_flow(1.0, gamma), rel=1e-14)
    up_pa = 400e3
    flow = ct.Orifice(5e-9).mass_flow_kg_s(up_pa, AMBIENT_PA, temperature_k=KELVINS, gas=gas)
    ideal = 5e-9 * up_pa * math.sqrt(gamma / (gas.specific_gas_constant * KELVINS)) * (2 / (gamma + 1)) ** (
        (gamma + 1) / (2 * (gamma - 1))
    )
    assert flow == pytest.approx(ideal, rel=1e-13)


def noisy(seed: int) -> tuple[Any, Any, ct.Bench]:
    """A run with noise that outweighs rounding, in gas that settles at once, and all else exact: plain least squares."""
    random = np.random.default_rng(seed)
    time_s = np.arange(0.0, 120.0, 5.0)
    truth = ct.decay_gauge_pa(time_s, 1.5e-9, VOLUME_M3, 48e3, **WHERE)
    gauge = ct.Gauge.digital(1.0, noise_pa=100.0)
    bench = ct.Bench(volume_m3=VOLUME_M3, gauge=gauge, isothermal=True, **WHERE)
    return time_s, np.round(truth + random.normal(0.0, 100.0, time_s.size)), bench


@pytest.mark.parametrize("seed", range(4))
def test_scipy_fits_the_same_area(seed: int) -> None:
    """Peer: SciPy `least_squares` on the same model; the law told, so that nothing is averaged."""
    time_s, gauge_pa, bench = noisy(seed)

    def residuals(x: Any) -> Any:
        return (ct.decay_gauge_pa(time_s, x[0] * 1e-9, VOLUME_M3, x[1] * 1e3, **WHERE) - gauge_pa) / 100.0

    peer = scipy.optimize.least_squares(residuals, [1.0, 47.0], xtol=1e-14, ftol=1e-14, gtol=1e-14)
    covariance = np.linalg.inv(peer.jac.T @ peer.jac)
    leak = ct.fit(time_s, gauge_pa, bench, laws="orifice")
    half = scipy.stats.norm.ppf(0.975) * math.sqrt(covariance[0, 0]) * 1e-9
    area = leak.effective_area_m2
    assert area.value == pytest.approx(peer.x[0] * 1e-9, rel=2e-5)
    assert leak.start_gauge_pa == pytest.approx(peer.x[1] * 1e3, rel=2e-5)
    assert (area.high - area.low) / 2 == pytest.approx(half, rel=0.01)
    assert leak.chi_squared == pytest.approx(2 * peer.cost, rel=1e-3)


def test_lmfit_profiles_the_same_interval() -> None:
    """Peer: lmfit's `conf_interval`, a profile of the same chi-squared with the noise known."""
    time_s, gauge_pa, bench = noisy(1)

    def residuals(parameters: Any) -> Any:
        area_m2, start_pa = parameters["area"].value * 1e-9, parameters["start"].value * 1e3
        return (ct.decay_gauge_pa(time_s, area_m2, VOLUME_M3, start_pa, **WHERE) - gauge_pa) / 100.0

    guess = lmfit.create_params(area={"value": 1.2, "min": 1e-3}, start={"value": 47.0, "min": 1.0})
    fitted: Any = lmfit.Minimizer(residuals, guess, scale_covar=False).minimize()
    # The chi-squared of one parameter, not the F of an unknown noise.
    profile: Any = lmfit.conf_interval(
        lmfit.Minimizer(residuals, fitted.params, scale_covar=False),
        fitted,
        p_names=["area"],
        sigmas=[0.95],
        prob_func=lambda best, held: float(scipy.stats.chi2.cdf(held.chisqr - best.chisqr, 1)),
    )
    area = ct.fit(time_s, gauge_pa, bench, laws="orifice").effective_area_m2
    assert [area.low, area.value, area.high] == pytest.approx([end * 1e-9 for _, end in profile["area"]], rel=2e-3)


def test_uncertainties_propagates_the_same_volume() -> None:
    """Peer: uncertainties, of the volume that an engine's dimensions give, and of the area that follows from a rate."""
    bore: Any
    stroke: Any
    ratio: Any
    bore, stroke = uncertainties.ufloat(46e-3, 0.05e-3), uncertainties.ufloat(31e-3, 0.05e-3)
    ratio, rig = uncertainties.ufloat(1.42, 0.01), uncertainties.ufloat(18e-6, 1e-6)
    swept = math.pi / 4 * bore**2 * stroke
    engine = ct.Engine(bore_m=bore, stroke_m=stroke, rod_m=55e-3, primary_compression_ratio=ratio)
    assert engine.swept_volume_m3 == pytest.approx((swept.nominal_value, swept.std_dev), rel=1e-9)
    at_top = swept * ratio / (ratio - 1) + rig
    tested = engine.tested_volume("top", rig_m3=rig)
    assert (tested.volume_m3, tested.standard_uncertainty_m3) == pytest.approx(
        (at_top.nominal_value, at_top.std_dev), rel=1e-6
    )


finite: dict[str, Any] = {"allow_nan": False, "allow_infinity": False}


@settings(max_examples=60, deadline=None)
@given(
    area_m2=st.floats(1e-12, 1e-6, **finite),
    start_pa=st.one_of(st.floats(100.0, 3e5, **finite), st.floats(-95e3, -100.0, **finite)),
    law=st.sampled_from([ct.DecayLaw.orifice(), ct.DecayLaw.laminar(), ct.DecayLaw.sonic(0.3), ct.DecayLaw.power(0.7)]),
    times=st.lists(st.floats(0.0, 1e4, **finite), min_size=1, max_size=20),
)
def test_a_decay_falls_and_comes_back(area_m2: float, start_pa: float, law: ct.DecayLaw, times: list[float]) -> None:
    """Self-consistency: the needle never rises, never passes zero, and the time to a pressure is the time that it was at."""
    decay = ct.Decay(area_m2, VOLUME_M3, start_pa, law=law, **WHERE)
    # Also where the needle is sure to be on its way: times drawn at random are mostly of before it moves or after it rests.
    half_s = float(decay.time_s(start_pa / 2))
    time_s = np.sort(np.array([*times, *(half_s * np.array([0.0, 0.01, 0.3, 1.0, 1.2]))]))
    size_pa = decay.gauge_pa(time_s) * math.copysign(1.0, start_pa)
    assert np.all(np.diff(size_pa) <= 1e-9 * abs(start_pa))
    assert np.all((size_pa >= 0.0) & (size_pa <= abs(start_pa) * (1 + 1e-12)))
    far = size_pa > 1e-3 * abs(start_pa)
    assert np.count_nonzero(far) >= 5
    back_s = decay.time_s(decay.gauge_pa(time_s[far]))
    # Each pressure on the way is passed at some time. Rounding may leave one above the start, at the start's own time only.
    above = size_pa[far] > abs(start_pa)
    assert np.all(np.isfinite(back_s) | above) and np.all(time_s[far][above] <= 1e-9 * half_s)
    assert back_s[~above] == pytest.approx(time_s[far][~above], rel=1e-6, abs=1e-6 * half_s)


def answered(time_s: Any, gauge_pa: Any) -> bool:
    """Whether these readings are fitted, in which case the ends are in order, or refused with an error of ours."""
    bench = ct.Bench(volume_m3=(VOLUME_M3, 5e-6), gauge=ct.Gauge.digital(100.0), **WHERE)
    try:
        area = ct.fit(time_s, gauge_pa, bench).effective_area_m2
    except ct.Error as error:
        assert str(error)
        return False
    assert 0.0 <= area.low <= area.value <= area.high
    return True


@settings(max_examples=60, deadline=None)
@given(
    readings=st.lists(st.floats(width=64), min_size=0, max_size=30),
    step_s=st.floats(1e-3, 1e3, **finite),
)
def test_any_readings_are_answered(readings: list[float], step_s: float) -> None:
    """Self-consistency: a fit with ordered ends, or an error of ours; never anything else."""
    answered(step_s * np.arange(len(readings)), np.array(readings, dtype=np.float64))


# Readings that can be a run's: of one direction, above a perfect vacuum, otherwise as they come.
possible = st.sampled_from([1.0, -1.0]).flatmap(
    lambda sign: st.lists(st.floats(1.0, 9e4, **finite).map(lambda size: sign * size), min_size=2, max_size=12)
)


@settings(max_examples=60, deadline=None)
@given(readings=possible, step_s=st.floats(0.1, 100.0, **finite))
def test_any_possible_readings_are_fitted(readings: list[float], step_s: float) -> None:
    """Self-consistency: whatever the needle did, it is fitted, with ordered ends: no example goes without."""
    assert answered(step_s * np.arange(len(readings)), np.array(readings, dtype=np.float64))


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=20))
def test_any_text_is_answered(text: str) -> None:
    """Self-consistency: text is a quantity or a QuantityError, and a sheet or a SheetError."""
    try:
        ct.Limit.max_area(text)
    except ct.QuantityError:
        pass
    with pytest.raises(ct.SheetError):
        ct.Sheet.from_toml(text)
