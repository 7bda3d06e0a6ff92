"""Does it fit: a unit on an engine, or a part in a seat, joint by joint, in one direction."""

from graph.swap.answer import fits
from graph.swap.supersession import Chain, circles, supersession_chain

__all__ = ["Chain", "circles", "fits", "supersession_chain"]
