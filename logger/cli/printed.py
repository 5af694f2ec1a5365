"""Lines for the terminal."""


def print_line(text: str) -> None:
    """Print `text` on one line, at once; nothing in it steers the terminal."""
    from logger.messages import one_line  # brings in what every message is made of

    print(one_line(text), flush=True)
