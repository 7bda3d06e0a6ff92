"""Answers as plain text, one module an answer; lines are wrapped, never cut."""
