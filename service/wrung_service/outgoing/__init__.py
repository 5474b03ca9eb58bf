"""What the service sends of its own accord: messages to webhooks, by a loop in the background."""
