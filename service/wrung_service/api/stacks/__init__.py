"""The main job: ``POST /v1/stacks``."""
