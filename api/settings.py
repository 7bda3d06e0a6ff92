"""Where things are kept: settings from the environment, with defaults that work."""

import os
from pathlib import Path

STORE_VARIABLE = "SPOOLWRIGHT_STORE"
SHOP_STORE = Path("var/store")
DEMO_STORE = Path("var/demo")


def store_path(asked: Path | None, *, demo: bool = False) -> Path:
    """The store's folder: what was asked for, the environment's, the shop's own, else the demo's.

    A shop's store is never mixed with the demo: they are two folders.
    """
    if asked is not None:
        return asked
    if demo:
        return DEMO_STORE
    named = os.environ.get(STORE_VARIABLE)
    if named:
        return Path(named)
    return DEMO_STORE if DEMO_STORE.exists() and not SHOP_STORE.exists() else SHOP_STORE
