"""The ledger: append-only change sets with a hash chain, and the live shelf."""
