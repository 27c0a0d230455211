"""Questions that take many solves of one model."""
