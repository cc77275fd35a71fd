"""The body's figures, from params.toml."""

import pathlib
import tomllib
import types

TEXT = (pathlib.Path(__file__).parent / "params.toml").read_text()


def read(text=TEXT):
    tables = tomllib.loads(text)
    return types.SimpleNamespace(**{name: table["value"] for name, table in tables.items() if "value" in table})
