"""One module a medium; each writes any sheet."""
