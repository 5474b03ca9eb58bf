"""What an inventory covers: ``POST /v1/coverage``."""
