# %% [markdown]
# # Fitting recorded data
#
# For research: a recorded decay fitted with several laws, priors on the laws, residuals looked at, and many runs at once.
#
# The record is open data (CC0): an aluminum chamber and a printed one, filled to some 7 bar and logged ten times a second;
# `tests/data/open/zillen2021/PROVENANCE.md` says where it is from. The chamber's volume is not stated, so only the rate
# CdA sqrt(R T)/V means anything; a volume of 1 cm3 stands in for it.

# %%
from __future__ import annotations

from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pyarrow as pa

import casetight as ct

root = Path(__file__).resolve().parents[2]
pictures = root / "target" / "notebooks"
pictures.mkdir(parents=True, exist_ok=True)


def chamber(name: str) -> tuple[Any, Any]:
    """Read times [s] and gauge pressures [Pa]: microseconds with points between thousands, and bar."""
    rows = (root / "tests" / "data" / "open" / "zillen2021" / f"{name}.csv").read_text().split()
    fields = [row.split(";") for row in rows]
    microseconds = np.array([float(row[0].replace(".", "")) for row in fields])
    return microseconds / 1e6, np.array([float(row[2]) for row in fields]) * 1e5


# %% [markdown]
# ## One run
#
# The part between 6.5 and 1 bar: after the valve has closed, before the sensor's own zero matters.

# %%
time_s, gauge_pa = chamber("printed_015")
begin = int(np.argmax(gauge_pa < 6.5e5))
end = int(np.argmax(gauge_pa < 1.0e5)) or gauge_pa.size
hold = slice(begin, end)
bench = ct.Bench(
    volume_m3=1e-6,
    ambient_pa=(101_325.0, 1000.0),
    temperature_k=(293.15, 2.0),
    gauge=ct.Gauge.digital(1000.0, noise_pa=1000.0),
    isothermal=True,
)
averaged = ct.fit(time_s[hold], gauge_pa[hold], bench)
print(averaged)
for law in averaged.laws:
    print(f"  {law.law.name}: {100 * law.weight:.1f} %, chi-squared {law.chi_squared:.0f}")
for note in averaged.notes:
    print("-", note)

# %% [markdown]
# ## Priors on the laws
#
# Whoever takes the printed walls for porous gives the fine gap more weight. Where the readings tell the law, as here, they
# overrule the prior; where they can't, it counts, and must be stated beside the result.

# %%
between = ct.DecayLaw.power(0.75)
porous = ct.fit(time_s[hold], gauge_pa[hold], bench, laws=[("laminar", 0.9), (between, 0.05), ("orifice", 0.05)])
print("with a prior:", porous)
assert porous.laws[0].law == between
# They scatter about every curve more than chance does once in a thousand runs, so that none is named as the leak's.
assert porous.law is None
alone = {
    "hole": ct.fit(time_s[hold], gauge_pa[hold], bench, laws="orifice"),
    "between": ct.fit(time_s[hold], gauge_pa[hold], bench, laws=[between]),
    "fine gap": ct.fit(time_s[hold], gauge_pa[hold], bench, laws="laminar"),
}
for name, one in alone.items():
    print(f"{name} alone: chi-squared {one.chi_squared:.0f} for {one.degrees_of_freedom} degrees of freedom")
assert min(alone, key=lambda name: alone[name].chi_squared) == "between"

# %% [markdown]
# ## Residuals
#
# A law that does not hold bends its residuals, whatever its chi-squared says.

# %%
figure, (above, below) = plt.subplots(2, 1, figsize=(7, 5.5), sharex=True, layout="constrained")
above.plot(time_s[hold], gauge_pa[hold] / 1e5, ".", markersize=2, color="0.5", label="readings")
for (name, one), color in zip(alone.items(), ("C0", "C1", "C2"), strict=True):
    above.plot(one.time_s, one.fitted_pa / 1e5, color=color, label=name)
    below.plot(one.time_s, one.standardized, ".", markersize=2, color=color)
above.set_ylabel("gauge pressure [bar]")
above.legend(frameon=False)
above.set_title("A printed chamber: which law?", loc="left")
below.axhline(0.0, color="0.6", linewidth=0.8)
below.set_ylabel("residual / u")
below.set_xlabel("time [s]")
figure.savefig(pictures / "residuals.png", dpi=100)

# %% [markdown]
# ## Many runs
#
# The same hold cut into ten pieces, as runs of one frame: the rate should not depend on where the piece lies, and it does
# where the law is wrong or the gas is still settling.

# %%
pieces = np.array_split(np.arange(begin, end), 10)
frame = pa.table(
    {
        "run": np.concatenate([[f"piece {i}"] * piece.size for i, piece in enumerate(pieces)]),
        "time_s": np.concatenate([time_s[piece] for piece in pieces]),
        "gauge_pa": np.concatenate([gauge_pa[piece] for piece in pieces]),
    }
)
pieces_of: dict[str, ct.DecayLaw] = {"hole": ct.DecayLaw.orifice(), "between": between, "fine gap": ct.DecayLaw.laminar()}
for name, kind in pieces_of.items():
    rates = ct.fit_many(frame, bench, laws=[kind])["rate_per_s"].to_numpy()
    print(f"{name}: rates of {rates.min():.3g} to {rates.max():.3g} per s, spread {rates.std() / rates.mean():.1%}")
