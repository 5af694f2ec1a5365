"""The bench on disk: one writer, any number of readers."""
