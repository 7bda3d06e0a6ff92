"""A question that is kept, to be told when its answer turns; and how answers turned."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """`fits`: unit onto engine (or `part` into `seat` of the unit); `plan`: core into build; `part`: is it on hand?

    Names as a person writes them: what they mean is looked up each time it is asked.
    """

    kind: str
    unit: str = ""
    engine: str = ""
    seat: str = ""
    part: str = ""
    core: str = ""
    build: str = ""


@dataclass(frozen=True, slots=True)
class Said:
    """An answer in a word, to be compared, and in a sentence, to be read. `cost`: of a plan, in minor units."""

    word: str
    sentence: str
    cost: int | None = None
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Turned:
    """How the answer of one kept question turns. `id` and `label` are the question's."""

    id: str
    label: str
    before: Said
    after: Said

    @property
    def turned(self) -> bool:
        """Whether it is another answer; another sentence alone is none."""
        return self.before.word != self.after.word


@dataclass(frozen=True, slots=True)
class Watch:
    """A kept question. `n`: the last change set when it was last answered; `ended`: when it was given up."""

    id: str
    label: str
    question: Question
    made: str
    made_by: str
    n: int
    word: str
    sentence: str
    ended: str = ""
