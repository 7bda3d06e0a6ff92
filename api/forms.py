"""The forms in which a pick list leaves: JSON, CSV, XLSX, text."""

import json

from fastapi.responses import Response

from api.http.forms import MEDIA
from api.text.pick import pick_lines
from api.workbook import pick_csv, pick_workbook
from graph.errors import NotAcceptable
from graph.model.codec import to_json
from graph.model.picking import PickList

XLSX = MEDIA["xlsx"]


def pick_bytes(picks: PickList, form: str) -> tuple[bytes, dict[str, str]]:
    """The pick list in the form asked for, and the headers that go with it.

    Raises
    ------
    NotAcceptable
        A form that there is not.
    """
    if form == "json":
        return json.dumps(to_json(picks), ensure_ascii=False).encode(), {}
    if form == "csv":
        return pick_csv(picks).encode(), {"Content-Disposition": 'attachment; filename="pick-list.csv"'}
    if form == "xlsx":
        return pick_workbook(picks), {"Content-Disposition": 'attachment; filename="pick-list.xlsx"'}
    if form == "text":
        return ("\n".join(pick_lines(picks)) + "\n").encode(), {}
    raise NotAcceptable(f"a pick list has no form {form!r}", fix="ask for json, csv, xlsx or text")


def pick_response(picks: PickList, form: str) -> Response:
    """The same as a response."""
    body, headers = pick_bytes(picks, form)
    media = MEDIA[form] + ("; charset=utf-8" if MEDIA[form].startswith("text/") else "")
    return Response(body, media_type=media, headers=headers)
