"""SPARQL over a disposable copy of the statements, and handing that copy to another server."""
