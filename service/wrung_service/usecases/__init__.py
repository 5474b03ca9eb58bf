"""One function a use case; nothing of HTTP."""
