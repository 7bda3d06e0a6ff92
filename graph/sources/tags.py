"""Tags of cores that one person cannot keep apart: refused, or told where only O and 0 or I and 1 differ."""

from graph.identifiers import tag_misread, tag_spelling
from graph.sources.known import Known
from graph.sources.rows import Line


class Tags:
    """The tags of the store's cores, then of the rows so far; the store's are asked for with the first new tag."""

    def __init__(self, known: Known) -> None:
        self._known = known
        self._spelled: dict[str, str] | None = None
        self._misread: dict[str, str] = {}

    def row(self, line: Line) -> None:
        """Check the tag of one core, unless the core is on record under it."""
        tag = line.fields.get("tag", "")
        if not tag or "tag" in line.bad or self._known.row("cores", (tag,)) is not None:
            return
        spelled, misread = tag_spelling(tag), tag_misread(tag)
        if self._spelled is None:
            self._spelled = {}
            for one in self._known.tags():
                self._spelled.setdefault(tag_spelling(one), one)
            for of, one in self._spelled.items():
                self._misread.setdefault(tag_misread(of), one)
        first = self._spelled.setdefault(spelled, tag)
        if first != tag:
            line.report("tag-taken", "tag", other=first)
            return
        alike = self._misread.setdefault(misread, tag)
        if tag_spelling(alike) != spelled:
            line.report("tag-misread", "tag", other=alike)
