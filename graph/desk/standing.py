"""Whether a unit goes onto an engine as it stands: all that can be said without planning any work."""

from graph.desk import names
from graph.desk.desk import Desk
from graph.errors import BadQuestion
from graph.index.gather import fits_evidence
from graph.model.bundle import Bundle
from graph.model.fits import FitsAnswer, FitsQuestion
from graph.model.plan import PlanAnswer
from graph.model.verdict import Verdict
from graph.swap import fits


def fits_standing(
    desk: Desk, unit: str, engine: str, *, seat: str = "", part: str = "", day: str = ""
) -> FitsAnswer | None:
    """The answer of `Desk.fits` where it needs no planning: it fits as it stands, or no work can mend it. Else None.

    Raises
    ------
    NotFound, Ambiguous, BadQuestion
        As `Desk.fits`.
    """
    unit_key = names.thing(desk.catalogue.find_units, "turbocharger", unit).key
    engine_key = names.thing(desk.catalogue.find_engines, "engine", engine).key if engine else ""
    part_key = names.thing(desk.catalogue.find_parts, "part", part).key if part else ""
    if not engine and not part:
        raise BadQuestion("no engine and no part is named", fix="name the engine, or a seat and a part")
    question = FitsQuestion(unit_key, engine_key, seat, part_key, day)
    evidence = fits_evidence(desk.catalogue, desk.shelf, question, mend=False)
    answer = fits(evidence, _never, desk.catalogue.known.kept)
    return answer if answer.verdict in (Verdict.YES, Verdict.NO) else None


def _never(bundle: Bundle) -> PlanAnswer:
    raise AssertionError(f"without a bundle nothing is planned: {bundle.question}")
