"""How often something is done to a store: as often as a quick run takes, or as RELIABILITY says."""

import json
import os
from pathlib import Path


def times(usual: int, *, share: int = 1) -> int:
    """The count of a quick run, or that of the environment's RELIABILITY, of which dear ones take a share."""
    return max(usual, int(os.environ.get("RELIABILITY", "0")) // share)


def told(what: str, count: int, faults: int, note: str) -> None:
    """Add what came of it to the file that RELIABILITY_FIGURES names, if one is named."""
    figures = os.environ.get("RELIABILITY_FIGURES", "")
    if figures:
        with Path(figures).open("a") as file:
            file.write(json.dumps({"what": what, "count": count, "faults": faults, "note": note}) + "\n")
