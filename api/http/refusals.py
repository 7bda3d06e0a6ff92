"""What the HTTP layer refuses, beside the errors of the questions themselves."""

from graph.errors import SpoolwrightError


class Behind(SpoolwrightError):
    """This server has not got the change set that was asked for yet."""

    code = "behind"
    status_hint = 503


class Busy(SpoolwrightError):
    """All workers for such questions are busy."""

    code = "busy"
    status_hint = 503


class BadHeader(SpoolwrightError):
    """A header or a cursor of the request that cannot be read."""

    code = "bad-request"
    status_hint = 422


class BadCondition(SpoolwrightError):
    """An If-Match or If-None-Match that is no list of entity tags."""

    code = "bad-condition"
    status_hint = 400


class BrokenRequest(SpoolwrightError):
    """What came over a connection is no HTTP request."""

    code = "broken-request"
    status_hint = 400


class BadBody(SpoolwrightError):
    """A body that does not have the form that this address takes."""

    code = "bad-request"
    status_hint = 422


class TooMany(SpoolwrightError):
    """More requests than this server takes from one caller in that time."""

    code = "too-many"
    status_hint = 429


class NoSuchRoute(SpoolwrightError):
    """There is nothing at this address."""

    code = "no-such-route"
    status_hint = 404


class OriginRefused(SpoolwrightError):
    """A page of an origin that may not read answers here, or that wants to send what is not taken."""

    code = "origin-refused"
    status_hint = 403


class BadQuery(SpoolwrightError):
    """A query that is not sound, or that asks for what is not done here."""

    code = "bad-query"
    status_hint = 400


class QueryStopped(SpoolwrightError):
    """A query that ran into its limit of time or memory; nothing of it is given."""

    code = "query-stopped"
    status_hint = 503


class NotReady(SpoolwrightError):
    """The store cannot be read, or damage is on record."""

    code = "not-ready"
    status_hint = 503
