"""A swap answer as plain text."""

from api.text.layout import bullets, columns, heading, paragraph
from api.text.plan import gap_text, plan_lines
from api.words import MARKS
from graph.model.fits import FitsAnswer
from graph.model.verdict import Verdict


def fits_lines(answer: FitsAnswer) -> list[str]:
    """The sentence first, then joint by joint, what differs, what to check, and what is missing."""
    lines = paragraph(answer.sentence)
    if answer.as_it_stands is not answer.verdict:
        lines += paragraph(f"As it stands, without work: {answer.as_it_stands.value}.")
    lines += heading("Joint by joint  (+ fits, ~ with work, ? not known, x does not fit); worst first")
    rows = []
    for joint in sorted(answer.joints, key=lambda j: j.verdict.rank):
        rows.append((MARKS[joint.verdict], joint.label or joint.joint, joint.verdict.value))
        rows += [("", "", f"{MARKS[rule.verdict]} {rule.reason}") for rule in joint.rules]
    lines += columns(rows)
    lines += match_lines(answer)
    if answer.open:
        lines += heading("Not known, and what settles it")
        lines += bullets(gap_text(gap) for gap in answer.open)
    if answer.notes:
        lines += heading("Notes")
        lines += bullets(answer.notes)
    if answer.cautions:
        lines += heading("Check, and with whom")
        lines += bullets(caution.text for caution in answer.cautions)
    if answer.plan and answer.verdict is Verdict.WITH_WORK:
        lines += heading("The work that makes it fit")
        lines += plan_lines(answer.plan)
    lines += ["", snapshot_line(answer.snapshot.catalogue, answer.snapshot.shelf, answer.question.day)]
    return lines


def match_lines(answer: FitsAnswer) -> list[str]:
    """Against the unit the engine left the factory with."""
    if not answer.match:
        return []
    rows = [
        (line.compared, f"{line.seat} {line.feature}".strip(), f"{line.ours}, original {line.original}")
        for line in answer.match
    ]
    return heading("Compared with the original") + columns(rows)


def snapshot_line(catalogue: str, shelf: int, day: str) -> str:
    """What the answer was read from."""
    return f"Read from catalogue {catalogue}, shelf {shelf}, as of {day}."
