"""Where things are kept: settings from the environment, with defaults that work."""

import os
from pathlib import Path

STORE_VARIABLE = "SPOOLWRIGHT_STORE"
SHOP_STORE = Path("var/store")
DEMO_STORE = Path("var/demo")


def store_path(asked: Path | None, *, demo: bool = False) -> Path:
    """The store's folder: what was asked for, the demo's when it is named, the environment's, else the shop's own."""
    if asked is not None:
        return asked
    if demo:
        return DEMO_STORE
    named = os.environ.get(STORE_VARIABLE)
    return Path(named) if named else SHOP_STORE


def asked_path(asked: Path | None, *, demo: bool = False) -> Path:
    """The store that a question is put to: as `store_path`, and the demo's while there is no store of one's own.

    Only questions fall back: what a shop writes never goes into the demo's store unless it says so.
    """
    path = store_path(asked, demo=demo)
    return DEMO_STORE if path == SHOP_STORE and asked is None and not path.exists() else path
