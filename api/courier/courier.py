"""The thread that tells: one at a time over all processes that serve a store.

An event is tried until it was taken or its tries are used up, and may therefore arrive twice: under one id.
"""

import http.client
import logging
import threading
import time as clock
from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Final

from standardwebhooks import Webhook

from api.courier.targets import Target, post, target
from graph.desk import Desk
from graph.desk.watching import said
from graph.errors import InFlight, TargetRefused
from graph.index.store import Store
from graph.ledger.alone import alone
from graph.ledger.outbox import ANSWER, Due, Outbox, put_event
from graph.ledger.retention import let_go
from graph.ledger.watches import Watches, answered
from graph.model.codec import to_json
from graph.model.watch import Said

PAUSE: Final = 1.0
GONE: Final = 410
DAY: Final = 86_400
log = logging.getLogger("spoolwright.courier")
Send = Callable[[Target, bytes, dict[str, str]], int]


class Courier:
    """Asks, brings, and once a day lets old events go.

    `private`: whether events may go to private addresses; `kept_days`: how long delivered events are kept, 0: for
    ever; `now`: s since 1970.
    """

    def __init__(
        self,
        store: Callable[[], Store],
        *,
        private: Callable[[], bool],
        send: Send = post,
        now: Callable[[], float] = clock.time,
        pause: float = PAUSE,
        kept_days: int = 0,
    ) -> None:
        self._store = store
        self._private = private
        self._send = send
        self._now = now
        self._pause = pause
        self._kept_days = kept_days
        self._cleared = ""  # the day on which old events were let go last
        self._asked = (-1, "")  # the change set and the day for which every watched question was asked
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="courier", daemon=True)

    def start(self) -> None:
        """Begin, in a thread of its own."""
        self._thread.start()

    def stop(self) -> None:
        """End after the delivery that is under way."""
        self._stop.set()
        self._thread.join()

    def _run(self) -> None:
        while not self._stop.wait(self._pause):
            try:
                self._follow()
                self.turn()
            except InFlight:
                continue  # another process of this store is at it
            except Exception as error:  # whatever is wrong with one turn, the next may find it mended
                if getattr(error, "code", "") != "not-found":  # no store yet
                    log.warning("the courier could not do its turn: %s", error)

    def _follow(self) -> None:
        """Serve what another machine has written into the database that both share."""
        store = self._store()
        if isinstance(store.ledger.target, str):
            store.recover()

    def turn(self) -> int:
        """Ask what is to be asked anew and bring what is due; how many deliveries were tried."""
        store = self._store()
        outbox = Outbox(store.ledger)
        old = self._kept_days > 0 and self._time()[:10] != self._cleared
        if not (old or outbox.wanted()):
            return 0
        with alone(store.ledger, store.folder, "courier", "another courier is at it"):
            if old:
                self._clear(store)
            self._ask(store)
            tried = 0
            for due in outbox.due(int(self._now())):
                if self._stop.is_set():
                    break
                self._bring(outbox, due)
                tried += 1
            return tried

    def _clear(self, store: Store) -> None:
        before = _stamp(self._now() - self._kept_days * DAY)
        let_go(store.ledger, before, by="the server", time=self._time())
        self._cleared = self._time()[:10]

    def _ask(self, store: Store) -> None:
        day = date.today().isoformat()  # promises lapse and prices begin without a change set
        with store.ledger.reading() as reading:
            n = reading.head().n
        if (n, day) == self._asked:
            return
        desk = Desk.over(store)
        for watch in Watches(store.ledger).all():
            try:
                new = said(desk, watch.question, day)
            except Exception:  # a question that breaks must not keep the others from being asked
                log.exception("watched question %s could not be asked", watch.id)
                continue
            if new.word == watch.word:
                continue
            with store.ledger.writing_beside() as connection:
                if not answered(connection, watch, new, desk.shelf.n):
                    continue
                data = {
                    "watch": watch.id,
                    "label": watch.label,
                    "question": to_json(watch.question),
                    "before": to_json(Said(watch.word, watch.sentence)),
                    "after": to_json(new),
                    "snapshot": to_json(desk.snapshot),
                }
                put_event(connection, ANSWER, data, n=desk.shelf.n, time=self._time())
        self._asked = (desk.shelf.n, day)

    def _bring(self, outbox: Outbox, due: Due) -> None:
        done, last = False, ""
        body = due.event.payload()
        moment = datetime.fromtimestamp(self._now(), UTC)
        headers = {
            "Content-Type": "application/json",
            "User-Agent": "Spoolwright",
            "webhook-id": due.event.id,
            "webhook-timestamp": str(int(moment.timestamp())),
            "webhook-signature": Webhook(due.secret).sign(due.event.id, moment, body.decode()),
        }
        status = 0
        try:
            status = self._send(target(due.url, private=self._private()), body, headers)
            done, last = 200 <= status < 300, f"answered {status}"
        except TargetRefused as error:
            last = error.message
        except (OSError, http.client.HTTPException) as error:
            last = f"{type(error).__name__}: {error}"[:200]
        outbox.settle(due.delivery, done=done, last=last, now=int(self._now()), time=self._time())
        if status == GONE:  # Standard Webhooks: the receiver wants no more of it
            outbox.end_hook(due.delivery.hook, by="the receiver", time=self._time())

    def _time(self) -> str:
        return _stamp(self._now())


def _stamp(seconds: float) -> str:
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
