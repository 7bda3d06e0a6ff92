"""A compressor's map with the engine's operating points, drawn on the server."""

import re
from typing import Annotated, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse

from api.calc.asking import answer
from api.calc.breathing import MAP
from api.calc.text import said
from api.current import CurrentDesk
from api.pages import wording
from api.pages.frame import Text, _, page
from api.picture.draw import described
from demo_graph.tours import MAP as DEMO_MAP
from graph.errors import SpoolwrightError

router = APIRouter()
LONGEST: Final = 6_000
"""Characters of a map in an address; longer ones go through POST /v1/calc/map."""

ASKED: Final = ("displacement", "pressure", "temperature", "speed", "height", "limit")
DEMO: Final = {
    "displacement": "7.2 L",
    "pressure": "270 kPa",
    "temperature": "325 K",
    "speed": "1400 rpm; 1800 rpm; 2200 rpm",
    "height": "0 m; 1600 m",
    "limit": "112000 rpm",
}
Chart = Annotated[str, Query(max_length=LONGEST)]


@router.get("/map")
def chart(
    request: Request,
    desk: CurrentDesk,
    chart: Chart = "",
    displacement: Text = "",
    pressure: Text = "",
    temperature: Text = "",
    speed: Text = "",
    height: Text = "",
    limit: Text = "",
) -> HTMLResponse:
    """The map that was pasted, or the demo's; several speeds and heights are parted by semicolons."""
    filled = dict(zip(ASKED, (displacement, pressure, temperature, speed, height, limit), strict=True))
    if not chart.strip() and request.app.state.demo:
        chart, filled = DEMO_MAP.read_text(), {name: filled[name] or DEMO[name] for name in ASKED}
    found, picture = None, ""
    if chart.strip():
        told: dict[str, str | list[str] | None] = {
            name: [one.strip() for one in text.split(";") if one.strip()] if name in ("speed", "height") else text
            for name, text in filled.items()
        }
        try:
            found = answer(MAP, {**told, "chart": chart})
        except SpoolwrightError as error:
            return page(
                request, desk, "map.html", status=error.status_hint, chart=chart, filled=filled, found=None,
                picture="", said=said, wrong=error.message,
            )  # fmt: skip
        bare = re.sub(r"<style>.*?</style>", "", found.result.picture, flags=re.DOTALL)
        points = "; ".join(f"{f.label} {wording.told(said(f))}" for f in found.result.figures)
        picture = described(
            bare, name="chart", told=points or _("The map alone, without operating points."), kind="map"
        )
    return page(request, desk, "map.html", chart=chart, filled=filled, found=found, picture=picture, said=said)
