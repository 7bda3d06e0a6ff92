"""The facts as plain frozen values: no I/O, no framework, no rule."""
