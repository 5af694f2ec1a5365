"""Default limits with their sources, an example bench, and files for the broker and the service manager."""
