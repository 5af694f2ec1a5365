"""Default limits with their sources, an example bench, files for broker and service manager."""
