"""The bench's answers as plain text: what a core is, what becomes of its parts, what to measure, what jobs taught."""

from collections.abc import Iterable

from api.text.layout import bullets, columns, heading, paragraph
from api.words import money, named, spoken
from graph.model.bench import (
    CoreRecord,
    Decision,
    Identification,
    Inspection,
    Learned,
    NextLook,
    Outcome,
    ReadingShown,
    Result,
    SettleAnswer,
    UnitCandidate,
    Weighed,
)
from graph.model.record import Snapshot, Weakness

WEIGHED = {"agrees": "+", "contradicts": "x", "not on record": "?"}
HOW = {"outside": "from outside", "stripped": "once stripped", "gauge": "with a gauge", "": "somehow"}
OUTCOMES = {
    Outcome.REUSE: "+",
    Outcome.MACHINE: "~",
    Outcome.REPLACE: "o",
    Outcome.SCRAP: "x",
    Outcome.TOO_CLOSE: "?",
    Outcome.UNKNOWN: "?",
}


def snapshot_lines(snapshot: Snapshot) -> list[str]:
    """What the answer was read from."""
    return ["", f"Read from catalogue {snapshot.catalogue}, shelf {snapshot.shelf}."]


def identify_lines(answer: Identification, *, arithmetic: bool = False) -> list[str]:
    """The sentence, the candidates with what speaks for and against, changed parts, and the next looks."""
    lines = paragraph(answer.sentence)
    if answer.seen:
        lines += heading("What was seen")
        lines += columns((one.label, one.shown, _left_open(one.values)) for one in answer.seen)
    lines += heading("Candidates  (+ agrees, x contradicts, ? not on record)")
    for candidate in answer.candidates:
        lines += columns([(f"{candidate.probability:.4f}", candidate.title)])
        lines += columns((_weighed(w) for w in candidate.weighed if candidate.unit), "          ")
    if answer.others > 0.00005:
        lines += columns([(f"{answer.others:.4f}", "all other units together")])
    if answer.foreign:
        lines += heading("As built, and as found")
        lines += bullets(one.text for one in answer.foreign)
    if answer.questions and not answer.settled:
        lines += heading("Look next")
        lines += columns(_look(look) for look in answer.questions)
    lines += weakness_lines(answer.weaknesses, f"What {_best(answer)} usually dies of: look there first")
    if answer.remarks:
        lines += heading("Remarks")
        lines += bullets(answer.remarks)
    if arithmetic:
        lines += arithmetic_lines(answer.candidates, answer.others)
    return lines + snapshot_lines(answer.snapshot)


def _left_open(values: tuple[str, ...]) -> str:
    return f"leaves open {' | '.join(values)}" if len(values) != 1 else f"read as {values[0]}"


def _weighed(one: Weighed) -> tuple[str, str, str]:
    return (WEIGHED[one.says], one.label, one.says if one.says != "contradicts" else f"built with {one.expected}")


def _look(look: NextLook) -> tuple[str, str, str]:
    values = ", ".join(f"{shown} {share:.2f}" for shown, share in look.values[:4])
    return (f"{look.gain:.3f} bit", f"{look.label}, {HOW.get(look.look, look.look)}", values)


def _best(answer: Identification) -> str:
    return next((c.title for c in answer.candidates if c.unit), "it")


def weakness_lines(weaknesses: Iterable[Weakness], title: str) -> list[str]:
    """Where to look first, with how often it was seen of how many."""
    rows = []
    for one in weaknesses:
        count = "not counted" if one.seen is None or one.of is None else f"{one.seen} of {one.of}"
        rows.append((count, named(one.subject), one.text + (f" ({one.source})" if one.source else "")))
    return heading(title) + columns(rows) if rows else []


def arithmetic_lines(candidates: Iterable[UnitCandidate], others: float) -> list[str]:
    """Bayes' rule, written out: prior times likelihoods, and what share of the whole that is."""
    rows = []
    for one in candidates:
        product = one.prior
        factors = [f"{one.prior:.6g}"]
        for weighed in one.weighed:
            product *= weighed.likelihood
            factors.append(f"{weighed.likelihood:.6g}")
        rows.append((one.title, " x ".join(factors), product, one.probability))
    lines = heading("The arithmetic: prior x chance of each observation = weight; weight / sum of all = probability")
    lines += columns((title, f"{text} = {weight:.6g}; {chance:.6f}") for title, text, weight, chance in rows)
    whole = next((weight / chance for _, _, weight, chance in rows if chance), 0.0)
    lines += paragraph(f"Sum of all weights: {whole:.6g}; units that are not listed have {others:.6f} of it.")
    shown = next((one.weighed for one in candidates), ())
    lines += columns((w.label, _chances(w)) for w in shown)
    return lines


def _chances(one: Weighed) -> str:
    k, r, n = one.values, one.reliability, one.open
    wrong = f"(1 - {r:g}) / {k - 1}"
    agrees = f"{r:g}" if n == 1 else f"{r:g} + {n - 1} x {wrong}"
    against = wrong if n == 1 else f"{n} x {wrong}"
    return f"reliability {r:g}, {k} values: agrees {agrees}; contradicts {against}; not on record {n}/{k}"


def record_lines(record: CoreRecord) -> list[str]:
    """A core as taken in, then its readings, then where to look first."""
    title = f"core {record.tag}: booked in as {named(record.built) or 'not known'}"
    lines = paragraph(title + (f", serial {record.serial}" if record.serial else ""))
    facts = (
        ("received", record.received),
        ("customer", record.customer + (" (own, goes back to the customer)" if record.own else "")),
        ("plate as read", record.plate),
        ("grade", record.grade),
        ("place", record.place),
        ("deposit", "" if record.deposit is None else money(record.deposit, record.currency)),
        ("book value", "" if record.book_value is None else money(record.book_value, record.currency)),
        ("photos", ", ".join(record.photos)),
    )
    lines += columns((what, text) for what, text in facts if text)
    if record.found:
        lines += heading("As found")
        lines += columns((seat, named(part) or "not identified", state) for seat, part, state in record.found)
    if record.readings:
        lines += heading("Readings")
        lines += columns(_reading(one) for one in record.readings)
    lines += weakness_lines(record.weaknesses, "Where to look first")
    return lines + snapshot_lines(record.snapshot)


def _reading(one: ReadingShown) -> tuple[str, str, str]:
    what = f"{one.seat} {spoken(one.feature)}" + (f" at {one.position}" if one.position else "")
    size = one.value + (f" ± {one.uncertainty}" if one.uncertainty else "")
    said = ", ".join(t for t in (one.instrument, one.who, one.date, one.condition, one.source, one.note) if t)
    return what, size, said + ("" if one.counts else " [replaced by the reader's own later one]")


def inspection_lines(inspection: Inspection) -> list[str]:
    """Every part with what becomes of it and why; parts that nobody looked at are named together."""
    lines = paragraph(
        f"Core {inspection.tag}, {named(inspection.built) or 'unit not known'}: what becomes of its parts."
    )
    silent = [d for d in inspection.decisions if d.outcome is Outcome.UNKNOWN and not d.judged]
    rows = []
    for decision in inspection.decisions:
        if decision in silent:
            continue
        rows += _decision(decision)
    lines += heading("Part by part  (+ reuse, ~ machine, o replace, x scrap, ? open)")
    lines += columns(rows)
    if silent:
        lines += heading("Not looked at, or without any limit on record: not known")
        lines += paragraph(", ".join(d.seat for d in silent), "  ")
    lines += weakness_lines(inspection.weaknesses, "Where to look first")
    lines += ["", *paragraph(f"How it was decided: {inspection.rule}")]
    return lines + snapshot_lines(inspection.snapshot)


def _decision(decision: Decision) -> list[tuple[str, str, str]]:
    name = named(decision.part)
    part = f"{decision.seat} {name}".strip()
    final = " (final)" if decision.final else ""
    rows = [(OUTCOMES[decision.outcome], part, f"{decision.outcome.value}{final}: {decision.reason}")]
    if decision.work:
        rows.append(("", "", f"work: {', '.join(decision.work)}"))
    for judged in decision.judged:
        if judged.disputed:
            rows += [
                ("", "", f"{judged.label}: {_limit(x.source, x.rank, x.condition, x.governs)}") for x in judged.limits
            ]
    return rows


def _limit(source: str, rank: str, condition: str, governs: bool) -> str:
    return f"{source} ({rank}{', ' + condition if condition else ''})" + (": governs" if governs else "")


def settle_lines(answer: SettleAnswer, currency: str = "") -> list[str]:
    """What to measure, what each outcome would mean, and how far the answer can move by each."""
    lines = paragraph(f"{answer.question}: {answer.now.verdict}.")
    lines += paragraph(answer.sentence)
    if answer.smallest and len(answer.smallest) > 1:
        lines += heading("Together")
        lines += columns((_result(reach.result, currency), reach.when) for reach in answer.together)
    for place, one in enumerate(answer.measurements):
        needed = " (needed)" if place in answer.smallest else ""
        at = f" at {one.position}" if one.position else ""
        lines += heading(f"{one.label}{at}{needed}")
        lines += paragraph(f"{one.why}: {one.measure}.", "  ")
        if not one.outcomes:
            lines += paragraph("No outcome was tried: this is for a person to state.", "  ")
        lines += columns((_result(reach.result, currency), reach.when) for reach in one.outcomes)
        if len(one.outcomes) > 1:
            lines += paragraph(
                f"It can move the answer from {_result(one.worst, currency)} to {_result(one.best, currency)}"
                + ("." if one.exact else ", as far as the time allowed."),
                "  ",
            )
    if answer.measurements:
        lines += ["", *paragraph(f"How sure: {answer.proof}.")]
    return lines + snapshot_lines(answer.snapshot)


def _result(result: Result, currency: str) -> str:
    if result.cost is None:
        return result.verdict
    return f"{result.verdict}, {money(result.cost, currency, at_least=result.at_least)}"


def learned_lines(learned: Learned) -> list[str]:
    """The proposals with the jobs behind them; what stays as it is is not listed."""
    if not learned.proposals:
        return paragraph(f"{learned.jobs} finished jobs propose nothing new.") + snapshot_lines(learned.snapshot)
    lines = paragraph(
        f"{learned.jobs} finished jobs propose this; nothing changes until somebody accepts it (learn --accept NAME)."
    )
    for one in learned.proposals:
        lines += heading(one.name)
        lines += paragraph(
            f"{one.what}: {one.now}, proposed {one.proposed} ({one.low} to {one.high}), {one.jobs} jobs", "  "
        )
        lines += paragraph(one.rule, "  ")
    return lines + snapshot_lines(learned.snapshot)
