"""A route sheet as PDF, set by typst with the fonts that come with it; the same sheet gives the same bytes."""

import json
from datetime import UTC, date, datetime
from pathlib import Path

import typst

from api.paper.view import sheet_view
from graph.model.routing import RouteSheet

TEMPLATE = Path(__file__).parent / "sheet.typ"


def sheet_pdf(sheet: RouteSheet) -> bytes:
    """The sheet on A4. Its words go in as data, never as markup; its date is the day of the plan."""
    made = typst.compile(
        TEMPLATE,
        root=TEMPLATE.parent,
        font_paths=[],
        ignore_system_fonts=True,
        format="pdf",
        sys_inputs={"sheet": json.dumps(sheet_view(sheet), ensure_ascii=False)},
        timestamp=_seconds(sheet.day),
    )
    assert isinstance(made, bytes)
    return made


def _seconds(day: str) -> int:
    try:
        when = date.fromisoformat(day)
    except ValueError:
        return 0
    return int(datetime(when.year, when.month, when.day, tzinfo=UTC).timestamp())
