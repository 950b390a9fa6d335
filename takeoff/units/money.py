"""How many decimal places a currency has. Pure: no Django."""

# ISO 4217 currencies whose minor unit is not a hundredth (the list is from memory).
WITHOUT_MINOR = {"BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW"}
WITHOUT_MINOR |= {"PYG", "RWF", "UGX", "VND", "VUV", "XAF", "XOF", "XPF"}
THOUSANDTHS = {"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"}


def minor_digits(currency: str) -> int:
    """Return the decimal places of an amount in a currency, by ISO 4217."""
    if currency in WITHOUT_MINOR:
        return 0
    return 3 if currency in THOUSANDTHS else 2
