"""Makes objects again where they travelled to: a pickle names the constructor, method or attribute, and what it was given.

A result is reckoned again from what it was reckoned from, so it is the same to the last bit, by the same version; another
version may find another number, and says so instead.
"""

from __future__ import annotations

import pickle
from typing import Any

from . import _core

# What reckons, so that its answer may change with the version.
_RECKONING = frozenset(
    {"fit", "assess", "Sheet.assess", "Sheet.compare", "Sheet.isolate", "Sheet.plan", "Sheet.report", "Sheet.running"}
)
# Nothing else is called for a pickle.
MAKERS = _RECKONING | {
    "Bench",
    "Capillary",
    "Decay",
    "DecayLaw",
    "Engine",
    "Engine.tested_volume",
    "Fit.area_from",
    "Fit.effective_area_m2",
    "Fit.laws",
    "Fit.less",
    "Fit.rate_per_s",
    "Fit.rig_area_m2",
    "Gas",
    "Gas.humid_air",
    "Gas.named",
    "Gauge.digital",
    "LeakLaw.regime",
    "LeanShift.leaked_in_kg",
    "LeanShift.leaked_out_kg",
    "LeanShift.lean_shift",
    "Limit.max_area",
    "Limit.max_drop",
    "Limit.max_flow",
    "Limit.min_hold",
    "Mixture.full_throttle",
    "Mixture.idle",
    "Mixture.inward_area_m2",
    "Mixture.outward_area_m2",
    "Orifice",
    "Parallel",
    "PowerLaw",
    "RunAssessment.decisions",
    "RunAssessment.diameter_m",
    "RunAssessment.effective_area_m2",
    "RunAssessment.fit",
    "RunAssessment.flow_m3_s",
    "Session.runs",
    "SharpEdgedHole",
    "Sheet.from_toml",
    "Sheet.volume",
    "Slot",
    "SonicConductance",
    "TestedVolume.combine",
    "TestedVolume.from_expansion",
    "TestedVolume.from_water_fill",
    "TestedVolume.measured_directly",
    "TestedVolume.plus",
    "ThermalVessel",
}


def restore(maker: str, arguments: tuple[Any, ...], keywords: dict[str, Any], version: str | None = None) -> Any:
    """Call the maker of this name, or take the attribute of its first argument and what stands in it at the others."""
    if maker not in MAKERS:
        raise pickle.UnpicklingError(f"{maker!r} makes nothing of casetight")
    if maker in _RECKONING and version != _core.__version__:
        raise _core.Error(
            f"a result of casetight {version} in a pickle that casetight {_core.__version__} reads: the numbers may differ, so "
            "reckon it again from its readings"
        )
    owner, _, member = maker.partition(".")
    made: Any = getattr(_core, owner)
    if not member:
        return made(*arguments, **keywords)
    made = getattr(made, member)
    if callable(made):
        return made(*arguments, **keywords)
    parent, *places = arguments
    value = getattr(parent, member)
    for place in places:
        value = value[place]
    return value
