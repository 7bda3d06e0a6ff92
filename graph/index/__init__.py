"""The index: one immutable file per published version, and reading it."""
