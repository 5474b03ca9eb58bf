"""Find out which lengths can be built: ``POST /v1/coverage``."""
