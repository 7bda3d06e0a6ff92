"""The words: RDF vocabulary, SHACL shapes, JSON-LD context, units of measure."""
