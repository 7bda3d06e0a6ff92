"""Stock, prices, promises, jobs and deposits: each write rests on the version that the writer saw, held to it under
the lock."""

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Final

from graph.errors import BadQuestion, Conflict, NotFound, Stale
from graph.index.store import Store
from graph.ledger.reading import Reading
from graph.model.jobs import JobRecord, next_stage
from graph.model.sheet import DEPOSIT_WAYS, STAGES
from graph.model.statement import Evidence, Fields, Statement, subject
from graph.model.yard import in_force
from graph.publish.entering import Cells, Entered, enter
from graph.publish.writing import Guard
from ontology.currencies import money_shown, read_money
from ontology.quantities import Unreadable

JOB_SHEETS: Final = ("jobs", "job_stages", "job_deposits")


def put_stock(
    store: Store, part: tuple[str, str], place: str, quantity: int, *, version: int, author: str, time: str
) -> Entered:
    """Say how many of a part are at a place. `version`: of what was there; 0: nothing was.

    Raises
    ------
    Stale
        Somebody else said something since.
    """
    maker, number = part
    cells = {"maker": maker, "number": number, "place": place, "quantity": str(quantity), "date": time.rstrip("Z")}
    title = f"stock of {maker} {number}: {quantity}" + (f" at {place}" if place else "")
    guard = versions("stock", (maker, number, place), version, f"the stock of {maker} {number} there")
    return enter(store, "stock", [cells], author=author, time=time, title=title, guard=guard)


def put_price(
    store: Store, part: tuple[str, str], condition: str, cells: Cells, *, version: int, author: str, time: str
) -> Entered:
    """Say what a part costs; `condition` new or used. `version` as for stock.

    Raises
    ------
    Stale
        Somebody else said something since.
    """
    maker, number = part
    said = "" if condition == "new" else condition  # an empty cell means new, and a list may have either
    filled = {**cells, "maker": maker, "number": number, "condition": said}
    title = f"price of {maker} {number}, {condition}: {cells.get('price', '')} {cells.get('currency', '')}"

    def guard(reading: Reading) -> None:
        spellings = ("", "new") if condition == "new" else (condition,)
        live = [n for s in spellings for n in reading.live_since("prices", (maker, number, s)).values()]
        _hold(f"the {condition} price of {maker} {number}", max(live, default=0), version)

    return enter(store, "prices", [filled], author=author, time=time, title=title, guard=guard)


def promise(store: Store, cells: Cells, *, author: str, time: str) -> Entered:
    """Promise a core, a donor's part, or so many out of stock to a job.

    Raises
    ------
    Conflict
        It is promised to another job, or there are not so many that are free.
    """
    return promise_all(store, [cells], author=author, time=time, title=f"promised to {cells['job']}")


def promise_all(store: Store, rows: Sequence[Cells], *, author: str, time: str, title: str) -> Entered:
    """Promise several things at once, each row as for `promise`: all of them or nothing.

    Raises
    ------
    BadQuestion
        A row that names no one thing, or a part that is not in that core; all are named.
    Conflict
        One of them is promised to another job, or there are not so many that are free; all are named.
    """
    wrong = [text for cells in rows for text in _no_thing(store, cells)]
    if wrong:
        raise BadQuestion(
            "; ".join(dict.fromkeys(wrong)), fix="name a core, a core and its seat, or a part out of stock"
        )
    filled = [{"date": time.rstrip("Z"), **{name: text for name, text in cells.items() if text}} for cells in rows]
    guard = partial(_free, rows=filled)
    return enter(store, "reservations", filled, author=author, time=time, title=title, guard=guard)


def _no_thing(store: Store, cells: Cells) -> list[str]:
    """Why a row promises nothing that can be fetched."""
    tag, seat, number = (cells.get(name, "").strip() for name in ("tag", "seat", "number"))
    if tag and number:
        return [f"core {tag} and part {number} are two promises, not one"]
    if not tag:
        return [] if number and not seat else [f"seat {seat} of no core" if seat else "nothing is named to promise"]
    if not seat:
        return []
    try:
        core = store.snapshot()[1].core(tag)
    except NotFound:
        return []  # the reader of the row says so
    found = next((f for f in core.found if f.seat == seat), None)
    if found is None:
        return [f"core {tag} has no {seat} on record"]
    return [] if found.state == "present" else [f"the {seat} of core {tag} is {found.state}"]


def _free(reading: Reading, rows: Sequence[Cells]) -> None:
    """Refuse rows that do not go together with what is promised, they themselves counted in."""
    n = reading.head().n
    held: dict[tuple[str, ...], Fields] = {row.key: row.fields for row in reading.shelf(n, ("reservations",), [""])}
    held |= {Statement("reservations", row).key: row for row in rows}
    wrong: list[str] = []
    for row in rows:
        live = [r for r in held.values() if in_force(r, row.get("date", "")[:10])]
        wrong += _taken(row, live) if row.get("tag") else _short(reading, n, row, live)
    if wrong:
        raise Conflict("; ".join(dict.fromkeys(wrong)), fix="release it there first, take another, fewer, or order")


def _taken(row: Cells, live: Sequence[Fields]) -> list[str]:
    tag, seat = row["tag"], row.get("seat", "")
    # A core to start from takes all its parts along; a part may come off a core that nobody starts from.
    other = next(
        (
            r
            for r in live
            if str(r["job"]) != row["job"] and r.get("tag") == tag and (not seat or r.get("seat", "") in ("", seat))
        ),
        None,
    )
    what = f"{seat} of core {tag}" if seat else f"core {tag}"
    return [] if other is None else [f"{what} is promised to {other['job']}"]


def _short(reading: Reading, n: int, row: Cells, live: Sequence[Fields]) -> list[str]:
    maker, number = row.get("maker", ""), row.get("number", "")
    there = sum(int(r.fields["quantity"]) for r in reading.shelf(n, ("stock",), [subject("part", maker, number)]))
    same = [r for r in live if not r.get("tag") and (r.get("maker"), r.get("number")) == (maker, number)]
    others = sum(int(r.get("quantity", 1)) for r in same if str(r["job"]) != row["job"])
    wanted = int(row.get("quantity") or 1)
    if wanted <= there - others:
        return []
    return [f"{there} of {maker} {number} are on hand and {others} promised to others; {wanted} are not free"]


def take_on(store: Store, cells: Cells, *, stage: str = "received", version: int, author: str, time: str) -> Entered:
    """Take a job on, or with its version change what is on record of it; a new one begins at a stage.

    Raises
    ------
    Stale
        There is such a job already (version 0), or it changed since.
    """
    job = cells["job"].strip()
    if stage not in STAGES:
        raise BadQuestion(f"there is no stage {stage!r}", fix=f"stages: {', '.join(STAGES)}")
    along = [] if version else [_stage_row(job, 1, stage, author, time, "")]
    title = f"job {job} {'changed' if version else 'taken on'}"
    filled = {name: text for name, text in cells.items() if text}
    return enter(
        store, "jobs", [filled], author=author, time=time, title=title, guard=_job_version(job, version), along=along,
    )  # fmt: skip


def move(store: Store, job: JobRecord, stage: str, *, version: int, note: str, author: str, time: str) -> Entered:
    """Note that a job came to a stage.

    Raises
    ------
    BadQuestion
        That stage may not come now.
    Stale
        The job changed since.
    """
    guard = _job_version(job.job, version)
    _hold(f"job {job.job}", job.version, version)
    step = len(job.steps) + 1
    cells = {
        "job": job.job, "step": str(step), "stage": next_stage(job.job, job.stage, stage), "who": author,
        "date": time.rstrip("Z"), "note": note,
    }  # fmt: skip
    title = f"job {job.job} {stage}"
    return enter(store, "job_stages", [cells], author=author, time=time, title=title, guard=guard)


def deposit(store: Store, job: JobRecord, cells: Cells, *, version: int, author: str, time: str) -> Entered:
    """Note that a deposit was taken, returned or kept.

    Raises
    ------
    BadQuestion
        More is returned or kept than is held, or in another currency.
    Stale
        The job changed since.
    """
    _hold(f"job {job.job}", job.version, version)
    what, currency = cells["what"], cells["currency"]
    if what not in DEPOSIT_WAYS:
        raise BadQuestion(f"a deposit is not {what!r}", fix=f"ways: {', '.join(DEPOSIT_WAYS)}")
    if job.deposits and currency != job.currency:
        raise BadQuestion(
            f"the deposits of job {job.job} are in {job.currency}, this one in {currency}", fix="keep to one currency"
        )
    try:
        minor = read_money(cells["amount"], currency)
    except Unreadable as error:
        raise BadQuestion(str(error), fix=error.fix) from error
    if minor <= 0:
        raise BadQuestion("a deposit of nothing", fix="say how much")
    if what != "taken" and minor > job.held:
        raise BadQuestion(
            f"{cells['amount']} {currency} is more than is held for job {job.job}: {money_shown(job.held, currency)}",
            fix="look at the deposits of the job",
        )
    filled = {
        **cells, "job": job.job, "step": str(len(job.deposits) + 1), "who": author, "date": time.rstrip("Z"),
    }  # fmt: skip
    title = f"deposit of job {job.job} {what}: {cells['amount']} {currency}"
    guard = _job_version(job.job, version)
    return enter(store, "job_deposits", [filled], author=author, time=time, title=title, guard=guard)


def _stage_row(job: str, step: int, stage: str, who: str, time: str, note: str) -> Statement:
    fields = {"job": job, "step": step, "stage": stage, "who": who}
    return Statement("job_stages", fields, Evidence(date=time.rstrip("Z"), note=note))


def versions(sheet: str, key: Sequence[str], version: int, what: str) -> Guard:
    """Holds a write to the version of one key that the writer saw; 0: there was nothing."""

    def guard(reading: Reading) -> None:
        _hold(what, max(reading.live_since(sheet, key).values(), default=0), version)

    return guard


def _job_version(job: str, version: int) -> Guard:
    def guard(reading: Reading) -> None:
        n = reading.head().n
        rows = reading.shelf_history(n, JOB_SHEETS, [""])
        of_job: list[int] = [h.from_n for h in rows if h.to_n is None and _is(h.statement.fields, job)]
        _hold(f"job {job}", max(of_job, default=0), version)

    return guard


def _is(fields: Mapping[str, object], job: str) -> bool:
    return str(fields["job"]) == job


def _hold(what: str, have: int, expected: int) -> None:
    if have == expected:
        return
    if not expected:
        raise Stale(f"there is {what} already, of version {have}", fix="look at it, then send that version")
    if not have:
        raise Stale(f"there is no {what} yet", fix="send If-None-Match: * to make it")
    raise Stale(f"{what} has version {have}, not {expected}", fix="look at it again, then write")
