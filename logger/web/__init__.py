"""The pages and the JSON side of HTTP."""
