"""Which unit a core is, from observations of stated reliability; what contradicts; what to look at next."""

from graph.identify.answer import SURE, identify
from graph.identify.models import NONE_PRIOR, Models, Trait, build
from graph.identify.seen import Seen, from_claim, from_plate, read_seen

__all__ = [
    "NONE_PRIOR",
    "SURE",
    "Models",
    "Seen",
    "Trait",
    "build",
    "from_claim",
    "from_plate",
    "identify",
    "read_seen",
]
