"""Routes: read the request, ask the desk, present the answer."""
