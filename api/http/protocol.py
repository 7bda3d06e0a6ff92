"""HTTP/1.1 as uvicorn speaks it through h11; what is no request is refused with a problem document too."""

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from api import problems
from api.http.refusals import BrokenRequest

_MAY_ANSWER = (h11.IDLE, h11.SEND_RESPONSE)


class Protocol(H11Protocol):
    """One connection."""

    def send_400_response(self, msg: str) -> None:
        """Refuse it and close the connection: where the next request would begin, nobody knows."""
        if self.conn.our_state in _MAY_ANSWER:
            error = BrokenRequest(
                "what came is no HTTP/1.1 request", fix="look at the request line and Content-Length"
            )
            refused = problems.of(error, [(b"x-content-type-options", b"nosniff"), (b"connection", b"close")])
            for event in (
                h11.Response(status_code=refused.status_code, headers=refused.raw_headers, reason=b"Bad Request"),
                h11.Data(data=bytes(refused.body)),
                h11.EndOfMessage(),
            ):
                self.transport.write(self.conn.send(event) or b"")
        self.transport.close()
