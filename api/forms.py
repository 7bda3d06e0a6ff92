"""The forms in which a pick list leaves: JSON, CSV, XLSX, text."""

import json

from fastapi.responses import Response

from api.text.pick import pick_lines
from api.workbook import pick_csv, pick_workbook
from graph.errors import NotAcceptable
from graph.model.codec import to_json
from graph.model.picking import PickList

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def pick_response(picks: PickList, form: str) -> Response:
    """The pick list in the form asked for.

    Raises
    ------
    NotAcceptable
        A form that there is not.
    """
    if form == "json":
        return Response(json.dumps(to_json(picks), ensure_ascii=False), media_type="application/json")
    if form == "csv":
        return Response(
            pick_csv(picks),
            media_type="text/csv; charset=utf-8",
            headers={"Content-Disposition": 'attachment; filename="pick-list.csv"'},
        )
    if form == "xlsx":
        return Response(
            pick_workbook(picks),
            media_type=XLSX,
            headers={"Content-Disposition": 'attachment; filename="pick-list.xlsx"'},
        )
    if form == "text":
        return Response("\n".join(pick_lines(picks)) + "\n", media_type="text/plain; charset=utf-8")
    raise NotAcceptable(f"a pick list has no form {form!r}", fix="ask for json, csv, xlsx or text")
