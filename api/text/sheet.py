"""A route sheet as plain text: the same words as on paper, without the drawings."""

from typing import Any

from api.paper.view import sheet_view
from api.text.layout import bullets, columns, heading, paragraph
from graph.model.routing import RouteSheet


def sheet_lines(sheet: RouteSheet) -> list[str]:
    """The route, then every part's page, assembly, records, and what else changes."""
    view = sheet_view(sheet)
    lines = paragraph(view["title"]) + paragraph(view["sentence"])
    for title, texts in (
        ("Blocked", view["blocks"]),
        ("Hold: settle these before the first cut", view["holds"]),
        ("Look at these first", view["confirm"]),
    ):
        lines += [*heading(title), *bullets(texts)] if texts else []
    lines += heading("The route, in this order")
    lines += columns(
        (f"[ ] {s['number']:>2}", s["where"], s["label"] + (f": {s['size']}" if s["size"] else ""))
        for s in view["route"]
    )
    for page in view["pages"]:
        lines += heading(f"{page['title']}: {page['part']}")
        lines += paragraph(f"{page['label']}; {page['source']}")
        lines += bullets(page["cautions"])
        for step in page["steps"]:
            lines += _step(step)
        for wall in page["walls"]:
            lines += ["", *paragraph(f"{wall['title']}. {wall['head']}", "  ")]
            lines += columns([("position", "read", "taken off", "left", ""), *wall["rows"]], "    ")
            lines += bullets(wall["reasons"])
        lines += _balance(page["balance"])
        lines += ["", "  Measure before it goes in"] if page["sizes"] else []
        lines += columns(
            ((f"[ ] {name}", f"{expected}; measured ______") for name, expected in page["sizes"]), "    "
        )
        lines += _procedures(page["procedures"])
    assembly = view["assembly"]
    lines += heading("Assembly") + columns(row[:4] for row in assembly["fitted"])
    lines += _balance(assembly["balance"])
    lines += ["", "Measured as it goes together"] if assembly["checks"] else []
    lines += columns((f"[ ] {row[0]}", row[3], f"{row[1]}: {row[2]}") for row in assembly["checks"])
    lines += _procedures(assembly["procedures"])
    lines += heading("Before it goes out: none of these may be blank")
    lines += bullets(f"[ ] {r['title']}: {'; '.join(r['fields'])}" for r in view["records"])
    lines += heading("What else changes")
    for change in view["changes"]:
        lines += paragraph(f"{change['title']}. {change['standard']}".strip())
        lines += columns((row[0], row[1], "; ".join(text for text in row[2:] if text)) for row in change["rows"])
    if view["cautions"]:
        lines += heading("Check, and with whom") + bullets(view["cautions"])
    lines += ["", *(f"{name}: {text}" for name, text in view["sources"]), view["paper"]]
    return lines


def _step(step: dict[str, Any]) -> list[str]:
    target = f": {step['target']}, accepted from {step['window']}" if step["target"] else ""
    lines = ["", *paragraph(f"{step['number']}. {step['label']}{target}", "  ", "    ")]
    lines += columns(step["facts"], "    ")
    lines += columns(
        ((f"before {place}".rstrip(" –"), f"{text}; after ______") for place, text in step["rows"]), "    "
    )
    for text in (step["undo"], step["caution"]):
        lines += paragraph(text, "    ") if text else []
    return lines


def _balance(targets: list[dict[str, Any]]) -> list[str]:
    lines: list[str] = []
    for target in targets:
        lines += ["", *paragraph(f"{target['title']}, from {target['given']}", "  ")]
        lines += columns(target["rows"], "    ") + paragraph(target["note"], "    ")
    return lines


def _procedures(procedures: list[dict[str, Any]]) -> list[str]:
    lines: list[str] = []
    for one in procedures:
        lines += ["", *paragraph(f"{one['title']} ({one['says']})", "  ")]
        lines += columns(one["facts"], "    ")
        for number, line in enumerate(one["lines"], 1):
            blanks = "".join(f" [{blank}: ____]" for blank in line["blanks"])
            lines += paragraph(f"[ ] {number:>2}. {line['text']}{blanks}", "    ", "        ")
    return lines
