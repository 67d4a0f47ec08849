"""Objects that travel: pickles, copies, equality by value, hashes, pools of processes."""

from __future__ import annotations

import concurrent.futures
import copy
import multiprocessing
import pickle
from typing import Any

import frames
import joblib
import numpy as np
import pytest
from conftest import DEMO

import casetight as ct
from casetight import _restore

WHERE: dict[str, Any] = {"ambient_pa": 101_325.0, "temperature_k": 293.15}


def run(bench: ct.Bench, **options: Any) -> ct.Fit:
    time_s = np.arange(0.0, 240.0, 10.0)
    decay = ct.Decay(1e-9, 250e-6, 48e3, **WHERE)
    return ct.fit(time_s, bench.gauge.rounded(decay.gauge_pa(time_s)), bench, **options)


def sheets() -> list[ct.Sheet]:
    return [ct.Sheet.read(path) for path in sorted(DEMO.glob("*.toml"))]


def results() -> dict[str, Any]:
    """One of each kind of result, and what hangs on it."""
    bench = frames.bench()
    fitted = run(bench)
    weighed = run(bench, laws=[("laminar", 0.7), (ct.DecayLaw.power(0.75), 0.3)], level=0.9, drift_k_s=(1e-4, 1e-5))
    judged = ct.assess(
        fitted.time_s, fitted.reading_pa, bench, [ct.Limit.one_psi_a_minute()], discharge_coefficient=0.7, flow_reference="ANR", name="m"
    )
    before, after = (ct.Sheet.read(DEMO / f"mist-blower-9-{name}.toml") for name in ("before", "repaired"))
    trimmer = ct.Sheet.read(DEMO / "string-trimmer-6.toml")
    session, running = before.assess(), trimmer.running()
    engine = ct.Engine(
        bore_m=("46 mm", "0.05 mm"), stroke_m="31 mm", rod_m="55 mm", primary_compression_ratio=1.42, compression_ratio=7.1
    )
    direct = ct.TestedVolume.measured_directly((240e-6, 4e-6))
    law = ct.Parallel([ct.Orifice(5e-9), ct.Capillary(5e-5, 6e-3)])
    helium = ct.Gas.named("helium")
    return {
        "fit": fitted,
        "fit of told laws": weighed,
        "fit less the rig": fitted.less(weighed),
        "interval": fitted.effective_area_m2,
        "interval of a rig": fitted.less(weighed).rig_area_m2,
        "interval from elsewhere": fitted.area_from("1 psi"),
        "law's weight": fitted.laws[-1],
        "assessment": judged,
        "decision": judged.decisions[0],
        "fit of an assessment": judged.fit,
        "diameter": judged.diameter_m,
        "flow": judged.flow_m3_s,
        "sheet": before,
        "session": session,
        "session's run": session[-1],
        "session's fit": session.runs[0].fit,
        "bench of a sheet": before.bench(before.runs[0]),
        "volume of a sheet": before.volume(before.runs[0]),
        "plan": trimmer.plan(),
        "isolate": ct.Sheet.read(DEMO / "clearing-saw-5.toml").isolate(),
        "compare": before.compare(after),
        "report": after.report(before),
        "mixture": running,
        "load": running.full_throttle,
        "estimate": running.idle.lean_shift,
        "open estimate": ct.Sheet.read(DEMO / "kart-engine-2.toml").running().inward_area_m2,
        "engine": engine,
        "volume of an engine": engine.tested_volume("bottom", rig_m3=("18 cm3", "1 cm3")),
        "volume and hose": direct.plus("hose", ("12 cm3", "3 cm3")),
        "mean volume": ct.TestedVolume.combine([direct, ct.TestedVolume.measured_directly((246e-6, 5e-6))], shared=["x"]),
        "expansion": ct.TestedVolume.from_expansion(
            reference_m3=("100 cm3", "0.5 cm3"), before_pa=50e3, after_pa=14e3, settled_within_k=0.2, **WHERE
        ),
        "fill": ct.TestedVolume.from_water_fill(
            empty_kg=(1.85, 1e-3), full_kg=(2.1, 1e-3), water_k=("20 C", "2 K"), trapped_m3=("2 cm3", "1 cm3"), balance_scale=(1.0, 0.001)
        ),
        "decay": ct.Decay(5e-9, 250e-6, -48e3, law=ct.DecayLaw.sonic(0.3), gas=helium, **WHERE),
        "vessel": ct.ThermalVessel(law, 250e-6, 48e3, conductance_w_k=0.35, start_temperature_k=303.15, wall_drift_k_s=0.001, gas=helium, **WHERE),
        "isothermal vessel": ct.ThermalVessel(ct.Orifice.of_hole(1e-4, discharge_coefficient=0.6), 250e-6, 48e3, **WHERE),
        "laws side by side": law,
        "sharp-edged hole": ct.SharpEdgedHole(3e-4),
        "sonic conductance": ct.SonicConductance(1e-9, 0.3),
        "slot": ct.Slot(1e-2, 1e-5, 6e-3),
        "power law": ct.PowerLaw(5e-7, 48e3, 0.65),
        "regime": law.regime(2.5e5, 1e5, temperature_k=293.15, gas=helium),
        "gas": helium,
        "own gas": ct.Gas(208.13, 5 / 3, viscosity_pa_s=2.2e-5, viscosity_at_k=293.15, viscosity_exponent=0.8),
        "gauge": bench.gauge,
        "bench": bench,
        "bench with a drift": ct.Bench(volume_m3=1e-3, gauge=bench.gauge, drift_k_s=(1e-3, 1e-4), **WHERE),
        "limit": ct.Limit.one_psi_a_minute(),
        "law": ct.DecayLaw.power(0.7),
    }


RESULTS = results()
named = pytest.mark.parametrize("thing", RESULTS.values(), ids=RESULTS.keys())


@named
def test_a_pickle_is_the_same(thing: Any) -> None:
    for protocol in range(2, pickle.HIGHEST_PROTOCOL + 1):
        again = pickle.loads(pickle.dumps(thing, protocol))
        assert type(again) is type(thing)
        assert again == thing and not again != thing
        assert hash(again) == hash(thing)
        assert repr(again) == repr(thing)
        if hasattr(thing, "to_dict"):
            assert again.to_dict() == thing.to_dict()


@named
def test_a_copy_is_the_same(thing: Any) -> None:
    assert copy.copy(thing) == thing
    assert copy.deepcopy(thing) == thing


def test_each_public_class_travels() -> None:
    classes = {name for name in ct.__all__ if isinstance(getattr(ct, name), type) and not name.endswith("Error")}
    # What all laws have in common is made by none.
    kinds = {type(thing).__name__ for thing in RESULTS.values()} | {"LeakLaw"}
    held = {"Orifice": ct.Orifice(1e-9), "Capillary": ct.Capillary(5e-5, 6e-3)}
    assert all(pickle.loads(pickle.dumps(law)) == law for law in held.values())
    assert classes - kinds - held.keys() == set()


def test_every_demo_sheet_travels_with_its_traces() -> None:
    for sheet in sheets():
        again = pickle.loads(pickle.dumps(sheet))
        assert again == sheet
        assert again.assess() == sheet.assess()
        for name in sheet.runs:
            # With all that is known of where its numbers come from, a sheet's bench compares by the numbers.
            assert pickle.loads(pickle.dumps(sheet.bench(name))) == copy.deepcopy(sheet.bench(name)) == sheet.bench(name)


def test_what_differs_is_unequal() -> None:
    bench = frames.bench()
    assert run(bench) == run(bench) and run(bench) != run(bench, level=0.9)
    assert run(bench).effective_area_m2 != run(bench).rate_per_s
    assert frames.bench(250e-6) != frames.bench(251e-6)
    laws: list[ct.LeakLaw] = [ct.Orifice(1e-9), ct.Orifice(2e-9), ct.SharpEdgedHole(1e-9)]
    assert len(set(laws)) == 3 and laws[0] != laws[1] and laws[0] != laws[2]
    assert ct.DecayLaw.power(0.7) != ct.DecayLaw.power(np.nextafter(0.7, 1.0))
    assert ct.Gas.named("helium") != ct.Gas.named("nitrogen")
    others: list[Any] = ["max_area", None, 1e-9]
    assert all(ct.Limit.max_area(1e-9) != other and run(bench) != other for other in others)
    assert len({ct.Limit.max_area(1e-9), ct.Limit.max_area(1e-9), ct.Limit.max_area(2e-9)}) == 2


def test_zero_has_no_sign() -> None:
    plus, minus = (ct.DecayLaw.sonic(zero) for zero in (0.0, -0.0))
    assert plus == minus and hash(plus) == hash(minus)
    assert ct.DecayLaw.sonic(-0.05) != ct.DecayLaw.sonic(0.05)


def test_a_fit_does_not_follow_the_callers_arrays() -> None:
    time_s, gauge_pa = np.arange(0.0, 60.0, 10.0), np.linspace(48e3, 44e3, 6)
    fitted = ct.fit(time_s, gauge_pa, frames.bench())
    before = fitted.to_json()
    gauge_pa[:] = 0.0
    assert pickle.loads(pickle.dumps(fitted)).to_json() == before


@pytest.mark.parametrize("maker", ["__builtins__.eval", "Sheet.read", "Report.write", "Error", "fit.__call__", "__doc__", ""])
def test_a_pickle_makes_nothing_but_the_packages_own(maker: str) -> None:
    with pytest.raises(pickle.UnpicklingError, match="makes nothing of casetight"):
        _restore.restore(maker, ("1 + 1",), {})


def test_a_pickle_of_another_version_says_so() -> None:
    reduced: Any = run(frames.bench()).__reduce__()
    function, (maker, arguments, keywords, version) = reduced
    assert (function, maker, version) == (_restore.restore, "fit", ct.__version__)
    with pytest.raises(ct.Error, match=r"casetight 0\.0\.0.*reckon it again"):
        _restore.restore(maker, arguments, keywords, "0.0.0")
    # What is stated, and not reckoned, is read from any version.
    reduced = frames.bench().__reduce__()
    function, (maker, arguments, keywords, _) = reduced
    assert _restore.restore(maker, arguments, keywords, "0.0.0") == _restore.restore(maker, arguments, keywords) == frames.bench()


def wanted() -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = ct.fit_many(frames.table(3), frames.bench()).to_pylist()
    return rows


def fitted_there(runs: int) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = ct.fit_many(frames.table(runs), frames.bench()).to_pylist()
    return rows


@pytest.mark.parametrize("method", [m for m in ("fork", "spawn", "forkserver") if m in multiprocessing.get_all_start_methods()])
# Python warns of a fork beside threads; that ours wake again is what is tested.
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_pool_fits_after_its_parent_has(method: str) -> None:
    want = wanted()
    context = multiprocessing.get_context(method)
    with concurrent.futures.ProcessPoolExecutor(2, mp_context=context) as pool:
        children = [pool.submit(fitted_there, 3) for _ in range(4)]
        # A child that waits for threads it does not have would never answer.
        assert [child.result(timeout=120) for child in children] == [want] * 4
        assert pool.submit(run, frames.bench()).result(timeout=120) == run(frames.bench())
    # And the parent goes on.
    assert wanted() == want


def test_joblib_spreads_and_remembers(tmp_path: Any) -> None:
    bench = frames.bench()
    spread = joblib.Parallel(n_jobs=2)(joblib.delayed(run)(bench, level=level) for level in (0.9, 0.95))
    assert list(spread) == [run(bench, level=0.9), run(bench, level=0.95)]
    calls: list[ct.Bench] = []

    def counted(bench: ct.Bench) -> ct.Fit:
        calls.append(bench)
        return run(bench)

    remembered: Any = joblib.Memory(tmp_path, verbose=0).cache(counted, ignore=[])
    assert remembered(bench) == remembered(copy.deepcopy(bench)) == run(bench)
    assert len(calls) == 1
