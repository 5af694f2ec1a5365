"""Templates, style sheet and scripts of the pages."""
