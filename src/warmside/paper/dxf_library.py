"""The DXF library with its own defaults: it reads no settings, and seeks and keeps no fonts on the machine.

While it is imported, the library would read settings from the home and the current folder, scan the fonts of
the machine and leave a list of them in the home. None of that belongs to a paper that is the same everywhere,
and an unreadable home would stop it. It gets an empty list of fonts out of our data. Not valid where somebody
imported the library before us: then it stays as it is.
"""

import os
import sys
from collections.abc import Iterator
from configparser import ConfigParser
from contextlib import contextmanager
from importlib import import_module
from importlib.resources import files
from typing import Any

_PARTS = ("ezdxf", "ezdxf.enums", "ezdxf.fonts.fonts", "ezdxf.units")


@contextmanager
def _environment(**ours: str) -> Iterator[None]:
    """Some words of the environment for a while."""
    before = {name: os.environ.get(name) for name in ours}
    os.environ.update(ours)
    try:
        yield
    finally:
        for name, value in before.items():
            del os.environ[name]
            os.environ.update({} if value is None else {name: value})


@contextmanager
def _no_settings() -> Iterator[None]:
    """Settings files are passed over for a while; the library opens them before it can be told not to."""
    read = ConfigParser.read
    setattr(ConfigParser, "read", lambda *args, **options: [])  # noqa: B010
    try:
        yield
    finally:
        setattr(ConfigParser, "read", read)  # noqa: B010


def _imported() -> Any:
    ours = str(files("warmside") / "data" / "dxf")
    if "ezdxf" in sys.modules:
        return import_module("ezdxf")
    with _environment(XDG_CONFIG_HOME=ours, XDG_CACHE_HOME=ours, EZDXF_CONFIG_FILE=""), _no_settings():
        for part in _PARTS:
            import_module(part)
    return sys.modules["ezdxf"]


ezdxf: Any = _imported()
"""The library, which gives out its parts at run time only."""
