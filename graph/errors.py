"""The errors that a caller may see, under one root.

Faults in data are findings (`graph.model.finding`), reported all at once; an exception here is for a call
that cannot be answered. `code` never changes once published, `status_hint` is what HTTP may answer with, and
`fix` says in the reader's words what to do.
"""


class SpoolwrightError(Exception):
    """The root of all errors that this program raises on purpose."""

    code = "error"
    status_hint = 500

    def __init__(self, message: str, *, fix: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.fix = fix


class NotFound(SpoolwrightError):
    """A name, number or tag that is not in the graph."""

    code = "not-found"
    status_hint = 404


class Ambiguous(SpoolwrightError):
    """A name that leads to more than one thing; the message lists them."""

    code = "ambiguous"
    status_hint = 409


class BadPartNumber(SpoolwrightError):
    """A part number with no usable letter or digit, or with a look-alike letter of another alphabet."""

    code = "bad-part-number"
    status_hint = 422


class BadQuantity(SpoolwrightError):
    """A number or unit that cannot be read without guessing."""

    code = "bad-quantity"
    status_hint = 422


class OutOfRange(SpoolwrightError):
    """A number outside the range in which its formula or table holds."""

    code = "out-of-range"
    status_hint = 422


class BadQuestion(SpoolwrightError):
    """A question whose parts do not go together (for instance a demand on a seat that the layout lacks)."""

    code = "bad-question"
    status_hint = 422


class MixedCurrency(SpoolwrightError):
    """Prices of two currencies in one question; nothing is converted silently."""

    code = "mixed-currency"
    status_hint = 422


class BadFile(SpoolwrightError):
    """A file that cannot be opened as what it claims to be, or that is too large to be read safely."""

    code = "bad-file"
    status_hint = 422


class FindingsInTheWay(SpoolwrightError):
    """A change set with faults; nothing was published."""

    code = "findings"
    status_hint = 422


class Conflict(SpoolwrightError):
    """The store moved on since the caller looked."""

    code = "conflict"
    status_hint = 409


class StoreDamaged(SpoolwrightError):
    """The hash chain, the format or the library under the store is not what it must be; writes are refused."""

    code = "store-damaged"
    status_hint = 500


class StoreFull(SpoolwrightError):
    """The disk under the store has no room; reading goes on, and so does writing once there is some."""

    code = "store-full"
    status_hint = 507


class StoreReadOnly(SpoolwrightError):
    """The store's folder cannot be written; what is open goes on reading."""

    code = "store-read-only"
    status_hint = 503


class StoreUnreachable(SpoolwrightError):
    """The database of the store does not answer; nothing was read or written."""

    code = "store-unreachable"
    status_hint = 503


class AnswerRefused(SpoolwrightError):
    """An answer that the checker could not confirm; it does not leave the desk."""

    code = "answer-refused"
    status_hint = 500


class SavedRefused(AnswerRefused):
    """A saved answer that does not stand."""

    code = "saved-refused"
    status_hint = 422


class Unanswerable(SpoolwrightError):
    """A question stopped by its limit before anything could be proved or found."""

    code = "undecided"
    status_hint = 503


class NotAcceptable(SpoolwrightError):
    """An answer that is not available in the form asked for."""

    code = "not-acceptable"
    status_hint = 406


class NoKey(SpoolwrightError):
    """A request without a key, or with one that opens nothing; the answer does not say which."""

    code = "no-key"
    status_hint = 401


class NoScope(SpoolwrightError):
    """A key that does not open what was asked."""

    code = "no-scope"
    status_hint = 403


class KeyReused(SpoolwrightError):
    """An Idempotency-Key that came before with another request."""

    code = "idempotency-key-reused"
    status_hint = 422


class InFlight(SpoolwrightError):
    """A request with this Idempotency-Key is being carried out at this moment."""

    code = "in-flight"
    status_hint = 409


class Stale(SpoolwrightError):
    """What is to be changed has another version than the caller saw."""

    code = "version-mismatch"
    status_hint = 412


class VersionWanted(SpoolwrightError):
    """A change of something with versions that does not say which version it rests on."""

    code = "version-wanted"
    status_hint = 428


class TargetRefused(SpoolwrightError):
    """An address to which this server sends nothing."""

    code = "target-refused"
    status_hint = 422


class EventsGone(SpoolwrightError):
    """Events that were asked for and are kept no longer."""

    code = "events-gone"
    status_hint = 410
