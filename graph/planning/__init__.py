"""Planning: from a bundle to the cheapest plans, checked."""
