"""What is not valid is answered with a class and a sentence; nothing panics or aborts."""

# Wrong on purpose.
# mypy: disable-error-code="arg-type,list-item,dict-item,call-arg,no-untyped-call"
# pyright: reportArgumentType=false, reportCallIssue=false, reportAttributeAccessIssue=false

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import frames
import numpy as np
import pytest
from conftest import AMBIENT_PA, DEMO, KELVINS

import casetight as ct

TIMES = [0.0, 5.0, 10.0, 15.0]
READINGS = [48_300.0, 45_500.0, 42_800.0, 40_300.0]

Call = Callable[[ct.Bench], object]

BAD_READINGS: list[tuple[str, Call, type[Exception], str]] = [
    ("lengths differ", lambda b: ct.fit(TIMES, READINGS[:3], b), ct.ReadingsError, "4 times but 3 gauge readings"),
    ("empty", lambda b: ct.fit([], [], b), ct.ReadingsError, "at least two readings"),
    ("one reading", lambda b: ct.fit([0.0], [48e3], b), ct.ReadingsError, "1 reading"),
    ("nan", lambda b: ct.fit(TIMES, [48e3, math.nan, 42e3, 40e3], b), ct.ReadingsError, "reading 2.*NaN"),
    ("infinite time", lambda b: ct.fit([0.0, 5.0, math.inf, 15.0], READINGS, b), ct.ReadingsError, "reading 3"),
    ("times fall", lambda b: ct.fit(TIMES[::-1], READINGS, b), ct.ReadingsError, "sort the readings"),
    ("mixed", lambda b: ct.fit(TIMES, [48e3, 45e3, -42e3, 40e3], b), ct.ReadingsError, "make them two runs"),
    ("beyond vacuum", lambda b: ct.fit(TIMES, [-2e5, -1.9e5, -1.8e5, -1.7e5], b), ct.ReadingsError, "perfect vacuum"),
    ("two dimensions", lambda b: ct.fit([TIMES], [READINGS], b), ct.Error, r"time_s has the shape \[1, 4\]"),
    ("a number", lambda b: ct.fit(0.0, READINGS, b), ct.Error, "time_s is one number"),
    ("text", lambda b: ct.fit(TIMES, ["a", "b", "c", "d"], b), ct.ArgumentError, "real numbers belong"),
    ("complex", lambda b: ct.fit(TIMES, np.array(READINGS) * 1j, b), ct.ArgumentError, "complex128"),
    ("objects", lambda b: ct.fit(TIMES, np.array([1.0, None, 2.0, 3.0]), b), ct.ArgumentError, "object"),
    ("truth values", lambda b: ct.fit(TIMES, [True, True, False, False], b), ct.ArgumentError, "bool"),
    ("dates", lambda b: ct.fit(np.array([0, 5, 10, 15], "M8[s]"), READINGS, b), ct.ArgumentError, "datetime64"),
    ("ragged", lambda b: ct.fit(TIMES, [[1.0], [1.0, 2.0]], b), ct.Error, "inhomogeneous"),
    ("masked", lambda b: ct.fit(TIMES, np.ma.masked_greater(READINGS, 45e3), b), ct.ArgumentError, "masked"),
    ("nothing", lambda b: ct.fit(None, READINGS, b), ct.ArgumentError, "object"),
    ("level", lambda b: ct.fit(TIMES, READINGS, b, level=1.5), ct.FitError, "0.5 to 0.9999"),
    ("no law", lambda b: ct.fit(TIMES, READINGS, b, laws=[]), ct.Error, "no law to try"),
    ("wrong law", lambda b: ct.fit(TIMES, READINGS, b, laws=["sonic"]), ct.Error, 'no law .* "sonic"; there are "orifice", "sonic conductance"'),
    ("a law by another name", lambda b: ct.fit(TIMES, READINGS, b, laws="foo"), ct.Error, 'no law has the name "foo"'),
    ("laws of a kind", lambda b: ct.fit(TIMES, READINGS, b, laws=3), ct.ArgumentError, "int"),
    ("level of a kind", lambda b: ct.fit(TIMES, READINGS, b, level=[0.9]), ct.ArgumentError, "list"),
    ("limits of a kind", lambda b: ct.assess(TIMES, READINGS, b, [1.0]), ct.ArgumentError, "Limit"),
    ("name of a kind", lambda b: ct.assess(TIMES, READINGS, b, name=3), ct.ArgumentError, "str"),
    ("law's number", lambda b: ct.fit(TIMES, READINGS, b, laws=[ct.DecayLaw.power(7.0)]), ct.FitError, "exponent 7"),
    ("prior", lambda b: ct.fit(TIMES, READINGS, b, laws=[("orifice", -1.0)]), ct.Error, "prior probability -1"),
    ("no bench", lambda _: ct.fit(TIMES, READINGS, 250e-6), ct.ArgumentError, "Bench"),
    ("drop", lambda b: ct.assess(TIMES, READINGS, b, [ct.Limit.max_drop(8e4, from_pa=5e4, over_s=60.0)]),
     ct.AssessError, "drop"),
    ("coefficient", lambda b: ct.assess(TIMES, READINGS, b, discharge_coefficient=2.0), ct.AssessError, "coefficient 2"),
    ("reference", lambda b: ct.assess(TIMES, READINGS, b, flow_reference="sea level"), ct.QuantityError, "sea level"),
]  # fmt: skip


@pytest.mark.parametrize(("call", "error", "message"), [row[1:] for row in BAD_READINGS], ids=[row[0] for row in BAD_READINGS])
def test_bad_readings(bench: ct.Bench, call: Call, error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        call(bench)


def decay(**changes: Any) -> ct.Decay:
    numbers: dict[str, Any] = {
        "area_m2": 5e-9,
        "volume_m3": 250e-6,
        "start_gauge_pa": 48e3,
        "ambient_pa": AMBIENT_PA,
        "temperature_k": KELVINS,
    } | changes
    return ct.Decay(**numbers)


BAD_NUMBERS: list[tuple[str, Callable[[], object], type[Exception], str]] = [
    ("area", lambda: decay(area_m2=-1.0), ct.LeakError, "effective area -1"),
    ("volume", lambda: decay(volume_m3=0.0), ct.VesselError, "tested volume 0"),
    ("no pressure", lambda: decay(start_gauge_pa=0.0), ct.VesselError, "nothing drives a leak"),
    ("below vacuum", lambda: decay(start_gauge_pa=-2e5), ct.VesselError, "vacuum"),
    ("ambient", lambda: decay(ambient_pa=math.nan), ct.QuantityError, "absolute pressure NaN"),
    ("cold", lambda: decay(temperature_k=-3.0), ct.Error, "-276.1 C"),
    ("unit", lambda: decay(volume_m3="250 psi"), ct.QuantityError, "psi"),
    ("no unit", lambda: decay(start_gauge_pa="7"), ct.QuantityError, "unit"),
    ("comma", lambda: decay(volume_m3="1,000 cm3"), ct.QuantityError, "1000 cm3"),
    ("list", lambda: decay(area_m2=[1.0]), ct.ArgumentError, "area: list where a number in m2"),
    ("truth value", lambda: decay(area_m2=True), ct.ArgumentError, "bool"),
    ("nothing", lambda: decay(area_m2=None), ct.ArgumentError, "NoneType"),
    ("law", lambda: decay(law=3), ct.ArgumentError, "DecayLaw"),
    ("no such law", lambda: decay(law="crack"), ct.Error, 'no law has the name "crack"; there are "orifice", '),
    ("law without its number", lambda: decay(law="power law"), ct.Error, "needs its exponent"),
    ("law with a number too many", lambda: ct.DecayLaw("orifice", 0.5), ct.Error, "no number"),
    ("law's number", lambda: decay(law=ct.DecayLaw.sonic(1.0)), ct.VesselError, "critical pressure ratio 1"),
    ("time", lambda: decay().gauge_pa([0.0, math.nan]), ct.VesselError, "NaN"),
    ("before", lambda: decay().gauge_pa(-1.0), ct.VesselError, "-1"),
    ("shapes", lambda: ct.decay_gauge_pa(np.ones(3), np.ones(4), 1.0, 1.0, ambient_pa=1e5, temperature_k=300.0),
     ct.Error, r"\[3\] and \[4\] and .* do not broadcast"),
    ("huge", lambda: ct.decay_gauge_pa(np.broadcast_to(1.0, (1 << 31, 1)), np.broadcast_to(1e-9, (1, 1 << 31)), 1.0, 1.0,
                                       ambient_pa=1e5, temperature_k=300.0), MemoryError, "memory"),
    ("gas", lambda: ct.Gas.named("phlogiston"), ct.GasError, "dry air, nitrogen"),
    ("half a viscosity", lambda: ct.Gas(287.0, 1.4, viscosity_pa_s=1e-5), ct.Error, "all three"),
    ("no viscosity", lambda: ct.Capillary(5e-5, 6e-3).effective_area_m2(1.5e5, 1e5, temperature_k=293.0, gas=ct.Gas(287.0, 1.4)),
     ct.LeakError, "viscosity"),
    ("hole", lambda: ct.Orifice.of_hole(1e-4, discharge_coefficient=0.0), ct.LeakError, "discharge coefficient 0"),
    ("step", lambda: ct.Gauge.digital(0.0), ct.GaugeError, "above zero"),
    ("class alone", lambda: ct.Gauge.digital(1.0, accuracy_class=1.6), ct.Error, "both"),
    ("pair", lambda: ct.TestedVolume.measured_directly((1.0, 2.0, 3.0)), ct.ArgumentError, "pair"),
    ("uncertainty", lambda: ct.TestedVolume.measured_directly((1e-4, -1e-6)), ct.MeasuredError, "uncertainty"),
    ("zero volume", lambda: ct.TestedVolume.measured_directly(0.0), ct.VolumeError, "0"),
    ("nothing to combine", lambda: ct.TestedVolume.combine([]), ct.VolumeError, "no volume"),
    ("rod", lambda: ct.Engine(bore_m=0.04, stroke_m=0.03, rod_m=0.01, primary_compression_ratio=1.4), ct.VolumeError, "rod"),
    ("sheet", lambda: ct.Sheet.from_toml("format = 2"), ct.SheetError, "format 2"),
    ("no file", lambda: ct.Sheet.read("no/such/sheet.toml"), FileNotFoundError, "no file of this name"),
    ("a folder", lambda: ct.Sheet.read(Path()), OSError, "a folder, not a file"),
    ("gauge of a kind", lambda: ct.Bench(volume_m3=1.0, ambient_pa=1e5, temperature_k=300.0, gauge=1.0), ct.ArgumentError, "Gauge"),
    ("gas of a kind", lambda: decay(gas="air"), ct.ArgumentError, "Gas"),
    ("leak of a kind", lambda: ct.Parallel([1.0]), ct.ArgumentError, "LeakLaw"),
    ("angles", lambda: ct.Engine(bore_m=0.04, stroke_m=0.03, rod_m=0.05, primary_compression_ratio=1.4).over_a_turn(-1),
     ct.Error, "convert|range"),
    ("benches", lambda: ct.fit_many(frames.table(1), [frames.bench()]), ct.ArgumentError, "mapping"),
    ("benches of a kind", lambda: ct.fit_many(frames.table(1), {"run 0": 3}), ct.ArgumentError, "mapping"),
    ("traces", lambda: ct.Sheet.from_toml("", traces=3), ct.ArgumentError, "mapping"),
    ("no such run", lambda: ct.Sheet.read(DEMO / "ice-auger-7.toml").bench("x"), ct.MissingError, "^no run has the name .x.; the runs are"),
    ("no such place", lambda: ct.Sheet.read(DEMO / "ice-auger-7.toml").assess()[99], ct.MissingError, "no such run"),
    ("no such key", lambda: ct.Sheet.read(DEMO / "ice-auger-7.toml").isolate()["x"], ct.MissingError, "^x$"),
    ("no such constructor", lambda: ct.LeakLaw(), TypeError, "constructor|create"),
]  # fmt: skip


@pytest.mark.parametrize(("call", "error", "message"), [row[1:] for row in BAD_NUMBERS], ids=[row[0] for row in BAD_NUMBERS])
def test_bad_numbers(call: Callable[[], object], error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        call()


def sheet(**changes: str) -> ct.Sheet:
    """The demo sheet of an engine that runs lean, with pieces of its text exchanged."""
    text = (DEMO / "string-trimmer-6.toml").read_text(encoding="utf-8")
    for name, piece in changes.items():
        start, end = PIECES[name]
        there = text[text.index(start) : text.index(end) if end else len(text)]
        text = text.replace(there, piece)
    return ct.Sheet.from_toml(text)


PIECES = {
    "engine": ("[engine]", "[ambient]"),
    "ports": ("transfer_opens_uncertainty", "intake_opens"),
    "runs": ("[[run]]", ""),
    "title": ("title", "[engine]"),
}
DIRECTLY = '[volume]\nvalue = "114 cm3"\nuncertainty = "2 cm3"\n'
RIG_ALONE = '[[run]]\nname = "rig"\nrig_alone = true\nreadings = [[0, 45.0], [60, 44.9], [120, 44.8]]\n'
BLOWER = 'title = "Another"\nmachine = "mist blower 14"\n'
TRIMMER = 'title = "This"\nmachine = "string trimmer 6"\n'

BAD_SHEETS: list[tuple[str, Callable[[], object], type[Exception], str]] = [
    ("running without an engine", lambda: sheet(engine=DIRECTLY).running(), ct.RunningError, r"give .* in \[engine\]"),
    ("running with the rig alone", lambda: sheet(runs=RIG_ALONE).running(), ct.RunningError, "no run of the sheet"),
    ("running without runs", lambda: sheet(runs="").running(), ct.SessionError, r"no \[\[run\]\]"),
    ("ports", lambda: sheet(ports='transfer_opens_uncertainty = "+- 60 deg"\n').running(), ct.RunningError, "intake must be shut"),
    ("no angles", lambda: sheet().running().idle.over_a_turn(0), ct.Error, "no angles"),
    ("report without runs", lambda: sheet(runs="").report(), ct.SessionError, r"no \[\[run\]\]"),
    ("before without runs", lambda: sheet().report(sheet(runs="")), ct.CompareError, r"no \[\[run\]\]"),
    ("before of another machine", lambda: sheet(title=TRIMMER).report(sheet(title=BLOWER)), ct.CompareError, "two machines"),
    ("before is no sheet", lambda: sheet().report("before.toml"), ct.ArgumentError, "Sheet"),
    ("before is no file", lambda: sheet().report(ct.Sheet.read("no/such/before.toml")), FileNotFoundError, "no file of this name"),
]  # fmt: skip


@pytest.mark.parametrize(("call", "error", "message"), [row[1:] for row in BAD_SHEETS], ids=[row[0] for row in BAD_SHEETS])
def test_bad_sheets(call: Callable[[], object], error: type[Exception], message: str) -> None:
    with pytest.raises(error, match=message):
        call()


def test_errors_are_what_python_has_for_them_too() -> None:
    assert issubclass(ct.ArgumentError, TypeError)
    assert issubclass(ct.MissingError, KeyError) and issubclass(ct.MissingError, IndexError)


def test_every_error_is_a_value_error() -> None:
    classes = [getattr(ct, name) for name in ct.__all__ if name.endswith("Error")]
    assert len(classes) > 15
    assert all(issubclass(kind, ct.Error) and issubclass(kind, ValueError) for kind in classes)


def test_a_sheets_error_says_where() -> None:
    text = (DEMO / "mist-blower-14.toml").read_text().replace("division =", "divisoin =")
    with pytest.raises(ct.SheetError, match="divisoin.*division") as caught:
        ct.Sheet.from_toml(text)
    line = caught.value.line
    assert line is not None
    assert text.splitlines()[line - 1].startswith("divisoin")
    assert caught.value.key == "gauge.divisoin"


def test_arrays_that_numpy_hands_out_are_all_read(bench: ct.Bench) -> None:
    plain = ct.fit(TIMES, READINGS, bench).to_json()
    times, readings = np.array(TIMES), np.array(READINGS)
    table = np.column_stack([times, readings])
    frozen = readings.copy()
    frozen.flags.writeable = False
    same: list[tuple[Any, Any]] = [
        (table[:, 0], table[:, 1]),
        (times, frozen),
        (times[::-1][::-1], np.repeat(readings, 2)[::2]),
        (times.astype(np.int32), readings.astype(">f8")),
        (times.astype(np.float32), readings.astype(np.float32)),
        (tuple(TIMES), np.asfortranarray(readings)),
    ]
    for time_s, gauge_pa in same:
        assert ct.fit(time_s, gauge_pa, bench).to_json() == plain


def test_no_array_is_changed(bench: ct.Bench) -> None:
    times, readings = np.array(TIMES), np.array(READINGS)
    ct.fit(times, readings, bench)
    decay().gauge_pa(times)
    assert times.tolist() == TIMES
    assert readings.tolist() == READINGS


def test_shapes_come_back() -> None:
    leak = decay()
    assert isinstance(leak.gauge_pa(1.0), float)
    assert isinstance(leak.gauge_pa(np.float32(1.0)), float)
    assert isinstance(leak.gauge_pa(np.array(1.0)), float)
    assert leak.gauge_pa(np.ones((2, 0, 3))).shape == (2, 0, 3)
    assert leak.gauge_pa(np.ones((2, 3), order="F")).tolist() == [[leak.gauge_pa(1.0)] * 3] * 2
