"""One wire format each: pure functions of bytes, which may be cut anywhere."""
