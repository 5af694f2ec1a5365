"""Lines for the terminal."""


def local(at: str) -> str:
    """A time of a message where this machine stands, as "2031-05-04 16:33"."""
    from logger.timestamps import local_minute, parse_rfc3339

    return local_minute(parse_rfc3339(at))


def print_line(text: str) -> None:
    """Print `text` on one line, at once; nothing in it steers the terminal."""
    from logger.messages import one_line  # brings in what every message is made of

    print(one_line(text), flush=True)
