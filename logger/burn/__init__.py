"""The domain: what is burned, how a burn goes, and what it is judged by."""
