"""Rules: which claim counts, and what a rule says of two sides."""
