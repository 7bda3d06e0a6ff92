"""Shop arithmetic: pure functions on floats in stored units."""
