# %% [markdown]
# # Embedding
#
# For developers: a service that takes a bench sheet or readings, answers with JSON, and never with a stack trace.

# %%
from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

import casetight as ct

demo = Path(__file__).resolve().parents[2] / "docs" / "demo"

# %% [markdown]
# ## A sheet in, a document out
#
# The document is the one of `casetight assess --json`, so a program that reads the one reads the other.

# %%
sheet = ct.Sheet.read(demo / "clearing-saw-3.toml")
session = sheet.assess()
document = json.loads(session.to_json())
print(document["runs"][0]["verdict"], document["runs"][0]["effective_area_m2"])
print("next:", session.next)
print("cautions:", session.cautions)
assert document == session.to_dict()

# %% [markdown]
# ## A page for the record, and the running engine
#
# The page is the one of `casetight report`: one file, nothing fetched, no script. A notebook shows it; a service sends
# `to_html()`, or writes it whole or not at all. What the leak does to the running engine is an estimate.

# %%
page = sheet.report()
pages = Path(__file__).resolve().parents[2] / "target" / "notebooks"
pages.mkdir(parents=True, exist_ok=True)
page.write(pages / "clearing-saw-3.html")
print(page)
assert page.verdict == session.verdict
print(sheet.running().idle)

# %% [markdown]
# ## What is wrong is said in one sentence
#
# Every error is a `casetight.Error`, itself a `ValueError`; a sheet's says where.


# %%
def answer(text: str) -> dict[str, object]:
    """Answer a request: a sheet's text in, JSON's objects out."""
    try:
        return {"ok": True, "session": ct.Sheet.from_toml(text).assess().to_dict()}
    except ct.SheetError as error:
        return {"ok": False, "error": str(error), "line": error.line, "key": error.key}
    except ct.Error as error:
        return {"ok": False, "error": str(error)}


text = (demo / "mist-blower-14.toml").read_text()
assert answer(text)["ok"]
wrong = answer(text.replace('unit = "psi"', 'unit = "pis"'))
print(wrong)
assert wrong["key"] == "gauge.unit"

# %% [markdown]
# ## Threads
#
# Fits free the interpreter, so a pool of threads uses the cores; for many runs `fit_many` does that by itself.

# %%
bench = sheet.bench(sheet.runs[0])
time_s = np.arange(0.0, 300.0, 5.0)
decays = [
    ct.decay_gauge_pa(time_s, area_m2, bench.volume_m3[0], 48e3, ambient_pa=bench.ambient_pa[0], temperature_k=293.15)
    for area_m2 in np.linspace(1e-10, 1e-9, 50)
]
with ThreadPoolExecutor() as pool:
    fits = list(pool.map(lambda gauge_pa: ct.fit(time_s, gauge_pa, bench), decays))
areas = [fit.effective_area_m2.value for fit in fits]
assert areas == sorted(areas)
print(fits[-1])
