"""Verbs of the shop's own figures: what its papers take where nothing else is typed in, and what an hour costs."""

import getpass
from typing import Annotated

import typer

from api.cli.asking import Demo, Json, Store, desk_at
from api.cli.jobs import Author, Note, written
from api.cli.keeping import now
from api.cli.output import fail, say, say_json
from api.paper.figures import figure_name, figure_value, on_record
from graph import publish as writer
from graph.desk.desk import Desk
from graph.desk.figures import shop_figures
from graph.errors import SpoolwrightError
from graph.index.store import Store as Folder
from graph.model.codec import to_json
from graph.model.figures import ShopFigures
from graph.publish.figuring import figure_key
from ontology.currencies import money_shown

app = typer.Typer(
    name="shop", help="The shop's own figures: credit, work sent out, tax, validity, warranty, what an hour costs.",
    no_args_is_help=True, add_completion=False, rich_markup_mode=None,
)  # fmt: skip


@app.command()
def show(
    day: Annotated[str, typer.Option(help="Those that hold on this day; default: those said last.")] = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """The shop's figures and rates, each with who set it and since when it holds."""
    try:
        _tell(shop_figures(desk_at(store, demo), day), as_json)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error


@app.command("set")
def set_(
    figure: Annotated[str, typer.Argument(help="credit, sublet, tax, validity or warranty.")],
    of: Annotated[str, typer.Option(help="credit: the grade; sublet: the operation.")] = "",
    percent: Annotated[str, typer.Option(help="credit: of the deposit; tax: of the sum.")] = "",
    price: Annotated[str, typer.Option(help="sublet: as 120.50.")] = "",
    currency: Annotated[str, typer.Option(help="sublet: as EUR.")] = "",
    days: Annotated[str, typer.Option(help="validity, warranty: how many.")] = "",
    as_of: Annotated[str, typer.Option(help="The day from which it holds; default: today.")] = "",
    note: Note = "",
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Set a figure from a day on; without a value nothing is set from then on. Earlier ones stay on record."""

    def act(folder: Folder, desk: Desk) -> None:
        key = figure_key(figure, of)
        have = [one.version for one in shop_figures(desk).figures if (one.figure, one.of) == key]
        cells = {"percent": percent, "price": price, "currency": currency, "days": days, "as_of": as_of, "note": note}
        by = author or getpass.getuser()
        writer.put_figure(folder, *key, cells, version=max(have, default=0), author=by, time=now()).sound()

    _tell(shop_figures(written(store, demo, as_json, act)), as_json)


@app.command()
def rate(
    name: Annotated[str, typer.Argument(help="As the operations name it; shop: the usual one.")],
    per_hour: Annotated[str, typer.Argument(help="What an hour costs, as 62.00.")],
    currency: Annotated[str, typer.Argument(help="As EUR.")],
    note: Note = "",
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Say what an hour of labour costs; every plan asked from now on reckons with it."""

    def act(folder: Folder, desk: Desk) -> None:
        have = [one.version for one in shop_figures(desk).rates if one.name == name]
        cells = {"per_hour": per_hour, "currency": currency, "note": note}
        by = author or getpass.getuser()
        writer.put_rate(folder, name, cells, version=max(have, default=0), author=by, time=now()).sound()

    _tell(shop_figures(written(store, demo, as_json, act)), as_json)


def _tell(found: ShopFigures, as_json: bool) -> None:
    if as_json:
        say_json(to_json(found))
        return
    lines = [f"{figure_name(one)}: {figure_value(one)}, {on_record(one)}" for one in found.figures]
    lines += [
        f"an hour of {one.name}: {money_shown(one.per_hour, one.currency)}, {on_record(one)}" for one in found.rates
    ]
    say(lines or ["Nothing is set."])
