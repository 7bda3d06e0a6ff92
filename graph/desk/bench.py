"""What the machinist asks: which unit is this, may its parts go on, what would settle it, what did jobs teach."""

from collections.abc import Collection, Iterable, Sequence
from functools import lru_cache

from graph.desk import names
from graph.desk.desk import PLAN_SECONDS, Desk, within
from graph.desk.wishing import wishes as wished
from graph.errors import BadQuestion
from graph.identify import NONE_PRIOR, Models, Seen, build, from_claim, from_plate, identify, read_seen
from graph.index import records
from graph.index.catalogue import Catalogue
from graph.index.gather import fits_evidence, plan_bundle
from graph.index.shelf import Shelf
from graph.inspection import InspectionEvidence, Instrument, inspect, worst_first
from graph.learning import Job, Look, Taught, Work, proposals
from graph.ledger.reading import Held
from graph.model.bench import (
    CoreRecord,
    Identification,
    Inspection,
    Learned,
    ReadingShown,
    SettleAnswer,
)
from graph.model.bundle import PlanQuestion
from graph.model.fits import FitsQuestion
from graph.model.record import Core, Layout, Snapshot, Weakness
from graph.model.statement import Statement, value_of
from graph.rules.spoken import as_written
from graph.rules.voices import disputed, standing
from graph.settling import settle_fits, settle_plan
from graph.swap import fits


class Bench:
    """The bench over one desk's snapshot; may be shared between threads."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.catalogue: Catalogue = desk.catalogue
        self.shelf: Shelf = desk.shelf

    @property
    def snapshot(self) -> Snapshot:
        """Both clocks."""
        return self.desk.snapshot

    @property
    def models(self) -> Models:
        """All units as rows of features; made once for a catalogue."""
        return _models(self.catalogue)

    @property
    def currency(self) -> str:
        """The currency that the shop counts in."""
        return next((rate.currency for rate in self.shelf.rates()), "")

    def unit_named(self, text: str) -> tuple[str, str]:
        """Maker and number of the one unit that the text names."""
        found = names.thing(self.catalogue.find_units, "turbocharger", text)
        return found.maker, found.name

    def part_named(self, text: str) -> tuple[str, str]:
        """Maker and number of the one part that the text names."""
        found = names.thing(self.catalogue.find_parts, "part", text)
        return found.maker, found.name

    def identify(
        self,
        seen: Sequence[str] = (),
        *,
        core: str = "",
        none: float = NONE_PRIOR,
        cannot_tell: Sequence[str] = (),
        listed: int = 5,
    ) -> Identification:
        """Which unit this is, by what was seen; with `core`, its plate and readings count too.

        `cannot_tell` names features that could not be made out, so that they are not asked for again.

        Raises
        ------
        NotFound, Ambiguous, BadQuestion, BadQuantity
            An observation that cannot be understood; the message lists what there is.
        """
        if not 0.0 < none < 1.0:
            raise BadQuestion(f"the chance of none of these is {none}", fix="give a number above 0 and below 1")
        models = self.models
        observed: list[Seen] = [read_seen(text, models) for text in seen]
        built, found = "", {}
        if core:
            known = names.core(self.shelf, core)
            built = known.as_built
            found = {one.seat: one.part for one in known.found if one.part}
            observed += self._of_core(known, models)
        skipped = frozenset(
            i for i, t in enumerate(models.traits) if f"{t.seat}.{t.feature.name}".lstrip(".") in set(cannot_tell)
        )

        def answer_of(weaknesses: Sequence[Weakness]) -> Identification:
            return identify(
                models,
                observed,
                built=built,
                found=found,
                none=none,
                listed=listed,
                cannot_tell=skipped,
                snapshot=self.snapshot,
                weaknesses=weaknesses,
            )

        first = answer_of(())
        best = first.candidates[0].unit if first.candidates else ""
        return answer_of(self.weaknesses(best)) if best else first

    def _of_core(self, core: Core, models: Models) -> list[Seen]:
        """Its plate (the text, else the unit it was booked in as) and its readings, as observations."""
        row = self._row(core.tag)
        plate = str(row.get("plate", "")) or str(row.get("as_built_unit", ""))
        seen = [from_plate(plate, models)]
        for found in core.found:
            read = standing(found.readings, of_kind=False)
            for claim in read:
                rivals = [c for c in read if (c.feature, c.position) == (claim.feature, claim.position)]
                apart = any(disputed(claim, other) for other in rivals)
                seen.append(from_claim(found.seat, claim, models, apart=apart))
        return [one for one in seen if one is not None]

    def _row(self, tag: str) -> dict[str, object]:
        held = [h for h in self.shelf.rows_of(tag) if h.statement.sheet == "cores" and _holds(h, self.shelf.n)]
        return dict(held[-1].statement.fields) if held else {}

    def weaknesses(self, *keys: str) -> tuple[Weakness, ...]:
        """What these units (with their parts) and parts usually die of, the likeliest first."""
        wanted: dict[str, None] = {}
        for key in keys:
            if key:
                wanted[key] = None
                if key.startswith("unit/"):
                    wanted |= dict.fromkeys(part for _, part in self.catalogue.unit(key).parts)
        found = {w.said: w for key in wanted for w in self.catalogue.weaknesses(key)}
        return worst_first(found.values())

    def record(self, tag: str) -> CoreRecord:
        """A core as taken in and measured, the replaced readings included.

        Raises
        ------
        NotFound
            There is no such core.
        """
        core = names.core(self.shelf, tag)
        row = self._row(core.tag)
        held = [h for h in self.shelf.rows_of(core.tag) if _holds(h, self.shelf.n)]
        readings = [h.statement for h in held if h.statement.sheet == "readings"]
        photos = row.get("photos", ())
        return CoreRecord(
            tag=core.tag,
            received=str(row.get("received", "")),
            customer=str(row.get("customer", "")),
            built=core.as_built,
            plate=str(row.get("plate", "")),
            serial=core.serial,
            grade=core.grade,
            place=core.place,
            own=core.own,
            deposit=_minor(row.get("deposit")),
            book_value=core.book_value,
            currency=core.currency,
            photos=tuple(str(p) for p in photos) if isinstance(photos, list) else (),
            found=tuple((f.seat, f.part, f.state) for f in core.found),
            readings=_shown(readings, {c.id for f in core.found for c in standing(f.readings, of_kind=False)}),
            weaknesses=self.weaknesses(core.as_built, *(f.part for f in core.found)),
            snapshot=self.snapshot,
        )

    def inspect(self, tag: str) -> Inspection:
        """Reuse, machine, replace or scrap, for every part of the core.

        Raises
        ------
        NotFound
            There is no such core.
        BadQuestion
            Nobody said which unit it is, so that its seats are not known.
        """
        core = names.core(self.shelf, tag)
        if not core.layout:
            raise BadQuestion(
                f"core {core.tag} is not known to be any unit, so its seats are not known",
                fix="identify it, then write down as what it was built",
            )
        layout: Layout = self.catalogue.layout(core.layout)
        looked = {
            str(h.statement.fields["seat"])
            for h in self.shelf.rows_of(core.tag)
            if h.statement.sheet == "found_parts" and _holds(h, self.shelf.n)
        }
        return inspect(
            InspectionEvidence(
                core=core,
                layout=layout,
                parts=self.catalogue.parts({f.part for f in core.found if f.part}),
                kinds=self.catalogue.kinds,
                features=self.catalogue.features,
                operations=self.catalogue.all_operations,
                unit_limits=self.catalogue.limits(core.as_built) if core.as_built else (),
                instruments=self.instruments(),
                weaknesses=self.weaknesses(core.as_built, *(f.part for f in core.found)),
                looked_at=frozenset(looked),
                snapshot=self.snapshot,
            )
        )

    def instruments(self) -> tuple[Instrument, ...]:
        """The instruments on record, by feature, the surest first."""
        made = []
        for row in self.catalogue.sheet("instruments"):
            off = value_of(row.fields["uncertainty"])
            made.append(Instrument(row.fields["instrument"], row.fields["feature"], getattr(off, "amount", 0)))
        return tuple(sorted(made, key=lambda i: (i.feature, i.uncertainty, i.name)))

    def settle_plan(
        self,
        core: str,
        build: str,
        engine: str = "",
        *,
        wishes: Sequence[str] = (),
        day: str = "",
        seconds: float = PLAN_SECONDS,
    ) -> SettleAnswer:
        """What to measure so that it is known whether the core becomes the build."""
        wanted = names.build(self.catalogue, build)
        engine_key = names.thing(self.catalogue.find_engines, "engine", engine).key if engine else wanted.engine
        if not engine_key:
            raise BadQuestion(f"build {wanted.name} is for no engine in particular", fix="name the engine")
        known = names.core(self.shelf, core)
        question = PlanQuestion(known.key, wanted.key, engine_key, 1, day, wished(self.catalogue, wishes))
        bundle = plan_bundle(self.catalogue, self.shelf, question)
        sureness = {i.feature: i.uncertainty for i in reversed(self.instruments())}
        return settle_plan(bundle, sureness, within(seconds))

    def settle_fits(self, unit: str, engine: str, *, day: str = "", seconds: float = PLAN_SECONDS) -> SettleAnswer:
        """What to look up or measure so that it is known whether the unit goes onto the engine."""
        unit_key = names.thing(self.catalogue.find_units, "turbocharger", unit).key
        engine_key = names.thing(self.catalogue.find_engines, "engine", engine).key
        evidence = fits_evidence(self.catalogue, self.shelf, FitsQuestion(unit_key, engine_key, day=day))
        return settle_fits(evidence, fits, within(seconds))

    def learn(self) -> Learned:
        """What finished jobs propose; nothing is changed by asking."""
        jobs = tuple(_job(row) for row in self.shelf.sheet("finished_jobs"))
        operations = tuple(self.catalogue.sheet("operations"))
        notes = {f"operation:{s.fields['operation']}": s.evidence.note for s in operations}
        notes |= {f"feature:{s.fields['feature']}": s.evidence.note for s in self.catalogue.sheet("features")}
        taught = Taught(
            jobs=jobs,
            looks=tuple(_look(held) for held in self.shelf.held("job_looks")),
            work=tuple(_work(held) for held in self.shelf.held("job_work")),
            features=self.catalogue.features,
            operations=self.catalogue.all_operations,
            reliabilities={s.fields["operation"]: s.fields.get("reliability", "") for s in operations},
            notes=notes,
            until=self.shelf.n,
        )
        return Learned(proposals(taught), len({j.name for j in jobs}), self.snapshot)


@lru_cache(maxsize=2)
def _models(catalogue: Catalogue) -> Models:
    units = catalogue.units()
    parts = catalogue.parts({part for unit in units for _, part in unit.parts})
    return build(units, parts, catalogue.layouts, catalogue.features)


def _holds(held: Held, n: int) -> bool:
    return held.to_n is None or held.to_n > n


def _minor(money: object) -> int | None:
    return int(money["minor"]) if isinstance(money, dict) else None


def _shown(readings: Iterable[Statement], counting: Collection[str]) -> tuple[ReadingShown, ...]:
    made = [_reading(row, row.id in counting) for row in readings]
    return tuple(sorted(made, key=lambda r: (r.seat, r.feature, r.position, r.source, r.date, r.said)))


def _reading(row: Statement, counts: bool) -> ReadingShown:
    fields, said = row.fields, row.evidence
    off = fields.get("uncertainty")
    return ReadingShown(
        seat=fields["seat"],
        feature=fields["feature"],
        position=fields.get("position", ""),
        value=as_written(value_of(fields["value"])),
        uncertainty=as_written(value_of(off)) if off else "",
        instrument=fields.get("instrument", ""),
        who=fields.get("who", ""),
        date=said.date,
        condition=fields.get("condition", ""),
        source=said.source,
        note=said.note,
        counts=counts,
        said=row.id,
    )


def _job(row: Statement) -> Job:
    made = records.Row(row.sheet, row.id, row.fields, {})
    return Job(
        made.text("job"),
        made.key("unit", "taken_maker", "taken_for"),
        made.key("unit", "proved_maker", "proved_to_be"),
    )


def _look(held: Held) -> Look:
    fields = held.statement.fields
    return Look(fields["job"], fields.get("seat", ""), fields["feature"], bool(fields["told_right"]), held.from_n)


def _work(held: Held) -> Work:
    row = held.statement
    made = records.Row(row.sheet, row.id, row.fields, {})
    return Work(
        made.text("job"),
        made.text("operation"),
        made.yes("succeeded"),
        made.number("minutes"),
        made.number("depth"),
        held.from_n,
    )
