"""Paper: what is printed, as PDF."""
