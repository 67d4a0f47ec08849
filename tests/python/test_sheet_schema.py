"""The schema that editors check sheets by, beside the `jsonschema` package: every sheet of the repository passes, slips do not."""

import copy
import datetime
import json
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest

if sys.version_info >= (3, 11):
    import tomllib
else:
    import tomli as tomllib

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "docs/sheet.schema.json").read_text(encoding="utf-8"))
SHEETS = sorted((ROOT / "docs/demo").glob("*.toml")) + sorted(
    (ROOT / "tests/data/regressions").glob("*.toml")
)


def plain(value: Any) -> Any:
    """As an editor hands it to the schema: dates as their text."""
    if isinstance(value, dict):
        return {key: plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [plain(each) for each in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def read(path: Path) -> Any:
    return plain(tomllib.loads(path.read_text(encoding="utf-8")))


VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert len(SHEETS) > 20


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_sheet_of_the_repository_passes(path: Path) -> None:
    VALIDATOR.validate(read(path))


@pytest.mark.parametrize(
    ("place", "key", "value"),
    [
        ([], "titel", "a slip of the hand"),
        (["gauge"], "resolutoin", "1 Pa"),
        (["ambient"], "pressure", 1013),
        (["run", 0], "readings", [[0, 7.0, 1]]),
        (["run", 0], "direction", "down"),
        ([], "format", 2),
    ],
)
def test_a_slip_does_not_pass(place: list[Any], key: str, value: object) -> None:
    sheet = copy.deepcopy(read(ROOT / "docs/demo" / "mist-blower-14.toml"))
    at = sheet
    for step in place:
        at = at[step]
    at[key] = value
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(sheet)


def test_a_key_that_must_be_there_is_missed() -> None:
    sheet = read(ROOT / "docs/demo" / "mist-blower-14.toml")
    del sheet["ambient"]["temperature"]
    with pytest.raises(jsonschema.ValidationError, match="temperature"):
        VALIDATOR.validate(sheet)
