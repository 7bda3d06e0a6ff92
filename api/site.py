"""Where an engine works, as a customer says it."""

from graph.routesheet import Site
from ontology.quantities import read_amount

PASCAL = 1000  # quanta of pressure
METRE = 10_000_000_000  # quanta of length


def site_of(*, manifold: str, height: str) -> Site:
    """The site; what is left empty is not known. A height without a unit is in metres.

    Raises
    ------
    BadQuantity
        A pressure or height that cannot be read without guessing.

    >>> site_of(manifold="310 kPa", height="1600")
    Site(manifold=310000.0, height=1600.0, kind='geometric')
    """
    return Site(
        read_amount(manifold, "pressure")[0] / PASCAL if manifold.strip() else None,
        read_amount(height, "length", "m")[0] / METRE if height.strip() else None,
    )
