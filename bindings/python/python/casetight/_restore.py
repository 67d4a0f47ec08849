"""Makes objects again where they travelled to: pickling names their constructor and its arguments."""

from __future__ import annotations

from functools import reduce
from typing import Any

from . import _core


def restore(constructor: str, arguments: tuple[Any, ...], keywords: dict[str, Any]) -> Any:
    """Call the constructor of this dotted name."""
    made: Any = reduce(getattr, constructor.split("."), _core)
    return made(*arguments, **keywords)
