"""The command line, one file a command; all but ``serve`` and ``openapi`` do without the web."""
