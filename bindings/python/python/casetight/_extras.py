"""What the extras bring, asked for where it is used."""

from __future__ import annotations

from importlib import import_module
from typing import Any


def needed(module: str, extra: str, by: str) -> Any:
    """Import a module that an extra brings, or say which extra that is."""
    try:
        return import_module(module)
    except ImportError as error:
        package = module.partition(".")[0]
        message = f'{by} needs the package {package}: pip install "casetight[{extra}]"'
        raise ImportError(message, name=package) from error
