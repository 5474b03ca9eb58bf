"""Webhooks: endpoints kept, what comes to pass by itself, and messages sent."""
