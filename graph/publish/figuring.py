"""Setting the shop's own figures and labour rates: each rests on the version that the writer saw."""

from typing import Final

from graph.errors import BadQuestion
from graph.index.store import Store
from graph.model.figures import CREDIT
from graph.model.sheet import FIGURES
from graph.publish.entering import Cells, Entered, enter
from graph.publish.working import versions

VALUES: Final = ("percent", "price", "currency", "days")


def figure_key(figure: str, of: str) -> tuple[str, str]:
    """How a figure is called on the shelf: grades in capitals, nothing else changed.

    Raises
    ------
    BadQuestion
        There is no such sort of figure.
    """
    if figure not in FIGURES:
        raise BadQuestion(f"there is no figure {figure!r}", fix=f"figures: {', '.join(FIGURES)}")
    of = " ".join(of.split())
    return figure, of.upper() if figure == CREDIT else of


def put_figure(store: Store, figure: str, of: str, cells: Cells, *, version: int, author: str, time: str) -> Entered:
    """Say what holds from a day on (`as_of`; empty: today); no value: nothing is set from that day on.

    Earlier figures stay on record and hold for earlier days. `version`: of what was said before; 0: nothing was.

    Raises
    ------
    BadQuestion
        There is no such sort of figure.
    Stale
        Somebody else said something since.
    """
    figure, of = figure_key(figure, of)
    filled = {name: cells.get(name, "").strip() for name in (*VALUES, "as_of", "note")}
    filled["as_of"] = filled["as_of"] or time[:10]
    filled |= {"figure": figure, "of": of, "who": author, "date": time.rstrip("Z")}
    said = " ".join(filled[name] for name in VALUES if filled[name]) or "not set"
    what = f"{figure} {of}".strip()
    guard = versions("figures", (figure, of), version, f"a figure {what}")
    title = f"{what}: {said} from {filled['as_of']}"
    return enter(store, "figures", [filled], author=author, time=time, title=title, guard=guard)


def put_rate(store: Store, name: str, cells: Cells, *, version: int, author: str, time: str) -> Entered:
    """Say what an hour of labour costs from now on; `version` as for a figure.

    Raises
    ------
    Stale
        Somebody else said something since.
    """
    name = " ".join(name.split())
    filled = {column: cells.get(column, "").strip() for column in ("per_hour", "currency", "note")}
    filled |= {"name": name, "date": time.rstrip("Z")}
    guard = versions("rates", (name,), version, f"the rate {name}")
    title = f"rate {name}: {filled['per_hour']} {filled['currency']} an hour"
    return enter(store, "rates", [filled], author=author, time=time, title=title, guard=guard)
