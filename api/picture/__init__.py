"""Pictures made on the server: plain SVG without scripts or inline styles, each with a title and a description."""
