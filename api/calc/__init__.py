"""Shop calculations, each written once: the command line and the HTTP routes are made from the same registry."""
