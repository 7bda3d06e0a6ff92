"""The verbs of the command line."""

import sys
from collections.abc import Callable

import typer

from api.cli import (
    asking,
    backing,
    bench,
    calculating,
    demo,
    depth,
    jobs,
    keeping,
    keys,
    pushing,
    serving,
    sheeting,
    shop,
    yard,
)

app = typer.Typer(
    name="spoolwright",
    help="What fits what, and what parts and machining turn a core into a build.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
VERBS: tuple[Callable[..., None], ...] = (
    asking.fits,
    asking.plan,
    asking.pick,
    asking.verify,
    asking.show,
    yard.interchange,
    *depth.VERBS,
    bench.identify,
    bench.learn,
    sheeting.sheet,
    keeping.check,
    keeping.publish,
    keeping.history,
    keeping.diff,
    keeping.undo,
    keeping.export,
    pushing.push,
    backing.backup,
    backing.restore,
    backing.sound,
    serving.serve,
    demo.demo,
)
"""All verbs, in the order in which the help lists them."""

for verb in VERBS:
    app.command()(verb)
app.add_typer(calculating.app, name="calc")
app.add_typer(bench.app, name="core")
app.add_typer(yard.app, name="shelf")
app.add_typer(jobs.app, name="job")
app.add_typer(jobs.stock_app, name="stock")
app.add_typer(shop.app, name="shop")
app.add_typer(keys.app, name="key")


def main() -> None:
    """Run the command line; a broken pipe (`| head`) ends it quietly."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        raise SystemExit(0) from None


if __name__ == "__main__":
    main()
