"""How many decimal places a currency has. Pure: no Django."""

from babel.numbers import get_currency_precision


def minor_digits(currency: str) -> int:
    """
    Return the decimal places of an amount in a currency, by its code (ISO 4217); 2 for one that is not known.

    Source: Unicode CLDR, as Babel carries it.

    >>> minor_digits("USD"), minor_digits("JPY"), minor_digits("KWD")
    (2, 0, 3)
    """
    return int(get_currency_precision(currency))
