"""The options --store, --demo and --json of verbs, written once: a verb gets them as one value."""

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from api.cli.asking import Demo, Json, Store
from api.cli.output import fail
from graph.errors import SpoolwrightError


@dataclass(frozen=True, slots=True)
class At:
    """Which store a verb works on, and whether it tells JSON."""

    store: Path | None
    demo: bool
    as_json: bool


_KIND: Final = inspect.Parameter.KEYWORD_ONLY
_OPTIONS: Final = (
    inspect.Parameter("store", _KIND, default=None, annotation=Store),
    inspect.Parameter("demo", _KIND, default=False, annotation=Demo),
    inspect.Parameter("as_json", _KIND, default=False, annotation=Json),
)


def placed(act: Callable[..., None]) -> Callable[..., None]:
    """The verb with these options behind its own; what cannot be done is told as every verb tells it.

    The first parameter of `act` is an `At`.
    """
    _, *own = inspect.signature(act).parameters.values()

    def verb(*, store: Path | None, demo: bool, as_json: bool, **given: object) -> None:
        try:
            act(At(store, demo, as_json), **given)
        except SpoolwrightError as error:
            raise fail(error, as_json=as_json) from error

    signature = inspect.Signature([*own, *_OPTIONS])
    verb.__name__, verb.__doc__ = act.__name__, act.__doc__
    verb.__signature__ = signature  # type: ignore[attr-defined]
    verb.__annotations__ = {name: one.annotation for name, one in signature.parameters.items()}
    return verb
