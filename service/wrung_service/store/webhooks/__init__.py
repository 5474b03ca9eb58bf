"""Webhooks: who wants to be told what, the messages, and what became of them."""
