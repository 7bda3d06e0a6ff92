"""The evidence bundle: a plan question with every fact that may bear on its answer.

The planner works from it, the checker judges from it, and it travels with the answer, so that a saved answer
can be judged later and elsewhere. It holds the claims as claims: which one counts is decided by the reader.
"""

from dataclasses import dataclass

from graph.model.record import (
    Build,
    Consume,
    Core,
    Engine,
    Feature,
    Kind,
    Layout,
    Operation,
    Part,
    Rate,
    ServiceDue,
    Snapshot,
    Source,
)


@dataclass(frozen=True, slots=True)
class PlanQuestion:
    """What parts and machining turn this core into this build for this engine?

    `wishes` narrow the options: `no-new`, `no-donor`, `no-machining`, `only-stock`, `keep:<seat>`,
    `no-used:<seat>`, `no-part:<part key>`, `no-operation:<name>`. `best` is how many distinct plans are wanted.
    `by`: measures (`MEASURES`), the weightiest first, by which certain plans are compared, money last of all;
    empty: by money alone. With measures one plan is wanted.
    """

    core: str  # core key
    build: str  # build key
    engine: str  # engine key
    best: int = 1
    day: str = ""  # ISO date on which prices and supersessions are read
    wishes: tuple[str, ...] = ()
    by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Bundle:
    """All facts for one plan question. Tuples are sorted by key or name, so equal facts give equal bundles."""

    question: PlanQuestion
    snapshot: Snapshot
    layout: Layout  # the build's
    build: Build
    engine: Engine
    core: Core
    donors: tuple[Core, ...]  # other cores that may donate and have the layout's seats; sorted by tag
    parts: tuple[Part, ...]  # every part of a kind that a seat of the layout takes, and all consumed ones
    kinds: tuple[Kind, ...]
    features: tuple[Feature, ...]
    accepted: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]  # (set, its pairs of codes)
    operations: tuple[Operation, ...]
    consumes: tuple[Consume, ...]
    services: tuple[ServiceDue, ...]
    rates: tuple[Rate, ...]
    sources: tuple[Source, ...]
