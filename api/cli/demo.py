"""The verb that shows the program at work on the invented shop."""

import shlex
import subprocess
import sys
import tempfile
from typing import Annotated

import typer

from api.cli.output import USAGE, remark, say
from api.text.layout import columns

STORELESS = ("calc",)
"""Verbs that read no store."""


def demo(
    tour: Annotated[str, typer.Argument(help="The tour to run; none lists them.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print the answers alone, as JSON.")] = False,
) -> None:
    """Run a tour on the demo shop, in a throw-away store; without a name, list the tours."""
    from demo_graph.tours import TOURS, demo_store

    if not tour:
        say(["Tours (spoolwright demo NAME):", *columns((name, one.text) for name, one in TOURS.items())])
        return
    if tour not in TOURS:
        remark(f"not-found: there is no tour {tour!r}\n  what to do: take one of {', '.join(TOURS)}")
        raise typer.Exit(USAGE)
    code = 0
    with demo_store() as folder, tempfile.TemporaryDirectory() as desk:
        commands = TOURS[tour].commands
        answer = range(len(commands))[TOURS[tour].answer]
        for number, command in enumerate(commands):
            if not as_json:
                say([f"$ spoolwright {shlex.join(command)}", ""])
            run = subprocess.run(  # noqa: S603 - our own program, on our own words
                [
                    sys.executable,
                    "-m",
                    "api.cli",
                    *command,
                    *([] if command[0] in STORELESS else ["--store", str(folder)]),
                    *(["--json"] if as_json else []),
                ],
                check=False,
                capture_output=True,
                cwd=desk,
            )
            code = run.returncode
            if number == answer or not as_json:
                sys.stdout.buffer.write(run.stdout)
                sys.stdout.flush()
            if run.stderr:
                remark(run.stderr.decode(errors="replace").rstrip())
            if not as_json:
                say(["", f"(exit code {code})", ""])
    if code >= USAGE:
        raise typer.Exit(code)
