"""A month as marketing needs it, and the text that can be sent."""
