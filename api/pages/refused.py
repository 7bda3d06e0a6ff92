"""The page that tells a refusal of the server itself: no such page, too much at once, too often, no key."""

from collections.abc import Mapping
from typing import Any, Final

from fastapi import FastAPI

from api.pages.frame import templates
from api.pages.wording import _

SAID: Final = {
    "no-such-route": _("There is no page at this address."),
    "method-not-allowed": _("This page does not take what was sent."),
    "too-large": _("That is more than can be taken at once."),
    "too-many": _("Too many questions came from here in a short time."),
    "bad-request": _("Something in the address or the form cannot be read."),
}
"""What is said of refusals that have no words of their own for a person, by their codes."""

DO: Final = {
    "no-such-route": _("Ask in the line above, or go back."),
    "method-not-allowed": _("Go back and open the page anew."),
    "too-large": _("Send a smaller file, or several one after the other."),
    "too-many": _("Wait a minute, then ask again."),
}


def refused_page(app: FastAPI, told: Mapping[str, Any]) -> bytes:
    """The page, from the problem document; it needs no store, which may be what is amiss."""
    code = str(told.get("code", ""))
    faults = [f"{one['where'].rpartition('.')[2]}: {one['why']}" for one in told.get("faults", ())]
    page = templates.get_template("refused.html").render(
        demo=app.state.demo,
        shop=app.state.shop,
        said=SAID.get(code) or told.get("detail") or told.get("title", ""),
        fix="" if faults else DO.get(code, told.get("fix", "")),
        faults=faults,
    )
    return page.encode()
