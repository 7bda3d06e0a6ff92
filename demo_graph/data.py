"""Where the demo's workbook is, and the questions that its tours ask.

Every question has the answer that the data was written for, and why; `demo_graph/README.md` tells the same in prose.
"""

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Final

from graph.model.statement import subject
from graph.model.verdict import Verdict


def workbook() -> Path:
    """The folder of CSV files that the shop keeps; the master of all demo data."""
    return Path(str(files("demo_graph"))) / "workbook"


def spreadsheet() -> Path:
    """The same as one XLSX file, written by `python -m demo_graph.build`."""
    return Path(str(files("demo_graph"))) / "hollin-beck.xlsx"


@dataclass(frozen=True, slots=True)
class Plan:
    """Core into build for engine: the names as the workbook writes them, the answer meant, and why."""

    name: str
    core: str
    build: str
    engine: str
    verdict: Verdict
    why: str
    at_least: bool = False
    """A price is missing, or how deep a cut must go is not known: the cost is a lower bound."""

    @property
    def keys(self) -> tuple[str, str, str]:
        """The keys of core, build and engine."""
        return subject("core", self.core), subject("build", self.build), subject("engine", "Brackmoor", self.engine)


@dataclass(frozen=True, slots=True)
class Fit:
    """Unit onto engine, in that direction, the answer meant, and why."""

    name: str
    maker: str
    unit: str
    engine: str
    verdict: Verdict
    why: str

    @property
    def keys(self) -> tuple[str, str]:
        """The keys of unit and engine."""
        return subject("unit", self.maker, self.unit), subject("engine", "Brackmoor", self.engine)


PLANS: Final = (
    Plan("tour", "HB-017", "larger-wheels", "BR6-C", Verdict.WITH_WORK,
         "the worn bores take bearings 0.25 over, both housings have the metal for the larger wheels"),
    Plan("no turbine cut", "HB-022", "larger-wheels", "BR6-C", Verdict.WITH_WORK,
         "the later unit's own turbine wheel is large enough: cover, backplate and balance remain"),
    Plan("thick enough", "HB-029", "own-castings-angled", "BR6-D", Verdict.WITH_WORK,
         "all four walls are read and leave room"),
    Plan("wall not read", "HB-023", "own-castings-angled", "BR6-D", Verdict.UNKNOWN,
         "the wall at 6 o'clock was not read; that reading settles it", at_least=True),
    Plan("thin wall", "HB-031", "own-castings-angled", "BR6-D", Verdict.NO,
         "5.4 mm at 6 o'clock leaves no room to bore for a 67 wheel"),
    Plan("too large", "HB-008", "largest-own-cover", "BR6-C", Verdict.NO,
         "the 66 wheel needs the cover at 66.45 mm, the casting permits 64.0 mm"),
    Plan("too close to call", "HB-012", "own-rotor-140", "BR6-C", Verdict.UNKNOWN,
         "the turbine side journal was read with a worn micrometer across the limit"),
    Plan("a price is missing", "HB-036", "stock-sliding", "BR6-F", Verdict.YES,
         "only what is always renewed; nobody has a price for the thrust bearing 0048-3601", at_least=True),
    Plan("stock", "HB-003", "stock-101", "BR5-A", Verdict.WITH_WORK,
         "another compressor wheel and what is always renewed"),
    Plan("flange gone", "HB-002", "stock-101", "BR5-A", Verdict.WITH_WORK,
         "the turbine housing's outlet flange is rusted away: a new one is welded on, or another housing taken"),
    Plan("for a boat", "HB-006", "boat-m12", "BR5-M", Verdict.WITH_WORK,
         "the bearing housing must become a cooled one, the turbine housing a water-jacketed one"),
    Plan("speed sensor wanted", "HB-029", "late-310", "BR6-E", Verdict.WITH_WORK,
         "the boss is drilled and tapped, and a flat turbine housing takes the angled one's place"),
)  # fmt: skip

FITS: Final = (
    Fit("as supplied", "Ostrel", "OV46-140", "BR6-C", Verdict.YES, "the unit this engine left the factory with"),
    Fit("later on earlier", "Ostrel", "OV46-310", "BR6-C", Verdict.YES, "bolts on as it is, and is larger"),
    Fit("earlier on later", "Ostrel", "OV46-140", "BR6-E", Verdict.NO, "no coolant ports where coolant is used"),
    Fit("angled on flat", "Ostrel", "OV46-220", "BR6-C", Verdict.NO, "the outlet face stands at 25 degrees"),
    Fit("flat on angled", "Ostrel", "OV46-310", "BR6-D", Verdict.NO, "the outlet face is flat"),
    Fit("with work", "Ostrel", "OT38-104", "BR5-A", Verdict.WITH_WORK,
        "re-clock the cover, skim the foot, set the actuator rod"),
    Fit("jacket left dry", "Ostrel", "OT38-M12", "BR5-A", Verdict.NO, "a water jacket where the engine has no water"),
    Fit("opens too early", "Ostrel", "OT38-101", "BR5-B", Verdict.NO,
        "the rod goes to 1.2 bar, the engine wants 1.3 bar: another actuator"),
    Fit("two sheets disagree", "Quenby", "QN48-25", "BR6-F", Verdict.UNKNOWN, "contour 61.20 or 61.90 mm, same rank"),
    Fit("only heard", "Quenby", "QF50-11", "BR6-M", Verdict.UNKNOWN, "whether it uses coolant is hearsay"),
)  # fmt: skip

QUESTIONS: Final[dict[str, Plan | Fit]] = {q.name: q for q in (*PLANS, *FITS)}
"""All questions by name."""
