"""The pages' addresses, gathered from `api.pages`."""

from fastapi import APIRouter

from api.pages import (
    answers,
    asking,
    bench,
    changes,
    charts,
    claims,
    conflicts,
    depth,
    history,
    intake,
    paper,
    pick,
    shop,
    signing,
)
from api.pages.frame import Count, Text, page, templates, trouble

router = APIRouter(include_in_schema=False)
for part in (
    asking,
    answers,
    depth,
    bench,
    intake,
    signing,
    pick,
    paper,
    shop,
    charts,
    claims,
    changes,
    history,
    conflicts,
):
    router.include_router(part.router)

__all__ = ["Count", "Text", "page", "router", "templates", "trouble"]
