"""A process that answers plan questions: `python -m api.worker DESCRIPTOR FOLDER`."""

import sys
from contextlib import suppress
from datetime import date
from pathlib import Path

from api.current import Current
from api.http.crew import serve
from api.resident import rehearse, stay
from api.work import Asked, Made, answer
from graph.errors import SpoolwrightError


def main() -> None:
    """Answer until the server closes the line."""
    current = Current(Path(sys.argv[2]))
    with suppress(SpoolwrightError):  # whoever asks is told
        rehearse(current.desk(), date.today().isoformat())
    stay()

    def answered(asked: Asked) -> Made:
        return answer(current, asked)

    serve(int(sys.argv[1]), answered, SpoolwrightError)


if __name__ == "__main__":
    main()
