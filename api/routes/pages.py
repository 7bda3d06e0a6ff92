"""The pages' addresses, gathered from `api.pages`."""

from fastapi import APIRouter

from api.pages import answers, asking, bench, charts, claims, depth, paper
from api.pages.frame import Count, Text, page, templates, trouble

router = APIRouter(include_in_schema=False)
for part in (asking.router, answers.router, depth.router, bench.router, paper.router, charts.router, claims.router):
    router.include_router(part)

__all__ = ["Count", "Text", "page", "router", "templates", "trouble"]
