"""The queue: many complaints at once."""
