"""Knows a film again by its sound: re-encoded, trimmed, or cut from longer footage."""
