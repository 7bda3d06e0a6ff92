"""The words of pages and of the core's sentences: English in the code, other languages from a gettext catalogue.

`api/locale/spoolwright.pot` lists every text; `python -m api.pages.wording` writes it anew. A translation goes beside
it, or into the folder that SPOOLWRIGHT_LOCALE names, as `<language>/LC_MESSAGES/spoolwright.mo`; SPOOLWRIGHT_LANGUAGE
takes it.
"""

import ast
import gettext
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import graph
from graph.model.said import Said

DOMAIN: Final = "spoolwright"
HERE: Final = Path(__file__).parent
LOCALE: Final = HERE.parent / "locale"
CORE: Final = Path(graph.__file__).parent
TEMPLATES: Final = HERE.parent / "templates"
LANGUAGE: Final = os.environ.get("SPOOLWRIGHT_LANGUAGE", "en")

catalogue: Final = gettext.translation(
    DOMAIN, os.environ.get("SPOOLWRIGHT_LOCALE") or LOCALE, [LANGUAGE], fallback=True
)
_ = catalogue.gettext


def told(said: Any) -> Any:
    """A sentence of the core in the language of the pages; anything else stays what it is."""
    return said.told(_) if isinstance(said, Said) else said


def marked() -> Iterator[tuple[str, str]]:
    """Every text that is marked for translation, as (file, text), in the order of files and lines."""
    from api.pages.frame import templates  # noqa: PLC0415 (frame needs this module's words)

    for file in sorted(TEMPLATES.glob("*.html")):
        for _line, _function, text in templates.env.extract_translations(file.read_text()):  # type: ignore[attr-defined]
            yield file.name, str(text[0] if isinstance(text, tuple) else text)  # a tuple has the plural too
    files = [(file, "_") for file in sorted(HERE.parent.rglob("*.py"))]
    files += [(file, "say") for file in sorted(CORE.rglob("*.py"))]
    for file, marks in files:
        for node in ast.walk(ast.parse(file.read_text())):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id == marks
                and node.args
                and isinstance(node.args[0], ast.Constant)
            ):
                yield file.name, str(node.args[0].value)


def template() -> str:
    """The catalogue's template in gettext's POT form, each text once, with the files that use it."""
    places: dict[str, list[str]] = {}
    for file, text in marked():
        if file not in places.setdefault(text, []):
            places[text].append(file)
    out = ['msgid ""', 'msgstr "Content-Type: text/plain; charset=UTF-8\\n"', ""]
    for text, files in sorted(places.items()):
        quoted = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
        out += [f"#: {' '.join(files)}", f'msgid "{quoted}"', 'msgstr ""', ""]
    return "\n".join(out)


if __name__ == "__main__":
    (LOCALE / f"{DOMAIN}.pot").write_text(template())
