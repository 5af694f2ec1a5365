"""The domain: what is burned, how a burn goes, and what was measured of it."""
