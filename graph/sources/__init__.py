"""Reading what shops have: workbooks, CSV folders, RDF; and writing the same."""
