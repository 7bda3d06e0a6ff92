"""The shop's own figures and labour rates on the shelf, each with who said it, when, and its version."""

from graph.desk.desk import Desk
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Held
from graph.model.figures import SUBLET, Figure, HourlyRate, ShopFigures, percent_text


def shop_figures(desk: Desk, day: str = "") -> ShopFigures:
    """The figures that hold on a day; empty: those that were said last, whatever day they hold from."""
    labels = {operation.name: operation.label for operation in desk.catalogue.all_operations}
    figures = [_figure(*said, labels) for said in desk.shelf.figures(day)]
    rates = [_rate(*said) for said in desk.shelf.rates_said()]
    return ShopFigures(tuple(figures), tuple(rates), day, desk.snapshot)


def _figure(held: Held, by: ChangeSet, version: int, labels: dict[str, str]) -> Figure:
    said = held.statement.fields
    of = str(said.get("of", ""))
    return Figure(
        str(said["figure"]),
        of,
        labels.get(of, of) if said["figure"] == SUBLET else of,
        percent_text(int(said["percent"]["amount"])) if "percent" in said else "",
        int(said["price"]["minor"]) if "price" in said else None,
        str(said.get("currency", "")),
        int(said["days"]) if "days" in said else None,
        str(said["as_of"]),
        str(said.get("who", "")) or by.author,
        by.time,
        by.n,
        version,
        held.statement.evidence.note,
    )


def _rate(held: Held, by: ChangeSet, version: int) -> HourlyRate:
    said = held.statement.fields
    per_hour, note = int(said["per_hour"]["minor"]), held.statement.evidence.note
    name, currency = str(said["name"]), str(said["currency"])
    return HourlyRate(name, per_hour, currency, by.author, by.time, by.n, version, note, held.statement.id)
