"""The HTTP service: the same rulings as the command and the Python interface, over HTTP."""
