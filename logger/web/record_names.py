"""Names of records in addresses: a trial lit as "cedar 6/8" has its pages as any other."""

from starlette.convertors import Convertor, register_url_convertor

WAYS = ("change", "withdraw", "verdict")
"""What may be the last part of an address, after the name."""


class RecordNameConvertor(Convertor[str]):
    """A name, slashes and all, up to the way that ends the address."""

    regex = rf"(?:(?!/(?:{'|'.join(WAYS)})$).)+"

    def convert(self, value: str) -> str:
        """As it is called."""
        return value

    def to_string(self, value: str) -> str:
        """As an address has it."""
        return value


register_url_convertor("record", RecordNameConvertor())


def record_in_path(parameter: str) -> str:
    """The part of an address that names a record."""
    return f"{{{parameter}:record}}"
