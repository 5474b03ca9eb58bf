"""Webhooks: ``/v1/sites/{site_id}/webhooks`` and what is below it, and the messages themselves."""
