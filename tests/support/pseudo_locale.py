"""Every text of the catalogue in brackets, and what stands outside them on the pages: it may be data, nothing else.

    SPOOLWRIGHT_LANGUAGE=qps SPOOLWRIGHT_LOCALE=FOLDER python tests/support/pseudo_locale.py STORE PATH...

writes a JSON object: for each path the texts that are neither in brackets nor data. Data are the cells of the shop's
workbook and the strings of the answers that the core gives (dataclasses of graph.model), never the words of its
enumerations nor a paper's own texts.
"""

import csv
import dataclasses
import json
import re
import struct
import sys
from collections.abc import Iterator, Sequence
from enum import Enum
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

from graph.errors import SpoolwrightError
from graph.model.said import Said

LANGUAGE = "qps"  # BCP 47 private use, as others use it for pseudo-locales
OPEN, SHUT = "⟦", "⟧"
SAID = ("aria-label", "placeholder", "alt", "title")
_INNER = re.compile(f"{OPEN}[^{OPEN}{SHUT}]*{SHUT}")
_PARTS = re.compile(r"[^\w.'’±°-]+", re.UNICODE)


def bracketed(texts: Sequence[str]) -> bytes:
    """A compiled gettext catalogue (GNU gettext manual, 10.3: the format of MO files) that puts each in brackets."""
    head = "Content-Type: text/plain; charset=UTF-8\n"
    pairs = sorted({"": head, **{t: f"{OPEN}{t}{SHUT}" for t in texts}}.items(), key=lambda p: p[0].encode())
    at = 28 + 16 * len(pairs)
    tables, blob = [b"", b""], b""
    for column in (0, 1):
        for pair in pairs:
            data = pair[column].encode()
            tables[column] += struct.pack("<II", len(data), at + len(blob))
            blob += data + b"\0"
    start = struct.pack("<IIIIIII", 0x950412DE, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, at)
    return start + tables[0] + tables[1] + blob


def write(folder: Path) -> None:
    """The catalogue of this language below the folder."""
    from api.pages.wording import DOMAIN, marked

    target = folder / LANGUAGE / "LC_MESSAGES" / f"{DOMAIN}.mo"
    target.parent.mkdir(parents=True)
    target.write_bytes(bracketed([text for _file, text in marked()]))


class Words(HTMLParser):
    """The texts of a page that a person reads or hears."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent += tag in ("style", "datalist")
        self.texts += [value for name, value in attrs if name in SAID and value]

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in ("style", "datalist")

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.texts.append(data)


def strings(value: Any) -> Iterator[str]:
    """All strings in what the core answered; of a sentence that can be translated only what fills it."""
    if isinstance(value, Said):
        yield from strings(value.fields)
    elif isinstance(value, str):
        yield value
    elif isinstance(value, SpoolwrightError):
        yield from (value.message, value.fix)
    elif isinstance(value, Enum):
        return
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            yield from strings(getattr(value, field.name))
    elif isinstance(value, dict):
        for one in value.values():
            yield from strings(one)
    elif isinstance(value, list | tuple | set | frozenset):
        for one in value:
            yield from strings(one)


def drawn(svg: str) -> list[str]:
    """The texts of a picture that the core drew."""
    page = Words()
    page.feed(svg)
    return page.texts


def flat(text: str) -> str:
    """As it is compared: one space between words, no case, keys spoken."""
    return " ".join(_PARTS.split(text.replace("_", " ").replace("-", " ").replace("×", "x"))).casefold().strip(" .")


class Data:
    """What may stand outside the brackets."""

    def __init__(self, texts: Iterator[str]) -> None:
        self.pieces = {
            flat(piece) for text in texts for piece in (drawn(text) if text.startswith("<svg") else [text])
        }
        self.pieces |= {piece for text in list(self.pieces) for piece in text.split("\n")}
        self.blob = "\n".join(sorted(self.pieces))
        self.longest = max(len(piece.split()) for piece in self.pieces)

    def holds(self, text: str) -> bool:
        """Whether it is data: a part of one string, if it has three words or more, else strings one after another."""
        words = flat(text).split()
        if len(words) > 2 and " ".join(words) in self.blob:
            return True
        reached = [True, *[False] * len(words)]  # whether the first so many words are data
        for at in range(len(words)):
            if not reached[at]:
                continue
            reached[at + 1] |= not re.search("[^\\W\\d]{2}", words[at])
            for end in range(at + 1, min(len(words), at + self.longest) + 1):
                run = " ".join(words[at:end])
                reached[end] |= run in self.pieces or (end - at > 2 and run in self.blob)
        return reached[-1]


def outside(html: str, data: Data) -> list[str]:
    """What a page says that is neither in brackets nor data."""
    page = Words()
    page.feed(html)
    found = []
    for text in page.texts:
        bare = text
        while _INNER.search(bare):
            bare = _INNER.sub("\n", bare)
        found += [piece.strip() for piece in bare.split("\n") if not data.holds(piece)]
    return list(dict.fromkeys(found))


def main(store: str, paths: Sequence[str]) -> None:
    from starlette.testclient import TestClient

    from api.app import create_app
    from api.pages import frame, paper
    from api.routes import sheets
    from demo_graph.data import workbook

    answered: list[Any] = []
    plain = frame.templates.TemplateResponse

    def caught(request: Any, name: str, context: dict[str, Any], **more: Any) -> Any:
        answered.extend(
            value
            for key, value in context.items()
            if key not in ("slip", "sheet") or name not in ("slip.html", "sheet.html")
        )
        return plain(request, name, context, **more)

    def told_to(module: Any, name: str) -> None:
        plainly = getattr(module, name)

        def noted(*given: Any, **named: Any) -> Any:
            answered.extend([*given, *named.values()])
            return plainly(*given, **named)

        setattr(module, name, noted)

    for module, name in (
        (paper, "claim_slip"),
        (paper, "credit_slip"),
        (paper, "quote_slip"),
        (sheets, "sheet_view"),
    ):
        told_to(module, name)
    frame.templates.TemplateResponse = caught  # type: ignore[method-assign, assignment]
    app = create_app(Path(store), demo=True)
    cells = [
        cell for file in workbook().glob("*.csv") for row in csv.reader(file.open(encoding="utf-8")) for cell in row
    ]
    told = {}
    with TestClient(app) as client:
        for path in paths:
            answered.clear()
            html = client.get(path).text
            kept = [*answered, *frame.remembered._held.values()]
            told[path] = outside(html, Data(iter([*cells, *strings(kept), *UNITS])))
    sys.stdout.write(json.dumps(told, ensure_ascii=False))


UNITS = (
    "mm",
    "in",
    "min",
    "h",
    "EUR",
    "rpm",
    "kPa",
    "g·mm",
    "x",
    "spoolwright",
    "hollin beck",
    "csv",
    "xlsx",
    "ascii",
)
"""Signs and names that are the same in any language."""


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
