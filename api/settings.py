"""Where things are kept and how it is served: settings from the environment, with defaults that work."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

STORE_VARIABLE = "SPOOLWRIGHT_STORE"
LEDGER_VARIABLE = "SPOOLWRIGHT_LEDGER"
SHOP_STORE = Path("var/store")
DEMO_STORE = Path("var/demo")
EVENTS_DAYS = 90
"""Days for which a server keeps events that were delivered, unless the environment says."""


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


def ledger_url() -> str:
    """The PostgreSQL database in which a new store is to keep its record; empty: a file in its folder."""
    return os.environ.get(LEDGER_VARIABLE, "")


@dataclass(frozen=True, slots=True)
class Serving:
    """How a server behaves. The defaults suit a program that embeds the application, and tests.

    origins     web origins that may read answers from a browser (CORS); none by default
    rate        requests that one caller may make, as `600/minute`; empty: no limit
    workers     processes for plans; 0: a plan is made in the server's own process
    telemetry   whether OpenTelemetry traces are handed to the exporter that the environment names
    events      days for which events are kept once they were delivered; 0: for ever
    """

    origins: tuple[str, ...] = ()
    rate: str = ""
    workers: int = 0
    telemetry: bool = False
    events: int = 0

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> "Serving":
        """As SPOOLWRIGHT_ORIGINS (separated by spaces), _RATE, _WORKERS, _TELEMETRY and _EVENTS_DAYS say.

        >>> Serving.from_environment({"SPOOLWRIGHT_ORIGINS": "https://shop.example", "SPOOLWRIGHT_WORKERS": "2"})
        Serving(origins=('https://shop.example',), rate='', workers=2, telemetry=False, events=90)
        """
        cores = os.cpu_count() or 1
        return cls(
            tuple(environment.get("SPOOLWRIGHT_ORIGINS", "").split()),
            environment.get("SPOOLWRIGHT_RATE", ""),
            int(environment.get("SPOOLWRIGHT_WORKERS", "") or max(1, cores - 1)),
            environment.get("SPOOLWRIGHT_TELEMETRY", "") in ("1", "yes", "true"),
            int(environment.get("SPOOLWRIGHT_EVENTS_DAYS", "") or EVENTS_DAYS),
        )
